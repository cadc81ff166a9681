//! Signals that the mix's tests measure with.

use std::f64::consts::TAU;

use super::Effect;

/// A sine with an amplitude, Hz, a phase in radians, at a rate.
pub(super) fn sine(amplitude: f64, hz: f64, phase: f64, rate: u32, frames: usize) -> Vec<f32> {
    (0..frames)
        .map(|frame| {
            let turns = hz * frame as f64 / f64::from(rate);
            (amplitude * libm::sin(TAU * turns + phase)) as f32
        })
        .collect()
}

/// White noise between ±amplitude, the same for the same seed.
pub(super) fn noise(amplitude: f64, seed: u32, frames: usize) -> Vec<f32> {
    let mut state = seed.wrapping_mul(2_654_435_761).wrapping_add(1);
    (0..frames)
        .map(|_| {
            // Marsaglia, "Xorshift RNGs", JSS 2003: the 13, 17, 5 triple.
            state ^= state << 13;
            state ^= state >> 17;
            state ^= state << 5;
            (amplitude * (f64::from(state) / f64::from(u32::MAX) * 2.0 - 1.0)) as f32
        })
        .collect()
}

/// Two seconds of a synthesised beat at 48 kHz: a falling low sine on the quarters, a decaying noise with a body between
/// them, short bright noises on the eighths. Its peaks are at `peak`.
pub(super) fn beat(peak: f32) -> Vec<f32> {
    const RATE: usize = 48_000;
    let mut out = vec![0.0_f32; 2 * RATE];
    let eighth = RATE / 4;
    for step in 0..8 {
        let hiss = noise(0.25, 7 + step as u32, eighth);
        for frame in 0..eighth {
            let t = frame as f64 / RATE as f64;
            let mut x = f64::from(hiss[frame]) * libm::exp(-t * 90.0);
            if step % 4 == 0 || step == 5 {
                let turns = 52.0 * t + 3.0 * (1.0 - libm::exp(-t * 40.0));
                x += 0.9 * libm::sin(TAU * turns) * libm::exp(-t * 11.0);
            }
            if step % 4 == 2 {
                let body = 0.5 * libm::sin(TAU * 190.0 * t) * libm::exp(-t * 25.0);
                x += body + 2.0 * f64::from(hiss[frame]) * libm::exp(-t * 18.0);
            }
            out[step * eighth + frame] = x as f32;
        }
    }
    let most = out.iter().fold(0.0_f32, |most, x| most.max(x.abs()));
    out.iter().map(|x| x * peak / most).collect()
}

/// Runs channels through an effect in blocks of these lengths, again and again from the first.
pub(super) fn run(effect: &mut dyn Effect, channels: &[Vec<f32>], blocks: &[usize]) -> Vec<Vec<f32>> {
    let mut out = channels.to_vec();
    let frames = out[0].len();
    let (mut from, mut turn) = (0, 0);
    while from < frames {
        let to = frames.min(from + blocks[turn % blocks.len()].max(1));
        let mut block: Vec<&mut [f32]> = out.iter_mut().map(|channel| &mut channel[from..to]).collect();
        effect.process(&mut block);
        (from, turn) = (to, turn + 1);
    }
    out
}

/// The amplitude of one frequency in a signal: Goertzel's sum, by a Hann window that two half-bins apart leaves below
/// -120 dB from some bins on.
pub(super) fn amplitude_at(signal: &[f32], hz: f64, rate: u32) -> f64 {
    let (mut re, mut im, mut weight) = (0.0, 0.0, 0.0);
    for (frame, x) in signal.iter().enumerate() {
        let place = (frame as f64 + 0.5) / signal.len() as f64;
        // Blackman-Harris, four terms: side lobes at -92 dB.
        let window = 0.358_75 - 0.488_29 * libm::cos(TAU * place) + 0.141_28 * libm::cos(2.0 * TAU * place)
            - 0.011_68 * libm::cos(3.0 * TAU * place);
        let angle = TAU * hz * frame as f64 / f64::from(rate);
        re += window * f64::from(*x) * libm::cos(angle);
        im += window * f64::from(*x) * libm::sin(angle);
        weight += window;
    }
    2.0 * libm::hypot(re, im) / weight
}

/// Root mean square.
pub(super) fn rms(signal: &[f32]) -> f64 {
    let sum: f64 = signal.iter().map(|x| f64::from(*x) * f64::from(*x)).sum();
    (sum / signal.len().max(1) as f64).sqrt()
}

/// The largest absolute value of `signal` read at sixteenths of a frame by a windowed sinc of 96 taps: the tests' own
/// true-peak meter, longer and finer than the limiter's own reading. [practice: ITU-R BS.1770-5 annex 2 asks for quarters]
pub(super) fn true_peak(signal: &[f32]) -> f64 {
    const REACH: usize = 48;
    let mut padded = vec![0.0_f64; REACH];
    padded.extend(signal.iter().map(|x| f64::from(*x)));
    padded.extend([0.0; REACH]);
    let mut most = signal.iter().fold(0.0_f64, |most, x| most.max(f64::from(x.abs())));
    for place in 1..16 {
        let taps = super::strip::oversampling::between(REACH, place as f64 / 16.0, 8.0);
        for window in padded.windows(2 * REACH) {
            let value: f64 = window.iter().zip(&taps).map(|(x, tap)| x * tap).sum();
            most = most.max(value.abs());
        }
    }
    most
}

/// 20·log10.
pub(super) fn db(gain: f64) -> f64 {
    20.0 * libm::log10(gain)
}
