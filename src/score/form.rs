//! A form's score: what its sections play, one after another.
//!
//! Each section's rounds are written out, the pickup with the first section and the last hit with the last, and hits of
//! one choke group stop one another from section to section, as they do within a loop: a drummer has one pair of hats.

use super::choke;
use super::hit::Stop;
use super::{Cycle, Hit, Score, find_pieces, group, past, struck};
use crate::kit::Index;
use crate::loopfile::{Ending, Exact, Form, Section};
use crate::text::Problems;

/// How much of a bar is its one: nothing that is written stands closer to it.
pub(super) const THE_ONE: Exact = Exact::new_raw(1, 1 << 40);

/// What a form plays.
#[derive(Debug, Clone, PartialEq)]
pub struct FormScore {
    /// What plays, in the order of time.
    pub stretches: Vec<Stretch>,
    /// Seconds to the end of the last bar, or of the last hit's beat where there is one.
    pub length: f64,
    /// How it fades in and out.
    pub fades: Fades,
    /// Seconds at which each bar begins, and at which the last ends, over all rounds.
    pub barlines: Vec<f64>,
    /// The bars of the form before the first that is played.
    pub first: u32,
    /// The bars of one round.
    pub bars: u32,
}

/// Where a form fades: the seconds from which on and up to which; none where it doesn't.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Fades {
    /// From silence.
    pub up: Option<(f64, f64)>,
    /// To silence.
    pub down: Option<(f64, f64)>,
}

/// One section's rounds, from its first sound to its last barline.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// Which of the form's sections.
    pub section: usize,
    /// Seconds from the form's first sample at which it begins.
    pub begins: f64,
    /// Seconds at which it ends.
    pub ends: f64,
    /// One list of hits a part; their times count from the form's first sample.
    pub parts: Vec<Vec<Hit>>,
    /// How the loop's bars repeat in it; its beginning counts from the form's first sample.
    pub cycle: Cycle,
}

impl Stretch {
    /// Seconds at which its first sound comes: a drift may put it before its first bar, into the section before.
    pub fn first_sound(&self) -> f64 {
        self.parts
            .iter()
            .flatten()
            .map(|hit| hit.at)
            .fold(self.begins, f64::min)
    }

    /// Its score, with times that count from a moment of the form on.
    pub fn score_from(&self, moment: f64, bars: u32) -> Score {
        let mut parts = self.parts.clone();
        parts.iter_mut().flatten().for_each(|hit| hit.at -= moment);
        Score {
            parts,
            bars,
            round: self.ends - moment,
            cycle: Cycle {
                begins: self.cycle.begins - moment,
                ..self.cycle
            },
        }
    }
}

/// Writes the score of a form, `kits` being the index of each section's kit; of the bars from `cut.0` to `cut.1` (counted
/// from 1 over the whole form) alone where given, so many rounds of it.
///
/// A cut, and a form that repeats, have neither pickup nor last hit; a form that repeats has no fades.
///
/// # Errors
/// Pieces that a kit lacks; bars past the end.
pub fn write_form(form: &Form, kits: &[&Index], cut: Option<(u32, u32)>, rounds: u32) -> Result<FormScore, Problems> {
    let all = form.bars();
    let (first, last) = cut.unwrap_or((1, all));
    if first < 1 || first > last || last > all {
        return Err(past((first, last), "form", all).into());
    }
    let pieces = form
        .sections
        .iter()
        .zip(kits)
        .map(|(section, kit)| find_pieces(&section.plays, kit));
    let pieces = pieces.collect::<Result<Vec<_>, Problems>>()?;
    let framed = cut.is_none() && form.ending != Ending::Repeat;
    let mut writer = Writer {
        form,
        kits,
        pieces,
        now: 0.0,
        barlines: vec![0.0],
        stretches: Vec::new(),
    };
    for round in 0..rounds {
        let (opens, closes) = (round == 0, round + 1 == rounds);
        let mut before = 0;
        for (number, section) in form.sections.iter().enumerate() {
            let bars = (before + 1).max(first)..=(before + section.bars()).min(last);
            if !bars.is_empty() {
                let lead = form.pickup.filter(|_| framed && opens && before == 0);
                writer.section(number, (bars.start() - before - 1, bars.end() - before), lead);
            }
            before += section.bars();
        }
        if framed && closes && form.last_hit {
            writer.last_hit();
        }
    }
    let fades = if form.ending == Ending::Repeat {
        Fades::default()
    } else {
        writer.fades(first - 1, last)
    };
    let mut score = FormScore {
        length: writer.now,
        fades,
        stretches: writer.stretches,
        barlines: writer.barlines,
        first: first - 1,
        bars: last - first + 1,
    };
    choke_all(form, kits, &writer.pieces, &mut score);
    Ok(score)
}

struct Writer<'a> {
    form: &'a Form,
    kits: &'a [&'a Index],
    pieces: Vec<Vec<Vec<usize>>>,
    /// Where the next section begins, in seconds.
    now: f64,
    /// Where each bar begins, and where the last ends.
    barlines: Vec<f64>,
    stretches: Vec<Stretch>,
}

