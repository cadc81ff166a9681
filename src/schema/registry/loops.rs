//! The tables of a loop file that stand for the whole loop: its time, feel, accents, mixes and sweeps.

use crate::schema::declare::*;

/// A loop file.
pub(crate) mod loop_file {
    use super::*;

    pub(crate) const LOOP: Setting<Settings> =
        setting("loop", Kind::Table(Table::Loop), Required).doc("What the loop is: tempo, length, metre, kit.");
    pub(crate) const FEEL: Setting<Settings> =
        setting("feel", Kind::Table(Table::Feel), Described("straight")).doc("How the whole loop is played.");
    pub(crate) const TAB: Setting<Vec<Pattern>> = setting("tab", Kind::Tablature, Described("none")).doc(
        "The drums as tablature: for some bars, a text with a line a part, its name and its marks. \
         A name that no `[[part]]` has is a part of that piece with default sound.",
    );
    pub(crate) const CHORDS: Setting<Vec<Pattern>> = setting(
        "chords",
        Kind::Bars("a line of chords such as \"Cm7 / / F13\""),
        Described("none"),
    )
    .doc(
        "The chord chart: for some bars, their chord symbols. Several share a bar evenly; with `/` every word \
             is a beat, and a slash is one more beat of the same chord. `%` is the bar before again, N.C. no \
             chord, `|` a barline.",
    );
    pub(crate) const ACCENTS: Setting<Accents> = setting("accents", Kind::Accents, Described("none")).doc(
        "Ensemble hits, by bars: whatever plays exactly on these steps has its velocity raised by 118/96, as \
             an accent is over a plain hit, to 127 at the most. Any mark but `-` is an accent. What was played as \
             MIDI takes the accent of the step that it is nearest to: within half a sixteenth of it, or half of \
             the accents' own step where that is finer, the steps swung as the loop swings.",
    );
    pub(crate) const PART: Setting<Vec<Settings>> = setting("part", Kind::Tables(Table::Part), Described("none"))
        .doc("The parts: what each plays, and how it sounds.");
    pub(crate) const BUS: Setting<Vec<Settings>> =
        setting("bus", Kind::Tables(Table::Bus), Described("none")).doc("Buses: several parts through one strip.");
    pub(crate) const ROOM: Setting<Settings> =
        setting("room", Kind::Table(Table::Room), Described("a small room")).doc("The room that `room` sends to.");
    pub(crate) const ROOMS: Setting<NamedTables> = setting("rooms", Kind::Named(Table::Room), Described("none"))
        .doc("More rooms by name: `[rooms.hall]`. Parts and buses send to them by `sends`.");
    pub(crate) const DELAY: Setting<Settings> =
        setting("delay", Kind::Table(Table::Delay), Described("dotted eighths"))
            .doc("The delay that `delay` sends to.");
    pub(crate) const DELAYS: Setting<NamedTables> = setting("delays", Kind::Named(Table::Delay), Described("none"))
        .doc("More delays by name: `[delays.slap]`. Parts and buses send to them by `sends`.");
    pub(crate) const MASTER: Setting<Settings> =
        setting("master", Kind::Table(Table::Master), Described("a ceiling of -1 dBTP"))
            .doc("The strip through which all goes at last.");
    pub(crate) const SWEEP: Setting<Vec<Settings>> =
        setting("sweep", Kind::Tables(Table::Sweep), Described("none")).doc("Settings that change over the bars.");
    pub(crate) const MIX: Setting<Vec<Settings>> = setting("mix", Kind::Tables(Table::Mix), Described("none"))
        .doc("Versions to compare with the loop as it is written.");

    pub(in crate::schema) const ALL: &[Setting] = &[
        LOOP.any(),
        FEEL.any(),
        TAB.any(),
        CHORDS.any(),
        ACCENTS.any(),
        PART.any(),
        BUS.any(),
        ROOM.any(),
        ROOMS.any(),
        DELAY.any(),
        DELAYS.any(),
        MASTER.any(),
        SWEEP.any(),
        MIX.any(),
    ];
}

/// `[loop]`.
pub(crate) mod loop_table {
    use super::*;

