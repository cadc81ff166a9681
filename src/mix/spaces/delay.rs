//! Echoes: a delay line whose filters and feedback lie in the loop, so that each echo has been through them once more
//! than the one before it.

use rayon::prelude::*;

use super::convolution::{Shape, take_circle, take_line};
use crate::base::simd::{Work, wide};
use crate::base::stages::{each, join};
use crate::base::windowed_sinc::{kaiser, sinc};
use crate::loopfile::Delay;
use crate::mix::Effect;
use crate::mix::strip::filter::{Curve, Filter, chain};

/// Half the length of the interpolator, in frames: flat within 0.01 dB to 0.4 of the rate.
const HALF_SINC: usize = 16;

/// The interpolator's Kaiser window.
const KAISER_BETA: f64 = 8.0;

/// A delay is this near to a whole frame when it needs no interpolation.
const WHOLE: f64 = 1e-6;

/// Frames that are worked on at once, at the most.
const BLOCK: usize = 16_384;

/// Frames of a block that are read from the line in one piece: pieces go side by side.
const PIECE: usize = 4096;

/// Feedback is kept below this, so that a circle has a steady state that can be reached.
const MOST_FEEDBACK: f64 = 0.999;

/// Seconds for which echoes are run in before a repeating loop's first frame, at the most. Echoes that take up to eight minutes to
/// fall by 100 dB are exact by then.
pub const LONGEST_RUN_IN: f64 = 600.0;

/// What falls below this amplitude (-300 dBFS) is silence: slow numbers never build up in the loop.
const SILENT: f32 = 1e-15;

/// Puts `gain` times the echoes of a send in the send's place.
///
/// The first echo comes after the delay's time at level 1, having been through its filters once. With `cross` the send
/// is folded to mono, (L + R)/√2, and its echoes come from the left, the right, the left and so on.
///
/// On a circle this is the steady state: the delay is run in over the send's end until what is left out lies below
/// -120 dB, or for [`LONGEST_RUN_IN`]. On a line the send begins from silence; give it silence behind it to hold the ring. Both sides are equally
/// long.
pub fn answer(delay: &Delay, rate: u32, sides: &mut [Vec<f32>; 2], shape: Shape, gain: f32) {
    if delay.cross {
        return answer_together(delay, rate, sides, shape, gain);
    }
    // Neither side hears the other.
    let alone = |side: &mut Vec<f32>| answer_together(delay, rate, std::slice::from_mut(side), shape, gain);
    let [left, right] = sides;
    join(("echoes", || alone(left)), ("echoes", || alone(right)));
}

/// Does so for one side or, with `cross`, for both.
fn answer_together(delay: &Delay, rate: u32, sides: &mut [Vec<f32>], shape: Shape, gain: f32) {
    let frames = sides[0].len();
    if frames == 0 {
        return;
    }
    let mut echoes = Echoes::new(delay, rate, sides.len());
    let mut at = match shape {
        Shape::Circle => -(echoes.run_in(delay, rate) as isize),
        Shape::Line => 0,
    };
    let mut dry = vec![vec![0.0; echoes.block]; sides.len()];
    while at < frames as isize {
        let to_edge = if at < 0 {
            at.unsigned_abs()
        } else {
            frames - at as usize
        };
        let run = echoes.block.min(to_edge);
        // All of the run-in is read before the first frame is written, and from there on no block repeats.
        for (side, dry) in sides.iter().zip(&mut dry) {
            dry.resize(run, 0.0);
            match shape {
                Shape::Circle => take_circle(side, at, dry),
                Shape::Line => take_line(side, at, dry),
            }
        }
        let wet = echoes.turn(&mut dry);
        if let Ok(first) = usize::try_from(at) {
            for (side, wet) in sides.iter_mut().zip(wet) {
                for (out, wet) in side[first..first + run].iter_mut().zip(wet) {
                    *out = gain * wet;
                }
            }
        }
        at += run as isize;
    }
}

/// Seconds until the echoes of what was sent have fallen by 100 dB.
pub fn ring_seconds(delay: &Delay) -> f64 {
    // A Butterworth cut at f falls 100 dB in ln(10^5)/(√2·π·f) seconds.
    let cut = delay.low_cut.map_or(0.0, |hertz| 2.6 / hertz.max(1.0));
    count(delay.feedback, 100.0) * delay.time + cut
}

/// Echoes until they have fallen by `db`.
fn count(feedback: f64, db: f64) -> f64 {
    if feedback <= 0.0 {
        return 1.0;
    }
    let fall = -20.0 * libm::log10(feedback.min(MOST_FEEDBACK));
    (db / fall).ceil() + 1.0
}

/// A delay at work, on one side or on two that cross.
struct Echoes {
    lines: Vec<DelayLine>,
    wet: Vec<Vec<f32>>,
    filters: Vec<Filter>,
    feedback: f32,
    /// Frames that can be worked on at once: none of them may hear another.
    block: usize,
    frames: f64,
}

impl Echoes {
    fn new(delay: &Delay, rate: u32, sides: usize) -> Echoes {
        let frames = (delay.time * f64::from(rate)).max(1.0);
        let reader = TapReader::new(frames);
        let block = (reader.newest + 1).min(BLOCK);
        let cuts = [delay.low_cut.map(Curve::LowCut), delay.high_cut.map(Curve::HighCut)];
        Echoes {
            lines: (0..sides).map(|_| DelayLine::new(reader.clone())).collect(),
            wet: vec![Vec::new(); sides],
            filters: cuts
                .into_iter()
                .flatten()
                .map(|curve| Filter::new(&curve, rate, sides))
                .collect(),
            feedback: delay.feedback.clamp(0.0, MOST_FEEDBACK) as f32,
            block,
            frames,
        }
    }

