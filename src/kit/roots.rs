//! Roots: at which pitch each recording was made.
//!
//! What is written in `kit.toml` holds. Else a file's name tells, else its `smpl` or `INST` chunk, else its sound. Makers disagree on
//! whether MIDI key 60 is C3 or C4, so the sound settles the octave of a note in a name.

use std::sync::PoisonError;

use rayon::prelude::*;

use super::audio::analysis_memory;
use super::audio::analysis_memory::Known;
use super::audio::decode::{Sides, told_root};
use super::audio::pitch::{BELIEVED, PitchEstimate, listen, note_name};
use super::audio::stand_in::KEYS;
use super::index::{Index, Layer, Piece};
use super::open::{File, Kit};
use super::root::{Judged, MIDDLE, RootSource, nearest_takes};
use crate::harmony::pitch_name;
use crate::schema::STAND_IN;
use crate::text::Problem;

impl Index {
    /// Of a layer's takes those that a note takes in turn: the nearest to its pitch, all at one root. None have one where the
    /// piece has no root.
    pub fn zone(&self, layer: &Layer, pitch: f64) -> Vec<usize> {
        nearest_takes(&layer.zones, pitch, |take| self.root(take))
    }

    /// How far a piece's nearest recording lies from a pitch, in semitones; none where the piece has no root.
    pub fn reach(&self, piece: &Piece, pitch: f64) -> Option<f64> {
        let roots = piece.layers.iter().flat_map(|layer| &layer.zones);
        roots
            .filter_map(|take| self.root(*take))
            .map(|root| (root - pitch).abs())
            .min_by(f64::total_cmp)
    }
}

