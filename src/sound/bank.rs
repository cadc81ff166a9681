//! The bank: every recording as the hits ask for it, repitched or turned round, each made once.

use std::collections::BTreeMap;
use std::sync::Arc;

use rayon::prelude::*;

use crate::audio::Audio;
use crate::kit::{Recording, repitch};
use crate::loopfile::Loop;
use crate::score::{Hit, Score};

/// Names one sound of the bank: the take, its pitch in millionths of a semitone, and whether it runs backwards.
type Name = (usize, i64, bool);

/// Sounds ready to be mixed in.
pub struct Bank {
    sounds: BTreeMap<Name, Arc<Audio>>,
}

impl Bank {
    /// Makes every sound that a score asks for. `recordings` holds the kit's decoded takes under their numbers.
    ///
    /// # Panics
    /// Where a take that the score plays was not decoded.
    pub fn fill(song: &Loop, score: &Score, recordings: &[Option<Arc<Recording>>]) -> Bank {
        let mut names: Vec<Name> = Vec::new();
        for (part, hits) in score.parts.iter().enumerate() {
            names.extend(hits.iter().map(|hit| name(song, part, hit)));
        }
        names.sort_unstable();
        names.dedup();
        let make = |name: Name| {
            let recording = recordings[name.0]
                .as_ref()
                .expect("a take that is played has been decoded");
            (name, made(recording, name))
        };
        Bank {
            sounds: names
                .into_par_iter()
                .map(make)
                .collect::<Vec<_>>()
                .into_iter()
                .collect(),
        }
    }

    /// The sound that a hit of a part plays.
    ///
    /// # Panics
    /// For a hit of another score than the bank was filled for.
    pub fn sound(&self, song: &Loop, part: usize, hit: &Hit) -> &Arc<Audio> {
        &self.sounds[&name(song, part, hit)]
    }

    /// Channels that a part needs: two as soon as one of its sounds is stereo.
    pub fn channels(&self, song: &Loop, part: usize, hits: &[Hit]) -> usize {
        hits.iter()
            .map(|hit| self.sound(song, part, hit).channels.len())
            .max()
            .unwrap_or(1)
    }
}

fn name(song: &Loop, part: usize, hit: &Hit) -> Name {
    let backwards = song.parts[part].pieces[hit.piece].sound.reverse;
    (hit.take, (hit.tune * 1e6).round() as i64, backwards)
}

fn made(recording: &Arc<Recording>, (_, pitch, backwards): Name) -> Arc<Audio> {
    let mut audio = if pitch == 0 {
        recording.audio.clone()
    } else {
        // Equal temperament: a semitone is the twelfth root of 2.
        repitch(&recording.audio, libm::exp2(pitch as f64 / 12e6))
    };
    if backwards {
        audio.channels.iter_mut().for_each(|channel| channel.reverse());
    }
    Arc::new(audio)
}
