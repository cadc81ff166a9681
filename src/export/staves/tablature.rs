//! Drums as tables: a line a drum, a column a beat.
//!
//! Bars of a section that look the same stand once, under all their numbers; a drum that rests through a table has no line in it.
//! A beat has the fewest steps on which all its hits lie. Where these would be many, it has the steps that most of its hits
//! lie on, and what lies between them stands in braces, as in a loop file: so many marks, evenly in the step's time or in the
//! beat's.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::loopfile::Exact;
use crate::notation::{Clef, Event, Head, Sheet, Sign, Staff, WrittenPitch};

/// Steps of a beat where all beats of its bar have as few.
const HALVES: i128 = 2;
/// Steps of a beat that are tried, the plainest first: quarters of it, thirds, and finer ones.
const STEPS: [i128; 6] = [4, 3, 6, 8, 5, 7];
/// The most marks in braces.
const MOST: i128 = 16;
/// Steps of a beat that not even braces fit; what lies between two of them stands on the earlier one.
const FINEST: i128 = 24;
/// How wide a table may be, in letters of it: 180 mm in letters of 7.5 points that are 0.6 of that wide.
const WIDE: usize = 113;
/// Space around a beat's marks, and around a drum's name, in letters.
const AROUND: usize = 1;
/// Height of a line in mm: 7.5 points at a line height of 1.15.
const LINE: f64 = 7.5 * 1.15 * 25.4 / 72.0;

/// Some bars of the drums.
#[derive(Debug, Serialize)]
pub(super) struct Table {
    pub caption: String,
    /// Bars with their numbers and how many beats they have.
    pub bars: Vec<(String, usize)>,
    /// How each beat is counted.
    pub counts: Vec<Cell>,
    /// Each drum's name and beats.
    pub rows: Vec<(String, Vec<Cell>)>,
    /// The place of its first bar in the sheet.
    #[serde(skip)]
    pub first: usize,
}

/// One beat.
#[derive(Debug, Serialize)]
pub(super) struct Cell {
    pub text: String,
    /// True for a bar's first beat.
    pub first: bool,
}

impl Table {
    /// Its height in mm: a caption, two lines of heads, the drums, and the space below.
    pub(super) fn height(&self) -> f64 {
        (self.rows.len() + 3) as f64 * LINE + 5.0
    }

    /// All marks in it.
    pub(super) fn marks(&self) -> impl Iterator<Item = char> {
        let cells = self.rows.iter().flat_map(|(_, cells)| cells);
        cells.flat_map(|cell| cell.text.chars())
    }
}

/// Bars that look the same: one column a beat.
struct Alike {
    /// Their places in the sheet.
    bars: Vec<usize>,
    /// How each beat is counted.
    counts: Vec<String>,
    /// For each drum what it plays in each beat.
    rows: Vec<Vec<String>>,
}

impl Alike {
    fn width(&self) -> usize {
        let beats = self.counts.iter().enumerate().map(|(beat, count)| {
            let rows = self.rows.iter().map(|beats| beats[beat].chars().count());
            rows.fold(count.chars().count(), usize::max) + AROUND
        });
        beats.sum()
    }

    /// True where a drum does not rest.
    fn plays(&self, drum: usize) -> bool {
        self.rows[drum].iter().any(|marks| marks.contains(|mark| mark != '-'))
    }
}

/// The tables of all staves of drums. A section begins a table.
pub(super) fn tables(sheet: &Sheet) -> Vec<Table> {
    let drums = |staff: &&Staff| staff.clef == Clef::Percussion;
    let staves: Vec<&Staff> = sheet.staves.iter().filter(drums).collect();
    if staves.is_empty() {
        return Vec::new();
    }
    let names: Vec<&str> = staves
        .iter()
        .flat_map(|staff| staff.drums.iter().map(|drum| &*drum.name))
        .collect();
    let longest = names.iter().map(|name| name.chars().count()).max().unwrap_or(0) + AROUND;
    let mut tables = Vec::new();
    let mut first = 0;
    while first < sheet.bars.len() {
        let behind = (first + 1..sheet.bars.len()).find(|bar| sheet.bars[*bar].section.is_some());
        let end = behind.unwrap_or(sheet.bars.len());
        let mut beside: Vec<Alike> = Vec::new();
        for alike in different(sheet, &staves, first..end) {
            let wide: usize = beside.iter().map(Alike::width).sum();
            if !beside.is_empty() && longest + wide + alike.width() > WIDE {
                tables.push(table(sheet, &names, &std::mem::take(&mut beside)));
            }
            beside.push(alike);
        }
        tables.push(table(sheet, &names, &beside));
        first = end;
    }
    tables
}

