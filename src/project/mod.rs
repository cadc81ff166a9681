//! A project: a loop file or a form file with its kits, opened, changed, scored, rendered, compared.
//!
//! This is the whole way on one page. [`Project::open`] reads the file, opens its kits and resolves what it says on them;
//! [`Project::options`] does the same with changes. What is opened is rendered by [`Project::render`].

mod about;
#[cfg(feature = "cli")]
mod at_hand;
#[cfg(feature = "cli")]
pub(crate) mod balance;
mod build;
mod builder;
mod bypass;
pub(crate) mod changes;
pub(crate) mod compare;
#[cfg(feature = "cli")]
mod credits;
mod hints;
#[cfg(feature = "cli")]
pub(crate) mod lesson;
#[cfg(feature = "cli")]
mod midi;
mod one_shots;
mod open;
mod options;
mod score;
#[cfg(feature = "cli")]
mod sheet;
pub(crate) mod side_by_side;
#[cfg(feature = "cli")]
mod tags;

use std::path::{Path, PathBuf};

use crate::base::audio::Audio;
use crate::kit::Kit;
use crate::loopfile::{Form, Loop};
use crate::render::{
    Order, Progress, Rendered, Stems, check, check_form, form_stems, render_form_unmetered, render_unmetered, stems,
};
use crate::render_cache::RenderCache;
use crate::text::{Problem, Problems};

pub use build::Part;
pub use builder::LoopBuilder;
pub use compare::{Compared, Comparison};
#[cfg(feature = "cli")]
pub(crate) use credits::KnownCredits;
pub use one_shots::{OneShot, OneShotFigures, analyse};
pub use options::Options;
#[cfg(feature = "cli")]
pub(crate) use score::Passage;
pub use score::{Played, Score};

/// A loop or a form on its kits, ready to be rendered.
#[derive(Debug, Clone)]
pub struct Project {
    options: Options,
    plays: Plays,
}

/// What a file holds, resolved on its kits.
// There are few of them a run: their size is no matter.
#[allow(clippy::large_enum_variant)]
#[derive(Debug, Clone)]
pub(crate) enum Plays {
    /// A loop on its kit.
    Loop(Box<Loop>, Kit),
    /// A form, and a kit for each of its sections.
    Form(Box<Form>, Vec<Kit>),
}

impl Project {
    /// Opens a loop file or a form file as it is written.
    ///
    /// # Errors
    /// Everything that is wrong with the file and its kits, all at once.
    pub fn open(path: impl AsRef<Path>) -> Result<Project, Problems> {
        Project::options(path.as_ref()).open()
    }

    /// What to change in a file before it is opened.
    pub fn options(path: impl Into<PathBuf>) -> Options {
        Options::new(path.into())
    }

    /// Renders it.
    ///
    /// # Errors
    /// Pieces that the kit lacks, recordings that can't be read, bars that are not there, audio that is too long.
    pub fn render(&self, order: &Order) -> Result<Rendered, Problems> {
        self.render_sharing(order, None, &|_| ())
    }

    /// The same by way of a render cache, where there is one; `progress` is told which share of it is done.
    pub(crate) fn render_sharing(
        &self,
        order: &Order,
        cache: Option<&RenderCache>,
        progress: &Progress,
    ) -> Result<Rendered, Problems> {
        self.render_unmetered(order, cache, progress).map(Rendered::metered)
    }

    /// The same without reading a meter at the end.
    pub(crate) fn render_unmetered(
        &self,
        order: &Order,
        cache: Option<&RenderCache>,
        progress: &Progress,
    ) -> Result<Rendered, Problems> {
        match &self.plays {
            Plays::Loop(song, kit) => render_unmetered(song, kit, order, cache, progress),
            Plays::Form(form, kits) => render_form_unmetered(form, kits, order, cache, progress),
        }
    }

    /// Renders its stems, each as long as the finished mix, and hands them on with their names.
    pub(crate) fn stems(
        &self,
        order: &Order,
        which: Stems,
        frames: usize,
        each: impl FnMut(&str, Audio) -> Result<(), Problem>,
    ) -> Result<(), Problems> {
        match &self.plays {
            Plays::Loop(song, kit) => stems(song, kit, order, which, frames, each),
            Plays::Form(form, kits) => form_stems(form, kits, order, which, frames, each),
        }
    }

    /// Refuses what [`Project::render`] would refuse, and renders nothing.
    ///
    /// # Errors
    /// As [`Project::render`], but for all recordings that can't be read at once.
    pub fn check(&self, order: &Order) -> Result<(), Problems> {
        match &self.plays {
            Plays::Loop(song, kit) => check(song, kit, order),
            Plays::Form(form, kits) => check_form(form, kits, order),
        }
    }

    /// What it was opened by.
    pub(crate) fn opened_by(&self) -> &Options {
        &self.options
    }

    /// The loop or form that it plays.
    pub(crate) fn plays(&self) -> &Plays {
        &self.plays
    }

    /// Every loop in it with its kit; of a form one for each section.
    pub(crate) fn loops(&self) -> Vec<(&Loop, &Kit)> {
        match &self.plays {
            Plays::Loop(song, kit) => vec![(song, kit)],
            Plays::Form(form, kits) => form.sections.iter().map(|section| &section.plays).zip(kits).collect(),
        }
    }
}
