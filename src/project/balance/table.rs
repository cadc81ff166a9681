//! How loud parts stand to one another in common practice: a row a role.

use crate::kit::Drum;

/// What a part is to the others.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Role {
    Lead,
    Kick,
    Snare,
    Bass,
    Line,
    Toms,
    Stick,
    Crash,
    Chords,
    Percussion,
    Time,
    Pad,
}

/// A row of the table.
#[derive(Debug)]
pub(crate) struct Row {
    role: Role,
    /// What it is called.
    pub name: &'static str,
    /// LU relative to the lead, of the loudness where a part plays.
    pub level: f64,
    /// The instruments that have it by themselves.
    drums: &'static [Drum],
    /// Words of a part's or a piece's name that give it.
    words: &'static [&'static str],
}

/// The table, in the order in which a part is looked for that keeps its gain. All levels are [practice]: the lead loudest, kick,
/// snare and bass alike, a stick on the rim under the snare, what keeps time 8 LU under the kick, chords under the bass, and a pad under
/// them.
pub(crate) const TABLE: [Row; 12] = [
    Row {
        role: Role::Lead,
        name: "lead",
        level: 0.0,
        drums: &[],
        words: &[
            "lead", "tune", "melody", "theme", "solo", "voice", "vocal", "vocals", "vox", "singer",
        ],
    },
    Row {
        role: Role::Kick,
        name: "kick",
        level: -2.0,
        drums: &[Drum::Kick],
        words: &[],
    },
    Row {
        role: Role::Snare,
        name: "snare",
        level: -2.0,
        drums: &[Drum::Snare, Drum::Clap],
        words: &["backbeat", "snap", "snaps"],
    },
    Row {
        role: Role::Bass,
        name: "bass",
        level: -2.0,
        drums: &[],
        words: &["bass", "sub", "contrabass", "tuba"],
    },
    Row {
        role: Role::Line,
        name: "line",
        level: -4.0,
        drums: &[],
        words: &[
            "line",
            "answer",
            "fill",
            "fills",
            "riff",
            "lick",
            "counter",
            "countermelody",
        ],
    },
    Row {
        role: Role::Toms,
        name: "toms",
        level: -4.0,
        drums: &[Drum::Tom],
        words: &[],
    },
    Row {
        role: Role::Stick,
        name: "stick",
        level: -6.0,
        drums: &[Drum::Stick],
        words: &[],
    },
    Row {
        role: Role::Crash,
        name: "crash",
        level: -6.0,
        drums: &[Drum::Crash, Drum::China, Drum::Splash, Drum::Cymbal],
        words: &["gong"],
    },
    Row {
        role: Role::Chords,
        name: "chords",
        level: -6.0,
        drums: &[],
        words: &["chords", "comp", "keys", "piano", "clavinet", "guitar", "banjo", "harp"],
    },
    Row {
        role: Role::Percussion,
        name: "percussion",
        level: -8.0,
        drums: &[
            Drum::Cowbell,
            Drum::Bongo,
            Drum::Conga,
            Drum::Timbale,
            Drum::Agogo,
            Drum::Guiro,
            Drum::Claves,
            Drum::Woodblock,
            Drum::Triangle,
            Drum::Vibraslap,
            Drum::Whistle,
            Drum::Cuica,
        ],
        words: &["percussion", "perc", "drum", "djembe", "cajon", "tabla"],
    },
    Row {
        role: Role::Time,
        name: "time",
        level: -10.0,
        drums: &[
            Drum::Hat,
            Drum::Ride,
            Drum::Shaker,
            Drum::Tambourine,
            Drum::Cabasa,
            Drum::Maracas,
        ],
        words: &[],
    },
    Row {
        role: Role::Pad,
        name: "pad",
        level: -10.0,
        drums: &[],
        words: &[
            "pad",
            "pads",
            "organ",
            "strings",
            "choir",
            "drone",
            "harmonium",
            "accordion",
        ],
    },
];

impl Role {
    /// Its row.
    pub(crate) const fn row(self) -> &'static Row {
        &TABLE[self as usize]
    }

    /// The role of a name.
    pub(crate) fn named(name: &str) -> Option<Role> {
        TABLE.iter().find(|row| row.name == name).map(|row| row.role)
    }

    /// The role of an instrument of percussion.
    pub(super) fn of_drum(drum: Drum) -> Option<Role> {
        TABLE.iter().find(|row| row.drums.contains(&drum)).map(|row| row.role)
    }

    /// The role that some words of a name give: that of the first that gives one.
    pub(super) fn of_words(words: &[String]) -> Option<Role> {
        let of = |word: &String| TABLE.iter().find(|row| row.words.contains(&word.as_str()));
        words.iter().find_map(of).map(|row| row.role)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_stand_where_their_roles_are_and_no_word_is_in_two() {
        for row in &TABLE {
            assert_eq!(row.role.row().name, row.name);
        }
        let words: Vec<&str> = TABLE.iter().flat_map(|row| row.words).copied().collect();
        let once: std::collections::BTreeSet<&str> = words.iter().copied().collect();
        assert_eq!(once.len(), words.len());
    }

    #[test]
    fn the_manual_has_the_table() {
        let chapter = include_str!("../../manual/shaping.md");
        for row in &TABLE {
            let level = if row.level == 0.0 {
                "0".into()
            } else {
                row.level.to_string()
            };
            let line = format!("| `{}` | {level} |", row.name);
            assert!(chapter.contains(&line), "no {line}");
        }
    }
}
