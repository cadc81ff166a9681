//! A form's way from its sections to finished audio.

use std::collections::BTreeSet;

use super::form_end::fade_and_master;
use super::shares::Shares;
use super::stage::{Shared, Stage};
use super::{
    BusSums, Loaded, Mixed, Need, Order, PartReport, Progress, Rendered, Reports, allow, cut_off, end_ring, files_of,
    frames, load, repeat, suits,
};
use crate::base::audio::Audio;
use crate::kit::{Index, Kit};
use crate::loopfile::{Centre, Ending, Form, Loop};
use crate::mix::{Effort, Span};
use crate::render_cache::{RenderCache, Turn};
use crate::score::{self, FormScore, Score};
use crate::text::{Problem, Problems};

/// Renders a form: its sections one after another, each in its own rooms, all through one master. As
/// [`render_sharing`](super::render_sharing) by way of a render cache, where there is one: a section that nothing changes is not
/// mixed again.
///
/// # Errors
/// As [`render`](super::render), for each section; `kits` holds each section's kit.
pub fn render_form_sharing(
    form: &Form,
    kits: &[Kit],
    order: &Order,
    keep: Option<&RenderCache>,
    progress: &Progress,
) -> Result<Rendered, Problems> {
    render_form_unmetered(form, kits, order, keep, progress).map(Rendered::metered)
}

/// The same without reading a meter at the end.
///
/// # Errors
/// As [`render_form_sharing`].
pub(crate) fn render_form_unmetered(
    form: &Form,
    kits: &[Kit],
    order: &Order,
    keep: Option<&RenderCache>,
    progress: &Progress,
) -> Result<Rendered, Problems> {
    let (plan, turn) = Plan::of(form, kits, order, keep)?;
    let mut whole = Whole::new(form, &plan);
    let passages: Vec<Passage> = plan.passages().collect();
    let mut mix = |passage: &Passage, stage: Stage, shares: Option<Shares>| {
        let shown = |part: f64| progress(passage.so_far + part * passage.share);
        whole.take_in(stage.mix(&shown, shares), passage.first, passage.section);
    };
    let set = |passage| plan.stage(&turn, passage, &form.sections[passage.section].plays);
    if keep.is_some() {
        // All is asked for before the first section is mixed.
        let ask = |passage| set(passage).map(|stage| (passage, stage.ask(&turn), stage));
        let asked = passages.iter().map(ask).collect::<Result<Vec<_>, _>>()?;
        turn.end();
        asked
            .into_iter()
            .for_each(|(passage, shares, stage)| mix(passage, stage, Some(shares)));
    } else {
        for passage in &passages {
            mix(passage, set(passage)?, None);
        }
    }
    let (mut mix, reports) = whole.mixed(form);
    if form.ending == Ending::Damp {
        cut_off(&mut mix, plan.total);
    }
    let mut mastered = fade_and_master(mix, form, &plan.score, plan.circle);
    if form.ending == Ending::LetRing {
        end_ring(&mut mastered.audio, plan.total);
    }
    if plan.circle {
        repeat(&mut mastered.audio, order.rounds);
    }
    Ok(mastered.finish(reports, plan.recordings.oddities, plan.circle))
}

/// Refuses a form's bells that lie too high for a rate in Hz, as [`suits`].
///
/// # Errors
/// One for each of them, where it is written.
fn form_suits(form: &Form, rate: u32) -> Result<(), Problems> {
    let loops = form.sections.iter().flat_map(|section| &section.plays.centres);
    let centres: Vec<Centre> = form.centres.iter().chain(loops).cloned().collect();
    suits(&centres, rate)
}

/// What a form plays; refuses what can't be rendered, as far as that is known before a recording is opened.
pub(super) fn prepared(form: &Form, kits: &[Kit], order: &Order) -> Result<FormScore, Problems> {
    form_suits(form, order.rate)?;
    let rounds = match form.ending {
        Ending::Repeat => 1,
        _ => order.rounds,
    };
    // Sections come and go.
    let mut need = Need {
        seconds: seconds(form, order.bars) * f64::from(order.rounds),
        held: 0.0,
        files: BTreeSet::new(),
        rate: order.rate,
    };
    allow(&need)?;
    let indices: Vec<&Index> = kits.iter().map(Kit::index).collect();
    let score = score::write_form(form, &indices, order.bars, rounds)?;
    for stretch in &score.stretches {
        let plays = &form.sections[stretch.section].plays;
        let takes = score::takes(plays, &stretch.parts);
        need.files.extend(files_of(plays, &kits[stretch.section], &takes));
    }
    allow(&need)?;
    Ok(score)
}

