//! A strip: every effect in the design's order, then gain, pan and ceiling. One file an effect.
//!
//! In: a signal block by block, the settings of a strip, what moves in them. Out: the same signal, shaped. It knows nothing of
//! who feeds a strip and where it leads.

pub(crate) mod ceiling;
pub(crate) mod compressor;
pub(crate) mod drive;
pub(crate) mod duck;
pub(crate) mod effect;
pub(crate) mod eq;
pub(crate) mod fading;
pub(crate) mod filter;
pub(crate) mod four_frames;
pub(crate) mod given;
mod late;
pub(crate) mod matched;
pub(crate) mod oversampling;
pub(crate) mod pan;
pub(crate) mod reductions;
pub(crate) mod section;
pub(crate) mod sliding_maximum;
pub(crate) mod sweep;
pub(crate) mod true_peaks;
pub(crate) mod waveshaper;

use std::ops::Range;

use crate::base::audio::gain_of_db;
use crate::loopfile::{Field, Strip};
use ceiling::Ceiling;
use compressor::Compressor;
use drive::Saturator;
use duck::Ducker;
use effect::Effect;
use eq::Eq;
use filter::{Curve, Filter, chain};
pub use given::SideChain;
pub(crate) use given::{Ride, Shaping};
use late::Late;
use pan::{Spread, Width, balance_gains, pan_gains_mono};
pub(crate) use reductions::Reductions;
use sweep::{Moves, STEP};

/// A strip that processes block after block and remembers in between.
pub struct Channel {
    low_cut: Option<Filter>,
    high_cut: Option<Filter>,
    eq: Option<Eq>,
    compress: Option<Compressor>,
    drive: Option<Saturator>,
    duck: Option<Ducker>,
    spread: Option<Spread>,
    width: Option<Width>,
    gain: f32,
    pan: f64,
    /// The fader's factors of left and right as they last were: a new setting is reached on a straight line.
    faded: Option<[f32; 2]>,
    ceiling: Option<Ceiling>,
    late: Late,
    mono: bool,
    /// What moves, and the strip as it last was.
    moves: Option<(Moves, Strip)>,
    /// The gains of a block whose settings moved: the compressor's and the ceiling's.
    kept: [Vec<f32>; 2],
}

impl Channel {
    /// A strip for a signal of one channel or two, and what moves in it.
    pub fn new(strip: &Strip, moves: Option<Moves>, channels: usize, rate: u32) -> Channel {
        let moving = |field| moves.as_ref().is_some_and(|moves| moves.has(field));
        let ceiling = strip.ceiling_db.map(|db| Ceiling::new(db, rate, 2));
        Channel {
            low_cut: strip.low_cut.map(|hz| Filter::new(&Curve::LowCut(hz), rate, channels)),
            high_cut: strip
                .high_cut
                .map(|hz| Filter::new(&Curve::HighCut(hz), rate, channels)),
            eq: (!strip.eq.is_empty()).then(|| Eq::new(&strip.eq, rate, channels)),
            compress: strip.compress.as_ref().map(|compress| Compressor::new(compress, rate)),
            drive: strip.drive.as_ref().map(|drive| Saturator::new(drive, rate, channels)),
            duck: strip.duck.as_ref().map(Ducker::new),
            spread: (strip.spread != 0.0 || moving(Field::Spread)).then(|| Spread::new(strip.spread, rate, 2)),
            width: (strip.width != 1.0 || moving(Field::Width)).then(|| Width::new(strip.width)),
            gain: gain_of_db(strip.gain_db) as f32,
            pan: strip.pan,
            late: Late::new(ceiling.as_ref().map_or(0, Effect::latency)),
            ceiling,
            faded: None,
            mono: channels == 1,
            moves: moves.map(|moves| (moves, strip.clone())),
            kept: Default::default(),
        }
    }

    /// Frames by which the whole strip's output lags behind its input.
    pub fn latency(&self) -> usize {
        self.latency_to_fader() + self.latency_of_ceiling()
    }

