//! What a pitched part plays, as it is written, and the notes' lengths that follow from its holds.

use super::lay::{self, Laid};
use super::step::{Step, StepKind, Strike, Tones};
use super::word_kind::WordKind;
use super::words;
use super::{comp, too_long};
use crate::loopfile::rhythm::Swells;
use crate::loopfile::{Exact, Time, Way, Words};
use crate::schema::{Pattern, Play, Setting, part};
use crate::text::{Place, Problem};

/// The settings in which a part may have what it plays, where that is not hits.
pub(in crate::loopfile) const WAYS: [(Way, Setting<Vec<Pattern>>); 3] = [
    (Way::Notes, part::NOTES),
    (Way::Degrees, part::DEGREES),
    (Way::Comp, part::COMP),
];

/// A part's lines, read.
#[derive(Debug, Clone)]
pub(in crate::loopfile) struct Phrase {
    lines: Vec<Vec<Vec<Step>>>,
    laid: Vec<Option<Laid>>,
    swells: Swells,
    /// The way in which it is written.
    pub way: Way,
}

/// A step that sounds, with its place in the loop and the length that holds give it.
pub(super) struct Event<'a> {
    pub at: Exact,
    pub step: Exact,
    pub length: Exact,
    /// Seconds off the grid.
    pub shift: f64,
    /// What a swell makes of its velocity: a factor.
    pub scale: f64,
    /// The grace notes that end it before the next note.
    pub leads: usize,
    pub place: &'a Place,
    pub strike: &'a Strike,
}

impl Phrase {
    /// Reads the lines of `notes`, `degrees` or `comp`.
    pub(crate) fn read(
        way: Way,
        lines: &[Pattern],
        name: &Words,
        (time, bars): (&Time, u32),
        problems: &mut Vec<Problem>,
    ) -> Phrase {
        let words = match way {
            Way::Notes => Some(WordKind::Notes),
            Way::Degrees => Some(WordKind::Degrees),
            _ => None,
        };
        let read = |line: &Pattern, problems: &mut Vec<Problem>| match (&line.play, words) {
            (Play::Line(text), Some(words)) => words::read(text, words, problems),
            (Play::Counted(list), Some(words)) => words::read_counted(list, words, time, problems),
            (play, None) => comp::read(play, time, bars, problems),
        };
        let lines_read = lines.iter().map(|line| read(line, problems)).collect();
        let (laid, swells) = lay::lay(lines, bars, problems);
        let mut phrase = Phrase {
            lines: lines_read,
            laid,
            swells,
            way,
        };
        let steps: usize = (0..phrase.laid.len()).map(|bar| phrase.bar(bar).len()).sum();
        if let Some(problem) = too_long(name, steps) {
            problems.push(problem);
            phrase.lines.iter_mut().for_each(Vec::clear);
        }
        phrase
    }

    /// The bars that none of its lines names, counted from 1.
    pub(crate) fn unnamed(&self) -> Vec<u32> {
        lay::unnamed(&self.laid)
    }

    /// The steps of a bar, counted from 0.
    fn bar(&self, bar: usize) -> &[Step] {
        let Some(laid) = self.laid[bar] else { return &[] };
        let measures = &self.lines[laid.line];
        match measures.len() {
            0 => &[],
            count => &measures[laid.nth % count],
        }
    }

    /// All that sounds, in the order of time. Where the loop goes `round`, its opening holds lengthen what its end left
    /// sounding.
    pub(super) fn events(&self, round: bool) -> Vec<Event<'_>> {
        let mut events: Vec<Event> = Vec::new();
        let zero = Exact::from_integer(0);
        let mut opening = zero;
        for bar in 0..self.laid.len() {
            let begins = Exact::from_integer(bar as i128);
            for step in self.bar(bar) {
                let at = begins + step.at;
                match (&step.what, events.last()) {
                    (StepKind::Strike(strike), _) => events.push(Event {
                        at,
                        step: step.length,
                        length: step.length,
                        shift: step.shift,
                        scale: self.swells.scale(bar, step.at),
                        leads: 0,
                        place: &step.place,
                        strike,
                    }),
                    (StepKind::Hold, Some(_)) => hold(&mut events, at, step.length),
                    (StepKind::Hold, None) if opening == at => opening += step.length,
                    (StepKind::Hold, None) => {}
                }
            }
        }
        let end = Exact::from_integer(self.laid.len() as i128);
        if let Some(last) = events.last_mut()
            && round
            && last.at + last.length == end
        {
            last.length += opening;
        }
        events
    }
}

/// Says of each note how many grace notes of the next end it.
pub(super) fn lead_in(events: &mut [Event<'_>]) {
    for next in 1..events.len() {
        let (begins, leads) = (events[next].at, events[next].strike.grace_notes());
        let before = &mut events[next - 1];
        if before.at + before.length == begins {
            before.leads = leads;
        }
    }
}

/// Lets what was struck last, and sounds up to a place, sound on from there.
fn hold(events: &mut [Event<'_>], at: Exact, length: Exact) {
    let Some(struck) = events.last().map(|last| last.at) else {
        return;
    };
    let together = events.iter_mut().rev().take_while(|event| event.at == struck);
    for event in together.filter(|event| event.at + event.length == at) {
        event.length += length;
    }
}

impl Strike {
    /// How many grace notes come before it.
    fn grace_notes(&self) -> usize {
        match &self.graces {
            Some(Tones::Notes(notes)) => notes.len(),
            Some(Tones::Degrees(words)) => words.len(),
            Some(Tones::Chord(_)) | None => 0,
        }
    }
}
