//! A loop or a form as sheets: waveform, chords, what each part plays, what is swept, and how it ends. Bars go in lines of eight
//! or four; lines that one sheet has no room for go on the next.

use super::Picture;
use super::drawing::Drawing;
use super::frame::{COUNTS, EDGE, HEADING, WIDTH, heading, ruler_height};
use super::lettering;
use super::line::{Drawn, Finish, Line, SYMBOL_LINE};
use super::rows::{BESIDE, Row, SweptRow};
use crate::base::audio::{Audio, peak};
use crate::export::bars::Bars;

/// The highest that a sheet of several is, if a line is no higher: as wide as it is, it prints whole on A4 (ISO 216) and on letter
/// (8.5 by 11 inches).
const HIGHEST: f32 = WIDTH * 11.0 / 8.5;
/// Bars of a line, if all chords have room side by side.
const MOST_BARS: usize = 8;
/// Bars of a line otherwise.
const FEWER_BARS: usize = 4;
/// Half a waveform's height where there is one line, and where there are several.
const HALF: [f32; 2] = [52.0, 24.0];
/// The space between two lines.
const BETWEEN: f32 = 30.0;
/// What begins so much of a bar before a line is played early, or is a grace note: it stands in that line.
const EARLY: f64 = 1.0 / 64.0;
/// The widest that names at the left may be.
const NAMES: f32 = 220.0;

/// What sheets show.
#[derive(Debug, Clone)]
pub(crate) struct Sheet {
    /// Its title.
    pub title: String,
    /// What there is to say of it in a few words each: tempo, metre, key.
    pub about: Vec<String>,
    /// Its bars.
    pub bars: Bars,
    /// The parts from the top down.
    pub rows: Vec<Row>,
    /// What is swept, below them.
    pub sweeps: Vec<SweptRow>,
    /// The frames at which chords change, and to which symbol; an empty one where there is none.
    pub chords: Vec<(f64, String)>,
    /// How it ends.
    pub finish: Finish,
}

impl Sheet {
    /// How many sheets it takes.
    pub(crate) fn count(&self) -> usize {
        self.paged(&self.lines(self.bars.end)).len()
    }

    /// Draws them, with the finished audio.
    pub(crate) fn pictures(&self, audio: &Audio) -> Vec<Picture> {
        let lines = self.lines(audio.frames());
        let loudest = peak(&audio.channels);
        let pages = self.paged(&lines);
        let of = |number: usize| match pages.len() {
            1 => self.title.clone(),
            count => format!("{}, page {} of {count}", self.title, number + 1),
        };
        let page = |(number, page): (usize, &Vec<Line>)| {
            let mut drawing = Drawing::new(WIDTH, self.tells(&of(number), page));
            drawing.describes(self.described(page));
            let mut y = heading(&mut drawing, &of(number), &self.about);
            for line in page {
                let drawn = Drawn {
                    rows: &self.rows,
                    sweeps: &self.sweeps,
                    chords: &self.chords,
                    finish: self.finish,
                    line,
                    audio,
                    loudest,
                    half: self.half(lines.len()),
                };
                y = drawn.draw(&mut drawing, y) + BETWEEN;
            }
            drawing.height = y - BETWEEN + EDGE;
            Picture(drawing)
        };
        pages.iter().enumerate().map(page).collect()
    }

    fn half(&self, lines: usize) -> f32 {
        HALF[usize::from(lines > 1)]
    }

    /// Where bars begin, behind the names.
    fn left(&self) -> f32 {
        let names = self.rows.iter().map(|row| row.name.as_str());
        let names = names.chain(self.sweeps.iter().map(|row| row.name.as_str()));
        let widest = names.map(|name| lettering::width(name, 13.0)).fold(60.0, f32::max);
        let beside = !self.sweeps.is_empty() || self.rows.iter().any(|row| row.range.is_some());
        EDGE + widest.min(NAMES) + 14.0 + if beside { BESIDE } else { 0.0 }
    }

    /// Its lines, for audio of so many frames.
    fn lines(&self, frames: usize) -> Vec<Line> {
        let many = self.lines_of(MOST_BARS, frames);
        let few = self.bars.bars.len() > FEWER_BARS && many.iter().any(|line| line.symbol_lines > 1);
        if few { self.lines_of(FEWER_BARS, frames) } else { many }
    }

