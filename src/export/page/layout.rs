//! What the structure of a listening page is filled with.

use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use serde::Serialize;

use super::{BITS, Entry, MOST_ROUNDS, Page};
use crate::base::audio::{Audio, peak};
use crate::export::bars::Bars;
use crate::export::outline;

/// Columns of a waveform.
const COLUMNS: usize = 900;
/// Half the height of a waveform, in units of its drawing.
const HALF: f32 = 100.0;
/// The most bars whose numbers stand side by side.
const NUMBERS: usize = 32;
/// The centres of octaves as they are named (ISO 266), in Hz.
pub(crate) const OCTAVE_NAMES: [&str; 10] = ["31.5", "63", "125", "250", "500", "1k", "2k", "4k", "8k", "16k"];
/// The most bars whose counts do.
const COUNTED: usize = 8;

/// The page, as `structure.html` asks for it.
#[derive(Serialize)]
pub(super) struct Layout<'a> {
    title: &'a str,
    source: &'a str,
    about: &'a [String],
    bits: u32,
    rate: u32,
    program: String,
    matched: Option<String>,
    picture: Option<&'a str>,
    bars: Vec<BarLine>,
    columns: usize,
    height: f32,
    versions: Vec<Version<'a>>,
    figure_names: Vec<&'a str>,
    any_moved: bool,
    any_beside: bool,
    any_octaves: bool,
    octave_names: [&'a str; 10],
    repeats: bool,
    blind: bool,
    /// How many rounds a blind test has unless told otherwise: enough for every pair to come up ten times, where there are few.
    rounds: usize,
    most_rounds: usize,
    /// What the script is told, as JSON in base 64: no search in the page finds a name in it.
    script: String,
}

/// A bar on the ruler, in percent of the width.
#[derive(Serialize)]
struct BarLine {
    number: u32,
    left: String,
    width: String,
    named: bool,
    narrow: bool,
    section: Option<String>,
    counts: Vec<u32>,
}

#[derive(Serialize)]
struct Version<'a> {
    number: usize,
    name: &'a str,
    setting: Option<&'a str>,
    beside: bool,
    moved: Option<String>,
    figures: Vec<String>,
    octaves: Vec<String>,
    path: String,
    /// Where its bars begin, in columns.
    barlines: Vec<String>,
    /// What is to be said of a recording of another length.
    length: Option<String>,
}

/// What the script is told.
#[derive(Serialize)]
struct Script<'a> {
    title: &'a str,
    /// What files that it saves are called, but for their endings.
    file: String,
    /// The SHA-256 of the versions' names and sounds; none on a page that is served.
    identity: Option<&'a str>,
    rate: u32,
    repeats: bool,
    /// True where names are shown only once a blind test has ended.
    blind: bool,
    /// The loudest sample of all versions, to which waveforms are drawn.
    loudest: f32,
    bars: Vec<(u32, u32)>,
    versions: Vec<Grid<'a>>,
}

#[derive(Serialize)]
struct Grid<'a> {
    name: &'a str,
    setting: Option<&'a str>,
    frames: usize,
    starts: Vec<usize>,
    end: usize,
    #[serde(skip_serializing_if = "Option::is_none")]
    lufs: Option<f64>,
}

/// The frames that each entry takes on the page. Versions of one tempo get the longest one's length, the others their own.
pub(super) fn lengths(page: &Page) -> Vec<usize> {
    let of_page = |entry: &&Entry| entry.bars.is_none() && !entry.beside;
    let longest = |entries: &mut dyn Iterator<Item = &Entry>| entries.map(|entry| entry.audio.frames()).max();
    let common = longest(&mut page.entries.iter().filter(of_page))
        .or_else(|| longest(&mut page.entries.iter()))
        .unwrap_or(0);
    let length = |entry: &Entry| match &entry.bars {
        Some(_) => entry.audio.frames(),
        None => common,
    };
    page.entries.iter().map(length).collect()
}

/// Audio cut, or continued with silence, to a length.
pub(super) fn of_length(audio: &Audio, frames: usize) -> Audio {
    let mut audio = audio.clone();
    audio
        .channels
        .iter_mut()
        .for_each(|channel| channel.resize(frames, 0.0));
    audio
}

/// Lays a page out; `lengths` are the frames that its entries take, `identity` says which versions it holds.
pub(super) fn layout<'a>(page: &'a Page, lengths: &[usize], identity: Option<&'a str>) -> Layout<'a> {
    let rate = page.entries[0].audio.rate;
    let loudest = page.entries.iter().map(|entry| peak(&entry.audio.channels));
    let loudest = loudest.fold(0.0, f32::max);
    let figure_names = figure_names(page);
    let versions: Vec<Version> = page
        .entries
        .iter()
        .zip(lengths)
        .enumerate()
        .map(|(place, (entry, frames))| version(page, place, entry, *frames, loudest, &figure_names))
        .collect();
    Layout {
        title: &page.title,
        source: &page.source,
        about: &page.about,
        bits: BITS,
        rate,
        program: format!("pressroll {}", env!("CARGO_PKG_VERSION")),
        matched: page.matched_lufs.map(|lufs| minus(format!("{lufs:.1}"))),
        picture: page.picture.as_deref(),
        bars: ruler(&page.bars, lengths[0]),
        columns: COLUMNS,
        height: 2.0 * HALF,
        any_moved: versions.iter().any(|version| version.moved.is_some()),
        any_beside: page.entries.iter().any(|entry| entry.beside),
        versions,
        figure_names,
        any_octaves: page.entries.iter().any(|entry| !entry.octaves.is_empty()),
        octave_names: OCTAVE_NAMES,
        repeats: page.repeats,
        blind: blind(page),
        rounds: rounds(page.entries.len()),
        most_rounds: MOST_ROUNDS,
        script: script(page, lengths, (loudest, identity)),
    }
}

