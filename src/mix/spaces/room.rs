//! A room as an impulse response, synthesised or recorded.
//!
//! Time zero is the dry signal: the direct sound is not in the response, as the dry signal is that already. A room
//! starts with its first reflection, which comes after the pre-delay and after the time that the reflection's way is
//! longer than the direct one: larger rooms answer later.

use std::f64::consts::{FRAC_PI_2, PI};

use rayon::prelude::*;

use super::early_reflections::{Arrival, Shoebox};
use super::late_reverb;
use super::late_reverb::{Bank, Decays};
use crate::base::audio::Audio;
use crate::base::stages::all;
use crate::loopfile::{Impulse, Room};
use crate::mix::Effect;
use crate::mix::strip::filter::{Curve, Filter};

/// A response is longer than this in no case, in seconds; its pre-delay comes on top.
const LONGEST: f64 = 60.0;

/// A response ends when its slowest octave has fallen so far, in dB.
const FALL: f64 = 96.0;

/// By the time that a flat sound has fallen so far on the whole, in dB, reflections have given way to the tail.
const MIXED_BY: f64 = 7.0;

/// The last milliseconds fade, for the rooms that are cut off at [`LONGEST`].
const FADE_SECONDS: f64 = 0.03;

/// Half the length of the interpolator that places a reflection between two frames, in frames.
const HALF_SINC: usize = 16;

/// What a room answers to one frame of full scale at either side of its send. All four are equally long.
#[derive(Debug, Clone, PartialEq)]
pub struct Response {
    /// Left in to left out, and right in to right out.
    pub direct: [Vec<f32>; 2],
    /// Left in to right out, and right in to left out; none where the sides do not hear one another.
    pub cross: Option<[Vec<f32>; 2]>,
}

impl Response {
    /// Length in frames.
    pub fn frames(&self) -> usize {
        self.direct[0].len()
    }

    /// Bytes of its samples.
    pub fn bytes(&self) -> usize {
        (2 + self.cross.as_ref().map_or(0, |_| 2)) * self.frames() * size_of::<f32>()
    }

    fn paths_mut(&mut self) -> impl Iterator<Item = &mut Vec<f32>> {
        self.direct.iter_mut().chain(self.cross.iter_mut().flatten())
    }

    fn make_equally_long(&mut self) {
        let frames = self.paths_mut().map(|path| path.len()).max().unwrap_or(0);
        for path in self.paths_mut() {
            path.resize(frames, 0.0);
        }
    }

    fn cut_below(&mut self, low_cut: Option<f64>, rate: u32) {
        let Some(hertz) = low_cut else {
            return;
        };
        for path in self.paths_mut() {
            Filter::new(&Curve::LowCut(hertz), rate, 1).process(&mut [path]);
        }
    }

    fn delay_by(&mut self, seconds: f64, rate: u32) {
        let frames = (seconds.max(0.0) * f64::from(rate)).round() as usize;
        for path in self.paths_mut() {
            path.splice(0..0, std::iter::repeat_n(0.0, frames));
        }
    }
}

/// Synthesises a room at a rate in Hz.
///
/// A send that is the same at both sides gets energy 1 back at each side: the response's squares sum to 1 there, at
/// 48 kHz and before the low cut, which only takes away. At other rates the energy is what keeps the audible level
/// the same.
pub fn synthesise(room: &Room, rate: u32) -> Response {
    let hertz = f64::from(rate);
    let shoebox = Shoebox::new(room.size);
    let decays = Decays::new(room.decay, room.damping);
    let bank = Bank::new(hertz);
    // Source and ear of each path, in the order of Response.
    let ways = [(0, 0), (1, 1), (0, 1), (1, 0)].into_par_iter();
    let paths = all("response", ways, |(source, ear)| {
        path(&shoebox, &decays, &bank, source, ear, hertz)
    });
    let Ok([left, right, to_right, to_left]) = <[Vec<f32>; 4]>::try_from(paths) else {
        unreachable!("four paths went in");
    };
    let mut response = Response {
        direct: [left, right],
        cross: Some([to_right, to_left]),
    };
    response.make_equally_long();
    even_out(&mut response, decays.energy(hertz) / decays.energy(48_000.0));
    response.cut_below(room.low_cut, rate);
    response.delay_by(room.predelay, rate);
    response
}

