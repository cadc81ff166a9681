//! How the marks of expression are played where they do not say so themselves.

use crate::schema::declare::*;

/// `scoop`.
pub(crate) mod scoop {
    use super::*;

    pub(crate) const DEPTH: Setting<f64> =
        number("depth", (0.1, 24.0), "semitones", 1.0).doc("How far under its pitch a note begins.");
    pub(crate) const TIME: Setting<Length> =
        setting("time", Kind::Time, DefaultValue::Text("100 ms")).doc("How long it takes to reach its pitch.");

    pub(in crate::schema) const ALL: &[Setting] = &[DEPTH.any(), TIME.any()];
}

/// `fall`.
pub(crate) mod fall {
    use super::*;

    pub(crate) const DEPTH: Setting<f64> =
        number("depth", (0.1, 24.0), "semitones", 5.0).doc("How far a note falls at its end.");
    pub(crate) const TIME: Setting<Length> =
        setting("time", Kind::Time, DefaultValue::Text("250 ms")).doc("How long it falls, up to its end.");

    pub(in crate::schema) const ALL: &[Setting] = &[DEPTH.any(), TIME.any()];
}

/// `vibrato`.
pub(crate) mod vibrato {
    use super::*;

    pub(crate) const RATE: Setting<f64> = number("rate", (0.5, 12.0), "Hz", 5.5)
        .doc("How fast it swings. From note to note rate, depth and delay vary a little, by the seed.");
    pub(crate) const DEPTH: Setting<f64> =
        number("depth", (0.0, 200.0), "cents", 25.0).doc("How far it swings to either side of the pitch.");
    pub(crate) const DELAY: Setting<f64> = number("delay", (0.0, 5000.0), "ms", 200.0)
        .doc("How long a note stands still first. One that is over sooner has no vibrato.");
    pub(crate) const EVERY: Setting<bool> =
        switch("every", false).doc("All notes have it, not those alone that are marked :vibrato.");

    pub(in crate::schema) const ALL: &[Setting] = &[RATE.any(), DEPTH.any(), DELAY.any(), EVERY.any()];
}
