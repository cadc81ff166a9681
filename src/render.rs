//! Rendering: the whole way from a loop and a kit to finished audio, on one page.
//!
//! In: a resolved `Loop` or `Form`, opened kits, what to render. Out: audio and its figures. It knows nothing of files.

use std::sync::Arc;

use crate::base::audio::Audio;
use crate::base::stages::{self, join, stage};
use crate::kit::{Kit, Recording};
use crate::loopfile::limits::LONGEST_RING;
use crate::loopfile::{Centre, Ending, Loop, Strip, Target, too_high};
use crate::measure::{self, Energies};
use crate::mix::master::loudness_estimate::LoudnessEstimate;
use crate::mix::master::{Loudness, MasterReport, master};
use crate::mix::strip::sweep::Moves;
use crate::mix::{Effort, MasterSideChain};
use crate::render_cache::{CacheEntry, CacheKey, RenderCache, Turn};
use crate::score::{self, Score};
use crate::text::{Problem, Problems};

mod buses;
mod check;
mod form;
mod form_end;
mod form_stems;
pub(crate) mod headroom;
mod need;
mod part_loudness;
mod shares;
mod stage;
mod stems;

pub use buses::BusReport;
use buses::BusSums;
pub(crate) use check::{broken_off, check, check_form};
pub use form::render_form_sharing;
pub(crate) use form::render_form_unmetered;
pub(crate) use form_stems::form_stems;
use need::{Need, allow, files_of};
pub(crate) use part_loudness::{PartLoudness, part_loudness};
use stage::{Shared, Stage};
pub(crate) use stems::{Stems, stem_names, stems};

/// The rate of renders that are not asked for another, in Hz.
pub(crate) const STANDARD_RATE: u32 = 48_000;
/// The longest audio that is rendered in one go, in seconds.
pub(crate) const LONGEST: f64 = 3600.0;
/// `let ring` ends so many seconds after the sound has last been above [`SILENCE`].
const AFTER_RING: f64 = 0.1;
/// -90 dBFS, as an amplitude.
const SILENCE: f32 = 3.162_277_7e-5;
/// Seconds in which audio that is cut off fades.
const FADE: f64 = 0.005;

/// What to render of a loop beside what its file says.
#[derive(Debug, Clone, PartialEq)]
pub struct Order {
    /// Frames per second.
    pub rate: u32,
    /// How many rounds.
    pub rounds: u32,
    /// The first and the last bar, counted from 1; all where none.
    pub bars: Option<(u32, u32)>,
    /// True to measure each bus, which takes a while. What comes by way of a render cache is not measured.
    pub bus_figures: bool,
}

impl Default for Order {
    /// All bars, once, at 48 kHz.
    fn default() -> Order {
        Order {
            rate: STANDARD_RATE,
            rounds: 1,
            bars: None,
            bus_figures: false,
        }
    }
}

/// Is told, now and then, which share of the work is done: from 0 to 1.
pub(crate) type Progress<'a> = dyn Fn(f64) + Sync + 'a;

/// A finished render and what there is to tell of it.
#[derive(Debug, Clone)]
pub struct Rendered {
    /// Stereo audio, ready to be written.
    pub audio: Audio,
    /// True where the audio repeats without a seam.
    pub repeats: bool,
    /// Every part with its hits in one round and its peak.
    pub parts: Vec<PartReport>,
    /// Every bus.
    pub buses: Vec<BusReport>,
    /// What the master did.
    pub master: MasterReport,
    /// Integrated loudness in LUFS, where it is defined.
    pub lufs: Option<f64>,
    /// True peak in dBTP, where there is sound.
    pub true_peak_db: Option<f64>,
    /// What the loudness is reckoned from, where a meter takes the rate.
    pub energies: Option<Energies>,
    /// What is odd about recordings that were played.
    pub oddities: Vec<Problem>,
    /// What it cost.
    pub effort: Effort,
}

/// One part of a render.
#[derive(Debug, Clone, PartialEq)]
pub struct PartReport {
    /// Its name; in a form with its section before it.
    pub name: String,
    /// Its hits in one round; in a form those of its section, all times round.
    pub hits: usize,
    /// True where notes are among them, and not hits alone.
    pub pitched: bool,
    /// The peak after its fader, as an amplitude.
    pub peak: f32,
    /// True where `mute`, `--only` or `--without` keeps it from being heard.
    pub silenced: bool,
    /// What is the cache key, where there is one, for all that it gives: the same in two renders where it sounds alike
    /// in both. In a form it is that of its section's first turn.
    pub trace: Option<CacheKey>,
}

/// Renders a loop on a kit.
///
/// # Errors
/// Pieces that the kit lacks, recordings that can't be read, audio longer than `LONGEST`.
pub fn render(song: &Loop, kit: &Kit, order: &Order, progress: &Progress) -> Result<Rendered, Problems> {
    render_sharing(song, kit, order, None, progress)
}

