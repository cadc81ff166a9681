//! Finding what of a recording can repeat while a note is held: a steady part whose two ends are alike.

use realfft::RealFftPlanner;
use realfft::num_complex::Complex;

use crate::base::audio::Audio;
use crate::harmony::frequency;

/// A loop that was found, in frames.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct FoundLoop {
    /// The first frame of what repeats.
    pub start: usize,
    /// The frame after the last.
    pub end: usize,
    /// How many ms before the end turn into what lies before the start.
    pub crossfade_ms: u32,
}

/// The shortest and the longest loop, in seconds: a shorter one buzzes, as its repetition is heard as a tone or a flutter
/// [practice], a longer one is no more even.
const LENGTHS: (f64, f64) = (0.2, 2.0);
/// Levels are taken over so many seconds, every so many.
const LEVEL: (f64, f64) = (0.06, 0.01);
/// A steady part is to be so many seconds long: the longest that is there is taken.
const WANTED: [f64; 3] = [1.5, 0.8, 0.45];
/// Its level stays within so many dB: the narrowest that is long enough is taken.
const STEADY: [f64; 4] = [2.0, 3.0, 4.5, 6.0];
/// A line through its levels falls or rises by no more than so many dB from its beginning to its end. What dies away or swells
/// fills whatever its level may stay within.
const CHANGE: f64 = 1.6;
/// It is no softer than so many dB under the loudest of the recording: what has died away so far goes on to.
const SOFTEST: f64 = -9.0;
/// What comes behind it may be softer by so many dB for so much of the recording's time as a share, that which is within so many
/// dB of the loudest: the end of a note, not a sound that dies away once it has begun.
const BEHIND: (f64, f64, f64) = (6.0, 0.3, 40.0);
/// Of a recording so many seconds are looked at, and of its steady part so many at its end.
const LOOKED_AT: (f64, f64) = (30.0, 4.0);
/// The crossfade in ms, and at least so many periods.
const FADE: (f64, f64) = (50.0, 4.0);
/// Ends that are tried, over so many seconds at the end of the steady part.
const ENDS: (usize, f64) = (8, 0.15);
/// Two places are alike from here on: twice the product of the two over the sum of their powers, 1 for the same sound at the same level.
const ALIKE: f64 = 0.7;
/// What the longest loop is worth beside the shortest, in likeness.
const LONGER: f64 = 0.1;

/// Finds a loop in a recording that sounds at a MIDI key; none where it has no steady part, or no two places in it are alike.
///
/// Loops reach from a place near the end of the steady part back to the place before it whose surroundings are most alike:
/// all of the crossfade, and a quarter as much behind it. That makes a loop of a tone whole periods long, and one of a vibrato
/// whole swings.
pub(crate) fn find_loop(audio: &Audio, key: f64) -> Option<FoundLoop> {
    let rate = f64::from(audio.rate);
    let frames = |seconds: f64| (seconds * rate) as usize;
    let (from, to) = steady(audio)?;
    let crossfade_ms = FADE.0.max((FADE.1 * 1000.0 / frequency(key)).ceil());
    let fade = libm::round(crossfade_ms / 1000.0 * rate) as usize;
    let behind = fade / 4;
    let reach = Reach {
        least: frames(LENGTHS.0).max(fade),
        most: frames(LENGTHS.1),
        fade,
        behind,
    };
    let stretch = Stretch::of(audio, from, to);
    let step = (frames(ENDS.1) / ENDS.0).max(1);
    let ends = (0..ENDS.0).filter_map(|n| (to - from).checked_sub(behind + n * step));
    let found = ends.filter_map(|end| stretch.best_start(end, &reach));
    let (start, end, _, alike) = found.max_by(|a, b| a.2.total_cmp(&b.2))?;
    (alike >= ALIKE).then_some(FoundLoop {
        start: from + start,
        end: from + end,
        crossfade_ms: crossfade_ms as u32,
    })
}