    /// The latency up to the fader, which is where a part is followed by those that duck under it.
    pub fn latency_to_fader(&self) -> usize {
        self.drive.as_ref().map_or(0, Effect::latency) + self.latency_from_duck_to_fader()
    }

    /// The latency between the duck and the fader: the key must be read so much ahead of what reaches the fader.
    pub fn latency_from_duck_to_fader(&self) -> usize {
        self.spread.as_ref().map_or(0, Effect::latency)
    }

    /// The latency of the ceiling.
    pub fn latency_of_ceiling(&self) -> usize {
        self.ceiling.as_ref().map_or(0, Effect::latency)
    }

    /// Frames after which the strip has forgotten how it began.
    pub fn run_in(&self) -> usize {
        let cuts = self.low_cut.iter().chain(&self.high_cut);
        let filters = cuts.chain(self.eq.iter().flat_map(Eq::bells));
        let effects: [Option<&dyn Effect>; 4] = [
            effect(&self.compress),
            effect(&self.drive),
            effect(&self.spread),
            effect(&self.ceiling),
        ];
        filter::run_in(filters) + effects.into_iter().flatten().map(Effect::run_in).sum::<usize>()
    }

    /// True while silence passes through it unchanged and changes nothing in it.
    pub fn rests(&self) -> bool {
        let cuts = self.low_cut.iter().chain(&self.high_cut);
        let mut filters = cuts.chain(self.eq.iter().flat_map(Eq::bells));
        self.moves.is_none()
            && self.drive.is_none()
            && self.spread.is_none()
            && self.ceiling.is_none()
            && self.compress.as_ref().is_none_or(Compressor::rests)
            && filters.all(Filter::rests)
    }

    /// Channels of what is kept of it: of what reaches its fader or, with a ceiling, of what comes out of that.
    pub fn kept_channels(&self) -> usize {
        if self.mono && self.spread.is_none() && self.ceiling.is_none() {
            1
        } else {
            2
        }
    }

    /// Runs everything before the fader on a block that reaches it at frame `at`. A mono strip uses the left buffer alone;
    /// the answer is whether the block is still mono.
    pub fn shape(&mut self, [left, right]: [&mut [f32]; 2], at: i64, key: Option<SideChain>) -> bool {
        let mut mono = self.mono;
        self.in_steps(at, left.len(), |strip, part| {
            let key = key.map(|key| key.part(part.clone()));
            mono = strip.shape_step([&mut left[part.clone()], &mut right[part]], key, None);
        });
        mono
    }

    /// Runs the whole strip on a block that reaches its fader at frame `at`; the result is stereo.
    pub fn run(&mut self, [left, right]: [&mut [f32]; 2], at: i64, key: Option<SideChain>, ride: Option<Ride>) {
        if let Some([to_left, to_right]) = self.run_from([left, right], at, key, ride, &mut Shaping::Run) {
            right.copy_from_slice(left);
            fade(left, to_left, to_left);
            fade(right, to_right, to_right);
        }
    }

    /// The same, told where what reaches the fader comes from. A mono block that nothing but a resting fader and pan lies
    /// behind stays as it is, in the left buffer: the answer is what they make of it on the left and on the right.
    pub fn run_from(
        &mut self,
        [left, right]: [&mut [f32]; 2],
        at: i64,
        key: Option<SideChain>,
        ride: Option<Ride>,
        shaping: &mut Shaping,
    ) -> Option<[f32; 2]> {
        self.kept.iter_mut().for_each(Vec::clear);
        let mut faders = None;
        self.in_steps(at, left.len(), |strip, part| {
            let (key, ride) = (
                key.map(|key| key.part(part.clone())),
                ride.map(|ride| ride.part(part.clone())),
            );
            let (left, right) = (&mut left[part.clone()], &mut right[part]);
            let mono = match shaping {
                Shaping::Done { mono } => *mono,
                _ => strip.shape_step([&mut *left, &mut *right], key, ride),
            };
            if let Shaping::Noted(note) = shaping {
                note[0].extend_from_slice(left);
                note[1].extend_from_slice(if mono { &[] } else { right });
            }
            faders = strip.fade_step([left, right], mono, ride);
            if strip.moves.is_some() {
                strip.kept[0].extend_from_slice(strip.compress.as_ref().map_or(&[], Compressor::gains));
                strip.kept[1].extend_from_slice(strip.ceiling.as_ref().map_or(&[], Ceiling::gains));
            }
        });
        faders
    }

