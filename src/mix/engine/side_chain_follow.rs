//! Following the parts that others duck under, before the mix begins.

use std::sync::Arc;

use rayon::prelude::*;

use super::cache_keys::{Moving, effects, is_before_fader, moving};
use super::inputs::{Mixer, Sharing};
use super::routing::within;
use super::side_chain::{Curve, Envelope, SideChains};
use super::time::{STRETCH, Span};
use crate::base::audio::highest;
use crate::base::simd::wide;
use crate::base::stages::{all, stage};
use crate::loopfile::{Duck, Strip, Target};
use crate::mix::effort::Effort;
use crate::mix::strip::compressor::loudest;
use crate::mix::strip::duck::Follower;
use crate::render_cache::CacheKey;

/// Everything that an envelope comes from.
#[derive(Debug, PartialEq)]
struct Followed {
    source: CacheKey,
    channels: usize,
    strip: Strip,
    sweeps: Moving,
    own: Option<CacheKey>,
    release: f64,
    span: Span,
    rate: u32,
}

impl SideChains {
    /// Follows every part that another ducks under.
    pub(crate) fn of(desk: &Mixer) -> SideChains {
        let mut keys = SideChains::default();
        let song = desk.song;
        let strips = song
            .parts
            .iter()
            .map(|part| &part.strip)
            .chain(song.buses.iter().map(|bus| &bus.strip))
            .chain([&song.master]);
        for duck in strips.filter_map(|strip| strip.duck.as_ref()) {
            keys.follow(desk, duck);
        }
        keys
    }

    /// Follows one part, after whatever that part itself ducks under; the loop has no circle of ducks.
    fn follow(&mut self, desk: &Mixer, duck: &Duck) {
        if self.find(duck).is_some() {
            return;
        }
        let own = desk.song.parts[duck.by].strip.duck.as_ref();
        if let Some(own) = own {
            self.follow(desk, own);
        }
        let name = desk.sharing.map(|sharing| {
            let strip = &desk.song.parts[duck.by].strip;
            CacheKey::of(&Followed {
                source: sharing.sources[duck.by],
                channels: desk.channels[duck.by],
                strip: effects(strip),
                sweeps: moving(desk.song, desk.clock, Target::Part(duck.by), is_before_fader(strip)),
                own: own.and_then(|own| self.name(own)),
                release: duck.release,
                span: desk.span,
                rate: desk.rate,
            })
        });
        let made = || {
            let (frames, effort) = stage("ducked under", || curve(desk, duck, own, self));
            let most = wide(|| highest(&frames));
            Curve { most, frames, effort }
        };
        let bytes = desk.span.frames * size_of::<f32>();
        let curve = match (desk.sharing, name) {
            (Some(Sharing { turn, .. }), Some(name)) => turn.ask(name, bytes).get_or(|| {
                turn.tally().add("envelopes", 1);
                made()
            }),
            _ => Arc::new(made()),
        };
        self.0.push(Envelope {
            by: duck.by,
            release: duck.release,
            curve,
            name,
        });
    }
}

/// Frames that are played and shaped in one go, each segment with a run-in of its own: they go side by side.
const SEGMENT: usize = 131_072;

/// The envelope of one part before its fader, frame by frame, and what it cost.
fn curve(desk: &Mixer, duck: &Duck, own: Option<&Duck>, keys: &SideChains) -> (Vec<f32>, Effort) {
    let mut effort = Effort::default();
    let mut curve = vec![0.0; desk.span.frames];
    if !desk.plays[duck.by] {
        return (curve, effort);
    }
    let segments = curve.par_chunks_mut(SEGMENT).enumerate();
    let ran = all("followed", segments, |(number, levels)| {
        levels_of(desk, (duck.by, own), keys, number * SEGMENT, levels)
    });
    effort.strip_frames = ran.into_iter().sum();
    // What waits for the frame before is not much. Before the first frame of a circle lie its last ones.
    let mut follower = Follower::new(duck.release, desk.rate);
    let mut now = match desk.span.circle {
        true => -(within(follower.run_in(), desk.rate) as i64),
        false => 0,
    };
    let (mut levels, mut envelope) = (vec![0.0; STRETCH], Vec::new());
    while now < desk.span.frames as i64 {
        let levels = &mut levels[..desk.next_block(now).min(STRETCH)];
        desk.span.read(&curve, now, levels);
        follower.follow(&[&*levels], &mut envelope);
        if let Ok(at) = usize::try_from(now) {
            curve[at..at + envelope.len()].copy_from_slice(&envelope);
        }
        now += envelope.len() as i64;
    }
    (curve, effort)
}

/// Finds the levels of a part before its fader from some frame on: the louder side's. Gives how many frames its strip has run.
fn levels_of(
    desk: &Mixer,
    (part, own): (usize, Option<&Duck>),
    keys: &SideChains,
    from: usize,
    levels: &mut [f32],
) -> u64 {
    let channels = desk.channels[part];
    let mut strip = desk.channel(Target::Part(part), channels);
    let ahead = strip.latency_to_fader() as i64;
    let (from, to) = (from as i64, (from + levels.len()) as i64);
    let run_in = within(strip.run_in(), desk.rate) as i64;
    // Nothing has sounded before the beginning of a line.
    let begins = if desk.span.circle {
        from - run_in
    } else {
        (from - run_in).max(0)
    };
    let mut now = begins - ahead;
    let mut source = (desk.open)(part, begins);
    let [mut left, mut right, mut room] = [0; 3].map(|_| vec![0.0; STRETCH]);
    let (mut loud, mut ran) = (Vec::new(), 0);
    while now < to {
        let edge = if now < from { from } else { to };
        let frames = ((edge - now) as usize).min(STRETCH);
        let (left, right, room) = (&mut left[..frames], &mut right[..frames], &mut room[..frames]);
        let at_duck = now + strip.latency_from_duck_to_fader() as i64;
        let key = own.map(|own| keys.read(desk.span, own, at_duck, room));
        let block = &mut [&mut *left, &mut *right][..channels];
        let sounds = source.fill(block);
        if !sounds {
            block.iter_mut().for_each(|side| side.fill(0.0));
        }
        let mut mono = true;
        if sounds || !strip.rests() {
            mono = strip.shape([&mut *left, &mut *right], now, key);
            ran += frames as u64;
        }
        if now >= from {
            let heard = [&*left, &*right];
            loudest(if mono { &heard[..1] } else { &heard[..] }, &mut loud);
            let at = (now - from) as usize;
            levels[at..at + frames].copy_from_slice(&loud);
        }
        now += frames as i64;
    }
    ran
}
