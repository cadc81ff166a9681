//! The marks of tablature, of notes, of degrees and of comping: what each plays and how hard. The reading of lines and the
//! reference both take them from here.

use super::model::Manner;
use crate::schema::part;

/// The velocity of a plain hit or note, from 1 to 127.
pub(crate) const PLAIN: f64 = 96.0;
/// The velocity of an accent.
pub(super) const ACCENT: f64 = 118.0;
/// The velocity of a ghost note.
pub(super) const GHOST: f64 = 40.0;
/// The velocity of what follows its neighbours fast: the strokes of rolls; and of a hit that is left to chance.
const LIGHT: f64 = 80.0;
/// The same, accented.
const LIGHT_ACCENT: f64 = 104.0;
/// The velocity of a muted scratch: softer than a strike, and no ghost.
const SCRATCH: f64 = 70.0;

/// Plays nothing.
pub(super) const REST: char = '-';
/// A plain hit.
pub(super) const PLAIN_MARK: char = 'x';
/// An accent.
pub(super) const ACCENT_MARK: char = 'X';
/// A ghost note.
pub(super) const GHOST_MARK: char = 'g';

/// What needs no `marks` of its own on a hat.
pub(super) const HAT_MARKS: [(char, &str); 2] = [('o', "hat-open"), ('p', "hat-pedal")];

/// A mark, or some that belong together, as the reference explains it.
#[derive(Debug, Clone, Copy)]
pub struct Mark {
    /// How it is written; between spaces where there are several, `3..9` for a run.
    pub mark: &'static str,
    /// What it plays.
    pub plays: &'static str,
    /// The characters that strike, one or more.
    struck: &'static [Struck],
    /// How a hit is played.
    manner: Manner,
    /// How a chord is struck.
    hand: Hand,
    /// How hard, for those marks whose characters have no velocity of their own.
    velocity: &'static str,
}

/// A character that strikes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Struck {
    pub sign: char,
    /// From 1 to 127.
    pub velocity: f64,
    /// True where a part's range of velocities spreads it.
    pub plain: bool,
    /// What it is called where another mark is not to take its place.
    pub name: &'static str,
}

/// How a hand strikes a chord.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Hand {
    Even,
    Down,
    Up,
    /// Muted strings.
    Scratch,
}

impl Mark {
    /// How hard it strikes, in velocities; empty where it has none.
    pub fn velocity(&self) -> String {
        let velocities = self.struck.iter().map(|struck| struck.velocity.to_string());
        match self.struck {
            [] => self.velocity.into(),
            _ => velocities.collect::<Vec<_>>().join(", "),
        }
    }

    const fn as_hard_as(self, velocity: &'static str) -> Mark {
        Mark { velocity, ..self }
    }
}

const fn struck(sign: char, velocity: f64, name: &'static str) -> Struck {
    Struck {
        sign,
        velocity,
        plain: false,
        name,
    }
}

const fn plain(sign: char, name: &'static str) -> Struck {
    Struck {
        plain: true,
        ..struck(sign, PLAIN, name)
    }
}

/// A mark of writing, which strikes nothing by itself.
const fn sign(mark: &'static str, plays: &'static str) -> Mark {
    hit(mark, plays, Manner::Single, &[])
}

const fn hit(mark: &'static str, plays: &'static str, manner: Manner, struck: &'static [Struck]) -> Mark {
    Mark {
        mark,
        plays,
        struck,
        manner,
        hand: Hand::Even,
        velocity: "",
    }
}

const fn chord(mark: &'static str, plays: &'static str, hand: Hand, struck: &'static [Struck]) -> Mark {
    Mark {
        hand,
        ..hit(mark, plays, Manner::Single, struck)
    }
}

