//! Low cut, high cut and bells, as their analogue prototypes are.
//!
//! The prototypes: second-order Butterworth cuts, and the bell of R. Bristow-Johnson, "Cookbook formulae for audio equalizer biquad
//! filter coefficients", H(s) = (s² + s·A/Q + 1) / (s² + s/(A·Q) + 1), with 1/Q = 2·sinh(ln 2 / 2 · octaves). They mean what they say
//! up to 0.4 of any rate; see [`super::matched`]. Sections are a transposed direct form II with 64-bit state, which stays well-behaved
//! while their settings are swept; [`super::four_frames`] runs them.

use std::f64::consts::TAU;
use std::ops::Range;

use super::four_frames::{FourFrames, GROUP, Groups, LOOK, State, look};
use super::matched;
use super::section::{Section, narrow};
use crate::base::simd::wide;
use crate::loopfile::{Bell, HIGHEST_CENTRE};
use crate::mix::Effect;

/// The lowest frequency of a cut or bell, in Hz.
const LOWEST: f64 = 0.1;

/// The highest frequency of a cut, as a multiple of the rate: far above any that can be asked for.
const HIGHEST_CUT: f64 = 100.0;

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
///
/// It goes through its signal in groups of frames, counted since it began or was last changed. So how the signal is cut
/// into blocks does not show: a group that a cut falls into is gone on with.
#[derive(Debug, Clone)]
pub(super) struct RunningSection {
    section: Section,
    weights: FourFrames,
    /// Each channel's state before the group that has begun.
    state: Vec<State>,
    /// Each channel's input of that group so far, and zeros.
    begun: Vec<[f32; GROUP]>,
    /// Frames since it began or was changed, counted round [`LOOK`].
    at: usize,
}

impl RunningSection {
    /// A section for a number of channels, at rest.
    pub(super) fn new(section: Section, channels: usize) -> RunningSection {
        RunningSection {
            section,
            weights: FourFrames::of(&section),
            state: vec![[0.0; 2]; channels],
            begun: vec![[0.0; GROUP]; channels],
            at: 0,
        }
    }

    /// Goes on as another section from the next frame on, where a new group begins.
    fn change(&mut self, section: Section) {
        if section == self.section {
            return;
        }
        let frames = self.at % GROUP;
        for (state, begun) in self.state.iter_mut().zip(&mut self.begun) {
            for x in &begun[..frames] {
                self.section.step(state, f64::from(*x));
            }
            look(state);
            *begun = [0.0; GROUP];
        }
        self.at = 0;
        self.weights = FourFrames::of(&section);
        self.section = section;
    }

    /// Has gone on by so many frames; now and then it looks for a tail that nobody hears.
    fn go_on(&mut self, frames: usize) {
        self.at = (self.at + frames) % LOOK;
        if self.at == 0 && frames > 0 {
            self.state.iter_mut().for_each(look);
        }
    }

    /// Sends a block through it.
    pub(super) fn process(&mut self, block: &mut [&mut [f32]]) {
        let frames = block.first().map_or(0, |channel| channel.len());
        let begun = self.at % GROUP;
        let first = if begun > 0 { frames.min(GROUP - begun) } else { 0 };
        let rest = (frames - first) % GROUP;
        let whole = first..frames - rest;
        self.part(block, 0..first);
        for (channel, state) in block.iter_mut().zip(&mut self.state) {
            *state = wide(Groups {
                weights: self.weights,
                channel: channel[whole.clone()].as_chunks_mut().0,
                state: *state,
                looked: self.at,
            });
        }
        self.go_on(whole.len());
        self.part(block, whole.end..frames);
    }

    /// Takes frames of the block that lie within one group.
    fn part(&mut self, block: &mut [&mut [f32]], frames: Range<usize>) {
        let first = self.at % GROUP;
        let group = first..first + frames.len();
        for ((channel, state), begun) in block.iter_mut().zip(&mut self.state).zip(&mut self.begun) {
            let channel = &mut channel[frames.clone()];
            begun[group.clone()].copy_from_slice(channel);
            let mut after = *state;
            let output = self.weights.step(&mut after, begun.map(f64::from)).map(narrow);
            channel.copy_from_slice(&output[group.clone()]);
            if group.end == GROUP {
                (*state, *begun) = (after, [0.0; GROUP]);
            }
        }
        self.go_on(frames.len());
    }

    /// True where nothing rings in it.
    fn is_silent(&self) -> bool {
        let begun = self.begun.iter().flatten().all(|sample| *sample == 0.0);
        begun && self.state.iter().flatten().all(|value| *value == 0.0)
    }

    /// True while it changes nothing that goes through it.
    fn is_plain(&self) -> bool {
        self.section == Section::PLAIN && self.is_silent()
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

    /// True while silence passes through it and changes nothing in it.
    pub(crate) fn rests(&self) -> bool {
        self.stages.iter().all(RunningSection::is_silent)
    }

    /// Changes what it does from the next frame on; its state stays.
    pub fn set(&mut self, curve: &Curve) {
        let sections = curve.sections(self.rate);
        self.stages
            .iter_mut()
            .zip(sections)
            .for_each(|(stage, section)| stage.change(section));
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

/// Sends a block through filters, one after another.
pub(crate) fn chain<'a>(filters: impl Iterator<Item = &'a mut Filter>, block: &mut [&mut [f32]]) {
    let stages = filters.flat_map(|filter| &mut filter.stages);
    stages
        .filter(|stage| !stage.is_plain())
        .for_each(|stage| stage.process(block));
}

impl Effect for Filter {
    fn run_in(&self) -> usize {
        run_in(std::iter::once(self))
    }

    fn process(&mut self, block: &mut [&mut [f32]]) {
        chain(std::iter::once(self), block);
    }
}

#[cfg(test)]
#[path = "filter_tests.rs"]
mod tests;
