//! Comping: a rhythm on which a part plays the chart's chords.

use super::step::{Entry, Step, Strike, Tones, Written, steps};
use crate::loopfile::Time;
use crate::loopfile::marks::{REST, chord_of};
use crate::loopfile::rhythm::{self, Marked};
use crate::schema::Play;
use crate::text::Problem;

/// Reads a line of one or more bars, or a bar that is counted aloud; none where anything is wrong in it.
pub(super) fn read(play: &Play, time: &Time, bars: u32, problems: &mut Vec<Problem>) -> Vec<Vec<Step>> {
    let before = problems.len();
    let rhythm = rhythm::comping(play, time, bars, problems);
    let measure = |bar: Vec<Marked>| steps(bar.into_iter().filter_map(entry).collect(), problems);
    let read: Vec<Vec<Step>> = rhythm.into_iter().map(measure).collect();
    if problems.len() > before { Vec::new() } else { read }
}

fn entry(marked: Marked) -> Option<Entry> {
    let what = match marked.mark {
        REST => Written::Rest,
        '=' => Written::Hold,
        mark => Written::Strike(strike(mark)?),
    };
    Some(Entry {
        at: marked.at,
        step: marked.step,
        shift: marked.shift,
        place: marked.place,
        what,
    })
}

fn strike(mark: char) -> Option<Strike> {
    let (struck, hand) = chord_of(mark)?;
    Some(Strike {
        velocity: struck.velocity,
        plain: struck.plain,
        pushed: mark == '<',
        mark,
        tones: Vec::new(),
        graces: None,
        expression: None,
        play: Tones::Chord(hand),
    })
}