const NOTHING: Mark = sign("-", "nothing");
const BARLINE: Mark = sign(
    "|",
    "a barline: a line of several bars repeats over the bars it is given",
);
const HOLD: Mark = sign("=", "holds the note; at the start of a bar, the note of the bar before");
const FITTED: Mark = sign(
    "{ }",
    "around words, fits them evenly into one step's time: {C4 D4 Eb4}",
);
const GRACES: Mark = sign("/", "behind grace notes, which come before the note: B3/C4");
const HARD: Mark = sign(":", "behind a word, before a mark that says how hard: C4:7, 5:g");
const SLIDE: Mark = sign(
    ":slide",
    "behind a word: glides from the note before; :slide=80ms or :slide=1/16 says how long",
);
const SCOOP: Mark = sign(
    ":scoop",
    "behind a word: comes up from below; :scoop=2,120ms from two semitones, in 120 ms",
);
const FALL: Mark = sign(
    ":fall",
    "behind a word: falls off at its end; :fall=5,250ms by five semitones",
);
const BEND: Mark = sign(
    ":bend",
    "behind a word: is bent and comes back; :bend=+2 by two semitones up, :bend=D4 to a note, a time behind a comma",
);
const VIBRATO: Mark = sign(":vibrato", "behind a word: the part's vibrato");
const DEAD: Mark = sign(":dead", "behind a word: a dead note, damped as it is struck");
const LEGATO: Mark = sign(
    ":legato",
    "behind a word: goes on from the note before without an attack of its own",
);
const ACCENTED: Mark = sign("^", "behind a tone, an accent").as_hard_as("118");
const GHOSTED: Mark = sign("( )", "around a tone, a ghost note").as_hard_as("40");

/// Every mark that a line of tablature may hold.
pub(crate) const MARKS: &[Mark] = &[
    NOTHING,
    hit("x", "a hit", Manner::Single, &[plain(PLAIN_MARK, "a hit")]),
    hit("X", "an accent", Manner::Single, &[struck(ACCENT_MARK, ACCENT, "an accent")]),
    hit("g", "a ghost note", Manner::Single, &[struck(GHOST_MARK, GHOST, "a ghost note")]),
    hit(
        "f F",
        "a flam: one soft grace note before it; accented",
        Manner::Flam,
        &[struck('f', PLAIN, "a flam"), struck('F', ACCENT, "an accented flam")],
    ),
    hit(
        "d D",
        "a drag: two soft grace notes before it; accented",
        Manner::Drag,
        &[struck('d', PLAIN, "a drag"), struck('D', ACCENT, "an accented drag")],
    ),
    hit(
        "r R",
        "two even strokes in this step: rrrr is a single-stroke roll; accented",
        Manner::Two,
        &[
            struck('r', LIGHT, "two even strokes"),
            struck('R', LIGHT_ACCENT, "two even strokes, accented"),
        ],
    ),
    hit(
        "b B",
        "a press of a buzz roll: bounces that close up and fade, sustained from step to step; accented",
        Manner::Press,
        &[
            struck('b', LIGHT, "a press of a buzz roll"),
            struck('B', LIGHT_ACCENT, "an accented press of a buzz roll"),
        ],
    ),
    hit(
        "m",
        "maybe a hit, with the part's `odds` in percent",
        Manner::Maybe,
        &[struck('m', LIGHT, "a hit that may be")],
    ),
    sign(FIGURES, "a hit, 3 dB a step: 9 is the hardest, 8 is 3 dB under it").as_hard_as("9 is 127"),
    sign(
        "{xxx}",
        "these marks, fitted evenly into one group's time, or inside a group into one step's",
    ),
    BARLINE,
    sign(
        "others",
        "what the part's `marks` say, such as { o = \"hat-open\" }; on a hat, o and p are the open and the pedalled hat",
    )
    .as_hard_as("96"),
];

/// The marks of a way that is written in words: its own, then those around and behind a word of any.
macro_rules! marks_of_words {
    ($($own:expr,)*) => {
        &[
            $($own,)*
            ACCENTED, GHOSTED, HARD, SLIDE, SCOOP, FALL, BEND, VIBRATO, DEAD, LEGATO, GRACES, FITTED, BARLINE,
        ]
    };
}

/// The marks of `notes`, `degrees` and `comp`, by their settings.
pub const PITCHED_MARKS: &[(&str, &[Mark])] = &[
    (part::NOTES.name, NOTES),
    (part::DEGREES.name, DEGREES),
    (part::COMP.name, COMP),
];

