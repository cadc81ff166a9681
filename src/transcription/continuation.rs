//! How a sound goes on that is cut off: what it would ring like for some time more.
//!
//! A linear prediction goes on from its last samples, and noise of what the prediction missed drives it: tones go on as tones,
//! hiss as hiss, and there is no step where the two meet (I. Kauppinen, K. Roth, "Audio signal extrapolation", DAFx 2002
//! [memory]). The coefficients are Burg's (J. P. Burg, "Maximum entropy spectral analysis", 1975 [memory]), whose filter is
//! always stable.

use crate::base::random::Chance;

/// Coefficients of the prediction, and how many frames there are for each at the least.
const ORDER: usize = 96;
const FRAMES_EACH: usize = 6;
/// Seconds of the sound's end that it goes on from.
const HEARD: f64 = 0.085;
/// By how much it falls at the most over its length, as a natural logarithm: 40 dB. What was measured over an attack would be a hole.
const MOST_FALL: f64 = 4.6;
/// The share of its length over which it fades out.
const FADES: f64 = 0.25;

/// Frames of a sound's end from which it is continued, at a rate.
pub(super) fn heard(rate: u32) -> usize {
    (HEARD * f64::from(rate)) as usize
}

/// So many frames more of a sound of which the last frames are given, channel by channel; silent at their end. The seed draws its
/// noise.
pub(super) fn go_on(end: &[&[f32]], frames: usize, seed: u64) -> Vec<Vec<f32>> {
    let Some(fall) = fall(end) else {
        return vec![vec![0.0; frames]; end.len()];
    };
    let fall = fall.min(MOST_FALL / frames.max(1) as f64);
    let models: Vec<Model> = end.iter().map(|side| Model::of(side, fall)).collect();
    let alike = match models.as_slice() {
        [left, right] => alike(&left.missed, &right.missed),
        _ => 1.0,
    };
    let mut chance = Chance::new(seed, "slice", "ring", 1);
    // Even noise between -1 and 1 has the variance 1/3.
    let mut noise = || libm::sqrt(3.0) * chance.either_way();
    let mut states: Vec<State> = models.iter().map(|model| State::of(model, frames)).collect();
    for _ in 0..frames {
        let first = noise();
        let other = alike * first + libm::sqrt(1.0 - alike * alike) * noise();
        for (state, drive) in states.iter_mut().zip([first, other]) {
            state.step(drive);
        }
    }
    let fades = ((FADES * frames as f64) as usize).max(1);
    let gain = |n: usize| {
        let left = ((frames - n) as f64 / fades as f64).min(1.0);
        libm::exp(-fall * n as f64) * 0.5 * (1.0 - libm::cos(std::f64::consts::PI * left))
    };
    let gains: Vec<f64> = (0..frames).map(gain).collect();
    let faded = |state: &State| {
        let made = &state.samples[state.before..];
        made.iter()
            .zip(&gains)
            .map(|(sample, gain)| (sample * gain) as f32)
            .collect()
    };
    states.iter().map(faded).collect()
}

/// By how much a sound's level falls from frame to frame, as a natural logarithm; 0 for one that does not fall, none for one that
/// is over.
fn fall(end: &[&[f32]]) -> Option<f64> {
    let count = end.first().map_or(0, |side| side.len());
    let energy = |from: usize, to: usize| {
        let squares = end.iter().flat_map(|side| &side[from..to]);
        squares.map(|sample| f64::from(*sample).powi(2)).sum::<f64>()
    };
    let half = count / 2;
    let (before, after) = (energy(0, half), energy(half, 2 * half));
    // Energies fall twice as fast, over half as many frames.
    let fall = || libm::log(before / after) / (2.0 * half as f64);
    (after > 0.0).then(|| fall().max(0.0))
}

/// The prediction of one channel.
struct Model {
    /// Those of the oldest sample first.
    coefficients: Vec<f64>,
    /// What it goes on from, level throughout.
    last: Vec<f64>,
    /// What it missed.
    missed: Vec<f64>,
    /// It never becomes louder than this, twice what it was.
    most: f64,
}

impl Model {
    fn of(side: &[f32], fall: f64) -> Model {
        let count = side.len();
        let level = |(n, sample): (usize, &f32)| f64::from(*sample) * libm::exp(fall * (n as f64 - count as f64));
        let samples: Vec<f64> = side.iter().enumerate().map(level).collect();
        let order = ORDER.min(count / FRAMES_EACH);
        let (mut coefficients, missed) = burg(&samples, order);
        coefficients.reverse();
        let most = samples.iter().fold(0.0f64, |most, sample| most.max(sample.abs()));
        Model {
            coefficients,
            last: samples[count - order..].to_vec(),
            missed,
            most: 2.0 * most,
        }
    }
}

