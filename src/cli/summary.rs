//! What a render tells of itself: a page for people, an object for programs.

use std::fmt::Write;
use std::path::{Path, PathBuf};

use serde::Serialize;

use super::buses::{BusLine, bus_table, bus_words};
use super::messages::{self, Listened};
use super::picture::Pictures;
use super::report::peak_db;
use super::verify::Verified;
use super::waveform;
use crate::export::bars::Bars;
use crate::export::midi::FreeKey;
use crate::loopfile::{Ending, Time};
use crate::project::Project;
use crate::render::Rendered;
use crate::score;
use crate::text::table::Table;
use crate::text::{Problem, count_of, in_turn, one_line, shown_json, shown_path};

/// A finished render with what goes into its summary.
pub(super) struct RenderReport<'a> {
    /// What was rendered.
    pub project: &'a Project,
    /// The first and the last bar, where not all were rendered.
    pub cut: Option<(u32, u32)>,
    /// The mix of the file that it is; none for the loop as it is written.
    pub mix: Option<&'a str>,
    /// What came of it.
    pub finished: Rendered,
    /// The file that it was written to.
    pub path: &'a Path,
    /// The MIDI file beside it, where one was asked for.
    pub midi: Option<Midi>,
    /// The MusicXML beside it, where it was asked for.
    pub musicxml: Option<PathBuf>,
    /// The pictures beside it, where they were asked for.
    pub pictures: Option<Pictures>,
    /// Where its bars lie.
    pub bars: Bars,
    /// The credits beside it, where they were asked for.
    pub credits: Option<PathBuf>,
    /// What a second render had in common with it, where one was asked for.
    pub verified: Option<Verified>,
    /// True where the figures of buses are asked for.
    pub figures: bool,
    /// Seconds that it took, reading and writing included.
    pub seconds: f64,
    /// The recordings that were listened to in that time, to tell what they are, and how long it took.
    pub listened: Listened,
}

/// A MIDI file that was written.
pub(super) struct Midi {
    /// Where it is.
    pub path: PathBuf,
    /// The pieces that took a free key.
    pub free: Vec<FreeKey>,
    /// How many notes whose pitch moves found no channel of their own.
    pub unbent: usize,
}

/// The fields of `--json`.
#[derive(Serialize)]
struct Summary<'a> {
    #[serde(skip_serializing_if = "Option::is_none")]
    mix: Option<&'a str>,
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
    /// The recordings that were listened to, to tell what they are, and for how long of it: where there were any, in the first version
    /// alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    listened: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    listening_seconds: Option<f64>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    lent: Vec<LentLine<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    midi: Option<MidiLine<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    musicxml: Option<String>,
    /// Pictures of it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pictures: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    credits: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    verified: Option<&'a Verified>,
    /// The other versions that were rendered with it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    mixes: Vec<Summary<'a>>,
}

#[derive(Serialize)]
struct MidiLine<'a> {
    file: String,
    free_keys: Vec<FreeKeyLine<'a>>,
    unbent_notes: usize,
}

#[derive(Serialize)]
struct FreeKeyLine<'a> {
    piece: &'a str,
    key: u8,
}

#[derive(Serialize)]
struct PartLine<'a> {
    name: &'a str,
    hits: usize,
    peak_db: Option<f64>,
}

/// A piece that the kit lacks, and the one that played for it.
#[derive(Serialize)]
struct LentLine<'a> {
    piece: &'a str,
    by: &'a str,
}

/// Summaries as one JSON object: the first with the others in it.
pub(super) fn json(told: &[RenderReport]) -> String {
    let mut summaries = told.iter().map(RenderReport::summary);
    let whole = summaries.next().map(|first| Summary {
        mixes: summaries.collect(),
        ..first
    });
    shown_json(serde_json::to_string(&whole).expect("a summary of numbers and names is always JSON"))
}

