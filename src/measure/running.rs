//! Figures of a sound that comes block by block and that nobody holds as a whole, such as a bus's.

use std::sync::Arc;

use rayon::prelude::*;
use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};

use super::bands::{OCTAVES, lines};
use super::energies::{Energies, RATES};
use super::k_weighting::{LANES, Weighing, Weighting};
use super::sides::{Sides, product};
use crate::base::audio::highest;
use crate::base::simd::wide;
use crate::base::stages::each;

/// Seconds of a frame whose spectrum is taken, at least: four lines within the lowest octave.
const FRAME: f64 = 0.1;
/// Octaves that lie so many dB under the loudest one lose nothing that is heard [practice].
const UNHEARD: f64 = 20.0;
/// Losses under so many dB are none.
const SMALLEST: f64 = 0.05;

/// What is heard of a stereo sound as a whole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BusFigures {
    /// Integrated loudness in LUFS; none for silence or less than 400 ms.
    pub lufs: Option<f64>,
    /// The side signal's root mean square over the middle's in percent; none for silence and where there is no middle.
    pub width_percent: Option<f64>,
    /// What a mono listener loses of it in dB, 0 or more; none for silence.
    pub mono_loss_db: Option<f64>,
    /// The octave in which a mono listener loses most, among those that are heard: its mid-band frequency in Hz, and what is
    /// lost in it in dB. None where nothing is lost.
    pub worst_octave: Option<(f64, f64)>,
}

/// Sums over a stereo sound, which add up over several.
#[derive(Debug, Clone)]
pub(crate) struct Heard {
    sides: Sides,
    energies: Energies,
    measurable: bool,
    /// In each octave the energies of left and right, and their product.
    octaves: [[f64; 3]; 10],
}

impl Heard {
    /// Adds what was heard of another sound, behind this one.
    pub(crate) fn add(&mut self, other: &Heard) {
        self.sides.add(&other.sides);
        self.energies.append(&other.energies);
        for (own, other) in self.octaves.iter_mut().flatten().zip(other.octaves.iter().flatten()) {
            *own += other;
        }
    }

    /// The figures.
    pub(crate) fn figures(&self) -> BusFigures {
        BusFigures {
            lufs: self.energies.lufs(0.0).filter(|_| self.measurable),
            width_percent: self.sides.width_percent(),
            mono_loss_db: self.sides.mono_loss_db(),
            worst_octave: self.worst_octave(),
        }
    }

    fn worst_octave(&self) -> Option<(f64, f64)> {
        let loudest = self
            .octaves
            .iter()
            .map(|[left, right, _]| left + right)
            .fold(0.0, f64::max);
        let heard = |[left, right, _]: &[f64; 3]| left + right > loudest * libm::exp10(-UNHEARD / 10.0);
        let octaves = OCTAVES
            .into_iter()
            .zip(&self.octaves)
            .filter(|(_, octave)| heard(octave));
        let losses = octaves.filter_map(|(hertz, [left, right, both])| {
            let sides = Sides {
                squares: vec![*left, *right],
                both: Some(*both),
                ..Sides::default()
            };
            Some((hertz, sides.mono_loss_db()?))
        });
        losses
            .filter(|(_, loss)| *loss >= SMALLEST)
            .max_by(|a, b| a.1.total_cmp(&b.1))
    }
}

/// Measures stereo sounds of one length block by block.
pub(crate) struct Meters {
    /// A meter a sound; none for one that nothing hears.
    meters: Vec<Option<Meter>>,
    /// One for as many sounds as go side by side.
    weightings: Vec<Weighting>,
    /// As long as the cells that are weighted.
    silence: Vec<f32>,
}

/// How many stereo sounds are weighted side by side.
const TOGETHER: usize = LANES / 2;

impl Meters {
    /// Meters for a rate in Hz, one for each sound that is heard.
    pub(crate) fn new(rate: u32, heard: impl Iterator<Item = bool>) -> Meters {
        let meters: Vec<Option<Meter>> = heard.map(|heard| heard.then(|| Meter::new(rate))).collect();
        Meters {
            weightings: meters.chunks(TOGETHER).map(|_| Weighting::new(rate)).collect(),
            silence: vec![0.0; (rate / 10) as usize],
            meters,
        }
    }

    /// Hears a block of each sound by its number: both sides, each as it is times a factor. All blocks are of one length.
    pub(crate) fn take<'a>(&mut self, block: impl Fn(usize) -> [(&'a [f32], f32); 2] + Sync) {
        each("figures", self.meters.par_iter_mut().enumerate(), |(number, meter)| {
            meter.iter_mut().for_each(|meter| meter.take(block(number)))
        });
        let side_by_side = self.meters.par_chunks_mut(TOGETHER).zip(&mut self.weightings);
        each("weighting", side_by_side, |(meters, weighting)| {
            weigh(meters, weighting, &self.silence)
        });
    }

    /// What was heard of each.
    pub(crate) fn heard(self) -> Vec<Option<Heard>> {
        self.meters.into_iter().map(|meter| meter.map(Meter::heard)).collect()
    }
}

