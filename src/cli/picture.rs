//! What a file plays, as it is shown: bars, chords and hits on a sheet.

use std::path::{Path, PathBuf};

use crate::export::picture::{Finish, Row, Sheet, Struck};
use crate::loopfile::{Ending, Loop};
use crate::project::{Plays, Project};
use crate::render::{Order, Rendered};
use crate::score::{Cycle, Hit};
use crate::text::{Problem, Problems};

/// A picture that was written, as SVG and as PNG.
pub(super) struct Pictures {
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
    pub(super) fn beside(mix: &Path) -> Result<Pictures, Problem> {
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
    pub(super) fn write(
        &self,
        project: &Project,
        mix: Option<&str>,
        order: &Order,
        finished: &Rendered,
    ) -> Result<(), Problems> {
        let picture = sheet(project, mix, order, finished)?.picture();
        picture.write_svg(&self.svg)?;
        picture.write_png(&self.png)
    }

    /// Both places.
    pub(super) fn paths(&self) -> [&Path; 2] {
        [&self.svg, &self.png]
    }
}

/// The sheet of a render.
///
/// # Errors
/// As writing its score.
fn sheet<'a>(
    project: &Project,
    mix: Option<&str>,
    order: &Order,
    finished: &'a Rendered,
) -> Result<Sheet<'a>, Problems> {
    let rate = f64::from(order.rate);
    let mut rows = Rows { rate, rows: Vec::new() };
    let mut chords = Vec::new();
    let of_loop = matches!(project.plays(), Plays::Loop(..));
    for passage in project.score(order)?.passages {
        let parts = passage.song.parts.iter().zip(&*passage.parts);
        // A form has no row for what none of its sections lets be heard.
        let shown = parts.filter(|(part, _)| of_loop || !part.silenced);
        shown.for_each(|(part, hits)| rows.add(&part.name, part.silenced, hits, passage.offset));
        changes(
            passage.song,
            &passage.cycle,
            (passage.begins, passage.ends),
            &mut chords,
        );
    }
    chords.iter_mut().for_each(|(at, _)| *at *= rate);
    Ok(Sheet {
        title: mix.map_or(project.title().to_string(), |mix| {
            format!("{} · {mix}", project.title())
        }),
        about: project.about(),
        audio: &finished.audio,
        bars: project.barlines(order),
        rows: rows.rows,
        chords,
        finish: match project.ending() {
            Ending::Repeat => Finish::Repeat,
            Ending::LetRing => Finish::Ring,
            Ending::Damp => Finish::Damp,
        },
    })
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
