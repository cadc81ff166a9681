//! What a setting takes.

use super::table::Table;

/// What a setting takes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Kind {
    /// A number from a least to a greatest one, both allowed, and its unit (empty for none).
    Number(f64, f64, &'static str),
    /// A whole number from a least to a greatest one, both allowed, and its unit (empty for none).
    Whole(u64, u64, &'static str),
    /// Numbers from a least to a greatest one, both allowed, and their unit: one, or a list of them.
    Numbers(f64, f64, &'static str),
    /// Any text.
    Text,
    /// The name of something: a part, a bus, a piece.
    Name(&'static str),
    /// One of some words.
    Choice(&'static [&'static str]),
    /// `true` or `false`.
    Switch,
    /// A note value, such as `1/8 dotted`.
    NoteValue,
    /// A note value, or a time such as `180 ms`.
    Time,
    /// A metre, such as `6/8`.
    Metre,
    /// A range of velocities, such as `70-110`.
    Velocities,
    /// A pitch: a note's name with or without cents, or its MIDI number.
    Pitch,
    /// The path of a file.
    Path,
    /// Paths: one, or a list of them.
    Paths,
    /// A recording: the path of its file, or a table of the paths of its two sides.
    Recording,
    /// Recordings: one, or a list of them.
    Recordings,
    /// Where a loop begins and ends in a recording.
    LoopPoints,
    /// The names of something: one, or a list of them.
    Names(&'static str),
    /// A table with settings of its own.
    Table(Table),
    /// A table with settings of its own, or a number for one of them.
    TableOr(Table, &'static str),
    /// A list of tables.
    Tables(Table),
    /// Tables by a name that is the person's to choose.
    Named(Table),
    /// Send levels in dB, by the name of a room or delay.
    Levels,
    /// Pieces by the mark that plays them.
    Marks,
    /// Pieces by the MIDI note number that plays them.
    NoteNumbers,
    /// Names of something, in lists that have names of the person's own.
    NamesByName(&'static str),
    /// Hits: a line, a list that counts aloud, or a table of bars.
    Hits,
    /// A line of music, or a table of such lines by bars; the words say what stands in it.
    Bars(&'static str),
    /// What a pitched part plays: a line, a list that counts aloud, or a table of these by bars; the words say what stands in
    /// a line and in an entry of a list.
    Phrase(&'static str, &'static str),
    /// A note with its octave, such as `C4`.
    Note,
    /// A key, such as `G minor`.
    Key,
    /// Semitones, or an interval of the key in words, such as `third below`.
    Interval,
    /// One line of hits, or a list that counts aloud.
    Line,
    /// Two velocities to swell or fall between, such as `50-118`.
    Swell,
    /// Accents of the whole band, by bars.
    Accents,
    /// Tablature for many parts, by bars.
    Tablature,
    /// Values by the address of a setting.
    Changes,
}

/// How a recording in two files is written.
const PAIR: &str = "{ left = \"…\", right = \"…\" } for two mono files";

/// What values are held as: the variants of a checked value but for `off`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum HeldAs {
    Number,
    Whole,
    Numbers,
    Text,
    Switch,
    Length,
    Metre,
    Velocities,
    Paths,
    Recording,
    Recordings,
    LoopPoints,
    Table,
    Tables,
    Named,
    Levels,
    Marks,
    NoteNumbers,
    NamesByName,
    Patterns,
    Accents,
    Changes,
}

impl Kind {
    /// What its values are held as.
    pub(super) const fn held_as(&self) -> HeldAs {
        match self {
            Kind::Number(..) | Kind::Interval | Kind::Pitch => HeldAs::Number,
            Kind::Whole(..) => HeldAs::Whole,
            Kind::Numbers(..) => HeldAs::Numbers,
            Kind::Text | Kind::Name(_) | Kind::Choice(_) | Kind::Path | Kind::Note | Kind::Key => HeldAs::Text,
            Kind::Switch => HeldAs::Switch,
            Kind::NoteValue | Kind::Time => HeldAs::Length,
            Kind::Metre => HeldAs::Metre,
            Kind::Velocities | Kind::Swell => HeldAs::Velocities,
            Kind::Paths | Kind::Names(_) => HeldAs::Paths,
            Kind::Recording => HeldAs::Recording,
            Kind::Recordings => HeldAs::Recordings,
            Kind::LoopPoints => HeldAs::LoopPoints,
            Kind::Table(_) | Kind::TableOr(..) => HeldAs::Table,
            Kind::Tables(_) => HeldAs::Tables,
            Kind::Named(_) => HeldAs::Named,
            Kind::Levels => HeldAs::Levels,
            Kind::Marks => HeldAs::Marks,
            Kind::NoteNumbers => HeldAs::NoteNumbers,
            Kind::NamesByName(_) => HeldAs::NamesByName,
            Kind::Hits | Kind::Bars(_) | Kind::Phrase(..) | Kind::Line | Kind::Tablature => HeldAs::Patterns,
            Kind::Accents => HeldAs::Accents,
            Kind::Changes => HeldAs::Changes,
        }
    }

    /// What the setting takes, in words: `a number from -120 to 40 dB`.
    pub fn describe(&self) -> String {
        match self {
            Kind::Number(from, to, unit) => format!("a number from {from} to {to}{}", spaced(unit)),
            Kind::Whole(from, to, unit) => format!("a whole number from {from} to {to}{}", spaced(unit)),
            Kind::Numbers(from, to, unit) => format!("a number from {from} to {to}{}, or a list of them", spaced(unit)),
            Kind::Text => "a text in quotes".into(),
            Kind::Name(of) => format!("the name of a {of}, in quotes"),
            Kind::Choice(words) => {
                let quoted: Vec<String> = words.iter().map(|word| format!("\"{word}\"")).collect();
                format!("one of {}", quoted.join(", "))
            }
            Kind::Switch => "true or false".into(),
            Kind::NoteValue => "a note value such as \"1/8\", \"1/4 dotted\" or \"1/8 triplet\"".into(),
            Kind::Time => "a note value such as \"1/8 dotted\", or a time such as \"180 ms\"".into(),
            Kind::Metre => "a metre from \"1/1\" to \"32/32\", such as \"4/4\" or \"6/8\"".into(),
            Kind::Velocities => "a range of velocities from 1 to 127, such as \"70-110\"".into(),
            Kind::Pitch => {
                "a note such as \"C3\" (C4 is middle C) or \"A4 +17c\" (17 cents above it), or a MIDI number from 0 to 127".into()
            },
            Kind::Path => "a path in quotes".into(),
            Kind::Paths => "a path in quotes, or a list of them".into(),
            Kind::Recording => format!("a path in quotes, or {PAIR}"),
            Kind::Recordings => format!("a path in quotes, {PAIR}, or a list of these"),
            Kind::LoopPoints => {
                "a list of a start and an end: whole numbers are frames, texts are times such as \"0.42 s\" or \"420 ms\"".into()
            }
            Kind::Names(of) => format!("the name of a {of} in quotes, or a list of them"),
            Kind::Table(table) => format!("a table with {}", names(*table)),
            Kind::TableOr(table, name) => match table.setting(name).map(|number| number.kind.describe()) {
                Some(number) => format!("{number}, or a table with {}", names(*table)),
                None => format!("a table with {}", names(*table)),
            },
            Kind::Tables(table) => format!("a list of tables with {}", names(*table)),
            Kind::Named(table) => format!("tables by name, each with {}", names(*table)),
            Kind::Levels => "levels in dB by the name of a room or delay, such as { hall = -20 }".into(),
            Kind::Marks => "pieces by their marks, such as { o = \"hat-open\" }".into(),
            Kind::NoteNumbers => {
                "pieces by the MIDI key that plays them, from 0 to 127, such as { 36 = \"kick\" }".into()
            }
            Kind::NamesByName(of) => format!("lists of {of}s by a name of your own, such as {{ drums = [\"kick\", \"snare\"] }}"),
            Kind::Hits => "a line of marks, a list that counts aloud, or a table of these by bars".into(),
            Kind::Bars(what) => format!("{what}, or a table of these by bars"),
            Kind::Phrase(what, _) => format!("{what}, a list that counts aloud, or a table of these by bars"),
            Kind::Note => "a note with its octave, such as \"C4\"".into(),
            Kind::Key => "a key, such as \"G minor\"".into(),
            Kind::Interval => {
                "semitones from -48 to 48, or an interval of the key such as \"third below\" or \"sixth above\"".into()
            }
            Kind::Line => "a line of marks, notes or degrees, or a list that counts aloud".into(),
            Kind::Swell => "two velocities from 1 to 127, the first and the last, such as \"50-118\"".into(),
            Kind::Accents => "a table of bars, each with a line of marks, and `parts` where not all are meant".into(),
            Kind::Tablature => "a table of bars, each with a text that has a line a part".into(),
            Kind::Changes => "a table of values by key, such as { \"bass.gain\" = 2 }".into(),
        }
    }

    /// True for what is written as text, so that a bare word from the command line is taken as it is.
    pub fn is_text(&self) -> bool {
        use Kind::*;
        matches!(
            self,
            Text | Name(_) | Choice(_) | NoteValue | Time | Metre | Velocities | Swell | Pitch | Path | Note | Key
        )
    }
}

fn spaced(unit: &str) -> String {
    if unit.is_empty() {
        String::new()
    } else {
        format!(" {unit}")
    }
}

fn names(table: Table) -> String {
    let names: Vec<String> = table
        .own()
        .iter()
        .map(|setting| format!("`{}`", setting.name))
        .collect();
    names.join(", ")
}
