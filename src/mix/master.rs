//! The master: its strip, the loudness asked for, and the ceiling that the finished audio keeps to.

use std::sync::Arc;

use super::ceiling::Ceiling;
use super::effect::Effect;
use super::keys::{Keys, Under};
use super::lean::Lean;
use super::naming::{Moving, moving};
use super::strip::Channel;
use super::sweep::{Clock, Moves, STEP};
use super::time::Span;
use crate::audio::{Audio, gain_of_db};
use crate::keep::{Keep, Name};
use crate::loopfile::{Ending, Field, Loop, Strip, Target};

/// Frames worked on at a time.
const BLOCK: usize = 16_384;
/// How near the loudness comes to what was asked, in LU.
const NEAR: f64 = 0.05;
/// How often the gain before the ceiling is corrected by what came out of it.
const TRIES: usize = 8;
/// The most that the ceiling may take off for the sake of loudness, in dB: beyond it lies distortion and no gain.
const DEEPEST: f64 = 12.0;
/// Gains that lie no further apart are the same, in dB.
const SAME: f64 = 0.003;

/// What the master did.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct MasterReport {
    /// The length of what a loudness was measured of at last, in frames, where one was asked for.
    pub frames: usize,
    /// The loudness that was asked for and the one that was reached, in LUFS, where it fell short by more than 0.1 LU.
    pub short_of: Option<(f64, f64)>,
    /// The deepest gain reduction of the ceiling in dB, 0 or more.
    pub ceiling_db: f64,
}

/// Everything that determines what a loop's mix is before the master's ceiling.
#[derive(PartialEq)]
struct BeforeCeiling {
    mix: Name,
    strip: Strip,
    sweeps: Moving,
    /// What it ducks under.
    envelope: Option<Name>,
    frames: usize,
    ending: Ending,
    rate: u32,
}

/// What stands in a keep for a mix of a name and a length after the master's strip and before its ceiling.
pub fn name_before_ceiling(
    keep: &Keep,
    (song, clock, keys): (&Loop, Clock, &Keys),
    mix: Name,
    frames: usize,
    rate: u32,
) -> Name {
    let mut strip = before_ceiling(&song.master);
    let envelope = strip.duck.as_ref().and_then(|duck| keys.name(duck));
    strip.duck.iter_mut().for_each(|duck| duck.by = 0);
    keep.name(BeforeCeiling {
        mix,
        strip,
        envelope,
        sweeps: moving(song, clock, Target::Master, |field| field != Field::Ceiling),
        frames,
        ending: song.ending,
        rate,
    })
}

fn before_ceiling(strip: &Strip) -> Strip {
    Strip {
        ceiling_db: None,
        ..strip.clone()
    }
}

/// What the master measures loudness by, in LUFS.
pub struct Meters<A, B> {
    /// For what reaches the ceiling, which may be known from elsewhere.
    pub before: A,
    /// For what comes out at last.
    pub after: B,
}

/// Runs the master's strip over the sum of everything.
///
/// `moves` is what moves in it, `under` what it ducks under. The ceiling always works round the circle, also for audio that ends: so it holds for the
/// file and for the file twice in a row. Where nobody else holds the mix, it may become the result.
pub fn master(
    mut mix: Arc<Audio>,
    strip: &Strip,
    target: Option<f64>,
    circle: bool,
    (moves, under): (Option<Moves>, Option<Under>),
    meters: Meters<impl FnOnce(&Audio) -> Option<f64>, impl FnMut(&Audio) -> Option<f64>>,
) -> (Audio, MasterReport) {
    let before = before_ceiling(strip);
    if before != Strip::plain() || moves.is_some() {
        let audio = Arc::make_mut(&mut mix);
        let span = Span {
            frames: audio.frames(),
            circle,
        };
        let mut channel = Channel::new(&before, moves.clone(), 2, audio.rate);
        let (latency, run_in) = (channel.latency(), channel.run_in());
        let key_ahead = channel.latency_from_duck_to_fader() as i64;
        let mut room = vec![0.0; BLOCK];
        through(None, audio, span, latency, run_in, |at, left, right| {
            let room = &mut room[..left.len()];
            let key = under.as_ref().map(|under| under.read(at + key_ahead, room));
            channel.run([left, right], at, key, None);
        });
    }
    let measured = target.and_then(|target| Some((target, (meters.before)(&mix)?)));
    let Some((target, measured)) = measured else {
        let mut audio = Arc::unwrap_or_clone(mix);
        let ceiling_db = strip
            .ceiling_db
            .map_or(0.0, |db| limit(None, &mut audio, db, moves.as_ref()));
        let report = MasterReport {
            ceiling_db,
            ..MasterReport::default()
        };
        return (audio, report);
    };
    brought_to(target, measured, &mix, strip.ceiling_db, moves.as_ref(), meters.after)
}

