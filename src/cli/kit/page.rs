//! The page for people: counts, a table of pieces by groups, then what is odd, what was guessed, what names and sounds disagree on.

use std::collections::BTreeMap;

use super::groups::{Group, Line};
use super::problems::{KINDS, NO_ACTION, RecordingProblem};
use super::report::{OfPiece, Report};
use super::shot::{Shot, of_take};
use crate::kit::audio::pitch::note_name;
use crate::kit::{Decided, GUESS};
use crate::text::table::{Table, apart};
use crate::text::width::columns;
use crate::text::{in_a_row, one_line, thousands};

/// Columns of the page.
const WIDTH: usize = 80;
/// Columns that are left for what is odd.
const ODD: usize = 17;
/// Below this it is not sure that files are takes.
const CLOSE: f64 = 0.6;
/// So many names stand for all that are alike.
const NAMED: usize = 5;
/// The widest that a file's name may be in a list.
const FILE: usize = 50;
/// A group of more lines than this has the names of its pieces alone.
const TABLED: usize = 40;
/// So many lines of names at most.
const LINES: usize = 40;

impl Report<'_> {
    /// The whole page; with `all` each piece has a line and each file is named.
    pub(super) fn page(&self, all: bool) -> String {
        let pieces = self.pieces();
        let mut page = self.heading(&pieces);
        page.push_str(&self.table(&pieces, all));
        let named = if all { usize::MAX } else { NAMED };
        page.push_str(&self.oddities(named));
        page.push_str(&self.guesses(&pieces, named));
        page.push_str(&close_calls(&pieces, named));
        let notices: Vec<String> = self.notices().map(ToString::to_string).collect();
        for notice in notices.iter().take(named) {
            page.push('\n');
            page.push_str(&wrapped(notice, ""));
        }
        if notices.len() > named {
            page.push_str(&format!("\n{}\n", more(notices.len() - named, "`--all` has them")));
        }
        page.trim_end().to_string()
    }

    /// How many pieces and files there are, and what tells the pieces. A file may be in several pieces.
    fn heading(&self, pieces: &[OfPiece]) -> String {
        let written = pieces
            .iter()
            .filter(|of| of.reading.decided == Decided::Written)
            .count();
        let by = match (self.written, written) {
            (false, _) => "by names and sounds; it has no kit.toml",
            (true, 0) => "by names and sounds; its kit.toml lists no pieces",
            (true, all) if all == pieces.len() => "as its kit.toml says",
            (true, _) => "by its kit.toml and, for the rest, names and sounds",
        };
        let groups = Group::ALL.map(|group| (group, pieces.iter().filter(|of| self.group(of) == group).count()));
        let groups = groups.into_iter().filter(|(_, count)| *count > 0);
        let groups: Vec<String> = groups.map(|(group, count)| group.counted(&thousands(count))).collect();
        let pairs = self.shots.iter().filter(|shot| shot.right.is_some()).count();
        let files = files(self.shots.len() + pairs);
        let joined = match pairs {
            0 => String::new(),
            1 => " (1 stereo pair joined)".into(),
            count => format!(" ({} stereo pairs joined)", thousands(count)),
        };
        let mut uses: BTreeMap<usize, usize> = BTreeMap::new();
        for shot in pieces.iter().flat_map(|of| &of.shots) {
            *uses.entry(shot.take).or_default() += 1;
        }
        let shared = uses.values().filter(|count| **count > 1).count();
        let shared = match shared {
            0 => String::new(),
            1 => " (1 of which is in more than one piece)".into(),
            count => format!(" ({} of which are in more than one piece)", thousands(count)),
        };
        let found = format!("{} in {files}{joined}{shared}", groups.join(", "));
        wrapped(&format!("{}: {found}, {by}", self.title()), "") + "\n"
    }

    /// All groups in one table, so that figures stand below one another; of a crowded group the names.
    fn table(&self, pieces: &[OfPiece], all: bool) -> String {
        let groups = Group::ALL.map(|group| self.lines(group, pieces, all));
        let crowded = |lines: &[Line]| !all && lines.len() > TABLED;
        let often = self.often();
        let mut table = Table::with_words();
        table.row(
            "",
            ["conf.", "takes", "layers", "length", "peak", "loud", "root", "problems"],
        );
        table.row("", ["%", "", "", "s", "dBFS", "LUFS", "", ""]);
        for line in groups.iter().filter(|lines| !crowded(lines)).flatten() {
            table.row(format!("  {}", one_line(&line.name())), self.cells(line, &often));
        }
        let text = table.text(WIDTH);
        let mut rows = text.lines();
        let mut page = String::new();
        // Without a row there is nothing for the columns to head.
        if groups.iter().any(|lines| !lines.is_empty() && !crowded(lines)) {
            rows.by_ref().take(2).for_each(|row| page.push_str(&format!("{row}\n")));
        }
        let filled = Group::ALL.iter().zip(&groups).filter(|(_, lines)| !lines.is_empty());
        for (group, lines) in filled {
            page.push_str(&format!("{}\n", group.name()));
            match crowded(lines) {
                true => page.push_str(&self.names(lines)),
                false => rows
                    .by_ref()
                    .take(lines.len())
                    .for_each(|row| page.push_str(&format!("{row}\n"))),
            }
        }
        page
    }

    /// The names of pieces, and the roots of those that have one, as far as there is room.
    fn names(&self, lines: &[Line]) -> String {
        let names = lines.iter().map(|line| match self.roots(line) {
            Some((low, high)) if low != high => format!("{} {low}-{high}", one_line(&line.name())),
            Some((low, _)) => format!("{} {low}", one_line(&line.name())),
            None => one_line(&line.name()).into_owned(),
        });
        let names: Vec<String> = names.collect();
        // As many as stand in so many lines.
        let lines = |count: usize| listed(&names[..count], "  ").lines().count();
        let counts: Vec<usize> = (1..=names.len()).collect();
        let fit = counts.partition_point(|count| lines(*count) <= LINES);
        let mut page = listed(&names[..fit], "  ");
        if fit < names.len() {
            page.push_str(&format!(
                "  {}\n",
                more(names.len() - fit, "`--all` has a line for each")
            ));
        }
        page
    }

    fn cells(&self, line: &Line, often: &[usize]) -> [String; 8] {
        let most = |figures: &mut dyn Iterator<Item = f64>| figures.reduce(f64::max);
        let figure =
            |figure: Option<f64>, places: usize| figure.map_or("-".into(), |figure| format!("{figure:.places$}"));
        let told = line.0.iter().filter(|of| of.reading.decided != Decided::Nothing);
        let least = told.map(|of| 100.0 * of.reading.confidence).reduce(f64::min);
        let layers = line.0.iter().map(|of| of.piece.layers.len()).max().unwrap_or(0);
        [
            figure(least, 0),
            thousands(line.shots().count()),
            layers.to_string(),
            figure(most(&mut line.found().map(|found| found.facts.seconds)), 2),
            figure(most(&mut line.found().filter_map(|found| found.facts.peak_db)), 1),
            figure(most(&mut line.found().filter_map(|found| found.lufs)), 1),
            self.root_of(line),
            few_words(line, often),
        ]
    }

    /// The lowest and the highest root of some pieces.
    fn roots(&self, line: &Line) -> Option<(String, String)> {
        let roots: Vec<f64> = line.shots().filter_map(|shot| self.root(shot).0).collect();
        let low = roots.iter().copied().reduce(f64::min)?;
        let high = roots.iter().copied().reduce(f64::max)?;
        Some((note_name(low), note_name(high)))
    }

    /// The root of a line with how surely it is heard, or the range of its roots.
    fn root_of(&self, line: &Line) -> String {
        let confidence = line.shots().find_map(|shot| self.root(shot).0.and(self.root(shot).1));
        match (self.roots(line), confidence) {
            (None, _) => "-".into(),
            (Some((low, high)), _) if low != high => format!("{low}-{high}"),
            (Some((note, _)), Some(confidence)) => format!("{note} {:.0}%", 100.0 * confidence),
            (Some((note, _)), None) => note,
        }
    }

    /// The files of a kind of oddity.
    fn odd(&self, kind: usize) -> impl Iterator<Item = &Shot> {
        let of_kind = move |shot: &&Shot| shot.odd.iter().any(|odd| odd.kind() == kind);
        self.shots.iter().filter(of_kind)
    }

    /// The kinds of oddities that so many files have that a line for each would tell nothing.
    fn often(&self) -> Vec<usize> {
        let often = |kind: &usize| self.odd(*kind).count() > (self.shots.len() / 4).max(TABLED);
        (0..KINDS).filter(often).collect()
    }

    /// What is odd, kind by kind, with the names of some of the files; what needs no action in one sentence.
    fn oddities(&self, named: usize) -> String {
        let mut page = String::new();
        for kind in (0..KINDS).filter(|kind| !NO_ACTION.contains(kind)) {
            let shots: Vec<&Shot> = self.odd(kind).collect();
            if shots.is_empty() {
                continue;
            }
            page.push('\n');
            page.push_str(&wrapped(&RecordingProblem::advice(kind, &files(shots.len())), ""));
            let files: Vec<String> = shots.iter().take(named).map(|shot| self.file(shot)).collect();
            let files = apart(&files.iter().map(String::as_str).collect::<Vec<_>>(), FILE);
            let told = shots.iter().zip(files);
            let mut names: Vec<String> = told.map(|(shot, file)| self.named(shot, &file, kind)).collect();
            names.extend((shots.len() > named).then(|| format!("and {} more", thousands(shots.len() - named))));
            match kind {
                0 => names.iter().for_each(|name| page.push_str(&wrapped(name, "  "))),
                _ => page.push_str(&listed(&names, "  ")),
            }
        }
        let cured: Vec<String> = NO_ACTION
            .filter_map(|kind| {
                let count = self.odd(kind).count();
                let latest = self
                    .odd(kind)
                    .flat_map(|shot| &shot.odd)
                    .filter_map(RecordingProblem::ms);
                RecordingProblem::cured(kind, &files(count), latest.fold(0.0, f64::max)).filter(|_| count > 0)
            })
            .collect();
        if !cured.is_empty() {
            let sentence = format!(
                "Mended as it is played, so that nothing need be done: {}.",
                in_a_row(&cured)
            );
            page.push_str(&format!("\n{}", wrapped(&sentence, "")));
        }
        page
    }

    /// A file, by its name as it is shown, with what its kind of oddity says of it.
    fn named(&self, shot: &Shot, file: &str, kind: usize) -> String {
        match shot.odd.iter().find(|odd| odd.kind() == kind) {
            Some(RecordingProblem::Unreadable) => match &shot.found {
                Err(problem) => problem.to_string(),
                Ok(_) => file.to_string(),
            },
            Some(RecordingProblem::Same(twin)) => {
                let twin = of_take(self.shots, *twin).map_or(String::new(), |twin| self.file(twin));
                format!("{file} is {twin}")
            }
            Some(odd @ RecordingProblem::Dead(_)) => format!("{file} ({})", odd.short()),
            _ => file.to_string(),
        }
    }

    fn guesses(&self, pieces: &[OfPiece], named: usize) -> String {
        let guesses: Vec<&OfPiece> = pieces.iter().filter(|of| of.is_guess()).collect();
        if guesses.is_empty() {
            return String::new();
        }
        let why = format!(
            "Guesses, with a confidence under {:.0} %, by these words ({}). Rename the files, or correct the pieces in a kit.toml (`--write`).",
            100.0 * GUESS,
            match guesses.len() {
                1 => "1 piece".to_string(),
                count => format!("{} pieces", thousands(count)),
            }
        );
        let mut page = format!("\n{}", wrapped(&why, ""));
        for of in guesses.iter().take(named) {
            let file = of.shots.first().map_or(String::new(), |shot| self.file(shot));
            let others = match of.shots.len() {
                0 | 1 => String::new(),
                count => format!(" and {} more", count - 1),
            };
            let words = of.reading.words.join(" ");
            page.push_str(&wrapped(
                &format!("{} by \"{words}\": {file}{others}", of.piece.name),
                "  ",
            ));
        }
        if guesses.len() > named {
            page.push_str(&format!("  {}\n", more(guesses.len() - named, "`--all` has them")));
        }
        page
    }
}

