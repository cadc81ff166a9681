//! Low cut, high cut and bells: second-order sections by the audio EQ cookbook.
//!
//! Formulas: R. Bristow-Johnson, "Cookbook formulae for audio equalizer biquad filter coefficients". Run as a transposed
//! direct form II with 64-bit state, which stays well-behaved while its settings are swept.

use std::f64::consts::{FRAC_1_SQRT_2, LN_2, TAU};

use super::Effect;
use crate::loopfile::Bell;

/// The highest cut or centre, as a share of the rate; the bilinear transform has no room above.
const HIGHEST: f64 = 0.49;

/// Frames from one look at the state to the next. Counted along the signal, so cuts into blocks don't show.
const LOOK: usize = 64;

/// State below this is taken for silence, long before it reaches the slow denormal numbers.
const SILENT: f64 = 1e-30;

/// What a [`Filter`] does to the spectrum.
#[derive(Debug, Clone, PartialEq)]
pub enum Curve {
    /// Takes away what lies below a frequency in Hz: second-order Butterworth, -3.01 dB there, 12 dB an octave.
    LowCut(f64),
    /// Takes away what lies above a frequency in Hz, likewise. At 0.49 of the rate or more it is off.
    HighCut(f64),
    /// Raises or lowers around a centre; see [`Bell`].
    Bell(Bell),
}

/// The five coefficients of a second-order section, divided by a0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Section {
    b: [f64; 3],
    a: [f64; 2],
}

impl Section {
    /// The section that leaves everything as it is.
    pub const PLAIN: Section = Section {
        b: [1.0, 0.0, 0.0],
        a: [0.0, 0.0],
    };

    /// The section that has a curve at a rate in Hz.
    ///
    /// Frequencies are kept between 0.1 Hz and 0.49 of the rate; a high cut above is off, and so is a low cut
    /// at or below 0 Hz.
    pub fn new(curve: &Curve, rate: u32) -> Section {
        let rate = f64::from(rate);
        let angle = |hz: f64| TAU * (hz / rate).clamp(0.1 / rate, HIGHEST);
        match curve {
            Curve::LowCut(hz) if *hz <= 0.0 => Section::PLAIN,
            Curve::HighCut(hz) if *hz >= HIGHEST * rate => Section::PLAIN,
            Curve::LowCut(hz) => {
                let (alpha, cos) = butterworth(angle(*hz));
                let half = (1.0 + cos) / 2.0;
                Section::over([half, -2.0 * half, half], [1.0 + alpha, -2.0 * cos, 1.0 - alpha])
            }
            Curve::HighCut(hz) => {
                let (alpha, cos) = butterworth(angle(*hz));
                let half = (1.0 - cos) / 2.0;
                Section::over([half, 2.0 * half, half], [1.0 + alpha, -2.0 * cos, 1.0 - alpha])
            }
            Curve::Bell(bell) => Section::bell(bell, angle(bell.at)),
        }
    }

    fn bell(bell: &Bell, angle: f64) -> Section {
        let gain = libm::exp10(bell.gain_db / 40.0);
        let (sin, cos) = (libm::sin(angle), libm::cos(angle));
        let alpha = sin * libm::sinh(LN_2 / 2.0 * bell.width * angle / sin);
        Section::over(
            [1.0 + alpha * gain, -2.0 * cos, 1.0 - alpha * gain],
            [1.0 + alpha / gain, -2.0 * cos, 1.0 - alpha / gain],
        )
    }

    fn over(b: [f64; 3], a: [f64; 3]) -> Section {
        Section {
            b: b.map(|coefficient| coefficient / a[0]),
            a: [a[1] / a[0], a[2] / a[0]],
        }
    }

    /// The factor by which it changes the amplitude of a steady sine of `hz` at a rate in Hz.
    pub fn gain_at(&self, hz: f64, rate: u32) -> f64 {
        let angle = TAU * hz / f64::from(rate);
        let size = |c: [f64; 3]| {
            let re = c[0] + c[1] * libm::cos(angle) + c[2] * libm::cos(2.0 * angle);
            let im = c[1] * libm::sin(angle) + c[2] * libm::sin(2.0 * angle);
            libm::hypot(re, im)
        };
        size(self.b) / size([1.0, self.a[0], self.a[1]])
    }

