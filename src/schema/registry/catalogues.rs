//! Lists of a catalogue.

use super::loop_table;
use crate::schema::declare::*;

/// A list of a catalogue.
pub(crate) mod catalogue_file {
    use super::*;

    pub(crate) const CATALOGUE: Setting<Settings> = setting("catalogue", Kind::Table(Table::Catalogue), Required)
        .doc("What the catalogue is called, and how its previews are written.");
    pub(crate) const COLLECTION: Setting<Vec<Settings>> =
        setting("collection", Kind::Tables(Table::Collection), Required)
            .doc("What belongs together: loops on kits, in versions.");

    pub(in crate::schema) const ALL: &[Setting] = &[CATALOGUE.any(), COLLECTION.any()];
}

/// `[catalogue]`.
pub(crate) mod catalogue {
    use super::*;

    pub(crate) const TITLE: Setting<Words> = setting("title", Kind::Text, Required)
        .doc("What the catalogue is called. A folder holds the previews of one title.");
    pub(crate) const NAME: Setting<Words> = setting(
        "name",
        Kind::Text,
        DefaultValue::Text("{loop} {kit} {mix} {tempo} {vary}"),
    )
    .doc(
        "How previews are named: {loop} is the name of the loop's file; {kit}, {mix}, {tempo} and {vary} are empty where the \
         collection does not list any; {title}, {key}, {metre} and {bars} are the loop's own.",
    );
    pub(crate) const FORMATS: Setting<Vec<Words>> =
        setting("formats", Kind::Names("format"), Described("\"wav\"")).doc(
            "The files of each preview: \"wav\", \"flac\", \"mp3\". The first is the one that the index plays. \"mp3\" needs a \
             pressroll that was built with the feature `mp3`.",
        );
    pub(crate) const RATE: Setting<u64> =
        setting("rate", Kind::Whole(8_000, 192_000, "Hz"), DefaultValue::Whole(48_000)).doc("The sample rate.");
    pub(crate) const DEPTH: Setting<Words> =
        setting("depth", Kind::Choice(&["16", "24", "float"]), DefaultValue::Text("16"))
            .doc("The bit depth of WAVs; FLACs of \"float\" have 24 bits.");
    pub(crate) const REPEAT: Setting<u64> =
        setting("repeat", Kind::Whole(1, 10_000, "times"), DefaultValue::Whole(1)).doc("How many times loops repeat.");
    pub(crate) const ENDING: Setting<Words> = setting(
        "ending",
        Kind::Choice(&["repeat", "let ring", "damp"]),
        Described("each loop's own"),
    )
    .doc("What happens to what rings past the last bar.");

    pub(in crate::schema) const ALL: &[Setting] = &[
        TITLE.any(),
        NAME.any(),
        FORMATS.any(),
        RATE.any(),
        DEPTH.any(),
        REPEAT.any(),
        ENDING.any(),
    ];
}

/// `[[collection]]`.
pub(crate) mod collection {
    use super::*;

    pub(crate) const NAME: Setting<Words> = setting("name", Kind::Text, Required)
        .doc("What the collection is called. Its previews lie in a folder of that name.");
    pub(crate) const LOOPS: Setting<Vec<Words>> = setting("loops", Kind::Paths, Required).doc(
        "Loop files and form files, folders of them, or patterns such as \"beds/*.toml\", relative to this file. `**` stands \
         for folders of any depth.",
    );
    pub(crate) const KITS: Setting<Vec<Words>> = setting("kits", Kind::Paths, Described("each loop's own"))
        .doc("Kits that every loop is played on: folders, or patterns such as \"kits/*\", relative to this file.");
    pub(crate) const MIXES: Setting<Vec<Words>> = setting("mixes", Kind::Names("mix"), Described("\"as written\""))
        .doc("Mixes that every loop is played in; \"as written\" is the loop without one, \"all\" that and all that it has.");
    pub(crate) const TEMPOS: Setting<Vec<f64>> =
        setting("tempos", Kind::Numbers(5.0, 999.0, "BPM"), Described("each loop's own"))
            .doc("Tempos that every loop is played at.");
    pub(crate) const VARY: Setting<Node> = setting("vary", Kind::Changes, Described("nothing")).doc(
        "Values that a key takes, each in a version of its own: { \"snare.room\" = [-20, -10] }. Several keys give all \
         combinations.",
    );
    pub(crate) const LEND: Setting<bool> =
        switch("lend", false).doc("Substitutes the closest piece for percussion that a kit lacks, as `--lend` does.");

    pub(in crate::schema) const ALL: &[Setting] = &[
        NAME.any(),
        LOOPS.any(),
        KITS.any(),
        MIXES.any(),
        TEMPOS.any(),
        VARY.any(),
        LEND.any(),
    ];
}

/// Tempos of a list go as far as a loop's own.
const _: () = {
    let Kind::Number(from, to, _) = loop_table::TEMPO.kind else {
        panic!("a tempo is a number")
    };
    assert!(from == 5.0 && to == 999.0);
};
