//! What a render would refuse, found without one; and notes that their recordings break off.

use std::collections::BTreeMap;

use super::stage::check_impulse;
use super::{Order, form, prepared};
use crate::kit::Kit;
use crate::kit::audio::decode::EmbeddedInfo;
use crate::loopfile::{Form, Loop, SpaceKind};
use crate::score::{Hit, Score};
use crate::text::{Problem, Problems};

/// Refuses whatever [`render`](super::render) would refuse of a loop, opening the files that it would open.
///
/// # Errors
/// Those of [`render`](super::render), but for all files that can't be read at once.
pub(crate) fn check(song: &Loop, kit: &Kit, order: &Order) -> Result<(), Problems> {
    let (score, _) = prepared(song, kit, order)?;
    let problems = unread(kit, &score.takes(song));
    refused(problems.into_iter().chain(unfit_impulses(song)))
}

/// Refuses whatever [`render_form_sharing`](super::render_form_sharing) would refuse of a form, as [`check`] does.
///
/// # Errors
/// As [`check`], for each section.
pub(crate) fn check_form(form: &Form, kits: &[Kit], order: &Order) -> Result<(), Problems> {
    let score = form::prepared(form, kits, order)?;
    let mut problems = Vec::new();
    for (section, kit) in kits.iter().enumerate() {
        let takes = form::takes_on_kit_of(form, &score, section);
        problems.extend(takes.iter().flat_map(|takes| unread(kit, takes)));
    }
    for stretch in &score.stretches {
        problems.extend(unfit_impulses(&form.sections[stretch.section].plays));
    }
    refused(problems)
}

fn refused(problems: impl IntoIterator<Item = Problem>) -> Result<(), Problems> {
    let mut once: Vec<Problem> = Vec::new();
    for problem in problems {
        if !once.contains(&problem) {
            once.push(problem);
        }
    }
    if once.is_empty() { Ok(()) } else { Err(Problems(once)) }
}

/// The recordings that can't be read.
fn unread(kit: &Kit, takes: &[(usize, bool)]) -> Vec<Problem> {
    kit.check(takes).err().map_or(Vec::new(), |problems| problems.0)
}

/// What is wrong with the recorded rooms.
fn unfit_impulses(song: &Loop) -> Vec<Problem> {
    let impulses = song.spaces.iter().filter_map(|space| match &space.kind {
        SpaceKind::Impulse(impulse) => Some(impulse),
        _ => None,
    });
    impulses.filter_map(|impulse| check_impulse(impulse).err()).collect()
}

/// A note is longer than its recording where so much of it is left, in seconds and as a share: less is not missed.
const LEFT: (f64, f64) = (0.05, 0.1);

/// The parts that have notes longer than their recordings sound: those that end while they sound, and don't repeat in a
/// loop of their own. One hint a part, at its first such note.
pub(crate) fn broken_off(song: &Loop, kit: &Kit, score: &Score) -> Vec<Problem> {
    let mut told: BTreeMap<usize, Option<EmbeddedInfo>> = BTreeMap::new();
    let mut sounding: BTreeMap<usize, bool> = BTreeMap::new();
    let mut hints = Vec::new();
    for (part, hits) in song.parts.iter().zip(&score.parts).filter(|(part, _)| !part.double) {
        // An envelope that falls ends a note by itself.
        let shaped = |hit: &Hit| {
            let sound = &part.pieces[hit.piece].sound;
            sound.reverse || sound.envelope.as_ref().is_some_and(|envelope| envelope.decay.is_some())
        };
        let mut notes = hits.iter().filter(|hit| hit.pitch.is_some() && !shaped(hit));
        let found = notes.find_map(|hit| {
            let told = told
                .entry(hit.take)
                .or_insert_with(|| kit.told(hit.take))
                .filter(|told| !told.held)?;
            let (written, lasts) = (hit.length?, (told.seconds - hit.start) / libm::exp2(hit.tune / 12.0));
            let longer = written - lasts > LEFT.0.max(LEFT.1 * written);
            let sounds = longer && *sounding.entry(hit.take).or_insert_with(|| kit.ends_sounding(hit.take));
            sounds.then_some((hit, written, lasts))
        });
        let Some((hit, written, lasts)) = found else { continue };
        // What is a little ahead of its barline belongs to the bar behind it.
        let bars = ((hit.at + LEFT.0) / song.time.bar_seconds()).max(0.0) as u32;
        let what = format!(
            "`{}` has notes longer than their recordings, from bar {} on: one of {written:.2} s, for which `{}` lasts {lasts:.2} s",
            part.name,
            score.cycle.first + 1 + bars,
            kit.file(hit.take).display()
        );
        let help = "write shorter notes, put loop points into the file, or take a longer recording";
        hints.push(Problem::at(&part.place, what).help(help));
    }
    hints
}
