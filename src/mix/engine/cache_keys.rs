//! What is the cache key for each stage of a mix.
//!
//! Every stage has a name for all that determines its bits: a strip up to its fader for its settings, its sweeps, the
//! envelope that it ducks under and the names of what feeds it; its output for that and the fader; a sum for the outputs in
//! it. So a change of one strip leaves the names of all that it does not reach.

use super::inputs::{Mixer, Sharing};
use super::routing::Strips;
use super::time::Span;
use crate::loopfile::{Field, Loop, Strip, Sweep, Target};
use crate::mix::strip::sweep::Clock;
use crate::render_cache::CacheKey;

/// The names of one strip.
#[derive(Clone, Copy)]
pub(crate) struct StageKeys {
    /// What reaches its fader, or comes out of its ceiling; none where that is its source itself.
    pub shaped: Option<CacheKey>,
    /// What comes out of it.
    pub out: CacheKey,
    /// Its peak.
    pub peak: CacheKey,
    /// A bus's deepest gain reductions; none for a part.
    pub reductions: Option<CacheKey>,
}

/// Everything that determines what a strip gives to its fader, or out of its ceiling.
#[derive(Debug, PartialEq)]
struct Shaped {
    /// A part's dry audio, or the outputs that a bus sums.
    from: Vec<CacheKey>,
    channels: usize,
    strip: Strip,
    sweeps: Moving,
    /// What it ducks under.
    envelope: Option<CacheKey>,
    begins: i64,
    lead: usize,
    span: Span,
    rate: u32,
}

/// A strip's fader on a signal.
#[derive(Debug, PartialEq)]
struct Faded {
    from: CacheKey,
    channels: usize,
    gain_db: f64,
    pan: f64,
    sweeps: Moving,
    /// The frame at which it begins, and its lead, where it moves.
    place: Option<(i64, usize)>,
    span: Span,
}

/// A sum of outputs over the whole time.
#[derive(Debug, PartialEq)]
pub(crate) struct Sum {
    pub of: Vec<Summand>,
    pub span: Span,
}

/// An output in a sum.
#[derive(Debug, PartialEq)]
pub(crate) struct Summand {
    pub out: CacheKey,
    pub lead: usize,
    pub level_db: f64,
    pub sweeps: Moving,
}

/// All that makes a part sound as it does, wherever it goes and whatever others need of it.
#[derive(Debug, PartialEq)]
struct Trace {
    source: CacheKey,
    strip: Strip,
    sweeps: Moving,
    envelope: Option<CacheKey>,
}

/// The peak of what comes out of a strip.
#[derive(Debug, PartialEq)]
struct Peak(CacheKey);

/// A bus's deepest gain reduction.
#[derive(Debug, PartialEq)]
struct Reduction(CacheKey);

/// Sweeps and the clock that they go by; nothing at all where there are none.
pub(crate) type Moving = Option<(Vec<Sweep>, Clock)>;

/// The sweeps of some of a strip's numbers, whoever's they are.
pub(crate) fn moving(song: &Loop, clock: Clock, target: Target, which: impl Fn(Field) -> bool) -> Moving {
    let these = song
        .sweeps
        .iter()
        .filter(|sweep| sweep.target == target && which(sweep.field));
    // Parts and buses may stand at another place in another version: the number is not part of what is done.
    let anyones = these.cloned().map(|sweep| Sweep {
        target: Target::Master,
        ..sweep
    });
    let sweeps: Vec<Sweep> = anyones.collect();
    (!sweeps.is_empty()).then_some((sweeps, clock))
}

/// The settings of a strip's effects, without its fader and sends. Whom it ducks under is told by the envelope's name.
pub(crate) fn effects(strip: &Strip) -> Strip {
    let mut effects = Strip {
        sends: Vec::new(),
        ..strip.clone()
    };
    effects.duck.iter_mut().for_each(|duck| duck.by = 0);
    if strip.ceiling_db.is_none() {
        (effects.gain_db, effects.pan) = (0.0, 0.0);
    }
    effects
}

