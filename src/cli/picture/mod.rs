//! What a file plays, as it is shown: bars, chords, hits, notes and sweeps on sheets.

mod swept;

use std::path::{Path, PathBuf};

use crate::export::mark::{self, Whose};
use crate::export::picture::{Finish, Row, Sheet, Struck};
use crate::harmony::{Key, spell};
use crate::loopfile::{Ending, Loop};
use crate::project::{Plays, Project};
use crate::render::{Order, Rendered};
use crate::score::{Cycle, Hit};
use crate::text::{Problem, Problems};

/// The pictures of a render: each sheet as SVG and as PNG.
pub(super) struct Pictures {
    sheet: Sheet,
    mix: PathBuf,
    places: Vec<[PathBuf; 2]>,
}

impl Pictures {
    /// What is to be drawn of a version, and where it goes beside it: to `NAME.svg` and `NAME.png`, or to `NAME-1.svg` and so on where
    /// it takes several sheets.
    ///
    /// # Errors
    /// A mix of such a name; as writing its score.
    pub(super) fn beside(
        mix: &Path,
        project: &Project,
        version: Option<&str>,
        order: &Order,
    ) -> Result<Pictures, Problems> {
        let sheet = sheet(project, version, order)?;
        let count = sheet.count();
        let place = |number: usize, ending: &str| {
            let path = page(mix, (count > 1).then_some(number), ending);
            if path == mix {
                let what = format!("{} would be both the mix and its picture", path.display());
                return Err(Problem::new(what).help("name the mix NAME.wav"));
            }
            Ok(path)
        };
        let places = (1..=count).map(|number| Ok([place(number, "svg")?, place(number, "png")?]));
        Ok(Pictures {
            places: places.collect::<Result<_, Problem>>()?,
            mix: mix.to_path_buf(),
            sheet,
        })
    }

    /// Draws and writes all of them.
    ///
    /// # Errors
    /// Whatever keeps a file from being written.
    pub(super) fn write(&self, finished: &Rendered) -> Result<(), Problems> {
        let pictures = self.sheet.pictures(&finished.audio);
        for ([svg, png], picture) in self.places.iter().zip(pictures) {
            picture.write_svg(svg)?;
            picture.write_png(png)?;
        }
        Ok(())
    }

    /// A hint at a picture of an earlier render of this name, which had more pages or fewer: it is not taken away.
    pub(super) fn left_over(&self) -> Option<Problem> {
        let next = match self.places.len() {
            1 => page(&self.mix, Some(1), "svg"),
            count => page(&self.mix, Some(count + 1), "svg"),
        };
        let alone = page(&self.mix, None, "svg");
        let old = [next, alone].into_iter().find(|path| {
            !self.paths().any(|written| written == path) && mark::whose(path).is_ok_and(|whose| whose == Whose::Ours)
        })?;
        let what = format!(
            "{} is a picture of an earlier render, which had other pages",
            old.display()
        );
        Some(Problem::new(what).help("take it out, and those that go with it"))
    }

    /// All places.
    pub(super) fn paths(&self) -> impl Iterator<Item = &Path> {
        self.places.iter().flatten().map(PathBuf::as_path)
    }
}

/// Where a page of a picture goes beside a mix.
fn page(mix: &Path, number: Option<usize>, ending: &str) -> PathBuf {
    let mut name = mix.file_stem().unwrap_or_default().to_os_string();
    name.push(number.map_or(String::new(), |number| format!("-{number}")));
    name.push(format!(".{ending}"));
    mix.with_file_name(name)
}