/// The steady part of a recording: its first frame and the one after its last.
fn steady(audio: &Audio) -> Option<(usize, usize)> {
    let rate = f64::from(audio.rate);
    let (window, hop) = ((LEVEL.0 * rate) as usize, (LEVEL.1 * rate) as usize);
    let levels: Vec<f64> = (0..)
        .map(|n| n * hop)
        .take_while(|at| at + window <= audio.frames().min((LOOKED_AT.0 * rate) as usize))
        .map(|at| level(audio, at, window))
        .collect();
    let loudest = levels.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let is_steady = |from: usize, to: usize| {
        let part = &levels[from..to];
        let mean = part.iter().sum::<f64>() / part.len() as f64;
        let count = |levels: &[f64], is: &dyn Fn(f64) -> bool| levels.iter().filter(|level| is(**level)).count() as f64;
        let behind = count(&levels[to..], &|level| level < mean - BEHIND.0);
        part.iter().all(|level| *level > loudest + SOFTEST)
            && (slope(part) * part.len() as f64).abs() <= CHANGE
            && behind < BEHIND.1 * count(&levels, &|level| level > loudest - BEHIND.2)
    };
    let runs: Vec<(usize, usize)> = STEADY
        .iter()
        .filter_map(|range| longest_within(&levels, *range))
        .collect();
    let found = WANTED.iter().find_map(|wanted| {
        let long = |(from, to): &&(usize, usize)| (to - from - 1) as f64 * LEVEL.1 + LEVEL.0 >= *wanted;
        runs.iter()
            .filter(long)
            .find(|(from, to)| is_steady(*from, *to))
            .copied()
    });
    let (from, to) = found?;
    let to = (to - 1) * hop + window;
    Some(((from * hop).max(to.saturating_sub((LOOKED_AT.1 * rate) as usize)), to))
}

/// The power of a stretch in dB.
fn level(audio: &Audio, at: usize, frames: usize) -> f64 {
    let power = |side: &Vec<f32>| side[at..at + frames].iter().map(|x| f64::from(*x).powi(2)).sum::<f64>();
    10.0 * libm::log10(audio.channels.iter().map(power).sum::<f64>().max(1e-20))
}

/// The longest run of levels that lie within so many dB of one another.
fn longest_within(levels: &[f64], range: f64) -> Option<(usize, usize)> {
    let (mut from, mut best) = (0, None::<(usize, usize)>);
    for to in 1..=levels.len() {
        let spread = |from: usize| {
            let part = &levels[from..to];
            let (least, most) = part
                .iter()
                .fold((f64::MAX, f64::MIN), |(a, b), x| (a.min(*x), b.max(*x)));
            most - least
        };
        while spread(from) > range {
            from += 1;
        }
        if best.is_none_or(|(a, b)| to - from > b - a) {
            best = Some((from, to));
        }
    }
    best
}

/// The slope of a line through levels, in dB from one to the next, by least squares.
fn slope(levels: &[f64]) -> f64 {
    let middle = (levels.len() - 1) as f64 / 2.0;
    let along = levels
        .iter()
        .enumerate()
        .map(|(n, level)| (n as f64 - middle) * level)
        .sum::<f64>();
    let spread = (0..levels.len()).map(|n| (n as f64 - middle).powi(2)).sum::<f64>();
    if spread > 0.0 { along / spread } else { 0.0 }
}

/// How far apart the ends of a loop may lie, and what of their surroundings is compared, in frames.
struct Reach {
    least: usize,
    most: usize,
    fade: usize,
    behind: usize,
}

/// The steady part, ready to be compared with stretches of itself.
struct Stretch<'a> {
    sides: Vec<&'a [f32]>,
    /// The power of all that lies before each frame.
    powers: Vec<f64>,
    size: usize,
    spectra: Vec<Vec<Complex<f64>>>,
}

