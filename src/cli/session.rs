//! From the command line to finished audio: reads the file, opens its kits, renders.

use std::borrow::Cow;
use std::path::PathBuf;

use super::options::{AudioOptions, EndingName, LoopOptions};
use super::progress::Progress;
use super::telling;
use crate::base::audio::Audio;
use crate::kit::Kit;
use crate::loopfile::{self, Casting, Changes, Draft, Ending, Form, Loop, LoopDraft, SpaceKind};
use crate::render::{
    Order, Progress as Shown, Rendered, Stems, check, check_form, form_stems, render_form_unmetered, render_unmetered,
    stem_names, stems,
};
use crate::render_cache::Keep;
use crate::score;
use crate::text::{Problem, Problems, nearest, one_line};

/// Opens the kit of some folders, with swaps, for whoever asks for some pieces alone; for all where none are named.
pub type Opened<'a> = dyn FnMut(&[PathBuf], &[(String, PathBuf)], Option<&[String]>) -> Result<Kit, Problems> + 'a;

/// What a file holds, resolved on its kits.
// There are few of them a run: their size is no matter.
#[allow(clippy::large_enum_variant)]
pub enum Work {
    /// A loop on its kit.
    Loop(Box<Loop>, Kit),
    /// A form, and a kit for each of its sections.
    Form(Box<Form>, Vec<Kit>),
}

impl Work {
    /// Reads the file that the options name, with the changes that they ask for.
    pub fn open(options: &LoopOptions, ending: Option<EndingName>) -> Result<Work, Problems> {
        Work::open_on(options, ending, &mut |folders, swaps, pieces| match pieces {
            Some(pieces) => Kit::open_for(folders, swaps, pieces),
            None => Kit::open(folders, swaps),
        })
    }

    /// The same on kits that `opened` gives for their folders and swaps, each as [`Kit::open`] would.
    pub fn open_on(
        options: &LoopOptions,
        ending: Option<EndingName>,
        opened: &mut Opened<'_>,
    ) -> Result<Work, Problems> {
        let changes = options.changes(ending);
        let swaps = options.swaps();
        let work = Work::read(options, &changes, &swaps, opened)?;
        work.wants(&swaps)?;
        Ok(work)
    }

