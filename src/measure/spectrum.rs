//! The spectrum of a sound as a whole, for the eye.

use realfft::RealFftPlanner;

use crate::base::audio::Audio;

/// The lowest and the highest frequency of a [`spectrum`], in Hz.
pub(crate) const SPECTRUM_RANGE: (f64, f64) = (20.0, 20_000.0);

/// Points of a window.
const WINDOW: usize = 8192;
/// What is further below the loudest band is nothing, in dB.
const FLOOR: f64 = -120.0;

/// Levels in so many bands, evenly spaced in octaves over [`SPECTRUM_RANGE`], in dB below the loudest band. Pink noise is level.
/// Empty for silence.
///
/// Powers are summed over windows of 8192 points (Hann), half of each over the next, and over channels. A band that is narrower
/// than a line of the spectrum has its share of the line.
pub(crate) fn spectrum(audio: &Audio, bands: usize) -> Vec<f64> {
    let power = lines(audio);
    let (low, high) = SPECTRUM_RANGE;
    let edge = |band: usize| low * libm::exp2(libm::log2(high / low) * band as f64 / bands as f64);
    let line = |hertz: f64| hertz * WINDOW as f64 / f64::from(audio.rate.max(1));
    let levels: Vec<f64> = (0..bands)
        .map(|band| between(&power, line(edge(band)), line(edge(band + 1))))
        .collect();
    let most = levels.iter().copied().fold(0.0, f64::max);
    if most <= 0.0 {
        return Vec::new();
    }
    let db = |level: &f64| (10.0 * libm::log10(level / most)).max(FLOOR);
    levels.iter().map(db).collect()
}

/// The power in each line from 0 to half the rate.
fn lines(audio: &Audio) -> Vec<f64> {
    let fft = RealFftPlanner::<f32>::new().plan_fft_forward(WINDOW);
    let (mut windowed, mut out) = (fft.make_input_vec(), fft.make_output_vec());
    let shape: Vec<f32> = (0..WINDOW)
        .map(|n| 0.5 - 0.5 * libm::cosf(std::f32::consts::TAU * n as f32 / WINDOW as f32))
        .collect();
    let mut power = vec![0.0; WINDOW / 2 + 1];
    for channel in &audio.channels {
        // The first window begins before the sound, so that what is loudest, the stroke, is not faded in.
        for begin in (0..channel.len() + WINDOW / 2).step_by(WINDOW / 2) {
            for ((n, sample), shape) in windowed.iter_mut().enumerate().zip(&shape) {
                let at = (begin + n).checked_sub(WINDOW / 2).and_then(|at| channel.get(at));
                *sample = shape * at.copied().unwrap_or(0.0);
            }
            // The lengths are the plan's own.
            if fft.process(&mut windowed, &mut out).is_ok() {
                for (sum, line) in power.iter_mut().zip(&out) {
                    *sum += f64::from(line.re).powi(2) + f64::from(line.im).powi(2);
                }
            }
        }
    }
    power
}

/// The power between two places among the lines, each of which reaches half a line to either side.
fn between(power: &[f64], from: f64, to: f64) -> f64 {
    let (first, last) = ((from + 0.5) as usize, (to + 0.5) as usize);
    let share = |line: usize| {
        let (begins, ends) = (line as f64 - 0.5, line as f64 + 0.5);
        (to.min(ends) - from.max(begins)).max(0.0)
    };
    (first..=last)
        .filter_map(|line| Some(power.get(line)? * share(line)))
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sine_is_loudest_in_its_own_band_and_a_click_rises_3_db_an_octave() {
        let sine = |n: usize| libm::sin(std::f64::consts::TAU * 1000.0 * n as f64 / 48_000.0) as f32;
        let audio = |side: Vec<f32>| Audio {
            channels: vec![side],
            rate: 48_000,
        };
        let told = spectrum(&audio((0..48_000).map(sine).collect()), 30);
        let loudest = told.iter().position(|db| *db == 0.0).unwrap();
        // Thirty bands over three decades: ten a decade.
        assert_eq!(loudest, ((1000.0f64 / 20.0).log10() * 10.0) as usize);
        // Its beginning and its end, which are sudden, spread some of it.
        assert!(told[loudest + 4] < -45.0, "{told:?}");
        let mut click = vec![0.0; 9000];
        click[4096] = 1.0;
        let told = spectrum(&audio(click), 30);
        // A click has equal power in every hertz, a decade has ten times the hertz of the one below.
        assert!((told[29] - told[19] - 10.0).abs() < 0.1, "{told:?}");
        assert!(spectrum(&audio(vec![0.0; 100]), 30).is_empty());
    }
}
