//! What a pitched part strikes at accents of the band, whatever it has written: the root of the chart's chord, or the chord.

use std::collections::BTreeMap;

use super::chart::{Chart, Harmony};
use super::habits::{self, BarSettings};
use super::phrase::Event;
use super::step::{Strike, Tones};
use crate::harmony::{Chord, DegreeWord, Note};
use crate::loopfile::marks::{Hand, PLAIN, PLAIN_MARK};
use crate::loopfile::rhythm::accents::Accent;
use crate::loopfile::{Exact, Way};
use crate::text::{Place, Problem};

/// The root of a chord, as a degree.
const ROOT: DegreeWord = DegreeWord {
    number: 1,
    accidental: None,
    octaves: 0,
};
/// Half an octave, in semitones.
const NEAR: i32 = 6;

/// A strike that nobody wrote among the part's notes.
pub(super) struct Struck {
    at: Exact,
    step: Exact,
    place: Place,
    strike: Strike,
}

/// The strikes that accents ask for, in the order of time. Where the chart says nothing is a problem; at N.C. there are
/// none.
pub(super) fn strikes(
    way: Way,
    written: &[Event<'_>],
    accents: &BTreeMap<Exact, Accent>,
    habits: BarSettings<'_>,
    (chart, problems): (&Chart, &mut Vec<Problem>),
) -> Vec<Struck> {
    let mut struck = Vec::new();
    for (at, accent) in accents {
        let Some(place) = &accent.strikes else { continue };
        let bar = at.to_integer();
        let chord = match chart.at(*at) {
            Harmony::Chord(chord) => chord,
            Harmony::Silence => continue,
            Harmony::Unwritten => {
                let problem = Problem::at(place, format!("`[chords]` has no chord in bar {}", bar + 1));
                let problem = problem.help("name the bar in `[chords]`, with N.C. for no chord");
                if !problems.contains(&problem) {
                    problems.push(problem);
                }
                continue;
            }
        };
        let play = match way {
            Way::Comp => Tones::Chord(Hand::Even),
            Way::Degrees => Tones::Degrees(vec![ROOT]),
            _ => {
                let register = habits::register(&habits.at(u32::try_from(bar).unwrap_or(0)), way);
                Tones::Notes(vec![near(chord, played_before(written, *at).unwrap_or(register))])
            }
        };
        struck.push(Struck {
            at: *at,
            step: accent.step,
            place: place.clone(),
            strike: Strike {
                velocity: PLAIN,
                plain: true,
                pushed: false,
                mark: PLAIN_MARK,
                tones: Vec::new(),
                graces: None,
                expression: None,
                play,
            },
        });
    }
    struck
}

/// The lowest note of what was struck last before a place, or first after it.
fn played_before(written: &[Event<'_>], at: Exact) -> Option<Note> {
    let lowest = |event: &Event<'_>| match &event.strike.play {
        Tones::Notes(notes) => notes.iter().min_by_key(|note| note.midi()).copied(),
        _ => None,
    };
    let next = written.partition_point(|event| event.at < at);
    let before = written[..next].iter().rev().find_map(lowest);
    before.or_else(|| written[next..].iter().find_map(lowest))
}

/// A chord's root, nearest to a note.
fn near(chord: &Chord, note: Note) -> Note {
    chord.root.at_or_above(note.midi() - NEAR)
}

/// What is written, with strikes laid over it: what begins within a strike's step gives way, and what is held until then
/// ends. In a loop of so many bars the last notes may be held over the end.
pub(super) fn laid<'a>(mut written: Vec<Event<'a>>, strikes: &'a [Struck], bars: u32) -> Vec<Event<'a>> {
    let Some(first) = strikes.first() else {
        return written;
    };
    let round = first.at + Exact::from_integer(bars.into());
    written.retain_mut(|event| {
        let next = strikes.partition_point(|strike| strike.at <= event.at);
        let ends = strikes.get(next).map_or(round, |strike| strike.at);
        event.length = event.length.min(ends - event.at);
        let before = next.checked_sub(1).map(|before| &strikes[before]);
        before.is_none_or(|strike| event.at >= strike.at + strike.step)
    });
    written.extend(strikes.iter().map(|struck| Event {
        at: struck.at,
        step: struck.step,
        length: struck.step,
        shift: 0.0,
        scale: 1.0,
        leads: 0,
        place: &struck.place,
        strike: &struck.strike,
    }));
    written.sort_by_key(|event| event.at);
    written
}