pub(super) const NOTES: &[Mark] = marks_of_words![
    sign("A..G", "a note with its octave: Bb3 and F#4; C4 is middle C").as_hard_as("96"),
    HOLD,
    NOTHING,
    sign("+", "between tones that sound together: C4+Eb4+G4"),
];

pub(super) const DEGREES: &[Mark] = marks_of_words![
    sign("1..15", "a degree of the chart's chord: 3 is the chord's own third").as_hard_as("96"),
    sign(
        "b #",
        "before a degree: counted from the root's major scale, and lowered or raised",
    ),
    sign("' ,", "behind a degree, an octave up or down"),
    sign("<", "before a degree: of the chord to come, taken early"),
    HOLD,
    NOTHING,
    sign("+", "between tones that sound together: 1+5"),
];

pub(super) const COMP: &[Mark] = &[
    NOTHING,
    chord("x", "the chord of the chart", Hand::Even, &[plain('x', "")]),
    chord("X", "the same, accented", Hand::Even, &[struck('X', ACCENT, "")]),
    chord("g", "the same as a ghost note", Hand::Even, &[struck('g', GHOST, "")]),
    sign(FIGURES, "the same, 3 dB a step: 9 is the hardest, 8 is 3 dB under it").as_hard_as("9 is 127"),
    HOLD,
    chord(
        "d",
        "a stroke of the hand down: the chord from its lowest note up, strummed",
        Hand::Down,
        &[plain('d', "")],
    ),
    chord(
        "u",
        "a stroke of the hand up, from the highest note down",
        Hand::Up,
        &[plain('u', "")],
    ),
    chord(
        "k",
        "a scratch over damped strings, short and bright",
        Hand::Scratch,
        &[struck('k', SCRATCH, "")],
    ),
    chord("<", "the chord to come, struck early", Hand::Even, &[plain('<', "")]),
    sign("{xxx}", "these marks, fitted evenly into one group's time"),
    BARLINE,
];

/// The marks of a hit or a chord of a set loudness.
const FIGURES: &str = "3..9";

/// A hit that a character means in every part.
pub(super) fn hit_of(sign: char) -> Option<(Struck, Manner)> {
    found(MARKS, sign).map(|(struck, mark)| (struck, mark.manner))
}

/// How hard a mark of a single hit says that a note is played.
pub(super) fn velocity_of(sign: char) -> Option<Struck> {
    let (struck, manner) = hit_of(sign)?;
    (manner == Manner::Single).then_some(struck)
}

/// How a character of comping strikes a chord.
pub(super) fn chord_of(sign: char) -> Option<(Struck, Hand)> {
    found(COMP, sign).map(|(struck, mark)| (struck, mark.hand))
}

fn found(marks: &[Mark], sign: char) -> Option<(Struck, Mark)> {
    if let Some(figure @ 3..=9) = sign.to_digit(10) {
        let figures = *marks.iter().find(|mark| mark.mark == FIGURES)?;
        return Some((struck(sign, stepped(9 - figure), "a hit of a set loudness"), figures));
    }
    let each = |mark: &Mark| Some((*mark.struck.iter().find(|struck| struck.sign == sign)?, *mark));
    marks.iter().find_map(each)
}

/// The velocity that is so many steps of 3 dB under the hardest, by the law 40·log10(v/127) dB.
fn stepped(steps: u32) -> f64 {
    127.0 * libm::pow(10.0, -3.0 * f64::from(steps) / 40.0)
}

/// The characters that strike in tablature, or in comping, as a sentence lists them: `x` `X` `3` to `9`.
pub(super) fn listed(comping: bool) -> Vec<String> {
    let quoted = |struck: &Struck| format!("`{}`", struck.sign);
    let each = |mark: &Mark| match mark.mark {
        FIGURES => vec!["`3` to `9`".to_string()],
        _ => mark.struck.iter().map(quoted).collect(),
    };
    if comping { COMP } else { MARKS }.iter().flat_map(each).collect()
}