impl Writer<'_> {
    /// Writes the bars of a section from one, counted from 0 over its rounds, to before another.
    fn section(&mut self, number: usize, (from, to): (u32, u32), lead: Option<Exact>) {
        let section = &self.form.sections[number];
        let (bar, round) = (section.plays.time.bar_seconds(), section.round());
        let mut stretch = Stretch {
            section: number,
            begins: self.now,
            ends: 0.0,
            parts: vec![Vec::new(); section.plays.parts.len()],
            cycle: Cycle {
                first: section.window.0 - 1,
                bars: round,
                begins: 0.0,
                seconds: bar * f64::from(round),
                times: section.times,
            },
        };
        let mut last = vec![Vec::new(); stretch.parts.len()];
        if let Some(length) = lead {
            let end = Exact::from_integer(section.window.1.into());
            let bars = length / section.plays.time.bar();
            self.add(&mut stretch, &mut last, (end - bars, end), self.now);
            self.now += section.plays.time.seconds(length);
            self.barlines = vec![self.now];
        }
        let begins = self.now;
        stretch.cycle.begins = begins - f64::from(from) * bar;
        for time in from / round..to.div_ceil(round) {
            let within = (from.max(time * round), to.min((time + 1) * round));
            let bars = (
                within.0 - time * round + section.window.0 - 1,
                within.1 - time * round + section.window.0 - 1,
            );
            let window = (Exact::from_integer(bars.0.into()), Exact::from_integer(bars.1.into()));
            self.add(
                &mut stretch,
                &mut last,
                window,
                begins + f64::from(within.0 - from) * bar,
            );
        }
        self.barlines
            .extend((1..=to - from).map(|count| begins + f64::from(count) * bar));
        self.now = begins + f64::from(to - from) * bar;
        stretch.ends = self.now;
        stretch
            .parts
            .iter_mut()
            .for_each(|hits| hits.sort_by(|a, b| a.at.total_cmp(&b.at)));
        self.stretches.push(stretch);
    }

    /// Adds to the last section what stands on the one of its first bar, and one beat of time.
    fn last_hit(&mut self) {
        let Some(mut stretch) = self.stretches.pop() else {
            return;
        };
        let Section { plays, window, .. } = &self.form.sections[stretch.section];
        let one = Exact::from_integer((window.0 - 1).into());
        let mut last = vec![Vec::new(); stretch.parts.len()];
        self.add(&mut stretch, &mut last, (one, one + THE_ONE), self.now);
        self.now += plays.time.seconds(plays.time.beat);
        stretch.ends = self.now;
        self.stretches.push(stretch);
    }

    /// Adds what a section's loop plays in a window of its bars, from a moment on. `last` is what stands at the last place of
    /// each of its parts so far.
    fn add(&self, stretch: &mut Stretch, last: &mut [Vec<usize>], window: (Exact, Exact), moment: f64) {
        let number = stretch.section;
        let song = &self.form.sections[number].plays;
        let struck = struck(song, self.kits[number], &self.pieces[number], window);
        let opens = self.stretches.is_empty() && self.form.ending != Ending::Repeat;
        for ((hits, last), mut new) in stretch.parts.iter_mut().zip(last).zip(struck) {
            new.hits.iter_mut().for_each(|hit| hit.at += moment);
            if opens && hits.is_empty() {
                new.begin();
            }
            *last = new.follow(hits, last);
        }
    }

    /// The fades' beginnings and ends, where the bars from one to before another of the form are written, over all rounds.
    fn fades(&self, from: u32, to: u32) -> Fades {
        let (up, down) = self.form.fades;
        let all = f64::from(self.form.bars());
        let written = self.barlines.len() as f64 - 1.0;
        // Bars of the form become bars of what is written; what lies outside is reached along the nearest bar's tempo.
        let fade_in = (up > 0.0).then(|| {
            if from == 0 {
                (0.0, self.moment(up))
            } else {
                (self.moment(-f64::from(from)), self.moment(up - f64::from(from)))
            }
        });
        let end = written + all - f64::from(to);
        let fade_out = (down > 0.0).then(|| (self.moment(end - down), self.moment(end)));
        Fades {
            up: fade_in,
            down: fade_out,
        }
    }

    /// Seconds of a place counted in bars from the first barline.
    fn moment(&self, bars: f64) -> f64 {
        let last = self.barlines.len() - 2;
        let bar = (bars.floor().max(0.0) as usize).min(last);
        let (begins, ends) = (self.barlines[bar], self.barlines[bar + 1]);
        begins + (bars - bar as f64) * (ends - begins)
    }
}

/// Marks each hit with what stops it, over all sections.
fn choke_all(form: &Form, kits: &[&Index], pieces: &[Vec<Vec<usize>>], score: &mut FormScore) {
    let whose = score
        .stretches
        .iter()
        .flat_map(|stretch| (0..stretch.parts.len()).map(|part| (stretch.section, part)));
    let whose: Vec<(usize, usize)> = whose.collect();
    if form.ending != Ending::Repeat {
        let before_all = |hit: &Hit| hit.grace && hit.at < 0.0;
        let parts = score.stretches.iter_mut().flat_map(|stretch| &mut stretch.parts);
        parts.for_each(|hits| hits.retain(|hit| !before_all(hit)));
    }
    let mut parts: Vec<Vec<Hit>> = score
        .stretches
        .iter_mut()
        .flat_map(|stretch| std::mem::take(&mut stretch.parts))
        .collect();
    choke::resolve(&mut parts, score.length, |number, hit| {
        let (section, part) = whose[number];
        group(
            &form.sections[section].plays,
            kits[section],
            &pieces[section],
            part,
            hit,
        )
    });
    // On a line the last hit of a group has nothing after it; round a circle it has the first one's next time.
    for hit in parts.iter_mut().flatten() {
        hit.stop = match hit.stop {
            Some(Stop::NextRound(after)) => (form.ending == Ending::Repeat).then_some(Stop::Later(after)),
            stop => stop,
        };
    }
    let mut parts = parts.into_iter();
    for stretch in &mut score.stretches {
        stretch.parts = parts
            .by_ref()
            .take(form.sections[stretch.section].plays.parts.len())
            .collect();
    }
}
