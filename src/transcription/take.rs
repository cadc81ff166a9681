//! A recording, read for its transcription.

use std::path::Path;

use super::RATE;
use crate::base::audio::{Audio, peak};
use crate::kit::audio::decode::{decode, told_seconds};
use crate::kit::audio::resampling::resample;
use crate::text::Problem;

/// The longest recording that is transcribed, in seconds.
pub(crate) const LONGEST: f64 = 600.0;

/// Under this amplitude there is nothing to transcribe: -80 dBFS.
const SILENT: f32 = 1e-4;

/// A recording of one player.
#[derive(Debug)]
pub(crate) struct Take {
    /// What was recorded: its channels at its own rate.
    pub recorded: Audio,
    /// The mean of its channels at [`RATE`].
    pub mono: Vec<f32>,
}

impl Take {
    /// Reads a WAV, an AIFF or a FLAC.
    ///
    /// # Errors
    /// When it can't be read, lasts longer than [`LONGEST`], or is silent.
    pub(crate) fn read(path: &Path) -> Result<Take, Problem> {
        // A header is asked first: what is too long is not decoded.
        let told = told_seconds(path).filter(|seconds| *seconds > LONGEST);
        if let Some(seconds) = told {
            return Err(too_long(path, seconds));
        }
        let recorded = decode(path).map_err(|unread| unread.problem(path))?.audio;
        if recorded.seconds() > LONGEST {
            return Err(too_long(path, recorded.seconds()));
        }
        let take = Take::of(recorded);
        match peak(&take.recorded.channels) < SILENT {
            true => {
                let what = format!("`{}` is silent: nothing in it is louder than -80 dBFS", path.display());
                Err(Problem::new(what).help("record again, nearer to the microphone or with more gain"))
            }
            false => Ok(take),
        }
    }

    /// A take of some audio.
    pub(crate) fn of(recorded: Audio) -> Take {
        let share = 1.0 / recorded.channels.len().max(1) as f32;
        let mut mono = vec![0.0; recorded.frames()];
        for side in &recorded.channels {
            mono.iter_mut()
                .zip(side)
                .for_each(|(sum, sample)| *sum += share * sample);
        }
        let one = Audio {
            channels: vec![mono],
            rate: recorded.rate,
        };
        let mono = resample(&one, RATE).channels.swap_remove(0);
        Take { recorded, mono }
    }

    /// Its length in seconds.
    pub(crate) fn seconds(&self) -> f64 {
        self.recorded.seconds()
    }
}

fn too_long(path: &Path, seconds: f64) -> Problem {
    let what = format!(
        "`{}` lasts {:.1} minutes; {:.0} minutes are the most that is transcribed",
        path.display(),
        seconds / 60.0,
        LONGEST / 60.0
    );
    Problem::new(what).help("cut out the bars that you want")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_take_is_the_mean_of_its_channels_at_one_rate() {
        let take = Take::of(Audio {
            channels: vec![vec![0.5; 44_100], vec![0.25; 44_100]],
            rate: 44_100,
        });
        assert_eq!(take.mono.len(), 48_000);
        assert!((take.mono[24_000] - 0.375).abs() < 1e-3);
        assert_eq!(take.seconds(), 1.0);
    }
}