/// The recordings that are played of the kit that some section plays on; none where an earlier one plays on it too.
pub(super) fn takes_on_kit_of(form: &Form, score: &FormScore, section: usize) -> Option<Vec<(usize, bool)>> {
    let same = |other: usize| form.sections[other].plays.kits == form.sections[section].plays.kits;
    if (0..section).any(same) {
        return None;
    }
    let stretches = score.stretches.iter().filter(|stretch| same(stretch.section));
    let takes = stretches.flat_map(|stretch| score::takes(&form.sections[stretch.section].plays, &stretch.parts));
    Some(takes.collect())
}

/// What is to be played of a form, before any of it is mixed.
pub(super) struct Plan<'a> {
    form: &'a Form,
    /// What it plays.
    pub score: FormScore,
    recordings: Recordings,
    /// True where no keep comes from outside. Its sections then share the sounds that several of them play.
    sounds_alone: bool,
    /// True where each bus is measured.
    measures: bool,
    /// Frames to the end of its last bar.
    pub total: usize,
    /// True where it repeats.
    pub circle: bool,
    rate: u32,
}

/// One section's turn in a form, in time of its own.
pub(super) struct Passage {
    /// Which of the form's sections.
    pub section: usize,
    /// The form's frame at which its own time begins.
    pub first: i64,
    own: Score,
    /// The shares of the form's time that lie before it and in it.
    so_far: f64,
    share: f64,
}

impl<'a> Plan<'a> {
    /// Writes a form's score and, in a turn at a render cache, decodes what it plays.
    pub(super) fn of(
        form: &'a Form,
        kits: &[Kit],
        order: &Order,
        keep: Option<&RenderCache>,
    ) -> Result<(Plan<'a>, Turn), Problems> {
        let circle = form.ending == Ending::Repeat;
        let score = prepared(form, kits, order)?;
        let turn = keep.map_or_else(|| RenderCache::default().turn(), RenderCache::turn);
        let plan = Plan {
            form,
            recordings: Recordings::load(form, kits, &score, order.rate, &turn)?,
            sounds_alone: keep.is_none(),
            measures: order.bus_figures && keep.is_none(),
            total: frames(score.length, order.rate),
            score,
            circle,
            rate: order.rate,
        };
        Ok((plan, turn))
    }

    /// The sections' turns, in the order of time.
    pub(super) fn passages(&self) -> impl Iterator<Item = Passage> {
        let rate = f64::from(self.rate);
        self.score.stretches.iter().map(move |stretch| {
            // The section's own time begins with its first sound, which may lie in the section before; on a line none does
            // before the form's first frame.
            let first = (stretch.first_sound() * rate).floor() as i64;
            let first = if self.circle { first } else { first.max(0) };
            Passage {
                section: stretch.section,
                first,
                own: stretch.score_from(first as f64 / rate, self.form.sections[stretch.section].bars()),
                so_far: stretch.begins / self.score.length,
                share: (stretch.ends - stretch.begins) / self.score.length,
            }
        })
    }

    /// Sets the stage for a passage on a loop: its section's, or that loop with other strips.
    pub(super) fn stage<'b>(&self, turn: &Turn, passage: &'b Passage, plays: &'b Loop) -> Result<Stage<'b>, Problems> {
        let (recordings, takes) = self.recordings.of(passage.section);
        let shared = Shared {
            turn,
            takes,
            sounds_alone: self.sounds_alone,
        };
        let mut stage = Stage::set(plays, recordings, &passage.own, 1, self.rate, false, Some(shared))?;
        stage.measures = self.measures;
        Ok(stage)
    }

    /// Silence of the form's length, to which passages are added.
    pub(super) fn silence(&self) -> Sum {
        Sum {
            audio: Audio::silence(2, self.total, self.rate),
            circle: self.circle,
        }
    }
}

/// Passages on top of one another, each at its place in the form.
pub(super) struct Sum {
    /// What they come to; on a line longer than the form where one rings on.
    pub audio: Audio,
    circle: bool,
}

