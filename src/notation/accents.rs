//! The accents that a whole band plays, as a voice over the lead sheet.

use super::drums::accent;
use super::line::{Kind, Line, Played};
use super::staves::written_place;
use super::{Sign, WrittenNote, WrittenPitch};
use crate::loopfile::Loop;

/// The accents of a loop's whole band; each lasts to the end of its beat, or to the next one, as a drum's strokes do.
pub(super) fn of(song: &Loop) -> Line {
    let mut line = Line::new("accents", Kind::Percussion);
    let drum = accent();
    let note = WrittenNote {
        pitch: WrittenPitch::Drum(0),
        head: drum.head,
        tied: false,
        ghost: false,
        approach: None,
        leave: None,
        degree: None,
    };
    line.drum(drum);
    let bar = song.time.bar();
    let all = song.accents.iter().filter(|line| line.parts.is_none());
    for at in all.flat_map(|line| &line.places) {
        let mut played = Played::default();
        played.struck.notes.push(note.clone());
        played.struck.signs.push(Sign::Accent);
        line.voices[0].insert(written_place(*at * bar), played);
    }
    line
}