/// A recorded impulse response as a room, taken as it is: no level is changed, and the sides do not hear one another.
///
/// `audio` is at the render's rate and has one channel, for both sides, or two; more are left away.
pub fn recorded(audio: &Audio, impulse: &Impulse) -> Response {
    let left = audio.channels.first().cloned().unwrap_or_default();
    let right = audio.channels.get(1).cloned().unwrap_or_else(|| left.clone());
    let mut response = Response {
        direct: [left, right],
        cross: None,
    };
    response.cut_below(impulse.low_cut, audio.rate);
    response.delay_by(impulse.predelay, audio.rate);
    response
}

/// What one ear hears of one source.
fn path(shoebox: &Shoebox, decays: &Decays, bank: &Bank, source: usize, ear: usize, rate: f64) -> Vec<f32> {
    let arrivals = shoebox.arrivals(source, ear);
    let first = arrivals.iter().map(|arrival| arrival.at).fold(f64::INFINITY, f64::min);
    let start = (first * rate) as usize;
    let frames = ((first + decays.seconds_to_fall(FALL)).min(LONGEST) * rate) as usize;
    let mut excitation = vec![0.0; frames];
    // A room that dies before sound has crossed it three times would be a few bare echoes.
    let mixing = (shoebox.mixing_seconds() - first).min(decays.mean() * MIXED_BY / 60.0);
    let angle = |at: f64| ((at - first) / mixing).clamp(0.0, 1.0) * FRAC_PI_2;
    for arrival in &arrivals {
        place(&mut excitation, *arrival, libm::cos(angle(arrival.at)), rate);
    }
    let level = (shoebox.power() / rate).sqrt();
    let mut noise = late_reverb::noise((2 * source + ear) as u64);
    let mixed = ((first + mixing) * rate) as usize;
    for (frame, sample) in excitation.iter_mut().enumerate().skip(start) {
        let fade = if frame < mixed {
            libm::sin(angle(frame as f64 / rate))
        } else {
            1.0
        };
        *sample += (level * fade) as f32 * noise();
    }
    let mut path = decays.apply(&excitation, start, bank);
    // The crossovers reach back before the first reflection; nothing is heard before its cause.
    path[..start.saturating_sub(HALF_SINC).min(frames)].fill(0.0);
    let fade = ((FADE_SECONDS * rate) as usize).min(frames);
    for (left, sample) in path.iter_mut().rev().take(fade).enumerate() {
        *sample *= left as f32 / fade as f32;
    }
    path
}

/// Adds an arrival between two frames: a sinc under a Hann window.
fn place(out: &mut [f32], arrival: Arrival, fade: f64, rate: f64) {
    let at = arrival.at * rate;
    let whole = at.floor();
    let half = HALF_SINC as f64;
    for step in 1 - HALF_SINC as isize..=HALF_SINC as isize {
        let Some(sample) = (whole as isize + step)
            .try_into()
            .ok()
            .and_then(|frame: usize| out.get_mut(frame))
        else {
            continue;
        };
        let x = whole + step as f64 - at;
        let sinc = if x == 0.0 { 1.0 } else { libm::sin(PI * x) / (PI * x) };
        let window = 0.5 + 0.5 * libm::cos(PI * x / half);
        *sample += (arrival.level * fade * sinc * window) as f32;
    }
}

/// Brings what each side gets of a send that is the same at both to a given energy.
fn even_out(response: &mut Response, energy: f64) {
    let Response {
        direct: [left, right],
        cross: Some([to_right, to_left]),
    } = response
    else {
        return;
    };
    for (near, far) in [(left, to_left), (right, to_right)] {
        let sum: f64 = near
            .iter()
            .zip(far.iter())
            .map(|(n, f)| f64::from(n + f) * f64::from(n + f))
            .sum();
        let gain = if sum > 0.0 { (energy / sum).sqrt() as f32 } else { 1.0 };
        near.iter_mut().chain(far.iter_mut()).for_each(|sample| *sample *= gain);
    }
}

#[cfg(test)]
#[path = "room_tests.rs"]
mod tests;
