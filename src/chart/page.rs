//! The page of a loop, and what stands at the head of any page.

use super::WIDTH;
use super::charted::Charted;
use crate::loopfile::{Exact, Loop, Time};
use crate::score::Score;
use crate::text::width::wrapped;

/// What is shown beside marks.
#[derive(Debug, Clone, Copy, Default)]
pub struct Besides<'a> {
    /// How far hits lie from the grid, by the score of each loop: one for a loop, one a section for a form.
    pub scores: Option<&'a [Score]>,
    /// The tones of chords, and the notes that comping parts play of them.
    pub tones: bool,
}

/// A loop's chart, of the bars from one to another (counted from 1).
///
/// The page has escape sequences for bold and dim marks; who prints it takes them out where they are not wanted.
pub fn song(song: &Loop, bars: (u32, u32), besides: Besides<'_>) -> String {
    let mut lines = wrapped(&song.title, WIDTH);
    lines.extend(wrapped(&about(song, true), WIDTH));
    lines.push(String::new());
    let score = besides.scores.and_then(|scores| scores.first());
    lines.extend(Charted::new(song, bars, score).lines(besides.tones));
    lines.join("\n")
}

/// Tempo, metre, length where it is asked for, and key, in a line.
pub(super) fn about(song: &Loop, length: bool) -> String {
    let mut words = vec![tempo(&song.time), format!("{}/{}", song.time.counts, song.time.unit)];
    words.extend(length.then(|| count(song.bars, "bar")));
    words.extend(song.key.clone());
    words.join(" · ")
}

fn tempo(time: &Time) -> String {
    let half = Exact::new(2, 3);
    let beat = if *time.beat.numer() == 3 {
        format!("{} dotted", time.beat * half)
    } else {
        time.beat.to_string()
    };
    format!("{beat} = {}", time.tempo)
}

/// A number of things.
pub(super) fn count(number: u32, thing: &str) -> String {
    if number == 1 {
        format!("1 {thing}")
    } else {
        format!("{number} {thing}s")
    }
}
