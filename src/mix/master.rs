//! The master: its strip, the loudness asked for, and the ceiling that the finished audio keeps to.

use super::ceiling::Ceiling;
use super::effect::Effect;
use super::strip::Channel;
use super::sweep::{Moves, STEP};
use super::time::Span;
use crate::audio::{Audio, gain_of_db};
use crate::loopfile::{Field, Strip};

/// Frames worked on at a time.
const BLOCK: usize = 16_384;
/// How near the loudness comes to what was asked, in LU.
const NEAR: f64 = 0.05;
/// How often the gain before the ceiling is corrected by what came out of it.
const TRIES: usize = 8;
/// The most that the ceiling may take off for the sake of loudness, in dB: beyond it lies distortion and no gain.
const DEEPEST: f64 = 12.0;

/// What the master did.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct MasterReport {
    /// The loudness that came out at last, in LUFS, where one was asked for.
    pub lufs: Option<f64>,
    /// The length of what that loudness is of, in frames.
    pub frames: usize,
    /// The loudness that was asked for and the one that was reached, in LUFS, where it fell short by more than 0.1 LU.
    pub short_of: Option<(f64, f64)>,
    /// The deepest gain reduction of the ceiling in dB, 0 or more.
    pub ceiling_db: f64,
}

/// Runs the master's strip over the sum of everything, in place.
///
/// `moves` is what moves in it, and `loudness` measures a stereo signal in LUFS. The ceiling always works round the circle, also for audio that ends:
/// so it holds for the file and for the file twice in a row.
pub fn master(
    audio: &mut Audio,
    strip: &Strip,
    target: Option<f64>,
    circle: bool,
    moves: Option<Moves>,
    loudness: impl Fn(&Audio) -> Option<f64>,
) -> MasterReport {
    let span = Span {
        frames: audio.frames(),
        circle,
    };
    let before_ceiling = Strip {
        ceiling_db: None,
        ..strip.clone()
    };
    if before_ceiling != Strip::plain() || moves.is_some() {
        let mut channel = Channel::new(&before_ceiling, moves.clone(), 2, audio.rate);
        let (latency, run_in) = (channel.latency(), channel.run_in());
        through(audio, span, latency, run_in, |at, left, right| {
            channel.run([left, right], at, None, None);
        });
    }
    let limit = |audio: &mut Audio| strip.ceiling_db.map_or(0.0, |db| limit(audio, db, moves.as_ref()));
    let Some(target) = target else {
        return MasterReport {
            frames: 0,
            lufs: None,
            short_of: None,
            ceiling_db: limit(audio),
        };
    };
    let Some(measured) = loudness(audio) else {
        return MasterReport {
            frames: 0,
            lufs: None,
            short_of: None,
            ceiling_db: limit(audio),
        };
    };
    let plain = audio.clone();
    let (mut gain_db, mut best) = (target - measured, (measured, 0.0));
    for _ in 0..TRIES {
        let gain = gain_of_db(gain_db) as f32;
        for (side, plain) in audio.channels.iter_mut().zip(&plain.channels) {
            side.iter_mut()
                .zip(plain)
                .for_each(|(sample, plain)| *sample = gain * plain);
        }
        let deepest = limit(audio);
        best = (loudness(audio).unwrap_or(measured), deepest);
        let missing = target - best.0;
        if missing.abs() <= NEAR || deepest >= DEEPEST {
            break;
        }
        // The ceiling gives back less than it is given, so later tries may lean in a little harder.
        gain_db += missing * if deepest > 0.0 { 1.5 } else { 1.0 };
    }
    let short_of = ((target - best.0).abs() > 0.1).then_some((target, best.0));
    MasterReport {
        frames: span.frames,
        lufs: Some(best.0),
        short_of,
        ceiling_db: best.1,
    }
}

fn limit(audio: &mut Audio, ceiling_db: f64, moves: Option<&Moves>) -> f64 {
    let mut ceiling = Ceiling::new(ceiling_db, audio.rate, 2);
    let (latency, run_in) = (ceiling.latency(), ceiling.run_in());
    let span = Span {
        frames: audio.frames(),
        circle: true,
    };
    let moving = moves.filter(|moves| moves.has(Field::Ceiling));
    through(audio, span, latency, run_in, |at, left, right| {
        let step = if moving.is_some() { STEP } else { left.len() };
        for (number, (left, right)) in left.chunks_mut(step).zip(right.chunks_mut(step)).enumerate() {
            let db = moving.and_then(|moves| moves.strip_at(at + (number * step) as i64).ceiling_db);
            db.iter().for_each(|db| ceiling.set(*db));
            ceiling.process(&mut [left, right]);
        }
    });
    ceiling.deepest_db()
}

/// Runs a stereo process over a whole signal, in place: run in round a circle, its latency made up for.
fn through(
    audio: &mut Audio,
    span: Span,
    latency: usize,
    run_in: usize,
    mut process: impl FnMut(i64, &mut [f32], &mut [f32]),
) {
    // Reading runs ahead of writing; what it reads after going round has been overwritten, so it is kept.
    let kept = latency.min(span.frames);
    let heads: Vec<Vec<f32>> = audio.channels.iter().map(|side| side[..kept].to_vec()).collect();
    let mut now = -(if span.circle { run_in + latency } else { latency } as i64);
    let mut blocks = [vec![0.0; BLOCK], vec![0.0; BLOCK]];
    while now < span.frames as i64 {
        let end = if now < 0 { 0 } else { span.frames as i64 };
        let frames = BLOCK.min((end - now) as usize);
        for ((block, side), head) in blocks.iter_mut().zip(&audio.channels).zip(&heads) {
            read_ahead(side, head, span, now + latency as i64, &mut block[..frames]);
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
