//! The page: headings, bars side by side, repeats folded.

use super::measure::{self, Look, Measure};
use super::system::{BARLINE, Block, GAP, LONGEST_NAME, system};
use super::{WIDTH, above, feel, grid, line, takes, voices};
use crate::loopfile::{Ending, Exact, Form, Loop, Part, Section, Stroke, Time};
use crate::score::Score;
use crate::text::width::{columns, wrapped};

/// The marks that play a part's own piece.
const COMMON: &str = "xXgfFdDrRbBm3456789";

/// What is shown beside marks.
#[derive(Debug, Clone, Copy, Default)]
pub struct Besides<'a> {
    /// How far hits lie from the grid, by the score of each loop: one for a loop, one a section for a form.
    pub scores: Option<&'a [Score]>,
    /// The tones of chords, and the notes that comping parts play of them.
    pub tones: bool,
}

/// A loop's chart, of the bars from one to another (counted from 1).
///
/// The page has escape sequences for bold and dim marks; who prints it takes them out where they are not wanted.
pub fn song(song: &Loop, bars: (u32, u32), besides: Besides<'_>) -> String {
    let mut lines = wrapped(&song.title, WIDTH);
    lines.extend(wrapped(&about(song), WIDTH));
    lines.push(String::new());
    let score = besides.scores.and_then(|scores| scores.first());
    lines.extend(body(song, bars, score, besides.tones));
    lines.join("\n")
}

/// A form's chart, section by section; `bars` counts over the whole form.
pub(crate) fn form(form: &Form, bars: (u32, u32), besides: Besides<'_>) -> String {
    let mut lines = wrapped(&form.title, WIDTH);
    lines.extend(wrapped(&frame(form), WIDTH));
    let mut bodies: Vec<(String, Vec<String>)> = Vec::new();
    let mut before = 0;
    for (number, section) in form.sections.iter().enumerate() {
        let (first, last) = (before + 1, before + section.bars());
        before = last;
        let Some(window) = window(section, (bars.0.max(first), bars.1.min(last)), first) else {
            continue;
        };
        lines.push(String::new());
        lines.extend(wrapped(&heading(section, first, last), WIDTH));
        let mut page = wrapped(&about(&section.plays), WIDTH);
        page.push(String::new());
        let score = besides.scores.and_then(|scores| scores.get(number));
        page.extend(body(&section.plays, window, score, besides.tones));
        match bodies.iter().find(|(_, other)| *other == page) {
            Some((name, _)) => lines.extend(wrapped(&format!("as {name} above"), WIDTH)),
            None => {
                lines.extend(page.iter().cloned());
                bodies.push((section.name.clone(), page));
            }
        }
    }
    lines.join("\n")
}

/// The bars of a section's loop that are played in some of the form's bars; all that come up where they repeat.
fn window(section: &Section, (from, to): (u32, u32), first: u32) -> Option<(u32, u32)> {
    if from > to {
        return None;
    }
    let round = section.round();
    let (from, to) = (from - first, to - first);
    Some(if to / round == from / round {
        (section.window.0 + from % round, section.window.0 + to % round)
    } else {
        section.window
    })
}

fn heading(section: &Section, first: u32, last: u32) -> String {
    let mut words = vec![format!("{}: {}", section.name, bars_of(first, last))];
    if section.times > 1 {
        words.push(format!("{} times", section.times));
    }
    if section.window != (1, section.plays.bars) {
        words.push(format!(
            "{} of {}",
            bars_of(section.window.0, section.window.1),
            section.plays.title
        ));
    }
    words.join(" · ")
}

/// What a form has around its sections.
fn frame(form: &Form) -> String {
    let mut words = vec![count(form.bars(), "bar")];
    if form.ending != Ending::Repeat {
        words.extend(form.pickup.map(|length| format!("pickup {length}")));
        words.extend((form.fades.0 > 0.0).then(|| format!("fades in over {} bars", form.fades.0)));
        words.extend((form.fades.1 > 0.0).then(|| format!("fades out over {} bars", form.fades.1)));
        words.extend(form.last_hit.then(|| "ends with a hit".to_string()));
    } else {
        words.push("repeats".into());
    }
    words.join(" · ")
}

/// Tempo, metre, key and swing, in a line.
fn about(song: &Loop) -> String {
    let mut words = vec![
        tempo(&song.time),
        format!("{}/{}", song.time.counts, song.time.unit),
        count(song.bars, "bar"),
    ];
    words.extend(song.key.clone());
    words.join(" · ")
}

fn tempo(time: &Time) -> String {
    let half = Exact::new(2, 3);
    let beat = if *time.beat.numer() == 3 {
        format!("{} dotted", time.beat * half)
    } else {
        time.beat.to_string()
    };
    format!("{beat} = {}", time.tempo)
}

