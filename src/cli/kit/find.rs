//! `pressroll kit --like` and `--role`: the one-shots that sound nearest to one, or that could be a piece.

use std::path::{Path, PathBuf};

use serde::Serialize;

use super::groups::Group;
use super::report::{OfPiece, Report};
use super::shot::{Found, Shot};
use crate::kit::find::{COULD_BE, Sound, fits, nearest};
use crate::kit::findings::find_all;
use crate::kit::{Decided, is_percussion, kind, percussion};
use crate::text::table::{Table, apart};
use crate::text::{Problem, did_you_mean, nearest as nearest_word, one_line, shown_json, shown_path, thousands};

/// Columns of the page.
const WIDTH: usize = 80;
/// The widest that a file's name may be.
const FILE: usize = 36;

/// One-shots that were found.
#[derive(Serialize)]
pub(super) struct Answer {
    folder: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    like: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    role: Option<String>,
    /// How many there are in all.
    of: usize,
    found: Vec<FoundFields>,
}

/// One of them.
#[derive(Serialize)]
struct FoundFields {
    #[serde(skip_serializing_if = "Option::is_none")]
    fit: Option<f64>,
    distance: Option<f64>,
    piece: String,
    seconds: f64,
    lufs: Option<f64>,
    file: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    right: Option<String>,
}

/// A one-shot that sounds, with its piece.
struct Heard<'a> {
    of: &'a OfPiece<'a>,
    shot: &'a Shot,
    found: &'a Found,
    sound: Sound<'a>,
}

impl Report<'_> {
    /// The one-shots that sound nearest to a file, at most so many; the file itself is none of them.
    ///
    /// # Errors
    /// A file that can't be read, or is silent.
    pub(super) fn like(&self, file: &Path, most: usize) -> Result<Answer, Problem> {
        let found = find_all(&[file]).pop().expect("one for each")?;
        let Some(like) = &found.fingerprint else {
            return Err(Problem::new(format!(
                "{} is silent, so nothing sounds like it",
                shown_path(file)
            )));
        };
        let pieces = self.pieces();
        let mut heard = self.heard(&pieces);
        let own = file.canonicalize().ok();
        heard.retain(|heard| own.is_none() || heard.shot.path.canonicalize().ok() != own);
        let sounds: Vec<Sound> = heard.iter().map(|heard| heard.sound).collect();
        let found = nearest(like, &sounds).into_iter();
        Ok(Answer {
            folder: self.folder.display().to_string(),
            like: Some(file.display().to_string()),
            role: None,
            of: sounds.len(),
            found: found
                .take(most)
                .map(|(at, distance)| self.fields(&heard[at], None, Some(distance)))
                .collect(),
        })
    }

    /// The one-shots that could be a piece, those that fit best, at most so many.
    ///
    /// # Errors
    /// A piece that neither General MIDI nor the kit has.
    pub(super) fn role(&self, piece: &str, most: usize) -> Result<Answer, Problem> {
        let pieces = self.pieces();
        let mut names: Vec<&str> = pieces.iter().map(|of| kind(&of.piece.name).0).collect();
        percussion().for_each(|name| names.push(name));
        if !names.contains(&piece) {
            let problem = Problem::new(format!("neither General MIDI nor the kit has a piece `{piece}`"));
            return Err(match nearest_word(piece, names) {
                Some(near) => problem.help(did_you_mean(near)),
                None => problem.help(
                    "`pressroll kit FOLDER` lists the kit's pieces, `pressroll manual kits` those of General MIDI",
                ),
            });
        }
        let heard = self.heard(&pieces);
        let sounds: Vec<Sound> = heard.iter().map(|heard| heard.sound).collect();
        let fits: Vec<_> = fits(piece, &sounds, &[])
            .into_iter()
            .filter(|fit| fit.fit >= COULD_BE)
            .collect();
        let fields = |fit: &crate::kit::find::Fit| self.fields(&heard[fit.at], Some(fit.fit), fit.distance);
        Ok(Answer {
            folder: self.folder.display().to_string(),
            like: None,
            role: Some(piece.to_string()),
            of: fits.len(),
            found: fits.iter().take(most).map(fields).collect(),
        })
    }

    /// The one-shots that sound, each once, by the first piece that has it.
    fn heard<'a>(&self, pieces: &'a [OfPiece<'a>]) -> Vec<Heard<'a>> {
        let mut heard: Vec<Heard> = Vec::new();
        for of in pieces {
            let name = of.reading.piece.unwrap_or(kind(&of.piece.name).0);
            let sure = match of.reading.decided {
                // What was recorded at several pitches is an instrument, and surely no percussion.
                Decided::Nothing if of.shots.len() > 1 && self.group(of) == Group::Instruments => Some(1.0),
                Decided::Nothing => None,
                Decided::Written if !is_percussion(name) => None,
                _ => Some(of.reading.confidence),
            };
            for shot in &of.shots {
                let found = shot.found.as_ref().ok();
                heard.extend(found.and_then(|found| {
                    let like = found.fingerprint.as_ref()?;
                    let sound = Sound { like, name, sure };
                    Some(Heard { of, shot, found, sound })
                }));
            }
        }
        heard.sort_by_key(|heard| heard.shot.take);
        heard.dedup_by_key(|heard| heard.shot.take);
        heard
    }

    fn fields(&self, heard: &Heard, fit: Option<f64>, distance: Option<f64>) -> FoundFields {
        FoundFields {
            fit,
            distance,
            piece: heard.of.piece.name.clone(),
            seconds: heard.found.facts.seconds,
            lufs: heard.found.lufs,
            file: self.file(heard.shot),
            right: heard.shot.right.as_deref().map(|right| self.within(right)),
        }
    }
}

