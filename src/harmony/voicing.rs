//! Voicings: how a chord's tones are spread over an instrument, and which one follows which.

use super::chord::{Chord, Tone};
use super::note::{Note, Spelling};

/// How a chord is voiced.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Voicing {
    /// All voices within one octave.
    Close,
    /// Every second voice of a close voicing, counted from the lowest, an octave up.
    Open,
    /// A close voicing whose second voice from the top goes down an octave.
    Drop2,
    /// Close, without the root, which is left to the bass.
    Rootless,
    /// Root, third (or what suspends it) and seventh (or sixth, else fifth), the root lowest.
    Shell,
}

/// Voices of a voicing at most, unless the chord needs more.
const VOICES: usize = 5;

/// Semitones that a voicing's middle may stand off the register note.
const NEAR: i32 = 8;

/// Semitones that any voice may stand off the register note: an octave and a half.
const REACH: i32 = 18;

impl Voicing {
    /// All five, by the names that are typed.
    pub const NAMED: [(&str, Voicing); 5] = [
        ("close", Voicing::Close),
        ("open", Voicing::Open),
        ("drop 2", Voicing::Drop2),
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
    /// Close, open and drop 2 take every essential tone, then optional ones (tensions before the fifth) up to five voices,
    /// and the bass behind a slash; rootless takes the same without the root and leaves the slash to the bass, as shell
    /// does. Tones of one pitch are one voice.
    pub fn names(self, chord: &Chord) -> Vec<Spelling> {
        match self {
            Voicing::Shell => shell_names(chord),
            Voicing::Rootless => full_names(chord, false),
            Voicing::Close | Voicing::Open | Voicing::Drop2 => full_names(chord, true),
        }
    }
}

fn full_names(chord: &Chord, grounded: bool) -> Vec<Spelling> {
    let mut names: Vec<Spelling> = Vec::new();
    let mut add = |name: Spelling| {
        if names.iter().all(|known| known.pitch_class() != name.pitch_class()) {
            names.push(name);
        }
        names.len()
    };
    let upper = |tone: &&Tone| grounded || tone.degree.step() != 0;
    if grounded && let Some(bass) = chord.bass {
        add(bass);
    }
    let tones: Vec<&Tone> = chord.tones.iter().filter(upper).collect();
    let mut voices = 0;
    for tone in tones.iter().filter(|tone| tone.essential) {
        voices = add(tone.spelling);
    }
    let most = if grounded { VOICES } else { VOICES - 1 };
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
    let has = |number: u8| chord.tones.iter().find(|tone| tone.degree.number == number);
    let third = has(3).or(has(4)).or(has(2));
    let seventh = has(7).or(has(6)).or(has(5));
    let tones = [third, seventh].into_iter().flatten().map(|tone| tone.spelling);
    std::iter::once(chord.root).chain(tones).collect()
}

/// Every voicing of a kind near a register note, lowest voice first in each: all inversions whose middle stands at most
/// eight semitones off the note and whose every voice stands at most an octave and a half off it. Where a slash names the
/// bass, close, open and drop 2 keep it lowest. Never empty.
pub fn voicings(chord: &Chord, kind: Voicing, register: Note) -> Vec<Vec<Note>> {
    let names = kind.names(chord);
    let lowest = match kind {
        Voicing::Close | Voicing::Open | Voicing::Drop2 => chord.bass,
        Voicing::Rootless => None,
        Voicing::Shell => Some(chord.root),
    };
    let mut near: Vec<Vec<Note>> = Vec::new();
    let mut nearest: Option<(i32, Vec<Note>)> = None;
    for shape in shapes(&names, kind) {
        if lowest.is_some_and(|name| {
            shape
                .first()
                .is_none_or(|note| note.spelling.pitch_class() != name.pitch_class())
        }) {
            continue;
        }
        for octaves in octaves_near(&shape, register) {
            let placed: Vec<Note> = shape.iter().map(|note| moved(*note, octaves)).collect();
            let off = off_middle(&placed, register);
            let reach = placed.iter().all(|note| (note.midi() - register.midi()).abs() <= REACH);
            if nearest.as_ref().is_none_or(|(least, _)| off < *least) {
                nearest = Some((off, placed.clone()));
            }
            if off <= 2 * NEAR && reach {
                near.push(placed);
            }
        }
    }
    if near.is_empty() {
        near.extend(nearest.map(|(_, placed)| placed));
    }
    near
}

/// The inversions of a kind, in some octave.
fn shapes(names: &[Spelling], kind: Voicing) -> Vec<Vec<Note>> {
    let mut ordered: Vec<Spelling> = names.to_vec();
    ordered.sort_by_key(|name| name.pitch_class());
    if kind == Voicing::Shell {
        return shell_shapes(names);
    }
    let inversions = (0..ordered.len()).map(|lowest| {
        let mut notes = stacked(ordered.iter().cycle().skip(lowest).take(ordered.len()));
        match kind {
            Voicing::Open => {
                for voice in notes.iter_mut().skip(1).step_by(2) {
                    *voice = moved(*voice, 1);
                }
            }
            Voicing::Drop2 if notes.len() >= 2 => {
                let second = notes.len() - 2;
                notes[second] = moved(notes[second], -1);
            }
            _ => {}
        }
        notes.sort_by_key(|note| note.midi());
        notes
    });
    inversions.collect()
}

/// The root below, third and seventh above it in either order.
fn shell_shapes(names: &[Spelling]) -> Vec<Vec<Note>> {
    match names {
        [root, third, seventh] => vec![stacked([root, third, seventh]), stacked([root, seventh, third])],
        _ => vec![stacked(names)],
    }
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

/// Octaves by which a shape may move to stand near a register note: the nearest and its neighbours.
fn octaves_near(shape: &[Note], register: Note) -> std::ops::RangeInclusive<i32> {
    let nearest = match (shape.first(), shape.last()) {
        (Some(low), Some(high)) => (2 * register.midi() - low.midi() - high.midi()).div_euclid(24),
        _ => 0,
    };
    nearest - 1..=nearest + 1
}

/// Twice the distance of a voicing's middle from a note, in semitones, so that it is whole.
fn off_middle(voices: &[Note], register: Note) -> i32 {
    match (voices.first(), voices.last()) {
        (Some(low), Some(high)) => (low.midi() + high.midi() - 2 * register.midi()).abs(),
        _ => 0,
    }
}

/// Semitones that voices travel from one voicing to the next, in all: the least over the ways of leading them without
/// crossing, in which each voice goes somewhere and each comes from somewhere; where the counts differ, voices split or join.
pub(crate) fn movement(from: &[Note], to: &[Note]) -> i32 {
    let (from, to) = if from.len() <= to.len() { (from, to) } else { (to, from) };
    if from.is_empty() {
        return 0;
    }
    // best[k]: least travel of the voices of `to` so far, the last of them led from voice k of `from`.
    let mut best: Vec<Option<i32>> = vec![None; from.len()];
    for (at, voice) in to.iter().enumerate() {
        let travel = |k: usize| (voice.midi() - from[k].midi()).abs();
        let next = (0..from.len()).map(|k| {
            let before = match (at, k) {
                (0, 0) => Some(0),
                (0, _) => None,
                (_, 0) => best[0],
                _ => [best[k], best[k - 1]].into_iter().flatten().min(),
            };
            before.map(|before| before + travel(k))
        });
        best = next.collect();
    }
    best.last().copied().flatten().unwrap_or(0)
}

/// One chord of a chart, and how it is to be voiced there.
#[derive(Debug, Clone, Copy)]
pub(crate) struct VoicingRequest<'a> {
    /// The chord.
    pub chord: &'a Chord,
    /// The kind of voicing.
    pub kind: Voicing,
    /// The note that it is to stand near.
    pub register: Note,
}

/// Voices a chart's chords so that the voices travel least in all, exactly (dynamic programming over [`voicings`]). Of
/// equal ways the one that stays nearer the register note is taken, and then the first. One voicing a chord. In a chart that
/// goes `round` the way from the last chord back to the first counts too.
pub(crate) fn lead_each(chart: &[VoicingRequest], round: bool) -> Vec<Vec<Note>> {
    let choices: Vec<Vec<Choice>> = chart.iter().map(choices).collect();
    let best = if round {
        let first = choices.first().map_or(0, Vec::len);
        let rounds = (0..first).filter_map(|start| cheapest(&choices, Some(start)));
        rounds.min_by_key(|(cost, _)| *cost)
    } else {
        cheapest(&choices, None)
    };
    let (_, path) = best.unwrap_or_default();
    choices
        .iter()
        .zip(path)
        .map(|(here, at)| here[at].voices.clone())
        .collect()
}

/// A voicing that a chord may take.
struct Choice {
    voices: Vec<Note>,
    /// Its distance from the register note; see [`off_middle`].
    off: i64,
}

fn choices(asked: &VoicingRequest) -> Vec<Choice> {
    let near = voicings(asked.chord, asked.kind, asked.register).into_iter();
    let choices = near.map(|voices| Choice {
        off: off_middle(&voices, asked.register).into(),
        voices,
    });
    choices.collect()
}

/// Travel, then distance from the register.
type Cost = (i64, i64);

/// The cheapest choice for each chord, and its cost; with a start given, that one first and the way back to it counted.
fn cheapest(choices: &[Vec<Choice>], start: Option<usize>) -> Option<(Cost, Vec<usize>)> {
    let (first, last) = (choices.first()?, choices.last()?);
    let begins = |at: usize| start.is_none_or(|start| start == at);
    let mut costs: Vec<Option<Cost>> = (0..first.len())
        .map(|at| begins(at).then(|| (0, first[at].off)))
        .collect();
    let mut came: Vec<Vec<usize>> = Vec::new();
    for pair in choices.windows(2) {
        let steps: Vec<(Cost, usize)> = pair[1].iter().filter_map(|to| step(&pair[0], &costs, to)).collect();
        costs = steps.iter().map(|(cost, _)| Some(*cost)).collect();
        came.push(steps.into_iter().map(|(_, from)| from).collect());
    }
    let home = |at: usize| start.map_or(0, |start| travel(&last[at], &first[start]));
    let ends = costs.iter().enumerate();
    let ends = ends.filter_map(|(at, cost)| cost.map(|(so_far, away)| ((so_far + home(at), away), at)));
    let (cost, mut at) = ends.min()?;
    let mut path = vec![at];
    for from in came.iter().rev() {
        at = from[at];
        path.push(at);
    }
    path.reverse();
    Some((cost, path))
}

/// The cheapest way into a choice: its cost so far, and where it comes from.
fn step(before: &[Choice], costs: &[Option<Cost>], to: &Choice) -> Option<(Cost, usize)> {
    let ways = before
        .iter()
        .zip(costs)
        .enumerate()
        .filter_map(|(from, (choice, cost))| {
            let (so_far, away) = (*cost)?;
            Some(((so_far + travel(choice, to), away + to.off), from))
        });
    ways.min()
}

fn travel(from: &Choice, to: &Choice) -> i64 {
    movement(&from.voices, &to.voices).into()
}

#[cfg(test)]
#[path = "voicing_tests.rs"]
mod tests;
