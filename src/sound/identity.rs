//! What tells the sounds of the bank from one another.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::sync::Arc;

use super::bend::Bend;
use super::legato::entry;
use crate::kit::{Band, Recording, band};
use crate::loopfile::Loop;
use crate::score::Hit;

/// One sound of the bank.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Identity {
    pub take: usize,
    /// Millionths of a semitone.
    pub pitch: i64,
    /// True where care is taken of it.
    pub trim: bool,
    pub backwards: bool,
    pub held: bool,
    /// How its pitch moves, where it does.
    pub bend: Option<Bend>,
}

/// Names sounds that are repitched together: the take, whether care is taken of it, whether they run backwards, and their band.
pub(super) type Group = (usize, bool, bool, Band);

impl Identity {
    /// True for a sound that is its recording as it is.
    pub(super) fn as_recorded(&self) -> bool {
        self.pitch == 0 && !self.backwards && !self.held && self.bend.is_none()
    }

    /// How much faster it is played than its recording, but for its bend.
    pub(super) fn speed(&self) -> f64 {
        speed(self.pitch)
    }

    pub(super) fn group(&self) -> Group {
        (self.take, self.trim, self.backwards, band(self.speed()))
    }
}

/// How much faster a sound is played for so many millionths of a semitone. Equal temperament: a semitone is the twelfth root of 2.
fn speed(pitch: i64) -> f64 {
    libm::exp2(pitch as f64 / 12e6)
}

/// What of recordings decides which sound a hit plays, and from where on.
pub(super) struct Takes {
    rate: u32,
    /// By the numbers of takes: true where a note can be held.
    held: Vec<bool>,
    /// Seconds into takes, by whether care is taken of them, at which notes enter that go on from others.
    entries: BTreeMap<(usize, bool), f64>,
}

impl Takes {
    /// Those that are needed for some hits, each with its part.
    pub(super) fn of<'a>(
        recordings: &[Option<Arc<Recording>>],
        song: &Loop,
        hits: impl Iterator<Item = (usize, Cow<'a, Hit>)>,
        rate: u32,
    ) -> Takes {
        let mut takes = Takes {
            rate,
            held: recordings
                .iter()
                .map(|recording| recording.as_ref().is_some_and(|recording| recording.held.is_some()))
                .collect(),
            entries: BTreeMap::new(),
        };
        for (part, hit) in hits.filter(|(_, hit)| hit.legato) {
            let trim = song.parts[part].pieces[hit.piece].sound.trim;
            if let Some(recording) = &recordings[hit.take] {
                let entry = || entry(recording.version(trim));
                takes.entries.entry((hit.take, trim)).or_insert_with(entry);
            }
        }
        takes
    }

    /// Frames of its sound that a hit of a part leaves out.
    pub(super) fn start(&self, song: &Loop, part: usize, hit: &Hit) -> usize {
        let rate = f64::from(self.rate);
        let asked = (hit.start * rate).round() as usize;
        let sound = &song.parts[part].pieces[hit.piece].sound;
        match self.entries.get(&(hit.take, sound.trim)) {
            Some(seconds) if hit.legato && !sound.reverse => {
                asked.max((seconds * rate / speed(pitch(hit))).round() as usize)
            }
            _ => asked,
        }
    }

    /// The sound that a hit of a part plays.
    pub(super) fn identity(&self, song: &Loop, part: usize, hit: &Hit) -> Identity {
        let sound = &song.parts[part].pieces[hit.piece].sound;
        let bend = hit.curve.clone().map(|curve| Bend {
            curve,
            start: self.start(song, part, hit),
        });
        Identity {
            take: hit.take,
            pitch: pitch(hit),
            trim: sound.trim,
            backwards: sound.reverse,
            held: hit.length.is_some() && !sound.reverse && self.held[hit.take],
            bend,
        }
    }
}

fn pitch(hit: &Hit) -> i64 {
    (hit.tune * 1e6).round() as i64
}
