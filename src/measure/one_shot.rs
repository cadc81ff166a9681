//! Figures of a one-shot by itself: how bright it is, and how long it is heard.

use realfft::RealFftPlanner;

use crate::base::audio::{Audio, gain_of_db, peak};

/// Points of a window.
const WINDOW: usize = 4096;
/// A one-shot is over where it has fallen so far below its peak, in dB: what a decay's time is counted to.
const OVER: f64 = -60.0;

/// Brightness: the spectral centroid in Hz, the mean of all frequencies weighted by their power (Peeters, "A large set of audio features
/// for sound description", CUIDADO 2004 [memory], with powers for amplitudes, so that hiss under a tone counts for little). None for
/// silence.
///
/// Powers are summed over windows of 4096 points (Hann), half of each over the next, and over channels.
pub(crate) fn brightness(audio: &Audio) -> Option<f64> {
    let fft = RealFftPlanner::<f32>::new().plan_fft_forward(WINDOW);
    let (mut windowed, mut spectrum) = (fft.make_input_vec(), fft.make_output_vec());
    let shape: Vec<f32> = (0..WINDOW)
        .map(|n| 0.5 - 0.5 * libm::cosf(std::f32::consts::TAU * n as f32 / WINDOW as f32))
        .collect();
    let (mut power, mut weighted) = (0.0, 0.0);
    for channel in &audio.channels {
        // The first window begins before the sound, so that what is loudest, the stroke, is not faded in.
        let begins = (0..).map(|window| (window * WINDOW / 2) as i64 - (WINDOW / 2) as i64);
        for begin in begins.take_while(|begin| *begin < channel.len() as i64) {
            for ((n, sample), shape) in windowed.iter_mut().enumerate().zip(&shape) {
                let at = usize::try_from(begin + n as i64).ok();
                *sample = shape * at.and_then(|at| channel.get(at)).copied().unwrap_or(0.0);
            }
            // The lengths are the plan's own.
            fft.process(&mut windowed, &mut spectrum).ok()?;
            for (bin, value) in spectrum.iter().enumerate().skip(1) {
                let own = f64::from(value.re).powi(2) + f64::from(value.im).powi(2);
                power += own;
                weighted += own * bin as f64;
            }
        }
    }
    (power > 0.0).then(|| weighted / power * f64::from(audio.rate) / WINDOW as f64)
}

/// Seconds from the first sample that is heard to the last: those within 60 dB of the peak. None for silence.
pub(crate) fn heard_for(audio: &Audio) -> Option<f64> {
    let most = peak(&audio.channels);
    let floor = most * gain_of_db(OVER) as f32;
    let heard = |sample: &f32| most > 0.0 && sample.abs() >= floor;
    let first = audio
        .channels
        .iter()
        .filter_map(|side| side.iter().position(heard))
        .min()?;
    let last = audio
        .channels
        .iter()
        .filter_map(|side| side.iter().rposition(heard))
        .max()?;
    Some((last + 1 - first) as f64 / f64::from(audio.rate))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tones(hz: &[f64], fall: f64) -> Audio {
        let sample = |n: usize| {
            let time = n as f64 / 48_000.0;
            let sum: f64 = hz.iter().map(|hz| libm::sin(std::f64::consts::TAU * hz * time)).sum();
            (0.2 * sum * libm::exp10(-3.0 * time / fall)) as f32
        };
        Audio {
            channels: vec![(0..48_000).map(sample).collect()],
            rate: 48_000,
        }
    }

    #[test]
    fn a_tone_is_as_bright_as_it_is_high_and_two_as_their_mean() {
        for hz in [60.0, 440.0, 9000.0] {
            let told = brightness(&tones(&[hz], 1e9)).unwrap();
            assert!((told - hz).abs() < 5.0 + 0.01 * hz, "{hz}: {told}");
        }
        let told = brightness(&tones(&[1000.0, 3000.0], 1e9)).unwrap();
        assert!((told - 2000.0).abs() < 30.0, "{told}");
        assert_eq!(brightness(&Audio::silence(2, 9000, 48_000)), None);
    }

    #[test]
    fn a_decay_is_heard_for_its_time_and_silence_around_it_is_not() {
        let mut shot = tones(&[500.0], 0.5);
        let told = heard_for(&shot).unwrap();
        assert!((told - 0.5).abs() < 0.005, "{told}");
        shot.channels[0].splice(0..0, vec![0.0; 10_000]);
        assert!((heard_for(&shot).unwrap() - told).abs() < 1e-9);
        assert_eq!(heard_for(&Audio::silence(1, 100, 48_000)), None);
    }
}
