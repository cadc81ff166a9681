//! The ceiling: a look-ahead limiter on true peaks.
//!
//! True peaks are those between the frames too, found by reading the signal at eighths of a frame (ITU-R BS.1770-5 annex 2
//! asks for quarters). The gain that a peak needs is held over a window, released, and then averaged over that window
//! by two running means (so its weights are a triangle): a mean of gains that are each low enough is low
//! enough, and the signal waits until the mean has seen the whole peak. All of it in log2, so a deep cut is as smooth in dB as
//! a slight one. After P. Hämäläinen, "Smoothing of the control signal without clipped output in digital peak
//! limiters", DAFx 2002. [memory]
//!
//! Gains are whole numbers, in 2^-24 of a doubling: running means of them never drift, and where nothing is over the
//! signal passes bit for bit.

use std::ops::Range;

use super::compressor::keep;
use super::fading::Fading;
use super::sliding_maximum::SlidingMaximum;
use super::true_peaks::{Between, Peaks, REACH};
use crate::base::audio::highest;
use crate::base::fast_math::{LOG2_OF_DB, exp2, log2};
use crate::base::simd::{Work, wide};
use crate::mix::Effect;

/// Seconds that each of the two running means spans: together the look-ahead.
const MEAN: f64 = 0.0015;

/// Seconds in which the gain comes back to 37 % of its reduction in dB: short enough not to pump between hits, long
/// enough not to bend a bass note.
pub(crate) const RELEASE: f64 = 0.08;

/// Seconds in which the release has come to rest: seven times, as for the compressor.
pub(crate) const AT_REST: f64 = 7.0 * RELEASE;

/// Frames around a peak that get its whole gain, so that the reading between frames sees hardly any slope.
const GUARD: usize = 8;

/// Whole numbers to a doubling.
const ONE: f64 = 16_777_216.0;

/// dB by which what is over goes below the ceiling: for what lies between the eighths of a frame and for the slope.
pub(crate) const UNDER_DB: f64 = 0.1;

/// Frames that are followed, or passed over, at a time: so few that their lines stay in the cache.
const STRETCH: usize = 2048;

/// Frames by which one looks further back for what hides the past.
const LOOK: usize = 1024;

/// A running mean's sum: the last so many values.
#[derive(Debug, Clone)]
struct Sum {
    window: usize,
    sum: u64,
    /// The last values, as many as the window spans, and those of a run.
    line: Vec<u64>,
}

impl Sum {
    fn new(window: usize) -> Sum {
        Sum {
            window,
            sum: 0,
            line: vec![0; window],
        }
    }

    /// Puts in each value's place the sum of the last so many, it included.
    fn run(&mut self, values: &mut [u64]) {
        self.line.extend_from_slice(values);
        let mut sum = self.sum;
        for ((place, come), left) in values.iter_mut().zip(&self.line[self.window..]).zip(&self.line) {
            // What leaves is in the sum, so a difference below zero comes right again.
            sum = sum.wrapping_add(come.wrapping_sub(*left));
            *place = sum;
        }
        self.sum = sum;
        self.line.drain(..values.len());
    }
}

/// A look-ahead limiter on true peaks; all channels get the same gain.
#[derive(Debug, Clone)]
pub struct Ceiling {
    rate: u32,
    reader: LookAheadReader,
    follower: Follower,
    ahead: Ahead,
}

/// What finds the peaks of a block.
#[derive(Debug, Clone)]
struct LookAheadReader {
    ceiling: f32,
    between: Between,
    /// Frames of the past that each block's lines begin with.
    past: usize,
}

/// A block with the gain reduction that its peaks need.
#[derive(Debug, Clone)]
struct Ahead {
    /// Each channel's last frames and then the block's.
    lines: Vec<Vec<f32>>,
    /// Whole numbers, 0 where nothing is over.
    needs: Vec<u32>,
    peaks: Vec<f32>,
}

/// What turns peaks into gains, frame after frame.
#[derive(Debug, Clone)]
struct Follower {
    hold: SlidingMaximum,
    /// What a frame leaves of the release, in 2^-32.
    kept: u64,
    released: u32,
    means: [Sum; 2],
    sums: Vec<u64>,
    held: Vec<u32>,
    deepest: u64,
    gains: Vec<f32>,
}

