//! What was heard in a recording, as lines of a loop file and as MIDI.

use super::notes::{Lines, word};
use super::tablature;
use crate::harmony::{DegreeWord, Key, Note, spell};
use crate::loopfile::{Exact, Loop, Manner, Stroke, Time, mark_for, mark_of, written_note};
use crate::midi::{self, KeySignature, Metre, MidiNote, MidiPart, MidiSong, PERCUSSION_TICKS, TICKS_A_QUARTER, Tempo};
use crate::notation::gridded;
use crate::text::{Problem, quoted};
use crate::transcription::{self, Transcript};

/// Parts of a bar that a moment is rounded to: a few microseconds.
const FINEST: f64 = 1_048_576.0;

/// How a transcript is written down.
#[derive(Debug, Clone)]
pub(crate) struct Writing {
    /// Tempo and metre.
    pub time: Time,
    /// The second of bar 1, beat 1.
    pub first: f64,
    /// Bars of the loop.
    pub bars: u32,
    /// Hits keep the times at which they were played; else they lie on the grid.
    pub feel: bool,
    /// The sounds of hits, each a part, in their order.
    pub sounds: Vec<String>,
    /// The piece that plays notes.
    pub piece: String,
}

impl Writing {
    /// Where a moment lies, in bars, never before the first, and the seconds by which it is before that.
    fn at(&self, seconds: f64) -> (Exact, f64) {
        let after = seconds - self.first;
        let bars = after.max(0.0) / self.time.bar_seconds();
        let at = Exact::new(libm::round(bars * FINEST) as i128, FINEST as i128);
        (at, after.min(0.0))
    }

    /// Bars from bar 1 to the one in which a moment lies; what is half a sixteenth early lies in the next.
    pub(crate) fn bars_to(time: &Time, first: f64, seconds: f64) -> u32 {
        let early = time.seconds(Exact::new(1, 32));
        let bars = libm::floor((seconds - first + early) / time.bar_seconds()) + 1.0;
        bars.max(1.0) as u32
    }

    /// The parts that play something.
    fn played<'a>(&'a self, transcript: &'a Transcript) -> Vec<&'a str> {
        let plays = |sound: &&str| transcript.hits.iter().any(|hit| hit.sound == *sound);
        self.sounds.iter().map(String::as_str).filter(plays).collect()
    }
}

/// Its hits as parts of a loop file, one a sound.
pub(crate) fn hits(transcript: &Transcript, writing: &Writing) -> String {
    let sounds = writing.played(transcript);
    let (mut single, mut strokes) = (Vec::new(), Vec::new());
    for stroke in &transcript.strokes {
        let piece = sounds.iter().position(|sound| *sound == stroke.sound).unwrap_or(0);
        match stroke.manner {
            transcription::Manner::Roll => strokes.extend(rolled(stroke, piece, Manner::Two, writing)),
            transcription::Manner::Buzz => strokes.extend(rolled(stroke, piece, Manner::Press, writing)),
            transcription::Manner::Single => single.push(one(stroke, piece, Manner::Single, writing)),
            transcription::Manner::Flam => single.push(one(stroke, piece, Manner::Flam, writing)),
            transcription::Manner::Drag => single.push(one(stroke, piece, Manner::Drag, writing)),
        }
    }
    let mut single = on_grid(single, writing, writing.feel);
    let is_taken = |stroke: &Stroke| {
        strokes
            .iter()
            .any(|roll: &Stroke| (roll.at, roll.piece) == (stroke.at, stroke.piece))
    };
    single.retain(|stroke| !is_taken(stroke));
    strokes.append(&mut single);
    strokes.sort_by_key(|stroke| stroke.at);
    let parts: Vec<(&str, &str)> = sounds.iter().map(|sound| (*sound, *sound)).collect();
    tablature::parts(&parts, &strokes, &writing.time, writing.bars)
}

/// Strokes on the loop's grid, those that its bars have. Unless `all` keep their times, of two on one place the harder stays.
fn on_grid(mut strokes: Vec<Stroke>, writing: &Writing, all: bool) -> Vec<Stroke> {
    strokes.retain(|stroke| stroke.at < Exact::from_integer(writing.bars.into()));
    let mut strokes = gridded(&strokes, &writing.time, writing.bars);
    if !writing.feel {
        strokes.iter_mut().for_each(|stroke| stroke.shift = 0.0);
    }
    if !all {
        strokes.sort_by(|a, b| {
            let hard = b.velocity.total_cmp(&a.velocity);
            a.at.cmp(&b.at).then(a.piece.cmp(&b.piece)).then(hard)
        });
        strokes.dedup_by_key(|stroke| (stroke.at, stroke.piece));
    }
    strokes
}

