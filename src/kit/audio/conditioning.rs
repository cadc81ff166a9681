//! Care of recordings: silence before the sound left out, an offset taken away, an end that breaks off faded.
//!
//! It is done to what is played. The person's files stay as they are.

use serde::{Deserialize, Serialize};

use crate::base::audio::{Audio, gain_of_db};

/// A sound is sought above this, in dB below its peak; what is softer before it may be hiss.
const SOUND: f64 = -40.0;
/// How fast it gets from [`SOUND`] to this tells how soft its attack is.
const RISEN: f64 = -20.0;
/// Below this, in dB under the peak, there is silence.
const SILENCE: f64 = -80.0;
/// A lead that grows by less than this, in dB, is no part of the rise.
const FLAT: f64 = 4.0;
/// A lead of steady hiss that is louder than [`SOUND`] is known for one as long as it is as far below the peak, in dB.
const LOUDEST_HISS: f64 = -24.0;
/// The least time over which a lead is compared with what comes before it, in seconds.
const LEAST_SPAN: f64 = 0.003;
/// A lead of less than this, in seconds, or less than the sound's own rise, is too short to be told from the rise.
const LEAST_LEAD: f64 = 0.0004;
/// Within this, in seconds, half of the frames are above [`SILENCE`] where there is more than a stray one.
const DENSE: f64 = 0.000_25;
/// Parts of a span in which it is searched.
const PARTS: usize = 40;
/// An offset above this is taken away, dBFS.
const OFFSET: f64 = -50.0;
/// A sound that ends louder than this breaks off, in dB below its peak.
const ENDED: f64 = -60.0;
/// How long the end of one that breaks off fades, in seconds.
const FADE: f64 = 0.002;

/// What is done to a recording before it is played.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Conditioning {
    /// Frames before its sound, at its own rate: they are left out, so that hits land on their time.
    pub onset: usize,
    /// The same in seconds.
    pub late: f64,
    /// The level above which the sound was found to begin, in dBFS; none where it begins with the first frame.
    pub above_db: Option<f64>,
    /// The offset (DC) that is taken from each channel; 0 for none.
    pub dc: Vec<f32>,
    /// Frames at its end that are faded, as it breaks off; 0 for one that ends by itself.
    pub fade: usize,
}

impl Conditioning {
    /// What a recording needs.
    ///
    /// The onset is the first frame of the rise that leads past 40 dB below the peak. From there the way goes back for as
    /// long as the level falls by 4 dB over as much time as it took to rise on from -40 to -20 dB (3 ms at the least): hiss
    /// and noise before a stroke are flat by that measure, a soft attack never is.
    pub fn of(audio: &Audio) -> Conditioning {
        // Silence is looked past first: how much of it there is must not move the half in which an offset is sought.
        let none = vec![0.0; audio.channels.len()];
        let raw = Sound {
            audio,
            dc: &none,
            from: 0,
        };
        let quiet = raw.peak() * gain_of_db(SILENCE) as f32;
        let from = raw.first_above(0, quiet.max(f32::MIN_POSITIVE)).unwrap_or(0);
        let dc: Vec<f32> = audio.channels.iter().map(|side| offset(&side[from..])).collect();
        let sound = Sound { audio, dc: &dc, from };
        let begins = sound.begins();
        let fade = (FADE * f64::from(audio.rate)) as usize;
        let onset = begins.map_or(0, |(onset, _)| onset);
        Conditioning {
            onset,
            late: onset as f64 / f64::from(audio.rate),
            above_db: begins
                .filter(|(onset, _)| *onset > 0)
                .map(|(_, above)| crate::base::audio::db_of_gain(f64::from(above))),
            // A click that is hardly longer than the fade stays one.
            fade: if audio.frames() - onset >= 4 * fade && sound.breaks_off() {
                fade
            } else {
                0
            },
            dc,
        }
    }

    /// Leaves out nothing from a frame on.
    pub(crate) fn start_by(&mut self, frame: usize, rate: u32) {
        self.onset = self.onset.min(frame);
        self.late = self.onset as f64 / f64::from(rate);
    }

    /// True where nothing is done.
    pub fn is_none(&self) -> bool {
        self.onset == 0 && self.fade == 0 && self.dc.iter().all(|dc| *dc == 0.0)
    }

    /// Takes a recording's lead and its offset away; its end stays as it was, which a loop that reaches it needs.
    pub(crate) fn begin(&self, audio: &mut Audio) {
        for (side, dc) in audio.channels.iter_mut().zip(&self.dc) {
            side.drain(..self.onset);
            side.iter_mut().for_each(|sample| *sample -= dc);
        }
    }

    /// Fades a recording's end, where it breaks off.
    pub(crate) fn end(&self, audio: &mut Audio) {
        for side in &mut audio.channels {
            let from = side.len() - self.fade;
            for (n, sample) in side[from..].iter_mut().enumerate() {
                *sample *= (self.fade - n) as f32 / (self.fade + 1) as f32;
            }
        }
    }
}

/// The offset of a channel: the mean of its last half, where that is an offset and not half a wave.
///
/// All quarters of that half must agree on it, and it must be small beside the sound: what is nothing but offset is meant to be so.
fn offset(side: &[f32]) -> f32 {
    let mean = |part: &[f32]| part.iter().map(|s| f64::from(*s)).sum::<f64>() / part.len().max(1) as f64;
    let last = &side[side.len() / 2..];
    let whole = mean(last);
    // Of a low sound that breaks off the mean of a part is anything, but not the same in each.
    let agree = |part: &[f32]| (0.7..1.43).contains(&(mean(part) / whole));
    let parts = last.len() / 4;
    if whole.abs() < gain_of_db(OFFSET) || parts == 0 || !last.chunks_exact(parts).all(agree) {
        return 0.0;
    }
    let peak = side.iter().fold(0.0f32, |most, sample| most.max(sample.abs()));
    if whole.abs() > 0.5 * f64::from(peak) {
        0.0
    } else {
        whole as f32
    }
}

