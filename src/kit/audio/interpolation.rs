//! Reading a sound between its frames, for any speed.
//!
//! In two steps, so that many speeds share the costly one. A long windowed sinc takes out what would pass the Nyquist frequency, and
//! gives two frames or more for each that the band left would need. Half of the band of that is empty, so a short sinc reads it at any
//! place.

use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::{LazyLock, Mutex, PoisonError};

use rubato::{WindowFunction, calculate_cutoff};

use crate::base::simd::{Work, wide};
use crate::base::windowed_sinc::{KaiserWindow, sinc};

/// Speeds above the input's own that lie within a hundredth of each other share a long sinc, which is that of the fastest.
const STEPS: i64 = 100;

/// Taps of the short sinc on either side.
const REACH: usize = 12;

/// Points between two frames at which the short sinc is tabled; a straight line goes through them. Its error is (π / 2 / points)² / 8 at
/// the end of the band, -118 dB.
const POINTS: usize = 512;

/// The short sinc's window: with 24 taps, nothing of a quarter of the rate or below is off by more than -147 dB.
const BETA: f64 = 16.0;

/// Frames that are made at a time of a sound that is read at one speed only.
const PART: usize = 16_384;

/// One row of the short sinc's table: what the frames around a place weigh, the first `REACH - 1` before it.
type Row = [f32; 2 * REACH];

/// The short sinc, from a place on a frame to one on the next.
static SHORT: LazyLock<Vec<Row>> = LazyLock::new(short);

/// Some frames of each channel, read `speed` input frames apart; frame 0 is the input's first. `taps` is the long sinc's length at the
/// input's own speed.
///
/// Faster than that a sound must lose what would pass the Nyquist frequency, so the sinc grows longer with the speed.
pub(crate) fn read(channels: &[Vec<f32>], speed: f64, frames: Range<usize>, taps: usize) -> Vec<Vec<f32>> {
    let band = Band::of(speed);
    let low_pass = LowPass::new(band, taps);
    let mut made = vec![Vec::with_capacity(frames.len()); channels.len()];
    for start in frames.clone().step_by(PART) {
        let part = start..frames.end.min(start + PART);
        let limited = low_pass.limited(channels, band.read_for(speed, &part));
        for (made, read) in made.iter_mut().zip(limited.read(speed, part)) {
            made.extend(read);
        }
    }
    made
}

/// Which of a sound's frequencies are left so that it can be read at some speeds: those below the Nyquist frequency, divided by the
/// fastest of these speeds, which stands here in hundredths.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Band(i64);

impl Band {
    pub(crate) fn of(speed: f64) -> Band {
        Band((speed.max(1.0) * STEPS as f64).ceil() as i64)
    }

    /// Halves of an input frame from one frame of the limited sound to the next: its rate is four times the band's end or more.
    fn halves(self) -> i64 {
        self.0 / STEPS
    }

    /// The frames of the limited sound that are needed to read from one place in the input to another.
    pub(crate) fn around(self, first: f64, last: f64) -> Range<i64> {
        self.step(first) as i64 + 1 - REACH as i64..self.step(last) as i64 + REACH as i64 + 1
    }

    /// Frames of the limited sound from one frame that is read to the next, or to so many input frames.
    #[inline(always)]
    fn step(self, speed: f64) -> f64 {
        speed * 2.0 / self.halves() as f64
    }

    /// The frames of the limited sound that are needed to read some frames, of which there is one or more.
    pub(crate) fn read_for(self, speed: f64, frames: &Range<usize>) -> Range<i64> {
        let whole = |frame: usize| (frame as f64 * self.step(speed)) as i64;
        let last = frames.end.max(frames.start + 1) - 1;
        whole(frames.start) + 1 - REACH as i64..whole(last) + REACH as i64 + 1
    }
}

/// The long sinc.
pub(crate) struct LowPass {
    band: Band,
    /// Taps on either side.
    reach: i64,
    /// What the frames around a place weigh, the first `reach - 1` before it: for one on a frame, and for one midway between two.
    taps: [Vec<f32>; 2],
}