/// The sheets of a render.
///
/// # Errors
/// As writing its score.
fn sheet(project: &Project, mix: Option<&str>, order: &Order) -> Result<Sheet, Problems> {
    let rate = f64::from(order.rate);
    let score = project.score(order)?;
    let bars = project.barlines(order);
    let mut rows = Rows { rate, rows: Vec::new() };
    let mut chords = Vec::new();
    let of_loop = matches!(project.plays(), Plays::Loop(..));
    for passage in &score.passages {
        let key = passage.song.tonality();
        let parts = passage.song.parts.iter().zip(&*passage.parts);
        // A form has no row for what none of its sections lets be heard.
        let shown = parts.filter(|(part, _)| of_loop || !part.silenced);
        shown.for_each(|(part, hits)| rows.add(&part.name, part.silenced, hits, passage.offset, key.as_ref()));
        // What sounds before a passage is no chord of it, where it has none.
        chords.push((passage.begins, String::new()));
        changes(
            passage.song,
            &passage.cycle,
            (passage.begins, passage.ends),
            &mut chords,
        );
    }
    chords.iter_mut().for_each(|(at, _)| *at *= rate);
    let mut swept = swept::Swept::new(rate);
    score.passages.iter().for_each(|passage| swept.add(passage));
    if let Plays::Form(form, _) = project.plays() {
        swept.add_form(form, &bars);
    }
    Ok(Sheet {
        title: mix.map_or(project.title().to_string(), |mix| {
            format!("{} · {mix}", project.title())
        }),
        about: project.about(),
        bars,
        rows: rows.rows,
        sweeps: swept.rows(),
        chords,
        finish: match project.ending() {
            Ending::Repeat => Finish::Repeat,
            Ending::LetRing => Finish::Ring,
            Ending::Damp => Finish::Damp,
        },
    })
}

/// Seconds between two points of a note's moving pitch.
const STEP: f64 = 0.02;

/// Parts with their hits; those of one name are one row, whichever section they play in.
struct Rows {
    rate: f64,
    rows: Vec<Row>,
}

impl Rows {
    fn add(&mut self, name: &str, silenced: bool, hits: &[Hit], from: f64, key: Option<&Key>) {
        let place = self.rows.iter().position(|row| row.name == name);
        let place = place.unwrap_or_else(|| {
            self.rows.push(Row {
                name: name.to_string(),
                silenced,
                hits: Vec::new(),
                range: None,
            });
            self.rows.len() - 1
        });
        let struck = |hit: &Hit| Struck {
            frame: (hit.at + from) * self.rate,
            velocity: hit.velocity,
            pitch: hit.pitch,
            length: hit.length.map(|length| length * self.rate),
            moves: moves(hit, self.rate),
        };
        let row = &mut self.rows[place];
        row.hits.extend(hits.iter().map(struck));
        for pitch in hits.iter().filter_map(|hit| hit.pitch) {
            let named = || (pitch, spell(pitch, None, key).to_string());
            let [lowest, highest] = row.range.get_or_insert_with(|| [named(), named()]);
            if pitch < lowest.0 {
                *lowest = named();
            }
            if pitch > highest.0 {
                *highest = named();
            }
        }
    }
}

/// How a note's pitch moves: frames behind its onset and semitones against its own pitch; nothing where it stands still.
fn moves(hit: &Hit, rate: f64) -> Vec<(f64, f64)> {
    let (Some(curve), Some(length)) = (&hit.curve, hit.length) else {
        return Vec::new();
    };
    // What falls goes on falling while it is released.
    let ends = curve.points.last().map_or(length, |(at, _)| at.max(length));
    let count = (ends / STEP).ceil().max(1.0);
    let at = |step: f64| ends * step / count;
    let times = (0..=count as u32).map(|step| at(step.into()));
    let points: Vec<(f64, f64)> = times
        .map(|seconds| (seconds * rate, curve.cents(seconds) / 100.0))
        .collect();
    // Where it stands still for a while, the ends of that while say all.
    let moved = |place: &usize| match (
        place.checked_sub(1).map(|before| points[before].1),
        points.get(place + 1),
    ) {
        (Some(before), Some((_, next))) => points[*place].1 != before || points[*place].1 != *next,
        _ => true,
    };
    (0..points.len()).filter(moved).map(|place| points[place]).collect()
}

/// Where chords change in a stretch of time, in seconds, and to which symbol.
fn changes(song: &Loop, cycle: &Cycle, (from, to): (f64, f64), out: &mut Vec<(f64, String)>) {
    let bar = cycle.seconds / f64::from(cycle.bars);
    let window = (f64::from(cycle.first), f64::from(cycle.first + cycle.bars));
    let symbol = |place: usize| {
        let change = &song.chords[place];
        match &change.chord {
            Some(chord) => chord.symbol.clone(),
            None if change.silence => "N.C.".to_string(),
            None => String::new(),
        }
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
