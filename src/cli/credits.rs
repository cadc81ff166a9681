//! What sounded in a render, for its credits.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;
use std::path::{Path, PathBuf};

use super::session::Work;
use crate::export::credits::Cast;
use crate::kit::{Credit, Index, Kit};
use crate::loopfile::{Ending, Loop, SpaceKind};
use crate::render::Order;
use crate::score::{self, Hit};
use crate::text::{Problem, Problems};

impl Work {
    /// Every recording that sounds in all rounds that are asked for, with what it does there.
    pub fn cast(&self, order: &Order) -> Result<Cast, Problems> {
        let mut roll = Roll::default();
        match self {
            Work::Loop(song, kit) => {
                let score = score::write(song, kit.index(), order.bars)?;
                for round in 0..order.rounds {
                    let begins = round == 0 && song.ending != Ending::Repeat;
                    roll.enlist(song, (0, kit), &score.parts, begins)?;
                }
            }
            Work::Form(form, kits) => {
                let indices: Vec<&Index> = kits.iter().map(Kit::index).collect();
                let score = score::write_form(form, &indices, order.bars, order.rounds)?;
                let line = form.ending != Ending::Repeat;
                for stretch in &score.stretches {
                    let section = stretch.section;
                    let song = &form.sections[section].plays;
                    roll.enlist(song, (section, &kits[section]), &stretch.parts, line)?;
                }
            }
        }
        Ok(roll.cast)
    }
}

/// What sounds, and the credits of files that were looked into already.
#[derive(Default)]
struct Roll {
    cast: Cast,
    /// By the numbers of kits and their recordings.
    shots: BTreeMap<(usize, usize), Credit>,
    rooms: BTreeMap<(usize, PathBuf), Credit>,
}

impl Roll {
    /// Adds what is heard of some hits of a loop. Where they `begin` a line, grace notes before its first sample are left out.
    fn enlist(&mut self, song: &Loop, kit: (usize, &Kit), parts: &[Vec<Hit>], begin: bool) -> Result<(), Problem> {
        let heard = song.heard();
        for (number, part) in song.parts.iter().enumerate().filter(|(number, _)| heard.parts[*number]) {
            let sounding = |hit: &&Hit| !(begin && hit.grace && hit.at < 0.0);
            let hits: Vec<&Hit> = parts[number].iter().filter(sounding).collect();
            for hit in &hits {
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
        let credit = match self.shots.entry((number, take)) {
            Entry::Occupied(known) => known.get().clone(),
            Entry::Vacant(new) => new.insert(kit.credit(take)?).clone(),
        };
        let role = self.cast.entry(credit).or_default();
        *role.hits.entry(piece.to_string()).or_default() += 1;
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
