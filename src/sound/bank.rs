//! The bank: every recording as the hits ask for it, repitched or turned round, each made once and as far as it is audible.

use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::Arc;

use rayon::prelude::*;

use crate::base::audio::Audio;
use crate::kit::{Band, Held, Pitches, Recording, band, repitched_frames};
use crate::loopfile::Loop;
use crate::render_cache;
use crate::render_cache::Turn;
use crate::score::{Hit, Score};

use super::extent::Extent;
use super::sustain::sustained;

/// Names one sound of the bank: the take, its pitch in millionths of a semitone, whether care is taken of it,
/// whether it runs backwards, and whether it is held.
type Name = (usize, i64, bool, bool, bool);

/// Names sounds that are repitched together: the take, whether care is taken of it, whether they run backwards, and their band.
type Group = (usize, bool, bool, Band);

/// What a sound is taken for that is to be made to its end.
const WHOLE: usize = usize::MAX;

/// Sounds ready to be mixed in, each as long as the longest of its hits needs it.
pub struct Bank {
    sounds: BTreeMap<Name, Arc<Audio>>,
    /// What stands for each in a render cache, where there is one.
    kept: BTreeMap<Name, Kept>,
    /// By the numbers of takes: true where a note can be held.
    held: Vec<bool>,
}

impl Bank {
    /// Makes what is audible of every sound that a score asks for. `recordings` holds the kit's decoded takes under their
    /// numbers.
    ///
    /// # Panics
    /// Where a take that the score plays was not decoded.
    pub fn fill(song: &Loop, score: &Score, recordings: &[Option<Arc<Recording>>], extent: Extent) -> Bank {
        Bank::fill_by(song, score, recordings, extent, |_, _, make| (make(), None))
    }

    /// The same in a turn at a render cache, in which `takes` stand for the recordings.
    ///
    /// # Panics
    /// As [`Bank::fill`]; where a take that the score plays has no name.
    pub fn fill_from(
        turn: &Turn,
        takes: &[Option<render_cache::CacheKey>],
        song: &Loop,
        score: &Score,
        recordings: &[Option<Arc<Recording>>],
        extent: Extent,
    ) -> Bank {
        let tally = turn.tally();
        let get = |name: Name, frames: usize, make: &dyn Fn() -> Arc<Audio>| {
            let (take, pitch, trim, backwards, held) = name;
            let recording = takes[take].expect("a take that is played has a name");
            // It sounds the same however much of it is made, so what it is goes without its length.
            let sound = render_cache::CacheKey::of(&Making {
                recording,
                pitch,
                trim,
                backwards,
                held,
            });
            if as_recorded(name) {
                return (make(), Some(Kept { sound, part: None }));
            }
            let part = render_cache::CacheKey::of(&Made { of: sound, frames });
            let found = turn.find(part).and_then(|found| found.get());
            let found = found.unwrap_or_else(|| {
                tally.add("sounds", 1);
                make()
            });
            (
                found,
                Some(Kept {
                    sound,
                    part: Some(part),
                }),
            )
        };
        Bank::fill_by(song, score, recordings, extent, get)
    }

    /// Keeps what is not as it was recorded, one sound after another: which of them find room must not hang on which was made first.
    pub fn keep(&self, turn: &Turn) {
        for (name, kept) in &self.kept {
            let sound = &self.sounds[name];
            kept.part
                .into_iter()
                .for_each(|part| turn.put(part, sound, sound.bytes()));
        }
    }

    fn fill_by(
        song: &Loop,
        score: &Score,
        recordings: &[Option<Arc<Recording>>],
        extent: Extent,
        get: impl Fn(Name, usize, &dyn Fn() -> Arc<Audio>) -> (Arc<Audio>, Option<Kept>) + Sync,
    ) -> Bank {
        let held: Vec<bool> = recordings
            .iter()
            .map(|recording| recording.as_ref().is_some_and(|recording| recording.held.is_some()))
            .collect();
        // Each name with the frames that the longest of its hits needs of it.
        let mut names: BTreeMap<Name, usize> = BTreeMap::new();
        for (part, hits) in score.parts.iter().enumerate() {
            for hit in hits {
                let sound = &song.parts[part].pieces[hit.piece].sound;
                let frames = extent.frames(sound, hit).unwrap_or(WHOLE);
                let longest = names.entry(name(song, part, hit, &held)).or_default();
                *longest = frames.max(*longest);
            }
        }
        let mut groups: BTreeMap<Group, (Pitches, Vec<(Name, usize)>)> = BTreeMap::new();
        let recording = |name: Name| {
            let recording = recordings[name.0].as_ref();
            recording
                .expect("a take that is played has been decoded")
                .version(name.2)
        };
        for (name, frames) in names {
            let recording = recording(name);
            let frames = length(recording, name, frames);
            let (pitches, names) = groups
                .entry(group(name))
                .or_insert_with(|| (Pitches::new(&recording.audio, speed(name.1)), Vec::new()));
            if name.1 != 0 && rolled_out(recording, name).is_none() {
                pitches.announce(speed(name.1), &part(recording, name, frames));
            }
            names.push((name, frames));
        }
        let make = |(pitches, names): (Pitches, Vec<(Name, usize)>)| {
            let make = |(name, frames): (Name, usize)| {
                let make = || made(recording(name), name, frames, &pitches);
                (name, get(name, frames, &make))
            };
            names.into_par_iter().map(make).collect::<Vec<_>>()
        };
        let mut bank = Bank {
            sounds: BTreeMap::new(),
            kept: BTreeMap::new(),
            held,
        };
        let groups: Vec<_> = groups.into_values().collect();
        for (name, (sound, kept)) in groups.into_par_iter().flat_map_iter(make).collect::<Vec<_>>() {
            bank.sounds.insert(name, sound);
            bank.kept.extend(kept.map(|kept| (name, kept)));
        }
        bank
    }

