//! What a tryout tells of itself: a table for people, an object for programs.

use std::cmp::Ordering;
use std::fmt::Write;
use std::path::{Path, PathBuf};

use clap::ValueEnum;
use serde::Serialize;

use super::shots::Picked;
use crate::cli::report::{ending, number_of};
use crate::export::page::MOST;
use crate::export::spill::Spill;
use crate::kit;
use crate::project::Project;
use crate::text::table::Table;
use crate::text::{Problem, Problems, shown_json, shown_path, thousands};
use crate::wav::Tags;

/// Columns of the page.
const PAGE: usize = 80;

/// The order of what was tried.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum, Serialize)]
#[serde(rename_all = "lowercase")]
pub(crate) enum By {
    /// From dark to bright: the spectral centroid of the one-shot
    Brightness,
    /// From short to long: until it has fallen 60 dB
    Length,
    /// From loud to quiet: the peak of what plays it against the mix's
    Level,
    /// By path
    Path,
}

impl By {
    /// Which of two comes first: the reference before all; what has no figure comes last.
    pub(crate) fn order(self, a: &Tried, b: &Tried) -> Ordering {
        let by = |figure: fn(&Tried) -> Option<f64>, up: bool| match (figure(a), figure(b)) {
            (Some(a), Some(b)) if up => a.total_cmp(&b),
            (Some(a), Some(b)) => b.total_cmp(&a),
            (a, b) => b.is_some().cmp(&a.is_some()),
        };
        let figure = match self {
            By::Brightness => by(|one| one.brightness_hz, true),
            By::Length => by(|one| one.length_ms, true),
            By::Level => by(|one| one.level_db, false),
            By::Path => Ordering::Equal,
        };
        b.reference.cmp(&a.reference).then(figure)
    }

    fn words(self) -> &'static str {
        match self {
            By::Brightness => "from dark to bright",
            By::Length => "from short to long",
            By::Level => "from loud to quiet",
            By::Path => "in the order of paths",
        }
    }
}

/// A one-shot that was tried, with its render.
pub(crate) struct Tried {
    /// What it is called.
    pub name: String,
    /// Its own file.
    pub shot: PathBuf,
    /// True for the kit's own sound, which the others are compared with.
    pub reference: bool,
    /// The WAV of the loop with it.
    pub file: PathBuf,
    /// Its spectral centroid.
    pub brightness_hz: Option<f64>,
    /// How long it is heard.
    pub length_ms: Option<f64>,
    /// The peak of what plays it against the mix's.
    pub level_db: Option<f64>,
    /// The render's loudness before it was matched.
    pub lufs: Option<f64>,
    /// Its true peak before it was matched.
    pub true_peak_db: Option<f64>,
    /// What matches it to the others.
    pub gain_db: f64,
    /// What its WAV says of itself.
    pub tags: Tags,
    /// True where it repeats without a seam.
    pub repeats: bool,
    /// What is odd about recordings that were played.
    pub oddities: Vec<Problem>,
    /// The render; matched, once it is.
    pub audio: Spill,
}

/// A one-shot that could not be tried.
pub(crate) struct PassedOver {
    /// Its file.
    pub shot: PathBuf,
    /// Why.
    pub problems: Problems,
}

impl PassedOver {
    /// The same as a hint.
    pub(crate) fn hint(&self) -> Problem {
        let first = self.problems.0.first();
        let why = first.map_or("it can't be played", |problem| problem.what.as_str());
        let file = format!("`{}`: ", self.shot.display());
        let why = why.strip_prefix(file.as_str()).unwrap_or(why);
        Problem::new(format!("{} is skipped: {why}", self.shot.display()))
    }
}

/// A tryout with what goes into its summary.
pub(crate) struct TryoutReport<'a> {
    /// The loop as it is without.
    pub project: &'a Project,
    /// The piece in whose place they were played.
    pub piece: &'a str,
    /// Out of how many they were picked, where they were.
    pub picked: Option<Picked>,
    /// The order.
    pub by: By,
    /// The folder that was written to.
    pub place: &'a Path,
    /// The WAV with all of them.
    pub in_turn: PathBuf,
    /// The listening page; none where there is more than one takes, or none was wanted.
    pub page: Option<PathBuf>,
    /// True where there is none for that reason.
    pub too_much: bool,
    /// What was tried, in order.
    pub tried: &'a [Tried],
    /// What could not be.
    pub passed_over: &'a [PassedOver],
    /// The loudness that all were brought to, in LUFS; none where levels were left alone.
    pub matched: Option<f64>,
    /// Seconds that it took, but for the page.
    pub seconds: f64,
    /// Seconds that the page took, its sound above all.
    pub page_seconds: f64,
}

/// The fields of `--json`.
#[derive(Serialize)]
struct Summary<'a> {
    piece: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    picked_of: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    fitting: Option<usize>,
    by: By,
    folder: String,
    in_turn: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    page: Option<String>,
    matched_lufs: Option<f64>,
    reference: Option<OneShotFields<'a>>,
    tried: Vec<OneShotFields<'a>>,
    passed_over: Vec<SkippedFields>,
    render_seconds: f64,
    listened: usize,
    listening_seconds: f64,
    page_seconds: f64,
}