/// Whether a page begins blind; one version has nothing to be told from.
fn blind(page: &Page) -> bool {
    page.blind && page.entries.len() > 1
}

/// The names of all figures, in the order in which they first come up.
fn figure_names<'a>(page: &'a Page) -> Vec<&'a str> {
    let mut names: Vec<&str> = Vec::new();
    for (name, _) in page.entries.iter().flat_map(|entry| &entry.figures) {
        if !names.contains(&name.as_str()) {
            names.push(name);
        }
    }
    names
}

fn version<'a>(
    page: &Page,
    place: usize,
    entry: &'a Entry,
    frames: usize,
    loudest: f32,
    names: &[&str],
) -> Version<'a> {
    let value = |name: &&str| {
        let mut figures = entry.figures.iter();
        let found = figures.find(|(known, _)| known == name);
        found.map_or(String::new(), |(_, value)| printed(value))
    };
    let bars = entry.bars.as_ref().unwrap_or(&page.bars);
    let column = |frame: usize| format!("{:.2}", frame as f64 / frames as f64 * COLUMNS as f64);
    Version {
        number: place + 1,
        name: &entry.name,
        setting: entry.setting.as_deref(),
        beside: entry.beside,
        moved: entry.moved_db.map(|db| minus(format!("{db:+.1}"))),
        figures: names.iter().map(value).collect(),
        octaves: entry.octaves.iter().map(|octave| printed(octave)).collect(),
        path: outline::path(&outline::columns(entry.audio, frames, COLUMNS), loudest, HALF),
        barlines: bars
            .bars
            .iter()
            .map(|bar| bar.start)
            .chain([bars.end])
            .filter(|frame| *frame <= frames)
            .map(column)
            .collect(),
        length: other_length(entry, frames),
    }
}

/// What is to be said of a recording that is longer or shorter than the versions.
fn other_length(entry: &Entry, frames: usize) -> Option<String> {
    let own = entry.audio.frames();
    let seconds = |frames: usize| frames as f64 / f64::from(entry.audio.rate);
    let (has, heard) = (seconds(own), seconds(frames));
    match own {
        _ if !entry.beside || own == frames => None,
        _ if own > frames => Some(format!("{has:.1} s long; its first {heard:.1} s play")),
        _ => Some(format!("{has:.1} s long; silent from there to {heard:.1} s")),
    }
}

/// The bars as they stand above and below the waveforms.
fn ruler(bars: &Bars, frames: usize) -> Vec<BarLine> {
    let percent = |frames_in: usize| format!("{:.3}", frames_in as f64 / frames as f64 * 100.0);
    let count = bars.bars.len();
    // Numbers thin out by doubling, so that what stands begins phrases of 2, 4, 8 bars.
    let step = |most: usize| (0..).map(|power| 1 << power).find(|step| count.div_ceil(*step) <= most);
    let (every, every_narrow) = (step(NUMBERS).unwrap_or(1), step(COUNTED).unwrap_or(1));
    let ends = bars.bars.iter().skip(1).map(|bar| bar.start).chain([bars.end]);
    let lines = bars.bars.iter().zip(ends).enumerate();
    lines
        .map(|(place, (bar, end))| BarLine {
            number: bar.number,
            left: percent(bar.start),
            width: percent(end.saturating_sub(bar.start)),
            named: place % every == 0,
            narrow: place % every_narrow == 0,
            section: bar.section.clone(),
            counts: if count <= COUNTED {
                (1..=bar.counts).collect()
            } else {
                Vec::new()
            },
        })
        .collect()
}

/// Ten rounds for each pair of versions, up to sixty in all.
fn rounds(versions: usize) -> usize {
    let pairs = versions * versions.saturating_sub(1) / 2;
    (pairs * 10).clamp(10, 60)
}

fn script<'a>(page: &'a Page, lengths: &[usize], (loudest, identity): (f32, Option<&'a str>)) -> String {
    let grid = |(entry, frames): (&'a Entry, &usize)| {
        let bars = entry.bars.as_ref().unwrap_or(&page.bars);
        Grid {
            name: &entry.name,
            setting: entry.setting.as_deref(),
            frames: *frames,
            starts: bars.bars.iter().map(|bar| bar.start).collect(),
            end: bars.end.min(*frames),
            lufs: entry.lufs,
        }
    };
    let script = Script {
        title: &page.title,
        file: crate::export::name::safe(&page.title).replace(' ', "-"),
        identity,
        rate: page.entries[0].audio.rate,
        repeats: page.repeats,
        blind: blind(page),
        loudest,
        bars: page.bars.bars.iter().map(|bar| (bar.number, bar.counts)).collect(),
        versions: page.entries.iter().zip(lengths).map(grid).collect(),
    };
    BASE64_STANDARD.encode(serde_json::to_string(&script).expect("numbers and names are always JSON"))
}

/// A number with a printed minus for its hyphen, and no sign before zero.
fn minus(number: String) -> String {
    match number.as_str() {
        "-0.0" | "+0.0" => "0.0".into(),
        _ => printed(&number),
    }
}

/// A figure with a printed minus where it begins with a hyphen.
fn printed(figure: &str) -> String {
    match figure.strip_prefix('-') {
        Some(rest) if rest.starts_with(|letter: char| letter.is_ascii_digit()) => format!("\u{2212}{rest}"),
        _ => figure.to_string(),
    }
}
