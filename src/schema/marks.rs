//! The marks of tablature, and those of notes, degrees and comping: how hard they are, and what the reference says of them.

/// The velocity of a plain hit, from 1 to 127.
pub const PLAIN: f64 = 96.0;
/// The velocity of an accent.
pub const ACCENT: f64 = 118.0;
/// The velocity of a ghost note.
pub const GHOST: f64 = 40.0;
/// The velocity of what follows its neighbours fast: the strokes of rolls; and of a hit that is left to chance.
const LIGHT: f64 = 80.0;
/// The same, accented.
const LIGHT_ACCENT: f64 = 104.0;
/// The velocity of a muted scratch: softer than a strike, and no ghost.
pub const SCRATCH: f64 = 70.0;

/// One mark that strikes in every part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Struck {
    /// The character.
    pub sign: char,
    /// How hard, from 1 to 127.
    pub velocity: f64,
    /// What it is, in a sentence.
    pub name: &'static str,
}

const fn struck(sign: char, velocity: f64, name: &'static str) -> Struck {
    Struck { sign, velocity, name }
}

/// A mark, as the reference explains it, or two that differ by an accent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// How it is written.
    pub mark: &'static str,
    /// What it plays.
    pub plays: &'static str,
    /// How hard, in velocities; empty where it has none.
    pub velocity: &'static str,
    /// The characters that strike, each for itself; [`figured`] gives those from 3 to 9.
    pub strikes: &'static [Struck],
}

/// The velocity of a figure from 3 to 9: each step is 3 dB, by the law 40·log10(v/127) dB.
pub fn figured(figure: u32) -> f64 {
    127.0 * libm::pow(10.0, -3.0 * f64::from(9u32.saturating_sub(figure)) / 40.0)
}

/// Every mark that a line of tablature may hold.
pub const MARKS: &[Mark] = &[
    Mark {
        mark: "-",
        plays: "nothing",
        velocity: "",
        strikes: &[],
    },
    Mark {
        mark: "x",
        plays: "a hit",
        velocity: "96",
        strikes: &[struck('x', PLAIN, "a hit")],
    },
    Mark {
        mark: "X",
        plays: "an accent",
        velocity: "118",
        strikes: &[struck('X', ACCENT, "an accent")],
    },
    Mark {
        mark: "g",
        plays: "a ghost note",
        velocity: "40",
        strikes: &[struck('g', GHOST, "a ghost note")],
    },
    Mark {
        mark: "f F",
        plays: "a flam: one soft grace note before it; accented",
        velocity: "96, 118",
        strikes: &[struck('f', PLAIN, "a flam"), struck('F', ACCENT, "an accented flam")],
    },
    Mark {
        mark: "d D",
        plays: "a drag: two soft grace notes before it; accented",
        velocity: "96, 118",
        strikes: &[struck('d', PLAIN, "a drag"), struck('D', ACCENT, "an accented drag")],
    },
    Mark {
        mark: "r R",
        plays: "two even strokes in this step: rrrr is a single-stroke roll; accented",
        velocity: "80, 104",
        strikes: &[
            struck('r', LIGHT, "two even strokes"),
            struck('R', LIGHT_ACCENT, "two even strokes, accented"),
        ],
    },
    Mark {
        mark: "b B",
        plays: "a press of a buzz roll: bounces that close up and fade, sustained from step to step; accented",
        velocity: "80, 104",
        strikes: &[
            struck('b', LIGHT, "a press of a buzz roll"),
            struck('B', LIGHT_ACCENT, "an accented press of a buzz roll"),
        ],
    },
    Mark {
        mark: "m",
        plays: "maybe a hit, with the part's `odds` in percent",
        velocity: "80",
        strikes: &[struck('m', LIGHT, "a hit that may be")],
    },
    Mark {
        mark: "3..9",
        plays: "a hit, 3 dB a step: 9 is the hardest, 8 is 3 dB under it",
        velocity: "9 is 127",
        strikes: &[],
    },
    Mark {
        mark: "{xxx}",
        plays: "these marks, fitted evenly into one group's time, or inside a group into one step's",
        velocity: "",
        strikes: &[],
    },
    Mark {
        mark: "|",
        plays: "a barline: a line of several bars repeats over the bars it is given",
        velocity: "",
        strikes: &[],
    },
    Mark {
        mark: "others",
        plays: "what the part's `marks` say, such as { o = \"hat-open\" }; on a hat, o and p are the open and the pedalled hat",
        velocity: "96",
        strikes: &[],
    },
];