/// The same by way of a render cache, where there is one: what other renders have made of it is not made again. The audio is the
/// same to the bit.
///
/// # Errors
/// As [`render`].
pub fn render_sharing(
    song: &Loop,
    kit: &Kit,
    order: &Order,
    keep: Option<&RenderCache>,
    progress: &Progress,
) -> Result<Rendered, Problems> {
    render_unmetered(song, kit, order, keep, progress).map(Rendered::metered)
}

/// The same without reading a meter at the end: for whoever wants the audio first and its figures later.
///
/// # Errors
/// As [`render`].
pub(crate) fn render_unmetered(
    song: &Loop,
    kit: &Kit,
    order: &Order,
    keep: Option<&RenderCache>,
    progress: &Progress,
) -> Result<Rendered, Problems> {
    let circle = song.ending == Ending::Repeat;
    let (score, rounds) = stage("score", || prepared(song, kit, order))?;
    let turn = keep.map(RenderCache::turn);
    let (recordings, takes) = stage("recordings", || {
        load(kit, &score.takes(song), order.rate, turn.as_ref())
    })?;
    let shared = turn.as_ref().map(|turn| Shared {
        turn,
        takes: &takes,
        sounds_alone: false,
    });
    let set = || Stage::set(song, &recordings, &score, rounds, order.rate, circle, shared);
    let mut stage = stages::stage("sounds and responses", set)?;
    stage.measures = order.bus_figures && keep.is_none();
    let shares = turn.as_ref().map(|turn| stage.ask(turn));
    let lean = turn.as_ref().zip(shares.as_ref());
    let lean = lean.filter(|_| song.loudness.is_some());
    let lean = lean.and_then(|(turn, shares)| stage.ask_loudness_estimate(turn, shares));
    turn.into_iter().for_each(Turn::end);
    let mut mixed = stage.mix(progress, shares);
    mixed.oddities = kit.oddities(&recordings);
    let length = frames(score.round * f64::from(rounds), order.rate);
    if song.ending == Ending::Damp {
        cut_off(Arc::make_mut(&mut mixed.audio), length);
    }
    let moves = (stage.moves(Target::Master), stage.under_master());
    let mut mastered = Mastered::of(mixed.audio, &song.master, song.loudness, circle, moves, lean);
    if song.ending == Ending::LetRing {
        end_ring(&mut mastered.audio, length);
    }
    if circle {
        repeat(&mut mastered.audio, order.rounds);
    }
    Ok(mastered.finish(mixed.reports, mixed.oddities, circle))
}

/// What a loop plays and how many rounds of it are mixed; refuses what can't be rendered, as far as that is known before a
/// recording is opened.
fn prepared(song: &Loop, kit: &Kit, order: &Order) -> Result<(Score, u32), Problems> {
    suits(&song.centres, order.rate)?;
    let score = score::write(song, kit.index(), order.bars)?;
    let rounds = match song.ending {
        Ending::Repeat => 1,
        _ => order.rounds,
    };
    // The rooms' and delays' signals are as long as what is mixed.
    let held = score.round * f64::from(rounds) * song.spaces.len() as f64;
    allow(&Need {
        seconds: score.round * f64::from(order.rounds),
        held,
        files: files_of(song, kit, &score.takes(song)).collect(),
        rate: order.rate,
    })?;
    Ok((score, rounds))
}

/// Everything before the master, with the ring after it where time is a line.
struct Mixed {
    audio: Arc<Audio>,
    reports: Reports,
    oddities: Vec<Problem>,
}

/// What there is to tell of the parts and buses of a mix.
#[derive(Clone)]
struct Reports {
    parts: Vec<PartReport>,
    buses: Vec<BusSums>,
    effort: Effort,
}

/// What has come out of the master.
struct Mastered {
    audio: Audio,
    report: MasterReport,
    /// Of the audio as the master left it, where it was measured.
    energies: Option<Energies>,
}

/// Recordings of a kit by their numbers, and what stands for them in a render cache where there is one.
type Loaded = (Vec<Option<Arc<Recording>>>, Vec<Option<CacheKey>>);

fn load(kit: &Kit, takes: &[(usize, bool)], rate: u32, turn: Option<&Turn>) -> Result<Loaded, Problem> {
    let Some(turn) = turn else {
        return Ok((kit.load(takes, rate)?, Vec::new()));
    };
    let names = kit.names(takes, rate);
    Ok((kit.load_from(turn, &names, takes, rate)?, names))
}

/// Refuses bells that lie too high for a rate in Hz.
///
/// # Errors
/// One for each of them, where it is written.
fn suits(centres: &[Centre], rate: u32) -> Result<(), Problems> {
    let problems = too_high(centres, rate);
    if problems.is_empty() {
        Ok(())
    } else {
        Err(Problems(problems))
    }
}