    /// Frames after which a beginning from silence is forgotten, to below -120 dB, if that is no more than [`LONGEST_RUN_IN`].
    fn run_in(&self, delay: &Delay, rate: u32) -> usize {
        let echoes = count(delay.feedback, 120.0) * (self.frames + HALF_SINC as f64);
        let exact = echoes as usize + self.filters.iter().map(Effect::run_in).sum::<usize>();
        exact.min((LONGEST_RUN_IN * f64::from(rate)) as usize)
    }

    /// Takes one block of the send, which it uses up, and gives the echoes that sound meanwhile.
    fn turn(&mut self, dry: &mut [Vec<f32>]) -> &[Vec<f32>] {
        for ((line, wet), dry) in self.lines.iter().zip(&mut self.wet).zip(&*dry) {
            wet.resize(dry.len(), 0.0);
            line.read(wet);
        }
        let mut block: Vec<&mut [f32]> = self.wet.iter_mut().map(|wet| &mut wet[..]).collect();
        chain(self.filters.iter_mut(), &mut block);
        if let [left, right] = dry {
            for (l, r) in left.iter_mut().zip(right) {
                *l = (*l + *r) * std::f32::consts::FRAC_1_SQRT_2;
                *r = 0.0;
            }
        }
        // What crosses comes back on the other side.
        let crossed = self.wet.iter().rev();
        for ((line, dry), echo) in self.lines.iter_mut().zip(dry).zip(crossed) {
            line.write(dry, echo, self.feedback);
        }
        &self.wet
    }
}

/// How a delay line is read: a sinc under a Kaiser window, or a single tap.
#[derive(Clone)]
struct TapReader {
    /// Weights, the oldest frame's first.
    taps: Vec<f32>,
    /// Frames back to the newest frame that is read, counted from the last one written.
    newest: usize,
}

impl TapReader {
    /// For a delay of at least one frame.
    fn new(frames: f64) -> TapReader {
        let nearest = frames.round();
        if (frames - nearest).abs() < WHOLE {
            return TapReader {
                taps: vec![1.0],
                newest: nearest as usize - 1,
            };
        }
        let whole = frames.floor() as usize;
        let half = HALF_SINC.min(whole);
        // The place that is read lies `place` frames after the last of the older half.
        let place = 1.0 - (frames - frames.floor());
        let weights: Vec<f64> = (0..2 * half)
            .map(|tap| {
                let x = tap as f64 - (half - 1) as f64 - place;
                sinc(x) * kaiser(x / half as f64, KAISER_BETA)
            })
            .collect();
        let sum: f64 = weights.iter().sum();
        TapReader {
            taps: weights.iter().map(|weight| (weight / sum) as f32).collect(),
            newest: whole - half,
        }
    }
}

/// A delay line: as much of what was written as its reader looks back to.
struct DelayLine {
    reader: TapReader,
    past: Vec<f32>,
    end: usize,
    reach: usize,
}

impl DelayLine {
    fn new(reader: TapReader) -> DelayLine {
        let reach = reader.newest + reader.taps.len();
        DelayLine {
            reader,
            past: vec![0.0; 2 * reach + 2 * BLOCK],
            end: reach,
            reach,
        }
    }

    /// The next frames, delayed. No more than `newest + 1` of them, or they would hear what isn't written yet.
    fn read(&self, into: &mut [f32]) {
        let pieces = into.par_chunks_mut(PIECE).enumerate();
        each("taps", pieces, |(number, into)| self.read_piece(number * PIECE, into));
    }

    fn read_piece(&self, from: usize, into: &mut [f32]) {
        let from = self.end - self.reach + from;
        match &self.reader.taps[..] {
            [_] => into.copy_from_slice(&self.past[from..from + into.len()]),
            taps => {
                into.fill(0.0);
                let mut old = from;
                for four in taps.chunks_exact(4) {
                    let past = &self.past[old..old + into.len() + 3];
                    wide(Four { into, past, taps: four });
                    old += 4;
                }
                for tap in taps.chunks_exact(4).remainder() {
                    for (sum, past) in into.iter_mut().zip(&self.past[old..]) {
                        *sum += tap * past;
                    }
                    old += 1;
                }
            }
        }
    }

    /// Writes the send and what comes back of the echoes.
    fn write(&mut self, dry: &[f32], echo: &[f32], feedback: f32) {
        if self.end + dry.len() > self.past.len() {
            self.past.copy_within(self.end - self.reach..self.end, 0);
            self.end = self.reach;
        }
        let room = &mut self.past[self.end..self.end + dry.len()];
        for ((past, dry), echo) in room.iter_mut().zip(dry).zip(echo) {
            let sum = dry + feedback * echo;
            *past = if sum.abs() < SILENT { 0.0 } else { sum };
        }
        self.end += dry.len();
    }
}

/// Adds four neighbouring taps at once, which spares reading and writing the sum three times.
struct Four<'a> {
    into: &'a mut [f32],
    past: &'a [f32],
    taps: &'a [f32],
}

impl Work for Four<'_> {
    type Made = ();

    #[inline(always)]
    fn work(self) {
        let Four { into, past, taps } = self;
        let frames = into.len();
        let [a, b, c, d] = [0, 1, 2, 3].map(|tap| &past[tap..tap + frames]);
        for (frame, sum) in into.iter_mut().enumerate() {
            *sum += (taps[0] * a[frame] + taps[1] * b[frame]) + (taps[2] * c[frame] + taps[3] * d[frame]);
        }
    }
}

#[cfg(test)]
#[path = "delay_tests.rs"]
mod tests;