    /// Goes through a block in one go or, where something moves, step by step with the settings of each.
    fn in_steps(&mut self, at: i64, frames: usize, mut each: impl FnMut(&mut Channel, Range<usize>)) {
        let mut done = 0;
        while done < frames {
            let left_of_step = STEP - (at + done as i64).rem_euclid(STEP as i64) as usize;
            let step = if self.moves.is_some() {
                left_of_step.min(frames - done)
            } else {
                frames
            };
            if let Some((moves, _)) = &self.moves {
                let strip = moves.strip_at(at + (done + left_of_step) as i64);
                self.set(strip);
            }
            each(self, done..done + step);
            done += step;
        }
    }

    /// Gives the effects whose settings have moved their new ones.
    fn set(&mut self, strip: Strip) {
        let Some((_, last)) = &mut self.moves else { return };
        let last = std::mem::replace(last, strip);
        let Some((_, now)) = &self.moves else { return };
        if now.low_cut != last.low_cut {
            self.low_cut
                .iter_mut()
                .zip(now.low_cut)
                .for_each(|(filter, hz)| filter.set(&Curve::LowCut(hz)));
        }
        if now.high_cut != last.high_cut {
            self.high_cut
                .iter_mut()
                .zip(now.high_cut)
                .for_each(|(filter, hz)| filter.set(&Curve::HighCut(hz)));
        }
        if now.eq != last.eq {
            self.eq.iter_mut().for_each(|eq| eq.set(&now.eq));
        }
        if now.compress != last.compress {
            self.compress
                .iter_mut()
                .zip(&now.compress)
                .for_each(|(effect, settings)| effect.set(settings));
        }
        if now.drive != last.drive {
            self.drive
                .iter_mut()
                .zip(&now.drive)
                .for_each(|(effect, settings)| effect.set(settings));
        }
        if now.duck != last.duck {
            self.duck
                .iter_mut()
                .zip(&now.duck)
                .for_each(|(effect, settings)| effect.set(settings));
        }
        if now.spread != last.spread {
            self.spread.iter_mut().for_each(|spread| spread.set(now.spread));
        }
        self.width.iter_mut().for_each(|width| width.set(now.width));
        self.ceiling
            .iter_mut()
            .zip(now.ceiling_db)
            .for_each(|(ceiling, db)| ceiling.set(db));
        self.gain = gain_of_db(now.gain_db) as f32;
        self.pan = now.pan;
    }

    /// What moves in it.
    pub fn moves(&self) -> Option<&Moves> {
        self.moves.as_ref().map(|(moves, _)| moves)
    }

    fn shape_step(&mut self, [left, right]: [&mut [f32]; 2], key: Option<SideChain>, ride: Option<Ride>) -> bool {
        {
            let mut pair = [&mut *left, &mut *right];
            let block = if self.mono { &mut pair[..1] } else { &mut pair[..] };
            let cuts = self.low_cut.iter_mut().chain(&mut self.high_cut);
            chain(cuts.chain(self.eq.iter_mut().flat_map(Eq::bells_mut)), block);
            match ride {
                Some(ride) if self.compress.is_some() => {
                    block.iter_mut().for_each(|side| multiply(side, ride.compress))
                }
                _ => apply(&mut self.compress, block),
            }
            apply(&mut self.drive, block);
            if let (Some(duck), Some(key)) = (&mut self.duck, key) {
                duck.process(block, key.envelope, key.most);
            }
        }
        let mut mono = self.mono;
        if let Some(spread) = &mut self.spread {
            if mono {
                // Both sides of a mono signal are 3 dB down, as they are at the centre of the pan.
                left.iter_mut()
                    .for_each(|sample| *sample *= std::f32::consts::FRAC_1_SQRT_2);
                right.copy_from_slice(left);
                mono = false;
            }
            spread.process(&mut [&mut *left, &mut *right]);
        }
        // A mono signal has no side to widen.
        if !mono {
            apply(&mut self.width, &mut [left, right]);
        }
        mono
    }

