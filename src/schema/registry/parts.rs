//! A part: what it plays, how it plays, how its hits sound.

use super::feel;
use crate::schema::declare::*;

/// `[[part]]`: what a part plays.
pub(crate) mod part {
    use super::*;

    pub(crate) const NAME: Setting<Words> = setting("name", Kind::Name("part"), Required)
        .doc("What the part is called. Parts and buses share one set of names.");
    pub(crate) const BUS: Setting<Words> = setting("bus", Kind::Name("bus"), Described("the master"))
        .or_off()
        .doc("The bus it goes to.");
    pub(crate) const HITS: Setting<Vec<Pattern>> = setting("hits", Kind::Hits, Described("its lines in `[tab]`")).doc(
        "What it plays: a line of marks, a list that counts aloud, or a table of these by bars. A part has \
             its hits here or in `[tab]`, not both.",
    );
    pub(crate) const NOTES: Setting<Vec<Pattern>> = setting(
        "notes",
        Kind::Phrase("a line of notes such as \"G1 = - Bb1\"", "2& G1"),
        Described("none"),
    )
    .doc(
        "What it plays, note by note: words between spaces share the bar evenly. `=` holds, `-` rests, \
             C4+Eb4+G4 sound together, G1^ is an accent, (G1) a ghost note, G1:7 has the velocity of a mark of \
             hits, B3/C4 a grace note, {C4 D4 Eb4} fits words into one step, `|` is a barline.",
    );
    pub(crate) const DEGREES: Setting<Vec<Pattern>> = setting(
        "degrees",
        Kind::Phrase("a line of degrees such as \"1 - 5 -\"", "2& 5"),
        Described("none"),
    )
    .doc(
        "The same as `notes` with degrees of the chart's chords: 3 is the chord's own third, b3 counts from \
             the root's major scale, 8 or 1' is an octave up, 5, one down; <1 is the chord to come, taken early.",
    );
    pub(crate) const COMP: Setting<Vec<Pattern>> = setting(
        "comp",
        Kind::Phrase("a rhythm such as \"x--x --x-\"", "2& x"),
        Described("none"),
    )
    .doc(
        "A rhythm on which it plays the chart's chords: x X g 3-9 and `-` as in hits, `=` holds, d and u are \
             strokes down and up, k a scratch over damped strings, `<` a strike of the chord to come.",
    );
    pub(crate) const CHANGE: Setting<NamedTables> = setting("change", Kind::Named(Table::Playing), Described("none"))
        .doc("Keys of playing that are different in some bars: [part.change] with \"4\" = { voicing = \"shell\" }.");
    pub(crate) const MIDI: Setting<Words> = setting("midi", Kind::Path, Described("none")).doc(
        "A performance that it plays in place of hits: a Standard MIDI File, relative to this file. Its \
             quarter notes are the loop's, whatever tempo it tells. Percussion keys play the pieces of General \
             MIDI; with a `piece` the part plays that piece's keys alone, so that one performance can feed \
             several parts. A `piece` of known root (kit.toml's `root` or `zones`, a note in its file's name, \
             `stand-in`) that no key of the map means plays every key as a note of that pitch, as long as it was \
             held; what lies more than four octaves from its roots is left out and told. The loop's swing leaves \
             it as it was played. Notes after the last bar are left out, and a shorter performance is not \
             repeated. A file that `--midi` wrote names the piece of each percussion key, and comes back as \
             it went out.",
    );
    pub(crate) const KEYS: Setting<NoteNumbers> = setting(
        "keys",
        Kind::NoteNumbers,
        Described("those that the file names, of the kit's `kit.toml`, of General MIDI"),
    )
    .doc("Pieces that the keys of `midi` play where they are not those of General MIDI: { 36 = \"kick\" }.");
    pub(crate) const CHANNEL: Setting<u64> = setting("channel", Kind::Whole(1, 16, ""), DefaultValue::Whole(10)).doc(
        "The channel of `midi` that it plays, from 1; percussion is on 10, what a keyboard plays most likely \
             on 1. Notes are written back on it.",
    );
    pub(crate) const TRACK: Setting<Words> = setting("track", Kind::Text, Described("all of them")).doc(
        "The name of the one track of `midi` that it plays. Where `channel` says nothing, it plays the channel \
             of the track's first note.",
    );
    pub(crate) const TIGHTEN: Setting<f64> = number("tighten", (0.0, 100.0), "percent", 0.0).or_off().doc(
        "How far each note of `midi` is pulled to the nearest sixteenth, counted from its barline and swung \
             as the loop swings: at 0 it stays where it was played, at 100 it lies on the grid.",
    );