impl Kit {
    /// Finds the roots of some pieces, for notes to be played on them. Files are decoded only where their pitch has to be heard.
    ///
    /// What is odd about them is added to the [notices](Kit::notices).
    ///
    /// # Errors
    /// When a file can't be read.
    pub fn find_roots<'a>(&mut self, pieces: impl IntoIterator<Item = &'a str>) -> Result<(), Problem> {
        for name in pieces {
            let Some(piece) = self.index.find(name) else { continue };
            let layers = self.index.pieces[piece].layers.iter();
            let mut takes: Vec<usize> = layers.flat_map(|layer| layer.zones.iter().copied()).collect();
            takes.sort_unstable();
            takes.dedup();
            takes.retain(|take| self.files.get(*take).is_some_and(|file| !file.settled));
            self.settle(name, &takes)?;
            // Hits without a pitch play the zone that is the middle one by what is known now.
            let layers = self.index.pieces[piece].layers.iter().cloned();
            let zoned = |mut layer: Layer| {
                if layer.takes != layer.zones {
                    layer.takes = self.index.zone(&layer, MIDDLE);
                }
                layer
            };
            self.index.pieces[piece].layers = layers.map(zoned).collect();
        }
        Ok(())
    }

    /// Listens to the recordings of some pieces whose roots `kit.toml` says, and tells of those that sound otherwise. What is
    /// written holds all the same, so that this is for whoever asks what may not be meant; nothing is told of files that can't be
    /// read, which are no matter unless they are played.
    pub fn doubtful_roots<'a>(&self, pieces: impl IntoIterator<Item = &'a str>) -> Vec<Problem> {
        let pieces = pieces.into_iter().filter_map(|name| self.index.find(name));
        let layers = pieces.flat_map(|piece| &self.index.pieces[piece].layers);
        let mut takes: Vec<usize> = layers.flat_map(|layer| layer.zones.iter().copied()).collect();
        takes.sort_unstable();
        takes.dedup();
        let doubts = takes.par_iter().map(|take| match self.files.get(*take) {
            Some(File {
                said: RootSource::Written(key),
                sides,
                ..
            }) => hear(sides)
                .ok()
                .flatten()
                .and_then(|heard| self.doubt(*take, *key, heard)),
            _ => None,
        });
        let doubts: Vec<Option<Problem>> = doubts.collect();
        doubts.into_iter().flatten().collect()
    }

    fn doubt(&self, take: usize, key: f64, heard: PitchEstimate) -> Option<Problem> {
        if heard.confidence < BELIEVED || (heard.key - key).abs() < 1.0 {
            return None;
        }
        let (file, says, sounds) = (self.shown(take), pitch_name(key), note_name(heard.key));
        let what = format!("`{file}` has the root {says} in kit.toml, and sounds as {sounds}, counting C4 as middle C");
        Some(Problem::new(what).help(format!(
            "it is played as {says}; write root = \"{sounds}\" if notes on it are out of tune"
        )))
    }

    /// What was found odd about the kit's pitches.
    pub fn notices(&self) -> &[Problem] {
        &self.notices
    }

    fn settle(&mut self, piece: &str, takes: &[usize]) -> Result<(), Problem> {
        let judge = || takes.par_iter().map(|take| self.judge(*take)).collect();
        let judged: Vec<_> = analysis_memory::timed(judge);
        let judged = judged.into_iter().collect::<Result<Vec<Judged>, Problem>>()?;
        let octaves = self.octaves_off(takes, &judged);
        for (take, judged) in takes.iter().zip(&judged) {
            let said = self.files[*take].said;
            let key = match said {
                RootSource::Named(key) => Some(f64::from(key + 12 * octaves)),
                _ => judged.key,
            };
            self.notices.extend(self.notice(*take, said, key, judged.heard));
            self.index.set_root(*take, key);
            self.files[*take].settled = true;
        }
        let example = takes.iter().find_map(|take| match self.files[*take].said {
            RootSource::Named(key) if octaves != 0 => Some((self.shown(*take), key)),
            _ => None,
        });
        if let Some((file, key)) = example {
            let (says, sounds) = (note_name(f64::from(key)), note_name(f64::from(key + 12 * octaves)));
            let what = format!("`{piece}`: what `{file}` calls {says} sounds as {sounds}, counting C4 as middle C");
            self.notices.push(Problem::new(what).help(format!(
                "it is played as {sounds}; `root` in kit.toml would say otherwise"
            )));
        }
        Ok(())
    }

    /// Looks into a file, unless this kit or one that it was cloned from has done so already.
    fn judge(&self, take: usize) -> Result<Judged, Problem> {
        let known = || self.judged.lock().unwrap_or_else(PoisonError::into_inner);
        let found = known().get(&take).copied();
        match found {
            Some(judged) => Ok(judged),
            None => {
                let judged = judge(&self.files[take])?;
                known().insert(take, judged);
                Ok(judged)
            }
        }
    }

    /// By how many octaves the names of a piece's files are off: what most of those that were heard well say.
    fn octaves_off(&self, takes: &[usize], judged: &[Judged]) -> i32 {
        let mut votes = [0u32; 7];
        for (take, judged) in takes.iter().zip(judged) {
            let (RootSource::Named(key), Some(heard)) = (self.files[*take].said, judged.heard) else {
                continue;
            };
            let octaves = libm::round((heard.key - f64::from(key)) / 12.0);
            let off = (heard.key - f64::from(key) - 12.0 * octaves).abs();
            if heard.confidence >= BELIEVED && off < 1.0 && octaves.abs() <= 3.0 {
                votes[(octaves + 3.0) as usize] += 1;
            }
        }
        // Of equally many votes the name itself wins, then the smaller step.
        let order = [0, 1, -1, 2, -2, 3, -3];
        let most = votes.iter().copied().max().unwrap_or(0);
        order
            .into_iter()
            .find(|octaves| votes[(octaves + 3) as usize] == most)
            .unwrap_or(0)
    }

    /// Says where a name and a sound have nothing to do with one another.
    fn notice(&self, take: usize, said: RootSource, key: Option<f64>, heard: Option<PitchEstimate>) -> Option<Problem> {
        let heard = heard.filter(|heard| heard.confidence >= BELIEVED)?;
        let (says, taken) = (said.key()?, key?);
        let off = (heard.key - says).rem_euclid(12.0);
        if off.min(12.0 - off) < 1.0 && !matches!(said, RootSource::Numbered(_)) || (heard.key - says).abs() < 1.0 {
            return None;
        }
        let (says, sounds) = (note_name(says), note_name(heard.key));
        let what = format!("`{}` is called {says} and sounds as {sounds}", self.shown(take));
        Some(Problem::new(what).help(format!(
            "it is played as {}; `root` in kit.toml would say otherwise",
            note_name(taken)
        )))
    }

    fn shown(&self, take: usize) -> String {
        let name = self.file(take).file_name();
        name.map_or_else(String::new, |name| name.to_string_lossy().into_owned())
    }

    /// Adds the stand-in's piece, behind all recordings that have files.
    pub(super) fn add_stand_in(&mut self) {
        let first = self.files.len();
        for (take, file) in self.files.iter().enumerate() {
            self.index.set_root(take, file.said.key());
        }
        for key in 0..KEYS {
            self.index.set_root(first + key, Some(key as f64));
        }
        let takes = (first..first + KEYS).collect();
        self.index.add_single(Piece {
            name: STAND_IN.to_string(),
            layers: vec![Layer {
                upto: 127.0,
                takes: vec![first + MIDDLE as usize],
                zones: takes,
            }],
            choke: None,
        });
    }
}

