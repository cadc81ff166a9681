//! What a sound is like, in few figures: its spectral envelope over time, how it rises and falls, where its tone lies.

use std::cell::RefCell;
use std::sync::Arc;

use realfft::{RealFftPlanner, RealToComplex};
use serde::{Deserialize, Serialize};

use crate::base::audio::Audio;

/// Bands of the spectral envelope, evenly spaced in octaves over [`RANGE`].
pub(crate) const BANDS: usize = 24;
/// The bands' lowest and highest frequency, Hz.
pub(crate) const RANGE: (f64, f64) = (40.0, 16_000.0);
/// Ends of the stretches of time, in seconds: an ear tells more of a stroke's beginning than of its tail.
const STRETCHES: [f64; 8] = [0.006, 0.015, 0.03, 0.06, 0.12, 0.25, 0.5, 1.0];
/// Levels of the envelopes further below the loudest are nothing, in dB.
pub(crate) const FLOOR: f64 = 60.0;
/// Steps of a level in a dB.
pub(crate) const STEPS: f64 = 4.0;
/// Slices of the envelope of the whole.
const SLICES: usize = 64;
/// The least seconds of a window of the spectral envelope; its points are the next power of two.
const WINDOW: f64 = 0.02;
/// A sound begins so many seconds before it first comes within 30 dB of its peak.
const BEFORE: f64 = 0.001;
/// Its loudness is followed over so many seconds, half to both sides.
const FOLLOWED: f64 = 0.005;
/// Lines of the fine spectrum in an octave, the lowest, Hz, and how many octaves there are.
pub(crate) const LINES: f64 = 60.0;
const LOWEST: f64 = 45.0;
const OCTAVES: f64 = 7.05;
/// The seconds from the beginning that it is of, and how deep it goes, in dB.
const FINE: f64 = 0.35;
const FINE_FLOOR: f64 = 50.0;
/// When the tone of a body is looked for, in seconds from the beginning: a stroke tells nothing of it. And where, Hz.
const BODY: (f64, f64) = (0.01, 0.26);
const TONES: (f64, f64) = (40.0, 5_000.0);
const PARTIALS: (f64, f64) = (40.0, 2_000.0);

/// What a sound is like. Levels are quarters of a dB above their floor.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Fingerprint {
    /// Levels by stretch of time and band: eight by [`BANDS`].
    pub cells: Vec<u8>,
    /// Levels in [`LINES`] lines an octave.
    pub fine: Vec<u8>,
    /// Levels of the whole file in 64 slices of equal length.
    pub envelope: Vec<u8>,
    /// Seconds before it begins.
    pub onset: f32,
    /// Seconds from there to its loudest.
    pub attack: f32,
    /// Seconds until it stays 40 dB below its loudest.
    pub length: f32,
    /// The share of its first half second's energy that lies below 200 Hz.
    pub low: f32,
    /// How high its body sounds, in Hz: the root mean square of its frequencies below those of a stick or a rattle.
    pub body: f32,
    /// The strongest tone of its body up to 5000 Hz, in Hz.
    pub tone: f32,
    /// The same up to 2000 Hz.
    pub partial: f32,
    /// By how many dB that tone stands out over the mean of all lines up to 2000 Hz: 6 to 10 in hiss, 25 in a bell.
    pub crest: f32,
}

impl Fingerprint {
    /// Listens to a sound; none where it is silent.
    pub(crate) fn of(audio: &Audio) -> Option<Fingerprint> {
        let (side, rate) = (mono(audio), f64::from(audio.rate.max(1)));
        let peak = side.iter().fold(0.0f32, |most, sample| most.max(sample.abs()));
        if peak <= 0.0 || !peak.is_finite() {
            return None;
        }
        let loud = side.iter().position(|sample| sample.abs() > 0.031_62 * peak)?;
        let begins = loud.saturating_sub((BEFORE * rate) as usize);
        let sounding = &side[begins..];
        let (attack, ends) = rise_and_fall(sounding, rate);
        let (low, body) = lows(&sounding[..ends], rate);
        let body_frame = |seconds: f64| ((seconds * rate) as usize).min(sounding.len());
        let stretch = match &sounding[body_frame(BODY.0)..body_frame(BODY.1)] {
            short if short.len() < 256 => sounding,
            body => body,
        };
        let power = power(stretch, rate, |turn| {
            0.5 - 0.5 * libm::cosf(std::f32::consts::TAU * turn)
        });
        let seconds = |frames: usize| (frames as f64 / rate) as f32;
        Some(Fingerprint {
            cells: cells(sounding, rate),
            fine: fine(sounding, rate),
            envelope: envelope(&side),
            onset: seconds(begins),
            attack: seconds(attack),
            length: seconds(ends),
            low: low as f32,
            body: body as f32,
            tone: strongest(&power, rate, TONES) as f32,
            partial: strongest(&power, rate, PARTIALS) as f32,
            crest: crest(&power, rate, PARTIALS) as f32,
        })
    }

