//! A strip at work: every effect in the design's order, then gain, pan and ceiling.

use std::collections::VecDeque;

use super::ceiling::Ceiling;
use super::compress::Compressor;
use super::drive::Saturator;
use super::duck::Ducker;
use super::effect::Effect;
use super::eq::Eq;
use super::filter::{Curve, Filter};
use super::place::{Spread, Width, balance_gains, pan_gains_mono};
use crate::audio::gain_of_db;
use crate::loopfile::Strip;

/// The envelope that a strip ducks under, for one block.
#[derive(Clone, Copy)]
pub struct Key<'a> {
    /// The followed part's envelope, a value a frame.
    pub envelope: &'a [f32],
    /// Its maximum over the whole loop.
    pub most: f32,
}

/// The gains that a whole bus had, laid on one part's share of it: a stem rides them instead of asking its own level.
#[derive(Clone, Copy)]
pub struct Ride<'a> {
    /// The compressor's factors, one a frame.
    pub compress: &'a [f32],
    /// The ceiling's factors, one a frame, on the signal that it has delayed.
    pub ceiling: &'a [f32],
}

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
    ceiling: Option<Ceiling>,
    late: Late,
    mono: bool,
}

impl Channel {
    /// A strip for a signal of one channel or two.
    pub fn new(strip: &Strip, channels: usize, rate: u32) -> Channel {
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
            spread: (strip.spread != 0.0).then(|| Spread::new(strip.spread, rate, 2)),
            width: (strip.width != 1.0).then(|| Width::new(strip.width)),
            gain: gain_of_db(strip.gain_db) as f32,
            pan: strip.pan,
            late: Late::new(ceiling.as_ref().map_or(0, Effect::latency)),
            ceiling,
            mono: channels == 1,
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
        let effects: [Option<&dyn Effect>; 7] = [
            effect(&self.low_cut),
            effect(&self.high_cut),
            effect(&self.eq),
            effect(&self.compress),
            effect(&self.drive),
            effect(&self.spread),
            effect(&self.ceiling),
        ];
        effects.into_iter().flatten().map(Effect::run_in).sum()
    }

    /// Runs everything before the fader on a block. A mono strip uses the left buffer alone; the answer is whether
    /// the block is still mono.
    pub fn shape(&mut self, block: [&mut [f32]; 2], key: Option<Key>) -> bool {
        self.shape_riding(block, key, None)
    }

    fn shape_riding(&mut self, [left, right]: [&mut [f32]; 2], key: Option<Key>, ride: Option<Ride>) -> bool {
        {
            let mut pair = [&mut *left, &mut *right];
            let block = if self.mono { &mut pair[..1] } else { &mut pair[..] };
            apply(&mut self.low_cut, block);
            apply(&mut self.high_cut, block);
            apply(&mut self.eq, block);
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

    /// Runs the whole strip on a block; the result is stereo.
    pub fn run(&mut self, [left, right]: [&mut [f32]; 2], key: Option<Key>, ride: Option<Ride>) {
        let mono = self.shape_riding([&mut *left, &mut *right], key, ride);
        let (to_left, to_right) = if mono {
            pan_gains_mono(self.pan)
        } else {
            balance_gains(self.pan)
        };
        let (to_left, to_right) = (to_left as f32 * self.gain, to_right as f32 * self.gain);
        if mono {
            right
                .iter_mut()
                .zip(left.iter())
                .for_each(|(right, left)| *right = to_right * left);
        } else if to_right != 1.0 {
            right.iter_mut().for_each(|sample| *sample *= to_right);
        }
        if to_left != 1.0 {
            left.iter_mut().for_each(|sample| *sample *= to_left);
        }
        match ride {
            Some(ride) if self.ceiling.is_some() => {
                self.late.process([&mut *left, &mut *right]);
                [left, right].into_iter().for_each(|side| multiply(side, ride.ceiling));
            }
            _ => apply(&mut self.ceiling, &mut [left, right]),
        }
    }

    /// The compressor's factors of the last block; none without a compressor.
    pub fn compress_gains(&self) -> &[f32] {
        self.compress.as_ref().map_or(&[], Compressor::gains)
    }

    /// The ceiling's factors of the last block; none without a ceiling.
    pub fn ceiling_gains(&self) -> &[f32] {
        self.ceiling.as_ref().map_or(&[], Ceiling::gains)
    }

    /// The deepest gain reduction of compressor and ceiling so far, in dB, 0 or more.
    pub fn deepest_db(&self) -> f64 {
        let compress = self.compress.as_ref().map_or(0.0, Compressor::deepest_db);
        compress + self.ceiling.as_ref().map_or(0.0, Ceiling::deepest_db)
    }

    /// Forgets the deepest gain reduction, as after a run-in.
    pub fn forget_deepest(&mut self) {
        self.compress.iter_mut().for_each(Compressor::reset_deepest);
        self.ceiling.iter_mut().for_each(Ceiling::reset_deepest);
    }
}

fn multiply(side: &mut [f32], gains: &[f32]) {
    side.iter_mut().zip(gains).for_each(|(sample, gain)| *sample *= gain);
}

/// A plain delay, as long as the ceiling's look-ahead.
struct Late([VecDeque<f32>; 2]);

impl Late {
    fn new(frames: usize) -> Late {
        let line = || VecDeque::from(vec![0.0; frames]);
        Late([line(), line()])
    }

    fn process(&mut self, block: [&mut [f32]; 2]) {
        for (line, side) in self.0.iter_mut().zip(block) {
            for sample in side {
                line.push_back(*sample);
                *sample = line.pop_front().unwrap_or(0.0);
            }
        }
    }
}

fn effect(effect: &Option<impl Effect>) -> Option<&dyn Effect> {
    effect.as_ref().map(|effect| effect as &dyn Effect)
}

fn apply(effect: &mut Option<impl Effect>, block: &mut [&mut [f32]]) {
    if let Some(effect) = effect {
        effect.process(block);
    }
}