/// One stroke where it was played.
fn one(stroke: &transcription::Stroke, piece: usize, manner: Manner, writing: &Writing) -> Stroke {
    let (at, shift) = writing.at(stroke.seconds);
    Stroke {
        at,
        step: Exact::ZERO,
        piece,
        velocity: stroke.velocity,
        plain: false,
        shift,
        pitch: None,
        sounds: None,
        word: None,
        expression: None,
        mark: mark_of(manner, stroke.velocity),
        manner,
        scale: 1.0,
    }
}

/// A roll or a buzz, as a stroke on each sixteenth that it lasts.
fn rolled(stroke: &transcription::Stroke, piece: usize, manner: Manner, writing: &Writing) -> Vec<Stroke> {
    let step = Exact::new(1, 16) / writing.time.bar();
    let seconds = writing.time.seconds(Exact::new(1, 16));
    let place = |moment: f64| (moment - writing.first) / seconds;
    // A roll may be heard a stroke late, where its first goes under; it is never early.
    let from = libm::floor(place(stroke.seconds) + 0.25).max(0.0) as i128;
    let to = (libm::round(place(stroke.ends)) as i128).max(from + 1);
    let end = Exact::from_integer(writing.bars.into());
    let places = (from..to).map(|place| step * place).take_while(|at| *at < end);
    places
        .map(|at| Stroke {
            at,
            shift: 0.0,
            ..one(stroke, piece, manner, writing)
        })
        .collect()
}

/// The name of the part that notes become.
const MELODY: &str = "melody";

/// Its notes as a part of a loop file.
pub(crate) fn notes(transcript: &Transcript, writing: &Writing) -> String {
    let key = key(transcript);
    let named = |stroke: &Stroke| Some(spell(stroke.pitch?, None, key.as_ref()));
    melody(transcript, writing, "", "notes", &|group| word(group, named))
}

/// Its notes as a part that plays degrees of a loop's chords, over and over where the loop has fewer bars. What no chord is under
/// is left out.
pub(crate) fn degrees(transcript: &Transcript, writing: &Writing, song: &Loop) -> String {
    let key = song.tonality();
    let lowest = transcript.notes.iter().map(|note| note.midi).min().unwrap_or(60);
    // The C at or under all of them: words need few octave marks then.
    let register = spell(12 * lowest.div_euclid(12), None, None);
    let word = |group: &[Stroke]| {
        let degree = group
            .first()
            .and_then(|stroke| degree(stroke, song, key.as_ref(), register));
        let mark = group.first().map_or('x', |stroke| mark_for(stroke.velocity));
        degree.map_or(String::new(), |degree| {
            written_note(&degree.to_string(), group, mark, false)
        })
    };
    let register = format!("register = {}\n", quoted(&register.to_string()));
    melody(transcript, writing, &register, "degrees", &word)
}

/// The degree that a stroke's pitch is of the chord at its place.
fn degree(stroke: &Stroke, song: &Loop, key: Option<&Key>, register: Note) -> Option<DegreeWord> {
    let bars = Exact::from_integer(song.bars.into());
    let chord = song.chord_at(stroke.at - (stroke.at / bars).floor() * bars)?;
    DegreeWord::naming(stroke.pitch?, chord, key, register)
}

fn key(transcript: &Transcript) -> Option<Key> {
    transcript.key.as_ref().and_then(|key| Key::parse(key).ok())
}