    pub(in crate::schema) const ALL: &[Setting] = &[
        NAME.any(),
        BUS.any(),
        HITS.any(),
        NOTES.any(),
        DEGREES.any(),
        COMP.any(),
        CHANGE.any(),
        MIDI.any(),
        KEYS.any(),
        CHANNEL.any(),
        TRACK.any(),
        TIGHTEN.any(),
    ];
}

/// Keys of playing, which `[part.change]` can set for some bars.
pub(crate) mod playing {
    use super::*;

    pub(crate) const MARKS: Setting<PiecesByMark> = setting(
        "marks",
        Kind::Marks,
        Described("on a hat, `o` for hat-open and `p` for hat-pedal"),
    )
    .doc(
        "Letters that play another piece: { o = \"hat-open\" } makes `o` a hit on hat-open. In \
             `[part.change]` marks that are not named keep what they play.",
    );
    pub(crate) const PIECE: Setting<Words> =
        setting("piece", Kind::Name("piece of the kit"), Described("the part's name"))
            .doc("The piece of the kit that it plays.");
    pub(crate) const ODDS: Setting<f64> = number("odds", (0.0, 100.0), "percent", 50.0)
        .doc("How likely a hit marked `m` is to be played; each is drawn by itself.");
    pub(crate) const BEHIND: Setting<f64> = number("behind", (-500.0, 500.0), "ms", 0.0)
        .or_off()
        .doc("How long after the beat it plays; negative: ahead of it.");
    pub(crate) const SWING: Setting<f64> = feel::SWING.default(Described("that of `[feel]`"));
    pub(crate) const LOOSE: Setting<Settings> = feel::LOOSE.default(Described("that of `[feel]`"));
    pub(crate) const VELOCITY: Setting<(f64, f64)> = setting("velocity", Kind::Velocities, Off)
        .or_off()
        .doc("A range that plain hits spread over evenly; other marks keep their distance to them.");
    pub(crate) const MUTE: Setting<bool> =
        switch("mute", false).doc("Keeps it from being heard. It still chokes and ducks others.");
    pub(crate) const VOICING: Setting<Words> = setting(
        "voicing",
        Kind::Choice(&[
            "close", "open", "drop 2", "drop 3", "drop 2&4", "spread", "rootless", "shell",
        ]),
        DefaultValue::Text("close"),
    )
    .doc(
        "How `comp` spreads a chord: within an octave; every second voice up; the second, the third, or the \
             second and the fourth from the top down; guide tones below the rest; without its root; or root, \
             third and seventh alone.",
    );
    pub(crate) const REGISTER: Setting<Words> =
        setting("register", Kind::Note, Described("C2 for degrees, C4 for comp"))
            .doc("A note: each chord's 1 is its root at or next above it; chords are voiced near it.");
    pub(crate) const STRUM: Setting<Settings> = setting("strum", Kind::TableOr(Table::Strum, "ms"), Off).or_off().doc(
        "A chord's notes come one after another, as a thumb brings them. Strokes down and up take 25 ms \
             unless told otherwise.",
    );
    pub(crate) const ARPEGGIO: Setting<Settings> = setting("arpeggio", Kind::Table(Table::Arpeggio), Off)
        .or_off()
        .doc("A chord is broken into its notes, as long as it is written to sound.");
    pub(crate) const SLIDE: Setting<Length> = setting("slide", Kind::Time, DefaultValue::Text("80 ms"))
        .doc("How long a note marked :slide glides from the note before, unless the mark says so.");
    pub(crate) const BEND: Setting<Length> = setting("bend", Kind::Time, DefaultValue::Text("120 ms"))
        .doc("How long a note marked :bend takes to get there, and as long back, unless the mark says so.");
    pub(crate) const SCOOP: Setting<Settings> = setting(
        "scoop",
        Kind::TableOr(Table::Scoop, "depth"),
        Described("{ depth = 1, time = \"100 ms\" }"),
    )
    .doc("How a note marked :scoop comes up from below, unless the mark says so.");
    pub(crate) const FALL: Setting<Settings> = setting(
        "fall",
        Kind::TableOr(Table::Fall, "depth"),
        Described("{ depth = 5, time = \"250 ms\" }"),
    )
    .doc("How a note marked :fall falls off at its end, unless the mark says so.");
    pub(crate) const VIBRATO: Setting<Settings> = setting("vibrato", Kind::Table(Table::Vibrato), Off)
        .or_off()
        .doc("The vibrato of notes marked :vibrato, or of all notes.");
    pub(crate) const LENGTH: Setting<Option<f64>> = level(
        "length",
        (1.0, 400.0),
        "percent",
        Described("100 for notes, degrees, comp and MIDI played as notes, off for hits"),
    )
    .or_off()
    .doc("How much of its written length a note sounds; off lets it ring.");
    pub(crate) const DOUBLE: Setting<Vec<Settings>> = setting("double", Kind::Tables(Table::Double), Off).or_off().doc(
        "Voices that play along, each on a piece, at an interval, a gain and a pan of its own: a part by \
             itself, called NAME double 1.",
    );

