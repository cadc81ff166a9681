//! Checking a transcript: a picture of what was heard, and the recording beside the loop that was made of it.

use std::path::{Path, PathBuf};

use crate::base::audio::{Audio, gain_of_db};
use crate::cli::replace::Rule;
use crate::export::picture::{Heard, Onset};
use crate::export::wav;
use crate::harmony::pitch_name;
use crate::measure::{Level, common, shot_loudness, true_peak_db};
use crate::project::Project;
use crate::render::Order;
use crate::text::{Problem, Problems};
use crate::transcription::{Take, Transcript};
use crate::wav::{Coding, Tags};

/// What is no surer is doubtful.
const DOUBTFUL: f64 = 0.5;
/// No true peak of an audition is above this, in dBTP.
const CEILING: f64 = -1.0;

/// The files by which a transcript is checked.
pub(super) struct Checks<'a> {
    /// The recording.
    pub recording: &'a Path,
    /// Where its picture goes.
    pub picture: Option<&'a PathBuf>,
    /// Where the recording beside the loop goes.
    pub audition: Option<&'a PathBuf>,
    /// Also replace what pressroll did not write.
    pub force: bool,
}

impl Checks<'_> {
    /// Makes sure, before anything is written, that they may be written.
    ///
    /// # Errors
    /// A picture of another format, and what may not be replaced.
    pub(super) fn allow(&self) -> Result<(), Problem> {
        if let Some(path) = self.picture
            && !["svg", "png"].contains(&&*ending(path))
        {
            let what = format!("{} is neither NAME.svg nor NAME.png", path.display());
            return Err(Problem::new(what).help("name the picture after one of the two formats"));
        }
        for (path, instead) in [
            (self.picture, "file with --picture"),
            (self.audition, "file with --audition"),
        ] {
            Rule::new(self.force, instead)
                .keep_files([self.recording.to_path_buf()])
                .allow(path)?;
        }
        Ok(())
    }

    /// Draws what was heard.
    ///
    /// # Errors
    /// Whatever keeps the picture from being written.
    pub(super) fn draw(&self, take: &Take, heard: &Transcript) -> Result<(), Problems> {
        let Some(path) = self.picture else { return Ok(()) };
        let onset = |seconds: f64, name: String, confidence: f64| Onset {
            seconds,
            name,
            doubtful: confidence <= DOUBTFUL,
        };
        let hits = heard
            .hits
            .iter()
            .map(|hit| onset(hit.seconds, hit.sound.clone(), hit.confidence));
        let notes = heard
            .notes
            .iter()
            .map(|note| onset(note.seconds, pitch_name(f64::from(note.midi)), note.confidence));
        let tempo = heard.tempo.map(|tempo| format!("{tempo:.1} BPM"));
        let picture = Heard {
            title: self
                .recording
                .file_stem()
                .unwrap_or_default()
                .to_string_lossy()
                .into_owned(),
            about: [format!("{:.1} s", heard.seconds)].into_iter().chain(tempo).collect(),
            audio: &take.recorded,
            onsets: hits.chain(notes).collect(),
        }
        .picture();
        match &*ending(path) {
            "svg" => Ok(picture.write_svg(path)?),
            _ => picture.write_png(path),
        }
    }

    /// Renders a loop and writes it beside the recording, in which its bar 1 lies at a frame: the recording is on the left.
    ///
    /// # Errors
    /// As rendering the loop; whatever keeps the file from being written.
    pub(super) fn play(&self, take: &Take, path: &Path, from: i64) -> Result<(), Problems> {
        let Some(to) = self.audition else { return Ok(()) };
        let order = Order {
            rate: take.recorded.rate,
            ..Order::default()
        };
        let played = Project::open(path)?.render_unmetered(&order, None, &|_| ())?.audio;
        let audio = beside(&take.recorded, &played, from);
        Ok(wav::write(to, &audio, Coding::Int24, &Tags::default(), 0)?)
    }
}

fn ending(path: &Path) -> String {
    path.extension().unwrap_or_default().to_string_lossy().to_lowercase()
}

/// A recording on the left and a loop on the right, equally loud; the loop begins at a frame of the recording, which may lie before its
/// beginning.
fn beside(recorded: &Audio, played: &Audio, from: i64) -> Audio {
    let rate = recorded.rate;
    let sides = [(recorded, (-from).max(0) as usize), (played, from.max(0) as usize)];
    let ones = sides.map(|(audio, _)| Audio {
        channels: vec![one(audio)],
        rate,
    });
    let level = |audio: &Audio| {
        let (lufs, true_peak_db) = (shot_loudness(audio)?, true_peak_db(audio)?);
        Some(Level { lufs, true_peak_db })
    };
    let levels = ones.each_ref().map(level);
    let known: Vec<Level> = levels.iter().flatten().copied().collect();
    let aim = common(&known, CEILING).unwrap_or(0.0);
    let frames = ones
        .iter()
        .zip(&sides)
        .map(|(one, (_, late))| one.frames() + late)
        .max()
        .unwrap_or(0);
    let side = |number: usize| {
        let gain = levels[number].map_or(1.0, |level| gain_of_db(aim - level.lufs)) as f32;
        let mut side = vec![0.0; sides[number].1];
        side.extend(ones[number].channels[0].iter().map(|sample| gain * sample));
        side.resize(frames, 0.0);
        side
    };
    Audio {
        channels: vec![side(0), side(1)],
        rate,
    }
}

/// The mean of all channels.
fn one(audio: &Audio) -> Vec<f32> {
    let share = 1.0 / audio.channels.len().max(1) as f32;
    let mean = |frame: usize| share * audio.channels.iter().map(|side| side[frame]).sum::<f32>();
    (0..audio.frames()).map(mean).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tone(level: f32, frames: usize) -> Audio {
        Audio {
            channels: vec![(0..frames).map(|n| level * libm::sinf(n as f32 * 0.1)).collect()],
            rate: 48_000,
        }
    }

    #[test]
    fn both_are_equally_loud_aligned_and_under_the_ceiling() {
        let (recorded, played) = (tone(1.2, 48_000), tone(0.1, 40_000));
        for (from, starts, frames) in [(4_800, (0, 4_800), 48_000), (-4_800, (4_800, 0), 52_800)] {
            let both = beside(&recorded, &played, from);
            assert_eq!(both.frames(), frames);
            let starts_at = |side: &Vec<f32>| side.iter().position(|sample| *sample != 0.0).unwrap_or(0);
            // The first sample of a sine is 0.
            assert_eq!(
                (starts_at(&both.channels[0]), starts_at(&both.channels[1])),
                (starts.0 + 1, starts.1 + 1)
            );
            let highest = |side: &Vec<f32>| side.iter().fold(0.0f32, |most, sample| most.max(sample.abs()));
            let (left, right) = (highest(&both.channels[0]), highest(&both.channels[1]));
            assert!((left - right).abs() < 0.01 && left <= 0.892, "{left} {right}");
        }
    }
}
