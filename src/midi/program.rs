//! The sounds of General MIDI Level 1 by the words in the names of pieces.

/// Words, all of which a name must have, and the program that they mean, counted from 1 as the General MIDI Level 1 sound
/// set (MMA/AMEI) prints it. The first row that fits holds, so the more particular stand first. Which sound stands for a
/// plain "bass" or "keys" is [practice].
const PROGRAMS: &[(&[&str], u8)] = &[
    (&["steel", "drum"], 115),
    (&["steelpan"], 115),
    (&["steel", "pan"], 115),
    (&["music", "box"], 11),
    (&["tubular"], 15),
    (&["slap", "bass"], 37),
    (&["synth", "bass"], 39),
    (&["sub"], 39),
    (&["double", "bass"], 33),
    (&["upright", "bass"], 33),
    (&["acoustic", "bass"], 33),
    (&["contrabass"], 44),
    (&["fretless"], 36),
    (&["bassoon"], 71),
    (&["bass"], 34),
    (&["harpsichord"], 7),
    (&["clavinet"], 8),
    (&["celesta"], 9),
    (&["glockenspiel"], 10),
    (&["glock"], 10),
    (&["vibraphone"], 12),
    (&["vibes"], 12),
    (&["marimba"], 13),
    (&["xylophone"], 14),
    (&["dulcimer"], 16),
    (&["kalimba"], 109),
    (&["timpani"], 48),
    (&["electric", "piano"], 5),
    (&["epiano"], 5),
    (&["piano"], 1),
    (&["church", "organ"], 20),
    (&["pipe", "organ"], 20),
    (&["reed", "organ"], 21),
    (&["organ"], 17),
    (&["accordion"], 22),
    (&["harmonica"], 23),
    (&["nylon"], 25),
    (&["acoustic", "guitar"], 26),
    (&["guitar"], 28),
    (&["gtr"], 28),
    (&["pizzicato"], 46),
    (&["synth", "string"], 51),
    (&["string"], 49),
    (&["violin"], 41),
    (&["viola"], 42),
    (&["cello"], 43),
    (&["harp"], 47),
    (&["synth", "brass"], 63),
    (&["french", "horn"], 61),
    (&["brass"], 62),
    (&["trumpet"], 57),
    (&["trombone"], 58),
    (&["tuba"], 59),
    (&["sax"], 67),
    (&["saxophone"], 67),
    (&["oboe"], 69),
    (&["clarinet"], 72),
    (&["piccolo"], 73),
    (&["flute"], 74),
    (&["recorder"], 75),
    (&["ocarina"], 80),
    (&["choir"], 53),
    (&["vox"], 54),
    (&["vocal"], 54),
    (&["voice"], 54),
    (&["banjo"], 106),
    (&["sitar"], 105),
    (&["lead"], 82),
    (&["pad"], 90),
    (&["synth"], 82),
    (&["keys"], 5),
    (&["bell"], 15),
];

/// The program, from 0 to 127, that a piece's name asks for: by its words, a plural `s` left out. None where no word says what
/// it is, and for drums.
pub fn program_for(piece: &str) -> Option<u8> {
    let lower = piece.to_lowercase();
    let words: Vec<&str> = lower
        .split(|letter: char| !letter.is_alphabetic())
        .filter(|word| !word.is_empty())
        .collect();
    let has = |wanted: &&str| {
        words
            .iter()
            .any(|word| word == wanted || word.strip_suffix('s') == Some(wanted))
    };
    let (wanted, program) = PROGRAMS.iter().find(|(wanted, _)| wanted.iter().all(has))?;
    let drum = has(&"drum") && !wanted.contains(&"drum");
    (!drum).then(|| program - 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_ask_for_the_sounds_of_general_midi() {
        // General MIDI Level 1 sound set, counted from 0 (recomputed by `tests/reference/constants.py`).
        for (piece, program) in [
            ("bass", 33),
            ("bass-2", 33),
            ("double-bass", 32),
            ("synth-bass", 38),
            ("keys", 4),
            ("piano_C4", 0),
            ("organ", 16),
            ("strings", 48),
            ("brass", 61),
            ("guitar", 27),
            ("vibraphone", 11),
            ("steel-drum", 114),
            ("Flute", 73),
        ] {
            assert_eq!(program_for(piece), Some(program), "{piece}");
        }
        for piece in ["kick", "bass-drum", "stand-in", "foghorn", "", "808"] {
            assert_eq!(program_for(piece), None, "{piece}");
        }
    }

    #[test]
    fn programs_are_of_the_set() {
        assert!(
            PROGRAMS
                .iter()
                .all(|(words, program)| !words.is_empty() && (1..=128).contains(program))
        );
    }
}
