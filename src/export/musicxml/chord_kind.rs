//! What a chord symbol means in the format's kinds: the kind that is nearest, and what to change in it.

use crate::harmony::Chord;

/// A change of a chord's tones. Alterations are semitones: of an added tone against a dominant chord's, of an altered one
/// against the kind's (MusicXML 4.0, `degree-alter`).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Change {
    Add(u8, i8),
    Alter(u8, i8),
    Subtract(u8),
}

/// Kinds with their tones (MusicXML 4.0, `kind-value`), each a degree and its alteration from the major scale: the commoner
/// first.
const KINDS: [(&str, &[(u8, i8)]); 25] = [
    ("major", &[(1, 0), (3, 0), (5, 0)]),
    ("minor", &[(1, 0), (3, -1), (5, 0)]),
    ("dominant", &[(1, 0), (3, 0), (5, 0), (7, -1)]),
    ("major-seventh", &[(1, 0), (3, 0), (5, 0), (7, 0)]),
    ("minor-seventh", &[(1, 0), (3, -1), (5, 0), (7, -1)]),
    ("half-diminished", &[(1, 0), (3, -1), (5, -1), (7, -1)]),
    ("diminished-seventh", &[(1, 0), (3, -1), (5, -1), (7, -2)]),
    ("diminished", &[(1, 0), (3, -1), (5, -1)]),
    ("augmented", &[(1, 0), (3, 0), (5, 1)]),
    ("augmented-seventh", &[(1, 0), (3, 0), (5, 1), (7, -1)]),
    ("major-sixth", &[(1, 0), (3, 0), (5, 0), (6, 0)]),
    ("minor-sixth", &[(1, 0), (3, -1), (5, 0), (6, 0)]),
    ("major-minor", &[(1, 0), (3, -1), (5, 0), (7, 0)]),
    ("suspended-fourth", &[(1, 0), (4, 0), (5, 0)]),
    ("suspended-second", &[(1, 0), (2, 0), (5, 0)]),
    ("dominant-ninth", &[(1, 0), (3, 0), (5, 0), (7, -1), (9, 0)]),
    ("major-ninth", &[(1, 0), (3, 0), (5, 0), (7, 0), (9, 0)]),
    ("minor-ninth", &[(1, 0), (3, -1), (5, 0), (7, -1), (9, 0)]),
    ("dominant-11th", &[(1, 0), (3, 0), (5, 0), (7, -1), (9, 0), (11, 0)]),
    ("major-11th", &[(1, 0), (3, 0), (5, 0), (7, 0), (9, 0), (11, 0)]),
    ("minor-11th", &[(1, 0), (3, -1), (5, 0), (7, -1), (9, 0), (11, 0)]),
    (
        "dominant-13th",
        &[(1, 0), (3, 0), (5, 0), (7, -1), (9, 0), (11, 0), (13, 0)],
    ),
    (
        "major-13th",
        &[(1, 0), (3, 0), (5, 0), (7, 0), (9, 0), (11, 0), (13, 0)],
    ),
    (
        "minor-13th",
        &[(1, 0), (3, -1), (5, 0), (7, -1), (9, 0), (11, 0), (13, 0)],
    ),
    ("power", &[(1, 0), (5, 0)]),
];

/// The kind of a chord, and all that has to be changed in it.
pub(super) fn kind_of(chord: &Chord) -> (&'static str, Vec<Change>) {
    let tones: Vec<(u8, i8)> = chord
        .tones
        .iter()
        .map(|tone| (tone.degree.number, tone.degree.alter))
        .collect();
    let changed = KINDS.iter().map(|(kind, own)| (*kind, changes(own, &tones)));
    // What is taken away reads worse than what is added.
    let cost = |changes: &[Change]| {
        let one = |change: &Change| match change {
            // Lead sheets leave a thirteenth's eleventh out over a major third [practice].
            Change::Subtract(11) => 1,
            // A minor one, by the format; there are readers that take it for a major one.
            Change::Add(7, 0) => 9,
            Change::Add(..) => 2,
            Change::Alter(..) | Change::Subtract(_) => 3,
        };
        changes.iter().map(one).sum::<usize>()
    };
    changed
        .min_by_key(|(_, changes)| cost(changes))
        .unwrap_or(("other", Vec::new()))
}

fn changes(own: &[(u8, i8)], tones: &[(u8, i8)]) -> Vec<Change> {
    let mut changes = Vec::new();
    for (number, alter) in own {
        let has: Vec<i8> = tones
            .iter()
            .filter(|(other, _)| other == number)
            .map(|(_, alter)| *alter)
            .collect();
        match has[..] {
            [] => changes.push(Change::Subtract(*number)),
            _ if has.contains(alter) => {}
            [other, ..] => changes.push(Change::Alter(*number, other - alter)),
        }
    }
    for (number, alter) in tones {
        let plain = own.iter().find(|(other, _)| other == number);
        let first = tones.iter().find(|(other, _)| other == number);
        let altered = plain.is_some_and(|plain| !tones.contains(plain)) && first == Some(&(*number, *alter));
        if plain != Some(&(*number, *alter)) && !altered {
            changes.push(Change::Add(*number, alter - if *number == 7 { -1 } else { 0 }));
        }
    }
    changes
}

#[cfg(test)]
mod tests {
    use super::Change::*;
    use super::*;

    #[test]
    fn kinds_and_their_changes_say_every_tone() {
        for (symbol, kind, told) in [
            ("C", "major", vec![]),
            ("Bbm7", "minor-seventh", vec![]),
            ("C7b9", "dominant", vec![Add(9, -1)]),
            ("C7b9#9", "dominant", vec![Add(9, -1), Add(9, 1)]),
            ("C7b5", "dominant", vec![Alter(5, -1)]),
            ("C13", "dominant-13th", vec![Subtract(11)]),
            ("C13#11", "dominant-13th", vec![Alter(11, 1)]),
            ("C7no5", "dominant", vec![Subtract(5)]),
            ("Bbm13", "minor-13th", vec![]),
            ("C7sus4", "dominant", vec![Subtract(3), Add(4, 0)]),
            ("C9sus4", "dominant-ninth", vec![Subtract(3), Add(4, 0)]),
            ("Cmaj7#11", "major-seventh", vec![Add(11, 1)]),
            ("C6/9", "major-sixth", vec![Add(9, 0)]),
            ("Cmadd9", "minor", vec![Add(9, 0)]),
            ("CmMaj7", "major-minor", vec![]),
            ("C5", "power", vec![]),
            ("C+maj7", "augmented", vec![Add(7, 1)]),
        ] {
            let (found, changes) = kind_of(&Chord::parse(symbol).expect("a chord"));
            assert_eq!((found, changes), (kind, told), "{symbol}");
        }
    }
}
