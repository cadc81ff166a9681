//! `pressroll reference`.

use clap::{Args, CommandFactory};

use super::{Arguments, Done, telling};
use crate::keys::{self, Found, MARKS, Mark, PITCHED_MARKS};
use crate::text::Problem;

/// Explain a key of the loop file, a mark, or a command
#[derive(Args)]
pub struct Reference {
    /// A key (snare.room, compress.ratio, swing), a mark (X) or a command (render); all keys where none is named
    #[arg(value_name = "KEY")]
    key: Option<String>,
}

impl Reference {
    /// Explains one thing, or lists what there is.
    pub fn run(self) -> Done {
        match &self.key {
            None => telling::say(everything().trim_end()),
            Some(word) => telling::say(explained(word)?.trim_end()),
        }
        Ok(())
    }
}

fn explained(word: &str) -> Result<String, Problem> {
    let mut found: Vec<String> = keys::find(word).iter().map(keys::shown).collect();
    found.extend(MARKS.iter().filter(|mark| covers(mark, word)).map(mark_shown));
    for (key, marks) in PITCHED_MARKS {
        let covering = marks.iter().filter(|mark| covers(mark, word));
        found.extend(covering.map(|mark| format!("in {key}: {}", mark_shown(mark))));
    }
    let mut commands = Arguments::command();
    if let Some(command) = commands.find_subcommand_mut(word) {
        found.push(command.render_long_help().to_string());
    }
    if !found.is_empty() {
        return Ok(found.join("\n"));
    }
    let problem = Problem::new(format!("there is no key, mark or command `{word}`"));
    Err(match keys::nearest_key(word) {
        Some(near) => problem.help(format!("did you mean `{near}`?")),
        None => problem.help("`pressroll reference` alone lists all keys"),
    })
}

/// True where a mark's line explains a word: the mark itself, or one of a run such as `3..9`.
fn covers(mark: &Mark, word: &str) -> bool {
    let in_run = |(first, last): (&str, &str)| word.len() == 1 && (first..=last).contains(&word);
    let numbered = |(first, last): (&str, &str)| {
        let number = |text: &str| text.parse::<u32>().ok();
        number(word)
            .zip(number(first).zip(number(last)))
            .is_some_and(|(word, (first, last))| (first..=last).contains(&word))
    };
    mark.mark == word
        || mark.mark.split(' ').any(|mark| mark == word)
        || mark
            .mark
            .split_once("..")
            .is_some_and(|run| if run.1.len() > 1 { numbered(run) } else { in_run(run) })
}

fn mark_shown(mark: &Mark) -> String {
    let velocity = if mark.velocity.is_empty() {
        String::new()
    } else {
        format!("; velocity {}", mark.velocity)
    };
    format!("{}  {}{velocity}\n", mark.mark, mark.plays)
}

fn everything() -> String {
    let mut page = String::new();
    for (table, own) in keys::in_tables().filter(|(_, own)| !own.is_empty()) {
        page.push_str(&format!("{}\n", table.title()));
        for key in own {
            let found = Found { table, key };
            page.push_str(&format!(
                "  {:<10}  {}; default {}\n",
                found.key.name,
                found.key.describe(),
                found.key.standard.shown()
            ));
        }
        page.push('\n');
    }
    page.push_str("marks of tablature\n");
    MARKS
        .iter()
        .for_each(|mark| page.push_str(&format!("  {}", mark_shown(mark))));
    for (key, marks) in PITCHED_MARKS {
        page.push_str(&format!("\nmarks of {key}\n"));
        marks
            .iter()
            .for_each(|mark| page.push_str(&format!("  {}", mark_shown(mark))));
    }
    page.push_str("\n`pressroll reference KEY` explains one of them.\n");
    page
}
