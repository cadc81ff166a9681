//! The marks of tablature, for the reference.

/// A mark of tablature, as the reference explains it.
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
        mark: "=",
        plays: "in notes, degrees and comp: holds what sounds; at the opening of a bar what the bar before left sounding",
        velocity: "",
    },
    Mark {
        mark: "u",
        plays: "in comp, a stroke of the hand up, as d is one down",
        velocity: "96",
    },
    Mark {
        mark: "k",
        plays: "in comp, a muted scratch",
        velocity: "70",
    },
    Mark {
        mark: "<",
        plays: "in comp, a strike of the chord to come; before a degree, as in <1, the same",
        velocity: "96",
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