impl LowPass {
    /// `taps` is its length at the input's own speed.
    pub(crate) fn new(band: Band, taps: usize) -> LowPass {
        let window = WindowFunction::Blackman2;
        let longer = band.0 as f64 / STEPS as f64;
        let cut = f64::from(calculate_cutoff::<f32>(taps, window)) / longer;
        let reach = ((taps as f64 * longer) as usize).next_multiple_of(8) as i64 / 2;
        let weight = |halves: i64| {
            let place = halves as f64 / 2.0;
            sinc(cut * place) * squared_blackman(place / reach as f64)
        };
        let midway: Vec<f64> = (1 - reach..=reach).map(|tap| weight(2 * tap - 1)).collect();
        let on_frame: Vec<f64> = (1 - reach..=reach).map(|tap| weight(2 * tap)).collect();
        let sum = weighed(band, taps, reach as usize, cut as f32);
        let scaled = |taps: Vec<f64>| taps.into_iter().map(|tap| (tap / sum) as f32).collect();
        LowPass {
            band,
            reach,
            taps: [scaled(on_frame), scaled(midway)],
        }
    }

    /// Some frames of a sound without what lies above the band. The same to the bit, whichever are asked for.
    pub(crate) fn limited(&self, channels: &[Vec<f32>], frames: Range<i64>) -> Limited {
        let limit = |channel: &Vec<f32>| {
            let mut made = vec![0.0; (frames.end - frames.start) as usize];
            // Every frame falls on one of the input or every other one does, midway between two.
            let apart = if self.band.halves() % 2 == 0 { 1 } else { 2 };
            for first in 0..apart.min(made.len()) {
                self.limit(channel, frames.start + first as i64, apart, &mut made[first..]);
            }
            made
        };
        Limited {
            band: self.band,
            first: frames.start,
            channels: channels.iter().map(limit).collect(),
        }
    }

    /// Makes one frame and every one that lies so many after it.
    fn limit(&self, channel: &[f32], first: i64, apart: usize, made: &mut [f32]) {
        let halves = first * self.band.halves();
        let (from, taps) = ((halves >> 1) + 1 - self.reach, &self.taps[(halves & 1) as usize]);
        let stride = apart * self.band.halves() as usize / 2;
        let count = made.len().div_ceil(apart);
        let needed = count.next_multiple_of(TOGETHER) + taps.len().div_ceil(stride);
        let wave = padded(channel, from..from + (needed * stride) as i64);
        let waves: Vec<Vec<f32>> = (0..stride)
            .map(|first| wave[first..].iter().step_by(stride).copied().collect())
            .collect();
        let mut sums = vec![0.0; count];
        wide(Sums {
            taps,
            waves: &waves,
            made: &mut sums,
        });
        made.iter_mut()
            .step_by(apart)
            .zip(sums)
            .for_each(|(made, sum)| *made = sum);
    }
}

/// What the long sinc weighs, for the division by it.
///
/// Taken point by point in single precision, where it strays by up to 1e-5: the level that repitched sounds have always had, to
/// the last bit or so, so that a loop nulls with what was rendered of it earlier. Costs a millisecond and is kept therefore.
fn weighed(band: Band, taps: usize, reach: usize, cut: f32) -> f64 {
    static WEIGHED: Mutex<BTreeMap<(Band, usize), f64>> = Mutex::new(BTreeMap::new());
    let points = (POINTS as u64 * STEPS as u64).div_ceil(band.0 as u64) as usize;
    let points = points.next_power_of_two();
    let sum = || {
        let weight = |point: usize| {
            let turn = point as f32 * cut / points as f32 * std::f32::consts::PI;
            let sinc = if point == 0 { 1.0 } else { libm::sinf(turn) / turn };
            sinc * squared_blackman(point as f64 / (reach * points) as f64) as f32
        };
        let half: Vec<f32> = (0..=reach * points).map(weight).collect();
        let whole = half.iter().rev().chain(&half[1..half.len() - 1]).sum::<f32>();
        f64::from(whole / points as f32)
    };
    // What a thread that panicked left behind is still whole.
    let mut weighed = WEIGHED.lock().unwrap_or_else(PoisonError::into_inner);
    *weighed.entry((band, taps)).or_insert_with(sum)
}