impl Stretch<'_> {
    fn of(audio: &Audio, from: usize, to: usize) -> Stretch<'_> {
        let sides: Vec<&[f32]> = audio.channels.iter().map(|side| &side[from..to]).collect();
        let mut powers = vec![0.0];
        for n in 0..to - from {
            let power: f64 = sides.iter().map(|side| f64::from(side[n]).powi(2)).sum();
            powers.push(powers[n] + power);
        }
        // Twice as long, so that the correlation of one end does not wrap round to the other.
        let size = (2 * (to - from)).next_power_of_two();
        let spectra = sides.iter().map(|side| spectrum(side, size)).collect();
        Stretch {
            sides,
            powers,
            size,
            spectra,
        }
    }

    /// The start that suits an end best: both, what they are worth, and how alike their surroundings are.
    fn best_start(&self, end: usize, reach: &Reach) -> Option<(usize, usize, f64, f64)> {
        let span = reach.fade + reach.behind;
        let first = end.saturating_sub(reach.most).max(reach.fade);
        let last = end.checked_sub(reach.least)?;
        if end < reach.fade || first > last {
            return None;
        }
        let at = end - reach.fade;
        let products = self.products(at, span);
        let power = |at: usize| self.powers[at + span] - self.powers[at];
        let longest = (reach.most as f64 / reach.least as f64).max(2.0);
        (first..=last)
            .map(|start| {
                let from = start - reach.fade;
                let alike = 2.0 * products[from] / (power(from) + power(at)).max(f64::MIN_POSITIVE);
                let length = libm::log((end - start) as f64 / reach.least as f64) / libm::log(longest);
                (start, end, alike + LONGER * length, alike)
            })
            .max_by(|a, b| a.2.total_cmp(&b.2))
    }

    /// The sums of products of a stretch with as long a stretch from each frame on, by the correlation theorem.
    fn products(&self, at: usize, span: usize) -> Vec<f64> {
        let mut sum = vec![Complex::new(0.0, 0.0); self.size / 2 + 1];
        for (side, whole) in self.sides.iter().zip(&self.spectra) {
            let part = spectrum(&side[at..at + span], self.size);
            for ((sum, whole), part) in sum.iter_mut().zip(whole).zip(part) {
                *sum += whole * part.conj();
            }
        }
        // What rounding has left there is none of a real signal's.
        sum[0].im = 0.0;
        sum[self.size / 2].im = 0.0;
        let mut products = vec![0.0; self.size];
        let back = RealFftPlanner::new().plan_fft_inverse(self.size);
        back.process(&mut sum, &mut products).expect("the sizes suit");
        products.iter_mut().for_each(|product| *product /= self.size as f64);
        products
    }
}

