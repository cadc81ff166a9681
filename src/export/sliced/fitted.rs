//! Which bars a recording's loop has, and where in the recording it begins.

use crate::loopfile::{Exact, Time};

/// A recording is a loop where its length is that of whole bars within so many seconds, or within that share of it where its tempo was
/// not told, or within another where its bars were; and where it begins so near a beat, in beats.
const NEAR: f64 = 0.02;
const NEAR_SHARE: f64 = 0.002;
const NEAR_BARS_SHARE: f64 = 0.03;
const NEAR_BEAT: f64 = 0.25;
/// What is so much earlier than bar 1, in beats, is an early hit on its first beat and no upbeat; a loop's first hit is no later than that.
const EARLY: f64 = 0.5;
/// How near to a whole number the frames of a loop must come, and the digits of its tempo at the most.
const WHOLE: f64 = 0.05;
const DIGITS: i32 = 12;

/// What is known of a recording, and what the person says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Asked {
    /// Its length.
    pub frames: usize,
    /// Hz.
    pub rate: u32,
    /// The first and the last cut.
    pub cuts: (usize, usize),
    /// The tempo that was heard, and the second of a bar 1, beat 1.
    pub heard: Option<(f64, f64)>,
    /// The tempo that was told.
    pub tempo: Option<f64>,
    /// The bars that were told.
    pub bars: Option<u32>,
    /// The counts of a bar and what counts.
    pub metre: (u32, u32),
}

/// The bars of a recording.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Fitted {
    /// Tempo and metre.
    pub time: Time,
    /// How many.
    pub bars: u32,
    /// The frame of the recording that is bar 1, beat 1; it may lie before its beginning.
    pub from: i64,
    /// True where the recording is a loop itself: whole bars from its beginning to its end.
    pub repeats: bool,
}

impl Fitted {
    /// The bars of a recording; none where no tempo was heard or told.
    pub(crate) fn of(asked: &Asked) -> Option<Fitted> {
        let seconds = asked.frames as f64 / f64::from(asked.rate);
        let bar = |tempo: f64| asked.time(tempo).bar_seconds();
        let Some(tempo) = asked.tempo.or(asked.heard.map(|(tempo, _)| tempo)) else {
            return asked.bars.map(|bars| asked.circle(bars));
        };
        let whole = libm::round(seconds / bar(tempo)).max(1.0);
        let apart = (seconds - whole * bar(tempo)).abs();
        let near = match (asked.tempo, asked.bars) {
            (Some(_), _) => NEAR,
            (None, Some(_)) => NEAR_BARS_SHARE * seconds,
            (None, None) => NEAR.max(NEAR_SHARE * seconds),
        };
        let beat = 60.0 / tempo;
        let offset = asked.heard.map_or(0.0, |(_, offset)| offset / beat);
        let on_a_beat = (offset - libm::round(offset)).abs() < NEAR_BEAT;
        let told = asked.bars.is_none_or(|bars| f64::from(bars) == whole);
        // A take that somebody played begins with a rest; a loop was cut where it sounds.
        let begins = asked.bars.is_some() || (asked.cuts.0 as f64) < EARLY * beat * f64::from(asked.rate);
        if apart <= near && on_a_beat && told && begins {
            return Some(asked.circle(whole as u32));
        }
        Some(asked.line(libm::round(tempo * 1000.0) / 1000.0))
    }
}

impl Asked {
    /// A tempo of quarters in its metre.
    fn time(&self, tempo: f64) -> Time {
        Time {
            tempo,
            beat: Exact::new(1, 4),
            counts: self.metre.0,
            unit: self.metre.1,
        }
    }

