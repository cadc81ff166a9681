//! Which parts stand on which staff, and what is played there.

use std::collections::BTreeSet;

use super::drums::{Limb, of_set, percussion};
use super::hands::parted;
use super::line::{Kind, Line};
use super::sounding::Struck;
use super::tuplets::odd;
use super::{Approach, Head, Leave, Sign, WrittenNote, WrittenPitch, spelling};
use crate::harmony::{Key, Note};
use crate::loopfile::{Exact, Loop, Manner, Part, Stroke, Way};

/// What the drum set's staff is called.
const DRUM_SET: &str = "Drums";
/// Places that no tuplet of up to so many notes can name are written on the nearest place of [`GRID`].
const MOST_IN_TUPLET: i128 = 105;
/// Places of a whole note on which such places are written.
const GRID: i128 = 48;

/// The staves of the parts of a loop that are heard, in the order of its parts; those of some names for two hands.
pub(super) fn lines(song: &Loop, two: &BTreeSet<String>) -> Vec<Line> {
    let key = song.tonality();
    let mut lines: Vec<Line> = Vec::new();
    for (number, part) in song.parts.iter().enumerate() {
        if part.silenced || part.double && along(song, number) {
            continue;
        }
        let mut writer = PartWriter {
            song,
            part,
            key: key.as_ref(),
            bar: song.time.bar(),
        };
        if part.strokes.iter().any(|stroke| stroke.pitch.is_some()) {
            lines.push(writer.pitched());
        }
        writer.hits(&mut lines);
    }
    lines.iter_mut().for_each(Line::settle);
    let hands = |line: Line| match !line.is_percussion() && two.contains(&line.name) {
        true => parted(line).to_vec(),
        false => vec![line],
    };
    lines.into_iter().flat_map(hands).collect()
}

/// True for a double that strikes what another part strikes: it has no staff of its own.
fn along(song: &Loop, number: usize) -> bool {
    let own = &song.parts[number].strokes;
    let plays = |stroke: &Stroke| (stroke.at, stroke.pitch);
    own.iter().all(|stroke| stroke.pitch.is_none()) && !own.is_empty()
        || song.parts.iter().enumerate().any(|(other, part)| {
            other != number
                && part.strokes.len() == own.len()
                && !part.double
                && part.strokes.iter().map(plays).eq(own.iter().map(plays))
        })
}

/// A place in whole notes where something can be written.
pub(super) fn written_place(at: Exact) -> Exact {
    match odd(at) > MOST_IN_TUPLET {
        true => (at * GRID).round() / GRID,
        false => at,
    }
}

struct PartWriter<'a> {
    song: &'a Loop,
    part: &'a Part,
    key: Option<&'a Key>,
    /// A bar in whole notes.
    bar: Exact,
}

