//! Where the bars of finished audio lie, for pages and pictures.

use crate::loopfile::{Ending, Form, Loop};

/// A bar of finished audio.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// The frame at which it begins.
    pub start: usize,
    /// Its number, as the file counts it: from 1.
    pub number: u32,
    /// Its counts: the metre's upper figure.
    pub counts: u32,
    /// The section that begins with it, in a form.
    pub section: Option<String>,
}

/// The bars of finished audio. What lies before the first is a pickup, what lies behind the last rings out.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Bars {
    /// In the order of time.
    pub bars: Vec<Bar>,
    /// The frame at which the last one ends.
    pub end: usize,
}

impl Bars {
    /// The bars of a loop, of those from `cut.0` to `cut.1` alone where given, so many rounds of them.
    pub fn of_loop(song: &Loop, cut: Option<(u32, u32)>, rounds: u32, rate: u32) -> Bars {
        let (first, last) = cut.unwrap_or((1, song.bars));
        let mut writer = Writer::new(rate);
        for _ in 0..rounds {
            for number in first..=last {
                writer.bar(number, song.time.counts, song.time.bar_seconds(), None);
            }
        }
        writer.finish()
    }

    /// The bars of a form, cut and repeated likewise; its pickup comes before the first.
    pub fn of_form(form: &Form, cut: Option<(u32, u32)>, rounds: u32, rate: u32) -> Bars {
        let (first, last) = cut.unwrap_or((1, form.bars()));
        let mut writer = Writer::new(rate);
        if let (Some(lead), None, false) = (form.pickup, cut, form.ending == Ending::Repeat) {
            writer.now = form.sections[0].plays.time.seconds(lead);
        }
        for _ in 0..rounds {
            let mut number = 0;
            for section in &form.sections {
                let time = &section.plays.time;
                let mut named = Some(section.name.clone());
                for _ in 0..section.bars() {
                    number += 1;
                    if (first..=last).contains(&number) {
                        writer.bar(number, time.counts, time.bar_seconds(), named.take());
                    }
                }
            }
        }
        writer.finish()
    }

    /// The frame at a place in bars from the first one's beginning: 1.5 is half way through the second bar. What lies before
    /// the audio's beginning is at that.
    pub(crate) fn frame(&self, place: f64) -> usize {
        let last = self.bars.len().saturating_sub(1);
        let bar = (place.max(0.0) as usize).min(last);
        let begins = |bar: usize| self.bars.get(bar).map_or(self.end, |bar| bar.start) as f64;
        let from = begins(bar);
        (from + (place - bar as f64) * (begins(bar + 1) - from)).round() as usize
    }
}

struct Writer {
    now: f64,
    rate: f64,
    bars: Vec<Bar>,
}

impl Writer {
    fn new(rate: u32) -> Writer {
        Writer {
            now: 0.0,
            rate: rate.into(),
            bars: Vec::new(),
        }
    }

    fn frame(&self) -> usize {
        (self.now * self.rate).round() as usize
    }

    fn bar(&mut self, number: u32, counts: u32, seconds: f64, section: Option<String>) {
        self.bars.push(Bar {
            start: self.frame(),
            number,
            counts,
            section,
        });
        self.now += seconds;
    }

    fn finish(self) -> Bars {
        Bars {
            end: self.frame(),
            bars: self.bars,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_in_bars_is_a_frame() {
        let bar = |start| Bar {
            start,
            number: 1,
            counts: 4,
            section: None,
        };
        let bars = Bars {
            bars: vec![bar(100), bar(300), bar(400)],
            end: 700,
        };
        for (place, frame) in [
            (0.0, 100),
            (-0.25, 50),
            (-9.0, 0),
            (1.0, 300),
            (1.5, 350),
            (2.5, 550),
            (3.0, 700),
        ] {
            assert_eq!(bars.frame(place), frame, "{place}");
        }
    }
}
