//! The page for people: a line a piece, then what is odd, what was guessed, what names and sounds disagree on.

use super::problems::{KINDS, RecordingProblem};
use super::report::{OfPiece, Report};
use super::shot::{Shot, of_take};
use crate::kit::audio::pitch::note_name;
use crate::kit::{Decided, GUESS};
use crate::text::one_line;
use crate::text::table::Table;
use crate::text::width::columns;

/// Columns of the page.
const WIDTH: usize = 80;
/// Columns that are left for what is odd.
const ODD: usize = 17;
/// Of so many files of a kind the names are told.
const NAMED: usize = 40;

impl Report<'_> {
    /// The whole page.
    pub(super) fn page(&self) -> String {
        let pieces = self.pieces();
        let mut page = self.heading(&pieces);
        let mut table = Table::with_words();
        table.row(
            "",
            ["conf.", "takes", "layers", "length", "peak", "loud", "root", "problems"],
        );
        table.row("", ["%", "", "", "s", "dBFS", "LUFS", "", ""]);
        for of in &pieces {
            table.row(one_line(&of.piece.name), self.cells(of));
        }
        page.push_str(&table.text(WIDTH));
        page.push_str(&self.oddities());
        page.push_str(&self.guesses(&pieces));
        for notice in self.notices() {
            page.push('\n');
            page.push_str(&wrapped(&notice.to_string(), ""));
        }
        page.trim_end().to_string()
    }

    /// How many pieces and files there are, and what tells the pieces. A file may be in several pieces.
    fn heading(&self, pieces: &[OfPiece]) -> String {
        let count = |count: usize, what: &str| format!("{count} {what}{}", if count == 1 { "" } else { "s" });
        let written = pieces
            .iter()
            .filter(|of| of.reading.decided == Decided::Written)
            .count();
        let by = match (self.written, written) {
            (false, _) => "by the files' names; it has no kit.toml",
            (true, 0) => "by the files' names; its kit.toml lists no pieces",
            (true, all) if all == pieces.len() => "as its kit.toml says",
            (true, _) => "by its kit.toml and, for the rest, the files' names",
        };
        let mut found = format!(
            "{} in {}",
            count(pieces.len(), "piece"),
            count(self.shots.len(), "file")
        );
        let within = |shot: &&Shot| pieces.iter().filter(|of| of.has(shot)).count();
        let shared = self.shots.iter().filter(|shot| within(shot) > 1).count();
        if shared > 0 {
            let are = if shared == 1 { "is" } else { "are" };
            found.push_str(&format!(" ({shared} of which {are} in more than one piece)"));
        }
        wrapped(&format!("{}: {found}, {by}", self.title()), "") + "\n"
    }

    fn cells(&self, of: &OfPiece) -> [String; 8] {
        let most = |figures: &mut dyn Iterator<Item = f64>| figures.reduce(f64::max);
        let figure =
            |figure: Option<f64>, places: usize| figure.map_or("-".into(), |figure| format!("{figure:.places$}"));
        let sure = match of.reading.decided {
            Decided::Nothing => "-".into(),
            _ => format!("{:.0}", 100.0 * of.reading.confidence),
        };
        [
            sure,
            of.shots.len().to_string(),
            of.piece.layers.len().to_string(),
            figure(most(&mut of.found().map(|found| found.facts.seconds)), 2),
            figure(most(&mut of.found().filter_map(|found| found.facts.peak_db)), 1),
            figure(most(&mut of.found().filter_map(|found| found.lufs)), 1),
            self.root_of(of),
            few_words(of),
        ]
    }

    /// The root of a piece with how surely it is heard, or the range of its roots.
    fn root_of(&self, of: &OfPiece) -> String {
        let roots: Vec<(f64, Option<f64>)> = of
            .shots
            .iter()
            .filter_map(|shot| Some((self.root(shot).0?, self.root(shot).1)))
            .collect();
        let low = roots.iter().copied().min_by(|a, b| a.0.total_cmp(&b.0));
        let high = roots.iter().copied().max_by(|a, b| a.0.total_cmp(&b.0));
        let (Some((low, confidence)), Some((high, _))) = (low, high) else {
            return "-".into();
        };
        match (note_name(low), note_name(high), confidence) {
            (low, high, _) if low != high => format!("{low}-{high}"),
            (note, _, Some(confidence)) => format!("{note} {:.0}%", 100.0 * confidence),
            (note, _, None) => note,
        }
    }

    /// What is odd, kind by kind, with the names of the files.
    fn oddities(&self) -> String {
        let mut page = String::new();
        for kind in 0..KINDS {
            let of_kind = |shot: &&Shot| shot.odd.iter().any(|odd| odd.kind() == kind);
            let shots: Vec<&Shot> = self.shots.iter().filter(of_kind).collect();
            if shots.is_empty() {
                continue;
            }
            page.push('\n');
            page.push_str(&wrapped(RecordingProblem::advice(kind), ""));
            let mut names: Vec<String> = shots.iter().take(NAMED).map(|shot| self.named(shot, kind)).collect();
            if shots.len() > NAMED {
                names.push(format!("and {} more", shots.len() - NAMED));
            }
            let joined = if kind == 0 { names.join("\n") } else { names.join(", ") };
            joined.lines().for_each(|line| page.push_str(&wrapped(line, "  ")));
        }
        page
    }

    /// A file with what its kind of oddity says of it.
    fn named(&self, shot: &Shot, kind: usize) -> String {
        let file = self.file(shot);
        match shot.odd.iter().find(|odd| odd.kind() == kind) {
            Some(RecordingProblem::Unreadable) => match &shot.found {
                Err(problem) => problem.to_string(),
                Ok(_) => file,
            },
            Some(RecordingProblem::Same(twin)) => {
                let twin = of_take(self.shots, *twin).map_or(String::new(), |twin| self.file(twin));
                format!("{file} is {twin}")
            }
            Some(RecordingProblem::Late(ms)) => format!("{file} by {ms:.0} ms"),
            Some(odd @ RecordingProblem::Dead(_)) => format!("{file} ({})", odd.short()),
            _ => file,
        }
    }

    fn guesses(&self, pieces: &[OfPiece]) -> String {
        let guesses: Vec<&OfPiece> = pieces.iter().filter(|of| of.is_guess()).collect();
        if guesses.is_empty() {
            return String::new();
        }
        let why = format!(
            "Guesses, with a confidence under {:.0} %, by these words. Rename the files, or correct the pieces in a kit.toml (`--write`).",
            100.0 * GUESS
        );
        let mut page = format!("\n{}", wrapped(&why, ""));
        for of in guesses.iter().take(NAMED) {
            let file = of.shots.first().map_or(String::new(), |shot| self.file(shot));
            let more = match of.shots.len() {
                0 | 1 => String::new(),
                count => format!(" and {} more", count - 1),
            };
            let words = of.reading.words.join(" ");
            page.push_str(&wrapped(
                &format!("{} by \"{words}\": {file}{more}", of.piece.name),
                "  ",
            ));
        }
        if guesses.len() > NAMED {
            page.push_str(&format!("  and {} more\n", guesses.len() - NAMED));
        }
        page
    }
}

