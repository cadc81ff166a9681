//! The keys of a drummer's hand: drift, swells, accents of the whole band.

use crate::schema::setting::{Key, Kind, Standard, Table, key, number};

pub(crate) const LOOSE_OF_A_PART: Key = key(
    "loose",
    Kind::Table(Table::Loose),
    Standard::Said("that of `[feel]`"),
    "How far a player drifts, as people do: in long slow swings with small ones on them (1/f), repeating with the loop.",
)
.or_off();

pub(crate) const LOOSE: &[Key] = &[
    number(
        "ms",
        0.0,
        100.0,
        "ms",
        Standard::Number(0.0),
        "The spread of the drift in time: its standard deviation.",
    )
    .or_off(),
    number(
        "velocity",
        0.0,
        60.0,
        "",
        Standard::Number(0.0),
        "The spread of the drift in velocity: its standard deviation.",
    )
    .or_off(),
    number(
        "together",
        0.0,
        1.0,
        "",
        Standard::Number(0.0),
        "The share that a part drifts with the band: the drifts of two parts correlate by it (by the root of the product of \
         theirs, where they differ). At 1 all drift as one.",
    ),
];

pub(crate) const ACCENTS: &[Key] = &[
    key(
        "hits",
        Kind::Hits,
        Standard::Said("what its bars say"),
        "Where the accents fall, for all bars or in a table of bars. In place of it `[accents]` can name the bars itself: \"4\" = \"X--- ---X\".",
    ),
    key(
        "parts",
        Kind::Names("part"),
        Standard::Said("all"),
        "The parts that play the accents.",
    ),
];

pub(crate) const SWELL: &[Key] = &[
    key(
        "swell",
        Kind::Swell,
        Standard::Needed,
        "What a plain hit's velocity is at the beginning of the bars given and at their end: in between it goes evenly, and all other marks \
         are scaled with it. Each run of neighbouring bars swells anew.",
    ),
    key("play", Kind::Line, Standard::Needed, "What is played while it swells."),
];