/// A part that plays its notes, each as a word, in a table of some name, with `more` lines of its own.
fn melody(
    transcript: &Transcript,
    writing: &Writing,
    more: &str,
    table: &str,
    word: &dyn Fn(&[Stroke]) -> String,
) -> String {
    let strokes = transcript.notes.iter().map(|note| {
        let played = transcription::Stroke {
            seconds: note.seconds,
            ends: note.seconds + note.length,
            sound: String::new(),
            velocity: note.velocity,
            manner: transcription::Manner::Single,
        };
        let stroke = one(&played, 0, Manner::Single, writing);
        Stroke {
            step: writing.at(played.ends).0 - stroke.at,
            pitch: Some(note.midi),
            ..stroke
        }
    });
    let strokes = on_grid(strokes.collect(), writing, false);
    let lines = Lines {
        bars: writing.bars,
        counts: writing.time.counts,
        repeats: true,
        word,
    };
    let piece = match writing.piece == MELODY {
        true => String::new(),
        false => format!("piece = {}\n", quoted(&writing.piece)),
    };
    format!(
        "[[part]]\nname = {}\n{piece}{more}swing = \"off\"\nloose = \"off\"\n{}",
        quoted(MELODY),
        lines.table(table, &strokes, !writing.feel)
    )
}

/// A whole loop file that plays some parts on a kit.
pub(crate) fn loop_file(title: &str, kit: &str, key: Option<&str>, writing: &Writing, parts: &str) -> String {
    let key = key.map_or(String::new(), |key| format!("key = {}\n", quoted(key)));
    let time = &writing.time;
    let metre = match (time.counts, time.unit) {
        (4, 4) => String::new(),
        (counts, unit) => format!("metre = \"{counts}/{unit}\"\n"),
    };
    format!(
        "[loop]\ntitle = {}\nkit = {}\ntempo = {}\nbars = {}\n{metre}{key}\n{parts}",
        quoted(title),
        quoted(kit),
        time.tempo,
        writing.bars,
    )
}

/// Its hits and notes as MIDI, at the times and velocities at which they were played, hits on General MIDI's percussion keys.
///
/// # Errors
/// More sounds than there are keys.
pub(crate) fn song(title: &str, transcript: &Transcript, writing: &Writing) -> Result<MidiSong, Problem> {
    let sounds = writing.played(transcript);
    let bar = writing.time.bar() * i128::from(4 * u32::from(TICKS_A_QUARTER));
    let bar = *bar.numer() as f64 / *bar.denom() as f64;
    let length = libm::round(bar * f64::from(writing.bars)) as u64;
    let mut song = MidiSong {
        title: title.into(),
        tempos: vec![Tempo::new(0, writing.time.tempo)],
        metres: vec![Metre {
            at: 0,
            counts: writing.time.counts,
            unit: writing.time.unit,
        }],
        length,
        ..MidiSong::default()
    };
    let mut pieces = Vec::new();
    for (sound, key) in sounds.iter().zip(midi::keys_for(sounds.iter().copied())) {
        let key = key
            .ok_or_else(|| Problem::new("MIDI has 128 keys, too few for these sounds"))?
            .key;
        pieces.push((key, sound.to_string()));
        let own = transcript.hits.iter().filter(|hit| hit.sound == *sound);
        let notes = own.map(|hit| MidiNote {
            start: libm::round((hit.seconds - writing.first).max(0.0) / writing.time.bar_seconds() * bar) as u64,
            length: PERCUSSION_TICKS,
            key,
            velocity: hit.velocity as u8,
        });
        song.parts.push(MidiPart {
            name: sound.to_string(),
            percussion: true,
            notes: notes.filter(|note| note.start < length).collect(),
            ..MidiPart::default()
        });
    }
    song.pieces = Some(pieces);
    let tick = |seconds: f64| libm::round((seconds - writing.first).max(0.0) / writing.time.bar_seconds() * bar) as u64;
    let notes = transcript.notes.iter().map(|note| MidiNote {
        start: tick(note.seconds),
        length: tick(note.seconds + note.length)
            .saturating_sub(tick(note.seconds))
            .max(1),
        key: note.midi as u8,
        velocity: note.velocity as u8,
    });
    let notes: Vec<MidiNote> = notes.filter(|note| note.start < length).collect();
    if !notes.is_empty() {
        song.keys.extend(key(transcript).map(|key| KeySignature {
            at: 0,
            sharps: key.signature(),
            minor: key.is_minor(),
        }));
        song.parts.push(MidiPart {
            name: MELODY.into(),
            notes,
            ..MidiPart::default()
        });
    }
    Ok(song)
}

/// A tempo as it is written: to a thousandth.
pub(crate) fn rounded(tempo: f64) -> f64 {
    libm::round(tempo * 1000.0) / 1000.0
}
