//! The keys of a part: what it plays and how its hits sound.

use super::feel::LOOSE_OF_A_PART;
use super::top::SWING_OF_A_PART;
use crate::schema::setting::{Key, Kind, Standard, Table, key, number};

pub(crate) const PART: &[Key] = &[
    key(
        "name",
        Kind::Name("part"),
        Standard::Needed,
        "What the part is called. Parts and buses share one set of names.",
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
        "notes",
        Kind::Bars("a line of notes such as \"G1 = - Bb1\""),
        Standard::Said("none"),
        "What it plays, note by note: words between spaces share the bar evenly. `=` holds, `-` rests, C4+Eb4+G4 sound together, \
         G1^ is an accent, (G1) a ghost note, `|` a barline.",
    ),
    key(
        "degrees",
        Kind::Bars("a line of degrees such as \"1 - 5 -\""),
        Standard::Said("none"),
        "The same as `notes` with degrees of the chart's chords: 3 is the chord's own third, b3 counts from the root's major scale, \
         8 or 1' is an octave up, 5, one down; <1 is the chord to come, taken early.",
    ),
    key(
        "comp",
        Kind::Bars("a rhythm such as \"x--x --x-\""),
        Standard::Said("none"),
        "A rhythm on which it plays the chart's chords: x X g 3-9 and `-` as in hits, `=` holds, d and u are strokes down and up, \
         k a muted scratch, `<` a strike of the chord to come.",
    ),
    key(
        "change",
        Kind::Named(Table::Playing),
        Standard::Said("none"),
        "Keys of playing that are different in some bars: [part.change] with \"4\" = { voicing = \"shell\" }.",
    ),
    key(
        "midi",
        Kind::Path,
        Standard::Said("none"),
        "A performance that it plays in place of hits: a Standard MIDI File, relative to this file. Its quarter notes are \
         the loop's, whatever tempo it tells. Percussion keys play the pieces of General MIDI; with a `piece` the part plays \
         that piece's keys alone, so that one performance can feed several parts. A `piece` of known root (kit.toml's `root` or \
         `zones`, a note in its file's name, `stand-in`) that no key of the map means plays every key as a note of that pitch, \
         as long as it was held; what lies more than four octaves from its roots is left out and told. The loop's swing leaves \
         it as it was played. Notes after the last bar are left out, and a shorter performance is not repeated.",
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
        "The channel of `midi` that it plays, from 1; percussion is on 10, what a keyboard plays most likely on 1. Notes are written \
         back on it.",
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
];

/// Keys of playing, which `[part.change]` can set for some bars.
pub(crate) const PLAYING: &[Key] = &[
    key(
        "marks",
        Kind::Marks,
        Standard::Said("on a hat, `o` for hat-open and `p` for hat-pedal"),
        "Letters that play another piece: { o = \"hat-open\" } makes `o` a hit on hat-open. In `[part.change]` marks that are not named keep what they play.",
    ),
    key(
        "piece",
        Kind::Name("piece of the kit"),
        Standard::Said("the part's name"),
        "The piece of the kit that it plays.",
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
    key(
        "voicing",
        Kind::Choice(&["close", "open", "drop 2", "rootless", "shell"]),
        Standard::Text("close"),
        "How `comp` spreads a chord: within an octave, every second voice up, the second from the top down, without its root, or root, third and seventh alone.",
    ),
    key(
        "register",
        Kind::Note,
        Standard::Said("C2 for degrees, C4 for comp"),
        "A note: each chord's 1 is its root at or next above it; chords are voiced near it.",
    ),
    key(
        "strum",
        Kind::TableOr(Table::Strum, "ms"),
        Standard::Off,
        "A chord's notes come one after another, as a thumb brings them. Strokes down and up take 25 ms unless told otherwise.",
    )
    .or_off(),
    key(
        "arpeggio",
        Kind::Table(Table::Arpeggio),
        Standard::Off,
        "A chord is broken into its notes, as long as it is written to sound.",
    )
    .or_off(),
    number(
        "length",
        1.0,
        400.0,
        "percent",
        Standard::Said("100 for notes, degrees, comp and MIDI played as notes, off for hits"),
        "How much of its written length a note sounds; off lets it ring.",
    )
    .or_off(),
    key(
        "double",
        Kind::Tables(Table::Double),
        Standard::Off,
        "Voices that play along, each on a piece, at an interval, a gain and a pan of its own: a part by itself, called NAME double 1.",
    )
    .or_off(),
];

pub(crate) const STRUM: &[Key] = &[
    number(
        "ms",
        0.0,
        2000.0,
        "ms",
        Standard::Number(25.0),
        "From a chord's first note to its last.",
    ),
    key(
        "order",
        Kind::Choice(&["up", "down"]),
        Standard::Text("up"),
        "From the lowest note up, or from the highest down.",
    ),
];

pub(crate) const ARPEGGIO: &[Key] = &[
    key("step", Kind::NoteValue, Standard::Text("1/16"), "From note to note."),
    key(
        "order",
        Kind::Choice(&["up", "down", "up-down", "random"]),
        Standard::Text("up"),
        "The way through the chord's notes; random is drawn from the seed.",
    ),
];

pub(crate) const DOUBLE: &[Key] = &[
    key(
        "interval",
        Kind::Interval,
        Standard::Number(0.0),
        "How far from the part's own notes. In words it goes along in the loop's `key`.",
    ),
    key(
        "piece",
        Kind::Name("piece of the kit"),
        Standard::Said("the part's own"),
        "The piece of the kit that it plays.",
    ),
    number(
        "gain",
        -120.0,
        40.0,
        "dB",
        Standard::Number(0.0),
        "Against the part's own gain.",
    ),
    number(
        "pan",
        -100.0,
        100.0,
        "",
        Standard::Said("the part's own"),
        "From -100 (left) to 100 (right).",
    ),
    number(
        "behind",
        -500.0,
        500.0,
        "ms",
        Standard::Number(0.0),
        "How long after the part it plays; negative: before it.",
    ),
];

pub(crate) const SOUND: &[Key] = &[
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
        "How far into the recording a hit begins, counted from the onset of its sound.",
    )
    .or_off(),
    key(
        "trim",
        Kind::Switch,
        Standard::Switch(true),
        "Takes care of recordings: leaves out what is before the sound, so that hits land on time, takes away an offset (DC) above -50 dBFS, and fades the last 2 ms of one that breaks off. The files stay as they are.",
    )
    .or_off(),
];

pub(crate) const VARY: &[Key] = &[
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

pub(crate) const ENVELOPE: &[Key] = &[
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
