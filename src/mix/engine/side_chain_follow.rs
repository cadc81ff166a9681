//! Following the parts that others duck under, before the mix begins.

use std::sync::Arc;

use super::cache_keys::{Moving, effects, is_before_fader, moving};
use super::inputs::{Mixer, Sharing};
use super::routing::within;
use super::side_chain::{Curve, Envelope, SideChains};
use super::time::{STRETCH, Span};
use crate::base::audio::highest;
use crate::base::simd::wide;
use crate::loopfile::{Duck, Strip, Target};
use crate::mix::effort::Effort;
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
            let (frames, effort) = curve(desk, duck, own, self);
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

/// The envelope of one part before its fader, frame by frame, and what it cost.
fn curve(desk: &Mixer, duck: &Duck, own: Option<&Duck>, keys: &SideChains) -> (Vec<f32>, Effort) {
    let mut effort = Effort::default();
    if !desk.plays[duck.by] {
        return (vec![0.0; desk.span.frames], effort);
    }
    let channels = desk.channels[duck.by];
    let mut strip = desk.channel(Target::Part(duck.by), channels);
    let mut follower = Follower::new(duck.release, desk.rate);
    let ahead = strip.latency_to_fader();
    let run_in = if desk.span.circle {
        within(strip.run_in() + follower.run_in(), desk.rate)
    } else {
        0
    };
    let mut now = -((run_in + ahead) as i64);
    let mut source = (desk.open)(duck.by, now + ahead as i64);
    let mut curve = vec![0.0; desk.span.frames];
    let [mut left, mut right, mut room] = [0; 3].map(|_| vec![0.0; STRETCH]);
    let mut envelope = Vec::new();
    while now < desk.span.frames as i64 {
        let frames = desk.next_block(now).min(STRETCH);
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
            effort.strip_frames += frames as u64;
        }
        let heard = [&*left, &*right];
        follower.follow(if mono { &heard[..1] } else { &heard[..] }, &mut envelope);
        if now >= 0 {
            curve[now as usize..now as usize + frames].copy_from_slice(&envelope);
        }
        now += frames as i64;
    }
    (curve, effort)
}
