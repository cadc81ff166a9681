//! A kit's `kit.toml`.

use crate::schema::declare::*;

/// A kit's `kit.toml`.
pub mod kit_file {
    use super::*;

    pub const KIT: Setting<Settings> =
        setting("kit", Kind::Table(Table::Kit), Described("the folder's name")).doc("Whose kit this is.");
    pub const PIECE: Setting<Vec<Settings>> = setting(
        "piece",
        Kind::Tables(Table::Piece),
        Described("what the files' names tell"),
    )
    .doc("The pieces: their files, and how they sound.");

    pub(in crate::schema) const ALL: &[Setting] = &[KIT.any(), PIECE.any()];
}

/// `[kit]`.
pub mod kit {
    use super::*;

    pub const TITLE: Setting<Words> =
        setting("title", Kind::Text, Described("the folder's name")).doc("What the kit is called.");
    pub const MAKER: Setting<Words> = setting("maker", Kind::Text, Described("none")).doc("Who made it.");
    pub const LICENCE: Setting<Words> =
        setting("licence", Kind::Text, Described("none")).doc("On what terms it may be used, for `render --credits`.");
    pub const KEYS: Setting<NoteNumbers> = setting("keys", Kind::NoteNumbers, Described("those of General MIDI"))
        .doc("Pieces by the MIDI key that plays them, for performances on a map of one's own: { 36 = \"kick\" }.");

    pub(in crate::schema) const ALL: &[Setting] = &[TITLE.any(), MAKER.any(), LICENCE.any(), KEYS.any()];
}

/// `[[piece]]`.
pub mod piece {
    use super::*;

    pub const NAME: Setting<Words> = setting("name", Kind::Name("piece"), Required).doc("What the piece is called.");
    pub const ALSO: Setting<Vec<Words>> = setting("also", Kind::Names("piece"), Described("none"))
        .doc("Other names that it goes by, such as the one that its files have.");
    pub const FILES: Setting<Vec<Words>> = setting("files", Kind::Paths, Described("those whose names say so"))
        .doc("Its recordings, taken in turn, relative to the kit's folder.");
    pub const LAYERS: Setting<Vec<Settings>> = setting("layers", Kind::Tables(Table::Layer), Described("one"))
        .doc("Recordings by how hard the piece is struck.");
    pub const ROOT: Setting<i32> = setting(
        "root",
        Kind::Pitch,
        Described("what the files tell: their names, their loop points' note, else their sound"),
    )
    .doc("The pitch at which the piece was recorded; notes are played higher or lower from there.");
    pub const ZONES: Setting<Vec<Settings>> = setting("zones", Kind::Tables(Table::Zone), Described("one"))
        .doc("Recordings by pitch; a note is played by the nearest.");
    pub const MAKER: Setting<Words> =
        setting("maker", Kind::Text, Described("the kit's")).doc("Who made its recordings, for `render --credits`.");
    pub const LICENCE: Setting<Words> = setting("licence", Kind::Text, Described("the kit's"))
        .doc("On what terms its recordings may be used, for `render --credits`.");

    pub(in crate::schema) const ALL: &[Setting] = &[
        NAME.any(),
        ALSO.any(),
        FILES.any(),
        LAYERS.any(),
        ROOT.any(),
        ZONES.any(),
        MAKER.any(),
        LICENCE.any(),
    ];
}

/// One layer of `layers`.
pub mod layer {
    use super::*;

    pub const UPTO: Setting<f64> =
        number("upto", (1.0, 127.0), "", 127.0).doc("The highest velocity that the layer is for.");
    pub const FILES: Setting<Vec<Words>> = piece::FILES.default(Required);

    pub(in crate::schema) const ALL: &[Setting] = &[UPTO.any(), FILES.any()];
}

/// One zone of `zones`.
pub mod zone {
    use super::*;

    pub const ROOT: Setting<i32> = piece::ROOT.default(Required).doc("The pitch at which it was recorded.");
    pub const FILE: Setting<Words> =
        setting("file", Kind::Path, Required).doc("The recording, relative to the kit's folder.");

    pub(in crate::schema) const ALL: &[Setting] = &[ROOT.any(), FILE.any()];
}
