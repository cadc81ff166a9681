//! Strips, what stands in them, and what buses and the master have besides.

use crate::schema::declare::*;

/// The range of frequencies that an effect takes, in Hz.
const LOWEST: f64 = 10.0;
const HIGHEST: f64 = 24_000.0;
/// The range of levels that it takes, in dB.
const FAINTEST: f64 = -120.0;
const LOUDEST: f64 = 40.0;
/// The most bells of one strip: one for each third of an octave that is audible, as graphic equalisers have them
/// (IEC 61260-1), and one more.
pub(crate) const MOST_BELLS: usize = 32;

/// A strip, in the order in which it runs; shared by parts, buses, the master and a kit's pieces.
pub(crate) mod strip {
    use super::*;

    pub(crate) const LOW_CUT: Setting<Option<f64>> = level("low_cut", (LOWEST, HIGHEST), "Hz", Off)
        .or_off()
        .doc("Takes away what is lower, 12 dB an octave.");
    pub(crate) const HIGH_CUT: Setting<Option<f64>> = level("high_cut", (LOWEST, HIGHEST), "Hz", Off)
        .or_off()
        .doc("Takes away what is higher, 12 dB an octave.");
    pub(crate) const EQ: Setting<Vec<Settings>> = setting("eq", Kind::Tables(Table::Bell), Off)
        .or_off()
        .doc("Lifts and dips: a list of bells, each with its place, gain and width.");
    pub(crate) const COMPRESS: Setting<Settings> = setting("compress", Kind::Table(Table::Compress), Off)
        .or_off()
        .doc("A compressor; an empty table takes its defaults.");
    pub(crate) const DRIVE: Setting<Settings> = setting("drive", Kind::TableOr(Table::Drive, "amount"), Off)
        .or_off()
        .doc("Drives it into a soft saturator; 0 is off.");
    pub(crate) const SPREAD: Setting<f64> = number("spread", (-100.0, 100.0), "ms", 0.0)
        .or_off()
        .default(Off)
        .doc("Widens it by letting the right side lag; negative: the left.");
    pub(crate) const WIDTH: Setting<f64> = number("width", (0.0, 400.0), "percent", 100.0)
        .or_off_as(100.0)
        .doc("The level of the side signal: 0 is mono, 100 leaves it as it is.");
    pub(crate) const GAIN: Setting<f64> = number("gain", (FAINTEST, LOUDEST), "dB", 0.0)
        .or_off_as(f64::NEG_INFINITY)
        .doc("Its level; off is silence.");
    pub(crate) const PAN: Setting<f64> = number("pan", (-100.0, 100.0), "", 0.0)
        .or_off()
        .doc("Its place from -100 (left) to 100 (right).");

    pub(in crate::schema) const ALL: &[Setting] = &[
        LOW_CUT.any(),
        HIGH_CUT.any(),
        EQ.any(),
        COMPRESS.any(),
        DRIVE.any(),
        SPREAD.any(),
        WIDTH.any(),
        GAIN.any(),
        PAN.any(),
    ];
}

/// One bell of `eq`.
pub(crate) mod bell {
    use super::*;

    pub(crate) const AT: Setting<Option<f64>> = level("at", (LOWEST, HIGHEST), "Hz", Required).doc("The centre.");
    pub(crate) const GAIN: Setting<Option<f64>> =
        level("gain", (-LOUDEST, LOUDEST), "dB", Required).doc("The lift or dip at the centre.");
    pub(crate) const WIDTH: Setting<f64> =
        number("width", (0.05, 10.0), "octaves", 1.0).doc("From one point of half the gain to the other.");

    pub(in crate::schema) const ALL: &[Setting] = &[AT.any(), GAIN.any(), WIDTH.any()];
}

/// `compress`.
pub(crate) mod compress {
    use super::*;

    pub(crate) const THRESHOLD: Setting<f64> =
        number("threshold", (-100.0, 0.0), "dB", -18.0).doc("The level above which it squeezes.");
    pub(crate) const RATIO: Setting<f64> =
        number("ratio", (1.0, 100.0), "", 2.0).doc("This many dB above the threshold become 1 dB.");
    pub(crate) const ATTACK: Setting<f64> =
        number("attack", (0.0, 1000.0), "ms", 20.0).doc("How fast it takes hold: the time to 63 percent.");
    pub(crate) const RELEASE: Setting<f64> =
        number("release", (1.0, 10_000.0), "ms", 150.0).doc("How fast it lets go: the time to 63 percent.");
    pub(crate) const KNEE: Setting<f64> = number("knee", (0.0, 60.0), "dB", 6.0)
        .or_off()
        .doc("The width of the bend around the threshold; 0 is a corner.");
    pub(crate) const MAKEUP: Setting<f64> = number("makeup", (-LOUDEST, LOUDEST), "dB", 0.0)
        .or_off()
        .doc("Gain after it.");
    pub(crate) const BLEND: Setting<f64> = number("blend", (0.0, 100.0), "percent", 100.0)
        .doc("The squeezed share; the rest is plain (parallel compression).");

