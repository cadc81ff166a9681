//! A waveform as a line of blocks, for whoever reads a summary at a terminal.

use std::io::IsTerminal;

use crate::base::audio::{Audio, peak};
use crate::export::bars::Bars;
use crate::export::outline::columns;

/// Columns of the strip.
const COLUMNS: usize = 72;
/// From a hair to full height.
const BLOCKS: [char; 8] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];

/// The waveform and the numbers of its bars below; nothing where standard output is no terminal.
pub(super) fn at_terminal(audio: &Audio, bars: &Bars) -> Option<String> {
    std::io::stdout().is_terminal().then(|| strip(audio, bars))
}

/// The waveform in two lines: blocks as high as it reaches, and the numbers of bars where they have room.
fn strip(audio: &Audio, bars: &Bars) -> String {
    let loudest = peak(&audio.channels);
    let block = |(low, high): &(f32, f32)| {
        let reach = high.max(-low);
        match reach > 0.0 {
            true => BLOCKS[((reach / loudest * 8.0).ceil() as usize).clamp(1, 8) - 1],
            false => ' ',
        }
    };
    let wave: String = columns(audio, audio.frames(), COLUMNS).iter().map(block).collect();
    let mut numbers = String::new();
    for bar in &bars.bars {
        let column = (bar.start as f64 / audio.frames().max(1) as f64 * COLUMNS as f64) as usize;
        let number = bar.number.to_string();
        // A space at least between numbers.
        let free = numbers.is_empty() || column > numbers.len();
        if free && column + number.len() <= COLUMNS {
            numbers.push_str(&" ".repeat(column - numbers.len()));
            numbers.push_str(&number);
        }
    }
    format!("  {wave}\n  {numbers}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::export::bars::Bar;

    #[test]
    fn a_strip_is_as_high_as_its_sound() {
        let mut audio = Audio::silence(2, 7200, 48_000);
        audio.channels[0][0..3600].fill(1.0);
        audio.channels[1][3600..5400].fill(-0.5);
        let bar = |number: u32| Bar {
            start: (number as usize - 1) * 1800,
            number,
            counts: 4,
            section: None,
        };
        let bars = Bars {
            bars: (1..=4).map(bar).collect(),
            end: 7200,
        };
        let blocks = format!("  {}{}{}", "█".repeat(36), "▄".repeat(18), " ".repeat(18));
        let numbers = "  1                 2                 3                 4";
        assert_eq!(strip(&audio, &bars), format!("{blocks}\n{numbers}"));
        assert!(strip(&Audio::silence(2, 100, 48_000), &bars).starts_with("   "));
    }
}
