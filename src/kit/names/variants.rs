//! Which piece of an instrument is meant: open or closed, high or low.

use super::lexicon::Meant;
use super::words::{Drum, Way};

/// The piece of an instrument that some words tell.
pub(crate) struct Variant<'a> {
    pub piece: &'static str,
    /// What is left of the instrument's sureness, as a factor.
    pub confidence: f64,
    /// True where no word tells the piece apart from its neighbours.
    pub bare: bool,
    /// The word that decided.
    pub by: Option<&'a Meant>,
}

/// What is left where one of two equal pieces is a guess.
const EITHER: f64 = 0.45;
/// What is left where the usual one of several pieces is taken.
const USUAL: f64 = 0.8;

/// The piece of an instrument, by the words of the file's name and then of folder after folder: the first that count.
pub(crate) fn variant<'a>(drum: Drum, shelves: &[Vec<(Way, &'a Meant)>]) -> Variant<'a> {
    // Plain words on any shelf come before those that only hint.
    for (rows, confidence) in choices(drum) {
        for shelf in shelves {
            let told = rows.iter().find_map(|(way, piece)| {
                let (_, by) = shelf.iter().find(|(of, _)| of == way)?;
                Some((*piece, *by))
            });
            if let Some((piece, by)) = told {
                return Variant {
                    piece,
                    confidence: *confidence,
                    bare: false,
                    by: Some(by),
                };
            }
        }
    }
    let (piece, confidence) = plain(drum);
    Variant {
        piece,
        confidence,
        bare: confidence < 1.0,
        by: None,
    }
}

/// Words that tell a piece, the first of a row's first, and how surely they do.
type Row = (&'static [(Way, &'static str)], f64);

fn choices(drum: Drum) -> &'static [Row] {
    match drum {
        Drum::Hat => &[
            (
                &[
                    (Way::Pedal, "hat-pedal"),
                    (Way::Open, "hat-open"),
                    (Way::Closed, "hat-closed"),
                ],
                1.0,
            ),
            (&[(Way::Loose, "hat-open"), (Way::Tight, "hat-closed")], 0.75),
        ],
        Drum::Tom => &[(
            &[
                (Way::Floor, "tom-floor"),
                (Way::Mid, "tom-mid"),
                (Way::High, "tom-high"),
                (Way::Low, "tom-low"),
            ],
            1.0,
        )],
        Drum::Ride | Drum::Cymbal => &[(&[(Way::Bell, "ride-bell")], 1.0)],
        Drum::Bongo => &[(&[(Way::High, "bongo-high"), (Way::Low, "bongo-low")], 1.0)],
        Drum::Conga => &[(
            &[
                (Way::Slap, "conga-slap"),
                (Way::Mute, "conga-mute"),
                (Way::Closed, "conga-mute"),
                (Way::Low, "conga-low"),
                (Way::Open, "conga-open"),
                (Way::High, "conga-open"),
            ],
            1.0,
        )],
        Drum::Timbale => &[(&[(Way::High, "timbale-high"), (Way::Low, "timbale-low")], 1.0)],
        Drum::Agogo => &[(&[(Way::High, "agogo-high"), (Way::Low, "agogo-low")], 1.0)],
        Drum::Woodblock => &[(&[(Way::High, "woodblock-high"), (Way::Low, "woodblock-low")], 1.0)],
        Drum::Triangle => &[(
            &[
                (Way::Mute, "triangle-mute"),
                (Way::Closed, "triangle-mute"),
                (Way::Open, "triangle-open"),
            ],
            1.0,
        )],
        Drum::Whistle => &[(&[(Way::Short, "whistle-short"), (Way::Long, "whistle-long")], 1.0)],
        Drum::Cuica => &[(&[(Way::Mute, "cuica-mute"), (Way::Open, "cuica-open")], 1.0)],
        _ => &[],
    }
}

/// The piece where nothing tells more, and what is left of the sureness.
fn plain(drum: Drum) -> (&'static str, f64) {
    match drum {
        Drum::Kick => ("kick", 1.0),
        Drum::Snare => ("snare", 1.0),
        Drum::Stick => ("side-stick", 1.0),
        Drum::Clap => ("clap", 1.0),
        Drum::Hat => ("hat-closed", USUAL),
        Drum::Tom => ("tom-mid", EITHER),
        Drum::Ride => ("ride", 1.0),
        Drum::Crash => ("crash", 1.0),
        Drum::China => ("china", 1.0),
        Drum::Splash => ("splash", 1.0),
        Drum::Cymbal => ("crash", EITHER),
        Drum::Tambourine => ("tambourine", 1.0),
        Drum::Cowbell => ("cowbell", 1.0),
        Drum::Shaker => ("shaker", 1.0),
        Drum::Bongo => ("bongo-high", EITHER),
        Drum::Conga => ("conga-open", USUAL),
        Drum::Timbale => ("timbale-high", EITHER),
        Drum::Agogo => ("agogo-high", EITHER),
        Drum::Cabasa => ("cabasa", 1.0),
        Drum::Maracas => ("maracas", 1.0),
        Drum::Guiro => ("guiro", 1.0),
        Drum::Claves => ("claves", 1.0),
        Drum::Woodblock => ("woodblock-high", EITHER),
        Drum::Triangle => ("triangle-open", USUAL),
        Drum::Vibraslap => ("vibraslap", 1.0),
        Drum::Whistle => ("whistle-long", EITHER),
        Drum::Cuica => ("cuica-open", USUAL),
    }
}
