//! What one part has in one bar: its marks or notes, where they stand, and what goes on sounding.

use super::cell::Cell;
use super::grid;
use crate::harmony::{Key, Note};
use crate::loopfile::{Ending, Exact, Loop, Part, Stroke, Way, written_note};

/// The most marks between two braces.
const MOST_FITTED: u32 = 16;
/// The most marks that one step shows.
const MOST_IN_STEP: usize = 8;
/// The most notes that stand together in a narrow bar.
const MOST_TOGETHER: usize = 3;

/// How late each stroke of each part is played, in seconds; none for one that is not.
pub(super) type Lateness = [Vec<Option<f64>>];

/// A part's line in a bar. Two are equal where they read the same.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct ChartLine {
    placed: Vec<Placed>,
    /// From where to where it sounds, in counts of the bar; of notes alone.
    held: Vec<(Exact, Exact)>,
}

/// A place within a count, and what stands there.
#[derive(Debug, Clone, PartialEq)]
struct Placed {
    count: u32,
    within: Exact,
    text: String,
    late: Option<f64>,
}

/// Where a part is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Standing {
    /// In a row of its own.
    Row,
    /// In another part's row: it strikes the same along with it.
    Along,
    /// Nowhere: it is not heard.
    Silent,
}

/// Where each part of a loop is read. A double that strikes another part's hits or chords, or plays its very notes, has no row.
pub(super) fn standings(song: &Loop) -> Vec<Standing> {
    let line = |number: usize, bar: u32| ChartLine::read(song, number, bar, None, false);
    let same = |one: usize, other: usize| (0..song.bars).all(|bar| line(one, bar) == line(other, bar));
    let standing = |(number, part): (usize, &Part)| {
        let notes = part.way != Way::Comp && part.strokes.iter().any(|stroke| stroke.pitch.is_some());
        let before = || (0..number).filter(|other| !song.parts[*other].silenced);
        match part.silenced {
            true => Standing::Silent,
            false if part.double && (!notes || before().any(|other| same(number, other))) => Standing::Along,
            false => Standing::Row,
        }
    };
    song.parts.iter().enumerate().map(standing).collect()
}

impl ChartLine {
    /// What a part has in a bar, counted from 0; `narrow` shortens what sounds together. None where it rests.
    pub(super) fn read(song: &Loop, part: usize, bar: u32, feel: Option<&Lateness>, narrow: bool) -> Option<ChartLine> {
        let reader = NoteLineReader {
            song,
            part: &song.parts[part],
            key: song.tonality(),
            feel: feel.map(|feel| &feel[part][..]),
            narrow,
        };
        let (placed, held) = reader.bar(bar);
        (!(placed.is_empty() && held.is_empty())).then_some(ChartLine { placed, held })
    }

    /// Marks of the band's accents at places in counts of a bar.
    pub(super) fn of_accents(places: &[Exact]) -> ChartLine {
        let placed = places.iter().map(|at| Placed {
            count: at.to_integer() as u32,
            within: at.fract(),
            text: "X".into(),
            late: None,
        });
        ChartLine {
            placed: placed.collect(),
            held: Vec::new(),
        }
    }

    /// The division that a count needs, where something begins or ends in it.
    pub(super) fn need(&self, count: u32) -> Option<u32> {
        let from = Exact::from_integer(count.into());
        let ends = self.held.iter().map(|(_, end)| end - from);
        let ends = ends.filter(|end| (Exact::ZERO..Exact::ONE).contains(end));
        let mut places = self.at(count).map(|placed| placed.within).chain(ends).peekable();
        places.peek()?;
        Some(grid::need(places))
    }

    fn at(&self, count: u32) -> impl Iterator<Item = &Placed> {
        self.placed.iter().filter(move |placed| placed.count == count)
    }

    /// What it shows at a place, in counts of the bar: what begins there, `=` where something goes on, `-` elsewhere.
    fn mark(&self, at: Exact, placed: Option<&Placed>) -> String {
        let goes_on = || self.held.iter().any(|(from, to)| *from < at && at < *to);
        match placed {
            Some(placed) => placed.text.clone(),
            None if goes_on() => "=".into(),
            None => "-".into(),
        }
    }

    /// A count on a grid, as texts: one a step where they fit it, braces where they are finer, and braces over the whole
    /// count where they divide it otherwise. With `feel`, deviations stand in place of marks, with commas for braces.
    pub(super) fn cell(&self, count: u32, division: u32, feel: bool) -> Cell {
        let strokes: Vec<&Placed> = self.at(count).collect();
        let begins = Exact::from_integer(count.into());
        let show = |within: Exact, placed: Option<&Placed>| match feel {
            true => late(placed),
            false => self.mark(begins + within, placed),
        };
        let need = grid::need(strokes.iter().map(|stroke| stroke.within));
        if !need.is_multiple_of(division) && !division.is_multiple_of(need) && need <= MOST_FITTED {
            return Cell::Whole(fitted(&strokes, Exact::ZERO, need, need, &show, feel));
        }
        let step = |step: u32| {
            let place = |step: u32| Exact::new(step.into(), division.into());
            let (from, to) = (place(step), place(step + 1));
            let here: Vec<&Placed> = strokes
                .iter()
                .filter(|stroke| from <= stroke.within && stroke.within < to)
                .copied()
                .collect();
            match here[..] {
                [] => show(from, None),
                [stroke] if stroke.within == from => show(from, Some(stroke)),
                _ => {
                    let within = here.iter().map(|stroke| (stroke.within - from) * i128::from(division));
                    let parts = grid::need(within);
                    fitted(&here, from, parts, parts.saturating_mul(division), &show, feel)
                }
            }
        };
        Cell::Steps((0..division).map(step).collect())
    }
}