const fn mark(mark: &'static str, plays: &'static str, velocity: &'static str) -> Mark {
    Mark {
        mark,
        plays,
        velocity,
        strikes: &[],
    }
}

/// The marks of `notes`, `degrees` and `comp`, by their keys.
pub const PITCHED_MARKS: &[(&str, &[Mark])] = &[("notes", NOTES), ("degrees", DEGREES), ("comp", COMP)];

const NOTES: &[Mark] = &[
    mark("A..G", "a note with its octave: Bb3 and F#4; C4 is middle C", "96"),
    mark(
        "=",
        "holds the note; at the start of a bar, the note of the bar before",
        "",
    ),
    mark("-", "nothing", ""),
    mark("+", "between tones that sound together: C4+Eb4+G4", ""),
    mark("^", "behind a tone, an accent", "118"),
    mark("( )", "around a tone, a ghost note", "40"),
    mark(
        "|",
        "a barline: a line of several bars repeats over the bars it is given",
        "",
    ),
];

const DEGREES: &[Mark] = &[
    mark(
        "1..15",
        "a degree of the chart's chord: 3 is the chord's own third",
        "96",
    ),
    mark(
        "b #",
        "before a degree: counted from the root's major scale, and lowered or raised",
        "",
    ),
    mark("' ,", "behind a degree, an octave up or down", ""),
    mark("<", "before a degree: of the chord to come, taken early", ""),
    mark(
        "=",
        "holds the note; at the start of a bar, the note of the bar before",
        "",
    ),
    mark("-", "nothing", ""),
    mark("+", "between tones that sound together: 1+5", ""),
    mark("^", "behind a tone, an accent", "118"),
    mark("( )", "around a tone, a ghost note", "40"),
    mark(
        "|",
        "a barline: a line of several bars repeats over the bars it is given",
        "",
    ),
];

const COMP: &[Mark] = &[
    mark("-", "nothing", ""),
    mark("x", "the chord of the chart", "96"),
    mark("X", "the same, accented", "118"),
    mark("g", "the same as a ghost note", "40"),
    mark(
        "3..9",
        "the same, 3 dB a step: 9 is the hardest, 8 is 3 dB under it",
        "9 is 127",
    ),
    mark(
        "=",
        "holds the note; at the start of a bar, the note of the bar before",
        "",
    ),
    mark(
        "d",
        "a stroke of the hand down: the chord from its lowest note up, strummed",
        "96",
    ),
    mark("u", "a stroke of the hand up, from the highest note down", "96"),
    mark("k", "a muted scratch", "70"),
    mark("<", "the chord to come, struck early", "96"),
    mark("{xxx}", "these marks, fitted evenly into one group's time", ""),
    mark(
        "|",
        "a barline: a line of several bars repeats over the bars it is given",
        "",
    ),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_reference_says_what_is_played() {
        for mark in MARKS.iter().filter(|mark| !mark.strikes.is_empty()) {
            let signs: Vec<String> = mark.strikes.iter().map(|struck| struck.sign.to_string()).collect();
            let velocities: Vec<String> = mark.strikes.iter().map(|struck| struck.velocity.to_string()).collect();
            assert_eq!(
                (mark.mark, mark.velocity),
                (&signs.join(" ")[..], &velocities.join(", ")[..])
            );
        }
    }

    /// The velocity law of DLS and General MIDI 2: 40·log10(v/127) dB [memory].
    #[test]
    fn figures_are_three_decibels_apart() {
        for (step, figure) in (3..=9).rev().enumerate() {
            let level = 40.0 * libm::log10(figured(figure) / 127.0);
            assert!((level + 3.0 * step as f64).abs() < 1e-12, "{figure} is at {level} dB");
        }
        assert_eq!(figured(9), 127.0);
    }
}
