//! Settings by hand: what the page asks to be tried is rendered, and what it asks to be kept is written.
//!
//! The file stands for itself: a request names the text that it was made from by its SHA-256, and where the file holds another
//! text by now, that stays and the request is refused. What is tried is never written anywhere.

use std::io::Write;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use serde::{Deserialize, Serialize};
use serde_json::json;
use sha2::{Digest, Sha256};

use super::bench::{Bench, hold};
use crate::base::audio::Audio;
use crate::cli::options::{AudioOptions, LoopOptions};
use crate::cli::replace::still_as_read;
use crate::export::bars::Bars;
use crate::export::write_beside;
use crate::loopfile::{AtHand, edited, paths, steps};
use crate::project::{self, Project};
use crate::schema::{DefaultValue, Kind};
use crate::text::{Problem, Problems, Source, did_you_mean, nearest, quoted, shown, shown_json};
use crate::watch::Samples;
use crate::watch::server::{Hands, Reply};

/// The longest loop that is tried by hand, in seconds: a browser holds its sound several times over.
pub(in crate::cli) const LONGEST: f64 = 600.0;
/// Seconds from the place that plays on that are sent first: more than it takes until the rest has come, however busy the machine.
const FIRST: f64 = 2.0;

/// Tries and keeps settings of one loop.
pub(super) struct Mover {
    options: LoopOptions,
    audio: AudioOptions,
    /// The keys that are at hand at first; what the file says where there are none.
    show: Vec<String>,
    bench: Arc<Mutex<Bench>>,
    /// The number of the newest trial that was asked for: older ones that have not begun are dropped.
    newest: AtomicU64,
}

/// What the page asks to be tried or kept.
#[derive(Deserialize)]
struct Asked {
    /// The text that it was made from.
    file: String,
    /// Values by key, as `--set` takes them.
    set: Vec<(String, String)>,
    /// Marks by the bytes at which they stand in the text.
    marks: Vec<(usize, char)>,
    /// The place that plays, in bars: 1.5 is half way through the second. From there on it is heard first.
    #[serde(default)]
    place: Option<f64>,
    /// The mix to keep them as; none for the file itself.
    #[serde(default)]
    mix: Option<String>,
}

