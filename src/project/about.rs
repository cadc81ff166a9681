//! What a project is made of and what it says of itself.

use std::borrow::Cow;
use std::path::PathBuf;

use super::{Plays, Project};
use crate::export::bars::Bars;
#[cfg(feature = "cli")]
use crate::kit::Sides;
use crate::loopfile::{Ending, Loop, SpaceKind};
use crate::render::{Order, Stems, stem_names};
use crate::text::{Problem, one_line};

impl Project {
    /// The names that its stems may have.
    pub(crate) fn stem_names(&self, what: Stems) -> Vec<String> {
        let loops = self.loops().into_iter();
        loops.flat_map(|(song, _)| stem_names(song, what)).collect()
    }

    /// What is odd about the files that its loops read, and about its kits' recordings, each thing once.
    pub fn notices(&self) -> Vec<Problem> {
        let mut notices: Vec<Problem> = Vec::new();
        for notice in self
            .loops()
            .iter()
            .flat_map(|(song, kit)| song.notices.iter().chain(kit.notices()))
        {
            if !notices.contains(notice) {
                notices.push(notice.clone());
            }
        }
        notices
    }

    /// The names of all pieces that are struck, each once.
    pub fn pieces(&self) -> Vec<&str> {
        let mut names: Vec<&str> = Vec::new();
        for (song, _) in self.loops() {
            for (_, piece) in struck(song) {
                if !names.contains(&piece) {
                    names.push(piece);
                }
            }
        }
        names
    }

    /// The parts that play a piece, by whichever of its names, called as in a render; and whether each is heard.
    pub(crate) fn players(&self, piece: &str) -> Vec<(String, bool)> {
        let mut players = Vec::new();
        for (number, (song, kit)) in self.loops().into_iter().enumerate() {
            let heard = song.heard();
            let own = kit.index().find(piece);
            let meant = |name: &str| name == piece || own.is_some() && kit.index().find(name) == own;
            for (part, _) in struck(song).filter(|(_, name)| meant(name)) {
                let name = &song.parts[part].name;
                let name = match &self.plays {
                    Plays::Loop(..) => name.clone(),
                    Plays::Form(form, _) => format!("{}: {name}", form.sections[number].name),
                };
                players.push((name, heard.parts[part]));
            }
        }
        players
    }

    /// The recordings of a piece in its kits, by whichever of its names.
    #[cfg(feature = "cli")]
    pub(crate) fn recordings(&self, piece: &str) -> Vec<Sides> {
        let mut recordings: Vec<Sides> = Vec::new();
        for (_, kit) in self.loops() {
            let index = kit.index();
            let layers = index.find(piece).into_iter().flat_map(|at| &index.pieces[at].layers);
            let new = layers.flat_map(|layer| &layer.takes).map(|take| kit.sides(*take));
            let new: Vec<Sides> = new.filter(|sides| !recordings.contains(sides)).collect();
            recordings.extend(new);
        }
        recordings
    }

    /// The pieces that its loops play though their kits lack them, each with the one that plays for it.
    pub(crate) fn lent(&self) -> Vec<(&str, &str)> {
        let mut lent: Vec<(&str, &str)> = Vec::new();
        for (song, kit) in self.loops() {
            for (_, piece) in struck(song) {
                let loan = kit.index().substitute(piece).map(|substitute| (piece, substitute));
                lent.extend(loan.filter(|loan| !lent.contains(loan)));
            }
        }
        lent
    }

    /// The same as hints, for commands that have no summary.
    pub(crate) fn loans(&self) -> Vec<Problem> {
        let told = |(piece, substitute): (&str, &str)| {
            let what = format!("the kit has no piece `{piece}`: `{substitute}` is its substitute");
            Problem::new(what).help(format!("--swap {piece}=FILE brings one along"))
        };
        self.lent().into_iter().map(told).collect()
    }

    /// The files that its loops read beside their own and their kits'.
    pub(crate) fn performances(&self) -> Vec<PathBuf> {
        let loops = self.loops().into_iter();
        loops.flat_map(|(song, _)| song.performances.clone()).collect()
    }

    /// Everything that it is made of beside the file that was opened: files, and the folders of its kits.
    pub(crate) fn made_of(&self) -> (Vec<PathBuf>, Vec<PathBuf>) {
        let mut files = self.performances();
        if let Plays::Form(form, _) = &self.plays {
            files.extend(form.sections.iter().map(|section| section.file.clone()));
        }
        let loops = self.loops();
        let spaces = loops.iter().flat_map(|(song, _)| &song.spaces);
        files.extend(spaces.filter_map(|space| match &space.kind {
            SpaceKind::Impulse(impulse) => Some(impulse.file.clone()),
            _ => None,
        }));
        let folders = loops.iter().flat_map(|(song, _)| song.kits.clone());
        (files, folders.collect())
    }

