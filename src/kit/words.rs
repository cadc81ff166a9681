//! Which words of a file's name tell what it is: the table alone, without the reading of it.

/// A General MIDI percussion piece and the words that tell it: one out of each group must stand in the name, as it is or as a plural.
pub(super) struct Telling {
    /// The piece's name in short.
    pub piece: &'static str,
    /// Groups of words for the same thing.
    pub words: &'static [&'static [&'static str]],
}

const fn telling(piece: &'static str, words: &'static [&'static [&'static str]]) -> Telling {
    Telling { piece, words }
}

const HAT: &[&str] = &["hat", "hh", "hihat"];
const TOM: &[&str] = &["tom", "tomtom"];
const BONGO: &[&str] = &["bongo"];
const CONGA: &[&str] = &["conga"];
const TIMBALE: &[&str] = &["timbale"];
const AGOGO: &[&str] = &["agogo"];
const TRIANGLE: &[&str] = &["triangle"];
const BLOCK: &[&str] = &["woodblock"];
const HIGH: &[&str] = &["high", "hi", "h"];
const MID: &[&str] = &["mid", "middle", "med"];
const LOW: &[&str] = &["low", "lo", "l"];
const FLOOR: &[&str] = &["floor", "fl"];
const OPEN: &[&str] = &["open", "opn", "op", "o"];
const PEDAL: &[&str] = &["pedal", "ped", "foot"];
const MUTE: &[&str] = &["mute", "muted", "closed", "damped"];

/// The table, the first that fits wins: what is told by more words stands before what is told by fewer of them.
pub(super) const TELLING: &[Telling] = &[
    telling(
        "side-stick",
        &[&["sidestick", "crossstick", "xstick", "rim", "rimshot"]],
    ),
    telling("side-stick", &[&["side", "cross"], &["stick"]]),
    telling("clap", &[&["clap", "handclap", "clp"]]),
    telling("hat-pedal", &[HAT, PEDAL]),
    telling("hat-pedal", &[&["phh", "hhp", "pedalhat"]]),
    telling("hat-open", &[HAT, OPEN]),
    telling("hat-open", &[&["ohh", "hho", "openhat"]]),
    telling("hat-closed", &[HAT]),
    telling("hat-closed", &[&["chh", "hhc", "closedhat"]]),
    telling("ride-bell", &[&["ride", "rd"], &["bell"]]),
    telling("ride-bell", &[&["ridebell"]]),
    telling("cowbell", &[&["cowbell"]]),
    telling("cowbell", &[&["cow"], &["bell"]]),
    telling("crash", &[&["crash"]]),
    telling("china", &[&["china"]]),
    telling("splash", &[&["splash"]]),
    telling("ride", &[&["ride", "rd"]]),
    telling("tom-floor", &[TOM, FLOOR]),
    telling("tom-floor", &[&["floortom"]]),
    telling("tom-low", &[TOM, LOW]),
    telling("tom-low", &[&["lowtom", "lotom"]]),
    telling("tom-mid", &[TOM, MID]),
    telling("tom-mid", &[&["midtom"]]),
    telling("tom-high", &[TOM, HIGH]),
    telling("tom-high", &[&["hightom", "hitom"]]),
    telling("tambourine", &[&["tambourine", "tamborine", "tamb"]]),
    telling("shaker", &[&["shaker"]]),
    telling("bongo-high", &[BONGO, HIGH]),
    telling("bongo-low", &[BONGO, LOW]),
    telling("conga-mute", &[CONGA, MUTE]),
    telling("conga-slap", &[CONGA, &["slap"]]),
    telling("conga-low", &[CONGA, LOW]),
    telling("conga-open", &[CONGA]),
    telling("timbale-high", &[TIMBALE, HIGH]),
    telling("timbale-low", &[TIMBALE, LOW]),
    telling("agogo-high", &[AGOGO, HIGH]),
    telling("agogo-low", &[AGOGO, LOW]),
    telling("cabasa", &[&["cabasa"]]),
    telling("maracas", &[&["maraca"]]),
    telling("guiro", &[&["guiro", "güiro"]]),
    telling("claves", &[&["clave"]]),
    telling("woodblock-high", &[BLOCK, HIGH]),
    telling("woodblock-low", &[BLOCK, LOW]),
    telling("woodblock-high", &[&["wood"], &["block"], HIGH]),
    telling("woodblock-low", &[&["wood"], &["block"], LOW]),
    telling("triangle-mute", &[TRIANGLE, MUTE]),
    telling("triangle-open", &[TRIANGLE]),
    telling("snare", &[&["snare", "sd", "snr", "sn"]]),
    telling("kick", &[&["kick", "bd", "kik", "bassdrum"]]),
    telling("kick", &[&["bass"], &["drum"]]),
];

/// Words for how hard a take is struck, from the softest up: players' words and the dynamics of a score. A take without any
/// lies between mezzo-forte and forte.
pub(super) const DYNAMICS: &[(&str, f64)] = &[
    ("pp", 1.0),
    ("p", 2.0),
    ("soft", 2.0),
    ("mp", 3.0),
    ("medium", 3.5),
    ("mf", 4.0),
    ("f", 5.0),
    ("hard", 5.0),
    ("ff", 6.0),
];

/// How hard a take without a word for it is struck.
pub(super) const PLAIN: f64 = 4.5;
