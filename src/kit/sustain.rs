//! What of a recording repeats while a note is held, where `kit.toml` says so.

use crate::schema::LoopPoint;
use crate::text::{Place, Problem};

/// Loop points of a recording, as they are written.
#[derive(Debug, Clone)]
pub(super) struct Sustain {
    /// What repeats begins here.
    pub start: LoopPoint,
    /// Here it goes back to its beginning.
    pub end: LoopPoint,
    /// How many ms before the end turn into what lies before the beginning.
    pub crossfade: f64,
    /// Where it is written; none where it was found.
    pub place: Option<Place>,
}

impl PartialEq for Sustain {
    fn eq(&self, other: &Sustain) -> bool {
        self.said() == other.said()
    }
}

impl Sustain {
    /// What it says, wherever it is written.
    pub(super) fn said(&self) -> (LoopPoint, LoopPoint, f64) {
        (self.start, self.end, self.crossfade)
    }

    /// Something that is wrong with it.
    pub(super) fn problem(&self, what: String) -> Problem {
        Problem {
            place: self.place.clone(),
            ..Problem::new(what)
        }
    }

    /// The first frame of what repeats, the one after the last, and the frames that are crossfaded.
    ///
    /// # Errors
    /// When they do not lie within so many frames of a rate.
    pub(super) fn frames(&self, frames: u64, rate: u32) -> Result<(u64, u64, u64), Problem> {
        let place = |point: LoopPoint| match point {
            LoopPoint::Frame(frame) => frame,
            LoopPoint::Seconds(seconds) => libm::round(seconds * f64::from(rate)) as u64,
        };
        let (start, end) = (place(self.start), place(self.end));
        let fade = libm::round(self.crossfade / 1000.0 * f64::from(rate)) as u64;
        let wrong = |what: String, help: &str| Err(self.problem(what).help(help));
        if end > frames {
            let seconds = frames as f64 / f64::from(rate);
            let what = format!("`sustain` ends at frame {end}, but the recording has {frames} frames, {seconds:.3} s");
            return wrong(what, "end it within the recording");
        }
        if start.saturating_add(1) >= end {
            return wrong(
                format!("`sustain` goes from frame {start} to {end}, which is nothing to repeat"),
                "write its start before its end",
            );
        }
        let most = start.min(end - start);
        if fade > most {
            let ms = most as f64 * 1000.0 / f64::from(rate);
            let what = format!("this crossfade is longer than what lies before the loop, or than the loop: {ms:.1} ms");
            return wrong(what, "shorten it, or start later");
        }
        Ok((start, end, fade))
    }
}
