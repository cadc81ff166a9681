//! A mix, times a gain, under a ceiling.
//!
//! Time is cut into segments that go through ceilings of their own side by side, each begun so long before its segment that
//! it gives the bits of one run from front to back. They lie on a grid of the signal's own: how many threads there are changes
//! nothing.

use std::ops::Range;

use rayon::prelude::*;

use super::through;
use crate::base::audio::{Audio, highest};
use crate::base::simd::wide;
use crate::base::stages::{all, each};
use crate::loopfile::Field;
use crate::mix::engine::time::Span;
use crate::mix::strip::ceiling::{Ceiling, apply};
use crate::mix::strip::effect::Effect;
use crate::mix::strip::sweep::{Moves, STEP};

/// Frames of a segment.
const SEGMENT: usize = 131_072;
/// Frames that go through a ceiling at a time: so few that they stay in the cache.
const BLOCK: usize = 8192;

/// Writes audio times a gain.
pub(super) fn louder((plain, gain): (&Audio, f32), audio: &mut Audio) {
    for (side, plain) in audio.channels.iter_mut().zip(&plain.channels) {
        let pieces = side.par_chunks_mut(SEGMENT).zip(plain.par_chunks(SEGMENT));
        each("louder", pieces, |(side, plain)| times(side, plain, gain));
    }
}

fn times(out: &mut [f32], plain: &[f32], gain: f32) {
    out.iter_mut()
        .zip(plain)
        .for_each(|(sample, plain)| *sample = gain * plain);
}

/// Writes stereo audio times a gain under a ceiling, round the circle; gives the deepest gain reduction in dB, 0 or more.
pub(super) fn limit((plain, gain): (&Audio, f32), audio: &mut Audio, ceiling_db: f64, moves: Option<&Moves>) -> f64 {
    let mut ceiling = Ceiling::new(ceiling_db, plain.rate, 2);
    if let Some(moves) = moves.filter(|moves| moves.has(Field::Ceiling)) {
        let (latency, run_in) = (ceiling.latency(), ceiling.run_in());
        let span = Whole::span(plain);
        through(Some((plain, gain)), audio, span, latency, run_in, |at, left, right| {
            for (number, (left, right)) in left.chunks_mut(STEP).zip(right.chunks_mut(STEP)).enumerate() {
                let db = moves.strip_at(at + (number * STEP) as i64).ceiling_db;
                db.iter().for_each(|db| ceiling.set(*db));
                ceiling.process(&mut [left, right]);
            }
        });
        return ceiling.deepest_db();
    }
    segments((plain, gain), audio, &ceiling, SEGMENT)
}

fn segments((plain, gain): (&Audio, f32), audio: &mut Audio, ceiling: &Ceiling, frames: usize) -> f64 {
    let pieces: Vec<&[f32]> = plain.channels.iter().flat_map(|side| side.chunks(SEGMENT)).collect();
    let peaks = all("highest", pieces.into_par_iter(), |piece| wide(|| highest(piece)));
    let most = peaks.into_iter().fold(0.0, f32::max);
    let whole = Whole { plain, gain, most };
    let sides = audio.channels.iter_mut().map(|side| side.chunks_mut(frames));
    let mut segments: Vec<Vec<&mut [f32]>> = Vec::new();
    for (channel, side) in sides.enumerate() {
        for (number, piece) in side.enumerate() {
            if channel == 0 {
                segments.push(Vec::new());
            }
            segments[number].push(piece);
        }
    }
    let segments = segments.into_par_iter().enumerate();
    let deepest = all("ceiling", segments, |(number, sides)| {
        whole.segment(ceiling.clone(), number * frames, sides)
    });
    deepest.into_iter().fold(0.0, f64::max)
}

/// What goes under a ceiling.
struct Whole<'a> {
    plain: &'a Audio,
    gain: f32,
    /// Its highest sample before the gain.
    most: f32,
}

impl Whole<'_> {
    fn span(plain: &Audio) -> Span {
        Span {
            frames: plain.frames(),
            circle: true,
        }
    }

    /// Writes a segment from a frame on, by a ceiling that is still at rest.
    fn segment(&self, mut ceiling: Ceiling, from: usize, mut sides: Vec<&mut [f32]>) -> f64 {
        let late = ceiling.latency() as i64;
        let first = from as i64 + late;
        let before = ceiling.begin_before(self.gain * self.most, |back| {
            self.gain * self.highest(first - back.end as i64, back.len())
        });
        // One run would begin there.
        let earliest = -(ceiling.run_in() as i64);
        let begins = (first - before as i64).max(earliest) - late;
        let span = Whole::span(self.plain);
        for (now, frames) in blocks(begins, from..from + sides[0].len(), BLOCK) {
            ceiling.take(frames, |channel, place| {
                let plain = &self.plain.channels[channel];
                span.runs(now + late, frames, |at, index, run| {
                    times(&mut place[at..at + run], &plain[index..index + run], self.gain);
                });
            });
            let Some(at) = usize::try_from(now).ok().and_then(|now| now.checked_sub(from)) else {
                // What was read at its beginning looked at frames that were not there.
                ceiling.reset_deepest();
                continue;
            };
            for (channel, side) in sides.iter_mut().enumerate() {
                apply(
                    ceiling.delayed(channel, frames),
                    ceiling.gains(),
                    &mut side[at..at + frames],
                );
            }
        }
        ceiling.deepest_db()
    }

    /// The highest of some samples, from a frame of the circle on.
    fn highest(&self, first: i64, count: usize) -> f32 {
        let mut most = 0.0_f32;
        for side in &self.plain.channels {
            Whole::span(self.plain).runs(first, count, |_, index, run| {
                most = most.max(wide(|| highest(&side[index..index + run])));
            });
        }
        most
    }
}

