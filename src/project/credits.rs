//! What sounded in a render, for its credits.

use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, HashMap};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use super::Project;
use super::score::Passage;
use crate::export::credits::Cast;
use crate::kit::{Credit, Kit};
use crate::loopfile::{Ending, SpaceKind};
use crate::render::Order;
use crate::score::Hit;
use crate::text::{Problem, Problems};

impl Project {
    /// Every recording that sounds in all rounds that are asked for, with what it does there.
    pub(crate) fn cast(&self, order: &Order) -> Result<Cast, Problems> {
        self.cast_knowing(order, &KnownCredits::default())
    }

    /// The same by way of credits that are known already, from other projects on the same kits.
    pub(crate) fn cast_knowing(&self, order: &Order, known: &KnownCredits) -> Result<Cast, Problems> {
        let mut roll = Roll::knowing(known);
        let line = self.ending() != Ending::Repeat;
        self.score(order)?
            .passages
            .iter()
            .try_for_each(|passage| roll.enlist(passage, line))?;
        Ok(roll.cast)
    }
}

/// Credits of recordings that were looked into already, by the folders of the kit and the file.
#[derive(Default)]
pub(crate) struct KnownCredits(Mutex<HashMap<OfKit, Vec<Credit>>>);

/// The folders of a kit, and a file.
type OfKit = (Vec<PathBuf>, PathBuf);

impl KnownCredits {
    fn of(&self, kit: &Kit, take: usize) -> Result<Vec<Credit>, Problem> {
        let key = (kit.folders().to_vec(), kit.sides(take).left);
        if let Some(known) = self.0.lock().unwrap_or_else(PoisonError::into_inner).get(&key) {
            return Ok(known.clone());
        }
        let credits = kit.credits(take)?;
        let mut known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        Ok(known.entry(key).or_insert(credits).clone())
    }
}

/// What sounds, and the credits of files that were looked into already.
struct Roll<'a> {
    cast: Cast,
    known: &'a KnownCredits,
    /// By the numbers of kits and their recordings.
    shots: BTreeMap<(usize, usize), Vec<Credit>>,
    rooms: BTreeMap<(usize, PathBuf), Credit>,
}

impl<'a> Roll<'a> {
    fn knowing(known: &'a KnownCredits) -> Roll<'a> {
        Roll {
            cast: Cast::default(),
            known,
            shots: BTreeMap::new(),
            rooms: BTreeMap::new(),
        }
    }

    /// Adds what is audible of a passage. On a line, grace notes before the first sample are left out.
    fn enlist(&mut self, passage: &Passage, line: bool) -> Result<(), Problem> {
        let (song, kit) = (passage.song, (passage.section, passage.kit));
        let heard = song.heard();
        for (number, part) in song.parts.iter().enumerate().filter(|(number, _)| heard.parts[*number]) {
            let sounding = |hit: &&Hit| !(line && hit.grace && hit.at + passage.offset < 0.0);
            let hits: Vec<&Hit> = passage.parts[number].iter().filter(sounding).collect();
            for hit in hits.iter().flat_map(|hit| hit.layers()) {
                self.shot(kit, hit.take, &part.pieces[hit.piece].piece)?;
            }
            for space in heard.spaces[number].iter().filter(|_| !hits.is_empty()) {
                if let SpaceKind::Impulse(impulse) = &song.spaces[*space].kind {
                    self.room(kit, &impulse.file, &song.spaces[*space].name)?;
                }
            }
        }
        Ok(())
    }

    fn shot(&mut self, (number, kit): (usize, &Kit), take: usize, piece: &str) -> Result<(), Problem> {
        let credits = match self.shots.entry((number, take)) {
            Entry::Occupied(known) => known.get().clone(),
            Entry::Vacant(new) => new.insert(self.known.of(kit, take)?).clone(),
        };
        for credit in credits {
            let role = self.cast.entry(credit).or_default();
            *role.hits.entry(piece.to_string()).or_default() += 1;
        }
        Ok(())
    }

    fn room(&mut self, (number, kit): (usize, &Kit), file: &Path, name: &str) -> Result<(), Problem> {
        let credit = match self.rooms.entry((number, file.to_path_buf())) {
            Entry::Occupied(known) => known.get().clone(),
            Entry::Vacant(new) => new.insert(kit.credit_file(file)?).clone(),
        };
        let role = self.cast.entry(credit).or_default();
        if !role.rooms.iter().any(|room| room == name) {
            role.rooms.push(name.to_string());
        }
        Ok(())
    }
}