/// Blackman's window, squared, from -1 to 1.
fn squared_blackman(place: f64) -> f64 {
    let cosine = libm::cos(std::f64::consts::PI * place);
    // 0.42 + 0.5 cos(πx) + 0.08 cos(2πx).
    let window = 0.34 + 0.5 * cosine + 0.16 * cosine * cosine;
    window * window
}

/// Some frames of a channel, silence where it has none.
fn padded(channel: &[f32], frames: Range<i64>) -> Vec<f32> {
    let within = |frame: i64| frame.clamp(0, channel.len() as i64);
    let there = within(frames.start)..within(frames.end);
    let mut padded = vec![0.0; (frames.end - frames.start) as usize];
    if !there.is_empty() {
        let lead = (there.start - frames.start) as usize;
        let there = &channel[there.start as usize..there.end as usize];
        padded[lead..lead + there.len()].copy_from_slice(there);
    }
    padded
}

/// Sums of all taps at places that lie `stride` frames apart.
struct Sums<'a> {
    taps: &'a [f32],
    /// Every `stride`th frame from the first sum's taps on, from the one after it on, and so on: one for each in a stride.
    waves: &'a [Vec<f32>],
    made: &'a mut [f32],
}

/// Sums that are taken side by side.
const TOGETHER: usize = 32;

impl Work for Sums<'_> {
    type Made = ();

    #[inline(always)]
    fn work(self) {
        let stride = self.waves.len();
        for (number, made) in self.made.chunks_mut(TOGETHER).enumerate() {
            let mut sums = [0.0; TOGETHER];
            for (first, wave) in self.waves.iter().enumerate() {
                let wave = &wave[number * TOGETHER..];
                for (tap, weight) in self.taps[first..].iter().step_by(stride).enumerate() {
                    let frames: &[f32; TOGETHER] = wave[tap..].first_chunk().expect("as long as its last sums need");
                    for (sum, frame) in sums.iter_mut().zip(frames) {
                        *sum += weight * frame;
                    }
                }
            }
            made.copy_from_slice(&sums[..made.len()]);
        }
    }
}

#[inline(always)]
fn total(lanes: [f32; 8]) -> f32 {
    let [a, b, c, d, e, f, g, h] = lanes;
    ((a + e) + (c + g)) + ((b + f) + (d + h))
}

/// Some frames of a sound that has lost what lies above a band, two or more for each that the band needs.
pub(crate) struct Limited {
    band: Band,
    /// The number of the first of them.
    first: i64,
    channels: Vec<Vec<f32>>,
}

impl Limited {
    /// Some frames of each channel, read `speed` input frames apart.
    ///
    /// # Panics
    /// Where what [`Band::read_for`] gives for them is not here.
    pub(crate) fn read(&self, speed: f64, frames: Range<usize>) -> Vec<Vec<f32>> {
        let read = |channel: &Vec<f32>| {
            let mut made = vec![0.0; frames.len()];
            wide(Read {
                channel,
                before: REACH as i64 - 1 + self.first,
                step: self.band.step(speed),
                frames: frames.clone(),
                short: &SHORT,
                made: &mut made,
            });
            made
        };
        self.channels.iter().map(read).collect()
    }

    /// Adds to a run of frames of each channel what lies at some places, each in input frames and with its share, in the order of time.
    ///
    /// # Panics
    /// Where what [`Band::around`] gives for them is not here.
    pub(crate) fn add(&self, places: &[(f64, f32)], made: &mut [&mut [f32]]) {
        for (channel, made) in self.channels.iter().zip(made) {
            wide(Add {
                channel,
                before: REACH as i64 - 1 + self.first,
                band: self.band,
                places,
                short: &SHORT,
                made,
            });
        }
    }
}

/// Adds what lies at some places of a channel.
struct Add<'a> {
    channel: &'a [f32],
    /// As for [`Read`].
    before: i64,
    band: Band,
    places: &'a [(f64, f32)],
    short: &'a [Row],
    made: &'a mut [f32],
}

