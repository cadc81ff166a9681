//! A form's stems: what goes by one name in several sections is one stem.

use super::form::Plan;
use super::form_end::fade;
use super::stems::{Stems, groups, without_buses};
use super::{Order, cut_off, repeat};
use crate::base::audio::Audio;
use crate::kit::Kit;
use crate::loopfile::{Ending, Form, Loop};
use crate::mix::engine::inputs::Run;
use crate::text::{Problem, Problems};

/// Renders a form's stems one by one, each as long as the finished mix (`length` frames), and hands them on with their
/// names.
///
/// A part or bus that stands in several sections under one name is one stem, silent where its section does not play;
/// one that no section lets be heard is none. Stems fade with the form, so they sum to what it is before its master,
/// faded.
///
/// # Errors
/// As [`super::render_form_sharing`], and whatever `each` finds wrong.
pub(crate) fn form_stems(
    form: &Form,
    kits: &[Kit],
    order: &Order,
    what: Stems,
    length: usize,
    mut each: impl FnMut(&str, Audio) -> Result<(), Problem>,
) -> Result<(), Problems> {
    let (plan, turn) = Plan::of(form, kits, order, None)?;
    let loops: Vec<Loop> = form
        .sections
        .iter()
        .map(|section| match what {
            Stems::Dry => without_buses(&section.plays),
            _ => section.plays.clone(),
        })
        .collect();
    let passages: Vec<_> = plan.passages().collect();
    let mut played = Vec::new();
    for passage in &passages {
        let plays = &loops[passage.section];
        let stage = plan.stage(&turn, passage, plays)?;
        let gains = stage.at_desk(&|_| (), |desk| desk.run(Run::Keeping).gains);
        played.push((passage.first, stage, gains, groups(plays, what)));
    }
    let mut names: Vec<&str> = Vec::new();
    for (name, _) in played.iter().flat_map(|(.., groups)| groups) {
        if !names.contains(&name.as_str()) {
            names.push(name);
        }
    }
    for name in names {
        let mut stem = plan.silence();
        for (first, stage, gains, groups) in &played {
            for (_, members) in groups.iter().filter(|(own, _)| own == name) {
                let mut sums = stage.at_desk(&|_| (), |desk| desk.run(Run::Stem(members, gains)));
                stem.add(&stage.answered(&mut sums), *first);
            }
        }
        let mut audio = stem.audio;
        if form.ending == Ending::Damp {
            cut_off(&mut audio, plan.total);
        }
        fade(&mut audio, plan.score.fades);
        if plan.circle {
            repeat(&mut audio, order.rounds);
        }
        audio.channels.iter_mut().for_each(|side| side.resize(length, 0.0));
        each(name, audio)?;
    }
    Ok(())
}