    /// Frames after which its response has fallen below -120 dB, from the radius of its outermost pole.
    pub fn run_in(&self) -> usize {
        let [a1, a2] = self.a;
        let apart = a1 * a1 / 4.0 - a2;
        let radius = if apart < 0.0 {
            a2.sqrt()
        } else {
            a1.abs() / 2.0 + apart.sqrt()
        };
        if radius <= 0.0 {
            return 2;
        }
        // 20 dB more than asked, since poles that lie close together first rise before they fall.
        let frames = libm::log(1e-7) / libm::log(radius.min(0.999_999_9));
        libm::ceil(frames) as usize + 2
    }

    #[inline(always)]
    fn step(&self, state: &mut [f64; 2], x: f64) -> f64 {
        let y = self.b[0] * x + state[0];
        state[0] = (self.b[1] * x + state[1]) - self.a[0] * y;
        state[1] = self.b[2] * x - self.a[1] * y;
        y
    }
}

/// The cookbook's alpha for Q = 1/√2, and the angle's cosine.
fn butterworth(angle: f64) -> (f64, f64) {
    (libm::sin(angle) * FRAC_1_SQRT_2, libm::cos(angle))
}

/// A low cut, a high cut or a bell on one strip.
#[derive(Debug, Clone)]
pub struct Filter {
    section: Section,
    rate: u32,
    state: Vec<[f64; 2]>,
    until_look: usize,
}

impl Filter {
    /// A filter for a rate in Hz and a number of channels, at rest.
    pub fn new(curve: &Curve, rate: u32, channels: usize) -> Filter {
        Filter {
            section: Section::new(curve, rate),
            rate,
            state: vec![[0.0; 2]; channels],
            until_look: LOOK,
        }
    }

    /// Changes what it does from the next frame on; its state stays.
    pub fn set(&mut self, curve: &Curve) {
        self.section = Section::new(curve, self.rate);
    }

    fn run(&mut self, block: &mut [&mut [f32]], from: usize, to: usize) {
        let section = self.section;
        match (block, &mut self.state[..]) {
            // Both sides in one loop: each waits for its own last frame, so the two overlap.
            ([left, right], [a, b]) => {
                let (mut left_state, mut right_state) = (*a, *b);
                for (l, r) in left[from..to].iter_mut().zip(&mut right[from..to]) {
                    *l = narrow(section.step(&mut left_state, f64::from(*l)));
                    *r = narrow(section.step(&mut right_state, f64::from(*r)));
                }
                (*a, *b) = (left_state, right_state);
            }
            (block, states) => {
                for (channel, state) in block.iter_mut().zip(states) {
                    for sample in &mut channel[from..to] {
                        *sample = narrow(section.step(state, f64::from(*sample)));
                    }
                }
            }
        }
    }

    fn quieten(&mut self) {
        for value in self.state.iter_mut().flatten() {
            if value.abs() < SILENT {
                *value = 0.0;
            }
        }
    }
}

impl Effect for Filter {
    fn run_in(&self) -> usize {
        self.section.run_in()
    }

    fn process(&mut self, block: &mut [&mut [f32]]) {
        if self.section == Section::PLAIN && self.state.iter().flatten().all(|value| *value == 0.0) {
            return;
        }
        let frames = block.first().map_or(0, |channel| channel.len());
        let mut from = 0;
        while from < frames {
            let to = frames.min(from + self.until_look);
            self.run(block, from, to);
            self.until_look -= to - from;
            if self.until_look == 0 {
                self.quieten();
                self.until_look = LOOK;
            }
            from = to;
        }
    }
}

