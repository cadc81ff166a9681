//! The kit as a picture.

use super::problems::RecordingProblem;
use super::report::Report;
use super::shot::Shot;
use crate::export::picture::{OneShot, OneShots};
use crate::kit::audio::pitch::note_name;
use crate::measure::SPECTRUM_RANGE;
use crate::text::Problem;

/// More on one sheet is more than a screen or a printer takes.
pub(crate) const MOST: usize = 400;

impl Report<'_> {
    /// The sheet of all recordings.
    ///
    /// # Errors
    /// Too many recordings for one.
    pub(super) fn sheet(&self) -> Result<OneShots, Problem> {
        if self.shots.len() > MOST {
            let what = format!(
                "{} one-shots are too many for one picture, which holds {MOST}",
                self.shots.len()
            );
            return Err(Problem::new(what).help("draw the folders in it one by one"));
        }
        let pieces = self.pieces();
        let about = vec![
            format!("{} pieces", pieces.len()),
            format!("{} files", self.shots.len()),
            "each as long and as high as its frame, its spectrum 60 dB deep in Hz".into(),
        ];
        let pieces = pieces.into_iter().map(|of| {
            let shots = of.shots.iter().map(|shot| self.drawn(shot)).collect();
            (of.piece.name.clone(), shots)
        });
        Ok(OneShots {
            title: self.title(),
            about,
            range: SPECTRUM_RANGE,
            pieces: pieces.collect(),
        })
    }

    fn drawn(&self, shot: &Shot) -> OneShot {
        let found = shot.found.as_ref().ok();
        let drawn = found.and_then(|found| found.drawn.as_ref());
        let mut about = Vec::new();
        if let Some(found) = found {
            about.push(format!("{:.2} s", found.facts.seconds));
            about.extend(found.facts.peak_db.map(|peak| format!("{peak:.1} dBFS")));
            about.extend(self.root(shot).0.map(note_name));
        }
        OneShot {
            name: self.file(shot),
            about: about.join(" · ").replace('-', "\u{2212}"),
            odd: shot
                .odd
                .iter()
                .map(RecordingProblem::short)
                .collect::<Vec<_>>()
                .join(", "),
            wave: drawn.map_or_else(|| vec![(0.0, 0.0)], |drawn| drawn.wave.clone()),
            spectrum: drawn.map_or_else(Vec::new, |drawn| drawn.spectrum.clone()),
        }
    }
}
