//! `pressroll reference`.

use clap::{Args, CommandFactory, ValueEnum};
use clap_complete::Shell;

use super::{Arguments, Done, limits, output};
use crate::schema;
use crate::schema::{Found, MARKS, Mark, PITCHED_MARKS, Table};
use crate::text::{Problem, nearest};

/// Explain a key of the loop file, a mark, or a command
#[derive(Args)]
pub struct Reference {
    /// A key (snare.room, compress.ratio, swing), a mark (X), a command (render) or `limits`; all keys where none is named
    #[arg(value_name = "KEY")]
    key: Option<String>,
    /// Print the JSON schema of a kind of file, for an editor that checks what is written
    #[arg(long, value_name = "FILE", conflicts_with = "key")]
    schema: Option<FileName>,
    /// Print what completes commands and options in a shell
    #[arg(long, value_name = "SHELL", conflicts_with_all = ["key", "schema"])]
    shell: Option<ShellName>,
    /// Print the manual page of pressroll, or of the command that KEY names
    #[arg(long, conflicts_with_all = ["schema", "shell"])]
    man: bool,
}

/// Kinds of files.
#[derive(Clone, Copy, ValueEnum)]
enum FileName {
    /// A loop file
    Loop,
    /// A form file
    Form,
    /// A kit's kit.toml
    Kit,
}

/// Shells that complete words.
#[derive(Clone, Copy, ValueEnum)]
enum ShellName {
    /// bash
    Bash,
    /// zsh
    Zsh,
    /// fish
    Fish,
}

impl Reference {
    /// Explains one thing, or lists what there is.
    pub fn run(self) -> Done {
        let page = match (&self.key, self.schema, self.shell) {
            (_, Some(file), _) => schema(file),
            (_, _, Some(shell)) => completions(shell),
            (command, _, _) if self.man => manual(command.as_deref())?,
            (None, _, _) => everything(),
            (Some(word), _, _) => explained(word)?,
        };
        Ok(output::to_stdout(page.trim_end())?)
    }
}

fn schema(file: FileName) -> String {
    let file = match file {
        FileName::Loop => Table::LoopFile,
        FileName::Form => Table::FormFile,
        FileName::Kit => Table::KitFile,
    };
    format!("{:#}", schema::schema(file))
}

fn completions(shell: ShellName) -> String {
    let shell = match shell {
        ShellName::Bash => Shell::Bash,
        ShellName::Zsh => Shell::Zsh,
        ShellName::Fish => Shell::Fish,
    };
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Arguments::command(), "pressroll", &mut script);
    String::from_utf8_lossy(&script).into_owned()
}

/// The manual page of the program, or of one of its commands, in the language of `man`.
fn manual(command: Option<&str>) -> Result<String, Problem> {
    let mut program = Arguments::command();
    // Subcommands are called by their whole name only once they are built.
    program.build();
    let found = match command {
        None => Some(program),
        Some(name) => program.find_subcommand(name).cloned(),
    };
    let Some(found) = found else {
        let name = command.unwrap_or_default();
        let problem = Problem::new(format!("there is no command `{name}`"));
        let commands: Vec<String> = Arguments::command()
            .get_subcommands()
            .map(|command| command.get_name().into())
            .collect();
        return Err(match nearest(name, commands.iter().map(String::as_str)) {
            Some(near) => problem.help(format!("did you mean `{near}`?")),
            None => problem.help(format!("the commands are {}", commands.join(", "))),
        });
    };
    let mut page = Vec::new();
    let man = clap_mangen::Man::new(found);
    match man.render(&mut page) {
        Ok(()) => Ok(String::from_utf8_lossy(&page).into_owned()),
        Err(error) => Err(Problem::new(format!("the manual page can't be made: {error}"))),
    }
}

fn explained(word: &str) -> Result<String, Problem> {
    let mut found: Vec<String> = schema::find(word).iter().map(schema::shown).collect();
    found.extend(MARKS.iter().filter(|mark| covers(mark, word)).map(mark_shown));
    for (key, marks) in PITCHED_MARKS {
        let covering = marks.iter().filter(|mark| covers(mark, word));
        found.extend(covering.map(|mark| format!("in {key}: {}", mark_shown(mark))));
    }
    let mut commands = Arguments::command();
    if let Some(command) = commands.find_subcommand_mut(word) {
        found.push(command.render_long_help().to_string());
    }
    if word == limits::WORD {
        found.push(limits::page());
    }
    if !found.is_empty() {
        return Ok(found.join("\n"));
    }
    let problem = Problem::new(format!("there is no key, mark or command `{word}`"));
    Err(match schema::nearest_key(word) {
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
    for (table, own) in schema::in_tables().filter(|(_, own)| !own.is_empty()) {
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
    page.push_str("\n`pressroll reference KEY` explains one of them, `pressroll reference limits` tells how much of everything there may be.\n");
    page
}
