//! Voicings: how a chord's tones are spread over an instrument.
//!
//! What a chord with tensions sounds, and how it is spread, is that of the books on jazz voicings: M. Levine, "The Jazz Piano
//! Book" (left-hand voicings), and T. Pease and K. Pullig, "Modern Jazz Voicings" (four-way close and its drops, spreads)
//! \[memory\]. What they forbid stands in [`breaches`].

use super::chord::{Chord, Tone};
use super::note::{Note, Spelling};
use super::voicing_laws::breaches;

/// How a chord is voiced.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Voicing {
    /// All voices within one octave.
    Close,
    /// Every second voice of a close voicing, counted from the lowest, an octave up.
    Open,
    /// A close voicing whose second voice from the top goes down an octave.
    Drop2,
    /// A close voicing whose third voice from the top goes down an octave.
    Drop3,
    /// A close voicing whose second and fourth voices from the top go down an octave.
    Drop2And4,
    /// The guide tones lowest, third and seventh (or sixth), and all others above them; fewer than
    /// four voices as in [`Voicing::Open`].
    Spread,
    /// Close, without the root, which is left to the bass.
    Rootless,
    /// Root, third (or what suspends it) and seventh (or sixth, else fifth), the root lowest.
    Shell,
}

/// Voices of a voicing at most, unless the chord needs more.
const VOICES: usize = 5;

/// The same for a chord with tensions, and for one without its root.
const VOICES_OF_TENSIONS: usize = 4;

/// Semitones that a voicing's middle may stand off the register note.
const NEAR: i32 = 8;

/// Semitones that any voice may stand off the register note: an octave and a half.
const REACH: i32 = 18;

/// The key from which on no interval is too low: the low interval limit of the narrowest, E3.
const CLEAR: i32 = 52;

impl Voicing {
    /// All of them, by the names that are typed.
    pub const NAMED: [(&str, Voicing); 8] = [
        ("close", Voicing::Close),
        ("open", Voicing::Open),
        ("drop 2", Voicing::Drop2),
        ("drop 3", Voicing::Drop3),
        ("drop 2&4", Voicing::Drop2And4),
        ("spread", Voicing::Spread),
        ("rootless", Voicing::Rootless),
        ("shell", Voicing::Shell),
    ];

    /// The voicing of a name; none where there is none of that name.
    pub fn named(name: &str) -> Option<Voicing> {
        Voicing::NAMED
            .iter()
            .find(|(known, _)| *known == name)
            .map(|(_, voicing)| *voicing)
    }

    /// The names that a voicing of this kind sounds, one voice each, in no order of pitch.
    ///
    /// All but rootless and shell take every essential tone, then optional ones (tensions before the fifth) up to five
    /// voices, and the bass behind a slash. A chord with tensions has four voices, unless it needs more: a ninth takes the
    /// place of the root, which the bass plays, the other tensions that of the fifth. Rootless takes the same without the
    /// root and leaves the slash to the bass, as shell does. A natural eleventh takes the place of a major third where the
    /// symbol stacks it (`C11`). Tones of one pitch are one voice.
    pub fn names(self, chord: &Chord) -> Vec<Spelling> {
        let few = self == Voicing::Rootless || chord.has_tensions();
        self.choose(chord, if few { VOICES_OF_TENSIONS } else { VOICES })
    }

    /// The same, of at most so many voices above the bass, unless the chord needs more.
    fn choose(self, chord: &Chord, most: usize) -> Vec<Spelling> {
        match self {
            Voicing::Shell => shell_names(chord),
            Voicing::Rootless => full_names(chord, false, most),
            _ => full_names(chord, true, most),
        }
    }

    /// Whether its lowest voice is the bass that a slash names.
    fn takes_slash(self) -> bool {
        !matches!(self, Voicing::Rootless | Voicing::Shell)
    }
}

/// The tones that players choose from.
fn tones(chord: &Chord) -> impl Iterator<Item = &Tone> {
    let eleventh = chord.has(11, 0);
    let rubs = move |tone: &&Tone| eleventh && tone.degree.number == 3 && tone.degree.alter == 0 && !tone.essential;
    chord.tones.iter().filter(move |tone| !rubs(tone))
}

