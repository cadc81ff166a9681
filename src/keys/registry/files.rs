//! Form files and `kit.toml`.

use super::super::key::{Key, Kind, Standard, Table, key, number};

pub(super) const FORM_FILE: &[Key] = &[
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
];

pub(super) const FORM: &[Key] = &[
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
        "What happens to what rings past the last section.",
    ),
];

pub(super) const SECTION: &[Key] = &[
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
        "How many times round.",
    ),
];

pub(super) const KIT_FILE: &[Key] = &[
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

pub(super) const KIT: &[Key] = &[
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
        "On what terms it may be used.",
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

pub(super) const PIECE: &[Key] = &[
    key(
        "name",
        Kind::Name("piece"),
        Standard::Needed,
        "What the piece is called.",
    ),
    FILES,
    key(
        "layers",
        Kind::Tables(Table::Layer),
        Standard::Said("one"),
        "Recordings by how hard the piece is struck.",
    ),
];

pub(super) const LAYER: &[Key] = &[
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
