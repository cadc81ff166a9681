//! Written music: what stands on the staves of a loop or a form.
//!
//! Drift and swing are left out, as musicians write: a swung eighth is an eighth, and the sheet says "swing". All places and
//! lengths are exact, in whole notes from their bar's beginning.

use crate::loopfile::{Exact, Swing};

/// A loop or a form as written music.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Sheet {
    /// Its title.
    pub title: String,
    /// Who may be credited for its sounds: the kits' names.
    pub kits: Vec<String>,
    /// Its bars, as written: bars that are alike may be folded by repeats.
    pub bars: Vec<SheetBar>,
    /// Its staves, top to bottom: melodies, chords, bass, drums. Each has a measure for each of the bars.
    pub staves: Vec<Staff>,
}

/// What all staves share in one bar.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct SheetBar {
    /// Its number as it is heard first, from 1.
    pub number: u32,
    /// The bars that are heard when it is played, in order, from 1: more than one where a repeat folds bars.
    pub heard: Vec<u32>,
    /// Counts and unit of the metre.
    pub metre: (u32, u32),
    /// Its length in whole notes, where it is shorter than its metre: a pickup (whose number is 0), or the last hit of a form.
    pub short: Option<Exact>,
    /// The key signature; no sharps or flats where the loop names no key.
    pub key: Signature,
    /// What stands above it where it changes: a tempo in BPM, and what it counts, in whole notes.
    pub tempo: Option<(f64, Exact)>,
    /// The feel in words where it changes, such as "Swing eighths 62 %".
    pub feel: Option<String>,
    /// The same in figures; straight where the words say so.
    pub swing: Option<Swing>,
    /// The section that begins with it.
    pub section: Option<String>,
    /// Its chords and where they stand.
    pub chords: Vec<(Exact, ChordSign)>,
    /// The accents that the whole band plays, as a voice: full where it is not empty.
    pub kicks: Vec<Event>,
    /// True where a repeat begins.
    pub repeat_begins: bool,
    /// How many times what is repeated is played, where a repeat ends with this bar.
    pub repeat_ends: Option<u32>,
    /// The times, from 1, on which this bar is played, where it is an ending.
    pub ending: Option<Vec<u32>>,
}

impl SheetBar {
    /// The accents of the whole band, without the rests between them.
    pub(crate) fn accents(&self) -> impl Iterator<Item = &Event> {
        self.kicks.iter().filter(|event| !event.notes.is_empty())
    }

    /// Its length in whole notes.
    pub(crate) fn length(&self) -> Exact {
        let (counts, unit) = self.metre;
        self.short.unwrap_or(Exact::new(counts.into(), unit.into()))
    }
}

/// Sharps (positive) or flats (negative) on the fifths' line, and whether the third is minor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Signature {
    /// From -7 to 7.
    pub fifths: i8,
    /// True for a key whose third is minor; none where no key is named.
    pub minor: Option<bool>,
}

/// A chord symbol over a bar.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ChordSign {
    /// As it is written in the loop.
    pub text: String,
    /// What it means; none for "no chord".
    pub chord: Option<crate::harmony::Chord>,
}

/// One staff.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Staff {
    /// The part's name as the loop has it; "Drums" for the drum set.
    pub name: String,
    /// Two to four letters for the systems after the first.
    pub short: String,
    /// The loop's parts that stand on it.
    pub parts: Vec<String>,
    /// Its clef.
    pub clef: Clef,
    /// Which hand plays it, where a keyboard's part takes two staves: the left hand's follows the right hand's.
    pub hand: Option<Hand>,
    /// The drums and cymbals that it names; none where it has pitches.
    pub drums: Vec<Drum>,
    /// Its bars, as many as the sheet has.
    pub measures: Vec<Measure>,
}

/// A hand of a keyboard player.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Hand {
    Right,
    Left,
}

impl Staff {
    /// True for the line of a lead sheet: slashes that count beats, which no part of the loop plays.
    pub(crate) fn is_lead(&self) -> bool {
        self.parts.is_empty() && !self.drums.is_empty()
    }
}