/// Pieces of which it is not sure that their files are takes of one sound, the least sure first.
fn close_calls(pieces: &[OfPiece], named: usize) -> String {
    let call = |of: &OfPiece| {
        let sure = of.reading.takes_confidence.filter(|sure| *sure < CLOSE)?;
        Some((sure, of.reading.distance?, of.piece.name.clone()))
    };
    let mut calls: Vec<(f64, f64, String)> = pieces.iter().filter_map(call).collect();
    if calls.is_empty() {
        return String::new();
    }
    calls.sort_by(|a, b| a.0.total_cmp(&b.0).then_with(|| a.2.cmp(&b.2)));
    let why = "Takes of one sound, or different sounds: these are close calls. The figure is the largest distance between two takes; most \
               takes lie under 0.5, other drums over 1.";
    let mut names: Vec<String> = calls
        .iter()
        .take(named)
        .map(|(_, distance, name)| format!("{} {distance:.2}", one_line(name)))
        .collect();
    if calls.len() > named {
        names.push(more(calls.len() - named, "`--all` has them"));
    }
    format!("\n{}{}", wrapped(why, ""), wrapped(&names.join(", "), "  "))
}

/// How many files.
fn files(count: usize) -> String {
    match count {
        1 => "1 file".into(),
        count => format!("{} files", thousands(count)),
    }
}

