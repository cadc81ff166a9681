//! The bank: every recording as the hits ask for it, repitched or turned round, each made once and as far as it is audible.

use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::Arc;

use rayon::prelude::*;

use crate::base::audio::Audio;
use crate::base::stages::all;
use crate::kit::{Held, Pitches, Recording, Step, read_along, repitched_frames};
use crate::loopfile::Loop;
use crate::render_cache;
use crate::render_cache::Turn;
use crate::score::{Hit, Score};

use super::extent::Extent;
use super::identity::{Group, Identity, Takes};
use super::sustain::sustained;

/// What a sound is taken for that is to be made to its end.
const WHOLE: usize = usize::MAX;

/// Sounds ready to be mixed in, each as long as the longest of its hits needs it.
pub struct Bank {
    sounds: BTreeMap<Identity, Arc<Audio>>,
    /// What stands for each in a render cache, where there is one.
    kept: BTreeMap<Identity, Kept>,
    takes: Takes,
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
        let get = |name: &Identity, frames: usize, make: &dyn Fn() -> Arc<Audio>| {
            // It sounds the same however much of it is made, so what it is goes without its length.
            let sound = render_cache::CacheKey::of(&Making {
                recording: takes[name.take].expect("a take that is played has a name"),
                sound: Identity {
                    take: 0,
                    ..name.clone()
                },
            });
            if name.as_recorded() {
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
        get: impl Fn(&Identity, usize, &dyn Fn() -> Arc<Audio>) -> (Arc<Audio>, Option<Kept>) + Sync,
    ) -> Bank {
        let struck = || {
            let parts = score.parts.iter().enumerate();
            parts.flat_map(|(part, hits)| hits.iter().flat_map(Hit::layers).map(move |hit| (part, hit)))
        };
        let takes = Takes::of(recordings, song, struck(), extent.rate());
        // Each sound with the frames that the longest of its hits needs of it.
        let mut sounds: BTreeMap<Identity, usize> = BTreeMap::new();
        for (part, hit) in struck() {
            let sound = &song.parts[part].pieces[hit.piece].sound;
            let frames = extent
                .frames(sound, &hit, takes.start(song, part, &hit))
                .unwrap_or(WHOLE);
            let longest = sounds.entry(takes.identity(song, part, &hit)).or_default();
            *longest = frames.max(*longest);
        }
        let mut groups: BTreeMap<Group, (Pitches, Vec<(Identity, usize)>)> = BTreeMap::new();
        let recording = |name: &Identity| {
            let recording = recordings[name.take].as_ref();
            recording
                .expect("a take that is played has been decoded")
                .version(name.trim)
        };
        for (name, frames) in sounds {
            let recording = recording(&name);
            let frames = length(recording, &name, frames);
            let (pitches, names) = groups
                .entry(name.group())
                .or_insert_with(|| (Pitches::new(&recording.audio, name.speed()), Vec::new()));
            if name.pitch != 0 && name.bend.is_none() && rolled_out(recording, &name).is_none() {
                pitches.announce(name.speed(), &part(recording, &name, frames));
            }
            names.push((name, frames));
        }
        let make = |(pitches, names): (Pitches, Vec<(Identity, usize)>)| {
            let make = |(name, frames): (Identity, usize)| {
                let make = || made(recording(&name), &name, frames, &pitches);
                let made = get(&name, frames, &make);
                (name, made)
            };
            all("sound", names.into_par_iter(), make)
        };
        let mut bank = Bank {
            sounds: BTreeMap::new(),
            kept: BTreeMap::new(),
            takes,
        };
        let groups: Vec<_> = groups.into_values().collect();
        let made = all("sounds of a take", groups.into_par_iter(), make);
        for (name, (sound, kept)) in made.into_iter().flatten() {
            bank.kept.extend(kept.map(|kept| (name.clone(), kept)));
            bank.sounds.insert(name, sound);
        }
        bank
    }

    /// Frames of all its sounds that are no recording as it is, which is what it took to make them.
    pub fn frames_made(&self) -> usize {
        let made = self.sounds.iter().filter(|(name, _)| !name.as_recorded());
        made.map(|(_, sound)| sound.frames()).sum()
    }

    /// What is the cache key for the sound that a hit of a part plays; none for a bank that was filled without one.
    pub fn kept(&self, song: &Loop, part: usize, hit: &Hit) -> Option<render_cache::CacheKey> {
        let kept = self.kept.get(&self.takes.identity(song, part, hit))?;
        Some(kept.sound)
    }

    /// The sound that a hit of a part plays; of one between two layers, that of its own.
    ///
    /// # Panics
    /// For a hit of another score than the bank was filled for.
    pub fn sound(&self, song: &Loop, part: usize, hit: &Hit) -> &Arc<Audio> {
        &self.sounds[&self.takes.identity(song, part, hit)]
    }

    /// Frames of its sound that a hit of a part leaves out.
    pub(super) fn start(&self, song: &Loop, part: usize, hit: &Hit) -> usize {
        self.takes.start(song, part, hit)
    }

    /// Channels that a part needs: two as soon as one of its sounds is stereo.
    pub fn channels(&self, song: &Loop, part: usize, hits: &[Hit]) -> usize {
        let played = hits.iter().flat_map(Hit::layers);
        played
            .map(|hit| self.sound(song, part, &hit).channels.len())
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
    /// Without its take, for which the recording stands.
    sound: Identity,
}

/// So many frames of a sound.
#[derive(Debug, PartialEq)]
struct Made {
    of: render_cache::CacheKey,
    frames: usize,
}

/// The frames that are made of a sound where so many are needed: an eighth more at the most, so that versions of a loop whose
/// hits last nearly as long share it; and of a sound that ends, no more than there are.
fn length(recording: &Recording, name: &Identity, needed: usize) -> usize {
    let needed = rounded(needed);
    let (frames, speed) = (recording.audio.frames(), name.speed());
    match &name.bend {
        _ if name.held => needed,
        Some(bend) => bend.frames(frames, speed, recording.audio.rate, needed),
        None => needed.min(repitched_frames(frames, speed)),
    }
}

/// So many frames, one at the least, rounded up to a number of four binary digits and zeros.
fn rounded(frames: usize) -> usize {
    let frames = frames.max(1);
    let step = 1 << (usize::BITS - frames.leading_zeros()).saturating_sub(4);
    frames.checked_next_multiple_of(step).unwrap_or(WHOLE)
}

/// Makes so many frames of a sound. `pitches` are those of its group.
fn made(recording: &Recording, name: &Identity, frames: usize, pitches: &Pitches) -> Arc<Audio> {
    if name.as_recorded() {
        return recording.audio.clone();
    }
    let rate = recording.audio.rate;
    Arc::new(match (rolled_out(recording, name), &name.bend) {
        (Some(held), bend) => sustained(held, name.speed(), bend.as_ref(), frames, rate),
        (None, Some(bend)) => {
            let steps: Vec<Step> = bend.steps(name.speed(), rate).take(frames).collect();
            match name.backwards {
                // It is bent as it is heard.
                true => read_along(&turned_round(Audio::clone(&recording.audio)), &steps),
                false => read_along(&recording.audio, &steps),
            }
        }
        (None, None) => {
            let read = pitches.read(name.speed(), part(recording, name, frames));
            if name.backwards { turned_round(read) } else { read }
        }
    })
}

fn turned_round(mut audio: Audio) -> Audio {
    audio.channels.iter_mut().for_each(|channel| channel.reverse());
    audio
}

/// What is rolled out for a sound before it is repitched, if it is held.
fn rolled_out<'a>(recording: &'a Recording, name: &Identity) -> Option<&'a Held> {
    recording.held.as_ref().filter(|_| name.held)
}

/// Which frames of its repitched recording a sound of so many frames is.
fn part(recording: &Recording, name: &Identity, frames: usize) -> Range<usize> {
    if !name.backwards {
        return 0..frames;
    }
    let all = repitched_frames(recording.audio.frames(), name.speed());
    all - frames..all
}

#[cfg(test)]
#[path = "bank_tests.rs"]
pub(super) mod tests;
