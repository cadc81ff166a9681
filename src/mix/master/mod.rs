//! The master: its strip, the loudness asked for, and the ceiling that the finished audio keeps to.
//!
//! In: the sum of the mix. Out: finished audio and its figures. It knows nothing of parts and buses.

mod limit;
pub(crate) mod loudness_estimate;

use std::sync::Arc;

use super::effort::Effort;
use super::engine::cache_keys::{Moving, moving};
use super::engine::routing::within;
use super::engine::side_chain::{MasterSideChain, SideChains};
use super::engine::time::Span;
use super::strip::Channel;
use super::strip::sweep::{Clock, Moves};
use crate::base::audio::{Audio, gain_of_db};
use crate::base::stages::{join, stage};
use crate::loopfile::{Ending, Field, Loop, Strip, Target};
use crate::render_cache::CacheKey;
use limit::{blocks, limit, louder};
use loudness_estimate::LoudnessEstimate;

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
    /// What its strip cost, its ceiling aside.
    pub effort: Effort,
}

/// Everything that determines what a loop's mix is before the master's ceiling.
#[derive(Debug, PartialEq)]
struct BeforeCeiling {
    mix: CacheKey,
    strip: Strip,
    sweeps: Moving,
    /// What it ducks under.
    envelope: Option<CacheKey>,
    frames: usize,
    ending: Ending,
    rate: u32,
}

/// What stands in a render cache for a mix of a name and a length after the master's strip and before its ceiling.
pub(crate) fn name_before_ceiling(
    (song, clock, keys): (&Loop, Clock, &SideChains),
    mix: CacheKey,
    frames: usize,
    rate: u32,
) -> CacheKey {
    let mut strip = before_ceiling(&song.master);
    let envelope = strip.duck.as_ref().and_then(|duck| keys.name(duck));
    strip.duck.iter_mut().for_each(|duck| duck.by = 0);
    CacheKey::of(&BeforeCeiling {
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

/// How a mix is brought to a loudness in LUFS.
pub(crate) struct Loudness<A, B> {
    /// The loudness asked for.
    pub target: f64,
    /// How far to lean into the ceiling, by what reaches it; which may be known from elsewhere.
    pub lean: A,
    /// The meter, for what comes out.
    pub meter: B,
}

/// Runs the master's strip over the sum of everything.
///
/// `moves` is what moves in it, `under` what it ducks under. The ceiling always works round the circle, also for audio that ends: so it holds for the
/// file and for the file twice in a row. Where nobody else holds the mix, it may become the result.
pub(crate) fn master(
    mut mix: Arc<Audio>,
    strip: &Strip,
    circle: bool,
    (moves, under): (Option<Moves>, Option<MasterSideChain>),
    loudness: Option<Loudness<impl FnOnce(&Audio) -> Arc<LoudnessEstimate> + Send, impl FnMut(&Audio) -> Option<f64>>>,
) -> (Audio, MasterReport) {
    let before = before_ceiling(strip);
    let mut effort = Effort::default();
    if before != Strip::plain() || moves.is_some() {
        let audio = Arc::make_mut(&mut mix);
        let span = Span {
            frames: audio.frames(),
            circle,
        };
        let mut channel = Channel::new(&before, moves.clone(), 2, audio.rate);
        let (latency, run_in) = (channel.latency(), within(channel.run_in(), audio.rate));
        let key_ahead = channel.latency_from_duck_to_fader() as i64;
        let mut room = vec![0.0; BLOCK];
        stage("master's strip", || {
            through(None, audio, span, latency, run_in, |at, left, right| {
                let room = &mut room[..left.len()];
                let key = under.as_ref().map(|under| under.read(at + key_ahead, room));
                effort.strip_frames += left.len() as u64;
                channel.run([left, right], at, key, None);
            });
        });
    }
    let brought = loudness.and_then(|Loudness { target, lean, meter }| {
        let (lean, room) = join(("estimate", || lean(&mix)), ("place", || silence(&mix)));
        brought_to(target, &lean, (&mix, room), strip.ceiling_db, moves.as_ref(), meter)
    });
    let (audio, report) = brought.unwrap_or_else(|| {
        let mut report = MasterReport::default();
        let Some(db) = strip.ceiling_db else {
            return (Arc::unwrap_or_clone(mix), report);
        };
        let mut audio = silence(&mix);
        report.ceiling_db = limit((&mix, 1.0), &mut audio, db, moves.as_ref());
        (audio, report)
    });
    (audio, MasterReport { effort, ..report })
}

/// Brings a mix to a loudness under a ceiling, try by try, in the room that there is for what comes of it; none where it has no loudness.
fn brought_to(
    target: f64,
    lean: &LoudnessEstimate,
    (mix, mut audio): (&Audio, Audio),
    ceiling_db: Option<f64>,
    moves: Option<&Moves>,
    mut meter: impl FnMut(&Audio) -> Option<f64>,
) -> Option<(Audio, MasterReport)> {
    let measured = lean.lufs(0.0, None)?;
    let least = target - measured;
    // By how much the estimate is wrong, as far as that is known.
    let (mut off, mut known) = (0.0, measured);
    let (mut gain_db, mut deepest) = (f64::NEG_INFINITY, 0.0);
    for _ in 0..TRIES {
        let next = match ceiling_db {
            Some(db) => {
                let most = lean.gain_over(DEEPEST, db).max(least);
                lean.gain_for(target - off, db, (least - off).min(least), most)
            }
            None => least - off,
        };
        if (next - gain_db).abs() < SAME {
            break;
        }
        gain_db = next;
        let plain = (mix, gain_of_db(gain_db) as f32);
        deepest = match ceiling_db {
            Some(db) => limit(plain, &mut audio, db, moves),
            None => {
                louder(plain, &mut audio);
                0.0
            }
        };
        known = meter(&audio).unwrap_or(measured);
        off = known - lean.lufs(gain_db, ceiling_db)?;
        if (target - known).abs() <= NEAR || deepest >= DEEPEST {
            break;
        }
    }
    let short_of = ((target - known).abs() > 0.1).then_some((target, known));
    let report = MasterReport {
        frames: audio.frames(),
        short_of,
        ceiling_db: deepest,
        ..MasterReport::default()
    };
    Some((audio, report))
}

/// Room for what is made of a mix.
fn silence(mix: &Audio) -> Audio {
    Audio::silence(mix.channels.len(), mix.frames(), mix.rate)
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
    let begins = -(if span.circle { run_in + latency } else { latency } as i64);
    let mut sides = [vec![0.0; BLOCK], vec![0.0; BLOCK]];
    for (now, frames) in blocks(begins, 0..span.frames, BLOCK) {
        let first = now + latency as i64;
        for (side, block) in sides.iter_mut().enumerate() {
            let block = &mut block[..frames];
            match from {
                None => read_ahead(&audio.channels[side], &heads[side], span, first, block),
                Some((plain, gain)) => {
                    span.read(&plain.channels[side], first, block);
                    block.iter_mut().for_each(|sample| *sample *= gain);
                }
            }
        }
        let [left, right] = &mut sides;
        process(now, &mut left[..frames], &mut right[..frames]);
        if let Ok(at) = usize::try_from(now) {
            for (block, side) in sides.iter().zip(&mut audio.channels) {
                side[at..at + frames].copy_from_slice(&block[..frames]);
            }
        }
    }
}

/// Reads a block that may repeat past the end, where the signal's first frames are those that were kept.
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