    pub(crate) const TITLE: Setting<Words> =
        setting("title", Kind::Text, Described("the file's name")).doc("What the loop is called.");
    pub(crate) const KIT: Setting<Vec<Words>> = setting("kit", Kind::Paths, DefaultValue::Text(".")).doc(
        "A folder of one-shots, relative to this file; or a list of folders, of which the first that has a piece wins.",
    );
    pub(crate) const TEMPO: Setting<Option<f64>> = level("tempo", (5.0, 999.0), "BPM", Required)
        .doc("How many beats go into a minute; `beat` says what a beat is.");
    pub(crate) const BARS: Setting<u64> =
        setting("bars", Kind::Whole(1, 10_000, "bars"), Required).doc("How long the loop is.");
    pub(crate) const METRE: Setting<(u32, u32)> = setting("metre", Kind::Metre, DefaultValue::Text("4/4"))
        .doc("The counts of a bar over the note that is counted. The lower figure is a power of two.");
    pub(crate) const BEAT: Setting<Length> = setting("beat", Kind::NoteValue, DefaultValue::Text("1/4"))
        .doc("What `tempo` counts; \"1/4 dotted\" for a felt 6/8.");
    pub(crate) const KEY: Setting<Words> =
        setting("key", Kind::Key, Described("none")).doc("The key of the music, such as \"G minor\".");
    pub(crate) const SEED: Setting<u64> = setting("seed", Kind::Whole(0, u64::MAX, ""), DefaultValue::Whole(1))
        .doc("Every chance in the loop is drawn from it: the same seed, the same loop.");
    pub(crate) const ENDING: Setting<Words> = setting(
        "ending",
        Kind::Choice(&["repeat", "let ring", "damp"]),
        DefaultValue::Text("repeat"),
    )
    .doc(
        "What rings past the last bar: with \"repeat\" it sounds at the first, as on the next time round; \
         with \"let ring\" it rings out after the last bar; with \"damp\" it ends with the last bar.",
    );

    pub(crate) const HINTS: Setting<bool> = switch("hints", true)
        .doc("Whether `check` suggests what in the harmony could be otherwise; errors are told all the same.");

    pub(in crate::schema) const ALL: &[Setting] = &[
        TITLE.any(),
        KIT.any(),
        TEMPO.any(),
        BARS.any(),
        METRE.any(),
        BEAT.any(),
        KEY.any(),
        SEED.any(),
        ENDING.any(),
        HINTS.any(),
    ];
}

/// `[feel]`.
pub(crate) mod feel {
    use super::*;

    /// Swing of less than a half is a snap, short before long; 25 is the dotted pair the other way round.
    const SNAP: f64 = 25.0;
    /// Past this the second note is no more than a grace note of the next pair.
    const GRACE: f64 = 90.0;

    pub(crate) const SWING: Setting<f64> = number("swing", (SNAP, GRACE), "percent", 50.0).or_off_as(50.0).doc(
        "The percent of a pair of notes that its first half takes: 50 is straight, 66.7 triplets, 75 a dotted pair.",
    );
    pub(crate) const SWING_OF: Setting<Length> = setting("swing_of", Kind::NoteValue, DefaultValue::Text("1/16"))
        .doc("The notes that swing, in pairs; all that lies in a pair bends with it.");
    pub(crate) const LOOSE: Setting<Settings> = setting("loose", Kind::Table(Table::Loose), Described("none"))
        .or_off()
        .doc(
            "How far a player drifts, as people do: in long slow swings with small ones on them (1/f), repeating \
             with the loop.",
        );
    pub(crate) const LIKE: Setting<Words> = setting("like", Kind::Path, Described("nobody")).or_off().doc(
        "Plays as the drummer of a MIDI file does: a Standard MIDI File, relative to this file. How early or \
             late, and how hard, each sixteenth of the bar is played there on average is laid on the loop: that \
             of the very piece where it plays the sixteenth four times or more, else that of all percussion. The \
             timing is the drummer's in place of the loop's swing, `loose` and `behind` come on top, and what a \
             `midi` part performed stays as it is.",
    );
    pub(crate) const AMOUNT: Setting<f64> = number("amount", (0.0, 200.0), "percent", 100.0)
        .or_off()
        .doc("How far the loop goes the way of `like`.");

    pub(crate) const PLAYERS: Setting<NamesByName> = setting(
        "players",
        Kind::NamesByName("part"),
        Described("a player for each part"),
    )
    .or_off()
    .doc(
        "People who play several parts, by a name of your own: { drums = [\"kick\", \"snare\", \"tom-*\"] }, where \
             `*` stands for any ending. One player's parts drift as one: both hands alike, and both feet (`kick`, \
             `hat-pedal`) nearly with them. No stroke of the hands, or of the feet, drifts past another. What was \
             performed as `midi` stays as it was played.",
    );

    pub(in crate::schema) const ALL: &[Setting] = &[
        SWING.any(),
        SWING_OF.any(),
        LOOSE.any(),
        LIKE.any(),
        AMOUNT.any(),
        PLAYERS.any(),
    ];
}

/// `loose`: a player's drift.
pub(crate) mod loose {
    use super::*;

