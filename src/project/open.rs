//! From a file and its changes to a project: reading, opening the kits, casting, resolving.

use std::path::PathBuf;

use super::{Options, Plays, Project};
use crate::kit::Kit;
use crate::loopfile::{self, Casting, Draft, Loop, LoopDraft};
use crate::score;
use crate::text::{Problem, Problems, did_you_mean, nearest};

/// Opens the kit of some folders, with swaps, for whoever asks for some pieces alone; for all where none are named.
pub(super) type OpenKit<'a> =
    dyn FnMut(&[PathBuf], &[(String, PathBuf)], Option<&[String]>) -> Result<Kit, Problems> + 'a;

impl Options {
    /// Opens the file with these changes.
    ///
    /// # Errors
    /// As [`Project::open`]; a mix, a part or a setting that is not there; a swap of a piece that nothing plays and no kit has.
    pub fn open(self) -> Result<Project, Problems> {
        self.open_on(&mut |folders, swaps, pieces| match pieces {
            Some(pieces) => Kit::open_for(folders, swaps, pieces),
            None => Kit::open(folders, swaps),
        })
    }

    /// The same on kits that `open_kit` gives for their folders and swaps, each as [`Kit::open`] would.
    pub(crate) fn open_on(self, open_kit: &mut OpenKit<'_>) -> Result<Project, Problems> {
        let mut draft = match (&self.built, &self.text) {
            (Some(built), _) => built.read(&self.path, &self.changes)?,
            (None, Some(text)) => loopfile::read_text(&self.path, text.clone(), &self.changes)?,
            (None, None) => loopfile::read(&self.path, &self.changes)?,
        };
        draft.change_tempo(self.tempo_times);
        let plays = match draft {
            Draft::Loop(mut draft) => {
                let mut kit = self.kit_for(&draft, open_kit)?;
                cast(&mut draft, &mut kit, self.substitutes)?;
                let song = draft.resolve(kit.defaults());
                kit.find_roots(score::pitched(&song))?;
                Plays::Loop(Box::new(song), kit)
            }
            Draft::Form(mut draft) => {
                let kits = draft.loops().map(|draft| self.kit_for(draft, open_kit));
                let mut kits = kits.collect::<Result<Vec<_>, _>>()?;
                for (draft, kit) in draft.loops_mut().zip(&mut kits) {
                    cast(draft, kit, self.substitutes)?;
                }
                let mut defaults = kits.iter().map(|kit| kit.defaults().clone());
                let form = draft.resolve(|_| defaults.next().unwrap_or_default());
                drop(defaults);
                for (section, kit) in form.sections.iter().zip(&mut kits) {
                    kit.find_roots(score::pitched(&section.plays))?;
                }
                Plays::Form(Box::new(form), kits)
            }
        };
        let project = Project { options: self, plays };
        project.check_swaps()?;
        Ok(project)
    }

    /// Opens the kit of a loop.
    fn kit_for(&self, draft: &LoopDraft, open_kit: &mut OpenKit<'_>) -> Result<Kit, Problems> {
        // The closest piece is looked for among all that a kit has.
        let pieces = draft.pieces().filter(|_| !self.substitutes).map(|mut pieces| {
            pieces.extend(self.swaps.iter().map(|(piece, _)| piece.clone()));
            pieces
        });
        open_kit(draft.kits(), &self.swaps, pieces.as_deref())
    }
}

impl Project {
    /// Checks that every swapped piece is one that is played or that a kit has: a misspelt one would change nothing and
    /// say nothing.
    fn check_swaps(&self) -> Result<(), Problem> {
        let loops = self.loops();
        let pieces = || {
            loops
                .iter()
                .flat_map(|(song, _)| &song.parts)
                .flat_map(|part| &part.pieces)
        };
        for (name, _) in &self.options.swaps {
            let played = |(song, kit): &(&Loop, &Kit)| {
                let own = kit.index().find(name);
                let mut pieces = song.parts.iter().flat_map(|part| &part.pieces);
                pieces.any(|piece| piece.piece == *name || own.is_some() && kit.index().find(&piece.piece) == own)
            };
            // What the kit has may be swapped whether or not this loop plays it.
            let had =
                |(_, kit): &(&Loop, &Kit)| kit.index().find(name).is_some_and(|at| at < kit.index().listed().len());
            if !loops.iter().any(played) && !loops.iter().any(had) {
                let problem = Problem::new(format!("nothing plays a piece `{name}` that could be swapped"));
                return Err(match nearest(name, pieces().map(|piece| piece.piece.as_str())) {
                    Some(near) => problem.help(did_you_mean(near)),
                    None => problem.help("name a piece that a part of the loop plays"),
                });
            }
        }
        Ok(())
    }
}

/// Gives the notes of a loop's MIDI files to the pieces of its kit; where pieces are substituted, also to those that it lacks.
fn cast(draft: &mut LoopDraft, kit: &mut Kit, substitutes: bool) -> Result<(), Problem> {
    if substitutes {
        kit.lend();
    }
    // Which notes a piece can play depends on its roots.
    let pitched = with_casting(kit, |casting| {
        let pieces = draft.pitched_pieces(casting).into_iter();
        pieces.map(str::to_string).collect::<Vec<_>>()
    });
    kit.find_roots(pitched.iter().map(String::as_str))?;
    with_casting(kit, |casting| draft.cast(casting));
    if substitutes {
        kit.substitute_numbered();
    }
    Ok(())
}

/// What a kit is to the notes of MIDI files.
fn with_casting<T>(kit: &Kit, then: impl FnOnce(&Casting) -> T) -> T {
    let index = kit.index();
    let piece = |name: &str| Some(&index.pieces[index.find(name)?]);
    then(&Casting {
        piece: &|name| piece(name).map(|piece| piece.name.clone()),
        keys: kit.keys(),
        plays: &|name, key| {
            // What is substituted plays no notes.
            if index.substitute(name).is_some() {
                return None;
            }
            let far = index.reach(piece(name)?, key.into())?;
            Some(far <= score::FARTHEST)
        },
    })
}
