//! From the command line to finished audio: reads the file, opens its kits, renders.

use super::options::{AudioOptions, EndingName, LoopOptions};
use super::progress::Progress;
use crate::kit::Kit;
use crate::loopfile::{self, Draft, Ending, Form, Loop, Time};
use crate::render::{Order, Rendered, render, render_form};
use crate::score;
use crate::text::{Problem, Problems};

/// What a file holds, resolved on its kits.
pub enum Work {
    /// A loop on its kit.
    Loop(Box<Loop>, Kit),
    /// A form, and a kit for each of its sections.
    Form(Box<Form>, Vec<Kit>),
}

impl Work {
    /// Reads the file that the options name, with the changes that they ask for.
    pub fn open(options: &LoopOptions, ending: Option<EndingName>) -> Result<Work, Problems> {
        let changes = options.changes(ending);
        let swaps = options.swaps();
        match loopfile::read(&options.file, &changes)? {
            Draft::Loop(draft) => {
                let mut kit = Kit::open(draft.kits(), &swaps)?;
                let song = draft.resolve(kit.defaults());
                kit.find_roots(score::pitched(&song))?;
                Ok(Work::Loop(Box::new(song), kit))
            }
            Draft::Form(draft) => {
                let mut kits = draft
                    .loops()
                    .map(|draft| Kit::open(draft.kits(), &swaps))
                    .collect::<Result<Vec<_>, _>>()?;
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

    /// Renders it.
    pub fn render(&self, order: &Order) -> Result<Rendered, Problems> {
        let progress = Progress::new();
        match self {
            Work::Loop(song, kit) => render(song, kit, order, &|share| progress.show(share)),
            Work::Form(form, kits) => render_form(form, kits, order, &|share| progress.show(share)),
        }
    }

    /// Every loop in it with its kit.
    pub fn loops(&self) -> Vec<(&Loop, &Kit)> {
        match self {
            Work::Loop(song, kit) => vec![(song, kit)],
            Work::Form(form, kits) => form.sections.iter().map(|section| &section.plays).zip(kits).collect(),
        }
    }

    /// What its kits found odd about their recordings, each thing once.
    pub fn notices(&self) -> Vec<Problem> {
        let mut notices: Vec<Problem> = Vec::new();
        for notice in self.loops().iter().flat_map(|(_, kit)| kit.notices()) {
            if !notices.contains(notice) {
                notices.push(notice.clone());
            }
        }
        notices
    }

    /// Its title.
    pub fn title(&self) -> &str {
        match self {
            Work::Loop(song, _) => &song.title,
            Work::Form(form, _) => &form.title,
        }
    }

    /// The loop, or the form's first section's.
    pub fn first(&self) -> &Loop {
        match self {
            Work::Loop(song, _) => song,
            Work::Form(form, _) => &form.sections[0].plays,
        }
    }

    /// Its tempo and metre; a form's are its first section's.
    pub fn time(&self) -> &Time {
        &self.first().time
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

/// Reads and renders in one go.
pub fn rendered(options: &LoopOptions, audio: &AudioOptions) -> Result<(Work, Rendered), Problems> {
    let work = Work::open(options, audio.ending)?;
    let rendered = work.render(&audio.order(options))?;
    Ok((work, rendered))
}