/// What is odd about the files of a piece, as far as there is room.
fn few_words(of: &OfPiece) -> String {
    let mut odd: Vec<&RecordingProblem> = Vec::new();
    for one in of.shots.iter().flat_map(|shot| &shot.odd) {
        if !odd.iter().any(|other| other.kind() == one.kind()) {
            odd.push(one);
        }
    }
    odd.sort_by_key(|odd| odd.kind());
    let mut words = String::new();
    for (at, one) in odd.iter().enumerate() {
        let longer = format!("{words}{}{}", if at == 0 { "" } else { ", " }, one.short());
        let left = odd.len() - at - 1;
        let rest = if left == 0 { 0 } else { 3 };
        if columns(&longer) + rest > ODD && at > 0 {
            return format!("{words} +{}", left + 1);
        }
        words = longer;
    }
    words
}

/// Words in lines that begin with some spaces and are no longer than the page is wide.
fn wrapped(words: &str, before: &str) -> String {
    let mut page = String::new();
    let mut line = String::from(before);
    for word in words.split_whitespace() {
        let longer = columns(&line) + 1 + columns(word);
        if longer > WIDTH && line.trim() != "" {
            page.push_str(line.trim_end());
            page.push('\n');
            line = String::from(before);
        }
        if line.trim() != "" {
            line.push(' ');
        }
        line.push_str(word);
    }
    page + &line + "\n"
}