/// Weighs what is full of 100 ms, in some sounds side by side.
fn weigh(meters: &mut [Option<Meter>], weighting: &mut Weighting, silence: &[f32]) {
    let length = silence.len();
    let mut heard: Vec<(usize, &mut Meter)> = meters.iter_mut().flatten().enumerate().collect();
    let Some((_, first)) = heard.first() else { return };
    let count = first.tenth[0].len().checked_div(length).unwrap_or(0);
    for number in 0..count {
        let mut signals = [silence; LANES];
        for (nth, meter) in &heard {
            let cell = |side: usize| &meter.tenth[side][number * length..(number + 1) * length];
            (signals[2 * nth], signals[2 * nth + 1]) = (cell(0), cell(1));
        }
        let weighting = &mut *weighting;
        let powers = wide(Weighing { weighting, signals }).map(|power| power / length as f64);
        for (nth, meter) in &mut heard {
            meter.heard.energies.push(&powers[2 * *nth..2 * *nth + 2]);
        }
    }
    for (_, meter) in heard {
        meter
            .tenth
            .iter_mut()
            .for_each(|side| drop(side.drain(..count * length)));
        let seconds = (count * length) as f64 / f64::from(meter.rate);
        meter.heard.energies.lasts(seconds);
    }
}

/// Measures one of them: all but its loudness, for which it holds what is yet to be weighted.
struct Meter {
    heard: Heard,
    /// Frames of the 100 ms that are not full yet.
    tenth: [Vec<f32>; 2],
    /// Frames whose spectrum is yet to be taken.
    frame: [Vec<f32>; 2],
    window: Vec<f32>,
    forward: Arc<dyn RealToComplex<f32>>,
    time: Vec<f32>,
    spectra: [Vec<Complex<f32>>; 2],
    rate: u32,
}

impl Meter {
    /// A meter for a rate in Hz.
    fn new(rate: u32) -> Meter {
        let points = ((FRAME * f64::from(rate)) as usize).next_power_of_two();
        let forward = RealFftPlanner::<f32>::new().plan_fft_forward(points);
        let sine = |n: usize| libm::sin(std::f64::consts::PI * (n as f64 + 0.5) / points as f64) as f32;
        Meter {
            heard: Heard {
                sides: Sides {
                    squares: vec![0.0; 2],
                    both: Some(0.0),
                    sums: vec![0.0; 2],
                    peak: 0.0,
                },
                energies: Energies::empty(2),
                measurable: RATES.contains(&rate),
                octaves: [[0.0; 3]; 10],
            },
            tenth: Default::default(),
            // The first frame begins half a frame before the sound.
            frame: [vec![0.0; points / 2], vec![0.0; points / 2]],
            window: (0..points).map(sine).collect(),
            time: forward.make_input_vec(),
            spectra: [forward.make_output_vec(), forward.make_output_vec()],
            forward,
            rate,
        }
    }

    /// Hears a block of both sides, each as it is times a factor.
    fn take(&mut self, sides: [(&[f32], f32); 2]) {
        let begins = self.tenth.each_ref().map(Vec::len);
        for ((tenth, frame), (samples, fader)) in self.tenth.iter_mut().zip(&mut self.frame).zip(sides) {
            tenth.extend(samples.iter().map(|sample| sample * fader));
            frame.extend(samples.iter().map(|sample| sample * fader));
        }
        let [left, right] = [0, 1].map(|side| &self.tenth[side][begins[side]..]);
        let sums = &mut self.heard.sides;
        sums.squares[0] += product(left, left);
        sums.squares[1] += product(right, right);
        sums.both = sums.both.map(|both| both + product(left, right));
        self.analyse();
    }

    /// Takes the spectra of all frames that are full, half overlapping.
    fn analyse(&mut self) {
        let (points, hop) = (self.window.len(), self.window.len() / 2);
        let mut from = 0;
        while from + points <= self.frame[0].len() {
            if self
                .frame
                .iter()
                .all(|frame| highest(&frame[from..from + points]) == 0.0)
            {
                from += hop;
                continue;
            }
            for (frame, spectrum) in self.frame.iter().zip(&mut self.spectra) {
                let windowed = frame[from..from + points].iter().zip(&self.window);
                self.time
                    .iter_mut()
                    .zip(windowed)
                    .for_each(|(time, (sample, window))| *time = sample * window);
                self.forward
                    .process(&mut self.time, spectrum)
                    .expect("buffers made to measure");
            }
            for (octave, sums) in self.heard.octaves.iter_mut().enumerate() {
                let lines = lines(octave, points, self.rate);
                let [left, right] = self.spectra.each_ref().map(|spectrum| &spectrum[lines.clone()]);
                for (left, right) in left.iter().zip(right) {
                    sums[0] += f64::from(left.norm_sqr());
                    sums[1] += f64::from(right.norm_sqr());
                    sums[2] += f64::from(left.re * right.re + left.im * right.im);
                }
            }
            from += hop;
        }
        self.frame.iter_mut().for_each(|side| drop(side.drain(..from)));
    }

