//! A loop file's tables, and its keys of time.

use super::feel::LOOSE_OF_A_PART;
use crate::schema::setting::{Key, Kind, Standard, Table, key, number};

pub(crate) const LOOP_FILE: &[Key] = &[
    key(
        "loop",
        Kind::Table(Table::Loop),
        Standard::Needed,
        "What the loop is: tempo, length, metre, kit.",
    ),
    key(
        "feel",
        Kind::Table(Table::Feel),
        Standard::Said("straight"),
        "How the whole loop is played.",
    ),
    key(
        "tab",
        Kind::Tablature,
        Standard::Said("none"),
        "The drums as tablature: for some bars, a text with a line a part, its name and its marks. \
         A name that no `[[part]]` has is a part of that piece with default sound.",
    ),
    key(
        "chords",
        Kind::Bars("a line of chords such as \"Cm7 / / F13\""),
        Standard::Said("none"),
        "The chord chart: for some bars, their chord symbols. Several share a bar evenly; with `/` every word is a beat, and a slash \
         is one more beat of the same chord. `%` is the bar before again, N.C. no chord, `|` a barline.",
    ),
    key(
        "accents",
        Kind::Accents,
        Standard::Said("none"),
        "Ensemble hits, by bars: whatever plays exactly on these steps has its velocity raised by 118/96, as an accent \
         is over a plain hit, to 127 at the most. Any mark but `-` is an accent. What was played as MIDI takes the accent of the \
         step that it is nearest to: within half a sixteenth of it, or half of the accents' own step where that is finer, the \
         steps swung as the loop swings.",
    ),
    key(
        "part",
        Kind::Tables(Table::Part),
        Standard::Said("none"),
        "The parts: what each plays, and how it sounds.",
    ),
    key(
        "bus",
        Kind::Tables(Table::Bus),
        Standard::Said("none"),
        "Buses: several parts through one strip.",
    ),
    key(
        "room",
        Kind::Table(Table::Room),
        Standard::Said("a small room"),
        "The room that `room` sends to.",
    ),
    key(
        "rooms",
        Kind::Named(Table::Room),
        Standard::Said("none"),
        "More rooms by name: `[rooms.hall]`. Parts and buses send to them by `sends`.",
    ),
    key(
        "delay",
        Kind::Table(Table::Delay),
        Standard::Said("dotted eighths"),
        "The delay that `delay` sends to.",
    ),
    key(
        "delays",
        Kind::Named(Table::Delay),
        Standard::Said("none"),
        "More delays by name: `[delays.slap]`. Parts and buses send to them by `sends`.",
    ),
    key(
        "master",
        Kind::Table(Table::Master),
        Standard::Said("a ceiling of -1 dBTP"),
        "The strip through which all goes at last.",
    ),
    key(
        "sweep",
        Kind::Tables(Table::Sweep),
        Standard::Said("none"),
        "Settings that change over the bars.",
    ),
    key(
        "mix",
        Kind::Tables(Table::Mix),
        Standard::Said("none"),
        "Versions to compare with the loop as it is written.",
    ),
];

pub(crate) const LOOP: &[Key] = &[
    key(
        "title",
        Kind::Text,
        Standard::Said("the file's name"),
        "What the loop is called.",
    ),
    key(
        "kit",
        Kind::Paths,
        Standard::Text("."),
        "A folder of one-shots, relative to this file; or a list of folders, of which the first that has a piece wins.",
    ),
    number(
        "tempo",
        5.0,
        999.0,
        "BPM",
        Standard::Needed,
        "How many beats go into a minute; `beat` says what a beat is.",
    ),
    key(
        "bars",
        Kind::Integer(1, 10_000, "bars"),
        Standard::Needed,
        "How long the loop is.",
    ),
    key(
        "metre",
        Kind::Metre,
        Standard::Text("4/4"),
        "The counts of a bar over the note that is counted. The lower figure is a power of two.",
    ),
    key(
        "beat",
        Kind::NoteValue,
        Standard::Text("1/4"),
        "What `tempo` counts; \"1/4 dotted\" for a felt 6/8.",
    ),
    key(
        "key",
        Kind::Key,
        Standard::Said("none"),
        "The key of the music, such as \"G minor\".",
    ),
    key(
        "seed",
        Kind::Integer(0, u64::MAX, ""),
        Standard::Integer(1),
        "Every chance in the loop is drawn from it: the same seed, the same loop.",
    ),
    key(
        "ending",
        Kind::Choice(&["repeat", "let ring", "damp"]),
        Standard::Text("repeat"),
        "What rings past the last bar: with \"repeat\" it sounds at the first, as on the next time round; \
         with \"let ring\" it rings out after the last bar; with \"damp\" it ends with the last bar.",
    ),
];

