//! The soft saturator.
//!
//! The curve is the odd rational f(x) = x·(27 + x²) / (27 + 9x²), a relative of tanh's Padé approximants that meets ±1 at
//! ±3 with no slope and no curvature left, and stays there [practice]: soft, monotone, and smooth enough that its
//! harmonics die quickly. It runs on the signal oversampled four times by two stages of polyphase half-band filters
//! (M. Bellanger, "Digital Processing of Signals", polyphase networks [memory]), and only what it *adds* to the
//! signal comes back down, through a filter that is closed at half the rate. So the clean signal itself passes
//! untouched but for its delay, and `blend` can't comb.
//!
//! What is added has its offset taken out below 5 Hz, and its highs by `high_cut`.

use std::f64::consts::TAU;

use super::filter::{Curve, Filter};
use super::section::narrow;
use super::waveshaper::{Bending, CHUNK, LATENCY, Lane, Weights, curve};
use crate::base::simd::wide;
use crate::loopfile::Drive;
use crate::mix::Effect;

/// A full-scale signal goes this far into the curve at 0 dB.
const INTO: f64 = 0.5;

/// The level whose amplitude the curve keeps, whatever is driven into it: the programme's mean.
const KEPT: f64 = 0.35;

/// dB below which the effect fades, so that a sweep up from 0 begins with nothing.
const FADED_DB: f64 = 1.0;

/// Below this frequency in Hz what is added loses its offset.
const OFFSET_HZ: f64 = 5.0;

/// Frames from one look at the offset to the next, and what is taken for none; see the filters.
const LOOK: usize = 256;

/// The saturator of one strip.
#[derive(Debug, Clone)]
pub struct Saturator {
    rate: u32,
    weights: Weights,
    lanes: Vec<Lane>,
    /// The slow mean of what is added to each channel.
    offsets: Vec<f64>,
    high_cut: Option<Filter>,
    into: f32,
    back: f32,
    share: f32,
    /// What the offset takes of each new frame.
    slow: f64,
    until_look: usize,
}

impl Saturator {
    /// A saturator for a rate in Hz and a number of channels, at rest.
    pub fn new(settings: &Drive, rate: u32, channels: usize) -> Saturator {
        let mut saturator = Saturator {
            rate,
            weights: Weights::new(),
            lanes: vec![Lane::new(); channels],
            offsets: vec![0.0; channels],
            high_cut: None,
            into: 1.0,
            back: 1.0,
            share: 0.0,
            slow: 1.0 - libm::exp(-TAU * OFFSET_HZ / f64::from(rate)),
            until_look: LOOK,
        };
        saturator.set(settings);
        saturator
    }

    /// Changes its settings from the next frame on; its state stays.
    pub fn set(&mut self, settings: &Drive) {
        let amount_db = settings.amount_db.clamp(0.0, 60.0);
        let into = INTO * libm::exp10(amount_db / 20.0);
        self.into = into as f32;
        self.back = (KEPT / f64::from(curve((into * KEPT) as f32))) as f32;
        self.share = (settings.blend.clamp(0.0, 1.0) * (amount_db / FADED_DB).min(1.0)) as f32;
        let cut = settings.high_cut.map(Curve::HighCut);
        match (&mut self.high_cut, cut) {
            (Some(filter), Some(cut)) => filter.set(&cut),
            (none, Some(cut)) => *none = Some(Filter::new(&cut, self.rate, self.lanes.len())),
            (some, None) => *some = None,
        }
    }