    pub(in crate::schema) const ALL: &[Setting] = &[
        MARKS.any(),
        PIECE.any(),
        ODDS.any(),
        BEHIND.any(),
        SWING.any(),
        LOOSE.any(),
        VELOCITY.any(),
        MUTE.any(),
        VOICING.any(),
        REGISTER.any(),
        STRUM.any(),
        ARPEGGIO.any(),
        SLIDE.any(),
        SCOOP.any(),
        FALL.any(),
        BEND.any(),
        VIBRATO.any(),
        LENGTH.any(),
        DOUBLE.any(),
    ];
}

/// `strum`.
pub(crate) mod strum {
    use super::*;

    pub(crate) const MS: Setting<f64> =
        number("ms", (0.0, 2000.0), "ms", 25.0).doc("From a chord's first note to its last.");
    pub(crate) const ORDER: Setting<Words> = setting("order", Kind::Choice(&["up", "down"]), DefaultValue::Text("up"))
        .doc("From the lowest note up, or from the highest down.");

    pub(crate) const HAND: Setting<Words> =
        setting("hand", Kind::Choice(&["even", "guitar"]), DefaultValue::Text("even")).doc(
            "\"even\" plays all notes equally hard, one after another at even distances. \"guitar\" is a guitarist's \
             hand: it gets faster and softer on its way over the strings; a stroke up, or from the highest note down, \
             is quicker and softer, and meets two notes of three, the highest ones; no stroke is quite like another.",
        );

    pub(in crate::schema) const ALL: &[Setting] = &[MS.any(), ORDER.any(), HAND.any()];
}

/// `arpeggio`.
pub(crate) mod arpeggio {
    use super::*;

    pub(crate) const STEP: Setting<Length> =
        setting("step", Kind::NoteValue, DefaultValue::Text("1/16")).doc("From note to note.");
    pub(crate) const ORDER: Setting<Words> = setting(
        "order",
        Kind::Choice(&["up", "down", "up-down", "random"]),
        DefaultValue::Text("up"),
    )
    .doc("The way through the chord's notes; random is drawn from the seed.");

    pub(in crate::schema) const ALL: &[Setting] = &[STEP.any(), ORDER.any()];
}

/// One voice of `double`.
pub(crate) mod double {
    use super::*;

    pub(crate) const INTERVAL: Setting<f64> = setting("interval", Kind::Interval, DefaultValue::Number(0.0))
        .doc("How far from the part's own notes. In words it goes along in the loop's `key`.");
    pub(crate) const PIECE: Setting<Words> =
        setting("piece", Kind::Name("piece of the kit"), Described("the part's own"))
            .doc("The piece of the kit that it plays.");
    pub(crate) const GAIN: Setting<f64> = number("gain", (-120.0, 40.0), "dB", 0.0).doc("Against the part's own gain.");
    pub(crate) const PAN: Setting<Option<f64>> =
        level("pan", (-100.0, 100.0), "", Described("the part's own")).doc("From -100 (left) to 100 (right).");
    pub(crate) const BEHIND: Setting<f64> =
        number("behind", (-500.0, 500.0), "ms", 0.0).doc("How long after the part it plays; negative: before it.");

    pub(in crate::schema) const ALL: &[Setting] = &[INTERVAL.any(), PIECE.any(), GAIN.any(), PAN.any(), BEHIND.any()];
}