fn spectrum(samples: &[f32], size: usize) -> Vec<Complex<f64>> {
    let plan = RealFftPlanner::new().plan_fft_forward(size);
    let mut padded = vec![0.0; size];
    padded
        .iter_mut()
        .zip(samples)
        .for_each(|(to, sample)| *to = f64::from(*sample));
    let mut spectrum = plan.make_output_vec();
    plan.process(&mut padded, &mut spectrum).expect("the sizes suit");
    spectrum
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;
    use crate::kit::audio::crossfade::crossfade;

    const RATE: u32 = 48_000;

    /// A tone with overtones, of so many seconds, at a level and a pitch that change over time.
    fn tone(seconds: f64, hz: impl Fn(f64) -> f64, level: impl Fn(f64) -> f64) -> Audio {
        let mut phase = 0.0;
        let frames = (seconds * f64::from(RATE)) as usize;
        let side = (0..frames).map(|n| {
            let time = n as f64 / f64::from(RATE);
            phase += TAU * hz(time) / f64::from(RATE);
            let wave = libm::sin(phase) + 0.5 * libm::sin(2.0 * phase) + 0.25 * libm::sin(3.0 * phase + 1.0);
            (0.3 * level(time) * wave) as f32
        });
        Audio {
            channels: vec![side.collect()],
            rate: RATE,
        }
    }

    /// Blown: it speaks within 80 ms and stays.
    fn blown(time: f64) -> f64 {
        (time / 0.08).min(1.0)
    }

    #[test]
    fn a_steady_tone_repeats_in_whole_periods_and_its_loop_has_no_seam() {
        for key in [31.3, 45.0, 60.17, 69.0, 83.5] {
            let hz = frequency(key);
            let mut audio = tone(1.6, |_| hz, blown);
            let found = find_loop(&audio, key).unwrap_or_else(|| panic!("no loop at {key}"));
            let periods = (found.end - found.start) as f64 * hz / f64::from(RATE);
            // Whole frames are not whole periods: half of one at the most is lacking.
            let frame = hz / f64::from(RATE);
            assert!(
                (periods - libm::round(periods)).abs() < 0.6 * frame,
                "{periods} periods at {key}"
            );
            assert!((found.end - found.start) as f64 >= 0.2 * f64::from(RATE), "{found:?}");
            let fade = (f64::from(found.crossfade_ms) / 1000.0 * f64::from(RATE)) as usize;
            crossfade(&mut audio, found.start, found.end, fade);
            let side = &audio.channels[0];
            let bend = |round: &[f32]| {
                let bends = round.windows(3).map(|near| (near[2] - 2.0 * near[1] + near[0]).abs());
                bends.fold(0.0, f32::max)
            };
            let seam = [&side[found.end - 50..found.end], &side[found.start..found.start + 50]].concat();
            assert!(bend(&seam) < 1.05 * bend(&side[found.start..found.end]), "at {key}");
        }
    }

    #[test]
    fn a_vibrato_repeats_in_whole_swings() {
        // A singer's: 5.6 times a second, half a semitone up and down (Seashore, "Psychology of Music", 1938 [memory]).
        for (speed, depth) in [(5.6, 0.5), (4.8, 0.3), (6.5, 0.2)] {
            let hz = |time: f64| frequency(62.0 + depth * libm::sin(TAU * speed * time));
            let audio = tone(2.5, hz, blown);
            let found = find_loop(&audio, 62.0).expect("a loop");
            let swings = (found.end - found.start) as f64 / f64::from(RATE) * speed;
            assert!(
                (swings - libm::round(swings)).abs() < 0.06,
                "{swings} swings of {speed} Hz"
            );
        }
    }

    #[test]
    fn what_dies_away_or_never_settles_has_none() {
        let hz = frequency(57.0);
        // Struck and plucked: 60 dB down after 1.5 to 20 s, as strings of a piano are (Fletcher and Rossing, "The Physics of
        // Musical Instruments", 12.6 [memory]).
        for decay in [1.5, 4.0, 10.0, 20.0] {
            let audio = tone(
                2.0,
                |_| hz,
                |time| blown(time * 20.0) * libm::exp10(-3.0 * time / decay),
            );
            assert_eq!(find_loop(&audio, 57.0), None, "{decay} s");
        }
        let swelling = tone(1.0, |_| hz, |time| libm::exp10(time - 1.0));
        assert_eq!(find_loop(&swelling, 57.0), None);
        let sliding = tone(1.5, |time| frequency(50.0 + 12.0 * time), blown);
        assert_eq!(find_loop(&sliding, 57.0), None);
        let short = tone(0.25, |_| hz, blown);
        assert_eq!(find_loop(&short, 57.0), None);
        let silence = Audio::silence(1, 48_000, RATE);
        assert_eq!(find_loop(&silence, 57.0), None);
    }

    #[test]
    fn both_sides_count() {
        // The left has one pitch throughout, the right changes by a semitone half way: no place suits both but on one side of it.
        let hz = frequency(57.0);
        let left = tone(3.0, |_| hz, blown);
        let right = tone(3.0, |time| if time < 1.5 { hz } else { hz * 1.06 }, blown);
        let both = Audio {
            channels: [left.channels, right.channels].concat(),
            rate: RATE,
        };
        let found = find_loop(&both, 57.0).expect("a loop");
        assert!(found.start as f64 > 1.5 * f64::from(RATE), "{found:?}");
    }
}