/// The bars that differ, in order, each with all that look like it.
fn different(sheet: &Sheet, staves: &[&Staff], bars: std::ops::Range<usize>) -> Vec<Alike> {
    let mut found: Vec<Alike> = Vec::new();
    for bar in bars {
        let beats = bar_beats(sheet, staves, bar);
        let counts: Vec<String> = beats.iter().map(counted).collect();
        let rows = staves.iter().flat_map(|staff| {
            let beats = &beats;
            let drums = 0..staff.drums.len();
            drums.map(move |drum| beats.iter().map(|beat| marks(staff, beat, drum)).collect())
        });
        let rows: Vec<Vec<String>> = rows.collect();
        match found
            .iter_mut()
            .find(|other| other.counts == counts && other.rows == rows)
        {
            Some(other) => other.bars.push(bar),
            None => found.push(Alike {
                bars: vec![bar],
                counts,
                rows,
            }),
        }
    }
    found
}

fn table(sheet: &Sheet, names: &[&str], beside: &[Alike]) -> Table {
    let cells = |texts: &[String]| -> Vec<Cell> {
        let texts = texts.iter().enumerate();
        let cells = texts.map(|(beat, text)| Cell {
            text: text.clone(),
            first: beat == 0,
        });
        cells.collect()
    };
    let row = |(drum, name): (usize, &&str)| {
        let plays = beside.iter().any(|alike| alike.plays(drum));
        let bars = beside.iter().flat_map(|alike| cells(&alike.rows[drum]));
        plays.then(|| (name.to_string(), bars.collect()))
    };
    let mut all: Vec<usize> = beside.iter().flat_map(|alike| alike.bars.clone()).collect();
    all.sort_unstable();
    let numbers = numbered(sheet, &all, " to ");
    let word = if numbers.contains(' ') { "bars" } else { "bar" };
    let section = all.iter().find_map(|bar| sheet.bars[*bar].section.as_deref());
    let section = section.map(|name| format!(", {name}")).unwrap_or_default();
    Table {
        caption: format!("Drums{section}, {word} {numbers}"),
        bars: beside
            .iter()
            .map(|alike| (numbered(sheet, &alike.bars, "–"), alike.counts.len()))
            .collect(),
        counts: beside.iter().flat_map(|alike| cells(&alike.counts)).collect(),
        rows: names.iter().enumerate().filter_map(row).collect(),
        first: all[0],
    }
}

/// Bars by all numbers under which they are heard, runs of them from the first to the last: `1, 3–5`.
fn numbered(sheet: &Sheet, bars: &[usize], to: &str) -> String {
    let heard = |bar: &usize| match sheet.bars[*bar].heard.as_slice() {
        [] => vec![sheet.bars[*bar].number],
        heard => heard.to_vec(),
    };
    let mut numbers: Vec<u32> = bars.iter().flat_map(heard).collect();
    numbers.sort_unstable();
    let mut runs: Vec<(u32, u32)> = Vec::new();
    for number in numbers {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == number && number > 1 => *last = number,
            _ => runs.push((number, number)),
        }
    }
    let run = |(first, last): &(u32, u32)| match (first, first == last) {
        (0, _) => "pickup".to_string(),
        (_, true) => first.to_string(),
        (_, false) => format!("{first}{to}{last}"),
    };
    runs.iter().map(run).collect::<Vec<_>>().join(", ")
}

/// A beat: where it begins, its length, how it is counted, and its steps.
struct Beat {
    bar: usize,
    at: Exact,
    length: Exact,
    count: u32,
    steps: i128,
}

fn bar_beats(sheet: &Sheet, staves: &[&Staff], bar: usize) -> Vec<Beat> {
    let about = &sheet.bars[bar];
    let (counts, unit) = about.metre;
    let length = Exact::new(1, i128::from(unit));
    let full = Exact::new(i128::from(counts), i128::from(unit));
    let skipped = match (about.number, about.short) {
        (0, Some(short)) => full - short,
        _ => Exact::new(0, 1),
    };
    let end = about.short.unwrap_or(full);
    // A bar of eighths is read as one: none of its beats has more steps than the others.
    let eighths = |event: &Event| ((event.at + skipped) / length * HALVES).is_integer();
    let halves = staves.iter().all(|staff| struck(staff, bar).all(eighths));
    let beat = |count: u32| {
        let at = Exact::new(i128::from(count), i128::from(unit)) - skipped;
        (at >= Exact::new(0, 1) && at < end).then(|| Beat {
            bar,
            at,
            length,
            count: count + 1,
            steps: match halves {
                true => HALVES,
                false => steps(staves, bar, (at, length)),
            },
        })
    };
    (0..counts).filter_map(beat).collect()
}

fn struck(staff: &Staff, bar: usize) -> impl Iterator<Item = &Event> {
    staff.measures[bar]
        .voices
        .iter()
        .flatten()
        .filter(|event| !event.notes.is_empty())
}