fn frames(seconds: f64, rate: u32) -> usize {
    ((seconds * f64::from(rate)).round() as usize).max(1)
}

/// Puts so many rounds of audio one after another.
fn repeat(audio: &mut Audio, rounds: u32) {
    if rounds == 1 {
        return;
    }
    audio
        .channels
        .iter_mut()
        .for_each(|side| *side = side.repeat(rounds as usize));
}

/// Cuts audio off at a frame, fading its last few ms.
fn cut_off(audio: &mut Audio, end: usize) {
    let fade = ((FADE * f64::from(audio.rate)) as usize).min(end);
    for side in &mut audio.channels {
        side.truncate(end);
        for (n, sample) in side[end - fade..].iter_mut().enumerate() {
            *sample *= (fade - n) as f32 / fade as f32;
        }
    }
}

/// Ends a ring where it has been below hearing for a while, or where it has lasted for long enough.
fn end_ring(audio: &mut Audio, last_bar: usize) {
    let seconds = |seconds: f64| (seconds * f64::from(audio.rate)) as usize;
    let after_last_sound = |side: &Vec<f32>| {
        side.iter()
            .rposition(|sample| sample.abs() >= SILENCE)
            .map_or(0, |at| at + 1)
    };
    let heard = audio.channels.iter().map(after_last_sound).max().unwrap_or(0);
    let end = (heard + seconds(AFTER_RING)).max(last_bar);
    let longest = last_bar + seconds(LONGEST_RING);
    if end > longest || end > audio.frames() {
        cut_off(audio, longest.min(audio.frames()));
    } else {
        audio.channels.iter_mut().for_each(|side| side.truncate(end));
    }
}

impl Mastered {
    /// Puts a mix through a master, with what moves in it and what it ducks under. `lean` is what came of asking for the estimate of how loud what
    /// reaches its ceiling is.
    fn of(
        mix: Arc<Audio>,
        strip: &Strip,
        target: Option<f64>,
        circle: bool,
        moves: (Option<Moves>, Option<MasterSideChain>),
        lean: Option<CacheEntry<LoudnessEstimate>>,
    ) -> Mastered {
        let mut energies = None;
        let loudness = target.map(|target| Loudness {
            target,
            lean: |audio: &Audio| {
                lean.unwrap_or(CacheEntry::NoRoom)
                    .get_or(|| LoudnessEstimate::on(audio))
            },
            meter: |audio: &Audio| {
                energies = Energies::of(audio);
                energies.as_ref()?.lufs(0.0)
            },
        });
        let (audio, report) = master(mix, strip, circle, moves, loudness);
        Mastered {
            audio,
            report,
            energies,
        }
    }

    fn finish(self, reports: Reports, oddities: Vec<Problem>, repeats: bool) -> Rendered {
        // The master has measured what it was asked to bring to a loudness; where nothing was cut off since, that stands.
        let frames = self.audio.frames();
        let mut effort = reports.effort;
        effort += self.report.effort;
        Rendered {
            effort,
            audio: self.audio,
            repeats,
            parts: reports.parts,
            buses: reports.buses.into_iter().map(BusSums::report).collect(),
            lufs: None,
            true_peak_db: None,
            energies: self.energies.filter(|_| self.report.frames == frames),
            master: self.report,
            oddities,
        }
    }
}

impl Rendered {
    /// Its frames, where it repeats without a gap.
    pub fn repeating(&self) -> Option<usize> {
        self.repeats.then_some(self.audio.frames())
    }

    /// Its integrated loudness in LUFS, where it is defined, without the other figures.
    pub(crate) fn loudness(&self) -> Option<f64> {
        let known = self.energies.as_ref().map(|energies| energies.lufs(0.0));
        known.unwrap_or_else(|| Energies::of(&self.audio)?.lufs(0.0))
    }

    /// It with the figures that a meter reads from its audio.
    pub fn metered(self) -> Rendered {
        self.metered_beside(|_| ()).0
    }

    /// The same, while something else is done with it.
    pub fn metered_beside<T: Send>(mut self, work: impl FnOnce(&Rendered) -> T + Send) -> (Rendered, T) {
        let known = self.energies.take();
        let audio = &self.audio;
        let meter = || match known {
            Some(known) => (Some(known), measure::true_peak_db(audio)),
            None => join(
                ("loudness", || Energies::of(audio)),
                ("true peak", || measure::true_peak_db(audio)),
            ),
        };
        let (done, (energies, true_peak_db)) = join(("file", || work(&self)), ("meter", meter));
        self.lufs = energies.as_ref().and_then(|energies| energies.lufs(0.0));
        (self.energies, self.true_peak_db) = (energies, true_peak_db);
        (self, done)
    }
}
