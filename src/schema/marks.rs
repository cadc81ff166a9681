//! The marks of tablature, and those of notes, degrees and comping, for the reference.

/// A mark, as the reference explains it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Mark {
    /// How it is written.
    pub mark: &'static str,
    /// What it plays.
    pub plays: &'static str,
    /// How hard, in velocities; empty where it has none.
    pub velocity: &'static str,
}

/// Every mark that a line of tablature may hold.
pub const MARKS: &[Mark] = &[
    Mark {
        mark: "-",
        plays: "nothing",
        velocity: "",
    },
    Mark {
        mark: "x",
        plays: "a hit",
        velocity: "96",
    },
    Mark {
        mark: "X",
        plays: "an accent",
        velocity: "118",
    },
    Mark {
        mark: "g",
        plays: "a ghost note",
        velocity: "40",
    },
    Mark {
        mark: "f F",
        plays: "a flam: one soft grace note before it; accented",
        velocity: "96, 118",
    },
    Mark {
        mark: "d D",
        plays: "a drag: two soft grace notes before it; accented",
        velocity: "96, 118",
    },
    Mark {
        mark: "r R",
        plays: "two even strokes in this step: rrrr is a single-stroke roll; accented",
        velocity: "80, 104",
    },
    Mark {
        mark: "b B",
        plays: "a press of a buzz roll: bounces that close up and fade, sustained from step to step; accented",
        velocity: "80, 104",
    },
    Mark {
        mark: "m",
        plays: "maybe a hit, with the part's `odds` in percent",
        velocity: "80",
    },
    Mark {
        mark: "3..9",
        plays: "a hit, 3 dB a step: 9 is the hardest, 8 is 3 dB under it",
        velocity: "9 is 127",
    },
    Mark {
        mark: "{xxx}",
        plays: "these marks, fitted evenly into one group's time, or inside a group into one step's",
        velocity: "",
    },
    Mark {
        mark: "|",
        plays: "a barline: a line of several bars repeats over the bars it is given",
        velocity: "",
    },
    Mark {
        mark: "others",
        plays: "what the part's `marks` say, such as { o = \"hat-open\" }; on a hat, o and p are the open and the pedalled hat",
        velocity: "96",
    },
];

const fn mark(mark: &'static str, plays: &'static str, velocity: &'static str) -> Mark {
    Mark { mark, plays, velocity }
}

/// The marks of `notes`, `degrees` and `comp`, by their keys.
pub const PITCHED_MARKS: &[(&str, &[Mark])] = &[("notes", NOTES), ("degrees", DEGREES), ("comp", COMP)];

const NOTES: &[Mark] = &[
    mark("A..G", "a note with its octave: Bb3 and F#4; C4 is middle C", "96"),
    mark(
        "=",
        "holds what sounds; at the opening of a bar, what the bar before left sounding",
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
        "holds what sounds; at the opening of a bar, what the bar before left sounding",
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
        "holds what sounds; at the opening of a bar, what the bar before left sounding",
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
