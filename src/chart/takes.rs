//! Performances on several pieces, taken apart: a row for each piece, as a drummer's page has it.

use crate::loopfile::{Loop, Part};

/// How late each stroke of each part is played, where that is asked for.
type Feel = Option<Vec<Vec<Option<f64>>>>;

/// The loop with a part for each piece of its performances, under the piece's name, and its hits' lateness likewise.
pub(super) fn apart(song: &Loop, feel: Feel) -> (Loop, Feel) {
    let mut parts: Vec<Part> = Vec::new();
    let mut late: Vec<Vec<Option<f64>>> = Vec::new();
    for (number, part) in song.parts.iter().enumerate() {
        let own = feel.as_ref().map_or(&[][..], |feel| &feel[number]);
        if part.performance.is_none() || part.pieces.len() < 2 {
            parts.push(part.clone());
            late.push(own.to_vec());
            continue;
        }
        for (piece, played) in part.pieces.iter().enumerate() {
            let taken = song.parts.iter().any(|other| other.name == played.piece);
            let name = match taken {
                true => format!("{}: {}", part.name, played.piece),
                false => played.piece.clone(),
            };
            let strokes = || {
                part.strokes
                    .iter()
                    .enumerate()
                    .filter(|(_, stroke)| stroke.piece == piece)
            };
            parts.push(Part {
                name,
                strokes: strokes().map(|(_, stroke)| stroke.clone()).collect(),
                ..part.clone()
            });
            late.push(strokes().filter_map(|(number, _)| own.get(number).copied()).collect());
        }
    }
    let song = Loop { parts, ..song.clone() };
    (song, feel.map(|_| late))
}