/// Brings a mix to a loudness under a ceiling, try by try.
fn brought_to(
    target: f64,
    measured: f64,
    mix: &Audio,
    ceiling_db: Option<f64>,
    moves: Option<&Moves>,
    mut loudness: impl FnMut(&Audio) -> Option<f64>,
) -> (Audio, MasterReport) {
    let mut audio = Audio::silence(mix.channels.len(), mix.frames(), mix.rate);
    let lean = ceiling_db.map(|db| Lean::on(mix, db));
    let (least, mut known) = (target - measured, measured);
    let (mut gain_db, mut deepest) = (f64::NEG_INFINITY, 0.0);
    for _ in 0..TRIES {
        // What the last try has come to, or the mix itself, sets the estimate right.
        let next = match &lean {
            Some(lean) if gain_db.is_finite() => {
                let most = lean.gain_over(DEEPEST).max(least);
                lean.gain_for(lean.level_db(gain_db) + target - known, least.min(gain_db), most)
            }
            Some(lean) => {
                let plain = lean.level_db(lean.gain_over(0.0).min(0.0)) - lean.gain_over(0.0).min(0.0);
                lean.gain_for(plain + target - measured, least, lean.gain_over(DEEPEST).max(least))
            }
            None if gain_db.is_finite() => gain_db + target - known,
            None => least,
        };
        if (next - gain_db).abs() < SAME {
            break;
        }
        gain_db = next;
        let plain = (mix, gain_of_db(gain_db) as f32);
        deepest = match ceiling_db {
            Some(db) => limit(Some(plain), &mut audio, db, moves),
            None => {
                louder(plain, &mut audio);
                0.0
            }
        };
        known = loudness(&audio).unwrap_or(measured);
        if (target - known).abs() <= NEAR || deepest >= DEEPEST {
            break;
        }
    }
    let short_of = ((target - known).abs() > 0.1).then_some((target, known));
    let report = MasterReport {
        frames: audio.frames(),
        short_of,
        ceiling_db: deepest,
    };
    (audio, report)
}

fn louder((plain, gain): (&Audio, f32), audio: &mut Audio) {
    for (side, plain) in audio.channels.iter_mut().zip(&plain.channels) {
        side.iter_mut()
            .zip(plain)
            .for_each(|(sample, plain)| *sample = gain * plain);
    }
}

/// Puts a ceiling on audio, or on other audio times a gain, which it then writes there.
fn limit(from: Option<(&Audio, f32)>, audio: &mut Audio, ceiling_db: f64, moves: Option<&Moves>) -> f64 {
    let mut ceiling = Ceiling::new(ceiling_db, audio.rate, 2);
    let (latency, run_in) = (ceiling.latency(), ceiling.run_in());
    let span = Span {
        frames: audio.frames(),
        circle: true,
    };
    let moving = moves.filter(|moves| moves.has(Field::Ceiling));
    through(from, audio, span, latency, run_in, |at, left, right| {
        let step = if moving.is_some() { STEP } else { left.len() };
        for (number, (left, right)) in left.chunks_mut(step).zip(right.chunks_mut(step)).enumerate() {
            let db = moving.and_then(|moves| moves.strip_at(at + (number * step) as i64).ceiling_db);
            db.iter().for_each(|db| ceiling.set(*db));
            ceiling.process(&mut [left, right]);
        }
    });
    ceiling.deepest_db()
}

/// Runs a stereo process over a whole signal, in place or from another one times a gain: run in round a circle, its
/// latency made up for.
fn through(
    from: Option<(&Audio, f32)>,
    audio: &mut Audio,
    span: Span,
    latency: usize,
    run_in: usize,
    mut process: impl FnMut(i64, &mut [f32], &mut [f32]),
) {
    // In place, reading runs ahead of writing; what it reads after going round has been overwritten, so it is kept.
    let kept = if from.is_some() { 0 } else { latency.min(span.frames) };
    let heads: Vec<Vec<f32>> = audio.channels.iter().map(|side| side[..kept].to_vec()).collect();
    let mut now = -(if span.circle { run_in + latency } else { latency } as i64);
    let mut blocks = [vec![0.0; BLOCK], vec![0.0; BLOCK]];
    while now < span.frames as i64 {
        let end = if now < 0 { 0 } else { span.frames as i64 };
        let frames = BLOCK.min((end - now) as usize);
        let first = now + latency as i64;
        for (side, block) in blocks.iter_mut().enumerate() {
            let block = &mut block[..frames];
            match from {
                None => read_ahead(&audio.channels[side], &heads[side], span, first, block),
                Some((plain, gain)) => {
                    span.read(&plain.channels[side], first, block);
                    block.iter_mut().for_each(|sample| *sample *= gain);
                }
            }
        }
        let [left, right] = &mut blocks;
        process(now, &mut left[..frames], &mut right[..frames]);
        if let Ok(at) = usize::try_from(now) {
            for (block, side) in blocks.iter().zip(&mut audio.channels) {
                side[at..at + frames].copy_from_slice(&block[..frames]);
            }
        }
        now += frames as i64;
    }
}

/// Reads a block that may go round past the end, where the signal's first frames are those that were kept.
fn read_ahead(side: &[f32], head: &[f32], span: Span, first: i64, block: &mut [f32]) {
    span.read(side, first, block);
    let past = first + block.len() as i64 - span.frames as i64;
    if span.circle && past > 0 && first >= 0 && !head.is_empty() {
        let at = block.len().saturating_sub(past as usize);
        let from = (first - span.frames as i64).max(0) as usize;
        for (n, sample) in block[at..].iter_mut().enumerate() {
            *sample = head[(from + n) % span.frames];
        }
    }
}