    pub(in crate::schema) const ALL: &[Setting] = &[
        THRESHOLD.any(),
        RATIO.any(),
        ATTACK.any(),
        RELEASE.any(),
        KNEE.any(),
        MAKEUP.any(),
        BLEND.any(),
    ];
}

/// `drive`.
pub(crate) mod drive {
    use super::*;

    pub(crate) const AMOUNT: Setting<f64> = number("amount", (0.0, 60.0), "dB", 0.0)
        .or_off()
        .doc("How far it is driven into the saturator; 0 is off.");
    pub(crate) const BLEND: Setting<f64> =
        number("blend", (0.0, 100.0), "percent", 100.0).doc("The driven share; the rest is plain.");
    pub(crate) const HIGH_CUT: Setting<Option<f64>> = level("high_cut", (LOWEST, HIGHEST), "Hz", Off)
        .or_off()
        .doc("Takes the top off what the saturator adds.");

    pub(in crate::schema) const ALL: &[Setting] = &[AMOUNT.any(), BLEND.any(), HIGH_CUT.any()];
}

/// `duck`.
pub(crate) mod duck {
    use super::*;

    pub(crate) const BY: Setting<Words> = setting("by", Kind::Name("part"), Required)
        .doc("The part that it makes way for, followed before that part's fader and mute.");
    pub(crate) const DEPTH: Setting<f64> = number("depth", (0.0, 100.0), "dB", 6.0)
        .or_off()
        .doc("How far it goes down at that part's loudest.");
    pub(crate) const RELEASE: Setting<f64> =
        number("release", (1.0, 10_000.0), "ms", 150.0).doc("How fast it comes back: the time to 63 percent.");

    pub(in crate::schema) const ALL: &[Setting] = &[BY.any(), DEPTH.any(), RELEASE.any()];
}

/// Sends and ducking; shared by parts and buses.
pub(crate) mod sends {
    use super::*;

    pub(crate) const DUCK: Setting<Settings> = setting("duck", Kind::Table(Table::Duck), Off)
        .or_off()
        .doc("Makes way while a part plays.");
    pub(crate) const ROOM: Setting<Option<f64>> = level("room", (FAINTEST, LOUDEST), "dB", Off)
        .or_off()
        .doc("How much of it goes to the `[room]`, taken after gain and pan.");
    pub(crate) const DELAY: Setting<Option<f64>> = level("delay", (FAINTEST, LOUDEST), "dB", Off)
        .or_off()
        .doc("How much of it goes to the `[delay]`, taken after gain and pan.");
    pub(crate) const SENDS: Setting<Levels> = setting("sends", Kind::Levels, Off)
        .or_off()
        .doc("How much of it goes to the rooms and delays that go by name: { hall = -20, slap = -16 }.");

    pub(in crate::schema) const ALL: &[Setting] = &[DUCK.any(), ROOM.any(), DELAY.any(), SENDS.any()];
}

/// `[[bus]]`.
pub(crate) mod bus {
    use super::*;

    pub(crate) const NAME: Setting<Words> = setting("name", Kind::Name("bus"), Required)
        .doc("What the bus is called. Parts and buses share one set of names.");
    pub(crate) const BUS: Setting<Words> = setting("bus", Kind::Name("bus"), Described("the master"))
        .or_off()
        .doc("The bus it feeds in its turn.");
    pub(crate) const CEILING: Setting<Option<f64>> = level("ceiling", (-60.0, 0.0), "dBTP", Off)
        .or_off()
        .doc("No true peak gets above it.");

    pub(in crate::schema) const ALL: &[Setting] = &[NAME.any(), BUS.any(), CEILING.any()];
}

/// `[master]`.
pub(crate) mod master {
    use super::*;

    pub(crate) const CEILING: Setting<Option<f64>> = bus::CEILING.default(DefaultValue::Number(-1.0));
    pub(crate) const DUCK: Setting<Settings> = setting("duck", Kind::Table(Table::Duck), Off)
        .or_off()
        .doc("Makes way while a part plays.");
    pub(crate) const LOUDNESS: Setting<Option<f64>> = level("loudness", (-60.0, 0.0), "LUFS", Off)
        .or_off()
        .doc("Lifts or lowers the whole to this integrated loudness, under the ceiling.");

    pub(in crate::schema) const ALL: &[Setting] = &[CEILING.any(), DUCK.any(), LOUDNESS.any()];
}
