//! Drums as tables: a line a drum, a column a beat.

use serde::Serialize;

use crate::loopfile::Exact;
use crate::notation::{Clef, Event, Head, Sheet, Sign, Staff, WrittenPitch};

/// The most bars of a table.
const BARS: usize = 4;
/// Steps of a beat that are tried, the plainest first: quarters of it, thirds, and finer ones.
const STEPS: [i128; 7] = [4, 3, 6, 8, 5, 7, 12];
/// Steps of a beat that none of these fits; what lies between two of them stands on the earlier one.
const FINEST: i128 = 24;

/// Some bars of the drums.
#[derive(Debug, Serialize)]
pub(super) struct Table {
    pub caption: String,
    /// Bars with their number and how many beats they have.
    pub bars: Vec<(String, usize)>,
    /// How each beat is counted.
    pub counts: Vec<Cell>,
    /// Each drum's name and beats.
    pub rows: Vec<(String, Vec<Cell>)>,
}

/// One beat.
#[derive(Debug, Serialize)]
pub(super) struct Cell {
    pub text: String,
    /// True for a bar's first beat.
    pub first: bool,
}

/// The tables of all staves of drums. A section begins a table.
pub(super) fn tables(sheet: &Sheet) -> Vec<Table> {
    let drums = |staff: &&Staff| staff.clef == Clef::Percussion;
    let staves: Vec<&Staff> = sheet.staves.iter().filter(drums).collect();
    if staves.is_empty() {
        return Vec::new();
    }
    let mut tables = Vec::new();
    let mut first = 0;
    while first < sheet.bars.len() {
        let mut end = first + 1;
        while end < sheet.bars.len() && end - first < BARS && sheet.bars[end].section.is_none() {
            end += 1;
        }
        tables.push(table(sheet, &staves, first..end));
        first = end;
    }
    tables
}

/// A beat: where it begins, its length, how it is counted, and its steps.
struct Beat {
    bar: usize,
    at: Exact,
    length: Exact,
    count: u32,
    steps: i128,
}

fn table(sheet: &Sheet, staves: &[&Staff], bars: std::ops::Range<usize>) -> Table {
    let mut beats = Vec::new();
    let mut heads = Vec::new();
    for bar in bars.clone() {
        let of_bar = bar_beats(sheet, staves, bar);
        let number = match (sheet.bars[bar].number, &sheet.bars[bar].section) {
            (0, _) => "pickup".to_string(),
            (number, Some(section)) => format!("{number} {section}"),
            (number, None) => number.to_string(),
        };
        heads.push((number, of_bar.len()));
        beats.extend(of_bar);
    }
    let cell = |beat: &Beat, text: String| Cell {
        text,
        first: beat.at == Exact::new(0, 1),
    };
    let rows = staves.iter().flat_map(|staff| {
        let drums = staff.drums.iter().enumerate();
        drums.map(|(drum, about)| {
            let cells = beats.iter().map(|beat| cell(beat, marks(staff, beat, drum)));
            (about.name.clone(), cells.collect())
        })
    });
    Table {
        caption: format!("Drums, {}", super::spoken::numbers(sheet, bars).to_lowercase()),
        bars: heads,
        counts: beats.iter().map(|beat| cell(beat, counted(beat))).collect(),
        rows: rows.collect(),
    }
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
    let beat = |count: u32| {
        let at = Exact::new(i128::from(count), i128::from(unit)) - skipped;
        (at >= Exact::new(0, 1) && at < end).then(|| Beat {
            bar,
            at,
            length,
            count: count + 1,
            steps: steps(staves, bar, at, length),
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

/// The fewest steps of a beat on which all that is struck in it lies.
fn steps(staves: &[&Staff], bar: usize, at: Exact, length: Exact) -> i128 {
    let inside: Vec<Exact> = staves
        .iter()
        .flat_map(|staff| struck(staff, bar))
        .filter(|event| event.at >= at && event.at < at + length)
        .map(|event| (event.at - at) / length)
        .collect();
    let fits = |steps: &i128| inside.iter().all(|place| (place * steps).is_integer());
    STEPS.into_iter().find(fits).unwrap_or(FINEST)
}

fn counted(beat: &Beat) -> String {
    let count = beat.count.to_string();
    // "1 e and a" [practice].
    let behind = match beat.steps {
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

fn marks(staff: &Staff, beat: &Beat, drum: usize) -> String {
    let mut marks = vec!['-'; beat.steps as usize];
    for event in struck(staff, beat.bar).filter(|event| event.at >= beat.at && event.at < beat.at + beat.length) {
        let step = ((event.at - beat.at) / beat.length * beat.steps).to_integer();
        let of_drum = |pitch: &WrittenPitch| *pitch == WrittenPitch::Drum(drum);
        if let Some(note) = event.notes.iter().find(|note| of_drum(&note.pitch)) {
            marks[step as usize] = mark(event, note.ghost, note.head);
        }
    }
    marks.into_iter().collect()
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