/// Strokes between braces: `parts` even parts from a place of the count on, each as long as a count over `of`.
fn fitted(
    strokes: &[&Placed],
    from: Exact,
    parts: u32,
    of: u32,
    show: &dyn Fn(Exact, Option<&Placed>) -> String,
    feel: bool,
) -> String {
    let texts: Vec<String> = if feel || parts > MOST_FITTED {
        // Too fine to be drawn to scale: what is struck, in order.
        let struck = strokes.iter().take(MOST_IN_STEP);
        struck.map(|stroke| show(stroke.within, Some(stroke))).collect()
    } else {
        let part = |number: u32| from + Exact::new(number.into(), of.into());
        let here = |at: Exact| strokes.iter().find(|stroke| stroke.within == at).copied();
        (0..parts)
            .map(|number| show(part(number), here(part(number))))
            .collect()
    };
    let words = texts.iter().any(|text| text.chars().count() > 1);
    match (&texts[..], feel) {
        ([one], _) => one.clone(),
        (_, true) => texts.join(","),
        _ if words => format!("{{{}}}", texts.join(" ")),
        _ => format!("{{{}}}", texts.concat()),
    }
}

/// How late a stroke is, in whole ms; nothing where none is struck, `?` where chance left it out.
fn late(stroke: Option<&Placed>) -> String {
    match stroke.map(|stroke| stroke.late) {
        None => String::new(),
        Some(None) => "?".into(),
        Some(Some(seconds)) => match libm::round(seconds * 1000.0) as i64 {
            0 => "0".into(),
            ms => format!("{ms:+}"),
        },
    }
}

/// Reads a part's bars.
struct NoteLineReader<'a> {
    song: &'a Loop,
    part: &'a Part,
    key: Option<Key>,
    feel: Option<&'a [Option<f64>]>,
    narrow: bool,
}

impl NoteLineReader<'_> {
    /// What stands in a bar, and what sounds in it, in counts.
    fn bar(&self, bar: u32) -> (Vec<Placed>, Vec<(Exact, Exact)>) {
        let counts = i128::from(self.song.time.counts);
        let begins = Exact::from_integer(bar.into());
        let ends = begins + Exact::ONE;
        let strokes = &self.part.strokes;
        let first = strokes.partition_point(|stroke| stroke.at < begins);
        let mut placed = Vec::new();
        let mut held: Vec<(Exact, Exact)> = self.held_over(first, begins).into_iter().collect();
        let mut number = first;
        while let Some(stroke) = strokes.get(number).filter(|stroke| stroke.at < ends) {
            let together = strokes[number..].iter().take_while(|other| other.at == stroke.at);
            // Marks of hits stand one by one; notes of one place are one word.
            let count = if stroke.pitch.is_some() { together.count() } else { 1 };
            let group = &strokes[number..number + count];
            let counted = (stroke.at - begins) * counts;
            placed.push(Placed {
                count: counted.to_integer() as u32,
                within: counted.fract(),
                text: self.text(group),
                late: self.feel.and_then(|feel| feel[number]),
            });
            held.extend(self.sounding(group, begins));
            number += count;
        }
        for (from, to) in &mut held {
            (*from, *to) = ((*from - begins) * counts, (*to - begins) * counts);
        }
        (placed, held)
    }

    /// Where what was struck before a bar, or before the loop comes round, sounds on in it.
    fn held_over(&self, first: usize, begins: Exact) -> Option<(Exact, Exact)> {
        let strokes = &self.part.strokes;
        let round = Exact::from_integer(self.song.bars.into());
        let (last, back) = match first.checked_sub(1) {
            Some(last) => (&strokes[last], Exact::ZERO),
            None if self.song.ending == Ending::Repeat => (strokes.last()?, round),
            None => return None,
        };
        last.pitch?;
        let struck = if back == Exact::ZERO { first } else { strokes.len() };
        let together = strokes[..struck].iter().rev().take_while(|other| other.at == last.at);
        let end = together.map(|stroke| stroke.at + stroke.held() - back).max()?;
        let next = strokes.get(first).map_or(begins + Exact::ONE, |next| next.at);
        let end = end.min(next).min(begins + Exact::ONE);
        // A hair before the barline, so that what goes on at it is seen to.
        (end > begins).then_some((begins - Exact::ONE, end))
    }

    /// Where a group of notes sounds, up to the next one.
    fn sounding(&self, group: &[Stroke], begins: Exact) -> Option<(Exact, Exact)> {
        let first = group.first().filter(|stroke| stroke.pitch.is_some())?;
        let after = self.part.strokes.partition_point(|stroke| stroke.at <= first.at);
        let next = self.part.strokes.get(after).map(|next| next.at);
        let end = group.iter().map(|stroke| stroke.at + stroke.held()).max()?;
        let end = end.min(begins + Exact::ONE);
        Some((first.at, next.map_or(end, |next| end.min(next))))
    }

    /// What strokes of one place look like: a mark, or their notes with what accents and ghosts have about them.
    fn text(&self, group: &[Stroke]) -> String {
        let Some(first) = group.first() else {
            return String::new();
        };
        if self.part.way == Way::Comp || first.pitch.is_none() {
            return first.mark.to_string();
        }
        let mut notes: Vec<Note> = group
            .iter()
            .filter_map(|stroke| self.song.named(stroke, self.key.as_ref()))
            .collect();
        notes.sort_by_key(|note| note.midi());
        let names: Vec<String> = notes.iter().map(Note::to_string).collect();
        let together = match &names[..] {
            [lowest, .., highest] if self.narrow && names.len() > MOST_TOGETHER => format!("{lowest}…{highest}"),
            _ => names.join("+"),
        };
        written_note(&together, group, first.mark, true)
    }
}
