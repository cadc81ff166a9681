//! Sweeps at work: where in the loop a frame is, and what a moving number is there.
//!
//! Numbers are worked out on a grid of [`STEP`] frames. Gains run on straight lines between the grid's points; filters
//! and the rest take a new setting at each. A jump, the seam's too, is spread over the last [`JUMP`] seconds by a
//! running mean, which leaves what moves evenly as it is, but for half that time of lag.

use std::sync::Arc;

use crate::base::audio::gain_of_db;
use crate::loopfile::{Field, Loop, Strip, Sweep, Target};

/// Frames from one setting to the next.
pub(crate) const STEP: usize = 8;
/// Seconds that a jump takes at the most.
const JUMP: f64 = 0.005;

/// Tells the place in the loop, in bars, of a frame of a mix.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Clock {
    /// The frame at which the first round begins, fraction and all.
    pub begins: f64,
    /// Frames of one round, fraction and all.
    pub round: f64,
    /// How many rounds there are on a line; none on a circle.
    pub times: Option<u32>,
    /// Bars of the loop before the first that is played.
    pub first: f64,
    /// Bars of one round.
    pub bars: f64,
}

impl Clock {
    /// The place in bars from the loop's beginning. Before a line begins it is at its beginning, after its last bar at its end.
    fn place(&self, frame: i64) -> f64 {
        let rounds = (frame as f64 - self.begins) / self.round;
        let gone = match self.times {
            Some(count) if rounds >= f64::from(count) => 1.0,
            Some(_) if rounds < 0.0 => 0.0,
            _ => rounds - rounds.floor(),
        };
        self.first + gone * self.bars
    }
}

/// Tells the place in a form, in bars, of a frame of its mix: its bars may differ in length.
#[derive(Debug, Clone, PartialEq)]
pub struct Barlines {
    /// The frames at which the bars of all rounds begin and the last ends, fractions and all; ascending, two at least.
    pub frames: Vec<f64>,
    /// Bars of the form before the first that is played.
    pub first: f64,
    /// Bars of one round.
    pub bars: usize,
    /// True where it repeats.
    pub circle: bool,
}

impl Barlines {
    /// The place in bars from the form's beginning. Before a line begins it is at its first bar, after its last bar at its end.
    fn place(&self, frame: i64) -> f64 {
        let (from, to) = (self.frames[0], self.frames[self.frames.len() - 1]);
        let mut frame = frame as f64;
        if self.circle {
            frame -= ((frame - from) / (to - from)).floor() * (to - from);
        } else if frame >= to {
            return self.first + self.bars as f64;
        }
        let past = self.frames.partition_point(|line| *line <= frame);
        let bar = past.clamp(1, self.frames.len() - 1) - 1;
        let (begins, ends) = (self.frames[bar], self.frames[bar + 1]);
        self.first + (bar % self.bars) as f64 + ((frame - begins) / (ends - begins)).clamp(0.0, 1.0)
    }
}

/// What tells the place of a frame.
#[derive(Debug, Clone)]
enum Timeline {
    Loop(Clock),
    Form(Arc<Barlines>),
}

impl Timeline {
    fn place(&self, frame: i64) -> f64 {
        match self {
            Timeline::Loop(clock) => clock.place(frame),
            Timeline::Form(barlines) => barlines.place(frame),
        }
    }
}

/// The numbers of one strip, or the level of one room or delay, that move.
#[derive(Debug, Clone)]
pub struct Moves {
    sweeps: Vec<Sweep>,
    timeline: Timeline,
    /// Points of the grid that a running mean covers.
    mean: i64,
    strip: Strip,
}

/// What moves in a strip of a loop, or in the level of a room or delay; none where nothing does.
pub(crate) fn moves(song: &Loop, target: Target, clock: Clock, rate: u32) -> Option<Moves> {
    let sweeps = song
        .sweeps
        .iter()
        .filter(|sweep| sweep.target == target)
        .cloned()
        .collect();
    let plain = Strip::plain();
    Moves::new(sweeps, target.strip(song).unwrap_or(&plain), clock, rate)
}

impl Moves {
    /// The sweeps of a strip; none where there are none.
    pub fn new(sweeps: Vec<Sweep>, strip: &Strip, clock: Clock, rate: u32) -> Option<Moves> {
        Moves::along(sweeps, strip, Timeline::Loop(clock), rate)
    }

    /// The sweeps of a form's master; none where there are none.
    pub fn of_form(sweeps: Vec<Sweep>, strip: &Strip, barlines: Barlines, rate: u32) -> Option<Moves> {
        Moves::along(sweeps, strip, Timeline::Form(Arc::new(barlines)), rate)
    }

    fn along(sweeps: Vec<Sweep>, strip: &Strip, timeline: Timeline, rate: u32) -> Option<Moves> {
        let mean = ((JUMP * f64::from(rate) / STEP as f64) as i64 - 1).max(1);
        (!sweeps.is_empty()).then(|| Moves {
            sweeps,
            timeline,
            mean,
            strip: strip.clone(),
        })
    }

