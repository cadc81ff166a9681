//! The keys of a part: what it plays and how its hits sound.

use super::super::key::{Key, Kind, Standard, Table, key, number};
use super::feel::LOOSE_OF_A_PART;
use super::top::SWING_OF_A_PART;

pub(super) const PART: &[Key] = &[
    key(
        "name",
        Kind::Name("part"),
        Standard::Needed,
        "What the part is called. Parts and buses share one set of names.",
    ),
    key(
        "piece",
        Kind::Name("piece of the kit"),
        Standard::Said("the part's name"),
        "The piece of the kit that it plays.",
    ),
    key(
        "bus",
        Kind::Name("bus"),
        Standard::Said("the master"),
        "The bus it goes to.",
    )
    .or_off(),
    key(
        "hits",
        Kind::Hits,
        Standard::Said("its lines in `[tab]`"),
        "What it plays: a line of marks, a list that counts aloud, or a table of these by bars. A part has its hits here or in `[tab]`, not both.",
    ),
    key(
        "midi",
        Kind::Path,
        Standard::Said("none"),
        "A performance that it plays in place of hits: a Standard MIDI File, relative to this file. Its quarter notes are \
         the loop's, whatever tempo it tells. Percussion keys play the pieces of General MIDI; with a `piece` the part plays \
         that piece's keys alone, so that one performance can feed several parts. The loop's swing leaves it as it was \
         played. Notes after the last bar are left out, and a shorter performance is not repeated.",
    ),
    key(
        "keys",
        Kind::Keys,
        Standard::Said("those of the kit's `kit.toml`, then those of General MIDI"),
        "Pieces that the keys of `midi` play where they are not those of General MIDI: { 36 = \"kick\" }.",
    ),
    key(
        "channel",
        Kind::Integer(1, 16, ""),
        Standard::Integer(10),
        "The channel of `midi` that it plays, from 1; percussion is on 10.",
    ),
    number(
        "tighten",
        0.0,
        100.0,
        "percent",
        Standard::Number(0.0),
        "How far each note of `midi` is pulled to the nearest sixteenth, counted from its barline and swung as the loop \
         swings: at 0 it stays where it was played, at 100 it lies on the grid.",
    )
    .or_off(),
    key(
        "marks",
        Kind::Marks,
        Standard::Said("on a hat, `o` for hat-open and `p` for hat-pedal"),
        "Letters that play another piece: { o = \"hat-open\" } makes `o` a hit on hat-open.",
    ),
    number(
        "odds",
        0.0,
        100.0,
        "percent",
        Standard::Number(50.0),
        "How likely a hit marked `m` is to be played; each is drawn by itself.",
    ),
    number(
        "behind",
        -500.0,
        500.0,
        "ms",
        Standard::Number(0.0),
        "How long after the beat it plays; negative: ahead of it.",
    )
    .or_off(),
    SWING_OF_A_PART,
    LOOSE_OF_A_PART,
    key(
        "velocity",
        Kind::Velocities,
        Standard::Off,
        "A range that plain hits spread over evenly; other marks keep their distance to them.",
    )
    .or_off(),
    key(
        "mute",
        Kind::Switch,
        Standard::Switch(false),
        "Keeps it from being heard. It still chokes and ducks others.",
    ),
];

pub(super) const SOUND: &[Key] = &[
    number(
        "touch",
        0.0,
        1.0,
        "",
        Standard::Number(1.0),
        "How far velocity reaches into level: at 0 every hit is equally loud.",
    )
    .or_off(),
    number(
        "dark",
        0.0,
        100.0,
        "percent",
        Standard::Number(0.0),
        "How much duller a soft hit is than a hard one.",
    )
    .or_off(),
    number(
        "tune",
        -48.0,
        48.0,
        "semitones",
        Standard::Number(0.0),
        "Plays the recording higher or lower.",
    )
    .or_off(),
    key(
        "vary",
        Kind::Table(Table::Vary),
        Standard::Off,
        "What differs from hit to hit, as it does when a hand plays.",
    )
    .or_off(),
    key(
        "envelope",
        Kind::Table(Table::Envelope),
        Standard::Off,
        "How a hit swells, stays and falls, over what the recording does.",
    )
    .or_off(),
    number(
        "release",
        0.0,
        60_000.0,
        "ms",
        Standard::Number(80.0),
        "How long a note that ends takes to fade.",
    )
    .or_off(),
    key(
        "choke",
        Kind::Text,
        Standard::Said("the kit's: the hats are one group"),
        "A group's name: hits of one group stop one another.",
    )
    .or_off(),
    key(
        "reverse",
        Kind::Switch,
        Standard::Switch(false),
        "Plays the recording backwards.",
    )
    .or_off(),
    number(
        "start",
        0.0,
        600_000.0,
        "ms",
        Standard::Number(0.0),
        "How far into the recording a hit begins.",
    )
    .or_off(),
];

pub(super) const VARY: &[Key] = &[
    number(
        "tune",
        0.0,
        24.0,
        "semitones",
        Standard::Number(0.0),
        "Hits are up to so much higher or lower.",
    )
    .or_off(),
    number(
        "gain",
        0.0,
        24.0,
        "dB",
        Standard::Number(0.0),
        "Hits are up to so much louder or softer.",
    )
    .or_off(),
    number(
        "start",
        0.0,
        10_000.0,
        "ms",
        Standard::Number(0.0),
        "Hits begin up to so much later into the recording.",
    )
    .or_off(),
];

pub(super) const ENVELOPE: &[Key] = &[
    number(
        "attack",
        0.0,
        60_000.0,
        "ms",
        Standard::Number(0.0),
        "From silence to full level.",
    )
    .or_off(),
    number(
        "hold",
        0.0,
        60_000.0,
        "ms",
        Standard::Number(0.0),
        "How long it stays at full level.",
    )
    .or_off(),
    number(
        "decay",
        1.0,
        600_000.0,
        "ms",
        Standard::Off,
        "How long it then takes to fall 60 dB; off: it does not fall.",
    )
    .or_off(),
];
