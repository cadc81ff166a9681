//! `pressroll reference`.

use clap::{Args, ValueEnum};
use clap_complete::Shell;

use super::{Done, command_line, limits, output};
use crate::loopfile::{MARKS, Mark, PITCHED_MARKS};
use crate::schema;
use crate::schema::{Setting, Table};
use crate::text::width::{padded, wrapped};
use crate::text::{Problem, did_you_mean, nearest};

/// Explain a key of the loop file, a mark, or a command
#[derive(Args)]
pub(super) struct Reference {
    /// A key (snare.room), a mark (X), a command or `limits`
    #[arg(value_name = "KEY")]
    key: Option<String>,
    /// Print a JSON schema for editors: loop, form or kit
    #[arg(long, hide_possible_values = true, value_name = "FILE", conflicts_with = "key")]
    schema: Option<FileName>,
    /// Print completions for bash, zsh or fish
    #[arg(long, hide_possible_values = true, value_name = "SHELL", conflicts_with_all = ["key", "schema"])]
    shell: Option<ShellName>,
    /// Print a man page, of a command if KEY names one
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
    /// A list of a catalogue
    Catalogue,
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
    pub(super) fn run(self) -> Done {
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
        FileName::Catalogue => Table::CatalogueFile,
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
    clap_complete::generate(shell, &mut command_line(), "pressroll", &mut script);
    String::from_utf8_lossy(&script).into_owned()
}

/// The manual page of the program, or of one of its commands, in the language of `man`.
fn manual(command: Option<&str>) -> Result<String, Problem> {
    let mut program = command_line();
    // Subcommands are called by their whole name only once they are built.
    program.build();
    let found = match command {
        None => Some(program),
        Some(name) => program.find_subcommand(name).cloned(),
    };
    let Some(found) = found else {
        let name = command.unwrap_or_default();
        let problem = Problem::new(format!("there is no command `{name}`"));
        let commands: Vec<String> = command_line()
            .get_subcommands()
            .map(|command| command.get_name().into())
            .collect();
        return Err(match nearest(name, commands.iter().map(String::as_str)) {
            Some(near) => problem.help(did_you_mean(near)),
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
    let mut commands = command_line();
    commands.build();
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
    Err(match schema::nearest_setting(word) {
        Some(near) => problem.help(did_you_mean(near)),
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
    hanging(mark.mark, &plays(mark))
}

fn plays(mark: &Mark) -> String {
    match mark.velocity().as_str() {
        "" => mark.plays.to_string(),
        velocity => format!("{}; velocity {velocity}", mark.plays),
    }
}

/// What is printed fits so many columns.
const WIDTH: usize = 80;
/// Columns that a name takes before what is said of it.
const NAME: usize = 14;

/// Every table of settings and every family of marks: its title, and a line for each of them.
fn parts() -> Vec<(String, String)> {
    let tables = schema::in_tables().filter(|(_, own)| !own.is_empty());
    let settings = tables.map(|(table, own)| {
        let line = |setting: &Setting| {
            let says = format!("{}; default {}", setting.describe(), setting.default.shown());
            hanging(setting.name, &says)
        };
        (table.title().to_string(), own.iter().map(line).collect())
    });
    let listed = |marks: &[Mark]| marks.iter().map(mark_shown).collect::<String>();
    let pitched = PITCHED_MARKS
        .iter()
        .map(|(key, marks)| (format!("marks of {key}"), listed(marks)));
    settings
        .chain([("marks of tablature".to_string(), listed(MARKS))])
        .chain(pitched)
        .collect()
}

/// A name and what is said of it, in lines that begin below one another.
fn hanging(name: &str, says: &str) -> String {
    let lines = wrapped(says, WIDTH - NAME);
    let line = |(number, line): (usize, &String)| {
        let before = if number == 0 {
            format!("  {name}")
        } else {
            String::new()
        };
        format!("{} {line}\n", padded(&before, NAME - 1))
    };
    lines.iter().enumerate().map(line).collect()
}

fn everything() -> String {
    let parts = parts();
    let parts = parts.iter().map(|(title, text)| format!("{title}\n{text}\n"));
    let more = "`pressroll reference KEY` explains one of them; `pressroll reference limits`\nlists the limits.\n";
    parts.collect::<String>() + more
}