/// Swing of less than a half is a snap, short before long; 25 is the dotted pair the other way round. Past 90 the
/// second note is no more than a grace note of the next pair.
const SWING: (f64, f64) = (25.0, 90.0);

pub(crate) const SWING_OF_A_PART: Key = number(
    "swing",
    SWING.0,
    SWING.1,
    "percent",
    Standard::Said("that of `[feel]`"),
    "The percent of a pair of notes that its first half takes: 50 is straight, 66.7 triplets, 75 a dotted pair.",
)
.or_off();

pub(crate) const FEEL: &[Key] = &[
    Key {
        standard: Standard::Number(50.0),
        ..SWING_OF_A_PART
    },
    key(
        "swing_of",
        Kind::NoteValue,
        Standard::Text("1/16"),
        "The notes that swing, in pairs; all that lies in a pair bends with it.",
    ),
    Key {
        standard: Standard::Said("none"),
        ..LOOSE_OF_A_PART
    },
    key(
        "like",
        Kind::Path,
        Standard::Said("nobody"),
        "Plays as the drummer of a MIDI file does: a Standard MIDI File, relative to this file. How early or late, and how \
         hard, each sixteenth of the bar is played there on average is laid on the loop: that of the very piece where it \
         plays the sixteenth four times or more, else that of all percussion. The timing is the drummer's in place of the \
         loop's swing, `loose` and `behind` come on top, and what a `midi` part performed stays as it is.",
    )
    .or_off(),
    number(
        "amount",
        0.0,
        200.0,
        "percent",
        Standard::Number(100.0),
        "How far the loop goes the way of `like`.",
    )
    .or_off(),
];

pub(crate) const MIX: &[Key] = &[
    key(
        "name",
        Kind::Text,
        Standard::Needed,
        "What the version is called; `--mix` chooses it by this name.",
    ),
    key(
        "set",
        Kind::Changes,
        Standard::Needed,
        "What is different: values by key, such as { \"bass.gain\" = 2, \"drums.compress.ratio\" = 4 }. A bare number for a table, as for `drive`, is its main value; the rest stays.",
    ),
];

/// Wide enough for every number of a strip; the key that is swept has the range that counts.
const ANY: f64 = 1e5;

pub(crate) const SWEEP: &[Key] = &[
    key(
        "key",
        Kind::Text,
        Standard::Needed,
        "What changes: any number of a strip, such as snare.gain or drums.compress.ratio, or the level of a room or delay. \
         In a form file a key of its master, such as master.high_cut; the sweeps of a section's own master are left out there.",
    ),
    key(
        "bars",
        Kind::Text,
        Standard::Needed,
        "When: whole bars such as 1-4, or from one count to another, such as 3:1-3:4. It holds before and after. \
         In a form file they count over the whole form.",
    ),
    number(
        "from",
        -ANY,
        ANY,
        "",
        Standard::Needed,
        "The value at the beginning, in the key's own unit.",
    ),
    number(
        "to",
        -ANY,
        ANY,
        "",
        Standard::Needed,
        "The value at the end. Levels move evenly in dB, frequencies in octaves; a jump takes 5 ms.",
    ),
    key(
        "every",
        Kind::NoteValue,
        Standard::Said("once over the bars"),
        "A note value after which it begins again, over and over.",
    ),
];