    /// Those of its fields that are wanted, on another strip; none where nothing is left.
    pub fn only(&self, strip: &Strip, wanted: impl Fn(Field) -> bool) -> Option<Moves> {
        let sweeps = self.sweeps.iter().filter(|sweep| wanted(sweep.field)).cloned();
        let sweeps: Vec<Sweep> = sweeps.collect();
        (!sweeps.is_empty()).then(|| Moves {
            sweeps,
            strip: strip.clone(),
            ..self.clone()
        })
    }

    /// True where a number moves.
    pub fn has(&self, field: Field) -> bool {
        self.sweeps.iter().any(|sweep| sweep.field == field)
    }

    /// The number of a sweep at a frame.
    fn number(&self, sweep: &Sweep, frame: i64) -> f64 {
        let points = (0..self.mean).map(|back| sweep.at(self.timeline.place(frame - back * STEP as i64)));
        sweep.number(points.sum::<f64>() / self.mean as f64)
    }

    /// The strip as it is at a frame.
    pub fn strip_at(&self, frame: i64) -> Strip {
        let mut strip = self.strip.clone();
        for sweep in &self.sweeps {
            sweep.field.set(&mut strip, self.number(sweep, frame));
        }
        strip
    }

    /// Fills `gains` with the factors of a level that moves, from a frame on; false where it does not.
    pub fn gains(&self, field: Field, first: i64, gains: &mut Vec<f32>, frames: usize) -> bool {
        let Some(sweep) = self.sweeps.iter().find(|sweep| sweep.field == field) else {
            return false;
        };
        let point = |number: i64| gain_of_db(self.number(sweep, number * STEP as i64));
        gains.clear();
        let mut number = first.div_euclid(STEP as i64);
        let (mut here, mut next) = (point(number), point(number + 1));
        for frame in first..first + frames as i64 {
            if frame.div_euclid(STEP as i64) != number {
                number += 1;
                (here, next) = (next, point(number + 1));
            }
            let share = frame.rem_euclid(STEP as i64) as f64 / STEP as f64;
            gains.push((here + (next - here) * share) as f32);
        }
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loopfile::Stretch;

    fn moves(field: Field, stretches: Vec<Stretch>, rounds: Option<u32>) -> Moves {
        let clock = Clock {
            begins: 0.0,
            round: 96_000.0,
            times: rounds,
            first: 0.0,
            bars: 4.0,
        };
        Moves::new(
            vec![Sweep {
                target: Target::Master,
                field,
                stretches,
            }],
            &Strip::plain(),
            clock,
            48_000,
        )
        .unwrap()
    }

    fn stretch(start: f64, end: f64, from: f64, to: f64) -> Stretch {
        Stretch {
            start,
            end,
            every: None,
            from,
            to,
        }
    }

    #[test]
    fn it_holds_before_and_after_and_returns_at_the_seam_within_5_ms() {
        let moves = moves(Field::Gain, vec![stretch(1.0, 2.0, -18.0, -6.0)], None);
        let gain = |frame| moves.strip_at(frame).gain_db;
        assert_eq!(gain(12_000), -18.0);
        // Half way through bar 2, but for the mean's lag of two thousandths of a second.
        assert!((gain(36_000) + 12.0).abs() < 0.1, "{}", gain(36_000));
        assert_eq!(gain(60_000), -6.0);
        assert_eq!(gain(95_999), -6.0);
        assert_eq!(gain(96_000 + 240), -18.0);
    }

    #[test]
    fn a_forms_bars_may_differ_in_length() {
        let mut barlines = Barlines {
            frames: vec![100.0, 200.0, 250.0, 350.0, 400.0],
            first: 3.0,
            bars: 2,
            circle: false,
        };
        let places = |barlines: &Barlines, frames: &[i64]| -> Vec<f64> {
            frames.iter().map(|frame| barlines.place(*frame)).collect()
        };
        // Two rounds of a long bar and a short one, behind a pickup of 100 frames.
        assert_eq!(
            places(&barlines, &[-50, 0, 150, 225, 250, 399, 400, 900]),
            [3.0, 3.0, 3.5, 4.5, 3.0, 4.98, 5.0, 5.0]
        );
        barlines.frames = vec![0.0, 100.0, 150.0];
        barlines.circle = true;
        assert_eq!(places(&barlines, &[-25, 0, 150, 350]), [4.5, 3.0, 3.0, 3.5]);
    }

    #[test]
    fn a_line_holds_its_end_after_the_last_bar() {
        let moves = moves(Field::Pan, vec![stretch(0.0, 4.0, -1.0, 1.0)], Some(2));
        assert_eq!(moves.strip_at(-500).pan, -1.0);
        assert!(moves.strip_at(96_000 + 480).pan < -0.97);
        assert_eq!(moves.strip_at(200_000).pan, 1.0);
    }

    #[test]
    fn gains_move_without_steps() {
        let moves = moves(
            Field::Gain,
            vec![stretch(0.0, 0.5, -30.0, 0.0), stretch(2.0, 3.0, -30.0, 0.0)],
            None,
        );
        let mut gains = Vec::new();
        assert!(moves.gains(Field::Gain, -100, &mut gains, 96_100));
        // From 0 dB to -30 dB in just under 5 ms is 0.13 dB a frame, which is 1.5 % of the gain at its most.
        let widest = gains
            .windows(2)
            .map(|pair| (pair[1] - pair[0]).abs())
            .fold(0.0, f32::max);
        assert!(widest < 0.016, "{widest}");
    }
}