    /// Every file that is read to render it, but for the one that was opened. Of a kit's folder that is what parts may play: the rest
    /// of it may well hold what was rendered before.
    pub(crate) fn reads(&self) -> Vec<PathBuf> {
        let (mut files, _) = self.made_of();
        for (song, kit) in self.loops() {
            let pieces = song.parts.iter().flat_map(|part| &part.pieces);
            let played = pieces.filter_map(|piece| kit.index().find(&piece.piece));
            let layers = played.flat_map(|piece| &kit.index().pieces[piece].layers);
            let takes = layers.flat_map(|layer| layer.takes.iter().chain(&layer.zones));
            files.extend(takes.flat_map(|take| kit.sides(*take).into_files()));
        }
        files
    }

    /// The names of its mixes; a form's are those of all its loops.
    pub fn mixes(&self) -> Vec<String> {
        let mut names: Vec<String> = Vec::new();
        for (song, _) in self.loops() {
            let new = song.mixes.iter().filter(|name| !names.contains(name)).cloned();
            names.extend(new.collect::<Vec<_>>());
        }
        names
    }

    /// Its title, as it may be shown within a line.
    pub fn title(&self) -> Cow<'_, str> {
        one_line(self.plain_title())
    }

    /// Its title, as it is written.
    pub(super) fn plain_title(&self) -> &str {
        match &self.plays {
            Plays::Loop(song, _) => &song.title,
            Plays::Form(form, _) => &form.title,
        }
    }

    /// The loop, or the form's first section's.
    pub(crate) fn first(&self) -> &Loop {
        match &self.plays {
            Plays::Loop(song, _) => song,
            Plays::Form(form, _) => &form.sections[0].plays,
        }
    }

    /// The loops that play in some of its bars, or in all where none are given, in order; at least one.
    pub(crate) fn played(&self, bars: Option<(u32, u32)>) -> Vec<&Loop> {
        let Plays::Form(form, _) = &self.plays else {
            return vec![self.first()];
        };
        let (first, last) = bars.unwrap_or((1, u32::MAX));
        let mut before = 0;
        let mut played = Vec::new();
        for section in &form.sections {
            if first <= before + section.bars() && last > before {
                played.push(&section.plays);
            }
            before += section.bars();
        }
        if played.is_empty() { vec![self.first()] } else { played }
    }

    /// Bars in all, in one round.
    pub fn bars(&self) -> u32 {
        match &self.plays {
            Plays::Loop(song, _) => song.bars,
            Plays::Form(form, _) => form.bars(),
        }
    }

    /// What happens at its end.
    pub fn ending(&self) -> Ending {
        match &self.plays {
            Plays::Loop(song, _) => song.ending,
            Plays::Form(form, _) => form.ending,
        }
    }

    /// Where its bars lie in a render.
    pub(crate) fn barlines(&self, order: &Order) -> Bars {
        match &self.plays {
            Plays::Loop(song, _) => Bars::of_loop(song, order.bars, order.rounds, order.rate),
            Plays::Form(form, _) => Bars::of_form(form, order.bars, order.rounds, order.rate),
        }
    }

    /// What there is to say of it in a few words each: tempo, metre, key; of a form whose sections differ, all of them.
    pub(crate) fn about(&self) -> Vec<String> {
        let loops = self.loops();
        let songs = || loops.iter().map(|(song, _)| song);
        let tempos = songs().map(|song| format!("{} BPM", song.time.tempo));
        let metres = songs().map(|song| format!("{}/{}", song.time.counts, song.time.unit));
        let keys = songs().filter_map(|song| song.key.clone());
        let mut told: Vec<String> = Vec::new();
        for words in tempos.chain(metres).chain(keys) {
            if !told.contains(&words) {
                told.push(words);
            }
        }
        told
    }
}

/// The pieces that each part of a loop strikes, by the part's number.
fn struck(song: &Loop) -> impl Iterator<Item = (usize, &str)> {
    song.parts.iter().enumerate().flat_map(|(number, part)| {
        let pieces = part.pieces.iter().enumerate();
        let struck = pieces.filter(|(piece, _)| part.strokes.iter().any(|stroke| stroke.piece == *piece));
        struck.map(move |(_, piece)| (number, piece.piece.as_str()))
    })
}