/// True for the numbers of a strip that lie before its fader, or before the end of its ceiling.
pub(crate) fn is_before_fader(strip: &Strip) -> impl Fn(Field) -> bool {
    let limited = strip.ceiling_db.is_some();
    move |field| match field {
        Field::Gain | Field::Pan => limited,
        Field::Send(_) | Field::Level => false,
        _ => true,
    }
}

/// Gives strips their names.
pub(crate) struct CacheKeys<'a, 'b> {
    pub desk: &'a Mixer<'b>,
    pub sharing: &'a Sharing<'b>,
    pub strips: &'a Strips,
}

impl CacheKeys<'_, '_> {
    pub(crate) fn part(&self, part: usize) -> StageKeys {
        let source = self.sharing.sources[part];
        let strip = &self.desk.song.parts[part].strip;
        let target = Target::Part(part);
        let plain = effects(strip) == Strip::plain() && self.moving(target, is_before_fader(strip)).is_none();
        let shaped = (!plain).then(|| self.shaped(target, vec![source], self.desk.channels[part]));
        let out = self.out(target, shaped.unwrap_or(source), self.desk.channels[part]);
        StageKeys {
            shaped,
            out,
            peak: CacheKey::of(&Peak(out)),
            reductions: None,
        }
    }

    pub(crate) fn bus(&self, bus: usize, from: Vec<CacheKey>) -> StageKeys {
        let target = Target::Bus(bus);
        let shaped = self.shaped(target, from, 2);
        let out = self.out(target, shaped, 2);
        StageKeys {
            shaped: Some(shaped),
            out,
            peak: CacheKey::of(&Peak(out)),
            reductions: Some(CacheKey::of(&Reduction(shaped))),
        }
    }

    /// What a part gives, sends and all: the same in two mixes where it sounds alike in both.
    pub(crate) fn trace(&self, part: usize) -> CacheKey {
        let mut strip = self.desk.song.parts[part].strip.clone();
        let envelope = strip.duck.as_ref().and_then(|duck| self.desk.keys.name(duck));
        strip.duck.iter_mut().for_each(|duck| duck.by = 0);
        CacheKey::of(&Trace {
            source: self.sharing.sources[part],
            strip,
            sweeps: self.moving(Target::Part(part), |_| true),
            envelope,
        })
    }

    fn shaped(&self, target: Target, from: Vec<CacheKey>, channels: usize) -> CacheKey {
        let strip = target.strip(self.desk.song).expect("a part or bus has a strip");
        CacheKey::of(&Shaped {
            from,
            channels,
            strip: effects(strip),
            sweeps: self.moving(target, is_before_fader(strip)),
            envelope: strip.duck.as_ref().and_then(|duck| self.desk.keys.name(duck)),
            begins: self.begins(target),
            lead: self.lead(target),
            span: self.desk.span,
            rate: self.desk.rate,
        })
    }

    fn out(&self, target: Target, from: CacheKey, channels: usize) -> CacheKey {
        let strip = target.strip(self.desk.song).expect("a part or bus has a strip");
        let sweeps = self.moving(target, |field| matches!(field, Field::Gain | Field::Pan));
        // A fader that stands still does not ask when it began.
        let place = sweeps.is_some().then(|| (self.begins(target), self.lead(target)));
        CacheKey::of(&Faded {
            from,
            channels,
            gain_db: strip.gain_db,
            pan: strip.pan,
            sweeps,
            place,
            span: self.desk.span,
        })
    }

    pub(crate) fn moving(&self, target: Target, which: impl Fn(Field) -> bool) -> Moving {
        moving(self.desk.song, self.desk.clock, target, which)
    }

    pub(crate) fn lead(&self, target: Target) -> usize {
        match target {
            Target::Part(part) => self.strips.routing.part_leads[part],
            Target::Bus(bus) => self.strips.routing.bus_leads[bus],
            _ => 0,
        }
    }

    fn begins(&self, target: Target) -> i64 {
        match target {
            Target::Part(part) => self.strips.routing.part_begins[part],
            Target::Bus(bus) => self.strips.routing.bus_begins[bus],
            _ => 0,
        }
    }
}