impl PartWriter<'_> {
    /// A place in bars as one in whole notes that can be written.
    fn place(&self, at: Exact) -> Exact {
        written_place(at * self.bar)
    }

    fn pitched(&mut self) -> Line {
        let kind = match self.part.way {
            Way::Comp => Kind::Chords,
            _ => Kind::Melody,
        };
        let mut line = Line::new(&self.part.name, kind);
        line.belongs(self.part);
        for stroke in &self.part.strokes {
            let Some(note) = spelling::name(self.song, stroke, self.key) else {
                continue;
            };
            line.pitches.push(note.midi());
            let at = self.place(stroke.at);
            let end = self.place(stroke.at + stroke.held());
            let played = line.voices[0].entry(at).or_default();
            let end = end.max(at);
            played.end = Some(played.end.map_or(end, |other| other.max(end)));
            self.add(
                &mut played.struck,
                stroke,
                self.head(stroke),
                spelling::written(note),
                Some(note),
            );
        }
        // What rounding has left without a length would be no note.
        line.voices[0].retain(|at, played| played.end.is_some_and(|end| end > *at));
        line
    }

    /// Writes what is struck without a pitch: on the drum set's staff, or on one of the part's own.
    fn hits(&mut self, lines: &mut Vec<Line>) {
        for stroke in self.part.strokes.iter().filter(|stroke| stroke.pitch.is_none()) {
            let piece = &self.part.pieces[stroke.piece].piece;
            let (drum, limb, kind, name) = match of_set(piece) {
                Some((drum, limb)) => (drum, limb, Kind::Drums, DRUM_SET),
                None => (percussion(piece), Limb::Hand, Kind::Percussion, self.part.name.as_str()),
            };
            let known = lines.iter().position(|line| line.kind == kind && line.name == name);
            let number = known.unwrap_or_else(|| {
                lines.push(Line::new(name, kind));
                lines.len() - 1
            });
            let line = &mut lines[number];
            line.belongs(self.part);
            let head = drum.head;
            let drum = WrittenPitch::Drum(line.drum(drum));
            let at = self.place(stroke.at);
            // A roll lasts its step, every other stroke up to the next beat.
            let rolls = matches!(stroke.manner, Manner::Two | Manner::Press);
            let end = rolls
                .then(|| self.place(stroke.at + stroke.step))
                .filter(|end| *end > at);
            let voice = &mut line.voices[usize::from(limb == Limb::Foot)];
            let played = voice.entry(at).or_default();
            played.end = match (played.end, end) {
                (Some(one), Some(other)) => Some(one.min(other)),
                (one, other) => one.or(other),
            };
            self.add(&mut played.struck, stroke, head, drum, None);
        }
    }

    fn head(&self, stroke: &Stroke) -> Head {
        let dead = stroke.expression.as_ref().is_some_and(|expression| expression.dead);
        match dead || stroke.manner == Manner::Scratch {
            true => Head::Cross,
            false => Head::Round,
        }
    }

    /// Adds a stroke to what is struck at its place.
    fn add(&self, struck: &mut Struck, stroke: &Stroke, head: Head, pitch: WrittenPitch, note: Option<Note>) {
        let expression = stroke.expression.as_deref();
        let written = WrittenNote {
            pitch,
            head,
            tied: false,
            ghost: stroke.mark == 'g',
            approach: expression.and_then(|expression| match () {
                () if expression.slide.is_some() => Some(Approach::Slide),
                () if expression.scoop.is_some() => Some(Approach::Scoop),
                () => None,
            }),
            leave: expression.and_then(|expression| match (&expression.fall, &expression.bend) {
                (Some(_), _) => Some(Leave::Fall),
                (None, Some(bend)) => Some(Leave::Bend(libm::round(bend.semitones * 100.0) as i32)),
                (None, None) => None,
            }),
            degree: note.and_then(|note| Some(spelling::degree(self.song.chord_at(stroke.at)?, note))),
        };
        let own = |manner| match manner {
            Manner::Flam => 1,
            Manner::Drag => 2,
            _ => 0,
        };
        let grace = |pitch: WrittenPitch, head: Head| WrittenNote {
            pitch,
            head,
            approach: None,
            leave: None,
            ghost: false,
            degree: None,
            tied: false,
        };
        let mut graces: Vec<WrittenNote> = (0..own(stroke.manner))
            .map(|_| grace(written.pitch.clone(), written.head))
            .collect();
        for note in expression.map_or(&[][..], |expression| &expression.graces) {
            let note = spelling::plainly(*note, self.key);
            graces.push(grace(spelling::written(note), Head::Round));
        }
        if graces.len() > struck.graces.len() {
            // Fewer grace notes end with the more ones: all lead to the same note.
            let more = graces.len() - struck.graces.len();
            struck.graces.splice(0..0, vec![Vec::new(); more]);
        }
        let from = struck.graces.len() - graces.len();
        for (together, grace) in struck.graces[from..].iter_mut().zip(graces) {
            if together.iter().all(|other| other.pitch != grace.pitch) {
                together.push(grace);
            }
        }
        struck.notes.push(written);
        struck.signs.extend(signs(stroke));
    }
}

/// The signs of a stroke.
fn signs(stroke: &Stroke) -> Vec<Sign> {
    let expression = stroke.expression.as_deref();
    let plain = stroke.pitch.is_some() && stroke.word.is_some() && stroke.manner == Manner::Single;
    let short = plain && stroke.sounds.is_some_and(|sounds| sounds * 2 <= stroke.held());
    let accent = matches!(stroke.mark, 'X' | '9' | 'F' | 'D' | 'R' | 'B');
    [
        (accent, Sign::Accent),
        (short, Sign::Staccato),
        (stroke.manner == Manner::Two, Sign::Tremolo(1)),
        (stroke.manner == Manner::Press, Sign::Buzz),
        (stroke.manner == Manner::Maybe, Sign::Maybe),
        (stroke.pitch.is_some() && stroke.mark == 'd', Sign::DownStroke),
        (stroke.pitch.is_some() && stroke.mark == 'u', Sign::UpStroke),
        (expression.is_some_and(|own| own.vibrato.is_some()), Sign::Vibrato),
        (expression.is_some_and(|own| own.legato), Sign::Legato),
    ]
    .into_iter()
    .filter_map(|(there, sign)| there.then_some(sign))
    .collect()
}
