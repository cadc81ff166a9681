//! What stands above a bar: its chords with their tones, and the accents of the band.

use crate::loopfile::{Exact, Loop};

/// A chord symbol over the step on which it starts.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sign {
    /// The count, from 0.
    pub count: u32,
    /// The step within it.
    pub step: u32,
    /// The symbol; of several that start within one step all, one after another.
    pub symbol: String,
    /// The names of its tones from the root up, then `/` and the bass, where it has one of its own.
    pub tones: Vec<String>,
}

/// The chords of a bar, counted from 0: the one that it begins with, be it new or not, and each change. Each count has so
/// many steps.
pub(super) fn signs(song: &Loop, bar: u32, divisions: &[u32]) -> Vec<Sign> {
    let begins = Exact::from_integer(bar.into());
    let next = song.chords.partition_point(|change| change.at <= begins);
    let within = song.chords[next..].iter();
    let within = within.take_while(|change| change.at < begins + Exact::ONE);
    let mut signs: Vec<Sign> = Vec::new();
    for change in song.change_at(begins).into_iter().chain(within) {
        let counted = (change.at.max(begins) - begins) * i128::from(song.time.counts);
        let count = counted.to_integer() as u32;
        let step = (counted.fract() * i128::from(divisions[count as usize])).to_integer() as u32;
        let (symbol, tones) = match &change.chord {
            Some(chord) => {
                let tones = chord.tones.iter().map(|tone| tone.spelling);
                let bass = chord.bass.map(|bass| format!("/{bass}"));
                (
                    chord.symbol.clone(),
                    tones.map(|tone| tone.to_string()).chain(bass).collect(),
                )
            }
            None if change.silence => ("N.C.".to_string(), Vec::new()),
            None => continue,
        };
        match signs.last_mut() {
            Some(last) if (last.count, last.step) == (count, step) => {
                last.symbol.push_str(&format!(" {symbol}"));
                last.tones.push("|".into());
                last.tones.extend(tones);
            }
            _ => signs.push(Sign {
                count,
                step,
                symbol,
                tones,
            }),
        }
    }
    signs
}

/// The accents of the band in a bar, in counts of it: for each choice of parts, by the number of the first line of the
/// loop's accents that is for it, where they fall.
pub(super) fn accents(song: &Loop, bar: u32) -> Vec<(usize, Vec<Exact>)> {
    let begins = Exact::from_integer(bar.into());
    let mut found: Vec<(usize, Vec<Exact>)> = Vec::new();
    for line in &song.accents {
        let from = line.places.partition_point(|at| *at < begins);
        let here = line.places[from..].iter().take_while(|at| **at < begins + Exact::ONE);
        let counted: Vec<Exact> = here.map(|at| (at - begins) * i128::from(song.time.counts)).collect();
        if counted.is_empty() {
            continue;
        }
        let first = song.accents.iter().position(|other| other.parts == line.parts);
        let first = first.unwrap_or(0);
        match found.iter_mut().find(|(number, _)| *number == first) {
            Some((_, places)) => places.extend(counted),
            None => found.push((first, counted)),
        }
    }
    found.iter_mut().for_each(|(_, places)| places.sort());
    found.sort_by_key(|(number, _)| *number);
    found
}

/// What a row of accents is called: whose they are, where not everyone's.
pub(super) fn label(parts: Option<&[String]>) -> String {
    match parts {
        None => "accents".into(),
        Some(parts) => format!("accents of {}", parts.join(", ")),
    }
}