fn full_names(chord: &Chord, grounded: bool, most: usize) -> Vec<Spelling> {
    let mut names: Vec<Spelling> = Vec::new();
    let mut add = |name: Spelling| {
        if names.iter().all(|known| known.pitch_class() != name.pitch_class()) {
            names.push(name);
        }
        names.len()
    };
    let bass = chord.bass.filter(|_| grounded);
    bass.map(&mut add);
    let rooted = grounded && !chord.replaces_root();
    let tones: Vec<&Tone> = tones(chord).filter(|tone| rooted || tone.degree.step() != 0).collect();
    let mut voices = 0;
    for tone in tones.iter().filter(|tone| tone.essential) {
        voices = add(tone.spelling);
    }
    let most = most + usize::from(bass.is_some() && chord.has_tensions());
    // Colour before body: a fifth is what players miss least.
    let fifth_last = |tone: &&&Tone| tone.degree.number <= 5;
    let mut optional: Vec<&&Tone> = tones.iter().filter(|tone| !tone.essential).collect();
    optional.sort_by_key(fifth_last);
    for tone in optional {
        if voices < most {
            voices = add(tone.spelling);
        }
    }
    names
}

fn shell_names(chord: &Chord) -> Vec<Spelling> {
    let (third, seventh) = guide_tones(chord);
    let fifth = tones(chord).find(|tone| tone.degree.number == 5);
    let upper = [third, seventh.or(fifth)].into_iter().flatten();
    std::iter::once(chord.root)
        .chain(upper.map(|tone| tone.spelling))
        .collect()
}

/// The third, or what stands in its place, and the seventh or sixth.
fn guide_tones(chord: &Chord) -> (Option<&Tone>, Option<&Tone>) {
    let has = |number: u8| tones(chord).find(|tone| tone.degree.number == number);
    let eleventh = has(11).filter(|_| chord.has(3, 0));
    (has(3).or(has(4)).or(has(2)).or(eleventh), has(7).or(has(6)))
}

/// Every voicing of a kind near a register note, lowest voice first in each: of all inversions those that keep the laws of
/// [`breaches`] (where none can, those that break the fewest), whose middle stands at most eight semitones off the note and
/// whose every voice stands at most an octave and a half off it. Where the low interval limits leave none so low, those
/// next above. Where a slash names the bass, all kinds but rootless and shell keep it lowest. A chord whose notes the chart
/// gives has these alone. Never empty.
pub fn voicings(chord: &Chord, kind: Voicing, register: Note) -> Vec<Vec<Note>> {
    if let Some(pinned) = &chord.pinned {
        return vec![pinned.clone()];
    }
    let (broken, mut lawful) = lawful(chord, kind, register, &kind.names(chord));
    if broken > 0 {
        // Five voices may keep laws that four cannot, as the fourths of a thirteenth with a sharp eleventh do.
        let fuller = kind.choose(chord, VOICES);
        let (of_fuller, others) = self::lawful(chord, kind, register, &fuller);
        if of_fuller < broken {
            lawful = others;
        }
    }
    let reach = |note: &Note| (note.midi() - register.midi()).abs() <= REACH;
    let near = |placed: &&Vec<Note>| off_middle(placed, register) <= 2 * NEAR && placed.iter().all(reach);
    let found: Vec<Vec<Note>> = lawful.iter().filter(near).cloned().collect();
    if !found.is_empty() {
        return found;
    }
    let off = |placed: &Vec<Note>| off_middle(placed, register);
    let least = lawful.iter().map(off).min().unwrap_or(0);
    lawful.retain(|placed| off(placed) <= least + NEAR);
    lawful
}

/// The voicings of some names that break the fewest laws, and how many these break.
fn lawful(chord: &Chord, kind: Voicing, register: Note, names: &[Spelling]) -> (u32, Vec<Vec<Note>>) {
    let lowest = match kind {
        Voicing::Shell => Some(chord.root),
        _ => chord.bass.filter(|_| kind.takes_slash()),
    };
    let grounded = |shape: &Vec<Note>| {
        let is = |name: Spelling, note: &Note| note.spelling.pitch_class() == name.pitch_class();
        lowest.is_none_or(|name| shape.first().is_some_and(|note| is(name, note)))
    };
    let mut lawful: Vec<Vec<Note>> = Vec::new();
    let mut fewest = u32::MAX;
    for shape in shapes(chord, names, kind).into_iter().filter(grounded) {
        for octaves in octaves_near(&shape, register) {
            let placed: Vec<Note> = shape.iter().map(|note| moved(*note, octaves)).collect();
            let broken = breaches(chord, &placed);
            if broken < fewest {
                fewest = broken;
                lawful.clear();
            }
            if broken == fewest {
                lawful.push(placed);
            }
        }
    }
    (fewest, lawful)
}