    /// How differently two whole files rise and fall, in dB: the root mean square over their slices, as important as they are loud, at
    /// equal loudness.
    pub(crate) fn envelope_apart(&self, other: &Fingerprint) -> f64 {
        let slices = || self.envelope.iter().zip(&other.envelope);
        let level = |level: &u8| f64::from(*level) / STEPS;
        let weight = |(a, b): (&u8, &u8)| level(a.max(b)) / FLOOR;
        let weights: f64 = slices().map(weight).sum::<f64>().max(f64::MIN_POSITIVE);
        let louder = slices()
            .map(|(a, b)| weight((a, b)) * (level(a) - level(b)))
            .sum::<f64>()
            / weights;
        let square = |(a, b): (&u8, &u8)| weight((a, b)) * (level(a) - level(b) - louder).powi(2);
        libm::sqrt(slices().map(square).sum::<f64>() / weights)
    }
}

fn mono(audio: &Audio) -> Vec<f32> {
    match audio.channels.as_slice() {
        [only] => only.clone(),
        sides => {
            let share = 1.0 / sides.len().max(1) as f32;
            let sum = |at: usize| sides.iter().map(|side| side[at]).sum::<f32>() * share;
            (0..audio.frames()).map(sum).collect()
        }
    }
}

/// A transform of so many points; a thread works out each length once.
fn plan(points: usize) -> Arc<dyn RealToComplex<f32>> {
    thread_local! {
        static PLANNER: RefCell<RealFftPlanner<f32>> = RefCell::new(RealFftPlanner::new());
    }
    PLANNER.with_borrow_mut(|planner| planner.plan_fft_forward(points))
}

/// Powers as levels: quarters of a dB above a floor so many dB below the loudest.
fn levels(powers: &[f64], floor: f64) -> Vec<u8> {
    let most = powers.iter().copied().fold(f64::MIN_POSITIVE, f64::max);
    let level = |power: &f64| {
        let db = floor + 10.0 * libm::log10(power.max(f64::MIN_POSITIVE) / most);
        libm::round(STEPS * db.clamp(0.0, floor)) as u8
    };
    powers.iter().map(level).collect()
}

fn envelope(side: &[f32]) -> Vec<u8> {
    let edge = |slice: usize| slice * side.len() / SLICES;
    let power = |slice: usize| {
        let stretch = &side[edge(slice)..edge(slice + 1)];
        stretch.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>() / stretch.len().max(1) as f64
    };
    levels(&(0..SLICES).map(power).collect::<Vec<f64>>(), FLOOR)
}

/// The spectral envelope over time. Windows lie around their instants: the first has the stroke in its middle.
fn cells(side: &[f32], rate: f64) -> Vec<u8> {
    let points = ((WINDOW * rate) as usize).next_power_of_two().max(64);
    let fft = plan(points);
    let (mut windowed, mut spectrum) = (fft.make_input_vec(), fft.make_output_vec());
    let mut scratch = fft.make_scratch_vec();
    let shape: Vec<f32> = (0..points)
        .map(|n| 0.5 - 0.5 * libm::cosf(std::f32::consts::TAU * n as f32 / points as f32))
        .collect();
    let octaves = libm::log2(RANGE.1 / RANGE.0);
    let lines: Vec<f64> = (0..=BANDS)
        .map(|band| RANGE.0 * libm::exp2(octaves * band as f64 / BANDS as f64) * points as f64 / rate)
        .collect();
    let mut powers = vec![0.0; STRETCHES.len() * BANDS];
    let mut counts = [0u32; STRETCHES.len()];
    for at in (0..side.len()).step_by(points / 8) {
        let since = at as f64 / rate;
        let Some(stretch) = STRETCHES.iter().position(|end| since < *end) else {
            break;
        };
        for ((n, to), shape) in windowed.iter_mut().enumerate().zip(&shape) {
            let from = (at + n).checked_sub(points / 2).and_then(|at| side.get(at));
            *to = shape * from.copied().unwrap_or(0.0);
        }
        fft.process_with_scratch(&mut windowed, &mut spectrum, &mut scratch)
            .expect("the lengths are the plan's own");
        let line: Vec<f64> = spectrum.iter().map(|line| f64::from(line.norm_sqr())).collect();
        for band in 0..BANDS {
            powers[stretch * BANDS + band] += between(&line, lines[band], lines[band + 1]);
        }
        counts[stretch] += 1;
    }
    for (power, count) in powers.chunks_mut(BANDS).zip(counts) {
        power.iter_mut().for_each(|power| *power /= f64::from(count.max(1)));
    }
    levels(&powers, FLOOR)
}

