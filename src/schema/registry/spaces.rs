//! Rooms and delays.

use crate::schema::setting::{Key, Kind, Standard, key, number};

const LEVEL: Key = number(
    "level",
    -120.0,
    40.0,
    "dB",
    Standard::Number(0.0),
    "The level of what comes back from it; off is silence.",
)
.or_off();

pub(crate) const ROOM: &[Key] = &[
    number(
        "size",
        1.0,
        200.0,
        "metres",
        Standard::Number(8.0),
        "The length of its longest wall.",
    ),
    number(
        "decay",
        0.05,
        60.0,
        "seconds",
        Standard::Number(0.6),
        "How long it takes to fall 60 dB.",
    ),
    number(
        "damping",
        0.0,
        1.0,
        "",
        Standard::Number(0.4),
        "How much sooner the highs die than the lows.",
    )
    .or_off(),
    number(
        "predelay",
        0.0,
        1000.0,
        "ms",
        Standard::Number(10.0),
        "How long before the room answers.",
    )
    .or_off(),
    number(
        "low_cut",
        10.0,
        24_000.0,
        "Hz",
        Standard::Number(150.0),
        "Takes away what is lower.",
    )
    .or_off(),
    LEVEL,
    key(
        "impulse",
        Kind::Path,
        Standard::Said("none"),
        "A recorded impulse response in place of the synthesised room, relative to this file. \
         Then `predelay` is 0 and `low_cut` off unless given, and `size`, `decay` and `damping` have no meaning.",
    ),
];

pub(crate) const DELAY: &[Key] = &[
    key(
        "time",
        Kind::Time,
        Standard::Text("1/8 dotted"),
        "From one echo to the next.",
    ),
    number(
        "feedback",
        0.0,
        98.0,
        "percent",
        Standard::Number(30.0),
        "Each echo's share of the one before it.",
    )
    .or_off(),
    number(
        "low_cut",
        10.0,
        24_000.0,
        "Hz",
        Standard::Number(200.0),
        "Takes away what is lower, echo by echo.",
    )
    .or_off(),
    number(
        "high_cut",
        10.0,
        24_000.0,
        "Hz",
        Standard::Number(6000.0),
        "Takes away what is higher, echo by echo.",
    )
    .or_off(),
    key("cross", Kind::Switch, Standard::Switch(false), "Echoes change sides.").or_off(),
    LEVEL,
];
