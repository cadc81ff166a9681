//! The bank: every recording as the hits ask for it, repitched or turned round, each made once.

use std::collections::BTreeMap;
use std::sync::Arc;

use rayon::prelude::*;

use crate::audio::Audio;
use crate::keep::{self, Keep};
use crate::kit::{Recording, prepare_pitches, repitch};
use crate::loopfile::Loop;
use crate::score::{Hit, Score};

use super::held::sustained;

/// Names one sound of the bank: the take, its pitch in millionths of a semitone, whether care is taken of it,
/// whether it runs backwards, and whether it is held.
type Name = (usize, i64, bool, bool, bool);

/// Sounds ready to be mixed in.
pub struct Bank {
    sounds: BTreeMap<Name, Arc<Audio>>,
    /// What stands for each in a keep, where there is one.
    kept: BTreeMap<Name, keep::Name>,
    /// By the numbers of takes: true where a note can be held.
    held: Vec<bool>,
}

impl Bank {
    /// Makes every sound that a score asks for. `recordings` holds the kit's decoded takes under their numbers.
    ///
    /// # Panics
    /// Where a take that the score plays was not decoded.
    pub fn fill(song: &Loop, score: &Score, recordings: &[Option<Arc<Recording>>]) -> Bank {
        Bank::fill_by(song, score, recordings, |_, _, make| (make(), None))
    }

    /// The same by way of a keep, in which `takes` stand for the recordings.
    ///
    /// # Panics
    /// As [`Bank::fill`]; where a take that the score plays has no name.
    pub fn fill_from(
        keep: &Keep,
        takes: &[Option<keep::Name>],
        song: &Loop,
        score: &Score,
        recordings: &[Option<Arc<Recording>>],
    ) -> Bank {
        Bank::fill_by(
            song,
            score,
            recordings,
            |(take, pitch, trim, backwards, held), seconds, make| {
                let recording = takes[take].expect("a take that is played has a name");
                let as_recorded = pitch == 0 && !backwards && !held;
                let kept = keep.name(Making {
                    recording,
                    pitch,
                    trim,
                    backwards,
                    held: held.then_some(seconds),
                });
                if let Some(found) = keep.find(kept) {
                    return (found, Some(kept));
                }
                let made = make();
                if !as_recorded {
                    keep.put(kept, &made, made.bytes());
                }
                (made, Some(kept))
            },
        )
    }

    fn fill_by(
        song: &Loop,
        score: &Score,
        recordings: &[Option<Arc<Recording>>],
        get: impl Fn(Name, f64, &dyn Fn() -> Arc<Audio>) -> (Arc<Audio>, Option<keep::Name>) + Sync,
    ) -> Bank {
        let held: Vec<bool> = recordings
            .iter()
            .map(|recording| recording.as_ref().is_some_and(|recording| recording.held.is_some()))
            .collect();
        // Each name with the longest time, in seconds, that one of its hits takes of it.
        let mut names: BTreeMap<Name, f64> = BTreeMap::new();
        for (part, hits) in score.parts.iter().enumerate() {
            for hit in hits {
                let longest = names.entry(name(song, part, hit, &held)).or_default();
                *longest = longest.max(seconds(song, part, hit));
            }
        }
        let names: Vec<(Name, f64)> = names.into_iter().collect();
        prepare_pitches(names.iter().map(|((_, pitch, ..), _)| speed(*pitch)));
        let make = |(name, seconds): (Name, f64)| {
            let recording = recordings[name.0]
                .as_ref()
                .expect("a take that is played has been decoded");
            (name, get(name, seconds, &|| made(recording, name, seconds)))
        };
        let mut bank = Bank {
            sounds: BTreeMap::new(),
            kept: BTreeMap::new(),
            held,
        };
        for (name, (sound, kept)) in names.into_par_iter().map(make).collect::<Vec<_>>() {
            bank.sounds.insert(name, sound);
            bank.kept.extend(kept.map(|kept| (name, kept)));
        }
        bank
    }

    /// What stands in the keep for the sound that a hit of a part plays; none for a bank that was filled without one.
    pub fn kept(&self, song: &Loop, part: usize, hit: &Hit) -> Option<keep::Name> {
        self.kept.get(&name(song, part, hit, &self.held)).copied()
    }

    /// The sound that a hit of a part plays.
    ///
    /// # Panics
    /// For a hit of another score than the bank was filled for.
    pub fn sound(&self, song: &Loop, part: usize, hit: &Hit) -> &Arc<Audio> {
        &self.sounds[&name(song, part, hit, &self.held)]
    }

    /// Channels that a part needs: two as soon as one of its sounds is stereo.
    pub fn channels(&self, song: &Loop, part: usize, hits: &[Hit]) -> usize {
        hits.iter()
            .map(|hit| self.sound(song, part, hit).channels.len())
            .max()
            .unwrap_or(1)
    }
}

/// How a sound of the bank is made.
#[derive(PartialEq)]
struct Making {
    recording: keep::Name,
    pitch: i64,
    /// True where care is taken of the recording.
    trim: bool,
    backwards: bool,
    /// The seconds that are held, where a note is.
    held: Option<f64>,
}

fn name(song: &Loop, part: usize, hit: &Hit, held: &[bool]) -> Name {
    let sound = &song.parts[part].pieces[hit.piece].sound;
    let (trim, backwards) = (sound.trim, sound.reverse);
    let held = hit.length.is_some() && !backwards && held[hit.take];
    (hit.take, (hit.tune * 1e6).round() as i64, trim, backwards, held)
}

/// How much of its recording a released hit plays, in seconds.
fn seconds(song: &Loop, part: usize, hit: &Hit) -> f64 {
    let release = song.parts[part].pieces[hit.piece].sound.release;
    // A little more than the fade, which has 5 ms at the least.
    hit.start + hit.length.unwrap_or(0.0) + release + 0.01
}

/// How much faster a sound is played for so many millionths of a semitone. Equal temperament: a semitone is the twelfth root of 2.
fn speed(pitch: i64) -> f64 {
    libm::exp2(pitch as f64 / 12e6)
}

fn made(recording: &Arc<Recording>, (_, pitch, trim, backwards, is_held): Name, seconds: f64) -> Arc<Audio> {
    let recording = recording.version(trim);
    let speed = speed(pitch);
    let mut audio = match &recording.held {
        Some(held) if is_held => sustained(held, speed, seconds, recording.audio.rate),
        _ if pitch == 0 => recording.audio.clone(),
        _ => repitch(&recording.audio, speed),
    };
    if backwards {
        audio.channels.iter_mut().for_each(|channel| channel.reverse());
    }
    Arc::new(audio)
}
