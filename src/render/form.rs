//! A form's way from its sections to finished audio.

use super::stage::{Shared, Stage};
use super::{
    Loaded, Mixed, Order, PartReport, Progress, Rendered, allow, cut_off, end_ring, finish, frames, load, repeat,
};
use crate::audio::Audio;
use crate::keep::Keep;
use crate::kit::{Index, Kit};
use crate::loopfile::{Ending, Form, Strip};
use crate::measure;
use crate::mix::Span;
use crate::mix::master::{MasterReport, master};
use crate::score::{self, Fades, FormScore};
use crate::text::{Problem, Problems};

/// Renders a form: its sections one after another, each in its own rooms, all through one master.
///
/// # Errors
/// As [`render`](super::render), for each section; `kits` holds each section's kit.
pub fn render_form(form: &Form, kits: &[Kit], order: &Order, progress: &Progress) -> Result<Rendered, Problems> {
    render_form_sharing(form, kits, order, None, progress)
}

/// The same by way of a keep, as [`render_sharing`](super::render_sharing): a section that nothing changes is not
/// mixed again.
///
/// # Errors
/// As [`render_form`].
pub fn render_form_sharing(
    form: &Form,
    kits: &[Kit],
    order: &Order,
    keep: Option<&Keep>,
    progress: &Progress,
) -> Result<Rendered, Problems> {
    keep.iter().for_each(|keep| keep.turn());
    let circle = form.ending == Ending::Repeat;
    let rounds = if circle { 1 } else { order.rounds };
    allow(seconds(form, order.bars) * f64::from(order.rounds), order.rate)?;
    let indices: Vec<&Index> = kits.iter().map(Kit::index).collect();
    let score = score::write_form(form, &indices, order.bars, rounds)?;
    let total = frames(score.length, order.rate);
    let mut whole = Whole::new(form, total, order.rate, circle);
    let recordings = Recordings::load(form, kits, &score, order.rate, keep)?;
    for stretch_of in &score.stretches {
        let section = &form.sections[stretch_of.section];
        let rate = f64::from(order.rate);
        // The section's own time begins with its first sound, which may lie in the section before; on a line none does
        // before the form's first frame.
        let first = (stretch_of.first_sound() * rate).floor() as i64;
        let first = if circle { first } else { first.max(0) };
        let own = stretch_of.score_from(first as f64 / rate, section.bars());
        let share = (stretch_of.ends - stretch_of.begins) / score.length;
        let so_far = stretch_of.begins / score.length;
        let shown = |part: f64| progress(so_far + part * share);
        let (recordings, takes) = recordings.of(stretch_of.section);
        let shared = keep.map(|keep| Shared { keep, takes });
        let mixed = Stage::set(&section.plays, recordings, &own, 1, order.rate, false, shared)?.mix(&shown);
        whole.take_in(mixed, first, stretch_of.section);
    }
    let mut mixed = whole.mixed(form);
    mixed.oddities = recordings.oddities;
    if form.ending == Ending::Damp {
        cut_off(&mut mixed.audio, total);
    }
    let report = fade_and_master(&mut mixed.audio, form, &score, circle);
    if form.ending == Ending::LetRing {
        end_ring(&mut mixed.audio, total);
    }
    if circle {
        repeat(&mut mixed.audio, order.rounds);
    }
    Ok(finish(mixed, report, circle))
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
    fn load(
        form: &Form,
        kits: &[Kit],
        score: &FormScore,
        rate: u32,
        keep: Option<&Keep>,
    ) -> Result<Recordings, Problems> {
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
            let here = |section: usize| form.sections[section].plays.kits == form.sections[number].plays.kits;
            let stretches = score.stretches.iter().filter(|stretch| here(stretch.section));
            let takes: Vec<usize> = stretches
                .flat_map(|stretch| &stretch.parts)
                .flatten()
                .map(|hit| hit.take)
                .collect();
            recordings.of_section.push(recordings.kits.len());
            let loaded = load(&kits[number], &takes, rate, keep)?;
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
    audio: Audio,
    circle: bool,
    /// A section's parts and buses; of a section that plays more than once, all together.
    sections: Vec<Option<Reports>>,
}

/// What there is to tell of a section's parts and buses.
#[derive(Clone)]
struct Reports {
    parts: Vec<PartReport>,
    buses: Vec<(String, f64)>,
}

impl Whole {
    fn new(form: &Form, frames: usize, rate: u32, circle: bool) -> Whole {
        Whole {
            audio: Audio::silence(2, frames, rate),
            circle,
            sections: vec![None; form.sections.len()],
        }
    }

    /// Adds a section's mix from a frame on; on a circle what lies outside goes on at the other end.
    fn take_in(&mut self, mixed: Mixed, at: i64, section: usize) {
        let needed = usize::try_from(at).unwrap_or(0) + mixed.audio.frames();
        if !self.circle && needed > self.audio.frames() {
            self.audio.channels.iter_mut().for_each(|side| side.resize(needed, 0.0));
        }
        let span = Span {
            frames: self.audio.frames(),
            circle: self.circle,
        };
        for (sum, side) in self.audio.channels.iter_mut().zip(&mixed.audio.channels) {
            span.add(sum, at, side, 1.0);
        }
        let Some(Reports { parts, buses }) = &mut self.sections[section] else {
            self.sections[section] = Some(Reports {
                parts: mixed.parts,
                buses: mixed.buses,
            });
            return;
        };
        parts
            .iter_mut()
            .zip(mixed.parts)
            .for_each(|(part, other)| part.peak = part.peak.max(other.peak));
        buses
            .iter_mut()
            .zip(mixed.buses)
            .for_each(|(bus, other)| bus.1 = bus.1.max(other.1));
    }

    /// The sum, with the sections' names before those of their parts and buses.
    fn mixed(self, form: &Form) -> Mixed {
        let mut mixed = Mixed {
            audio: self.audio,
            parts: Vec::new(),
            buses: Vec::new(),
            oddities: Vec::new(),
        };
        for (section, reports) in form.sections.iter().zip(self.sections) {
            let named = |own: &str| format!("{}: {own}", section.name);
            let Some(Reports { parts, buses }) = reports else {
                continue;
            };
            mixed.parts.extend(parts.into_iter().map(|part| PartReport {
                name: named(&part.name),
                ..part
            }));
            mixed
                .buses
                .extend(buses.into_iter().map(|(bus, reduction)| (named(&bus), reduction)));
        }
        mixed
    }
}

/// The master's strip, then the fades, then loudness and ceiling.
fn fade_and_master(audio: &mut Audio, form: &Form, score: &FormScore, circle: bool) -> MasterReport {
    let Fades { up, down } = score.fades;
    if up.is_none() && down.is_none() {
        return master(audio, &form.master, form.loudness, circle, None, measure::loudness);
    }
    master(
        audio,
        &Strip {
            ceiling_db: None,
            ..form.master.clone()
        },
        None,
        circle,
        None,
        measure::loudness,
    );
    let rate = f64::from(audio.rate);
    // The amplitude goes with the square of the time, which lies near to even steps in dB and still reaches silence.
    let gain = |frame: usize| {
        let at = frame as f64 / rate;
        let up = up.map_or(1.0, |(from, to)| ((at - from) / (to - from)).clamp(0.0, 1.0));
        let down = down.map_or(1.0, |(from, to)| ((to - at) / (to - from)).clamp(0.0, 1.0));
        (up * up * down * down) as f32
    };
    let end = down.map_or(usize::MAX, |(_, to)| frames(to, audio.rate));
    for side in &mut audio.channels {
        side.truncate(end);
        side.iter_mut()
            .enumerate()
            .for_each(|(frame, sample)| *sample *= gain(frame));
    }
    let ceiling = Strip {
        ceiling_db: form.master.ceiling_db,
        ..Strip::plain()
    };
    master(audio, &ceiling, form.loudness, circle, None, measure::loudness)
}