    /// What was heard.
    fn heard(mut self) -> Heard {
        let rest = (self.tenth[0].len()) as f64 / f64::from(self.rate);
        self.heard.energies.lasts(rest);
        let points = self.window.len();
        self.frame
            .iter_mut()
            .for_each(|side| side.resize(side.len() + points, 0.0));
        self.analyse();
        self.heard
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::audio::Audio;
    use crate::measure::{figures, loudness};

    fn noise(seed: u64, frames: usize) -> Vec<f32> {
        use rand_pcg::rand_core::Rng;
        let mut chance = rand_pcg::Pcg32::new(seed, 1);
        (0..frames)
            .map(|_| 0.3 * (f64::from(chance.next_u32()) / 2f64.powi(31) - 1.0) as f32)
            .collect()
    }

    /// The figures of a sound of which the right side is halved, the seventh of eight that are as long.
    fn measured(left: &[f32], right: &[f32], block: usize) -> BusFigures {
        let mut meters = Meters::new(48_000, (0..8).map(|number| number != 4));
        for (left, right) in left.chunks(block).zip(right.chunks(block)) {
            meters.take(|number| match number {
                6 => [(left, 1.0), (right, 0.5)],
                _ => [(right, 1.0), (left, number as f32)],
            });
        }
        let heard = meters.heard();
        assert!(heard[4].is_none() && heard[5].is_some());
        heard[6].as_ref().expect("it is heard").figures()
    }

    #[test]
    fn block_by_block_it_reads_what_the_whole_reads() {
        let left = noise(1, 200_000);
        let right: Vec<f32> = noise(2, 200_000)
            .iter()
            .zip(&left)
            .map(|(own, left)| own + left)
            .collect();
        let halved = right.iter().map(|sample| 0.5 * sample).collect();
        let audio = Audio {
            channels: vec![left.clone(), halved],
            rate: 48_000,
        };
        let whole = figures(&audio);
        let read = measured(&left, &right, 4096);
        let near = |one: Option<f64>, other: Option<f64>, what: &str| {
            let (one, other) = (one.expect(what), other.expect(what));
            assert!((one - other).abs() < 1e-4, "{what}: {one} {other}");
        };
        near(read.lufs, loudness(&audio), "loudness");
        near(read.mono_loss_db, whole.mono_loss_db, "mono loss");
        near(read.width_percent, Sides::of(&audio).width_percent(), "width");
        // Blocks of another length sum up in another order, and to the same.
        let other = measured(&left, &right, 1000);
        near(read.lufs, other.lufs, "loudness");
        near(
            read.worst_octave.map(|(_, db)| db),
            other.worst_octave.map(|(_, db)| db),
            "octave",
        );
    }

    #[test]
    fn the_octave_in_which_mono_loses_most_is_found() {
        let sine = |hertz: f64, phase: f64| {
            move |n: usize| libm::sin(std::f64::consts::TAU * (hertz * n as f64 / 48_000.0 + phase)) as f32
        };
        let [low, high, turned] = [sine(125.0, 0.0), sine(2000.0, 0.0), sine(2000.0, 1.0 / 3.0)];
        let left: Vec<f32> = (0..96_000).map(|n| 0.4 * low(n) + 0.1 * high(n)).collect();
        let right: Vec<f32> = (0..96_000).map(|n| 2.0 * (0.4 * low(n) + 0.1 * turned(n))).collect();
        let found = measured(&left, &right, 4096);
        // Two sines a third of a turn apart have a sum as high as either: 6 dB less than twice as high.
        let (hertz, loss) = found.worst_octave.expect("a loss");
        assert!(hertz == 2000.0 && (loss - 6.02).abs() < 0.05, "{hertz} {loss}");
        assert!(found.mono_loss_db.expect("a loss") < 0.3);
        // What is the same on both sides loses nothing; what is silent has no figures.
        let twice: Vec<f32> = left.iter().map(|sample| 2.0 * sample).collect();
        assert_eq!(measured(&left, &twice, 4096).worst_octave, None);
        let silent = measured(&[0.0; 48_000], &[0.0; 48_000], 4096);
        assert_eq!(
            (silent.lufs, silent.mono_loss_db, silent.worst_octave),
            (None, None, None)
        );
    }

    #[test]
    fn two_sounds_add_up_to_both() {
        let (left, right) = (noise(3, 96_000), noise(4, 96_000));
        let part = |range: std::ops::Range<usize>| {
            let mut meters = Meters::new(48_000, std::iter::once(true));
            meters.take(|_| [(&left[range.clone()], 1.0), (&right[range.clone()], 1.0)]);
            meters.heard().remove(0).expect("it is heard")
        };
        let mut both = part(0..48_000);
        both.add(&part(48_000..96_000));
        let (both, whole) = (both.figures(), part(0..96_000).figures());
        assert!((both.lufs.unwrap() - whole.lufs.unwrap()).abs() < 0.01);
        assert!((both.mono_loss_db.unwrap() - whole.mono_loss_db.unwrap()).abs() < 1e-6);
    }
}