/// Where the blocks of a time begin that is run in from a frame on, and their lengths: one ends where the time begins and
/// one where it ends.
pub(super) fn blocks(begins: i64, time: Range<usize>, longest: usize) -> Vec<(i64, usize)> {
    let (from, to) = (time.start as i64, time.end as i64);
    let mut blocks = Vec::new();
    let mut now = begins;
    while now < to {
        let end = if now < from { from } else { to };
        let frames = longest.min((end - now) as usize);
        blocks.push((now, frames));
        now += frames as i64;
    }
    blocks
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mix::test_signals::{beat, noise};

    /// One run from front to back, on one thread.
    fn in_one_go(plain: (&Audio, f32), ceiling: &Ceiling) -> (Audio, f64) {
        let mut out = Audio::silence(2, plain.0.frames(), plain.0.rate);
        let deepest = segments(plain, &mut out, ceiling, usize::MAX);
        (out, deepest)
    }

    fn stereo(left: Vec<f32>, right: Vec<f32>, rate: u32) -> Audio {
        Audio {
            channels: vec![left, right],
            rate,
        }
    }

    /// Loud and quiet by turns, with peaks that straddle every border of segments of 5000 frames.
    fn awkward(rate: u32) -> Vec<Audio> {
        let mut straddling = noise(0.02, 5, 60_000);
        for border in (0..60_000).step_by(5000) {
            let size = if border % 15_000 == 0 { 3.0 } else { 1.1 };
            let around = (border + 60_000 - 90) % 60_000;
            (0..180).for_each(|n| straddling[(around + n) % 60_000] = size * libm::sinf(n as f32 * 0.7));
        }
        let mut lonely = vec![1e-3_f32; 150_000];
        lonely[20_001] = 8.0;
        lonely[141_000] = -1.2;
        vec![
            stereo(beat(2.0), noise(0.3, 1, 96_000), rate),
            stereo(noise(1.3, 2, 60_000), straddling.clone(), rate),
            stereo(straddling, vec![0.0; 60_000], rate),
            stereo(lonely.clone(), lonely, rate),
            stereo(noise(4.0, 3, 700), noise(0.1, 4, 700), rate),
            stereo(noise(0.3, 3, 9_000), noise(0.1, 4, 9_000), rate),
        ]
    }

    #[test]
    fn segments_give_the_bits_of_one_run() {
        for rate in [8_000, 48_000, 96_000] {
            for (number, plain) in awkward(rate).iter().enumerate() {
                for (ceiling_db, gain) in [(-1.0, 1.0), (-12.0, 0.7), (3.0, 4.0)] {
                    let ceiling = Ceiling::new(ceiling_db, rate, 2);
                    let wanted = in_one_go((plain, gain), &ceiling);
                    for frames in [5000, 12_345, 65_536] {
                        let mut out = Audio::silence(2, plain.frames(), rate);
                        let deepest = segments((plain, gain), &mut out, &ceiling, frames);
                        assert!(
                            out == wanted.0 && deepest == wanted.1,
                            "{number} at {rate} Hz, {ceiling_db} dB: segments of {frames}"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn one_run_is_that_of_a_ceiling_that_gets_block_after_block() {
        for plain in awkward(48_000) {
            let mut ceiling = Ceiling::new(-1.0, 48_000, 2);
            let wanted = in_one_go((&plain, 1.5), &ceiling).0;
            let (latency, run_in) = (ceiling.latency(), ceiling.run_in());
            let mut out = plain.clone();
            let span = Whole::span(&plain);
            through(
                Some((&plain, 1.5)),
                &mut out,
                span,
                latency,
                run_in,
                |_, left, right| {
                    ceiling.process(&mut [left, right]);
                },
            );
            assert!(out == wanted);
        }
    }

    #[test]
    fn any_number_of_threads_gives_the_same_bits() {
        let long = stereo(beat(2.0).repeat(5), noise(1.1, 7, 480_000), 48_000);
        let on = |threads: usize| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            let mut out = Audio::silence(2, long.frames(), 48_000);
            let deepest = pool.install(|| limit((&long, 1.2), &mut out, -1.0, None));
            (out, deepest)
        };
        let one = on(1);
        assert!(one.1 > 3.0 && [2, 5].into_iter().all(|threads| on(threads) == one));
    }
}