/// The pitch of a recording, as it sounds. One of two files is listened to as the sound that they make together.
fn hear(sides: &Sides) -> Result<Option<PitchEstimate>, Problem> {
    let listen = || Ok(listen(&sides.decode()?.audio));
    match sides.right {
        None => KNOWN.find_or(&sides.left, listen),
        Some(_) => listen(),
    }
}

/// The pitches that were heard so far.
static KNOWN: Known<Option<PitchEstimate>> = Known::new();

/// Looks into a file as far as is needed to know its root.
fn judge(file: &File) -> Result<Judged, Problem> {
    if let RootSource::Written(key) = file.said {
        return Ok(Judged {
            key: Some(key),
            heard: None,
        });
    }
    let left = &file.sides.left;
    let noted = told_root(left).map_err(|unread| unread.problem(left))?;
    // Many writers put 60 for want of knowledge, so that alone is not believed before the sound.
    if file.said == RootSource::Nothing && noted.is_some_and(|key| key != 60.0) {
        return Ok(Judged {
            key: noted,
            heard: None,
        });
    }
    let heard = hear(&file.sides)?;
    let believed = heard
        .filter(|heard| heard.confidence >= BELIEVED)
        .map(|heard| heard.key);
    let key = match file.said {
        // A number may have been a turn after all.
        RootSource::Numbered(key) => match believed {
            Some(heard) if (heard - f64::from(key)).abs() >= 1.0 => Some(heard),
            _ => Some(f64::from(key)),
        },
        RootSource::Written(key) => Some(key),
        RootSource::Named(key) => Some(f64::from(key)),
        RootSource::Nothing => match (believed, noted) {
            (Some(heard), Some(noted)) if (heard - noted).abs() < 1.0 => Some(noted),
            (believed, noted) => believed.or(noted),
        },
    };
    Ok(Judged { key, heard })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_zone_plays_and_its_turns_with_it() {
        let roots = [Some(48.0), Some(60.0), Some(60.1), None];
        let nearest = |key: f64| nearest_takes(&[0, 1, 2, 3], key, |take| roots[take]);
        assert_eq!(nearest(40.0), [0]);
        assert_eq!(nearest(53.9), [0]);
        assert_eq!(nearest(54.0), [1, 2], "half way the upper one plays");
        assert_eq!(nearest(90.0), [1, 2]);
        assert_eq!(nearest_takes(&[7, 8], 60.0, |_| None), [7, 8]);
    }
}
