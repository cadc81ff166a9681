//! A decoded one-shot.

use std::sync::Arc;

use super::audio::conditioning::Conditioning;
use super::audio::crossfade::crossfade;
use super::audio::decode::{Decoded, loop_within};
use super::audio::resampling::resample;
use crate::base::audio::Audio;

/// A one-shot as it is played: decoded, at the render's rate.
#[derive(Debug, Clone, PartialEq)]
pub struct Recording {
    /// One channel or two. Its first frame is the onset, which lands on a hit's time.
    pub audio: Arc<Audio>,
    /// What of it repeats while a note is held, where its file says so.
    pub held: Option<Held>,
    /// Frames that its file promises and does not have; 0 for a whole one.
    pub missing: u64,
    /// What was done to it.
    pub care: Conditioning,
    /// The same as its file has it, where that was asked for beside it.
    pub plain: Option<Arc<Recording>>,
}

impl Recording {
    /// One that is played as it is and not held.
    pub fn plain(audio: Audio) -> Recording {
        Recording {
            audio: Arc::new(audio),
            held: None,
            missing: 0,
            care: Conditioning::default(),
            plain: None,
        }
    }

    /// A decoded file at a rate, with care taken of it or as it is.
    pub(super) fn of(decoded: Decoded, rate: u32, trim: bool) -> Recording {
        let round = goes_round(&decoded);
        let Decoded {
            mut audio,
            missing,
            crossfade: fade,
            ..
        } = decoded;
        let mut care = if trim {
            Conditioning::of(&audio)
        } else {
            Conditioning::default()
        };
        // Where a loop begins in what seems to be the lead, that is no lead.
        if let Some((from, _)) = round {
            care.start_by(from - fade, audio.rate);
        }
        // What is done is done in place: a recording may be long.
        care.begin(&mut audio);
        let held = round.map(|(from, to)| {
            let (from, to, mut audio) = (from - care.onset, to - care.onset, audio.clone());
            // A hit that is not held plays on past the loop's end, so it has no part in this.
            crossfade(&mut audio, from, to, fade);
            let audio = Arc::new(audio);
            Held { audio, from, to }
        });
        care.end(&mut audio);
        Recording {
            held,
            missing,
            audio: Arc::new(if audio.rate == rate {
                audio
            } else {
                resample(&audio, rate)
            }),
            care,
            plain: None,
        }
    }

    /// Bytes of its samples.
    pub fn bytes(&self) -> usize {
        let held = self.held.as_ref().map_or(0, |held| held.audio.bytes());
        self.audio.bytes() + held + self.plain.as_ref().map_or(0, |plain| plain.bytes())
    }

    /// It as its file has it, or with care taken of it.
    pub fn version(self: &Arc<Recording>, trim: bool) -> &Arc<Recording> {
        match &self.plain {
            Some(plain) if !trim => plain,
            _ => self,
        }
    }
}

/// What repeats while a note is held: the first loop that lies within the sound.
fn goes_round(decoded: &Decoded) -> Option<(usize, usize)> {
    let (from, to) = loop_within(&decoded.loops, decoded.audio.frames() as u64)?;
    Some((from as usize, to as usize))
}

/// A recording whose middle repeats while a note is held, at its own rate: there the loop is whole frames long.
#[derive(Debug, Clone, PartialEq)]
pub struct Held {
    /// The recording at its own rate.
    pub audio: Arc<Audio>,
    /// The first frame of what repeats.
    pub from: usize,
    /// The frame after the last.
    pub to: usize,
}