/// The mark of a single hit whose velocity is nearest to one; of two that are as near, the letter.
pub(crate) fn mark_for(velocity: f64) -> char {
    let single = MARKS.iter().filter(|mark| mark.manner == Manner::Single);
    let letters = single.flat_map(|mark| mark.struck).map(|struck| struck.sign);
    let away = |sign: &char| hit_of(*sign).map_or(f64::MAX, |(struck, _)| (struck.velocity - velocity).abs());
    let all = letters.chain('3'..='9');
    all.min_by(|a, b| away(a).total_cmp(&away(b))).unwrap_or(PLAIN_MARK)
}

/// The mark of a stroke of some manner whose velocity is nearest to one.
pub(crate) fn mark_of(manner: Manner, velocity: f64) -> char {
    let away = |struck: &&Struck| (struck.velocity - velocity).abs();
    let of_manner = MARKS.iter().filter(|mark| mark.manner == manner);
    let nearest = of_manner
        .flat_map(|mark| mark.struck)
        .min_by(|a, b| away(a).total_cmp(&away(b)));
    match manner {
        Manner::Single => mark_for(velocity),
        _ => nearest.map_or(PLAIN_MARK, |struck| struck.sign),
    }
}

/// The velocity of a mark that [`mark_for`] gives.
pub(crate) fn velocity_of_mark(mark: char) -> f64 {
    velocity_of(mark).map_or(PLAIN, |struck| struck.velocity)
}

/// The mark of the note that is nearest in level to one of a velocity: `x` for a plain one, `X` for an accent, `g` for a
/// ghost.
pub(super) fn note_mark(velocity: f64) -> char {
    // Velocity goes into level by its logarithm, so half-way is the geometric mean.
    let half_way = |one: f64, other: f64| (one * other).sqrt();
    if velocity < half_way(GHOST, PLAIN) {
        'g'
    } else if velocity < half_way(PLAIN, ACCENT) {
        'x'
    } else {
        'X'
    }
}

/// Letters that no part knows as a mark, so that `marks` may give them a piece: those of English, then of Greek and Cyrillic.
pub(crate) fn free_marks() -> impl Iterator<Item = char> {
    // Syllables of counting aloud, and those that look like another letter.
    const OTHERS: &str = "aetlIOςοаеорсухАВЕКМНОРСТУХ";
    let letters = ('a'..='z')
        .chain('A'..='Z')
        .chain('α'..='ω')
        .chain('а'..='я')
        .chain('А'..='Я');
    let known = |letter: &char| HAT_MARKS.iter().any(|(mark, _)| mark == letter) || hit_of(*letter).is_some();
    letters.filter(move |letter| !known(letter) && !OTHERS.contains(*letter))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The velocity law of DLS and General MIDI 2: 40·log10(v/127) dB [memory].
    #[test]
    fn figures_are_three_decibels_apart() {
        let velocity = |mark| hit_of(mark).map(|(struck, _)| struck.velocity);
        for (step, mark) in "9876543".chars().enumerate() {
            let level = 40.0 * libm::log10(velocity(mark).expect("a figure") / 127.0);
            assert!((level + 3.0 * step as f64).abs() < 1e-12, "{mark} sounds at {level} dB");
        }
        assert_eq!(velocity('9'), Some(127.0));
        assert!(velocity('2').is_none());
    }

    #[test]
    fn the_reference_lists_what_the_reading_takes() {
        for (marks, reads) in [
            (MARKS, (|sign| hit_of(sign).is_some()) as fn(char) -> bool),
            (COMP, |sign| chord_of(sign).is_some()),
        ] {
            for mark in marks.iter().filter(|mark| !mark.struck.is_empty()) {
                let signs: Vec<char> = mark.mark.chars().filter(|sign| *sign != ' ').collect();
                let struck: Vec<char> = mark.struck.iter().map(|struck| struck.sign).collect();
                assert_eq!(signs, struck);
                assert!(signs.into_iter().all(reads));
            }
        }
        assert_eq!(MARKS[4].velocity(), "96, 118");
        assert_eq!(NOTES[4].velocity(), ACCENT.to_string());
        assert_eq!(NOTES[5].velocity(), GHOST.to_string());
    }
}