/// A clef.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Clef {
    Treble,
    /// It sounds an octave lower than it looks, as a guitar does.
    TrebleDown,
    Bass,
    /// It sounds an octave lower than it looks, as a bass guitar does.
    BassDown,
    Percussion,
}

/// How one drum or cymbal stands on a percussion staff.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Drum {
    /// The piece's name.
    pub name: String,
    /// The place on the staff as treble clef would name it, in steps above C0 (E4 on the lowest line is 30).
    pub step: i32,
    /// Its note head.
    pub head: Head,
    /// Its General MIDI percussion key, where it has one.
    pub key: Option<u8>,
}

/// The shape of a note head.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Head {
    /// Drums, and pitched notes.
    Round,
    /// Cymbals, and dead notes.
    Cross,
    /// An open hat, a crash: a cross in a circle.
    CircledCross,
    /// Bells and cowbells.
    Diamond,
    /// Sticks on rims, claps and the like.
    Triangle,
    /// A slash, for chords whose rhythm alone is written.
    Slash,
}

/// One bar of one staff: one voice, or two (hands with stems up, feet with stems down).
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Measure {
    /// Each is full: its lengths add up to the bar. An empty one stands for a bar of rest.
    pub voices: Vec<Vec<Event>>,
}

/// A chord of notes that begin together, or a rest.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Event {
    /// Where it begins.
    pub at: Exact,
    /// Its length as it sounds in time.
    pub length: Exact,
    /// Its length as it is drawn.
    pub value: Value,
    /// The group of notes, such as a triplet, that it belongs to.
    pub tuplet: Option<Tuplet>,
    /// What stands there; a rest where empty.
    pub notes: Vec<WrittenNote>,
    /// Small notes before it, each one a chord of its own, played before the beat.
    pub graces: Vec<Vec<WrittenNote>>,
    /// Beams that join it to the event after it, from 0 to 4; those to the one before are that one's.
    pub beams: u8,
    /// Signs above or below it.
    pub signs: Vec<Sign>,
}

/// A drawn length.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Value {
    /// 1 for a whole note, 2, 4, 8 to 128; finer only where a loop fits many strokes into one step. 0 stands for a double
    /// whole note.
    pub part: u32,
    /// 0 or 1.
    pub dots: u8,
}

/// So many notes in the time of so many.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Tuplet {
    /// How many.
    pub notes: u32,
    /// In the time of how many.
    pub time_of: u32,
    /// Which note value both are counted in.
    pub part: u32,
    /// True for its first event.
    pub begins: bool,
    /// True for its last event.
    pub ends: bool,
}

/// One head.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct WrittenNote {
    /// What it is.
    pub pitch: WrittenPitch,
    /// Its head.
    pub head: Head,
    /// True where it is tied to the same note in the event that follows (over the barline too).
    pub tied: bool,
    /// True in parentheses: a ghost note.
    pub ghost: bool,
    /// How it is come to, and left.
    pub approach: Option<Approach>,
    /// How it is left.
    pub leave: Option<Leave>,
    /// Its degree of the chord that is heard, such as "b3"; none where there is no chord, and for drums.
    pub degree: Option<String>,
}

/// A pitch as spelled, or a drum of the staff.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum WrittenPitch {
    /// A spelled pitch at concert pitch: 0 to 6 for C to B, semitones of its sign, octave (C4 is middle C).
    Note {
        /// 0 for C to 6 for B.
        letter: u8,
        /// -2 to 2.
        alter: i8,
        /// 4 from middle C on.
        octave: i8,
    },
    /// Which of the staff's drums.
    Drum(usize),
}

/// How a note is come to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Approach {
    /// From the note before, gliding.
    Slide,
    /// From below.
    Scoop,
}

/// How a note is left.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Leave {
    /// Falling off.
    Fall,
    /// Bent by so many cents and back, down where negative.
    Bend(i32),
}

/// A sign at an event.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Sign {
    Accent,
    /// Cut short, to half of its length or less.
    Staccato,
    /// Strokes through the stem: 1 eighths to 4.
    Tremolo(u8),
    /// A buzz roll.
    Buzz,
    Vibrato,
    /// A stroke of the hand over strings.
    DownStroke,
    UpStroke,
    /// One that may be left out.
    Maybe,
    /// Slurred to the event before.
    Legato,
}