/// What making a sound took, stage by stage.
type Took = Vec<(&'static str, Duration)>;

/// Why something is not done.
enum Refusal {
    /// The file is another by now.
    Saved,
    /// A newer trial has come.
    Overtaken,
    /// It can't be done.
    Wrong(Problems),
}

impl<P: Into<Problems>> From<P> for Refusal {
    fn from(problems: P) -> Refusal {
        Refusal::Wrong(problems.into())
    }
}

impl Mover {
    /// For a loop with the options that it is watched with.
    ///
    /// # Errors
    /// A key to show that the loop does not have; where the loop can't be read, that is for its first render to tell.
    pub(super) fn new(
        options: &LoopOptions,
        audio: &AudioOptions,
        show: &[String],
        bench: &Arc<Mutex<Bench>>,
    ) -> Result<Mover, Problems> {
        let mover = Mover {
            options: options.clone(),
            audio: audio.clone(),
            show: show
                .iter()
                .map(|key| key.trim().to_string())
                .filter(|key| !key.is_empty())
                .collect(),
            bench: bench.clone(),
            newest: AtomicU64::new(0),
        };
        if let (false, Ok(project)) = (mover.show.is_empty(), hold(bench).open(mover.project())) {
            let rows = project.at_hand();
            mover.show.iter().try_for_each(|key| known(key, &rows))?;
        }
        Ok(mover)
    }

    fn project(&self) -> project::Options {
        self.options.project(self.audio.ending)
    }

    /// The loop, of a text of its file and with other values.
    fn open(&self, bench: &mut Bench, text: &str, set: &[(String, String)]) -> Result<Project, Problems> {
        let options = self.project().text(text);
        bench.open(set.iter().fold(options, |all, (key, value)| all.set(key, value)))
    }

    /// The file as it is now; a refusal where that is not what was asked about.
    fn as_asked(&self, asked: &Asked) -> Result<Arc<Source>, Refusal> {
        let source = paths::open(&self.options.file)?;
        match identity(&source.text) == asked.file {
            true => Ok(source),
            false => Err(Refusal::Saved),
        }
    }

    fn listed(&self) -> Result<String, Refusal> {
        let source = paths::open(&self.options.file)?;
        let project = self.open(&mut hold(&self.bench), &source.text, &[])?;
        let rows = project.at_hand();
        let lines = steps::lines(&source).unwrap_or_default();
        let line = |line: &steps::StepLine| {
            json!({
                "part": line.part, "for": line.written_for, "plays": line.plays,
                "text": line.text, "start": line.start, "turns": line.turns,
            })
        };
        let told = json!({
            "file": identity(&source.text),
            "name": self.options.file.file_name().unwrap_or_default().to_string_lossy(),
            "form": project.is_form(),
            "rows": rows.iter().map(Row::of).collect::<Vec<_>>(),
            "show": self.show,
            "lines": lines.iter().map(line).collect::<Vec<_>>(),
            "turn": steps::TURN.iter().collect::<String>(),
        });
        Ok(shown_json(told.to_string()))
    }

    fn tried(&self, asked: &[u8]) -> Result<Samples, Refusal> {
        let begun = Instant::now();
        let number = self.newest.fetch_add(1, Ordering::SeqCst) + 1;
        let asked = read(asked)?;
        let mut bench = hold(&self.bench);
        if self.newest.load(Ordering::SeqCst) != number {
            return Err(Refusal::Overtaken);
        }
        let held = Instant::now();
        let source = self.as_asked(&asked)?;
        let text = steps::with_marks(&source, &asked.marks)?;
        let project = self.open(&mut bench, &text, &asked.set)?;
        let order = self.audio.order(&self.options);
        let bars = project.barlines(&order);
        if bars.end as f64 / f64::from(order.rate) > LONGEST {
            let what = format!(
                "loops of more than {:.0} minutes can't be moved by hand",
                LONGEST / 60.0
            );
            return Err(Problem::new(what).help("watch fewer of its bars with --bars").into());
        }
        let opened = Instant::now();
        let rendered = project.render_unmetered(&order, Some(&bench.cache), &|_| ())?;
        drop(bench);
        let made = Instant::now();
        let lufs = rendered.loudness();
        let took = vec![
            ("wait", held - begun),
            ("open", opened - held),
            ("render", made - opened),
            ("loudness", made.elapsed()),
        ];
        Ok(message(rendered.audio, &bars, lufs, (asked.place, took)))
    }

    fn kept(&self, asked: &[u8]) -> Result<String, Refusal> {
        let asked = read(asked)?;
        let mut bench = hold(&self.bench);
        let source = self.as_asked(&asked)?;
        let path = &self.options.file;
        let file = path.display();
        let text = steps::with_marks(&source, &asked.marks)?;
        let meant = self.open(&mut bench, &text, &asked.set)?;
        let values = in_toml(&asked.set, &meant.at_hand())?;
        let turned = Source::new(path, text.clone());
        if asked.mix.is_some() && meant.is_form() {
            let what = format!("{file} is a form, and forms have no mixes");
            return Err(Problem::new(what).help("keep it in the file itself").into());
        }
        let kept = match &asked.mix {
            None => edited::with_values(&turned, &values),
            Some(name) => edited::with_mix(&turned, name, &values),
        };
        let Some(kept) = kept else {
            let what = format!("{file} is so written that a value can't be put into it");
            return Err(Problem::new(what)
                .help("keep it as a mix, or write it there by hand")
                .into());
        };
        let mut options = self.project().text(kept.as_str());
        if let Some(name) = &asked.mix {
            options = options.mix(name);
        }
        // What is written must be what was heard.
        if !bench.open(options)?.says_the_same(&meant) {
            let what = format!("what is heard is not what {file} would say: `--mix` or `--set` have a say in it");
            return Err(Problem::new(what)
                .help("watch the loop without them to keep what you try")
                .into());
        }
        if paths::open(path)?.text != source.text {
            return Err(Refusal::Saved);
        }
        still_as_read(path, &source.text)?;
        write_beside(path, |out| out.write_all(kept.as_bytes()))?;
        Ok(json!({ "file": identity(&kept) }).to_string())
    }

    fn refused(&self, refusal: Refusal) -> Reply {
        let name = self.options.file.file_name().unwrap_or_default().to_string_lossy();
        match refusal {
            Refusal::Overtaken => Reply::Conflict(json!({ "overtaken": true }).to_string()),
            Refusal::Saved => {
                let wrong = format!("{name} was saved meanwhile, and stays as it is now.");
                Reply::Conflict(shown_json(json!({ "saved": true, "wrong": wrong }).to_string()))
            }
            Refusal::Wrong(problems) => {
                let words: Vec<String> = problems.0.iter().map(said).collect();
                let wrong = shown(&words.join("\n")).into_owned();
                Reply::Unfit(json!({ "wrong": wrong }).to_string())
            }
        }
    }
}

impl Hands for Mover {
    fn settings(&self) -> Reply {
        self.listed().map_or_else(|refusal| self.refused(refusal), Reply::Told)
    }

    fn try_out(&self, asked: &[u8]) -> Reply {
        self.tried(asked)
            .map_or_else(|refusal| self.refused(refusal), Reply::Sound)
    }

    fn keep(&self, asked: &[u8]) -> Reply {
        self.kept(asked)
            .map_or_else(|refusal| self.refused(refusal), Reply::Told)
    }
}

fn read(asked: &[u8]) -> Result<Asked, Problem> {
    serde_json::from_slice(asked)
        .map_err(|error| Problem::new(format!("this is no change that the page asks for: {error}")))
}

/// What a problem says, without where in the command line it would stand.
fn said(problem: &Problem) -> String {
    match &problem.help {
        Some(help) => format!("{}: {help}", problem.what),
        None => problem.what.clone(),
    }
}

/// The SHA-256 of a text, in hexadecimal digits.
fn identity(text: &str) -> String {
    Sha256::digest(text).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Checks that a key to show is one of the loop's, or begins some.
fn known(key: &str, rows: &[AtHand]) -> Result<(), Problem> {
    let begins = |row: &AtHand| {
        row.key
            .strip_prefix(key)
            .is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
    };
    if rows.iter().any(begins) {
        return Ok(());
    }
    let problem = Problem::new(format!("there is no key `{key}` to show"));
    Err(match nearest(key, rows.iter().map(|row| row.key.as_str())) {
        Some(near) => problem.help(did_you_mean(near)),
        None => problem.help("name a key as --set does, such as snare.gain, or a part for all of its keys"),
    })
}

/// Values as TOML writes them.
fn in_toml(set: &[(String, String)], rows: &[AtHand]) -> Result<Vec<edited::NewValue>, Problem> {
    let value = |(key, value): &(String, String)| {
        let Some(row) = rows.iter().find(|row| row.key == *key) else {
            return Err(Problem::new(format!("`{key}` is no key that can be kept")));
        };
        let bare = value == "off" || !matches!(row.setting.kind, Kind::Number(..) | Kind::Whole(..) | Kind::Switch);
        Ok((key.clone(), if bare { quoted(value) } else { value.clone() }))
    };
    set.iter().map(value).collect()
}

/// A setting as the page lists it.
#[derive(Serialize)]
struct Row<'a> {
    table: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    called: Option<&'a str>,
    key: &'a str,
    /// What it does.
    doc: &'a str,
    /// What it takes, in words.
    takes: String,
    /// What kind of control it has.
    kind: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    range: Option<(f64, f64)>,
    unit: &'a str,
    words: &'a [&'a str],
    off: bool,
    written: bool,
    value: Option<&'a str>,
    /// What holds where there is no value, in words.
    otherwise: Option<&'a str>,
    idle: bool,
}