    fn chunk(&mut self, block: &mut [&mut [f32]]) {
        let n = block.first().map_or(0, |channel| channel.len());
        for (lane, channel) in self.lanes.iter_mut().zip(block.iter()) {
            wide(Bending {
                lane,
                chunk: channel,
                weights: &self.weights,
                into: self.into,
                back: self.back,
            });
        }
        if let Some(filter) = &mut self.high_cut {
            let mut added: Vec<&mut [f32]> = self.lanes.iter_mut().map(|lane| lane.added(n)).collect();
            filter.process(&mut added);
        }
        let (share, slow) = (self.share, self.slow);
        let step = |offset: &mut f64, (clean, added): (f32, f32)| {
            let x = f64::from(added);
            *offset = (1.0 - slow) * *offset + slow * x;
            clean + share * narrow(x - *offset)
        };
        match (&mut *block, &self.lanes[..], &mut self.offsets[..]) {
            // Both sides in one loop: each waits for its own last frame, so the two overlap.
            ([left, right], [a, b], [of_left, of_right]) => {
                let sides = left.iter_mut().zip(right.iter_mut()).zip(a.both().zip(b.both()));
                for ((l, r), (of_l, of_r)) in sides {
                    *l = step(of_left, of_l);
                    *r = step(of_right, of_r);
                }
            }
            (block, lanes, offsets) => {
                for ((channel, lane), offset) in block.iter_mut().zip(lanes).zip(offsets) {
                    let pairs = channel.iter_mut().zip(lane.both());
                    pairs.for_each(|(out, both)| *out = step(offset, both));
                }
            }
        }
        self.lanes.iter_mut().for_each(|lane| lane.keep(n));
    }
}

impl Effect for Saturator {
    fn latency(&self) -> usize {
        LATENCY
    }

    fn run_in(&self) -> usize {
        let offset = libm::ceil(14.0 / self.slow) as usize;
        let cut = self.high_cut.as_ref().map_or(0, Effect::run_in);
        2 * LATENCY + cut + offset
    }