impl Ceiling {
    /// A limiter at a ceiling in dBTP for a rate in Hz and a number of channels, at rest.
    pub fn new(ceiling_db: f64, rate: u32, channels: usize) -> Ceiling {
        let mean = (libm::round(MEAN * f64::from(rate)) as usize).max(1);
        let window = 2 * mean - 1;
        let past = (REACH + window - 1 + GUARD).max(2 * REACH);
        let mut ceiling = Ceiling {
            rate,
            reader: LookAheadReader {
                ceiling: 1.0,
                between: Between::new(),
                past,
            },
            follower: Follower {
                hold: SlidingMaximum::new(window + 2 * GUARD + 1),
                kept: (keep(RELEASE, rate) * 4_294_967_296.0) as u64,
                released: 0,
                means: [Sum::new(mean), Sum::new(mean)],
                sums: Vec::new(),
                held: Vec::new(),
                deepest: 0,
                gains: Vec::new(),
            },
            ahead: Ahead {
                lines: vec![vec![0.0; past]; channels],
                needs: Vec::new(),
                peaks: Vec::new(),
            },
        };
        ceiling.set(ceiling_db);
        ceiling
    }

    /// Changes the ceiling for peaks that come from here on; its state stays.
    pub fn set(&mut self, ceiling_db: f64) {
        self.reader.ceiling = (libm::exp10(ceiling_db / 20.0) as f32).max(f32::MIN_POSITIVE);
    }

    /// The factor by which each frame of the last block was multiplied, counted on the delayed signal: those that left.
    pub fn gains(&self) -> &[f32] {
        &self.follower.gains
    }

    /// The largest gain reduction so far in dB, 0 or more.
    pub fn deepest_db(&self) -> f64 {
        self.follower.deepest as f64 / self.follower.unit() / LOG2_OF_DB
    }

    /// Forgets the largest gain reduction, for instance after the run-in.
    pub fn reset_deepest(&mut self) {
        self.follower.deepest = 0;
    }

    /// Takes the next so many frames: `fill` is given each channel's number and its place. What leaves for them is what is
    /// [delayed](Self::delayed), times its [gains](Self::gains).
    pub(crate) fn take(&mut self, frames: usize, fill: impl FnMut(usize, &mut [f32])) {
        self.reader.take(&mut self.ahead, frames, fill);
        self.follower.follow(&self.ahead.needs);
    }

    /// A channel's frames that leave for the last so many that were taken.
    pub(crate) fn delayed(&self, channel: usize, frames: usize) -> &[f32] {
        let line = &self.ahead.lines[channel];
        &line[line.len() - frames - self.latency()..][..frames]
    }

    /// How many frames before one to begin, so that from there on all is as if it had begun long before: not nearly, but to
    /// the bit. `highest` is the largest sample that ever comes, and `look` tells that of frames counted back from there.
    ///
    /// What the far past has left in the release is bounded by what the highest sample could, and hidden by what is sure to
    /// be left of a nearer one that is over the ceiling; or it has faded.
    pub(crate) fn begin_before(&self, highest: f32, look: impl Fn(Range<usize>) -> f32) -> usize {
        // The means hold so many frames of the release, and a frame is read after so many more.
        let means = 2 * self.follower.means[0].window;
        let nearest = means + REACH;
        let fading = Fading::by(self.follower.kept);
        let most = self.reader.need((highest * self.reader.between.most()).min(f32::MAX));
        let mut hiding = 0.0_f64;
        let mut back = 0;
        loop {
            let next = back + LOOK;
            let need = self.reader.need(look(nearest + back..nearest + next));
            hiding = hiding.max(fading.at_least(need, next));
            back = next;
            // What is held fades from its end on.
            if fading.at_most(most, back.saturating_sub(self.follower.hold.window())) <= hiding {
                // The first readings look at frames that are not there.
                return means + back + 2 * REACH;
            }
        }
    }
}

