//! Audio that repeats without a gap, and gives way to newer audio at the next bar.

use std::sync::Arc;

use crate::base::audio::Audio;

/// Seconds in which one record gives way to another.
const CHANGE: f64 = 0.01;

/// Audio to be played.
#[derive(Debug, Clone)]
pub(crate) struct Record {
    /// One channel or two.
    pub audio: Arc<Audio>,
    /// The frames at which its bars begin; the first bar's where there is none.
    pub bars: Vec<usize>,
}

/// What plays records, from one block of a device to the next.
#[derive(Debug, Default)]
pub(crate) struct Turntable {
    playing: Option<Needle>,
    /// What gives way, and its frames so far in which it does.
    leaving: Option<(Needle, usize)>,
    coming: Option<Record>,
}

/// A record and the frame of it that sounds next.
#[derive(Debug)]
struct Needle {
    record: Record,
    at: usize,
}

impl Turntable {
    /// Hands over a record: it begins at once where nothing plays yet, else it takes over at the next bar, with the bar of
    /// its own that has the same number. Of several that wait for that, the last one counts.
    pub(crate) fn put(&mut self, record: Record) {
        self.coming = (record.audio.frames() > 0).then_some(record).or(self.coming.take());
    }

    /// Fills a device's block of woven channels with what comes next; silence where nothing plays.
    pub(crate) fn fill(&mut self, block: &mut [f32], channels: usize) {
        for frame in block.chunks_mut(channels.max(1)) {
            self.turn_over();
            let [left, right] = self.next();
            match frame {
                [mono] => *mono = (left + right) / 2.0,
                [a, b, rest @ ..] => {
                    (*a, *b) = (left, right);
                    rest.fill(0.0);
                }
                [] => {}
            }
        }
    }

    /// Lets the record that waits take over, if this is where it may.
    fn turn_over(&mut self) {
        let bar = match &self.playing {
            None => Some(0),
            Some(needle) => needle.bar(),
        };
        let (Some(bar), true) = (bar, self.leaving.is_none()) else {
            return;
        };
        let Some(record) = self.coming.take() else { return };
        let frames = record.audio.frames();
        let same = record
            .bars
            .get(bar % record.bars.len().max(1))
            .filter(|at| **at < frames);
        let at = match self.playing {
            None => 0,
            Some(_) => same.copied().unwrap_or(0),
        };
        let old = self.playing.replace(Needle { record, at });
        self.leaving = old.map(|old| (old, 0));
    }

    fn next(&mut self) -> [f32; 2] {
        let Some(playing) = &mut self.playing else {
            return [0.0; 2];
        };
        let fade = (CHANGE * f64::from(playing.record.audio.rate)) as usize;
        let sound = playing.next();
        let Some((old, so_far)) = &mut self.leaving else {
            return sound;
        };
        *so_far += 1;
        let share = *so_far as f32 / (fade + 1) as f32;
        let before = old.next();
        if *so_far > fade {
            self.leaving = None;
            return sound;
        }
        [0, 1].map(|side| before[side] * (1.0 - share) + sound[side] * share)
    }
}

impl Needle {
    /// The number of the bar that begins here, if one does.
    fn bar(&self) -> Option<usize> {
        match self.record.bars.is_empty() {
            true => (self.at == 0).then_some(0),
            false => self.record.bars.iter().position(|start| *start == self.at),
        }
    }

    fn next(&mut self) -> [f32; 2] {
        let channels = &self.record.audio.channels;
        let sound = [channels.first(), channels.last()].map(|side| side.map_or(0.0, |side| side[self.at]));
        self.at = (self.at + 1) % self.record.audio.frames();
        sound
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// At 400 Hz a change takes 4 frames.
    fn record(from: f32, frames: usize, bars: &[usize]) -> Record {
        let side = |sign: f32| (0..frames).map(|n| sign * (from + n as f32)).collect();
        Record {
            audio: Arc::new(Audio {
                channels: vec![side(1.0), side(-1.0)],
                rate: 400,
            }),
            bars: bars.to_vec(),
        }
    }

    fn filled(turntable: &mut Turntable, frames: usize) -> Vec<f32> {
        // In blocks of any length, as devices ask for them.
        let mut left = Vec::new();
        while left.len() < frames {
            let mut block = vec![9.0; 3 * 2.min(frames - left.len())];
            turntable.fill(&mut block, 3);
            for frame in block.chunks(3) {
                assert_eq!(
                    (frame[1], frame[2]),
                    (-frame[0], 0.0),
                    "the sides, and silence elsewhere"
                );
                left.push(frame[0]);
            }
        }
        left
    }

    #[test]
    fn goes_round_without_a_gap() {
        let mut turntable = Turntable::default();
        assert_eq!(filled(&mut turntable, 3), [0.0; 3]);
        turntable.put(record(1.0, 5, &[0]));
        let rounds: Vec<f32> = (0..17).map(|n| (1 + n % 5) as f32).collect();
        assert_eq!(filled(&mut turntable, 17), rounds);
    }

    #[test]
    fn a_newer_record_takes_over_at_the_same_bar() {
        let mut turntable = Turntable::default();
        turntable.put(record(0.0, 40, &[0, 10, 20, 30]));
        filled(&mut turntable, 13);
        turntable.put(record(500.0, 80, &[0, 40]));
        turntable.put(record(1000.0, 80, &[0, 20, 40, 60]));
        let heard = filled(&mut turntable, 80);
        let expected: Vec<f32> = (13..20).map(|n| n as f32).collect();
        assert_eq!(heard[..7], expected, "the old one to its next bar");
        for (n, sample) in heard[7..11].iter().enumerate() {
            let share = (n + 1) as f32 / 5.0;
            let (old, new) = (20.0 + n as f32, 1040.0 + n as f32);
            assert!(
                (sample - (old * (1.0 - share) + new * share)).abs() < 1e-3,
                "{n}: {sample}"
            );
        }
        let expected: Vec<f32> = (0..69).map(|n| 1000.0 + ((44 + n) % 80) as f32).collect();
        assert_eq!(heard[11..], expected, "the new one from its own third bar, and round");
    }

    #[test]
    fn one_of_fewer_bars_and_an_empty_one_do_no_harm() {
        let mut turntable = Turntable::default();
        turntable.put(record(0.0, 40, &[0, 10, 20, 30]));
        filled(&mut turntable, 25);
        turntable.put(record(100.0, 0, &[]));
        turntable.put(record(100.0, 10, &[0]));
        let heard = filled(&mut turntable, 30);
        assert_eq!(heard[4], 29.0);
        assert_eq!(heard[10..15], [105.0, 106.0, 107.0, 108.0, 109.0]);
        assert_eq!(heard[15], 100.0);
    }
}
