//! What a file plays, as it is shown: bars, chords and hits on a sheet.

use std::path::{Path, PathBuf};

use super::session::Work;
use crate::export::bars::Bars;
use crate::export::picture::{Finish, Row, Sheet, Struck};
use crate::loopfile::{Ending, Loop};
use crate::render::{Order, Rendered};
use crate::score::{self, Cycle, Hit};
use crate::text::{Problem, Problems};

/// A picture that was written, as SVG and as PNG.
pub struct Pictures {
    /// Where the SVG is.
    pub svg: PathBuf,
    /// Where the PNG is.
    pub png: PathBuf,
}

impl Pictures {
    /// Where a version's pictures go: `NAME.svg` and `NAME.png` beside it.
    ///
    /// # Errors
    /// A mix of such a name.
    pub fn beside(mix: &Path) -> Result<Pictures, Problem> {
        let beside = |ending: &str| {
            let path = mix.with_extension(ending);
            if path == mix {
                let what = format!("{} would be both the mix and its picture", path.display());
                return Err(Problem::new(what).help("name the mix NAME.wav"));
            }
            Ok(path)
        };
        Ok(Pictures {
            svg: beside("svg")?,
            png: beside("png")?,
        })
    }

    /// Draws and writes both.
    ///
    /// # Errors
    /// Whatever keeps a file from being written.
    pub fn write(&self, work: &Work, mix: Option<&str>, order: &Order, finished: &Rendered) -> Result<(), Problems> {
        let picture = work.sheet(mix, order, finished)?.picture();
        picture.write_svg(&self.svg)?;
        picture.write_png(&self.png)
    }

    /// Both places.
    pub fn paths(&self) -> [&Path; 2] {
        [&self.svg, &self.png]
    }
}

impl Work {
    /// Where its bars lie in a render.
    pub fn barlines(&self, order: &Order) -> Bars {
        match self {
            Work::Loop(song, _) => Bars::of_loop(song, order.bars, order.rounds, order.rate),
            Work::Form(form, _) => Bars::of_form(form, order.bars, order.rounds, order.rate),
        }
    }

    /// What there is to say of it in a few words each: tempo, metre, key; of a form whose sections differ, all of them.
    pub fn about(&self) -> Vec<String> {
        let loops = self.loops();
        let songs = || loops.iter().map(|(song, _)| song);
        let tempos = songs().map(|song| format!("{} beats a minute", song.time.tempo));
        let metres = songs().map(|song| format!("{}/{}", song.time.counts, song.time.unit));
        let keys = songs().filter_map(|song| song.key.clone());
        let mut told: Vec<String> = Vec::new();
        for words in tempos.chain(metres).chain(keys) {
            if !told.contains(&words) {
                told.push(words);
            }
        }
        told
    }

    /// The sheet of a render.
    ///
    /// # Errors
    /// As writing its score.
    fn sheet<'a>(&self, mix: Option<&str>, order: &Order, finished: &'a Rendered) -> Result<Sheet<'a>, Problems> {
        let rate = f64::from(order.rate);
        let mut rows = Rows { rate, rows: Vec::new() };
        let mut chords = Vec::new();
        match self {
            Work::Loop(song, kit) => {
                let score = score::write(song, kit.index(), order.bars)?;
                for round in 0..order.rounds {
                    let begins = f64::from(round) * score.round;
                    let parts = song.parts.iter().zip(&score.parts);
                    parts.for_each(|(part, hits)| rows.add(&part.name, part.silenced, hits, begins));
                    let cycle = Cycle { begins, ..score.cycle };
                    changes(song, &cycle, (begins, begins + score.round), &mut chords);
                }
            }
            Work::Form(form, kits) => {
                let indices: Vec<_> = kits.iter().map(|kit| kit.index()).collect();
                let score = score::write_form(form, &indices, order.bars, order.rounds)?;
                for stretch in &score.stretches {
                    let song = &form.sections[stretch.section].plays;
                    let heard = song.parts.iter().zip(&stretch.parts).filter(|(part, _)| !part.silenced);
                    heard.for_each(|(part, hits)| rows.add(&part.name, false, hits, 0.0));
                    changes(song, &stretch.cycle, (stretch.begins, stretch.ends), &mut chords);
                }
            }
        }
        chords.iter_mut().for_each(|(at, _)| *at *= rate);
        Ok(Sheet {
            title: mix.map_or(self.title().to_string(), |mix| format!("{} · {mix}", self.title())),
            about: self.about(),
            audio: &finished.audio,
            bars: self.barlines(order),
            rows: rows.rows,
            chords,
            finish: match self.ending() {
                Ending::Repeat => Finish::Repeat,
                Ending::LetRing => Finish::Ring,
                Ending::Damp => Finish::Damp,
            },
        })
    }
}

/// Parts with their hits; those of one name are one row, whichever section they play in.
struct Rows {
    rate: f64,
    rows: Vec<Row>,
}

impl Rows {
    fn add(&mut self, name: &str, silenced: bool, hits: &[Hit], from: f64) {
        let place = self.rows.iter().position(|row| row.name == name);
        let place = place.unwrap_or_else(|| {
            self.rows.push(Row {
                name: name.to_string(),
                silenced,
                hits: Vec::new(),
            });
            self.rows.len() - 1
        });
        let struck = |hit: &Hit| Struck {
            frame: (hit.at + from) * self.rate,
            velocity: hit.velocity,
        };
        self.rows[place].hits.extend(hits.iter().map(struck));
    }
}

/// Where chords change in a stretch of time, in seconds, and to which symbol.
fn changes(song: &Loop, cycle: &Cycle, (from, to): (f64, f64), out: &mut Vec<(f64, String)>) {
    let bar = cycle.seconds / f64::from(cycle.bars);
    let window = (f64::from(cycle.first), f64::from(cycle.first + cycle.bars));
    let symbol = |place: usize| {
        let chord = song.chords[place].chord.as_ref();
        chord.map_or(String::new(), |chord| chord.symbol.clone())
    };
    let at = |place: usize| *song.chords[place].at.numer() as f64 / *song.chords[place].at.denom() as f64;
    for time in 0..cycle.times {
        let begins = cycle.begins + f64::from(time) * cycle.seconds;
        // The chord that is there already when the bars begin.
        let held = (0..song.chords.len()).rev().find(|place| at(*place) <= window.0);
        let later = (0..song.chords.len()).filter(|place| at(*place) > window.0 && at(*place) < window.1);
        for place in held.into_iter().chain(later) {
            let moment = begins + (at(place).max(window.0) - window.0) * bar;
            if moment >= from - 1e-9 && moment < to - 1e-9 {
                out.push((moment, symbol(place)));
            }
        }
    }
}