impl LookAheadReader {
    /// Takes the frames after the last ones.
    fn take(&self, ahead: &mut Ahead, frames: usize, mut fill: impl FnMut(usize, &mut [f32])) {
        let Ahead { lines, needs, peaks } = ahead;
        for (channel, line) in lines.iter_mut().enumerate() {
            line.drain(..line.len() - self.past);
            line.resize(self.past + frames, 0.0);
            fill(channel, &mut line[self.past..]);
        }
        peaks.resize(frames, 0.0);
        wide(Peaks {
            between: &self.between,
            lines,
            at: self.past - REACH,
            ceiling: self.ceiling,
            peaks,
        });
        needs.clear();
        needs.resize(frames, 0);
        if wide(|| highest(peaks)) > self.ceiling {
            let places = needs.iter_mut().zip(peaks);
            places.for_each(|(need, peak)| *need = self.need(*peak));
        }
    }

    /// By how much the gain has to go down for a peak.
    fn need(&self, peak: f32) -> u32 {
        if peak <= self.ceiling {
            return 0;
        }
        let under = UNDER_DB * LOG2_OF_DB - log2(self.ceiling);
        libm::ceil((log2(peak) + under) * ONE) as u32
    }
}

impl Follower {
    /// What the second running sum gives for one doubling.
    fn unit(&self) -> f64 {
        let mean = self.means[0].window as f64;
        ONE * mean * mean
    }

    /// Turns what a block needs into its gains.
    fn follow(&mut self, needs: &[u32]) {
        let mut gains = std::mem::take(&mut self.gains);
        gains.resize(needs.len(), 1.0);
        let stretches = gains.chunks_mut(STRETCH).zip(needs.chunks(STRETCH));
        stretches.for_each(|(gains, needs)| self.stretch(needs, gains));
        self.gains = gains;
    }

    fn stretch(&mut self, needs: &[u32], gains: &mut [f32]) {
        let sums_rest = self.means.iter().all(|mean| mean.sum == 0);
        let rests = sums_rest && self.released == 0 && self.hold.is_zero();
        if rests && needs.iter().fold(0, |bits, need| bits | need) == 0 {
            return gains.fill(1.0);
        }
        self.held.clear();
        self.held.extend_from_slice(needs);
        self.hold.run(&mut self.held);
        let (mut released, kept) = (self.released, self.kept);
        self.sums.resize(needs.len(), 0);
        for (place, held) in self.sums.iter_mut().zip(&self.held) {
            let fallen = ((u64::from(released) * kept) >> 32) as u32;
            released = fallen.max(*held);
            *place = u64::from(released);
        }
        self.released = released;
        self.means.iter_mut().for_each(|mean| mean.run(&mut self.sums));
        self.deepest = self.sums.iter().fold(self.deepest, |most, sum| most.max(*sum));
        let scale = -1.0 / self.unit();
        wide(Gains {
            sums: &self.sums,
            scale,
            gains,
        });
    }
}

/// Makes gains of sums.
struct Gains<'a> {
    /// Below 2^52.
    sums: &'a [u64],
    scale: f64,
    gains: &'a mut [f32],
}

impl Work for Gains<'_> {
    type Made = ();

    #[inline(always)]
    fn work(self) {
        // 2^52: its bits with such a number in the lowest are the sum of both.
        const WHOLE: f64 = 4_503_599_627_370_496.0;
        for (gain, sum) in self.gains.iter_mut().zip(self.sums) {
            let sum = f64::from_bits(WHOLE.to_bits() | sum) - WHOLE;
            *gain = exp2((sum * self.scale) as f32);
        }
    }
}

impl Effect for Ceiling {
    fn latency(&self) -> usize {
        let window = 2 * self.follower.means[0].window - 1;
        REACH + window - 1 + GUARD
    }

    fn run_in(&self) -> usize {
        let release = libm::ceil(AT_REST * f64::from(self.rate)) as usize;
        release + self.follower.hold.window() + self.latency()
    }

    fn process(&mut self, block: &mut [&mut [f32]]) {
        let frames = block.first().map_or(0, |channel| channel.len());
        self.take(frames, |channel, place| place.copy_from_slice(block[channel]));
        for (number, channel) in block.iter_mut().enumerate() {
            apply(self.delayed(number, frames), self.gains(), channel);
        }
    }
}

/// Multiplies each frame by its gain.
pub(crate) fn apply(delayed: &[f32], gains: &[f32], out: &mut [f32]) {
    for ((out, x), gain) in out.iter_mut().zip(delayed).zip(gains) {
        *out = x * gain;
    }
}

#[cfg(test)]
#[path = "ceiling_tests.rs"]
mod tests;