impl Work for Add<'_> {
    type Made = ();

    #[inline(always)]
    fn work(self) {
        for ((place, share), made) in self.places.iter().zip(self.made) {
            *made += share * at(self.channel, self.band.step(*place), self.before, self.short);
        }
    }
}

/// What lies at a place of a channel that begins so many frames later than the first tap of place 0.
#[inline(always)]
fn at(channel: &[f32], place: f64, before: i64, short: &[Row]) -> f32 {
    let whole = place as i64;
    let point = (place - whole as f64) * POINTS as f64;
    let row = point as usize;
    let share = (point - row as f64) as f32;
    let from = (whole - before) as usize;
    let wave = &channel[from..from + 2 * REACH];
    let (here, next) = (&short[row], &short[row + 1]);
    let mut lanes = [0.0; 8];
    for eight in (0..2 * REACH).step_by(8) {
        for (lane, sum) in lanes.iter_mut().enumerate() {
            let tap = eight + lane;
            *sum += (here[tap] + share * (next[tap] - here[tap])) * wave[tap];
        }
    }
    total(lanes)
}

/// Reads some frames of a channel.
struct Read<'a> {
    channel: &'a [f32],
    /// The channel begins so many frames later than the first tap of frame 0.
    before: i64,
    step: f64,
    frames: Range<usize>,
    short: &'a [Row],
    made: &'a mut [f32],
}

impl Work for Read<'_> {
    type Made = ();

    #[inline(always)]
    fn work(self) {
        for (frame, made) in self.frames.zip(self.made) {
            *made = at(self.channel, frame as f64 * self.step, self.before, self.short);
        }
    }
}

/// The second half of the table is the first one turned round.
fn short() -> Vec<Row> {
    let kaiser = KaiserWindow::new(BETA);
    let row = |row: usize| {
        let share = row as f64 / POINTS as f64;
        let sine = libm::sin(std::f64::consts::PI * share) / std::f64::consts::PI;
        let weight = |tap: usize| {
            let place = tap as f64 - (REACH - 1) as f64 - share;
            // sin(πx) is that of the share, its sign changing from tap to tap.
            let sign = if tap % 2 == REACH % 2 { 1.0 } else { -1.0 };
            let sinc = if place == 0.0 { 1.0 } else { sign * sine / place };
            (sinc * kaiser.at(place / REACH as f64)) as f32
        };
        std::array::from_fn(weight)
    };
    let mut rows: Vec<Row> = (0..=POINTS / 2).map(row).collect();
    for turned in (0..POINTS / 2).rev() {
        let mut row = rows[turned];
        row.reverse();
        rows.push(row);
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::windowed_sinc::kaiser;

    #[test]
    fn the_short_sinc_is_a_sinc_under_its_window() {
        for (row, weights) in SHORT.iter().enumerate() {
            for (tap, weight) in weights.iter().enumerate() {
                let place = tap as f64 - (REACH - 1) as f64 - row as f64 / POINTS as f64;
                let exact = sinc(place) * kaiser(place / REACH as f64, BETA);
                assert!(
                    (f64::from(*weight) - exact).abs() < 6e-8,
                    "row {row}, tap {tap}: {weight}, {exact}"
                );
            }
        }
        assert_eq!(SHORT.len(), POINTS + 1);
    }

    #[test]
    fn a_sound_in_parts_is_the_sound() {
        let wave = [(0..3_000).map(|n| libm::sinf(n as f32 * n as f32 * 1e-4)).collect()];
        for speed in [0.07, 0.97, 1.0, 1.003, 1.7, 3.4, 15.9] {
            let whole = &read(&wave, speed, 0..900, 160)[0];
            let part = &read(&wave, speed, 137..800, 160)[0];
            assert!(whole[137..800] == part[..], "{speed}");
            let band = Band::of(speed);
            let shared = LowPass::new(band, 160).limited(&wave, -50..40_000);
            assert!(*whole == shared.read(speed, 0..900)[0], "{speed}");
        }
    }
}
