//! What loudness is reckoned from, so that a sound need not be heard anew for its range, or at another level.

use std::ops::RangeInclusive;

use super::BLOCK;
use super::gating::{blocks, gated, silence};
use super::weighted::weighted;
use crate::base::audio::Audio;

/// Seconds of the shortest programme whose loudness range is defined: one window of short-term loudness and a step.
const RANGE: f64 = 3.1;
/// Stretches of 100 ms in a window of short-term loudness (EBU Tech 3341: 3 s), and from one to the next (1 s).
const WINDOW: usize = 30;
const STEP: usize = 10;
/// The gate and the ends of a loudness range (EBU Tech 3342): 20 LU under the mean; the 10th and the 95th percentile.
const RANGE_GATE: f64 = -20.0;
const ENDS: (f64, f64) = (0.10, 0.95);
/// Rates in Hz at which loudness is measured: below them the weighting has no room for its shelf, which stands at 1682 Hz.
pub(super) const RATES: RangeInclusive<u32> = 4000..=2_822_400;
/// How near a loudness comes to what it is to be, in LU.
const NEAR: f64 = 0.001;

/// The weighted energy of each channel of a sound in stretches of 100 ms.
#[derive(Debug, Clone, PartialEq)]
pub struct Energies {
    tenths: Vec<Vec<f64>>,
    seconds: f64,
}

impl Energies {
    /// Listens to a sound; none where its rate is none of [`RATES`].
    pub fn of(audio: &Audio) -> Option<Energies> {
        let tenth = (audio.rate / 10) as usize;
        RATES.contains(&audio.rate).then(|| Energies {
            tenths: weighted(audio, tenth, audio.frames() / tenth, |_, power| power / tenth as f64),
            seconds: audio.seconds(),
        })
    }

    /// Of a sound with so many channels of which nothing has been heard yet.
    pub(super) fn empty(channels: usize) -> Energies {
        Energies {
            tenths: vec![Vec::new(); channels],
            seconds: 0.0,
        }
    }

    /// Adds 100 ms more: each channel's.
    pub(super) fn push(&mut self, tenth: &[f64]) {
        self.tenths
            .iter_mut()
            .zip(tenth)
            .for_each(|(own, tenth)| own.push(*tenth));
    }

    /// Says that the sound goes on for so many seconds.
    pub(super) fn lasts(&mut self, seconds: f64) {
        self.seconds += seconds;
    }

    /// Adds a sound behind this one.
    pub(super) fn append(&mut self, other: &Energies) {
        self.tenths
            .iter_mut()
            .zip(&other.tenths)
            .for_each(|(own, other)| own.extend(other));
        self.seconds += other.seconds;
    }

    /// Integrated loudness in LUFS, `gain_db` louder; none for silence or less than 400 ms.
    pub fn lufs(&self, gain_db: f64) -> Option<f64> {
        if self.seconds < BLOCK {
            return None;
        }
        let power = libm::exp10(gain_db / 10.0);
        let channels: Vec<Vec<f64>> = self.tenths.iter().map(|tenths| blocks(tenths)).collect();
        let (first, others) = channels.split_first()?;
        let sum = |at: usize| power * (first[at] + others.iter().map(|channel| channel[at]).sum::<f64>());
        gated(&(0..first.len()).map(sum).collect::<Vec<_>>())
    }

    /// The gain in dB that brings it to a loudness; none where it has none. The gate does not move along with the sound, so
    /// that quiet passages may count anew.
    pub fn gain_to(&self, target: f64) -> Option<f64> {
        let mut gain_db = target - self.lufs(0.0)?;
        for _ in 0..4 {
            match self.lufs(gain_db) {
                Some(reached) if (target - reached).abs() > NEAR => gain_db += target - reached,
                _ => break,
            }
        }
        Some(gain_db)
    }

    /// Loudness range in LU by EBU Tech 3342; none for silence or less than about three seconds.
    pub fn range(&self) -> Option<f64> {
        if self.seconds < RANGE {
            return None;
        }
        let silent = silence();
        let stretches = self.tenths.first()?.len();
        let window = |from: usize| {
            let own = |channel: &Vec<f64>| channel[from..from + WINDOW].iter().sum::<f64>();
            self.tenths.iter().map(own).sum::<f64>() / WINDOW as f64
        };
        let begins = (0..).step_by(STEP).take_while(|from| from + WINDOW <= stretches);
        let mut heard: Vec<f64> = begins.map(window).filter(|energy| *energy >= silent).collect();
        heard.sort_unstable_by(f64::total_cmp);
        let gate = libm::exp10(RANGE_GATE / 10.0) * heard.iter().sum::<f64>() / heard.len().max(1) as f64;
        heard.retain(|energy| *energy >= gate);
        // What is never heard has no range; what is always equally loud has one of 0.
        let Some(last) = heard.len().checked_sub(1) else {
            return self.lufs(0.0).map(|_| 0.0);
        };
        let at = |share: f64| heard[(last as f64 * share + 0.5) as usize];
        Some(10.0 * libm::log10(at(ENDS.1) / at(ENDS.0)))
    }
}

#[cfg(test)]
mod tests {
    use ebur128::Mode;

    use super::*;
    use crate::measure::loudness;
    use crate::measure::tests::fed;

    /// Hiss that swells and fades, seconds long.
    fn waves(seconds: usize) -> Audio {
        use rand_pcg::rand_core::Rng;
        let mut chance = rand_pcg::Pcg32::new(7, 1);
        let mut sample = |n: usize| {
            let swell = libm::sin(n as f64 / 48_000.0) * libm::sin(n as f64 / 911_000.0);
            (swell * (f64::from(chance.next_u32()) / 2f64.powi(32) - 0.5)) as f32
        };
        let left: Vec<f32> = (0..48_000 * seconds).map(&mut sample).collect();
        let right = left.iter().rev().map(|sample| 0.5 * sample).collect();
        Audio {
            channels: vec![left, right],
            rate: 48_000,
        }
    }

    #[test]
    fn range_and_loudness_are_those_of_the_meter() {
        let audio = waves(40);
        let energies = Energies::of(&audio).unwrap();
        let meter = fed(&audio, Mode::I | Mode::LRA).unwrap();
        let (own, meters) = (energies.lufs(0.0).unwrap(), meter.loudness_global().unwrap());
        assert!((own - meters).abs() < 1e-6, "{own} {meters}");
        let (own, meters) = (energies.range().unwrap(), meter.loudness_range().unwrap());
        assert!((own - meters).abs() < 1e-6 && own > 3.0, "{own} {meters}");
        assert_eq!(Energies::of(&waves(3)).unwrap().range(), None, "too short");
        let silence = Energies::of(&Audio::silence(2, 480_000, 48_000)).unwrap();
        assert_eq!(
            (silence.lufs(0.0), silence.range(), silence.gain_to(-20.0)),
            (None, None, None)
        );
    }

    #[test]
    fn the_gain_to_a_loudness_brings_it_there() {
        let mut audio = waves(20);
        let gain_db = Energies::of(&audio).unwrap().gain_to(-31.5).unwrap();
        let gain = crate::base::audio::gain_of_db(gain_db) as f32;
        audio.channels.iter_mut().flatten().for_each(|sample| *sample *= gain);
        let reached = loudness(&audio).unwrap();
        assert!((reached + 31.5).abs() < 0.002, "{reached}");
    }
}
