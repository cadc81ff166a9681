//! Form files.

use crate::schema::declare::*;

/// A form file.
pub(crate) mod form_file {
    use super::*;

    pub(crate) const FORM: Setting<Settings> =
        setting("form", Kind::Table(Table::Form), Required).doc("What the form is called and how it ends.");
    pub(crate) const SECTION: Setting<Vec<Settings>> =
        setting("section", Kind::Tables(Table::Section), Required).doc("The sections, one after another.");
    pub(crate) const MASTER: Setting<Settings> =
        setting("master", Kind::Table(Table::Master), Described("the first section's"))
            .doc("The strip in which all sections meet.");
    pub(crate) const SWEEP: Setting<Vec<Settings>> = setting("sweep", Kind::Tables(Table::Sweep), Described("none"))
        .doc("Settings of the master that change over the form's bars.");

    pub(in crate::schema) const ALL: &[Setting] = &[FORM.any(), SECTION.any(), MASTER.any(), SWEEP.any()];
}

/// `[form]`.
pub(crate) mod form {
    use super::*;

    pub(crate) const TITLE: Setting<Words> =
        setting("title", Kind::Text, Described("the file's name")).doc("What the form is called.");
    pub(crate) const ENDING: Setting<Words> = setting(
        "ending",
        Kind::Choice(&["repeat", "let ring", "damp"]),
        DefaultValue::Text("let ring"),
    )
    .doc("What happens to what rings past the last section. One that repeats has no pickup, no last hit and no fades.");
    pub(crate) const PICKUP: Setting<Length> = setting("pickup", Kind::NoteValue, Described("none"))
        .doc("A lead-in before bar 1: so much of the end of the first section's loop, \"1/4\" for its last quarter.");
    pub(crate) const END: Setting<Words> = setting("end", Kind::Choice(&["hit"]), Described("none")).doc(
        "\"hit\": after the last bar comes one more beat, on which all that stands on the one of the last \
             section's first bar plays once more, left to ring.",
    );
    pub(crate) const FADE: Setting<Settings> = setting("fade", Kind::Table(Table::Fade), Described("none"))
        .doc("Fades of the whole form, over so many of its first and last bars.");

    pub(in crate::schema) const ALL: &[Setting] = &[TITLE.any(), ENDING.any(), PICKUP.any(), END.any(), FADE.any()];
}

/// `fade`.
pub(crate) mod fade {
    use super::*;

    pub(crate) const IN: Setting<f64> = number("in", (0.0, 1000.0), "bars", 0.0).doc(
        "How long the form takes to come up from silence. The amplitude goes with the square of the time: -12 \
             dB half way.",
    );
    pub(crate) const OUT: Setting<f64> = number("out", (0.0, 1000.0), "bars", 0.0).doc(
        "How long the form takes to go down to silence at the end of its last bar, by the same curve turned round.",
    );

    pub(in crate::schema) const ALL: &[Setting] = &[IN.any(), OUT.any()];
}

/// `[[section]]`.
pub(crate) mod section {
    use super::*;

    pub(crate) const NAME: Setting<Words> =
        setting("name", Kind::Text, Described("the loop's title")).doc("What the section is called.");
    pub(crate) const LOOP: Setting<Words> =
        setting("loop", Kind::Path, Required).doc("The loop file it plays, relative to this file.");
    pub(crate) const TIMES: Setting<u64> =
        setting("times", Kind::Whole(1, 1000, "times"), DefaultValue::Whole(1)).doc("How many times it repeats.");
    pub(crate) const BARS: Setting<Words> = setting("bars", Kind::Text, Described("all"))
        .doc("The bars of the loop that it plays, such as \"1-4\" or \"8\".");
    pub(crate) const MUTE: Setting<Vec<Words>> = setting("mute", Kind::Names("part or bus"), Described("none"))
        .doc("Parts and buses of the loop that are not heard in this section.");
    pub(crate) const ONLY: Setting<Vec<Words>> = setting("only", Kind::Names("part or bus"), Described("all"))
        .doc("The only parts and buses of the loop that are heard in this section.");
    pub(crate) const SET: Setting<Node> = setting("set", Kind::Changes, Described("none"))
        .doc("Changes to the loop for this section, by the address of a key, as in a mix.");

    pub(in crate::schema) const ALL: &[Setting] = &[
        NAME.any(),
        LOOP.any(),
        TIMES.any(),
        BARS.any(),
        MUTE.any(),
        ONLY.any(),
        SET.any(),
    ];
}
