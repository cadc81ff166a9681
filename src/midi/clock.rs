//! What a tick is worth, and where tempo and metre change.

use num_rational::Ratio;

/// What a file's ticks divide.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Counts {
    /// Quarter notes: times are musical, and a tempo turns them into seconds.
    Quarters,
    /// Seconds (SMPTE division): times are absolute, and the tempo map says nothing about them.
    Seconds,
}

/// Turns ticks into exact times.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Clock {
    /// The unit of [`Clock::time`].
    pub counts: Counts,
    /// One tick in that unit.
    pub tick: Ratio<i128>,
}

impl Clock {
    /// So many ticks a quarter note, 1 to 32,767.
    pub(super) fn quarters(ticks: u16) -> Clock {
        Clock {
            counts: Counts::Quarters,
            tick: Ratio::new(1, ticks.into()),
        }
    }

    /// SMPTE frames per second (24, 25, 29 or 30) and ticks a frame (1 to 255); none for other frame rates.
    ///
    /// 29 stands for the drop-frame code of 30/1.001 frames per second (SMPTE 12M): its numbering drops frames,
    /// the frames themselves stay even, so ticks are even too.
    pub(super) fn seconds(frames: u8, ticks: u8) -> Option<Clock> {
        let frame = match frames {
            24 | 25 | 30 => Ratio::new(1, i128::from(frames)),
            29 => Ratio::new(1001, 30_000),
            _ => return None,
        };
        Some(Clock {
            counts: Counts::Seconds,
            tick: frame / i128::from(ticks),
        })
    }

    /// A tick's place, exactly, in quarter notes or seconds.
    pub fn time(&self, ticks: u64) -> Ratio<i128> {
        self.tick * i128::from(ticks)
    }
}

/// A tempo from a place on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Tempo {
    /// Where, in ticks.
    pub at: u64,
    /// Microseconds a quarter note, 1 to 16,777,215.
    pub micros: u32,
}

impl Tempo {
    /// The tempo nearest to so many quarter notes a minute, positive; what a file can't hold (under 3.58) becomes the
    /// slowest or fastest that it can.
    pub fn new(at: u64, quarters_a_minute: f64) -> Tempo {
        let micros = (60_000_000.0 / quarters_a_minute).round();
        Tempo {
            at,
            micros: micros.clamp(1.0, 16_777_215.0) as u32,
        }
    }

    /// Quarter notes a minute.
    pub fn quarters_a_minute(&self) -> f64 {
        60_000_000.0 / f64::from(self.micros)
    }
}

/// A metre from a place on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Metre {
    /// Where, in ticks.
    pub at: u64,
    /// The upper figure, 1 to 255.
    pub counts: u32,
    /// The lower figure, a power of two; 4 for quarters.
    pub unit: u32,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_exact_in_quarters_and_in_seconds() {
        assert_eq!(Clock::quarters(960).time(320), Ratio::new(1, 3));
        let film = Clock::seconds(25, 40).unwrap();
        assert_eq!((film.counts, film.time(1)), (Counts::Seconds, Ratio::new(1, 1000)));
        // 30 drop: 17,982 frames in ten minutes of the code are 600 s less 0.6 ms (SMPTE 12M) [memory].
        let drop = Clock::seconds(29, 100).unwrap();
        assert_eq!(drop.time(1_798_200), Ratio::new(5_999_994, 10_000));
        assert_eq!(Clock::seconds(28, 100), None);
    }

    #[test]
    fn a_tempo_is_microseconds_a_quarter() {
        // Standard MIDI Files 1.0: 120 quarters a minute are 500,000 microseconds each.
        assert_eq!(Tempo::new(0, 120.0).micros, 500_000);
        assert_eq!(Tempo::new(0, 92.0).micros, 652_174);
        assert_eq!(Tempo::new(0, 1.0).micros, 0xFF_FFFF);
        assert_eq!(Tempo::new(0, 120.0).quarters_a_minute(), 120.0);
    }
}
