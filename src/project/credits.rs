//! What sounded in a render, for its credits.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;
use std::path::{Path, PathBuf};

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
        let mut roll = Roll::default();
        let line = self.ending() != Ending::Repeat;
        self.score(order)?
            .passages
            .iter()
            .try_for_each(|passage| roll.enlist(passage, line))?;
        Ok(roll.cast)
    }
}

/// What sounds, and the credits of files that were looked into already.
#[derive(Default)]
struct Roll {
    cast: Cast,
    /// By the numbers of kits and their recordings.
    shots: BTreeMap<(usize, usize), Vec<Credit>>,
    rooms: BTreeMap<(usize, PathBuf), Credit>,
}

impl Roll {
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
            Entry::Vacant(new) => new.insert(kit.credits(take)?).clone(),
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