    /// All of it as so many bars: the roundest tempo at which they have its frames.
    fn circle(&self, bars: u32) -> Fitted {
        let (frames, rate) = (self.frames as f64, f64::from(self.rate));
        let exact = f64::from(bars) * self.time(1.0).bar_seconds() * rate / frames;
        let rounded = |digits: i32| {
            let steps = libm::pow(10.0, f64::from(digits));
            libm::round(exact * steps) / steps
        };
        let fits = |tempo: &f64| (f64::from(bars) * self.time(*tempo).bar_seconds() * rate - frames).abs() < WHOLE;
        let tempo = (0..DIGITS).map(rounded).find(fits).unwrap_or(exact);
        Fitted {
            time: self.time(tempo),
            bars,
            from: 0,
            repeats: true,
        }
    }

    /// From the bar of its first hit to that of its last, and what rings on.
    fn line(&self, tempo: f64) -> Fitted {
        let time = self.time(tempo);
        let rate = f64::from(self.rate);
        let bar = time.bar_seconds() * rate;
        let first = self.cuts.0 as f64;
        let beat_1 = self.heard.map_or(first, |(_, offset)| offset * rate);
        // The last bar 1 that is not behind the first hit, or that the first hit is early for.
        let early = EARLY * 60.0 / tempo * rate / bar;
        let bars_before = libm::floor((first - beat_1) / bar + early);
        let from = (beat_1 + bars_before * bar).min(first);
        let from = libm::floor(from) as i64;
        let last = (self.cuts.1 as i64 - from) as f64 / bar;
        let bars = self.bars.map_or(0, |bars| bars).max(last as u32 + 1);
        Fitted {
            time,
            bars,
            from,
            repeats: false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TAKE: Asked = Asked {
        frames: 240_000,
        rate: 48_000,
        cuts: (0, 230_000),
        heard: Some((96.1, 0.004)),
        tempo: None,
        bars: None,
        metre: (4, 4),
    };

    #[test]
    fn whole_bars_are_a_loop_at_the_roundest_tempo() {
        let fitted = Fitted::of(&TAKE).expect("a tempo");
        assert_eq!(
            (fitted.time.tempo, fitted.bars, fitted.from, fitted.repeats),
            (96.0, 2, 0, true)
        );
        let odd = Fitted::of(&Asked {
            frames: 240_101,
            ..TAKE
        })
        .expect("a tempo");
        let frames = odd.time.bar_seconds() * 2.0 * 48_000.0;
        assert!((frames - 240_101.0).abs() < WHOLE && odd.repeats, "{frames}");
        let told = Asked {
            bars: Some(4),
            heard: None,
            ..TAKE
        };
        assert_eq!(Fitted::of(&told).map(|fitted| fitted.time.tempo), Some(192.0));
        assert_eq!(Fitted::of(&Asked { bars: None, ..told }), None);
        let waits = Asked {
            cuts: (30_000, 230_000),
            ..TAKE
        };
        assert_eq!(Fitted::of(&waits).map(|fitted| fitted.repeats), Some(false));
        let doubtful = Asked {
            bars: Some(2),
            heard: Some((94.0, 0.004)),
            ..TAKE
        };
        assert_eq!(Fitted::of(&doubtful).map(|fitted| fitted.time.tempo), Some(96.0));
    }

    #[test]
    fn anything_else_begins_with_the_bar_of_its_first_hit() {
        let take = Asked {
            frames: 400_000,
            cuts: (20_000, 250_000),
            tempo: Some(96.0),
            ..TAKE
        };
        let at = |first: usize, offset: f64| {
            let fitted = Fitted::of(&Asked {
                cuts: (first, 250_000),
                heard: Some((96.0, offset)),
                ..take
            });
            fitted.map(|fitted| (fitted.from, fitted.bars, fitted.repeats))
        };
        // A bar has 120000 frames.
        assert_eq!(at(48_000, 1.0), Some((48_000, 2, false)));
        assert_eq!(at(47_000, 1.0), Some((47_000, 2, false)), "an early hit");
        assert_eq!(at(18_000, 1.0), Some((-72_000, 3, false)), "an upbeat");
        assert_eq!(at(200_000, 1.0), Some((168_000, 1, false)), "an empty bar before it");
    }
}
