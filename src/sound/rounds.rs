//! How a score's rounds lie in time.

/// The rounds of a loop, in frames.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rounds {
    /// Round and round without beginning or end: what sounds at frame `n` sounds at `n + frames` as well.
    Circle {
        /// Frames of one round.
        frames: usize,
    },
    /// So many rounds from frame 0 on; before them, nothing.
    Line {
        /// How many.
        rounds: u32,
        /// Length of one round in frames, fraction and all, so that many rounds do not drift.
        length: f64,
    },
}

impl Rounds {
    /// The frame at which something happens in a round.
    ///
    /// On a line nothing happens before the first frame: what a drift puts there happens at it.
    pub fn frame(&self, round: i64, at: f64, rate: u32) -> i64 {
        let frames = at * f64::from(rate);
        match self {
            Rounds::Circle { frames: length } => {
                (frames.round() as i64).rem_euclid(*length as i64) + round * *length as i64
            }
            Rounds::Line { length, .. } => ((round as f64 * length + frames).round() as i64).max(0),
        }
    }

    /// True where something that happens in a round does not come before the first frame of a line.
    pub fn reaches(&self, round: i64, at: f64, rate: u32) -> bool {
        match self {
            Rounds::Circle { .. } => true,
            Rounds::Line { length, .. } => round as f64 * length + at * f64::from(rate) >= -0.5,
        }
    }
}