    /// Its lines of so many bars at most. A section begins a line where the line before has no room for all of it.
    fn lines_of(&self, most: usize, frames: usize) -> Vec<Line> {
        let bars = &self.bars.bars;
        let mut begins: Vec<usize> = Vec::new();
        for (place, bar) in bars.iter().enumerate() {
            let taken = begins.last().map_or(most, |begun| place - begun);
            let section = bars[place + 1..].iter().take_while(|bar| bar.section.is_none());
            let length = section.count() + 1;
            if taken >= most || (bar.section.is_some() && taken + length > most) {
                begins.push(place);
            }
        }
        let start = |line: usize| match begins.get(line) {
            Some(0) => 0,
            Some(place) => bars[*place].start,
            None => self.bars.end,
        };
        let longest = (0..begins.len()).map(|line| start(line + 1) - start(line)).max();
        // A single line shows all that rings; of several, the last one what it has room for.
        let longest = longest.filter(|_| begins.len() > 1).unwrap_or(frames).max(1);
        let early = |line: usize| match begins.get(line) {
            None | Some(0) => 0.0,
            Some(place) => (bars[*place].start - bars[place - 1].start) as f64 * EARLY,
        };
        let left = self.left();
        let scale = (WIDTH - EDGE - left) / longest as f32;
        let line = |number: usize| {
            let last = number + 1 == begins.len();
            let (from, to) = (start(number), start(number + 1));
            let to = if last { frames.min(from + longest).max(to) } else { to };
            let place = begins[number]..begins.get(number + 1).copied().unwrap_or(bars.len());
            let begun = bars[..=place.start].iter().rev().find_map(|bar| bar.section.clone());
            let begun = begun.filter(|_| bars[place.start].section.is_none());
            let line = Line {
                bars: Bars {
                    bars: bars[place].to_vec(),
                    end: start(number + 1),
                },
                begun: begun.unwrap_or_default(),
                frames: (from, to),
                early: (early(number), early(number + 1)),
                left,
                width: (to - from) as f32 * scale,
                last,
                alone: begins.len() == 1,
                symbol_lines: 0,
            };
            let symbol_lines = line.symbols(&self.chords).iter().map(|symbol| symbol.line + 1).max();
            Line {
                symbol_lines: symbol_lines.unwrap_or(0),
                ..line
            }
        };
        (0..begins.len()).map(line).collect()
    }

    /// The lines of each sheet.
    fn paged(&self, lines: &[Line]) -> Vec<Vec<Line>> {
        let mut pages: Vec<Vec<Line>> = Vec::new();
        let mut y = f32::MAX;
        for line in lines {
            let height = self.height(line, self.half(lines.len()));
            if y + height + EDGE > HIGHEST && (y > HEADING) {
                pages.push(Vec::new());
                y = HEADING;
            }
            y += height + BETWEEN;
            pages.last_mut().into_iter().for_each(|page| page.push(line.clone()));
        }
        pages
    }

    fn height(&self, line: &Line, half: f32) -> f32 {
        let rows: f32 = self.rows.iter().filter(|row| line.shows(row)).map(Row::height).sum();
        let swept = self.sweeps.iter().filter(|row| line.sweeps(row));
        let swept: f32 = swept.map(|_| SweptRow::HEIGHT).sum();
        let symbols = line.symbol_lines as f32 * SYMBOL_LINE;
        ruler_height(&line.bars, &line.begun) + 2.0 * half + 12.0 + symbols + 6.0 + rows + swept + 6.0 + COUNTS
    }

    /// A sheet in a sentence.
    fn tells(&self, title: &str, lines: &[Line]) -> String {
        format!("{title}: waveform and parts over {}", bars_of(lines))
    }

    /// A sheet in words: sections, chords, parts and what is swept.
    fn described(&self, lines: &[Line]) -> String {
        let bars = || lines.iter().flat_map(|line| &line.bars.bars);
        let sections = bars().filter_map(|bar| Some(format!("{} from bar {}", bar.section.as_ref()?, bar.number)));
        let within = |at: f64| lines.iter().any(|line| line.begins(at));
        let bar_at = |at: f64| {
            bars()
                .take_while(|bar| bar.start as f64 <= at + 1.0)
                .last()
                .or(bars().next())
        };
        let chords = self
            .chords
            .iter()
            .filter(|(at, symbol)| within(*at) && !symbol.is_empty());
        let chords = chords.filter_map(|(at, symbol)| Some(format!("{symbol} in bar {}", bar_at(*at)?.number)));
        let parts = self.rows.iter().filter_map(|row| {
            let count = row.hits.iter().filter(|hit| within(hit.frame)).count();
            (count > 0).then(|| row.told(count))
        });
        let swept = self
            .sweeps
            .iter()
            .filter(|row| lines.iter().any(|line| line.sweeps(row)));
        let lists = [
            ("Sections", sections.collect::<Vec<_>>()),
            ("Chords", chords.collect()),
            ("Parts", parts.collect()),
            ("Sweeps", swept.map(SweptRow::told).collect()),
        ];
        let told = lists.iter().filter(|(_, list)| !list.is_empty());
        let told = told.map(|(what, list)| format!("{what}: {}.", list.join(", ")));
        told.collect::<Vec<_>>().join(" ")
    }
}

fn bars_of(lines: &[Line]) -> String {
    let mut numbers = lines.iter().flat_map(|line| &line.bars.bars).map(|bar| bar.number);
    match (numbers.next(), numbers.next_back()) {
        (Some(first), Some(last)) => format!("bars {first} to {last}"),
        (Some(one), None) => format!("bar {one}"),
        _ => "no bars".into(),
    }
}