/// The power between two places on the scale of lines, each of which reaches half a line to both sides.
fn between(lines: &[f64], low: f64, high: f64) -> f64 {
    let (low, high) = (low + 0.5, (high + 0.5).min(lines.len() as f64));
    if low >= high {
        return 0.0;
    }
    let (first, last) = (low as usize, (high as usize).min(lines.len() - 1));
    if first == last {
        return lines[first] * (high - low);
    }
    let whole: f64 = lines[first + 1..last].iter().sum();
    whole + lines[first] * ((first + 1) as f64 - low) + lines[last] * (high - last as f64)
}

/// The share of the first half second's energy that lies in the bass, and the root mean square of the frequencies below 1 kHz.
fn lows(sounding: &[f32], rate: f64) -> (f64, f64) {
    let body = &sounding[..sounding.len().min((0.5 * rate) as usize).max(1)];
    let (mut all, mut bass, mut below, mut moved, mut last) = (0.0, 0.0, 0.0, 0.0, 0.0);
    let (mut lows, mut bodies) = (LowPass::at(200.0, rate), LowPass::at(1_000.0, rate));
    for sample in body {
        let sample = f64::from(*sample);
        let (low, dull) = (lows.pass(sample), bodies.pass(sample));
        all += sample * sample;
        bass += low * low;
        below += dull * dull;
        moved += (dull - last) * (dull - last);
        last = dull;
    }
    (
        bass / f64::max(all, f64::MIN_POSITIVE),
        libm::sqrt(moved / f64::max(below, f64::MIN_POSITIVE)) * rate / std::f64::consts::TAU,
    )
}

/// When a sound is loudest, and when it stays 40 dB below that for good, in frames; its loudness is followed over 5 ms.
fn rise_and_fall(sounding: &[f32], rate: f64) -> (usize, usize) {
    let half = ((0.5 * FOLLOWED * rate) as usize).max(1);
    let square = |at: usize| f64::from(sounding[at]) * f64::from(sounding[at]);
    let mut sum: f64 = (0..half.min(sounding.len())).map(square).sum();
    let powers = (0..sounding.len()).map(|at| {
        sum += if at + half < sounding.len() {
            square(at + half)
        } else {
            0.0
        };
        sum -= at.checked_sub(half + 1).map_or(0.0, square);
        sum
    });
    let powers: Vec<f64> = powers.collect();
    let most = powers.iter().copied().fold(f64::MIN_POSITIVE, f64::max);
    let loudest = powers.iter().position(|power| *power >= most).unwrap_or(0);
    let last = powers.iter().rposition(|power| *power > 1e-4 * most).unwrap_or(0);
    (loudest, last + 1)
}

/// The power spectrum of a stretch under a window that is given for 0 (its beginning) to 1, many times as fine as it has lines.
fn power(stretch: &[f32], rate: f64, window: impl Fn(f32) -> f32) -> Vec<f64> {
    let points = fine_points(rate);
    let fft = plan(points);
    let (mut windowed, mut spectrum) = (fft.make_input_vec(), fft.make_output_vec());
    let length = stretch.len().min(points) as f32;
    for (n, (to, from)) in windowed.iter_mut().zip(stretch).enumerate() {
        *to = from * window(n as f32 / length);
    }
    fft.process(&mut windowed, &mut spectrum)
        .expect("the lengths are the plan's own");
    spectrum.iter().map(|line| f64::from(line.norm_sqr())).collect()
}

fn fine_points(rate: f64) -> usize {
    4 * ((FINE * rate) as usize).next_power_of_two().max(64)
}