/// A recording without its offset, looked at from outside: the louder channel counts.
struct Sound<'a> {
    audio: &'a Audio,
    dc: &'a [f32],
    /// The first frame that is not silent.
    from: usize,
}

impl Sound<'_> {
    fn level(&self, frame: usize) -> f32 {
        let channels = self.audio.channels.iter().zip(self.dc);
        channels.fold(0.0, |most, (side, dc)| most.max((side[frame] - dc).abs()))
    }

    /// The loudest frame of some.
    fn most(&self, frames: std::ops::Range<usize>) -> f32 {
        frames.fold(0.0, |most, frame| most.max(self.level(frame)))
    }

    fn peak(&self) -> f32 {
        let channels = self.audio.channels.iter().zip(self.dc);
        let most = |(side, dc): (&Vec<f32>, &f32)| side.iter().fold(0.0f32, |most, s| most.max((s - dc).abs()));
        channels.map(most).fold(0.0, f32::max)
    }

    fn first_above(&self, from: usize, level: f32) -> Option<usize> {
        (from..self.audio.frames()).find(|frame| self.level(*frame) >= level)
    }

    /// The first frame of several above a level, or of one by itself that is above a higher one.
    fn first_dense(&self, level: f32, alone: f32) -> Option<usize> {
        let span = self.frames(DENSE).max(1);
        let end = self.audio.frames();
        let several = |frame: &usize| {
            let within = *frame..end.min(frame + span);
            2 * within.filter(|frame| self.level(*frame) >= level).count() >= span
        };
        (self.from..end)
            .filter(|frame| self.level(*frame) >= level)
            .find(|frame| self.level(*frame) >= alone || several(frame))
    }

    fn frames(&self, seconds: f64) -> usize {
        (seconds * f64::from(self.audio.rate)) as usize
    }

    /// The frame with which the sound begins, and the level that it passes there; none for silence.
    fn begins(&self) -> Option<(usize, f32)> {
        let peak = self.peak();
        if peak <= 0.0 {
            return None;
        }
        let below = |db: f64| peak * gain_of_db(db) as f32;
        let first = self.first_dense(below(SILENCE), below(SOUND))?;
        let hiss = self.hiss(first, below(LOUDEST_HISS));
        let sought = below(SOUND).max(hiss * gain_of_db(FLAT) as f32);
        let found = self.first_above(first, sought)?;
        let risen = self.first_above(found, below(RISEN).max(sought))?;
        let rise = risen - found;
        let span = rise.max(self.frames(LEAST_SPAN));
        Some(
            self.back(first, found, span, rise.max(self.frames(LEAST_LEAD)))
                .unwrap_or((first, below(SILENCE))),
        )
    }

    /// Goes back from a frame within the rise to where it begins, no further than `first`; none where it goes on that far.
    fn back(&self, first: usize, found: usize, span: usize, least: usize) -> Option<(usize, f32)> {
        let part = (span / PARTS).max(1);
        let count = (found - first) / part;
        // The parts counted backwards from where the sound was found, so that what comes before them doesn't move them.
        let mut levels: Vec<f32> = Vec::new();
        for behind in 0..count {
            while levels.len() < count.min(behind + 2 * PARTS) {
                let end = found - levels.len() * part;
                levels.push(self.most(end - part..end));
            }
            let known = &levels[behind..];
            if known.len() * part < least || known.len() < 4 {
                return None;
            }
            // At the file's beginning less than two spans are known.
            let half = PARTS.min(known.len().div_ceil(2));
            let most = |levels: &[f32]| levels.iter().copied().fold(0.0, f32::max);
            let (later, before) = (most(&known[..half]), most(&known[half..]));
            let lead = before * gain_of_db(FLAT) as f32;
            if later <= lead {
                let onset = self.first_above(found - behind * part, lead.max(f32::MIN_POSITIVE))?;
                return Some((onset, lead));
            }
        }
        None
    }

    /// The peak of steady hiss at the beginning, where a sound stands out from it: 35 ms of it at the least, longer than a grace
    /// note, then 12 dB more within 10 ms; else 0.
    fn hiss(&self, first: usize, loudest: f32) -> f32 {
        let part = self.frames(0.005).max(1);
        let power = |from: usize| {
            (from..from + part)
                .map(|frame| f64::from(self.level(frame)).powi(2))
                .sum::<f64>()
        };
        let (mut sum, mut count) = (0.0, 0);
        let mut end = first;
        while end + part <= self.audio.frames() {
            let next = power(end);
            let mean = sum / f64::from(count);
            // Powers differ by 1.5 dB at the most: three deviations of a mean over 220 frames of noise.
            let loud = next > f64::from(loudest).powi(2) * part as f64;
            if loud || count > 0 && !(0.7 * mean..=1.43 * mean).contains(&next) {
                break;
            }
            sum += next;
            count += 1;
            end += part;
        }
        let after = (end + 2 * part).min(self.audio.frames());
        if count < 7 || end == after {
            return 0.0;
        }
        let hiss = self.most(first..end);
        let stands_out = self.most(end..after) >= 4.0 * hiss;
        if hiss <= loudest && stands_out { hiss } else { 0.0 }
    }

    fn breaks_off(&self) -> bool {
        let frames = self.audio.frames();
        self.most(frames.saturating_sub(4)..frames) > self.peak() * gain_of_db(ENDED) as f32
    }
}

#[cfg(test)]
#[path = "conditioning_tests.rs"]
mod tests;
