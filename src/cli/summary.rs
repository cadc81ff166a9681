//! What a render tells of itself: a page for people, an object for programs.

use std::fmt::Write;
use std::path::Path;

use serde::Serialize;

use super::session::Work;
use crate::audio::db_of_gain;
use crate::loopfile::{Ending, Time};
use crate::render::Rendered;
use crate::text::Problem;

/// A finished render with what goes into its summary.
pub struct Told<'a> {
    /// What was rendered.
    pub work: &'a Work,
    /// What came of it.
    pub finished: &'a Rendered,
    /// The file that it was written to.
    pub path: &'a Path,
    /// Seconds that it took, reading and writing included.
    pub seconds: f64,
}

/// The fields of `--json`.
#[derive(Serialize)]
struct Summary<'a> {
    file: String,
    seconds: f64,
    frames: usize,
    rate: u32,
    lufs: Option<f64>,
    true_peak_db: Option<f64>,
    hits: usize,
    parts: Vec<PartLine<'a>>,
    buses: Vec<BusLine<'a>>,
    render_seconds: f64,
}

#[derive(Serialize)]
struct PartLine<'a> {
    name: &'a str,
    hits: usize,
    peak_db: Option<f64>,
}

#[derive(Serialize)]
struct BusLine<'a> {
    name: &'a str,
    gain_reduction_db: f64,
}

impl Told<'_> {
    /// The summary as one JSON object.
    pub fn json(&self) -> String {
        let Told { finished, path, .. } = self;
        let part = |part: &'_ crate::render::PartReport| (part.hits, peak_db(part.peak));
        let summary = Summary {
            file: path.display().to_string(),
            seconds: finished.audio.seconds(),
            frames: finished.audio.frames(),
            rate: finished.audio.rate,
            lufs: finished.lufs,
            true_peak_db: finished.true_peak_db,
            hits: finished.parts.iter().map(|part| part.hits).sum(),
            parts: finished
                .parts
                .iter()
                .map(|line| {
                    let (hits, peak_db) = part(line);
                    PartLine {
                        name: &line.name,
                        hits,
                        peak_db,
                    }
                })
                .collect(),
            buses: finished
                .buses
                .iter()
                .map(|(name, reduction)| BusLine {
                    name,
                    gain_reduction_db: *reduction,
                })
                .collect(),
            render_seconds: self.seconds,
        };
        serde_json::to_string(&summary).expect("a summary of numbers and names is always JSON")
    }

    /// The summary for people: what it is, a line a part, then the file and its figures.
    pub fn text(&self) -> String {
        let Told {
            work,
            finished,
            path,
            seconds,
        } = self;
        let mut page = String::new();
        let time = work.time();
        let _ = writeln!(page, "{}", work.title());
        let _ = writeln!(
            page,
            "{} · {} · {} · {}",
            bars(work.bars()),
            tempo(time),
            length(finished.audio.seconds()),
            ending(work.ending())
        );
        let _ = writeln!(page);
        let width = finished
            .parts
            .iter()
            .map(|part| part.name.chars().count())
            .max()
            .unwrap_or(0);
        for part in &finished.parts {
            let peak = match peak_db(part.peak) {
                Some(db) => format!("peak {db:6.1} dB"),
                None if part.silenced => "muted".to_string(),
                None => "silent".to_string(),
            };
            let _ = writeln!(page, "  {:width$}  {:>5}  {peak}", part.name, hits(part.hits));
        }
        for (name, reduction) in finished.buses.iter().filter(|(_, reduction)| *reduction > 0.05) {
            let _ = writeln!(page, "  {name:width$}  gain reduction up to {reduction:.1} dB");
        }
        let _ = writeln!(page);
        let loudness = finished
            .lufs
            .map_or("no loudness (too short or silent)".to_string(), |lufs| {
                format!("{lufs:.1} LUFS")
            });
        let peak = finished
            .true_peak_db
            .map_or("silent".to_string(), |db| format!("true peak {db:.1} dBTP"));
        let _ = writeln!(page, "{}", path.display());
        let times = finished.audio.seconds() / seconds;
        let _ = write!(page, "{loudness} · {peak} · {seconds:.2} s, {times:.0} times real time");
        page
    }

    /// What the person should know beside the figures.
    pub fn warnings(&self) -> Vec<Problem> {
        let mut warnings = self.finished.oddities.clone();
        if let Some((asked, reached)) = self.finished.master.short_of {
            let what = format!(
                "the loudness is {reached:.1} LUFS; {asked:.1} was asked for, but the ceiling does not allow it"
            );
            warnings.push(
                Problem::new(what)
                    .help("lower `master.loudness`, raise `master.ceiling`, or compress the buses that peak"),
            );
        }
        warnings
    }
}

fn peak_db(peak: f32) -> Option<f64> {
    (peak > 0.0).then(|| db_of_gain(peak.into()))
}

fn bars(count: u32) -> String {
    if count == 1 {
        "1 bar".to_string()
    } else {
        format!("{count} bars")
    }
}

fn hits(count: usize) -> String {
    if count == 1 {
        "1 hit ".to_string()
    } else {
        format!("{count} hits")
    }
}

fn tempo(time: &Time) -> String {
    let beat = match (*time.beat.numer(), *time.beat.denom()) {
        (3, below) if below > 1 => format!("1/{} dotted", below / 2),
        (above, below) => format!("{above}/{below}"),
    };
    format!(
        "{} beats a minute ({beat}) in {}/{}",
        time.tempo, time.counts, time.unit
    )
}

fn length(seconds: f64) -> String {
    if seconds < 60.0 {
        format!("{seconds:.1} s")
    } else {
        format!("{:.0} min {:04.1} s", (seconds / 60.0).floor(), seconds % 60.0)
    }
}

fn ending(ending: Ending) -> &'static str {
    match ending {
        Ending::Repeat => "repeats",
        Ending::LetRing => "rings out",
        Ending::Damp => "damped",
    }
}