/// What a list leaves out, and where it stands.
fn more(count: usize, place: &str) -> String {
    format!("and {} more: {place}", thousands(count))
}

/// What is odd about the files of a line, as far as there is room: what many files have, and what needs no action, stands below
/// the table alone.
fn few_words(line: &Line, often: &[usize]) -> String {
    let mut kinds: BTreeMap<usize, (&RecordingProblem, usize)> = BTreeMap::new();
    for one in line.shots().flat_map(|shot| &shot.odd) {
        kinds.entry(one.kind()).or_insert((one, 0)).1 += 1;
    }
    kinds.retain(|kind, _| !often.contains(kind) && !NO_ACTION.contains(kind));
    let mut words = String::new();
    for (at, (one, count)) in kinds.values().enumerate() {
        let one = match line.0.len() {
            1 => one.short(),
            _ => format!("{} {}", thousands(*count), one.short()),
        };
        let longer = format!("{words}{}{one}", if at == 0 { "" } else { ", " });
        let left = kinds.len() - at - 1;
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
    filled(words.split_whitespace(), before)
}

/// The same for what must not be broken within, such as the names of files.
fn filled<'a>(words: impl IntoIterator<Item = &'a str>, before: &str) -> String {
    let mut page = String::new();
    let mut line = String::from(before);
    for word in words {
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

/// A list in such lines, with a comma behind each but the last.
fn listed(names: &[String], before: &str) -> String {
    let last = names.len().saturating_sub(1);
    let names = names.iter().enumerate();
    let names: Vec<String> = names
        .map(|(at, name)| format!("{name}{}", if at < last { "," } else { "" }))
        .collect();
    filled(names.iter().map(String::as_str), before)
}