    /// Frames of all its sounds that are no recording as it is, which is what it took to make them.
    pub fn frames_made(&self) -> usize {
        let made = self.sounds.iter().filter(|(name, _)| !as_recorded(**name));
        made.map(|(_, sound)| sound.frames()).sum()
    }

    /// What is the cache key for the sound that a hit of a part plays; none for a bank that was filled without one.
    pub fn kept(&self, song: &Loop, part: usize, hit: &Hit) -> Option<render_cache::CacheKey> {
        let kept = self.kept.get(&name(song, part, hit, &self.held))?;
        Some(kept.sound)
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

/// What stands in a render cache for a sound.
struct Kept {
    /// However much of it is made.
    sound: render_cache::CacheKey,
    /// As much of it as there is here; none for one that is its recording as it is.
    part: Option<render_cache::CacheKey>,
}

/// What a sound of the bank is.
#[derive(Debug, PartialEq)]
struct Making {
    recording: render_cache::CacheKey,
    pitch: i64,
    /// True where care is taken of the recording.
    trim: bool,
    backwards: bool,
    held: bool,
}

/// So many frames of a sound.
#[derive(Debug, PartialEq)]
struct Made {
    of: render_cache::CacheKey,
    frames: usize,
}

fn name(song: &Loop, part: usize, hit: &Hit, held: &[bool]) -> Name {
    let sound = &song.parts[part].pieces[hit.piece].sound;
    let (trim, backwards) = (sound.trim, sound.reverse);
    let held = hit.length.is_some() && !backwards && held[hit.take];
    (hit.take, (hit.tune * 1e6).round() as i64, trim, backwards, held)
}

fn group((take, pitch, trim, backwards, _): Name) -> Group {
    (take, trim, backwards, band(speed(pitch)))
}

/// True for a sound that is its recording as it is.
fn as_recorded((_, pitch, _, backwards, held): Name) -> bool {
    pitch == 0 && !backwards && !held
}

/// How much faster a sound is played for so many millionths of a semitone. Equal temperament: a semitone is the twelfth root of 2.
fn speed(pitch: i64) -> f64 {
    libm::exp2(pitch as f64 / 12e6)
}

/// The frames that are made of a sound where so many are needed: an eighth more at the most, so that versions of a loop whose
/// hits last nearly as long share it; and of a sound that ends, no more than there are.
fn length(recording: &Recording, (_, pitch, _, _, held): Name, needed: usize) -> usize {
    let needed = rounded(needed);
    match held {
        true => needed,
        false => needed.min(repitched_frames(recording.audio.frames(), speed(pitch))),
    }
}

/// So many frames, one at the least, rounded up to a number of four binary digits and zeros.
fn rounded(frames: usize) -> usize {
    let frames = frames.max(1);
    let step = 1 << (usize::BITS - frames.leading_zeros()).saturating_sub(4);
    frames.checked_next_multiple_of(step).unwrap_or(WHOLE)
}

/// Makes so many frames of a sound. `pitches` are those of its group.
fn made(recording: &Recording, name: Name, frames: usize, pitches: &Pitches) -> Arc<Audio> {
    if as_recorded(name) {
        return recording.audio.clone();
    }
    let (_, pitch, _, backwards, _) = name;
    let mut audio = match rolled_out(recording, name) {
        Some(held) => sustained(held, speed(pitch), frames, recording.audio.rate),
        None => pitches.read(speed(pitch), part(recording, name, frames)),
    };
    if backwards {
        audio.channels.iter_mut().for_each(|channel| channel.reverse());
    }
    Arc::new(audio)
}

/// What is rolled out for a sound before it is repitched, if it is held.
fn rolled_out(recording: &Recording, (_, _, _, _, held): Name) -> Option<&Held> {
    recording.held.as_ref().filter(|_| held)
}

/// Which frames of its repitched recording a sound of so many frames is.
fn part(recording: &Recording, (_, pitch, _, backwards, _): Name, frames: usize) -> Range<usize> {
    if !backwards {
        return 0..frames;
    }
    let all = repitched_frames(recording.audio.frames(), speed(pitch));
    all - frames..all
}

#[cfg(test)]
#[path = "bank_tests.rs"]
pub(super) mod tests;
