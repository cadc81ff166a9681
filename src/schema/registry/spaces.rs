//! Rooms and delays.

use crate::schema::declare::*;

/// `[room]` and `[rooms.NAME]`.
pub(crate) mod room {
    use super::*;

    pub(crate) const SIZE: Setting<f64> =
        number("size", (1.0, 200.0), "metres", 8.0).doc("The length of its longest wall.");
    pub(crate) const DECAY: Setting<f64> =
        number("decay", (0.05, 60.0), "seconds", 0.6).doc("How long it takes to fall 60 dB.");
    pub(crate) const DAMPING: Setting<f64> = number("damping", (0.0, 1.0), "", 0.4)
        .or_off()
        .doc("How much sooner the highs die than the lows.");
    pub(crate) const PREDELAY: Setting<f64> = number("predelay", (0.0, 1000.0), "ms", 10.0)
        .or_off()
        .doc("How long before the room answers.");
    pub(crate) const LOW_CUT: Setting<Option<f64>> =
        level("low_cut", (10.0, 24_000.0), "Hz", DefaultValue::Number(150.0))
            .or_off()
            .doc("Takes away what is lower.");
    pub(crate) const LEVEL: Setting<f64> = number("level", (-120.0, 40.0), "dB", 0.0)
        .or_off_as(f64::NEG_INFINITY)
        .doc("The level of what comes back from it; off is silence.");
    pub(crate) const IMPULSE: Setting<Words> = setting("impulse", Kind::Path, Described("none")).doc(
        "A recorded impulse response in place of the synthesised room, relative to this file. \
         Then `predelay` is 0 and `low_cut` off unless given, and `size`, `decay` and `damping` have no meaning.",
    );

    pub(in crate::schema) const ALL: &[Setting] = &[
        SIZE.any(),
        DECAY.any(),
        DAMPING.any(),
        PREDELAY.any(),
        LOW_CUT.any(),
        LEVEL.any(),
        IMPULSE.any(),
    ];
}

/// `[delay]` and `[delays.NAME]`.
pub(crate) mod delay {
    use super::*;

    pub(crate) const TIME: Setting<Length> =
        setting("time", Kind::Time, DefaultValue::Text("1/8 dotted")).doc("From one echo to the next.");
    pub(crate) const FEEDBACK: Setting<f64> = number("feedback", (0.0, 98.0), "percent", 30.0)
        .or_off()
        .doc("Each echo's share of the one before it.");
    pub(crate) const LOW_CUT: Setting<Option<f64>> =
        level("low_cut", (10.0, 24_000.0), "Hz", DefaultValue::Number(200.0))
            .or_off()
            .doc("Takes away what is lower, echo by echo.");
    pub(crate) const HIGH_CUT: Setting<Option<f64>> =
        level("high_cut", (10.0, 24_000.0), "Hz", DefaultValue::Number(6000.0))
            .or_off()
            .doc("Takes away what is higher, echo by echo.");
    pub(crate) const CROSS: Setting<bool> = switch("cross", false).or_off().doc("Echoes change sides.");
    pub(crate) const LEVEL: Setting<f64> = room::LEVEL;

    pub(in crate::schema) const ALL: &[Setting] = &[
        TIME.any(),
        FEEDBACK.any(),
        LOW_CUT.any(),
        HIGH_CUT.any(),
        CROSS.any(),
        LEVEL.any(),
    ];
}
