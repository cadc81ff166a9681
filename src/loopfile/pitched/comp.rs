//! Comping: a rhythm on which a part plays the chart's chords.

use super::step::{Step, StepKind, Strike, Tones};
use crate::loopfile::marks;
use crate::loopfile::rhythm;
use crate::loopfile::rhythm::Beat;
use crate::loopfile::{Time, Words};
use crate::text::Problem;

/// Reads a line of one or more bars; none where anything is wrong in it.
pub(super) fn read(line: &Words, time: &Time, bars: u32, problems: &mut Vec<Problem>) -> Vec<Vec<Step>> {
    let before = problems.len();
    let rhythm = rhythm::rhythm(line, time, bars, problems);
    let read: Vec<Vec<Step>> = rhythm.into_iter().map(|bar| measure(bar, problems)).collect();
    if problems.len() > before { Vec::new() } else { read }
}

fn measure(bar: Vec<Beat>, problems: &mut Vec<Problem>) -> Vec<Step> {
    let mut steps: Vec<Step> = Vec::new();
    for beat in bar {
        let what = match beat.mark {
            '=' => {
                let goes_on = match steps.last() {
                    Some(before) => before.at + before.length == beat.at,
                    None => *beat.at.numer() == 0,
                };
                if !goes_on {
                    let problem = Problem::at(&beat.place, "`=` has nothing to hold: a rest stands before it");
                    problems.push(problem.help("write `-` to go on resting"));
                }
                StepKind::Hold
            }
            mark => match strike(mark) {
                Some(strike) => StepKind::Strike(strike),
                None => continue,
            },
        };
        steps.push(Step {
            at: beat.at,
            length: beat.step,
            place: beat.place,
            what,
        });
    }
    steps
}

fn strike(mark: char) -> Option<Strike> {
    let (struck, hand) = marks::chord_of(mark)?;
    Some(Strike {
        velocity: struck.velocity,
        plain: struck.plain,
        pushed: mark == '<',
        mark,
        tones: Vec::new(),
        play: Tones::Chord(hand),
    })
}