impl Row<'_> {
    fn of(row: &AtHand) -> Row<'_> {
        let (kind, range, unit, words): (_, _, _, &[&str]) = match row.setting.kind {
            Kind::Number(from, to, unit) => ("number", Some((from, to)), unit, &[]),
            Kind::Switch => ("switch", None, "", &[]),
            Kind::Choice(words) => ("choice", None, "", words),
            _ => ("text", None, "", &[]),
        };
        Row {
            table: &row.table,
            called: row.called.as_deref(),
            key: &row.key,
            doc: row.setting.doc,
            takes: row.setting.describe(),
            kind,
            range,
            unit,
            words,
            off: row.setting.off,
            written: row.written,
            value: row.value.as_deref(),
            otherwise: match row.setting.default {
                DefaultValue::Described(words) if row.value.is_none() => Some(words),
                _ => None,
            },
            idle: row.idle,
        }
    }
}

/// Sound as the page takes it, from its place on first.
fn message(audio: Audio, bars: &Bars, lufs: Option<f64>, (place, took): (Option<f64>, Took)) -> Samples {
    let frames = audio.frames();
    let from = place.map_or(0, |place| bars.frame(place)).min(frames);
    let seconds = if place.is_some() { FIRST } else { 0.0 };
    let first = from..frames.min(from + (seconds * f64::from(audio.rate)) as usize);
    let told = json!({
        "frames": frames,
        "channels": audio.channels.len(),
        "starts": bars.bars.iter().map(|bar| bar.start).collect::<Vec<_>>(),
        "end": bars.end.min(frames),
        "lufs": lufs,
        "from": first.start,
        "first": first.len(),
    });
    Samples::new(&told.to_string(), audio.channels, first, took)
}
