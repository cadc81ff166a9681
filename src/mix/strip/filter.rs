//! Low cut, high cut and bells, as their analogue prototypes are.
//!
//! The prototypes: second-order Butterworth cuts, and the bell of R. Bristow-Johnson, "Cookbook formulae for audio equalizer biquad
//! filter coefficients", H(s) = (s² + s·A/Q + 1) / (s² + s/(A·Q) + 1), with 1/Q = 2·sinh(ln 2 / 2 · octaves). They mean what they say
//! up to 0.4 of any rate; see [`super::matched`]. Sections run as a transposed direct form II with 64-bit state, which stays well-behaved
//! while their settings are swept.

use std::f64::consts::TAU;

use super::matched;
use super::section::Section;
use crate::loopfile::{Bell, HIGHEST_CENTRE};
use crate::mix::Effect;

/// The lowest frequency of a cut or bell, in Hz.
const LOWEST: f64 = 0.1;

/// The highest frequency of a cut, as a multiple of the rate: far above any that can be asked for.
const HIGHEST_CUT: f64 = 100.0;

/// Frames from one look at the state to the next. Counted along the signal, so cuts into blocks don't show.
const LOOK: usize = 64;

/// State below this is taken for silence, long before it reaches the slow denormal numbers.
const SILENT: f64 = 1e-30;

/// What a [`Filter`] does to the spectrum.
#[derive(Debug, Clone, PartialEq)]
pub enum Curve {
    /// Takes away what lies below a frequency in Hz: second-order Butterworth, -3.01 dB there, 12 dB an octave.
    LowCut(f64),
    /// Takes away what lies above a frequency in Hz, likewise.
    HighCut(f64),
    /// Raises or lowers around a centre; see [`Bell`].
    Bell(Bell),
}

impl Curve {
    /// The two sections that have this curve at a rate in Hz; the second changes nothing where one does it.
    ///
    /// A low cut at or below 0 Hz is off. Cuts may lie above half the rate: what is left of them below still holds. A bell's centre
    /// is kept below [`HIGHEST_CENTRE`], above which renders are refused.
    pub fn sections(&self, rate: u32) -> [Section; 2] {
        let rate = f64::from(rate);
        let angle = |hz: f64, highest: f64| TAU * (hz / rate).clamp(LOWEST / rate, highest);
        match self {
            Curve::LowCut(hz) if *hz <= 0.0 => [Section::PLAIN; 2],
            Curve::LowCut(hz) => matched::low_cut(angle(*hz, HIGHEST_CUT)),
            Curve::HighCut(hz) => matched::high_cut(angle(*hz, HIGHEST_CUT)),
            Curve::Bell(bell) => matched::bell(angle(bell.at, HIGHEST_CENTRE), bell.gain_db, bell.width),
        }
    }

    /// The factor by which it changes the amplitude of a steady sine of `hz` at a rate in Hz.
    pub fn gain_at(&self, hz: f64, rate: u32) -> f64 {
        let [one, other] = self.sections(rate);
        one.gain_at(hz, rate) * other.gain_at(hz, rate)
    }

    /// The highest amplitude that a full-scale sine can come out with, and what of it can be a ring.
    fn most(&self) -> (f64, f64) {
        match self {
            Curve::Bell(bell) => {
                let gain = libm::exp10(bell.gain_db / 20.0);
                (gain.max(1.0), (gain - 1.0).abs())
            }
            _ => (1.0, 1.0),
        }
    }
}

/// A section at work.
#[derive(Debug, Clone)]
struct RunningSection {
    section: Section,
    state: Vec<[f64; 2]>,
    until_look: usize,
}

impl RunningSection {
    fn new(section: Section, channels: usize) -> RunningSection {
        RunningSection {
            section,
            state: vec![[0.0; 2]; channels],
            until_look: LOOK,
        }
    }

    /// Has done so many frames; now and then it looks for a tail that nobody hears.
    fn look(&mut self, frames: usize) {
        self.until_look -= frames;
        if self.until_look > 0 {
            return;
        }
        self.until_look = LOOK;
        for value in self.state.iter_mut().flatten() {
            if value.abs() < SILENT {
                *value = 0.0;
            }
        }
    }

    /// True while it changes nothing.
    fn rests(&self) -> bool {
        self.section == Section::PLAIN && self.state.iter().flatten().all(|value| *value == 0.0)
    }
}

/// A low cut, a high cut or a bell on one strip.
#[derive(Debug, Clone)]
pub struct Filter {
    stages: [RunningSection; 2],
    rate: u32,
    most: (f64, f64),
}

impl Filter {
    /// A filter for a rate in Hz and a number of channels, at rest.
    pub fn new(curve: &Curve, rate: u32, channels: usize) -> Filter {
        Filter {
            stages: curve
                .sections(rate)
                .map(|section| RunningSection::new(section, channels)),
            rate,
            most: curve.most(),
        }
    }