/// The fewest steps of a beat on which all that is struck in it lies; those on which most drums lie, where not all do.
fn steps(staves: &[&Staff], bar: usize, (at, length): (Exact, Exact)) -> i128 {
    let mut drums: BTreeMap<(usize, usize), Vec<Exact>> = BTreeMap::new();
    for (order, staff) in staves.iter().enumerate() {
        let inside = struck(staff, bar).filter(|event| event.at >= at && event.at < at + length);
        for event in inside {
            for note in &event.notes {
                if let WrittenPitch::Drum(drum) = note.pitch {
                    drums.entry((order, drum)).or_default().push((event.at - at) / length);
                }
            }
        }
    }
    let on = |places: &&Vec<Exact>, steps: i128| places.iter().all(|place| (*place * steps).is_integer());
    let fit = |steps: i128| drums.values().filter(|places| on(places, steps)).count();
    // Of as many the plainest.
    let most = STEPS.into_iter().rev().max_by_key(|steps| fit(*steps));
    let all = STEPS.into_iter().find(|steps| fit(*steps) == drums.len());
    all.or(most).unwrap_or(FINEST)
}

fn counted(beat: &Beat) -> String {
    let count = beat.count.to_string();
    // "1 e and a" [practice].
    let behind = match beat.steps {
        2 => "&",
        4 => "e&a",
        3 => "&a",
        6 => "·&·a·",
        8 => "·e·&·a·",
        _ => "",
    };
    let mut text = format!("{count}{behind}");
    while text.chars().count() < beat.steps as usize {
        text.push('·');
    }
    text
}

/// What one drum plays in a beat.
fn marks(staff: &Staff, beat: &Beat, drum: usize) -> String {
    let here = struck(staff, beat.bar).filter(|event| event.at >= beat.at && event.at < beat.at + beat.length);
    let hits = here.filter_map(|event| {
        let note = event.notes.iter().find(|note| note.pitch == WrittenPitch::Drum(drum))?;
        Some(((event.at - beat.at) / beat.length, mark(event, note.ghost, note.head)))
    });
    let hits: Vec<(Exact, char)> = hits.collect();
    let braced = [in_braces(&hits, beat.steps), even(&hits)].into_iter().flatten();
    stepped(&hits, beat.steps)
        .or_else(|| braced.min_by_key(String::len))
        .unwrap_or_else(|| {
            let rounded: Vec<_> = hits
                .iter()
                .map(|(at, mark)| ((at * FINEST).floor() / FINEST, *mark))
                .collect();
            stepped(&rounded, FINEST).expect("all lie on steps now")
        })
}

/// Marks on so many steps, of places from 0 to 1; none where some lie between steps.
fn stepped(hits: &[(Exact, char)], steps: i128) -> Option<String> {
    let mut marks = vec!['-'; steps as usize];
    for (at, mark) in hits {
        let step = at * steps;
        *marks.get_mut(usize::try_from(step.is_integer().then(|| step.to_integer())?).ok()?)? = *mark;
    }
    Some(marks.into_iter().collect())
}

/// Marks spread evenly over all the time there is.
fn even(hits: &[(Exact, char)]) -> Option<String> {
    let marks = (1..=MOST).find_map(|steps| stepped(hits, steps))?;
    Some(format!("{{{marks}}}"))
}

/// Marks on so many steps; what lies between two of them is in braces, and so is what it shares its step with.
fn in_braces(hits: &[(Exact, char)], steps: i128) -> Option<String> {
    let step = |step: i128| {
        let inside = hits.iter().filter(|(at, _)| (at * steps).to_integer() == step);
        let inside: Vec<(Exact, char)> = inside.map(|(at, mark)| (at * steps - step, *mark)).collect();
        stepped(&inside, 1).or_else(|| even(&inside))
    };
    (0..steps).map(step).collect()
}

/// How a hit is marked, as in a loop file.
fn mark(event: &Event, ghost: bool, head: Head) -> char {
    let has = |wanted: fn(&Sign) -> bool| event.signs.iter().any(wanted);
    match event.graces.len() {
        1 => return 'f',
        2.. => return 'd',
        0 => {}
    }
    match () {
        () if has(|sign| matches!(sign, Sign::Tremolo(_) | Sign::Buzz)) => 'r',
        () if has(|sign| *sign == Sign::Maybe) => '?',
        () if has(|sign| *sign == Sign::Accent) => 'X',
        () if ghost => 'g',
        () if head == Head::CircledCross => 'o',
        () => 'x',
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hits(places: &[(i128, i128)]) -> Vec<(Exact, char)> {
        places.iter().map(|(at, of)| (Exact::new(*at, *of), 'x')).collect()
    }

    #[test]
    fn what_lies_between_steps_is_in_braces() {
        // A triplet in the second of four steps; one that begins on none; five over the beat.
        assert_eq!(
            in_braces(&hits(&[(0, 1), (3, 12), (4, 12), (5, 12)]), 4).as_deref(),
            Some("x{xxx}--")
        );
        assert_eq!(in_braces(&hits(&[(1, 8), (1, 2)]), 4).as_deref(), Some("{-x}-x-"));
        assert_eq!(even(&hits(&[(0, 1), (1, 5), (3, 5)])).as_deref(), Some("{xx-x-}"));
        assert_eq!(stepped(&hits(&[(1, 5)]), 4), None);
        assert_eq!(even(&hits(&[(1, 17)])), None);
    }
}