/// The inversions of a kind, in some octave.
fn shapes(chord: &Chord, names: &[Spelling], kind: Voicing) -> Vec<Vec<Note>> {
    match kind {
        Voicing::Shell => return shell_shapes(names),
        Voicing::Spread if names.len() >= 4 && guide_tones(chord).1.is_some() => return spread_shapes(chord, names),
        _ => {}
    }
    let mut ordered: Vec<Spelling> = names.to_vec();
    ordered.sort_by_key(|name| name.pitch_class());
    let inversions = (0..ordered.len()).map(|lowest| {
        let mut notes = stacked(ordered.iter().cycle().skip(lowest).take(ordered.len()));
        match kind {
            Voicing::Open | Voicing::Spread => {
                for voice in notes.iter_mut().skip(1).step_by(2) {
                    *voice = moved(*voice, 1);
                }
            }
            Voicing::Drop2 => drop(&mut notes, &[2]),
            Voicing::Drop3 => drop(&mut notes, &[3]),
            Voicing::Drop2And4 => drop(&mut notes, &[2, 4]),
            _ => {}
        }
        notes.sort_by_key(|note| note.midi());
        notes
    });
    inversions.collect()
}

/// Takes voices, counted from the top, an octave down, where there are so many.
fn drop(close: &mut [Note], voices: &[usize]) {
    for from_top in voices {
        if let Some(at) = close.len().checked_sub(*from_top) {
            close[at] = moved(close[at], -1);
        }
    }
}

/// The root below, third and seventh above it in either order.
fn shell_shapes(names: &[Spelling]) -> Vec<Vec<Note>> {
    match names {
        [root, third, seventh] => vec![stacked([root, third, seventh]), stacked([root, seventh, third])],
        _ => vec![stacked(names)],
    }
}

/// Semitones from the lowest to the highest voice of a spread: more than an octave, and no more than two hands bridge
/// without a hole.
const SPAN: std::ops::RangeInclusive<i32> = 13..=21;

/// The bass behind a slash lowest, the guide tones in either order, then the other voices in any.
fn spread_shapes(chord: &Chord, names: &[Spelling]) -> Vec<Vec<Note>> {
    let (third, seventh) = guide_tones(chord);
    let is = |name: &Spelling, tone: Option<&Tone>| tone.is_some_and(|tone| tone.spelling == *name);
    let (bass, upper): (Vec<Spelling>, Vec<Spelling>) = names.iter().partition(|name| chord.bass == Some(**name));
    let (guides, others): (Vec<Spelling>, Vec<Spelling>) =
        upper.iter().partition(|name| is(name, third) || is(name, seventh));
    let mut shapes = Vec::new();
    for guides in orders(&guides) {
        for others in orders(&others) {
            shapes.push(stacked(bass.iter().chain(&guides).chain(&others)));
        }
    }
    let wide = |shape: &Vec<Note>| match (shape.first(), shape.last()) {
        (Some(low), Some(high)) => SPAN.contains(&(high.midi() - low.midi())),
        _ => false,
    };
    if shapes.iter().any(wide) {
        shapes.retain(wide);
    }
    shapes
}

/// Every order of some names.
fn orders(names: &[Spelling]) -> Vec<Vec<Spelling>> {
    if names.is_empty() {
        return vec![Vec::new()];
    }
    let first = (0..names.len()).flat_map(|at| {
        let mut rest = names.to_vec();
        let name = rest.remove(at);
        orders(&rest)
            .into_iter()
            .map(move |behind| std::iter::once(name).chain(behind).collect())
    });
    first.collect()
}

/// Each name at its lowest above the one before.
fn stacked<'a>(names: impl IntoIterator<Item = &'a Spelling>) -> Vec<Note> {
    let mut notes: Vec<Note> = Vec::new();
    for name in names {
        let from = notes.last().map_or(60, |below| below.midi() + 1);
        notes.push(name.at_or_above(from));
    }
    notes
}

fn moved(note: Note, octaves: i32) -> Note {
    Note {
        octave: note.octave + octaves,
        ..note
    }
}

/// Octaves by which a shape may move to stand near a register note: the nearest and its neighbours, and on to where no
/// interval is too low.
fn octaves_near(shape: &[Note], register: Note) -> std::ops::RangeInclusive<i32> {
    let (Some(low), Some(high)) = (shape.first(), shape.last()) else {
        return 0..=0;
    };
    let nearest = (2 * register.midi() - low.midi() - high.midi()).div_euclid(24);
    let clear = (CLEAR - low.midi()).div_euclid(12) + 1;
    nearest - 1..=clear.max(nearest + 1)
}

/// Twice the distance of a voicing's middle from a note, in semitones, so that it is whole.
pub(super) fn off_middle(voices: &[Note], register: Note) -> i32 {
    match (voices.first(), voices.last()) {
        (Some(low), Some(high)) => (low.midi() + high.midi() - 2 * register.midi()).abs(),
        _ => 0,
    }
}

#[cfg(test)]
#[path = "voicing_tests.rs"]
mod tests;