    pub(crate) const MS: Setting<f64> = number("ms", (0.0, 100.0), "ms", 0.0)
        .or_off()
        .doc("The spread of the drift in time: its standard deviation.");
    pub(crate) const VELOCITY: Setting<f64> = number("velocity", (0.0, 60.0), "", 0.0)
        .or_off()
        .doc("The spread of the drift in velocity: its standard deviation.");
    pub(crate) const TOGETHER: Setting<f64> = number("together", (0.0, 1.0), "", 0.0).doc(
        "The share that a part drifts with the band: the drifts of two parts correlate by it (by the root of \
             the product of theirs, where they differ). At 1 all drift as one.",
    );

    pub(in crate::schema) const ALL: &[Setting] = &[MS.any(), VELOCITY.any(), TOGETHER.any()];
}

/// `[accents]`.
pub(crate) mod accents {
    use super::*;

    pub(crate) const HITS: Setting<Vec<Pattern>> = setting("hits", Kind::Hits, Described("what its bars say")).doc(
        "Where the accents fall, for all bars or in a table of bars. In place of it `[accents]` can name the \
             bars itself: \"4\" = \"X--- ---X\".",
    );
    pub(crate) const PARTS: Setting<Vec<Words>> =
        setting("parts", Kind::Names("part"), Described("all")).doc("The parts that play the accents.");

    pub(crate) const TOGETHER: Setting<f64> = number("together", (0.0, 1.0), "", 0.0).or_off().doc(
        "How far the parts that play the accents strike as one there. At 1 they have the band's drift alone; at \
             0.8 a fifth of how far each part is from it, by its own drift, `like` and `behind`, is left.",
    );

    pub(crate) const STRIKE: Setting<Vec<Words>> = setting("strike", Kind::Names("part"), Described("none")).doc(
        "Parts that also strike there, whatever they have written: a part with hits its own piece, one with notes or \
             degrees the root of the chart's chord, one with `comp` the chord. It sounds for the length of the step, \
             and what the part had within that step, or held until then, gives way. At N.C. notes and chords stay \
             as they are written.",
    );

    pub(in crate::schema) const ALL: &[Setting] = &[HITS.any(), PARTS.any(), TOGETHER.any(), STRIKE.any()];
}

/// A line that swells.
pub(crate) mod swell {
    use super::*;

    pub(crate) const SWELL: Setting<(f64, f64)> = setting("swell", Kind::Swell, Required).doc(
        "What a plain hit's or note's velocity is at the beginning of the bars given and at their end: in between it \
             goes evenly, and all other marks are scaled with it. Each run of neighbouring bars swells anew.",
    );
    pub(crate) const PLAY: Setting<Vec<Pattern>> =
        setting("play", Kind::Line, Required).doc("What is played while it swells.");

    pub(in crate::schema) const ALL: &[Setting] = &[SWELL.any(), PLAY.any()];
}

/// `[[mix]]`.
pub(crate) mod mix {
    use super::*;

    pub(crate) const NAME: Setting<Words> =
        setting("name", Kind::Text, Required).doc("What the version is called; `--mix` chooses it by this name.");
    pub(crate) const SET: Setting<Node> = setting("set", Kind::Changes, Required).doc(
        "What is different: values by key, such as { \"bass.gain\" = 2, \"drums.compress.ratio\" = 4 }. A \
             bare number for a table, as for `drive`, is its main value; the rest stays.",
    );

    pub(in crate::schema) const ALL: &[Setting] = &[NAME.any(), SET.any()];
}

/// `[[sweep]]`.
pub(crate) mod sweep {
    use super::*;

    /// Wide enough for every number of a strip; the setting that is swept has the range that counts.
    const ANY: f64 = 1e5;

    pub(crate) const KEY: Setting<Words> = setting("key", Kind::Text, Required).doc(
        "What changes: any number of a strip, such as snare.gain or drums.compress.ratio, or the level of a \
             room or delay. In a form file a key of its master, such as master.high_cut; the sweeps of a \
             section's own master are left out there.",
    );
    pub(crate) const BARS: Setting<Words> = setting("bars", Kind::Text, Required).doc(
        "When: whole bars such as 1-4, or from one count to another, such as 3:1-3:4. It holds before and after. \
         In a form file they count over the whole form.",
    );
    pub(crate) const FROM: Setting<Option<f64>> =
        level("from", (-ANY, ANY), "", Required).doc("The value at the beginning, in the key's own unit.");
    pub(crate) const TO: Setting<Option<f64>> = level("to", (-ANY, ANY), "", Required)
        .doc("The value at the end. Levels move evenly in dB, frequencies in octaves; a jump takes 5 ms.");
    pub(crate) const EVERY: Setting<Length> = setting("every", Kind::NoteValue, Described("once over the bars"))
        .doc("A note value after which it begins again, over and over.");

    pub(in crate::schema) const ALL: &[Setting] = &[KEY.any(), BARS.any(), FROM.any(), TO.any(), EVERY.any()];
}