/// The coefficients of a forward prediction, x(n) = sum of c(k) x(n - 1 - k), and its errors.
fn burg(samples: &[f64], order: usize) -> (Vec<f64>, Vec<f64>) {
    let mut forward = samples.to_vec();
    let mut backward = samples.to_vec();
    let mut filter = vec![0.0; order];
    for m in 0..order {
        let (ahead, behind) = (&mut forward[m + 1..], &mut backward[m..samples.len() - 1]);
        let pairs = || ahead.iter().zip(behind.iter());
        let (both, power) = pairs().fold((0.0, 0.0), |(both, power), (f, b)| {
            (both + f * b, power + f * f + b * b)
        });
        if power <= f64::MIN_POSITIVE {
            break;
        }
        let reflection = 2.0 * both / power;
        let before = filter[..m].to_vec();
        for k in 0..m {
            filter[k] = before[k] - reflection * before[m - 1 - k];
        }
        filter[m] = reflection;
        for (f, b) in ahead.iter_mut().zip(behind.iter_mut()) {
            (*f, *b) = (*f - reflection * *b, *b - reflection * *f);
        }
        // What is behind now belongs one frame later.
        backward.copy_within(m..samples.len() - 1, m + 1);
    }
    (filter, forward.split_off(order.min(forward.len())))
}

/// How alike two channels' errors are, from -1 to 1.
fn alike(left: &[f64], right: &[f64]) -> f64 {
    let power = product(left, left) * product(right, right);
    match power > 0.0 {
        true => (product(left, right) / libm::sqrt(power)).clamp(-1.0, 1.0),
        false => 1.0,
    }
}

/// A channel as it goes on.
struct State<'a> {
    model: &'a Model,
    /// What it goes on from, then what it makes.
    samples: Vec<f64>,
    before: usize,
    level: f64,
}

impl State<'_> {
    fn of(model: &Model, frames: usize) -> State<'_> {
        let power = model.missed.iter().map(|missed| missed * missed).sum::<f64>();
        let mut samples = Vec::with_capacity(model.last.len() + frames);
        samples.extend(&model.last);
        State {
            model,
            before: model.last.len(),
            samples,
            level: libm::sqrt(power / model.missed.len().max(1) as f64),
        }
    }

    fn step(&mut self, drive: f64) {
        let last = &self.samples[self.samples.len() - self.before..];
        let predicted = product(last, &self.model.coefficients);
        let most = self.model.most;
        self.samples.push((predicted + self.level * drive).clamp(-most, most));
    }
}

/// The sum of the products of two stretches, in four sums side by side.
fn product(a: &[f64], b: &[f64]) -> f64 {
    let ((a, a_rest), (b, b_rest)) = (a.as_chunks::<4>(), b.as_chunks::<4>());
    let mut sums = [0.0; 4];
    for (a, b) in a.iter().zip(b) {
        for (lane, sum) in sums.iter_mut().enumerate() {
            *sum += a[lane] * b[lane];
        }
    }
    let rest = a_rest.iter().zip(b_rest).map(|(a, b)| a * b).sum::<f64>();
    sums.iter().sum::<f64>() + rest
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rms(samples: &[f32]) -> f64 {
        let squares = samples.iter().map(|sample| f64::from(*sample).powi(2)).sum::<f64>();
        libm::sqrt(squares / samples.len() as f64)
    }

    #[test]
    fn a_tone_goes_on_as_it_was() {
        let tone = |n: usize| libm::sin(n as f64 * 0.05) as f32 * 0.5;
        let end: Vec<f32> = (0..4096).map(tone).collect();
        let on = &go_on(&[&end], 4096, 1)[0];
        for (n, sample) in on.iter().take(480).enumerate() {
            assert!((sample - tone(4096 + n)).abs() < 0.01, "{n}: {sample}");
        }
        assert!(on[4095].abs() < 1e-3);
    }

    #[test]
    fn what_dies_away_goes_on_dying_away() {
        let tone = |n: usize| (libm::sin(n as f64 * 0.05) * libm::exp(-(n as f64) / 2000.0)) as f32;
        let end: Vec<f32> = (0..4096).map(tone).collect();
        let on = &go_on(&[&end], 4096, 1)[0];
        let known: Vec<f32> = (4096..6144).map(tone).collect();
        let apart = 20.0 * libm::log10(rms(&on[..2048]) / rms(&known));
        assert!(apart.abs() < 1.0, "{apart} dB");
    }

    #[test]
    fn hiss_goes_on_as_loud_as_it_was_and_as_wide() {
        let mut chance = Chance::new(7, "hiss", "test", 1);
        let mut hiss = |level: f64| -> Vec<f32> { (0..4096).map(|_| (level * chance.either_way()) as f32).collect() };
        let (left, right) = (hiss(0.1), hiss(0.1));
        let on = go_on(&[&left, &right], 8192, 1);
        let apart = 20.0 * libm::log10(rms(&on[0][..4096]) / rms(&left));
        assert!(apart.abs() < 2.0, "{apart} dB");
        let sum: Vec<f32> = on[0].iter().zip(&on[1]).map(|(left, right)| left + right).collect();
        let wide = rms(&sum[..4096]) / rms(&on[0][..4096]);
        assert!((wide - libm::sqrt(2.0)).abs() < 0.15, "{wide}");
        let same = go_on(&[&left, &left], 1000, 1);
        assert_eq!(same[0], same[1], "what was mono stays so");
    }

    #[test]
    fn silence_and_next_to_nothing_go_on_as_silence() {
        assert_eq!(go_on(&[&[0.0; 4096]], 10, 1), [[0.0; 10]]);
        assert_eq!(go_on(&[&[]], 3, 1), [[0.0; 3]]);
        assert_eq!(go_on(&[&[0.5]], 0, 1), [[0.0; 0]]);
    }
}
