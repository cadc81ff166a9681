//! Form files and `kit.toml`.

use crate::schema::setting::{Key, Kind, Standard, Table, key, number};

pub(crate) const FORM_FILE: &[Key] = &[
    key(
        "form",
        Kind::Table(Table::Form),
        Standard::Needed,
        "What the form is called and how it ends.",
    ),
    key(
        "section",
        Kind::Tables(Table::Section),
        Standard::Needed,
        "The sections, one after another.",
    ),
    key(
        "master",
        Kind::Table(Table::Master),
        Standard::Said("the first section's"),
        "The strip in which all sections meet.",
    ),
    key(
        "sweep",
        Kind::Tables(Table::Sweep),
        Standard::Said("none"),
        "Settings of the master that change over the form's bars.",
    ),
];

pub(crate) const FORM: &[Key] = &[
    key(
        "title",
        Kind::Text,
        Standard::Said("the file's name"),
        "What the form is called.",
    ),
    key(
        "ending",
        Kind::Choice(&["repeat", "let ring", "damp"]),
        Standard::Text("let ring"),
        "What happens to what rings past the last section. One that repeats has no pickup, no last hit and no fades.",
    ),
    key(
        "pickup",
        Kind::NoteValue,
        Standard::Said("none"),
        "A lead-in before bar 1: so much of the end of the first section's loop, \"1/4\" for its last quarter.",
    ),
    key(
        "end",
        Kind::Choice(&["hit"]),
        Standard::Said("none"),
        "\"hit\": after the last bar comes one more beat, on which all that stands on the one of the last section's first bar plays once more, left to ring.",
    ),
    key(
        "fade",
        Kind::Table(Table::Fade),
        Standard::Said("none"),
        "Fades of the whole form, over so many of its first and last bars.",
    ),
];

pub(crate) const FADE: &[Key] = &[
    number(
        "in",
        0.0,
        1000.0,
        "bars",
        Standard::Number(0.0),
        "How long the form takes to come up from silence. The amplitude goes with the square of the time: -12 dB half way.",
    ),
    number(
        "out",
        0.0,
        1000.0,
        "bars",
        Standard::Number(0.0),
        "How long the form takes to go down to silence at the end of its last bar, by the same curve turned round.",
    ),
];

pub(crate) const SECTION: &[Key] = &[
    key(
        "name",
        Kind::Text,
        Standard::Said("the loop's title"),
        "What the section is called.",
    ),
    key(
        "loop",
        Kind::Path,
        Standard::Needed,
        "The loop file it plays, relative to this file.",
    ),
    key(
        "times",
        Kind::Integer(1, 1000, "times"),
        Standard::Integer(1),
        "How many times it repeats.",
    ),
    key(
        "bars",
        Kind::Text,
        Standard::Said("all"),
        "The bars of the loop that it plays, such as \"1-4\" or \"8\".",
    ),
    key(
        "mute",
        Kind::Names("part or bus"),
        Standard::Said("none"),
        "Parts and buses of the loop that are not heard in this section.",
    ),
    key(
        "only",
        Kind::Names("part or bus"),
        Standard::Said("all"),
        "The only parts and buses of the loop that are heard in this section.",
    ),
    key(
        "set",
        Kind::Changes,
        Standard::Said("none"),
        "Changes to the loop for this section, by the address of a key, as in a mix.",
    ),
];

pub(crate) const KIT_FILE: &[Key] = &[
    key(
        "kit",
        Kind::Table(Table::Kit),
        Standard::Said("the folder's name"),
        "Whose kit this is.",
    ),
    key(
        "piece",
        Kind::Tables(Table::Piece),
        Standard::Said("what the files' names tell"),
        "The pieces: their files, and how they sound.",
    ),
];

pub(crate) const KIT: &[Key] = &[
    key(
        "title",
        Kind::Text,
        Standard::Said("the folder's name"),
        "What the kit is called.",
    ),
    key("maker", Kind::Text, Standard::Said("none"), "Who made it."),
    key(
        "licence",
        Kind::Text,
        Standard::Said("none"),
        "On what terms it may be used, for `render --credits`.",
    ),
    key(
        "keys",
        Kind::Keys,
        Standard::Said("those of General MIDI"),
        "Pieces by the MIDI key that plays them, for performances on a map of one's own: { 36 = \"kick\" }.",
    ),
];

const FILES: Key = key(
    "files",
    Kind::Paths,
    Standard::Said("those whose names say so"),
    "Its recordings, taken in turn, relative to the kit's folder.",
);

pub(crate) const PIECE: &[Key] = &[
    key(
        "name",
        Kind::Name("piece"),
        Standard::Needed,
        "What the piece is called.",
    ),
    key(
        "also",
        Kind::Names("piece"),
        Standard::Said("none"),
        "Other names that it goes by, such as the one that its files have.",
    ),
    FILES,
    key(
        "layers",
        Kind::Tables(Table::Layer),
        Standard::Said("one"),
        "Recordings by how hard the piece is struck.",
    ),
    ROOT,
    key(
        "zones",
        Kind::Tables(Table::Zone),
        Standard::Said("one"),
        "Recordings by pitch; a note is played by the nearest.",
    ),
    key(
        "maker",
        Kind::Text,
        Standard::Said("the kit's"),
        "Who made its recordings, for `render --credits`.",
    ),
    key(
        "licence",
        Kind::Text,
        Standard::Said("the kit's"),
        "On what terms its recordings may be used, for `render --credits`.",
    ),
];

const ROOT: Key = key(
    "root",
    Kind::Pitch,
    Standard::Said("what the files tell: their names, their loop points' note, else their sound"),
    "The pitch at which the piece was recorded; notes are played higher or lower from there.",
);

pub(crate) const ZONE: &[Key] = &[
    Key {
        standard: Standard::Needed,
        doc: "The pitch at which it was recorded.",
        ..ROOT
    },
    key(
        "file",
        Kind::Path,
        Standard::Needed,
        "The recording, relative to the kit's folder.",
    ),
];

pub(crate) const LAYER: &[Key] = &[
    number(
        "upto",
        1.0,
        127.0,
        "",
        Standard::Number(127.0),
        "The highest velocity that the layer is for.",
    ),
    Key {
        standard: Standard::Needed,
        ..FILES
    },
];