    /// Checks that every swapped piece is one that is played or that a kit has: a misspelt one would change nothing and
    /// say nothing.
    fn wants(&self, swaps: &[(String, PathBuf)]) -> Result<(), Problem> {
        let loops = self.loops();
        let pieces = || {
            loops
                .iter()
                .flat_map(|(song, _)| &song.parts)
                .flat_map(|part| &part.pieces)
        };
        for (name, _) in swaps {
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
                    Some(near) => problem.help(format!("did you mean `{near}`?")),
                    None => problem.help("name a piece that a part of the loop plays"),
                });
            }
        }
        Ok(())
    }

    fn read(
        options: &LoopOptions,
        changes: &Changes,
        swaps: &[(String, PathBuf)],
        opened: &mut Opened<'_>,
    ) -> Result<Work, Problems> {
        // Kin are looked for among all that a kit has.
        let pieces = |draft: &LoopDraft| {
            let mut pieces = draft.pieces().filter(|_| !options.lend)?;
            pieces.extend(swaps.iter().map(|(piece, _)| piece.clone()));
            Some(pieces)
        };
        match loopfile::read(&options.file, changes)? {
            Draft::Loop(mut draft) => {
                let mut kit = opened(draft.kits(), swaps, pieces(&draft).as_deref())?;
                cast(&mut draft, &mut kit, options.lend)?;
                let song = draft.resolve(kit.defaults());
                kit.find_roots(score::pitched(&song))?;
                Ok(Work::Loop(Box::new(song), kit))
            }
            Draft::Form(mut draft) => {
                let mut kits = draft
                    .loops()
                    .map(|draft| opened(draft.kits(), swaps, pieces(draft).as_deref()))
                    .collect::<Result<Vec<_>, _>>()?;
                for (draft, kit) in draft.loops_mut().zip(&mut kits) {
                    cast(draft, kit, options.lend)?;
                }
                let mut defaults = kits.iter().map(|kit| kit.defaults().clone());
                let form = draft.resolve(|_| defaults.next().unwrap_or_default());
                drop(defaults);
                for (section, kit) in form.sections.iter().zip(&mut kits) {
                    kit.find_roots(score::pitched(&section.plays))?;
                }
                Ok(Work::Form(Box::new(form), kits))
            }
        }
    }

    /// Refuses what [`Work::render`] would refuse.
    pub fn check(&self, order: &Order) -> Result<(), Problems> {
        match self {
            Work::Loop(song, kit) => check(song, kit, order),
            Work::Form(form, kits) => check_form(form, kits, order),
        }
    }

    /// Renders it.
    pub fn render(&self, order: &Order) -> Result<Rendered, Problems> {
        self.render_sharing(order, None)
    }

    /// Renders it by way of a keep, where there is one.
    pub fn render_sharing(&self, order: &Order, keep: Option<&Keep>) -> Result<Rendered, Problems> {
        self.render_unmetered(order, keep).map(Rendered::metered)
    }

    /// The same without reading a meter at the end.
    pub fn render_unmetered(&self, order: &Order, keep: Option<&Keep>) -> Result<Rendered, Problems> {
        let progress = Progress::new("rendering");
        self.rendered(order, keep, &|share| progress.show(share))
    }

    /// The same, `shown` being told which share of it is done.
    pub fn render_showing(&self, order: &Order, keep: Option<&Keep>, shown: &Shown) -> Result<Rendered, Problems> {
        self.rendered(order, keep, shown).map(Rendered::metered)
    }

    fn rendered(&self, order: &Order, keep: Option<&Keep>, shown: &Shown) -> Result<Rendered, Problems> {
        match self {
            Work::Loop(song, kit) => render_unmetered(song, kit, order, keep, shown),
            Work::Form(form, kits) => render_form_unmetered(form, kits, order, keep, shown),
        }
    }

    /// Renders its stems, each as long as the finished mix, and hands them on with their names.
    pub fn stems(
        &self,
        order: &Order,
        what: Stems,
        length: usize,
        each: impl FnMut(&str, Audio) -> Result<(), Problem>,
    ) -> Result<(), Problems> {
        match self {
            Work::Loop(song, kit) => stems(song, kit, order, what, length, each),
            Work::Form(form, kits) => form_stems(form, kits, order, what, length, each),
        }
    }

    /// The names that its stems may have.
    pub fn stem_names(&self, what: Stems) -> Vec<String> {
        let loops = self.loops().into_iter();
        loops.flat_map(|(song, _)| stem_names(song, what)).collect()
    }

    /// Every loop in it with its kit.
    pub fn loops(&self) -> Vec<(&Loop, &Kit)> {
        match self {
            Work::Loop(song, kit) => vec![(song, kit)],
            Work::Form(form, kits) => form.sections.iter().map(|section| &section.plays).zip(kits).collect(),
        }
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
    pub fn players(&self, piece: &str) -> Vec<(String, bool)> {
        let mut players = Vec::new();
        for (number, (song, kit)) in self.loops().into_iter().enumerate() {
            let heard = song.heard();
            let own = kit.index().find(piece);
            let meant = |name: &str| name == piece || own.is_some() && kit.index().find(name) == own;
            for (part, _) in struck(song).filter(|(_, name)| meant(name)) {
                let name = &song.parts[part].name;
                let name = match self {
                    Work::Loop(..) => name.clone(),
                    Work::Form(form, _) => format!("{}: {name}", form.sections[number].name),
                };
                players.push((name, heard.parts[part]));
            }
        }
        players
    }

    /// The pieces that its loops play though their kits lack them, each with the one that plays for it.
    pub fn lent(&self) -> Vec<(&str, &str)> {
        let mut lent: Vec<(&str, &str)> = Vec::new();
        for (song, kit) in self.loops() {
            for (_, piece) in struck(song) {
                let loan = kit.index().lender(piece).map(|lender| (piece, lender));
                lent.extend(loan.filter(|loan| !lent.contains(loan)));
            }
        }
        lent
    }

    /// The same as hints, for commands that have no summary.
    pub fn loans(&self) -> Vec<Problem> {
        let told = |(piece, lender): (&str, &str)| {
            let what = format!("the kit has no piece `{piece}`: `{lender}` is lent for it");
            Problem::new(what).help(format!("--swap {piece}=FILE brings one along"))
        };
        self.lent().into_iter().map(told).collect()
    }

    /// The files that its loops read beside their own and their kits'.
    pub fn performances(&self) -> Vec<PathBuf> {
        let loops = self.loops().into_iter();
        loops.flat_map(|(song, _)| song.performances.clone()).collect()
    }

    /// Everything that it is made of beside the file that was opened: files, and the folders of its kits.
    pub fn made_of(&self) -> (Vec<PathBuf>, Vec<PathBuf>) {
        let mut files = self.performances();
        if let Work::Form(form, _) = self {
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
    pub fn reads(&self) -> Vec<PathBuf> {
        let (mut files, _) = self.made_of();
        for (song, kit) in self.loops() {
            let pieces = song.parts.iter().flat_map(|part| &part.pieces);
            let played = pieces.filter_map(|piece| kit.index().find(&piece.piece));
            let layers = played.flat_map(|piece| &kit.index().pieces[piece].layers);
            let takes = layers.flat_map(|layer| layer.takes.iter().chain(&layer.zones));
            files.extend(takes.map(|take| kit.file(*take).to_path_buf()));
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
        one_line(match self {
            Work::Loop(song, _) => &song.title,
            Work::Form(form, _) => &form.title,
        })
    }

    /// The loop, or the form's first section's.
    pub fn first(&self) -> &Loop {
        match self {
            Work::Loop(song, _) => song,
            Work::Form(form, _) => &form.sections[0].plays,
        }
    }

    /// The loops that play in some of its bars, or in all where none are given, in order; at least one.
    pub fn played(&self, bars: Option<(u32, u32)>) -> Vec<&Loop> {
        let Work::Form(form, _) = self else {
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
        match self {
            Work::Loop(song, _) => song.bars,
            Work::Form(form, _) => form.bars(),
        }
    }

    /// What happens at its end.
    pub fn ending(&self) -> Ending {
        match self {
            Work::Loop(song, _) => song.ending,
            Work::Form(form, _) => form.ending,
        }
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

/// Gives the notes of a loop's MIDI files to the pieces of its kit; where pieces are lent, also to those that it lacks.
fn cast(draft: &mut LoopDraft, kit: &mut Kit, lend: bool) -> Result<(), Problem> {
    if lend {
        kit.lend();
    }
    // Which notes a piece can play depends on its roots.
    let pitched = with_casting(kit, |casting| {
        let pieces = draft.pitched_pieces(casting).into_iter();
        pieces.map(str::to_string).collect::<Vec<_>>()
    });
    kit.find_roots(pitched.iter().map(String::as_str))?;
    with_casting(kit, |casting| draft.cast(casting));
    if lend {
        kit.lend_numbered();
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
            // What is lent plays no notes.
            if index.lender(name).is_some() {
                return None;
            }
            let far = index.reach(piece(name)?, key.into())?;
            Some(far <= score::FARTHEST)
        },
    })
}

/// Reads and renders in one go.
pub fn rendered(options: &LoopOptions, audio: &AudioOptions) -> Result<(Work, Rendered), Problems> {
    let work = Work::open(options, audio.ending)?;
    let rendered = work.render(&audio.order(options))?;
    telling::tell_hints_once(work.notices().into_iter().chain(work.loans()));
    Ok((work, rendered))
}