/// The bars, equal ones once, as many side by side as the page has room for.
fn body(song: &Loop, (first, last): (u32, u32), score: Option<&Score>, tones: bool) -> Vec<String> {
    let feel = score.map(|score| feel::deviations(song, score));
    let (song, feel) = takes::apart(song, feel);
    let song = &song;
    let mut measures: Vec<(Measure, Vec<u32>)> = Vec::new();
    let divisions: Vec<Option<u32>> = (first..=last).map(|bar| measure::division(song, bar - 1)).collect();
    let usual = usual(&divisions);
    let names = names(song);
    let room = WIDTH - names - GAP;
    let look = Look {
        feel: feel.as_deref(),
        room,
    };
    for (bar, division) in (first..=last).zip(divisions) {
        // A bar that needs less than the others is drawn like them.
        let division = division
            .filter(|division| !usual.is_multiple_of(*division))
            .unwrap_or(usual);
        let measure = Measure::of(song, bar - 1, division, look);
        match measures.iter_mut().find(|(other, _)| *other == measure) {
            Some((_, bars)) => bars.push(bar),
            None => measures.push((measure, vec![bar])),
        }
    }
    let mut blocks: Vec<Block> = Vec::new();
    for (measure, bars) in measures {
        let other_grid = measure.sounds() && measure.division != usual;
        let mut heading = spelled(&bars);
        if other_grid {
            heading = format!("{heading}, in {}", grid::note_value(measure.division, &song.time));
        }
        for piece in measure.split(room) {
            let from = piece.first_count;
            let heading = if from > 0 {
                format!("{heading}, from count {}", from + 1)
            } else {
                heading.clone()
            };
            blocks.push(Block::new(heading, piece, room));
        }
    }
    let mut lines = Vec::new();
    let mut rest = &blocks[..];
    while !rest.is_empty() {
        let beside =
            |count: usize| rest[..count].iter().map(|block| block.width).sum::<usize>() + (count - 1) * BARLINE.len();
        let count = (1..=rest.len())
            .take_while(|count| beside(*count) <= room)
            .last()
            .unwrap_or(1);
        if !lines.is_empty() {
            lines.push(String::new());
        }
        lines.extend(system(song, &rest[..count], names, tones));
        rest = &rest[count..];
    }
    if tones {
        lines.extend(voices::voicings(song, (first, last)));
    }
    lines.extend(foot(song));
    lines
}

/// What is told of parts that have no row.
fn foot(song: &Loop) -> Vec<String> {
    let named = |of: &dyn Fn(&&Part) -> bool, name: &dyn Fn(&Part) -> String| {
        let parts = song.parts.iter().filter(of).map(name);
        parts.collect::<Vec<_>>().join(", ")
    };
    let along = named(&|part| !part.silenced && !line::has_row(part), &|part| {
        let pieces: Vec<&str> = part.pieces.iter().map(|piece| piece.piece.as_str()).collect();
        format!("{} ({})", part.name, pieces.join(", "))
    });
    let silent = named(&|part| part.silenced, &|part| part.name.clone());
    let mut lines = elsewhere(song);
    for (what, names) in [("along with their parts", along), ("not heard", silent)] {
        if !names.is_empty() {
            lines.push(String::new());
            lines.extend(wrapped(&format!("{what}: {names}"), WIDTH));
        }
    }
    lines
}

/// The bars in which parts play their marks on another piece than their own.
fn elsewhere(song: &Loop) -> Vec<String> {
    let mut lines = Vec::new();
    for part in song
        .parts
        .iter()
        .filter(|part| line::has_row(part) && part.performance.is_none())
    {
        for (number, played) in part.pieces.iter().enumerate().skip(1) {
            // A mark that all parts know plays the part's own piece, but in bars that change it.
            let moved =
                |stroke: &&Stroke| stroke.piece == number && (stroke.pitch.is_some() || COMMON.contains(stroke.mark));
            let bars = part
                .strokes
                .iter()
                .filter(moved)
                .map(|stroke| stroke.at.floor().to_integer() as u32 + 1);
            let mut bars: Vec<u32> = bars.collect();
            bars.dedup();
            if !bars.is_empty() {
                lines.push(String::new());
                let what = format!("{} plays on {} in {}", part.name, played.piece, spelled(&bars));
                lines.extend(wrapped(&what, WIDTH));
            }
        }
    }
    lines
}

/// Columns for the names of a loop's rows.
fn names(song: &Loop) -> usize {
    let heard = song.parts.iter().filter(|part| line::has_row(part));
    let longest = heard.map(|part| columns(&part.name)).max().unwrap_or(0);
    let accents = song.accents.iter().map(|_| above::label(None).len()).max().unwrap_or(0);
    longest.clamp(accents, LONGEST_NAME)
}

/// The grid that most bars need, the finest of those where as many need one or the other.
fn usual(divisions: &[Option<u32>]) -> u32 {
    let bars = |division: &u32| divisions.iter().filter(|other| **other == Some(*division)).count();
    (1..=8).max_by_key(bars).unwrap_or(1)
}

fn count(number: u32, thing: &str) -> String {
    if number == 1 {
        format!("1 {thing}")
    } else {
        format!("{number} {thing}s")
    }
}

fn bars_of(first: u32, last: u32) -> String {
    spelled(&(first..=last).collect::<Vec<_>>())
}

/// Bars in words: `bar 3`, `bars 1-4, 8`.
fn spelled(bars: &[u32]) -> String {
    crate::score::spelled(bars)
}
