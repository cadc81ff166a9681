//! A loop's end that turns into what lies before its beginning, so that it goes round without a seam.

use crate::base::audio::Audio;

/// Crossfades so many frames before the end of a loop with as many before its beginning.
///
/// How the two gains meet depends on how alike the two stretches are. What is alike, as whole periods of a tone are, keeps its
/// level where the gains sum to 1 (equal gain); what is not alike, as breath and bow noise are, where their squares do (equal power).
/// With a correlation r both are w and 1 - w over the root of w² + (1 - w)² + 2r·w·(1 - w), which keeps the power of their sum
/// (Fink, Holters and Zölzer, "Signal-matched power-complementary cross-fading and dry-wet mixing", DAFx 2016 [memory]); w is a
/// raised cosine, so that neither begins nor ends with a corner. A negative r counts as 0: it would lift what cancels.
///
/// # Panics
/// Where so many frames do not lie before the loop's beginning, or in the loop.
pub(crate) fn crossfade(audio: &mut Audio, from: usize, to: usize, frames: usize) {
    let alike = likeness(audio, from - frames, to - frames, frames).max(0.0);
    for side in &mut audio.channels {
        for n in 0..frames {
            let [into, out] = gains((n + 1) as f64 / (frames + 1) as f64, alike);
            let (before, end) = (f64::from(side[from - frames + n]), &mut side[to - frames + n]);
            *end = (into * before + out * f64::from(*end)) as f32;
        }
    }
}

/// The gains of what comes and of what goes, after a share of the way.
fn gains(share: f64, alike: f64) -> [f64; 2] {
    let into = 0.5 - 0.5 * libm::cos(std::f64::consts::PI * share);
    let out = 1.0 - into;
    let level = libm::sqrt(into * into + out * out + 2.0 * alike * into * out);
    [into / level, out / level]
}

/// The normalised correlation of two stretches of a sound, from -1 to 1; 0 where one of them is silent.
pub(super) fn likeness(audio: &Audio, one: usize, other: usize, frames: usize) -> f64 {
    let (mut both, mut of_one, mut of_other) = (0.0, 0.0, 0.0);
    for side in &audio.channels {
        for (a, b) in side[one..one + frames].iter().zip(&side[other..other + frames]) {
            let (a, b) = (f64::from(*a), f64::from(*b));
            both += a * b;
            of_one += a * a;
            of_other += b * b;
        }
    }
    let power = libm::sqrt(of_one * of_other);
    if power > 0.0 { both / power } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use rand_pcg::Pcg64Mcg;
    use rand_pcg::rand_core::{Rng, SeedableRng};

    use super::*;

    fn audio(side: Vec<f32>) -> Audio {
        Audio {
            channels: vec![side],
            rate: 48_000,
        }
    }

    #[test]
    fn whole_periods_stay_what_they_are() {
        let wave: Vec<f32> = (0..20_000)
            .map(|n| libm::sin(n as f64 * std::f64::consts::TAU / 200.0) as f32)
            .collect();
        let mut faded = audio(wave.clone());
        crossfade(&mut faded, 6_000, 14_000, 3_000);
        let off = faded.channels[0]
            .iter()
            .zip(&wave)
            .map(|(a, b)| (a - b).abs())
            .fold(0.0, f32::max);
        // Rounding of single precision: -140 dB.
        assert!(off < 1e-7, "{off}");
    }

    #[test]
    fn the_end_leads_into_the_beginning() {
        // A tone that no whole number of frames fits: its loop would step by a third of its height.
        let wave: Vec<f32> = (0..20_000).map(|n| libm::sin(n as f64 * 0.0411) as f32).collect();
        let mut faded = audio(wave);
        let (from, to) = (6_000, 14_030);
        crossfade(&mut faded, from, to, 3_000);
        let side = &faded.channels[0];
        let round: Vec<f32> = side[to - 3_100..to]
            .iter()
            .chain(&side[from..from + 100])
            .copied()
            .collect();
        let bend = round
            .windows(3)
            .map(|near| (near[2] - 2.0 * near[1] + near[0]).abs())
            .fold(0.0, f32::max);
        let own = 0.0411f32.powi(2);
        assert!(bend < 1.2 * own, "{bend} where the tone has {own}");
    }

    #[test]
    fn noise_keeps_its_level() {
        let mut chance = Pcg64Mcg::seed_from_u64(7);
        let mut faded = audio(
            (0..60_000)
                .map(|_| (chance.next_u32() as f32 / u32::MAX as f32) - 0.5)
                .collect(),
        );
        crossfade(&mut faded, 25_000, 55_000, 20_000);
        let level = |from: usize| {
            let stretch = &faded.channels[0][from..from + 4_000];
            let power: f64 = stretch.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>() / 4_000.0;
            10.0 * libm::log10(power * 12.0)
        };
        // Equal gain would be 3 dB down in the middle. 4,000 samples tell a level to 0.1 dB.
        for from in (35_000..51_000).step_by(4_000) {
            assert!(level(from).abs() < 0.4, "{} dB at {from}", level(from));
        }
    }
}
