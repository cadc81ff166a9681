//! Voice leading: which voicing follows which.

use super::chord::Chord;
use super::note::Note;
use super::voicing::{Voicing, off_middle, voicings};

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

/// Semitones that the highest voice may move at a time and still sing: a major third \[practice\].
const SINGS: i32 = 4;

/// What going from one voicing to the next costs: the movement of all voices, and once more what the highest, which is heard
/// as a melody, leaps beyond a major third.
pub(crate) fn travel(from: &[Note], to: &[Note]) -> i32 {
    let leap = match (from.last(), to.last()) {
        (Some(from), Some(to)) => (to.midi() - from.midi()).abs() - SINGS,
        _ => 0,
    };
    movement(from, to) + leap.max(0)
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

/// Voices a chart's chords so that [`travel`] is least in all, exactly (dynamic programming over [`voicings`]). Of
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
    let home = |at: usize| start.map_or(0, |start| way(&last[at], &first[start]));
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
            Some(((so_far + way(choice, to), away + to.off), from))
        });
    ways.min()
}

fn way(from: &Choice, to: &Choice) -> i64 {
    travel(&from.voices, &to.voices).into()
}