/// To 32 bits, at the largest number and not at infinity where it's too large for them.
#[inline(always)]
pub(super) fn narrow(value: f64) -> f32 {
    value.clamp(f64::from(f32::MIN), f64::from(f32::MAX)) as f32
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mix::signals::{amplitude_at, db, noise, run, sine};
    use proptest::prelude::*;

    fn bell(at: f64, gain_db: f64, width: f64) -> Curve {
        Curve::Bell(Bell { at, gain_db, width })
    }

    /// What a steady sine really comes out as, in dB.
    fn heard(curve: &Curve, hz: f64, rate: u32) -> f64 {
        let signal = sine(0.5, hz, 0.0, rate, 2 * rate as usize);
        let out = run(&mut Filter::new(curve, rate, 1), &[signal], &[512]);
        db(amplitude_at(&out[0][rate as usize..], hz, rate) / 0.5)
    }

    #[test]
    fn a_cut_is_3_db_down_at_its_frequency_and_falls_12_db_an_octave() {
        // A second-order Butterworth: 1 / sqrt(1 + (f/fc)^4) [practice], by the bilinear transform exact at the cut.
        for rate in [44_100, 48_000, 96_000] {
            let low = Curve::LowCut(400.0);
            let high = Curve::HighCut(1000.0);
            assert!((heard(&low, 400.0, rate) + 3.01).abs() < 0.01);
            assert!((heard(&high, 1000.0, rate) + 3.01).abs() < 0.01);
            let octave = heard(&low, 50.0, rate) - heard(&low, 25.0, rate);
            assert!((octave - 12.04).abs() < 0.05, "{octave}");
            let octave = heard(&Curve::HighCut(200.0), 1000.0, rate) - heard(&Curve::HighCut(200.0), 2000.0, rate);
            assert!((octave - 12.04).abs() < 0.2, "{octave}");
            assert!(heard(&low, 8000.0, rate).abs() < 0.01);
            assert!(heard(&high, 30.0, rate).abs() < 0.01);
        }
    }

    #[test]
    fn a_bell_has_its_gain_at_its_centre_and_half_of_it_at_its_sides() {
        for (gain_db, width) in [(6.0, 1.0), (-9.0, 0.5), (12.0, 2.0), (-3.0, 1.0)] {
            let curve = bell(350.0, gain_db, width);
            assert!((heard(&curve, 350.0, 48_000) - gain_db).abs() < 0.01);
            // The cookbook's bandwidth: octaves between the points of half the gain in dB.
            for side in [-0.5, 0.5] {
                let edge = heard(&curve, 350.0 * libm::exp2(side * width), 48_000);
                assert!((edge - gain_db / 2.0).abs() < 0.05, "{gain_db} {width} {edge}");
            }
            assert!(heard(&curve, 12_000.0, 48_000).abs() < 0.05);
        }
    }

    #[test]
    fn its_curve_as_computed_is_the_curve_as_heard() {
        for curve in [Curve::LowCut(90.0), Curve::HighCut(7000.0), bell(2500.0, 5.0, 0.7)] {
            for hz in [40.0, 300.0, 2500.0, 11_000.0] {
                let computed = db(Section::new(&curve, 48_000).gain_at(hz, 48_000));
                assert!((computed - heard(&curve, hz, 48_000)).abs() < 0.01, "{curve:?} {hz}");
            }
        }
    }

    #[test]
    fn equals_the_reference_coefficients() {
        // The bilinear transform of 1 / (s² + √2·s + 1) with K = tan(π·cut/rate): b0 = K² / (1 + √2·K + K²); so too
        // scipy.signal.butter(2, 1000, fs=48000). [memory]
        let section = Section::new(&Curve::HighCut(1000.0), 48_000);
        let k = libm::tan(std::f64::consts::PI / 48.0);
        assert!((section.b[0] - k * k / (1.0 + std::f64::consts::SQRT_2 * k + k * k)).abs() < 1e-15);
        assert!((section.b[0] - 0.003_916_126_66).abs() < 1e-9, "{section:?}");
        assert!((section.a[0] + 1.815_341_08).abs() < 1e-7, "{section:?}");
        assert!((section.a[1] - 0.831_005_59).abs() < 1e-7, "{section:?}");
    }

    #[test]
    fn a_cut_beyond_the_band_changes_nothing_or_stays_finite() {
        let signal = vec![noise(0.5, 1, 4000)];
        for hz in [23_600.0, 24_000.0, 100_000.0] {
            assert_eq!(
                run(&mut Filter::new(&Curve::HighCut(hz), 48_000, 1), &signal, &[100]),
                signal
            );
        }
        assert_eq!(
            run(&mut Filter::new(&Curve::LowCut(0.0), 48_000, 1), &signal, &[100]),
            signal
        );
        for curve in [
            Curve::LowCut(90_000.0),
            bell(40_000.0, 12.0, 1.0),
            bell(0.0, 12.0, 4.0),
            Curve::HighCut(0.0),
        ] {
            let out = run(&mut Filter::new(&curve, 48_000, 1), &signal, &[100]);
            assert!(out[0].iter().all(|x| x.is_finite() && x.abs() < 10.0), "{curve:?}");
        }
    }

    #[test]
    fn forgets_within_its_run_in() {
        for curve in [
            Curve::LowCut(20.0),
            Curve::LowCut(150.0),
            Curve::HighCut(6000.0),
            bell(60.0, 12.0, 0.1),
            bell(60.0, -12.0, 3.0),
            bell(350.0, 0.0, 1.0),
        ] {
            let mut filter = Filter::new(&curve, 48_000, 1);
            let frames = filter.run_in();
            let mut signal = noise(1.0, 2, 48_000);
            let end = signal.len();
            signal.extend(vec![0.0; frames + 2000]);
            let out = run(&mut filter, &[signal], &[256]);
            let left = out[0][end + frames..].iter().fold(0.0_f32, |most, x| most.max(x.abs()));
            assert!(left < 1e-6, "{curve:?}: {left} after {frames}");
            // And it isn't far too long: a tenth of it would not be enough.
            let early = out[0][end + frames / 10..end + frames]
                .iter()
                .fold(0.0_f32, |most, x| most.max(x.abs()));
            assert!(
                early > 1e-6 || matches!(curve, Curve::Bell(Bell { gain_db: 0.0, .. })),
                "{curve:?}: {early}"
            );
        }
    }

    #[test]
    fn its_tail_ends_in_silence() {
        let mut filter = Filter::new(&Curve::LowCut(30.0), 48_000, 1);
        let mut signal = noise(1.0, 2, 1000);
        signal.extend(vec![0.0; 96_000]);
        let out = run(&mut filter, &[signal], &[256]);
        assert!(out[0].iter().all(|x| *x == 0.0 || x.is_normal()));
        assert!(out[0][90_000..].iter().all(|x| *x == 0.0));
        assert_eq!(filter.state, [[0.0; 2]]);
    }

    #[test]
    fn glides_while_it_is_swept() {
        for signal in [
            noise(0.5, 1, 4800),
            sine(0.5, 100.0, 1.0, 48_000, 4800),
            sine(0.5, 1500.0, 1.0, 48_000, 4800),
        ] {
            for (from, to) in [
                (20.0, 20_000.0),
                (20_000.0, 20.0),
                (200.0, 2000.0),
                (2000.0, 200.0),
                (80.0, 8000.0),
                (8000.0, 80.0),
            ] {
                for low in [false, true] {
                    let mut filter = Filter::new(&Curve::HighCut(1000.0), 48_000, 1);
                    let mut most = 0.0_f32;
                    for (index, part) in signal.chunks(32).enumerate() {
                        let share = (index as f64 - 60.0).clamp(0.0, 8.0) / 8.0;
                        let hz = from * libm::pow(to / from, share);
                        filter.set(&if low { Curve::LowCut(hz) } else { Curve::HighCut(hz) });
                        let out = run(&mut filter, &[part.to_vec()], &[32]);
                        if index > 50 {
                            most = out[0].iter().fold(most, |most, x| most.max(x.abs()));
                        }
                    }
                    // A step of the ratio 1000 in 5 ms is further than any sweep goes; even so there is no burst.
                    let room = if (to / from).max(from / to) > 500.0 { 2.0 } else { 1.0 };
                    assert!(most < room, "{from} {to} {low}: {most}");
                }
            }
        }
    }

    proptest! {
        #[test]
        fn cuts_into_blocks_change_no_bit(blocks in prop::collection::vec(1_usize..300, 1..6), hz in 20.0_f64..20_000.0) {
            let signal = vec![noise(0.8, 1, 2000), noise(0.8, 2, 2000)];
            for curve in [Curve::LowCut(hz), Curve::HighCut(hz), bell(hz, 7.0, 1.0)] {
                let whole = run(&mut Filter::new(&curve, 48_000, 2), &signal, &[2000]);
                prop_assert!(run(&mut Filter::new(&curve, 48_000, 2), &signal, &blocks) == whole);
                let mono = run(&mut Filter::new(&curve, 48_000, 1), &signal[..1], &blocks);
                prop_assert!(mono[0] == whole[0]);
            }
        }

        #[test]
        fn stays_finite(hz in 0.0_f64..200_000.0, gain_db in -48.0_f64..48.0, width in 0.01_f64..8.0, size in 0_i32..39) {
            let mut signal = vec![noise(libm::pow(10.0, f64::from(size)).min(f64::from(f32::MAX)), 3, 1000)];
            signal[0][0] = f32::MAX;
            for curve in [Curve::LowCut(hz), Curve::HighCut(hz), bell(hz, gain_db, width)] {
                let out = run(&mut Filter::new(&curve, 44_100, 1), &signal, &[100]);
                prop_assert!(out[0].iter().all(|x| x.is_finite()), "{:?}", curve);
            }
        }
    }
}