    /// Changes what it does from the next frame on; its state stays.
    pub fn set(&mut self, curve: &Curve) {
        let sections = curve.sections(self.rate);
        self.stages
            .iter_mut()
            .zip(sections)
            .for_each(|(stage, section)| stage.section = section);
        self.most = curve.most();
    }
}

/// Frames after which filters one after another have forgotten where they began, to below -120 dB of full scale.
///
/// Each by itself takes until its outermost pole has let its ring fall so far. One after another they take no longer than all that in
/// turn. Nor longer than this, which is less where many ring: their responses, weighted with a rising exponential,
/// together sum to no more than the product of each one's sum (Hölder), so the whole falls nearly as the slowest alone.
pub(crate) fn run_in<'a>(filters: impl Iterator<Item = &'a Filter>) -> usize {
    /// The share of the slowest decay that the weight takes up.
    const WEIGHT: f64 = 0.9;
    /// The sum of a second-order response is at most five times its peak over frequencies (S. Boyd, J. Doyle, "Comparison of
    /// peak and RMS gains for discrete-time systems", 1987), and the weight raises that peak by up to ten.
    const SUM: f64 = 50.0;
    let (mut in_turn, mut slowest, mut sums) = (0, 0.0_f64, -libm::log(1e-6));
    for filter in filters {
        let (most, ring) = filter.most;
        for (stage, ring) in filter.stages.iter().zip([ring, 1.0]) {
            // 20 dB more than asked, since poles that lie close together first rise before they fall.
            let fall = libm::log(1e-7 / ring);
            let radius = stage.section.radius();
            if stage.section == Section::PLAIN || fall >= 0.0 {
                continue;
            }
            if radius > 0.0 {
                in_turn += libm::ceil(fall / libm::log(radius)) as usize;
            }
            in_turn += 2;
            slowest = slowest.max(radius);
            sums += libm::log(SUM * most);
        }
    }
    if slowest <= 0.0 {
        return in_turn;
    }
    in_turn.min(libm::ceil(sums / (WEIGHT * -libm::log(slowest))) as usize + 2)
}

/// Sends a block through filters, one after another: the same bits as one by one, but two of their sections at a time go through it
/// side by side, since a section mostly waits for its own last frame.
pub(crate) fn chain<'a>(filters: impl Iterator<Item = &'a mut Filter>, block: &mut [&mut [f32]]) {
    let mut stages = filters
        .flat_map(|filter| &mut filter.stages)
        .filter(|stage| !stage.rests());
    while let Some(one) = stages.next() {
        match stages.next() {
            Some(other) => through([one, other], block),
            None => through([one], block),
        }
    }
}

fn states<const N: usize>(stages: &[&mut RunningSection; N], channel: usize) -> [[f64; 2]; N] {
    stages.each_ref().map(|stage| stage.state[channel])
}

fn set_states<const N: usize>(stages: &mut [&mut RunningSection; N], channel: usize, states: [[f64; 2]; N]) {
    for (stage, state) in stages.iter_mut().zip(states) {
        stage.state[channel] = state;
    }
}

/// Sends a block through some sections in one loop.
fn through<const N: usize>(mut stages: [&mut RunningSection; N], block: &mut [&mut [f32]]) {
    let frames = block.first().map_or(0, |channel| channel.len());
    let sections = stages.each_ref().map(|stage| stage.section);
    let step = |states: &mut [[f64; 2]; N], sample: &mut f32| {
        for (section, state) in sections.iter().zip(states) {
            *sample = narrow(section.step(state, f64::from(*sample)));
        }
    };
    let mut from = 0;
    while from < frames {
        let until_look = stages.iter().map(|stage| stage.until_look).min();
        let to = until_look.map_or(frames, |until| frames.min(from + until));
        match &mut *block {
            // Both sides in one loop: each waits for its own last frame, so the two overlap.
            [left, right] => {
                let (mut of_left, mut of_right) = (states(&stages, 0), states(&stages, 1));
                for (l, r) in left[from..to].iter_mut().zip(&mut right[from..to]) {
                    step(&mut of_left, l);
                    step(&mut of_right, r);
                }
                set_states(&mut stages, 0, of_left);
                set_states(&mut stages, 1, of_right);
            }
            channels => {
                for (number, channel) in channels.iter_mut().enumerate() {
                    let mut own = states(&stages, number);
                    channel[from..to].iter_mut().for_each(|sample| step(&mut own, sample));
                    set_states(&mut stages, number, own);
                }
            }
        }
        stages.iter_mut().for_each(|stage| stage.look(to - from));
        from = to;
    }
}

impl Effect for Filter {
    fn run_in(&self) -> usize {
        run_in(std::iter::once(self))
    }

    fn process(&mut self, block: &mut [&mut [f32]]) {
        chain(std::iter::once(self), block);
    }
}

/// To 32 bits, at the largest number and not at infinity where it's too large for them.
#[inline(always)]
pub(crate) fn narrow(value: f64) -> f32 {
    value.clamp(f64::from(f32::MIN), f64::from(f32::MAX)) as f32
}

#[cfg(test)]
#[path = "filter_tests.rs"]
mod tests;