    /// Fader, pan and ceiling; see [`Channel::run_from`] for the answer.
    fn fade_step(&mut self, [left, right]: [&mut [f32]; 2], mono: bool, ride: Option<Ride>) -> Option<[f32; 2]> {
        let (to_left, to_right) = if mono {
            pan_gains_mono(self.pan)
        } else {
            balance_gains(self.pan)
        };
        let to = [to_left as f32 * self.gain, to_right as f32 * self.gain];
        let from = self.faded.replace(to).unwrap_or(to);
        if mono && self.ceiling.is_none() && self.moves.is_none() {
            return Some(to);
        }
        if mono {
            right.copy_from_slice(left);
        }
        fade(left, from[0], to[0]);
        fade(right, from[1], to[1]);
        match ride {
            Some(ride) if self.ceiling.is_some() => {
                self.late.process([&mut *left, &mut *right]);
                [left, right].into_iter().for_each(|side| multiply(side, ride.ceiling));
            }
            _ => apply(&mut self.ceiling, &mut [left, right]),
        }
        None
    }

    /// The compressor's factors of the last block; none without a compressor.
    pub fn compress_gains(&self) -> &[f32] {
        if self.moves.is_some() {
            return &self.kept[0];
        }
        self.compress.as_ref().map_or(&[], Compressor::gains)
    }

    /// The ceiling's factors of the last block; none without a ceiling.
    pub fn ceiling_gains(&self) -> &[f32] {
        if self.moves.is_some() {
            return &self.kept[1];
        }
        self.ceiling.as_ref().map_or(&[], Ceiling::gains)
    }

    /// Its deepest gain reductions so far.
    pub(crate) fn reductions(&self) -> Reductions {
        Reductions {
            compressor_db: self.compress.as_ref().map_or(0.0, Compressor::deepest_db),
            heard_db: self.compress.as_ref().map_or(0.0, Compressor::heard_db),
            ceiling_db: self.ceiling.as_ref().map_or(0.0, Ceiling::deepest_db),
        }
    }

    /// Forgets the deepest gain reduction, as after a run-in.
    pub fn forget_deepest(&mut self) {
        self.compress.iter_mut().for_each(Compressor::reset_deepest);
        self.ceiling.iter_mut().for_each(Ceiling::reset_deepest);
    }
}

/// Multiplies by a gain, or by one that moves from one value to another on a straight line.
fn fade(side: &mut [f32], from: f32, to: f32) {
    if from != to {
        let slope = (to - from) / side.len() as f32;
        side.iter_mut()
            .enumerate()
            .for_each(|(n, sample)| *sample *= from + slope * (n + 1) as f32);
    } else if to != 1.0 {
        side.iter_mut().for_each(|sample| *sample *= to);
    }
}

fn multiply(side: &mut [f32], gains: &[f32]) {
    side.iter_mut().zip(gains).for_each(|(sample, gain)| *sample *= gain);
}

fn effect(effect: &Option<impl Effect>) -> Option<&dyn Effect> {
    effect.as_ref().map(|effect| effect as &dyn Effect)
}

fn apply(effect: &mut Option<impl Effect>, block: &mut [&mut [f32]]) {
    if let Some(effect) = effect {
        effect.process(block);
    }
}
