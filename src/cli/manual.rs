//! `pressroll manual`.

use std::io::{IsTerminal, Write};
use std::path::PathBuf;

use clap::{Args, Command};

use super::options::OutputOptions;
use super::replace::Rule;
use super::{Done, command_line, limits, output};
use crate::export::mark::MADE_BY;
use crate::export::page::STYLE;
use crate::export::write_beside;
use crate::loopfile::{MARKS, Mark, PITCHED_MARKS};
use crate::manual::{CHAPTERS, Listing, Page, for_terminal, page};
use crate::schema::{self, Setting, Table};
use crate::text::width::padded;
use crate::text::{Problem, did_you_mean, nearest};

/// The narrowest and the widest text that is set, in columns.
const WIDTHS: (usize, usize) = (40, 100);
/// Columns where no terminal says how wide it is.
const USUAL: usize = 80;

/// Print a chapter of the manual, or list the chapters
#[derive(Args)]
pub(super) struct Manual {
    /// A chapter, such as kits
    chapter: Option<String>,
    /// Write the whole manual and the reference as one HTML page
    #[arg(long, conflicts_with = "chapter")]
    page: bool,
    /// The HTML page to write [default: renders/manual.html]
    #[arg(short, long, value_name = "FILE", requires = "page")]
    output: Option<PathBuf>,
    #[command(flatten)]
    written: OutputOptions,
}

impl Manual {
    /// Prints what was asked for, or writes the page.
    pub(super) fn run(self) -> Done {
        if self.page {
            return self.write();
        }
        let text = match &self.chapter {
            None => contents(),
            Some(name) => {
                let chapter = CHAPTERS.iter().find(|chapter| chapter.name == name);
                for_terminal(chapter.ok_or_else(|| unknown(name))?.text, width())
            }
        };
        Ok(output::styled_to_stdout(text.trim_end())?)
    }

    fn write(self) -> Done {
        let file = self.output.unwrap_or_else(|| PathBuf::from("renders/manual.html"));
        Rule::new(self.written.force, "file with -o").allow([&file])?;
        write_beside(&file, |out| out.write_all(whole().as_bytes()))?;
        Ok(output::to_stdout(&file.display().to_string())?)
    }
}

/// The page of the whole manual.
fn whole() -> String {
    page(&Page {
        made_by: MADE_BY,
        style: STYLE,
        reference: settings().chain(marks()).collect(),
        commands: commands(),
    })
}

fn contents() -> String {
    let widest = CHAPTERS.iter().map(|chapter| chapter.name.len()).max().unwrap_or(0);
    let line = |name: &str, about: &str| format!("  {}  {about}\n", padded(name, widest));
    let lines = CHAPTERS.iter().map(|chapter| line(chapter.name, chapter.about));
    format!(
        "Chapters of the manual:\n\n{}\n`pressroll manual kits` prints one, `pressroll manual --page` writes all as HTML,\n\
         `pressroll reference` explains each setting, mark and command.\n",
        lines.collect::<String>()
    )
}

fn unknown(name: &str) -> Problem {
    let problem = Problem::new(format!("there is no chapter `{name}`"));
    match nearest(name, CHAPTERS.iter().map(|chapter| chapter.name)) {
        Some(near) => problem.help(did_you_mean(near)),
        None => problem.help("`pressroll manual` lists the chapters"),
    }
}

/// The width of the terminal, as the person (`COLUMNS`, POSIX.1-2024, 8.3) or the terminal itself tells it.
fn width() -> usize {
    let told = std::env::var("COLUMNS").ok().and_then(|columns| columns.parse().ok());
    let terminal = || match std::io::stdout().is_terminal() {
        true => terminal_size::terminal_size().map(|(width, _)| usize::from(width.0)),
        false => None,
    };
    told.or_else(terminal).unwrap_or(USUAL).clamp(WIDTHS.0, WIDTHS.1)
}

/// Every setting, table by table.
fn settings() -> impl Iterator<Item = Listing> {
    let tables = schema::in_tables().filter(|(_, own)| !own.is_empty());
    tables.map(|(table, own): (Table, &[Setting])| Listing {
        title: table.title().to_string(),
        heads: vec!["setting", "takes", "default", "does"],
        rows: own.iter().map(setting).collect(),
    })
}

fn setting(setting: &Setting) -> Vec<String> {
    let name = format!("`{setting}`");
    vec![
        name,
        setting.describe(),
        setting.default.shown(),
        setting.doc.to_string(),
    ]
}

/// Every mark, by what it is written in.
fn marks() -> impl Iterator<Item = Listing> {
    let listing = |title: String, marks: &[Mark]| Listing {
        title,
        heads: vec!["mark", "plays", "velocity"],
        rows: marks.iter().map(mark).collect(),
    };
    let tablature = listing("Marks of tablature".to_string(), MARKS);
    let pitched = PITCHED_MARKS.iter();
    std::iter::once(tablature).chain(pitched.map(move |(key, marks)| listing(format!("Marks of `{key}`"), marks)))
}

fn mark(mark: &Mark) -> Vec<String> {
    let name = match mark.mark {
        "others" => "others".to_string(),
        sign => format!("`{sign}`"),
    };
    vec![name, mark.plays.to_string(), mark.velocity()]
}

/// Every command with its help, and the limits, as wide as a page of paper.
fn commands() -> Vec<(String, String)> {
    let mut program = command_line().term_width(USUAL);
    // Subcommands are called by their whole name only once they are built.
    program.build();
    let help = |command: &Command| {
        let help = command.clone().term_width(USUAL).render_long_help();
        (command.get_name().to_string(), help.to_string())
    };
    let commands = program.get_subcommands().filter(|command| command.get_name() != "help");
    let limits = (format!("reference {}", limits::WORD), limits::page());
    commands.map(help).chain([limits]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A page's text without its tags.
    fn plain(html: &str) -> String {
        let text: String = html
            .split('<')
            .map(|piece| piece.split_once('>').map_or(piece, |(_, text)| text))
            .collect();
        [
            ("&lt;", "<"),
            ("&gt;", ">"),
            ("&quot;", "\""),
            ("&#x27;", "'"),
            ("&#x2f;", "/"),
            ("&amp;", "&"),
        ]
        .iter()
        .fold(text, |text, (from, to)| text.replace(from, to))
    }

    #[test]
    fn the_page_explains_every_setting_mark_and_command() {
        let page = plain(&whole());
        let explained = |words: &str| assert!(page.contains(&words.replace('`', "")), "nothing on {words}");
        for (table, own) in schema::in_tables() {
            own.iter().for_each(|key| explained(key.doc));
            if !own.is_empty() {
                explained(table.title());
            }
        }
        let pitched = PITCHED_MARKS.iter().flat_map(|(_, marks)| *marks);
        for mark in MARKS.iter().chain(pitched) {
            explained(mark.mark);
            explained(mark.plays);
        }
        for command in command_line().get_subcommands() {
            explained(&format!("Usage: pressroll {}", command.get_name()));
        }
    }
}
