//! `pressroll chords`.

mod report;
mod symbols;

use clap::Args;

use super::{Done, output};
use crate::harmony::{Key, Misread, Note, Voicing, name_chord};
use crate::text::{Place, Problem, Source, did_you_mean, shown_json};
use report::{Name, Names, OfKey, Report, ToneLine};

/// List the chords of a key, name a chord from its notes, or explain chord symbols
#[derive(Args)]
pub(super) struct Chords {
    /// A key: "G minor", Bb, "D dorian"
    #[arg(value_name = "KEY", required_unless_present_any = ["name", "symbol"], num_args = 1..)]
    key: Vec<String>,
    /// Name the chord of these notes, the lowest first: "C Eb G Bb"
    #[arg(long, value_name = "NOTES", conflicts_with = "key")]
    name: Option<String>,
    /// Explain a chord symbol, or a progression: "Dm9 | G13 | Cmaj9"
    #[arg(long, value_name = "CHORDS", conflicts_with_all = ["key", "name"])]
    symbol: Option<String>,
    /// The key that the chords of --symbol stand in
    #[arg(long = "in", value_name = "KEY", requires = "symbol", conflicts_with_all = ["key", "name"])]
    within: Option<String>,
    /// How a progression is voiced, as in "drop 2"
    #[arg(long, value_name = "KIND", conflicts_with_all = ["key", "name"], default_value = "close")]
    voicing: String,
    /// The note that voicings stand near
    #[arg(long, value_name = "NOTE", conflicts_with_all = ["key", "name"], default_value = "C4")]
    register: String,
    /// Print a JSON object and nothing else
    #[arg(long)]
    json: bool,
}

impl Chords {
    /// Prints the chords of a key, or the names of a chord.
    pub(super) fn run(self) -> Done {
        let page = match (&self.name, &self.symbol) {
            (Some(notes), _) => self.shown(&names(notes)?),
            (None, Some(symbols)) => self.shown(&self.explained(symbols)?),
            (None, None) => {
                let text = self.key.join(" ");
                let key = Key::parse(&text).map_err(|wrong| told("KEY", &text, &wrong))?;
                self.shown(&OfKey::of(&key))
            }
        };
        Ok(output::to_stdout(page.trim_end())?)
    }

    /// A report as it was asked for.
    fn shown(&self, report: &impl Report) -> String {
        match self.json {
            true => shown_json(serde_json::to_string(report).expect("chords and notes are always JSON")),
            false => report.page(),
        }
    }
}

impl Chords {
    fn explained(&self, symbols: &str) -> Result<symbols::Explained, Problem> {
        let key = self.within.as_deref().map(|text| {
            let read = Key::parse(text);
            read.map_err(|wrong| told("--in", text, &wrong))
        });
        let kind = Voicing::named(&self.voicing).ok_or_else(|| {
            let names = Voicing::NAMED.map(|(name, _)| name);
            let near = crate::text::nearest(&self.voicing, names);
            let help = match near {
                Some(near) => did_you_mean(near),
                None => format!("take one of {}", names.join(", ")),
            };
            Problem::new(format!("`--voicing {}` is no voicing", self.voicing)).help(help)
        })?;
        let register = Note::parse(&self.register).map_err(|wrong| told("--register", &self.register, &wrong))?;
        symbols::explained(symbols, key.transpose()?.as_ref(), kind, register)
    }
}

/// A problem that points into what was typed.
fn told(what: &str, text: &str, wrong: &Misread) -> Problem {
    let span = if wrong.span.is_empty() {
        0..text.len()
    } else {
        wrong.span.clone()
    };
    let place = Place {
        source: Source::new(what, text),
        span,
    };
    let problem = Problem::at(&place, wrong.what.clone());
    match wrong.help() {
        Some(help) => problem.help(help),
        None => problem,
    }
}

fn names(notes: &str) -> Result<Names, Problem> {
    let named = name_chord(notes).map_err(|wrong| told("--name", notes, &wrong))?;
    if named.is_empty() {
        return Err(
            Problem::new(format!("no chord that lead sheets name has the notes {notes}"))
                .help("leave out a note, or name the lowest first"),
        );
    }
    let names = named.into_iter().map(|name| Name {
        tones: ToneLine::of_chord(&name.chord),
        symbol: name.chord.symbol,
        incomplete: name.incomplete,
    });
    Ok(Names { names: names.collect() })
}

fn joined<T: ToString>(items: impl IntoIterator<Item = T>) -> String {
    let items: Vec<String> = items.into_iter().map(|item| item.to_string()).collect();
    items.join(" ")
}

/// Rows under a heading, each column as wide as its widest cell.
fn columns(heading: &[&str], rows: Vec<Vec<String>>) -> String {
    let heading: Vec<String> = heading.iter().map(|cell| cell.to_string()).collect();
    let rows: Vec<Vec<String>> = std::iter::once(heading).chain(rows).collect();
    let count = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width = |column: usize| {
        let cells = rows.iter().filter_map(|row| row.get(column));
        cells.map(|cell| cell.chars().count()).max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..count).map(width).collect();
    let line = |row: &Vec<String>| {
        let cells = row.iter().zip(&widths);
        let padded: Vec<String> = cells
            .map(|(cell, width)| format!("{cell:<width$}", width = *width))
            .collect();
        format!("  {}\n", padded.join("   ").trim_end())
    };
    rows.iter().map(line).collect()
}