/// The frequency of the strongest line in a range, Hz; a parabola through its neighbours tells it finer than the lines lie.
fn strongest(power: &[f64], rate: f64, (low, high): (f64, f64)) -> f64 {
    let line = |hertz: f64| (hertz * fine_points(rate) as f64 / rate) as usize;
    let within = line(low) + 1..line(high).min(power.len().saturating_sub(2));
    let Some(top) = within.max_by(|a, b| power[*a].total_cmp(&power[*b])) else {
        return low;
    };
    let log = |at: usize| libm::log(power[at].max(f64::MIN_POSITIVE));
    let bend = log(top - 1) - 2.0 * log(top) + log(top + 1);
    let shift = if bend < 0.0 {
        0.5 * (log(top - 1) - log(top + 1)) / bend
    } else {
        0.0
    };
    (top as f64 + shift.clamp(-0.5, 0.5)) * rate / fine_points(rate) as f64
}

/// By how many dB the strongest line in a range stands out over their mean.
fn crest(power: &[f64], rate: f64, (low, high): (f64, f64)) -> f64 {
    let line = |hertz: f64| ((hertz * fine_points(rate) as f64 / rate) as usize).min(power.len());
    let lines = &power[line(low)..line(high)];
    let mean = lines.iter().sum::<f64>() / lines.len().max(1) as f64;
    let most = lines.iter().copied().fold(0.0, f64::max);
    10.0 * libm::log10((most / mean.max(f64::MIN_POSITIVE)).max(1.0))
}

/// The spectrum of the beginning on a grid of equal intervals, each line the mean of 40 cents round it.
fn fine(sounding: &[f32], rate: f64) -> Vec<u8> {
    let stretch = &sounding[..sounding.len().min((FINE * rate) as usize)];
    // The falling half of a Hann window: the stroke counts whole.
    let power = power(stretch, rate, |turn| {
        0.5 + 0.5 * libm::cosf(std::f32::consts::PI * turn)
    });
    let line = |octaves: f64| LOWEST * libm::exp2(octaves) * fine_points(rate) as f64 / rate;
    let lines = (0..(OCTAVES * LINES) as usize).map(|number| {
        let octaves = number as f64 / LINES;
        let (low, high) = (line(octaves - 1.0 / 60.0), line(octaves + 1.0 / 60.0));
        between(&power, low, high) / (high - low)
    });
    levels(&lines.collect::<Vec<f64>>(), FINE_FLOOR)
}

/// Two low passes of first order after one another.
struct LowPass {
    share: f64,
    first: f64,
    second: f64,
}

impl LowPass {
    fn at(hz: f64, rate: f64) -> LowPass {
        LowPass {
            share: 1.0 - libm::exp(-std::f64::consts::TAU * hz / rate),
            first: 0.0,
            second: 0.0,
        }
    }

    fn pass(&mut self, sample: f64) -> f64 {
        self.first += self.share * (sample - self.first);
        self.second += self.share * (self.first - self.second);
        self.second
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A sine that dies away, falling 60 dB in some seconds.
    fn tone(hz: f64, decay: f64) -> Audio {
        let rate = 48_000;
        let sample = |at: usize| {
            let seconds = at as f64 / f64::from(rate);
            (libm::exp(-6.9 * seconds / decay) * libm::sin(std::f64::consts::TAU * hz * seconds)) as f32
        };
        Audio {
            channels: vec![(0..(decay * f64::from(rate)) as usize).map(sample).collect()],
            rate,
        }
    }

    #[test]
    fn length_and_height_are_heard() {
        let kick = Fingerprint::of(&tone(60.0, 0.3)).unwrap();
        let snare = Fingerprint::of(&tone(900.0, 0.3)).unwrap();
        assert!(kick.low > 0.5 && snare.low < 0.5, "{kick:?} {snare:?}");
        // 40 dB are two thirds of 60.
        assert!((kick.length - 0.2).abs() < 0.02, "{kick:?}");
        for hz in [80.0, 120.0, 300.0] {
            let heard = Fingerprint::of(&tone(hz, 0.6)).unwrap();
            assert!((f64::from(heard.body) / hz - 1.0).abs() < 0.15, "{hz}: {heard:?}");
        }
        assert!(Fingerprint::of(&Audio::silence(1, 100, 48_000)).is_none());
        assert!(Fingerprint::of(&Audio::default()).is_none());
    }

    #[test]
    fn a_tone_is_found() {
        for hz in [55.0, 110.0, 440.0, 1_500.0] {
            let heard = Fingerprint::of(&tone(hz, 0.6)).unwrap();
            assert!((f64::from(heard.tone) / hz - 1.0).abs() < 0.01, "{hz}: {heard:?}");
            assert!((f64::from(heard.partial) / hz - 1.0).abs() < 0.01, "{hz}: {heard:?}");
        }
    }
}
