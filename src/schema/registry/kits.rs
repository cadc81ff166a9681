//! A kit's `kit.toml`.

use super::sound;
use crate::schema::declare::*;

/// A kit's `kit.toml`.
pub(crate) mod kit_file {
    use super::*;

    pub(crate) const KIT: Setting<Settings> =
        setting("kit", Kind::Table(Table::Kit), Described("the folder's name")).doc("Whose kit this is.");
    pub(crate) const PIECE: Setting<Vec<Settings>> = setting(
        "piece",
        Kind::Tables(Table::Piece),
        Described("what the files' names tell"),
    )
    .doc("The pieces: their files, and how they sound.");

    pub(in crate::schema) const ALL: &[Setting] = &[KIT.any(), PIECE.any()];
}

/// `[kit]`.
pub(crate) mod kit {
    use super::*;

    pub(crate) const TITLE: Setting<Words> =
        setting("title", Kind::Text, Described("the folder's name")).doc("What the kit is called.");
    pub(crate) const MAKER: Setting<Words> = setting("maker", Kind::Text, Described("none")).doc("Who made it.");
    pub(crate) const LICENCE: Setting<Words> =
        setting("licence", Kind::Text, Described("none")).doc("On what terms it may be used, for `render --credits`.");
    pub(crate) const KEYS: Setting<NoteNumbers> =
        setting("keys", Kind::NoteNumbers, Described("those of General MIDI"))
            .doc("Pieces by the MIDI key that plays them, for performances on a map of one's own: { 36 = \"kick\" }.");

    pub(in crate::schema) const ALL: &[Setting] = &[TITLE.any(), MAKER.any(), LICENCE.any(), KEYS.any()];
}

/// `[[piece]]`.
pub(crate) mod piece {
    use super::*;

    pub(crate) const NAME: Setting<Words> =
        setting("name", Kind::Name("piece"), Required).doc("What the piece is called.");
    pub(crate) const ALSO: Setting<Vec<Words>> = setting("also", Kind::Names("piece"), Described("none"))
        .doc("Other names that it goes by, such as the one that its files have.");
    pub(crate) const FILES: Setting<Vec<RecordingWords>> =
        setting("files", Kind::Recordings, Described("those whose names say so"))
            .doc("Its recordings, taken in turn, relative to the kit's folder.");
    pub(crate) const LAYERS: Setting<Vec<Settings>> = setting("layers", Kind::Tables(Table::Layer), Described("one"))
        .doc("Recordings by how hard the piece is struck.");
    pub(crate) const ROOT: Setting<f64> = setting(
        "root",
        Kind::Pitch,
        Described("what the files tell: their names, their loop points' note, else their sound"),
    )
    .doc("The pitch at which the piece was recorded; notes are played higher or lower from there.");
    pub(crate) const ZONES: Setting<Vec<Settings>> = setting("zones", Kind::Tables(Table::Zone), Described("one"))
        .doc("Recordings by pitch; a note is played by the nearest.");
    pub(crate) const SUSTAIN: Setting<(LoopPoint, LoopPoint)> =
        setting("sustain", Kind::LoopPoints, Described("the loop points of its file")).doc(
            "What of a recording repeats while a note is held: it plays up to the end, then from the start again. \
             A piece with several recordings has it in each of its `zones`.",
        );
    pub(crate) const CROSSFADE: Setting<f64> = number("crossfade", (0.0, 10_000.0), "ms", 0.0)
        .doc("How long the end of `sustain` turns into what lies before its start, so that nothing jumps.");
    pub(crate) const MAKER: Setting<Words> =
        setting("maker", Kind::Text, Described("the kit's")).doc("Who made its recordings, for `render --credits`.");
    pub(crate) const LICENCE: Setting<Words> = setting("licence", Kind::Text, Described("the kit's"))
        .doc("On what terms its recordings may be used, for `render --credits`.");

    pub(in crate::schema) const ALL: &[Setting] = &[
        NAME.any(),
        ALSO.any(),
        FILES.any(),
        LAYERS.any(),
        ROOT.any(),
        ZONES.any(),
        SUSTAIN.any(),
        CROSSFADE.any(),
        MAKER.any(),
        LICENCE.any(),
    ];
}

/// One layer of `layers`.
pub(crate) mod layer {
    use super::*;

    pub(crate) const UPTO: Setting<f64> =
        number("upto", (1.0, 127.0), "", 127.0).doc("The highest velocity that the layer is for.");
    pub(crate) const FILES: Setting<Vec<RecordingWords>> = piece::FILES.default(Described("those of its zones"));
    pub(crate) const ZONES: Setting<Vec<Settings>> =
        piece::ZONES.doc("The layer's recordings by pitch, in place of `files`; then each layer has zones.");

    pub(in crate::schema) const ALL: &[Setting] = &[UPTO.any(), FILES.any(), ZONES.any()];
}

/// One zone of `zones`.
pub(crate) mod zone {
    use super::*;

    pub(crate) const ROOT: Setting<f64> = piece::ROOT.default(Required).doc("The pitch at which it was recorded.");
    pub(crate) const TUNE: Setting<f64> = sound::TUNE.doc(
        "Plays the zone higher by so much, or lower where it is below 0: 0.1 does what a root 10 cents lower does.",
    );
    pub(crate) const FILE: Setting<RecordingWords> =
        setting("file", Kind::Recording, Required).doc("The recording, relative to the kit's folder.");
    pub(crate) const SUSTAIN: Setting<(LoopPoint, LoopPoint)> = piece::SUSTAIN
        .doc("What of it repeats while a note is held: it plays up to the end, then from the start again.");
    pub(crate) const CROSSFADE: Setting<f64> = piece::CROSSFADE;

    pub(in crate::schema) const ALL: &[Setting] = &[ROOT.any(), FILE.any(), TUNE.any(), SUSTAIN.any(), CROSSFADE.any()];
}

/// A recording in two files, one a side.
pub(crate) mod pair {
    use super::*;

    pub(crate) const LEFT: Setting<Words> = setting("left", Kind::Path, Required).doc(
        "The left side, a mono file, relative to the kit's folder. What it says of root and loops holds for both.",
    );
    pub(crate) const RIGHT: Setting<Words> = setting("right", Kind::Path, Required)
        .doc("The right side, a mono file of the same rate. The shorter side ends in silence.");

    pub(in crate::schema) const ALL: &[Setting] = &[LEFT.any(), RIGHT.any()];
}