impl RenderReport<'_> {
    fn summary(&self) -> Summary<'_> {
        let RenderReport { finished, path, .. } = self;
        let part = |part: &'_ crate::render::PartReport| (part.hits, peak_db(part.peak));
        Summary {
            mix: self.mix,
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
            buses: finished.buses.iter().map(BusLine::of).collect(),
            render_seconds: self.seconds,
            listened: (self.listened.0 > 0).then_some(self.listened.0),
            listening_seconds: (self.listened.0 > 0).then_some(self.listened.1.as_secs_f64()),
            lent: self
                .project
                .lent()
                .into_iter()
                .map(|(piece, by)| LentLine { piece, by })
                .collect(),
            midi: self.midi.as_ref().map(|midi| MidiLine {
                file: midi.path.display().to_string(),
                free_keys: midi
                    .free
                    .iter()
                    .map(|FreeKey { piece, key }| FreeKeyLine { piece, key: *key })
                    .collect(),
                unbent_notes: midi.unbent,
            }),
            musicxml: self.musicxml.as_ref().map(|path| path.display().to_string()),
            pictures: self.pictures.iter().flat_map(Pictures::paths).map(shown).collect(),
            credits: self.credits.as_ref().map(|path| path.display().to_string()),
            verified: self.verified.as_ref(),
            mixes: Vec::new(),
        }
    }

    /// The summary for people: what it is, a line a part, then the file and its figures.
    pub(super) fn text(&self) -> String {
        let RenderReport {
            project,
            finished,
            path,
            seconds,
            midi,
            musicxml,
            credits,
            mix,
            cut,
            pictures,
            bars: barlines,
            verified,
            listened,
            figures: _,
        } = self;
        let mut page = String::new();
        let _ = match mix {
            Some(mix) => writeln!(page, "{} · {}", project.title(), one_line(mix)),
            None => writeln!(page, "{}", project.title()),
        };
        let _ = writeln!(
            page,
            "{} · {} · {} · {}",
            bars(*cut, project.bars()),
            in_turn(project.played(*cut).into_iter().map(|song| tempo(&song.time))),
            length(finished.audio.seconds()),
            ending(project.ending())
        );
        let _ = writeln!(page);
        let mut table = Table::with_words();
        for part in &finished.parts {
            let peak = match peak_db(part.peak) {
                Some(db) => format!("peak {db:6.1} dB"),
                None if part.silenced => "muted".to_string(),
                None => "silent".to_string(),
            };
            let what = match (part.pitched, part.hits) {
                (true, 1) => "note ",
                (true, _) => "notes",
                (false, 1) => "hit  ",
                (false, _) => "hits ",
            };
            table.row(format!("  {}", part.name), [format!("{} {what}", part.hits), peak]);
        }
        for bus in finished.buses.iter().filter(|_| !self.figures) {
            table.row(format!("  {}", bus.name), ["bus  ".to_string(), bus_words(bus)]);
        }
        page.push_str(&table.text(80));
        if self.figures && !finished.buses.is_empty() {
            let _ = write!(page, "\n{}", bus_table(&finished.buses).text(80));
        }
        for (piece, substitute) in project.lent() {
            let _ = writeln!(page, "  the kit has no {piece}: {substitute} is its substitute");
        }
        let _ = writeln!(page);
        if let Some(strip) = waveform::at_terminal(&finished.audio, barlines) {
            let _ = writeln!(page, "{strip}\n");
        }
        let loudness = finished
            .lufs
            .map_or("no loudness (too short or silent)".to_string(), |lufs| {
                format!("{lufs:.1} LUFS")
            });
        let peak = finished
            .true_peak_db
            .map_or("silent".to_string(), |db| format!("true peak {db:.1} dBTP"));
        if let Some(midi) = midi {
            let _ = writeln!(page, "{}", shown_path(&midi.path));
            for FreeKey { piece, key } in &midi.free {
                let _ = writeln!(page, "  {piece} is on key {key}: General MIDI has none for it");
            }
            if midi.unbent > 0 {
                let notes = count_of(midi.unbent, "note");
                let _ = writeln!(page, "  no channel was left to bend {notes}: written without the bend");
            }
        }
        if let Some(musicxml) = musicxml {
            let _ = writeln!(page, "{}", shown_path(musicxml));
        }
        for picture in pictures.iter().flat_map(Pictures::paths) {
            let _ = writeln!(page, "{}", shown_path(picture));
        }
        if let Some(credits) = credits {
            let _ = writeln!(page, "{}", shown_path(credits));
        }
        let _ = writeln!(page, "{}", shown_path(path));
        if let Some(Verified { score, audio }) = verified {
            let _ = writeln!(
                page,
                "rendered twice, the same to the bit (SHA-256)\n  score {score}\n  audio {audio}"
            );
        }
        let times = finished.audio.seconds() / seconds;
        let _ = write!(page, "{loudness} · {peak} · {seconds:.2} s, {times:.0} times real time");
        if let Some(line) = messages::listening(*listened) {
            let _ = write!(page, "\n{line}");
        }
        page
    }

    /// What the person should know beside the figures.
    pub(super) fn warnings(&self) -> Vec<Problem> {
        let mut warnings = self.project.notices();
        warnings.extend(self.finished.oddities.clone());
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

fn shown(path: &Path) -> String {
    path.display().to_string()
}

fn bars(some: Option<(u32, u32)>, all: u32) -> String {
    match some {
        Some((first, last)) => format!("{} of {all}", score::spelled(&(first..=last).collect::<Vec<_>>())),
        None if all == 1 => "1 bar".to_string(),
        None => format!("{all} bars"),
    }
}

fn tempo(time: &Time) -> String {
    let beat = match (*time.beat.numer(), *time.beat.denom()) {
        (3, below) if below > 1 => format!("1/{} dotted", below / 2),
        (above, below) => format!("{above}/{below}"),
    };
    format!("{} BPM ({beat}) in {}/{}", time.tempo, time.counts, time.unit)
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