#[derive(Serialize)]
struct OneShotFields<'a> {
    /// Its place in the order; the reference has none.
    #[serde(skip_serializing_if = "Option::is_none")]
    rank: Option<usize>,
    name: &'a str,
    one_shot: String,
    file: String,
    brightness_hz: Option<f64>,
    length_ms: Option<f64>,
    level_db: Option<f64>,
    gain_db: f64,
    lufs: Option<f64>,
    true_peak_db: Option<f64>,
    begins: f64,
}

#[derive(Serialize)]
struct SkippedFields {
    one_shot: String,
    why: String,
}

impl TryoutReport<'_> {
    /// Seconds at which each begins in the WAV with all of them.
    fn begins(&self) -> Vec<f64> {
        let mut frames = 0;
        let begin = |one: &Tried| {
            let begins = frames as f64 / f64::from(one.audio.rate());
            frames += one.audio.frames();
            begins
        };
        self.tried.iter().map(begin).collect()
    }

    /// One JSON object.
    pub(crate) fn json(&self) -> String {
        let begins = self.begins();
        let (reference, tried): (Vec<_>, Vec<_>) = self.tried.iter().zip(&begins).partition(|(one, _)| one.reference);
        let ranked = tried.into_iter().zip(1..);
        let summary = Summary {
            piece: self.piece,
            picked_of: self.picked.map(|picked| picked.of),
            fitting: self.picked.map(|picked| picked.fitting),
            by: self.by,
            folder: self.place.display().to_string(),
            in_turn: self.in_turn.display().to_string(),
            page: self.page.as_ref().map(|page| page.display().to_string()),
            matched_lufs: self.matched,
            reference: reference.first().map(|(one, begins)| fields(one, **begins, None)),
            tried: ranked
                .map(|((one, begins), rank)| fields(one, *begins, Some(rank)))
                .collect(),
            passed_over: self
                .passed_over
                .iter()
                .map(|one| SkippedFields {
                    one_shot: one.shot.display().to_string(),
                    why: one
                        .problems
                        .0
                        .first()
                        .map_or(String::new(), |problem| problem.what.clone()),
                })
                .collect(),
            render_seconds: self.seconds,
            listened: kit::listened().0,
            listening_seconds: kit::listened().1.as_secs_f64(),
            page_seconds: self.page_seconds,
        };
        shown_json(serde_json::to_string(&summary).expect("a summary of numbers and names is always JSON"))
    }

    /// The table for people.
    pub(crate) fn text(&self) -> String {
        let mut page = String::new();
        let count = match self.tried.iter().filter(|one| !one.reference).count() {
            1 => "1 one-shot".to_string(),
            count => format!("{count} one-shots"),
        };
        let _ = writeln!(page, "{}", self.project.title());
        let _ = writeln!(page, "{} in the place of {}, {}", count, self.piece, self.by.words());
        if let Some(Picked { of, fitting }) = self.picked {
            let (of, fitting) = (thousands(of), thousands(fitting));
            let _ = writeln!(
                page,
                "those that differ most of {fitting} that could be a {}, out of {of}",
                self.piece
            );
        }
        page.push('\n');
        let mut table = Table::new();
        table.row("", ["bright", "length", "level", "gain", "at"]);
        table.row("", ["Hz", "ms", "dB", "dB", "min:s"]);
        for ((number, one), begins) in (1..).zip(self.tried).zip(self.begins()) {
            let whole = |figure: Option<f64>| figure.map_or("-".to_string(), |figure| format!("{figure:.0}"));
            let cells = [
                whole(one.brightness_hz),
                whole(one.length_ms),
                number_of(one.level_db),
                number_of(Some(one.gain_db)),
                format!("{}:{:04.1}", (begins / 60.0).floor(), begins % 60.0),
            ];
            table.row(format!("{number:>3} {}", one.name), cells);
        }
        page.push_str(&table.text(PAGE));
        let _ = writeln!(
            page,
            "\nlevel: the peak of what plays it against the mix's; at: its cue in the long WAV"
        );
        if self.tried.iter().any(|one| one.reference) {
            let _ = writeln!(page, "reference: the loop with the kit's own {}", self.piece);
        }
        match self.matched {
            Some(lufs) => {
                let _ = writeln!(page, "all are matched to {lufs:.1} LUFS, the loudness of the quietest");
            }
            None => page.push_str("levels are as they were rendered\n"),
        }
        let _ = writeln!(page, "{}", shown_path(&self.in_turn));
        let without_page = match self.too_much {
            true => format!("no listening page: it takes {MOST} versions, and half an hour of them\n"),
            false => String::new(),
        };
        page.push_str(&ending(
            (self.page.as_deref(), self.page_seconds),
            &without_page,
            (self.place, self.seconds),
        ));
        page
    }
}

/// A try for programs; `begins` in seconds.
fn fields(one: &Tried, begins: f64, rank: Option<usize>) -> OneShotFields<'_> {
    OneShotFields {
        rank,
        name: &one.name,
        one_shot: one.shot.display().to_string(),
        file: one.file.display().to_string(),
        brightness_hz: one.brightness_hz,
        length_ms: one.length_ms,
        level_db: one.level_db,
        gain_db: one.gain_db,
        lufs: one.lufs.map(|lufs| lufs + one.gain_db),
        true_peak_db: one.true_peak_db.map(|db| db + one.gain_db),
        begins,
    }
}