impl Sum {
    /// Adds a passage from a frame on; on a circle what lies outside goes on at the other end.
    pub(super) fn add(&mut self, passage: &Audio, at: i64) {
        let needed = usize::try_from(at).unwrap_or(0) + passage.frames();
        if !self.circle && needed > self.audio.frames() {
            self.audio.channels.iter_mut().for_each(|side| side.resize(needed, 0.0));
        }
        let span = Span {
            frames: self.audio.frames(),
            circle: self.circle,
        };
        for (sum, side) in self.audio.channels.iter_mut().zip(&passage.channels) {
            span.add(sum, at, side, 1.0);
        }
    }
}

/// How long the bars from one to another are, counted from 1 over the whole form, or all of them.
fn seconds(form: &Form, cut: Option<(u32, u32)>) -> f64 {
    let (first, last) = cut.unwrap_or((1, u32::MAX));
    let mut before = 0;
    let mut seconds = 0.0;
    for section in &form.sections {
        let bars = last.min(before + section.bars()).saturating_sub(before.max(first - 1));
        seconds += section.plays.time.bar_seconds() * f64::from(bars);
        before += section.bars();
    }
    seconds
}

/// The recordings that sections play, each kit's decoded once for all sections that play on it.
struct Recordings {
    kits: Vec<Loaded>,
    of_section: Vec<usize>,
    /// What is odd about them.
    oddities: Vec<Problem>,
}

impl Recordings {
    fn load(form: &Form, kits: &[Kit], score: &FormScore, rate: u32, turn: &Turn) -> Result<Recordings, Problems> {
        let mut recordings = Recordings {
            kits: Vec::new(),
            of_section: Vec::new(),
            oddities: Vec::new(),
        };
        for (number, section) in form.sections.iter().enumerate() {
            let same = |other: &usize| form.sections[*other].plays.kits == section.plays.kits;
            if let Some(other) = (0..number).find(same) {
                recordings.of_section.push(recordings.of_section[other]);
                continue;
            }
            let takes = takes_on_kit_of(form, score, number).unwrap_or_default();
            recordings.of_section.push(recordings.kits.len());
            let loaded = load(&kits[number], &takes, rate, Some(turn))?;
            recordings.oddities.extend(kits[number].oddities(&loaded.0));
            recordings.kits.push(loaded);
        }
        Ok(recordings)
    }

    fn of(&self, section: usize) -> &Loaded {
        &self.kits[self.of_section[section]]
    }
}

/// The sum of the sections, and what there is to tell of each.
struct Whole {
    sum: Sum,
    /// A section's parts and buses; of a section that plays more than once, all together.
    sections: Vec<Option<Reports>>,
}

impl Whole {
    fn new(form: &Form, plan: &Plan) -> Whole {
        Whole {
            sum: plan.silence(),
            sections: vec![None; form.sections.len()],
        }
    }

    /// Adds a section's mix from a frame on.
    fn take_in(&mut self, mixed: Mixed, at: i64, section: usize) {
        self.sum.add(&mixed.audio, at);
        let new = mixed.reports;
        let Some(Reports { parts, buses, effort }) = &mut self.sections[section] else {
            self.sections[section] = Some(new);
            return;
        };
        *effort += new.effort;
        parts
            .iter_mut()
            .zip(new.parts)
            .for_each(|(part, other)| part.peak = part.peak.max(other.peak));
        buses.iter_mut().zip(new.buses).for_each(|(bus, other)| bus.add(other));
    }

    /// The sum, with the sections' names before those of their parts and buses.
    fn mixed(self, form: &Form) -> (Audio, Reports) {
        let mut all = Reports {
            parts: Vec::new(),
            buses: Vec::new(),
            effort: Effort::default(),
        };
        for (section, reports) in form.sections.iter().zip(self.sections) {
            let named = |own: &str| format!("{}: {own}", section.name);
            let Some(Reports { parts, buses, effort }) = reports else {
                continue;
            };
            all.effort += effort;
            all.parts.extend(parts.into_iter().map(|part| PartReport {
                name: named(&part.name),
                ..part
            }));
            all.buses.extend(buses.into_iter().map(|bus| BusSums {
                name: named(&bus.name),
                ..bus
            }));
        }
        (self.sum.audio, all)
    }
}
