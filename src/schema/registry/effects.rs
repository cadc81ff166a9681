//! A strip's keys, in the order in which it runs, and what buses and the master have besides.

use crate::schema::setting::{Key, Kind, Standard, Table, key, number};

const LOWEST: f64 = 10.0;
const HIGHEST: f64 = 24_000.0;
/// The most bells of one strip: one for each third of an octave that there is to be heard, as graphic equalisers have them (IEC 61260-1), and
/// one more.
pub const MOST_BELLS: usize = 32;
const FAINTEST: f64 = -120.0;
const LOUDEST: f64 = 40.0;

pub(crate) const STRIP: &[Key] = &[
    number(
        "low_cut",
        LOWEST,
        HIGHEST,
        "Hz",
        Standard::Off,
        "Takes away what is lower, 12 dB an octave.",
    )
    .or_off(),
    number(
        "high_cut",
        LOWEST,
        HIGHEST,
        "Hz",
        Standard::Off,
        "Takes away what is higher, 12 dB an octave.",
    )
    .or_off(),
    key(
        "eq",
        Kind::Tables(Table::Bell),
        Standard::Off,
        "Lifts and dips: a list of bells, each with its place, gain and width.",
    )
    .or_off(),
    key(
        "compress",
        Kind::Table(Table::Compress),
        Standard::Off,
        "A compressor; an empty table takes its defaults.",
    )
    .or_off(),
    key(
        "drive",
        Kind::TableOr(Table::Drive, "amount"),
        Standard::Off,
        "Drives it into a soft saturator; 0 is off.",
    )
    .or_off(),
    key(
        "spread",
        Kind::Number(-100.0, 100.0, "ms"),
        Standard::Off,
        "Widens it by letting the right side lag; negative: the left.",
    )
    .or_off(),
    key(
        "width",
        Kind::Number(0.0, 400.0, "percent"),
        Standard::Number(100.0),
        "The level of the side signal: 0 is mono, 100 leaves it as it is.",
    )
    .or_off(),
    number(
        "gain",
        FAINTEST,
        LOUDEST,
        "dB",
        Standard::Number(0.0),
        "Its level; off is silence.",
    )
    .or_off(),
    number(
        "pan",
        -100.0,
        100.0,
        "",
        Standard::Number(0.0),
        "Its place from -100 (left) to 100 (right).",
    )
    .or_off(),
];

pub(crate) const SENDS: &[Key] = &[
    key(
        "duck",
        Kind::Table(Table::Duck),
        Standard::Off,
        "Makes way while a part plays.",
    )
    .or_off(),
    number(
        "room",
        FAINTEST,
        LOUDEST,
        "dB",
        Standard::Off,
        "How much of it goes to the `[room]`, taken after gain and pan.",
    )
    .or_off(),
    number(
        "delay",
        FAINTEST,
        LOUDEST,
        "dB",
        Standard::Off,
        "How much of it goes to the `[delay]`, taken after gain and pan.",
    )
    .or_off(),
    key(
        "sends",
        Kind::Levels,
        Standard::Off,
        "How much of it goes to the rooms and delays that go by name: { hall = -20, slap = -16 }.",
    )
    .or_off(),
];

pub(crate) const BELL: &[Key] = &[
    number("at", LOWEST, HIGHEST, "Hz", Standard::Needed, "The centre."),
    number(
        "gain",
        -LOUDEST,
        LOUDEST,
        "dB",
        Standard::Needed,
        "The lift or dip at the centre.",
    ),
    number(
        "width",
        0.05,
        10.0,
        "octaves",
        Standard::Number(1.0),
        "From one point of half the gain to the other.",
    ),
];

pub(crate) const COMPRESS: &[Key] = &[
    number(
        "threshold",
        -100.0,
        0.0,
        "dB",
        Standard::Number(-18.0),
        "The level above which it squeezes.",
    ),
    number(
        "ratio",
        1.0,
        100.0,
        "",
        Standard::Number(2.0),
        "This many dB above the threshold become 1 dB.",
    ),
    number(
        "attack",
        0.0,
        1000.0,
        "ms",
        Standard::Number(20.0),
        "How fast it takes hold: the time to 63 percent.",
    ),
    number(
        "release",
        1.0,
        10_000.0,
        "ms",
        Standard::Number(150.0),
        "How fast it lets go: the time to 63 percent.",
    ),
    number(
        "knee",
        0.0,
        60.0,
        "dB",
        Standard::Number(6.0),
        "The width of the bend around the threshold; 0 is a corner.",
    )
    .or_off(),
    number(
        "makeup",
        -LOUDEST,
        LOUDEST,
        "dB",
        Standard::Number(0.0),
        "Gain after it.",
    )
    .or_off(),
    number(
        "blend",
        0.0,
        100.0,
        "percent",
        Standard::Number(100.0),
        "The squeezed share; the rest is plain (parallel compression).",
    ),
];

pub(crate) const DRIVE: &[Key] = &[
    number(
        "amount",
        0.0,
        60.0,
        "dB",
        Standard::Number(0.0),
        "How far it is driven into the saturator; 0 is off.",
    )
    .or_off(),
    number(
        "blend",
        0.0,
        100.0,
        "percent",
        Standard::Number(100.0),
        "The driven share; the rest is plain.",
    ),
    number(
        "high_cut",
        LOWEST,
        HIGHEST,
        "Hz",
        Standard::Off,
        "Takes the top off what the saturator adds.",
    )
    .or_off(),
];

pub(crate) const DUCK: &[Key] = &[
    key(
        "by",
        Kind::Name("part"),
        Standard::Needed,
        "The part that it makes way for, followed before that part's fader and mute.",
    ),
    number(
        "depth",
        0.0,
        100.0,
        "dB",
        Standard::Number(6.0),
        "How far it goes down at that part's loudest.",
    )
    .or_off(),
    number(
        "release",
        1.0,
        10_000.0,
        "ms",
        Standard::Number(150.0),
        "How fast it comes back: the time to 63 percent.",
    ),
];

const CEILING: Key = number(
    "ceiling",
    -60.0,
    0.0,
    "dBTP",
    Standard::Off,
    "No true peak gets above it.",
)
.or_off();

pub(crate) const BUS: &[Key] = &[
    key(
        "name",
        Kind::Name("bus"),
        Standard::Needed,
        "What the bus is called. Parts and buses share one set of names.",
    ),
    key(
        "bus",
        Kind::Name("bus"),
        Standard::Said("the master"),
        "The bus it feeds in its turn.",
    )
    .or_off(),
    CEILING,
];

pub(crate) const MASTER: &[Key] = &[
    Key {
        standard: Standard::Number(-1.0),
        ..CEILING
    },
    key(
        "duck",
        Kind::Table(Table::Duck),
        Standard::Off,
        "Makes way while a part plays.",
    )
    .or_off(),
    number(
        "loudness",
        -60.0,
        0.0,
        "LUFS",
        Standard::Off,
        "Lifts or lowers the whole to this integrated loudness, under the ceiling.",
    )
    .or_off(),
];