/// How a part's hits sound; shared by parts and a kit's pieces.
pub(crate) mod sound {
    use super::*;

    pub(crate) const TOUCH: Setting<f64> = number("touch", (0.0, 1.0), "", 1.0)
        .or_off()
        .doc("How far velocity reaches into level: at 0 every hit is equally loud.");
    pub(crate) const DARK: Setting<f64> = number("dark", (0.0, 100.0), "percent", 0.0)
        .or_off()
        .doc("How much duller a soft hit is than a hard one.");
    pub(crate) const LAYER_CROSSFADE: Setting<f64> = number("layer_crossfade", (0.0, 126.0), "", 0.0).or_off().doc(
        "Over how many velocities one layer of recordings turns into the next, half of them on either side of its \
             `upto`. A hit there plays both layers.",
    );
    pub(crate) const TUNE: Setting<f64> = number("tune", (-48.0, 48.0), "semitones", 0.0)
        .or_off()
        .doc("Plays the recording higher or lower.");
    pub(crate) const VARY: Setting<Settings> = setting("vary", Kind::Table(Table::Vary), Off)
        .or_off()
        .doc("What differs from hit to hit, as it does when a hand plays.");
    pub(crate) const ENVELOPE: Setting<Settings> = setting("envelope", Kind::Table(Table::Envelope), Off)
        .or_off()
        .doc("How a hit swells, stays and falls, over what the recording does.");
    pub(crate) const RELEASE: Setting<f64> = number("release", (0.0, 60_000.0), "ms", 80.0)
        .or_off()
        .doc("How long a note that ends takes to fade.");
    pub(crate) const CHOKE: Setting<Words> =
        setting("choke", Kind::Text, Described("the kit's: the hats are one group"))
            .or_off()
            .doc("A group's name: hits of one group stop one another.");
    pub(crate) const REVERSE: Setting<bool> = switch("reverse", false).or_off().doc("Plays the recording backwards.");
    pub(crate) const START: Setting<f64> = number("start", (0.0, 600_000.0), "ms", 0.0)
        .or_off()
        .doc("How far into the recording a hit begins, counted from the onset of its sound.");
    pub(crate) const TRIM: Setting<bool> = switch("trim", true).or_off().doc(
        "Takes care of recordings: leaves out what is before the sound, so that hits land on time, takes away \
             an offset (DC) above -50 dBFS, and fades the last 2 ms of one that breaks off. The files stay as \
             they are.",
    );

    pub(in crate::schema) const ALL: &[Setting] = &[
        TOUCH.any(),
        DARK.any(),
        LAYER_CROSSFADE.any(),
        TUNE.any(),
        VARY.any(),
        ENVELOPE.any(),
        RELEASE.any(),
        CHOKE.any(),
        REVERSE.any(),
        START.any(),
        TRIM.any(),
    ];
}

/// `vary`.
pub(crate) mod vary {
    use super::*;

    pub(crate) const TUNE: Setting<f64> = number("tune", (0.0, 24.0), "semitones", 0.0)
        .or_off()
        .doc("Hits are up to so much higher or lower.");
    pub(crate) const GAIN: Setting<f64> = number("gain", (0.0, 24.0), "dB", 0.0)
        .or_off()
        .doc("Hits are up to so much louder or softer.");
    pub(crate) const START: Setting<f64> = number("start", (0.0, 10_000.0), "ms", 0.0)
        .or_off()
        .doc("Hits begin up to so much later into the recording.");

    pub(in crate::schema) const ALL: &[Setting] = &[TUNE.any(), GAIN.any(), START.any()];
}

/// `envelope`.
pub(crate) mod envelope {
    use super::*;

    pub(crate) const ATTACK: Setting<f64> = number("attack", (0.0, 60_000.0), "ms", 0.0)
        .or_off()
        .doc("From silence to full level.");
    pub(crate) const HOLD: Setting<f64> = number("hold", (0.0, 60_000.0), "ms", 0.0)
        .or_off()
        .doc("How long it stays at full level.");
    pub(crate) const DECAY: Setting<Option<f64>> = level("decay", (1.0, 600_000.0), "ms", Off)
        .or_off()
        .doc("How long it then takes to fall 60 dB; off: it does not fall.");

    pub(in crate::schema) const ALL: &[Setting] = &[ATTACK.any(), HOLD.any(), DECAY.any()];
}