    fn process(&mut self, block: &mut [&mut [f32]]) {
        let mut rest: Vec<&mut [f32]> = block.iter_mut().map(|channel| &mut channel[..]).collect();
        while rest.first().is_some_and(|channel| !channel.is_empty()) {
            let n = rest[0].len().min(CHUNK).min(self.until_look);
            let mut now = Vec::with_capacity(rest.len());
            for channel in &mut rest {
                let (head, tail) = std::mem::take(channel).split_at_mut(n);
                now.push(head);
                *channel = tail;
            }
            self.chunk(&mut now);
            self.until_look -= n;
            if self.until_look == 0 {
                self.until_look = LOOK;
                for offset in &mut self.offsets {
                    if offset.abs() < 1e-30 {
                        *offset = 0.0;
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mix::test_signals::{amplitude_at, beat, db, noise, rms, run, sine};
    use proptest::prelude::*;

    fn driven(amount_db: f64) -> Drive {
        Drive {
            amount_db,
            blend: 1.0,
            high_cut: None,
        }
    }

    fn loudness(signal: &[f32]) -> f64 {
        let mut meter = ebur128::EbuR128::new(1, 48_000, ebur128::Mode::I).expect("a meter for one channel");
        meter.add_frames_f32(signal).expect("whole frames");
        meter.loudness_global().expect("a meter that was asked for it")
    }

    fn through(settings: &Drive, signal: &[f32], rate: u32) -> Vec<f32> {
        run(&mut Saturator::new(settings, rate, 1), &[signal.to_vec()], &[512]).remove(0)
    }

    #[test]
    fn aliases_stay_far_under_the_fundamental() {
        // A 5 kHz sine driven 12 dB at 48 kHz: more than 70 dB under. Full scale is the worst that can come.
        for rate in [44_100, 48_000] {
            let settled = &through(&driven(12.0), &sine(1.0, 5000.0, 0.0, rate, 24_000), rate)[12_000..];
            let fundamental = amplitude_at(settled, 5000.0, rate);
            let third = db(amplitude_at(settled, 15_000.0, rate) / fundamental);
            assert!((-20.0..-12.0).contains(&third), "{third}");
            for harmonic in (5..50).step_by(2) {
                let hz = f64::from(harmonic) * 5000.0;
                let alias = (hz - f64::from(rate) * libm::round(hz / f64::from(rate))).abs();
                if (alias - 5000.0).abs() > 100.0 && (alias - 15_000.0).abs() > 100.0 {
                    let level = db(amplitude_at(settled, alias, rate) / fundamental);
                    assert!(level < -80.0, "{rate}: {alias} Hz at {level} dB");
                }
            }
        }
    }

    #[test]
    fn keeps_the_loudness_of_drums() {
        for peak in [1.0, 0.5, 0.25] {
            let mut drums = vec![0.0; 4800];
            drums.extend(beat(peak));
            drums.extend([0.0; 4800]);
            for amount_db in [1.0, 3.0, 6.0, 12.0] {
                let change = loudness(&through(&driven(amount_db), &drums, 48_000)) - loudness(&drums);
                assert!(change.abs() < 1.2, "{amount_db} dB at a peak of {peak}: {change}");
            }
        }
    }

    #[test]
    fn squeezes_peaks_the_more_the_further_it_is_driven() {
        let drums = beat(0.9);
        let crest =
            |signal: &[f32]| db(f64::from(signal.iter().fold(0.0_f32, |most, x| most.max(x.abs()))) / rms(signal));
        let crests: Vec<f64> = [1.0, 6.0, 12.0]
            .iter()
            .map(|amount| crest(&through(&driven(*amount), &drums, 48_000)))
            .collect();
        assert!(
            crest(&drums) > crests[0] && crests[0] > crests[1] + 0.3 && crests[1] > crests[2] + 0.8,
            "{crests:?}"
        );
    }

    #[test]
    fn blends_without_a_comb_and_keeps_the_time() {
        // Far below the curve's bend it only scales, so any blend must scale every frequency alike.
        for hz in [60.0, 700.0, 5000.0, 9000.0] {
            let quiet = sine(0.001, hz, 0.0, 48_000, 48_000);
            let half = Drive {
                blend: 0.5,
                ..driven(12.0)
            };
            let gain =
                |settings: &Drive| amplitude_at(&through(settings, &quiet, 48_000)[24_000..], hz, 48_000) / 0.001;
            let (full, half) = (gain(&driven(12.0)), gain(&half));
            assert!((half - (1.0 + full) / 2.0).abs() < 0.005, "{hz}: {half} {full}");
        }
        let drums = beat(0.7);
        let off = through(
            &Drive {
                blend: 0.0,
                ..driven(12.0)
            },
            &drums,
            48_000,
        );
        assert!(off[LATENCY..] == drums[..drums.len() - LATENCY]);
        assert_eq!(Saturator::new(&driven(3.0), 48_000, 2).latency(), LATENCY);
        // What it adds lies exactly on what was there: the answer to an impulse is symmetrical about it.
        let mut impulse = vec![0.0; 200];
        impulse[100] = 0.9;
        let answer = through(&driven(6.0), &impulse, 48_000);
        for away in 1..LATENCY {
            let (before, after) = (answer[100 + LATENCY - away], answer[100 + LATENCY + away]);
            assert!((before - after).abs() < 1e-3, "{away}: {before} {after}");
        }
    }

    #[test]
    fn the_high_cut_dulls_what_is_added_alone() {
        let tone = sine(0.8, 2000.0, 0.0, 48_000, 48_000);
        let third = |high_cut| {
            let out = through(
                &Drive {
                    high_cut,
                    ..driven(12.0)
                },
                &tone,
                48_000,
            );
            amplitude_at(&out[24_000..], 6000.0, 48_000)
        };
        let cut = db(third(Some(3000.0)) / third(None));
        // 1 / sqrt(1 + 2^4), an octave above a second-order Butterworth's cut, a little more by the bilinear transform.
        assert!((-13.5..-12.0).contains(&cut), "{cut}");
        let hiss = sine(0.01, 15_000.0, 0.0, 48_000, 48_000);
        let dull = through(
            &Drive {
                high_cut: Some(500.0),
                ..driven(12.0)
            },
            &hiss,
            48_000,
        );
        assert!(db(amplitude_at(&dull[24_000..], 15_000.0, 48_000) / 0.01).abs() < 0.1);
    }

    #[test]
    fn adds_no_offset() {
        // Narrow pulses upwards, wide ones downwards: no mean, until an odd curve squeezes the narrow ones.
        let lopsided: Vec<f32> = (0..192_000)
            .map(|frame| if frame % 480 < 96 { 0.8 } else { -0.2 })
            .collect();
        let out = through(&driven(12.0), &lopsided, 48_000);
        let mean = out[96_000..].iter().map(|x| f64::from(*x)).sum::<f64>() / 96_000.0;
        let bent = lopsided.iter().map(|x| f64::from(curve(2.0 * x))).sum::<f64>() / 192_000.0;
        assert!(bent.abs() > 0.05, "the curve alone: {bent}");
        assert!(mean.abs() < 2e-4, "{mean}");
    }

    #[test]
    fn forgets_within_its_run_in() {
        let settings = Drive {
            high_cut: Some(2000.0),
            ..driven(9.0)
        };
        let saturator = Saturator::new(&settings, 48_000, 1);
        let frames = saturator.run_in();
        let mut signal: Vec<f32> = vec![0.7; 48_000];
        signal.extend(vec![0.0; frames + 500]);
        let out = through(&settings, &signal, 48_000);
        assert!(out[48_000 + frames..].iter().all(|x| x.abs() < 1e-6));
    }

    #[test]
    fn begins_a_sweep_with_nothing() {
        let drums = beat(0.9);
        let off = through(&driven(0.0), &drums, 48_000);
        assert!(off[LATENCY..] == drums[..drums.len() - LATENCY]);
        let slight = through(&driven(0.01), &drums, 48_000);
        let most = slight
            .iter()
            .zip(&off)
            .fold(0.0_f32, |most, (a, b)| most.max((a - b).abs()));
        assert!(most > 0.0 && most < 0.002, "{most}");
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        #[test]
        fn cuts_into_blocks_change_no_bit(blocks in prop::collection::vec(1_usize..600, 1..6), amount_db in 0.1_f64..24.0) {
            let signal = vec![noise(0.8, 1, 3000), noise(0.8, 2, 3000)];
            let settings = Drive { high_cut: Some(4000.0), blend: 0.8, amount_db };
            let whole = run(&mut Saturator::new(&settings, 48_000, 2), &signal, &[3000]);
            prop_assert!(run(&mut Saturator::new(&settings, 48_000, 2), &signal, &blocks) == whole);
        }

        #[test]
        fn is_odd(amount_db in 0.1_f64..24.0) {
            let signal = noise(0.9, 1, 1000);
            let turned: Vec<f32> = signal.iter().map(|x| -x).collect();
            let out = through(&driven(amount_db), &turned, 48_000);
            let back: Vec<f32> = out.iter().map(|x| -x).collect();
            prop_assert!(through(&driven(amount_db), &signal, 48_000) == back);
        }

        #[test]
        fn stays_finite_and_silent(amount_db in 0.0_f64..100.0, blend in 0.0_f64..1.0, size in 0_i32..39) {
            let settings = Drive { amount_db, blend, high_cut: Some(8000.0) };
            let mut signal = noise(libm::pow(10.0, f64::from(size)).min(f64::from(f32::MAX)), 3, 500);
            signal.extend([f32::MAX, f32::MIN, f32::MAX, 1e-42]);
            prop_assert!(through(&settings, &signal, 48_000).iter().all(|x| x.is_finite()));
            prop_assert!(through(&settings, &[0.0; 500], 48_000).iter().all(|x| *x == 0.0));
        }
    }
}