impl Answer {
    /// For people: a line each.
    pub(super) fn page(&self) -> String {
        let folder = shown_path(&PathBuf::from(&self.folder));
        let count = |of: usize| match of {
            1 => "1 one-shot".to_string(),
            of => format!("{} one-shots", thousands(of)),
        };
        let shown = self.found.len();
        let all = match (&self.like, &self.role) {
            (Some(like), _) => format!(
                "{folder}: {shown} of {} by how near they sound to {}",
                count(self.of),
                one_line(like)
            ),
            (_, Some(role)) if shown == self.of => {
                format!("{folder}: {} that could be a {role}, the best first", count(shown))
            }
            (_, role) => format!(
                "{folder}: {shown} of {} that could be a {}, the best first; `--most` lists more",
                count(self.of),
                role.as_deref().unwrap_or_default()
            ),
        };
        let mut table = Table::with_words();
        let fit = if self.role.is_some() { "fit" } else { "" };
        let heads = [fit, "distance", "length", "loud", "file"];
        let units = [if fit.is_empty() { "" } else { "%" }, "", "s", "LUFS", ""];
        let from = usize::from(fit.is_empty());
        table.row("", heads[from..].iter().copied());
        table.row("", units[from..].iter().copied());
        let files: Vec<&str> = self.found.iter().map(|found| found.file.as_str()).collect();
        for (found, file) in self.found.iter().zip(apart(&files, FILE)) {
            let figure =
                |figure: Option<f64>, places: usize| figure.map_or("-".into(), |figure| format!("{figure:.places$}"));
            let cells = [
                figure(found.fit.map(|fit| 100.0 * fit), 0),
                figure(found.distance, 2),
                figure(Some(found.seconds), 2),
                figure(found.lufs, 1),
                one_line(&file).into_owned(),
            ];
            table.row(one_line(&found.piece), cells[from..].iter().cloned());
        }
        format!("{all}\n\n{}", table.text(WIDTH)).trim_end().to_string()
    }

    /// For programs: one JSON object.
    pub(super) fn json(&self) -> String {
        shown_json(serde_json::to_string(self).expect("figures and names are always JSON"))
    }
}
