//! The score: a [`Loop`] becomes [`Hit`]s in time.
//!
//! It asks the kit's index what a piece has (layers, turns, choke groups) and knows nothing of samples. Positions are
//! exact until the one step that turns them into seconds, so nothing drifts however long the loop is.

mod blow;
mod choke;
mod expression;
mod form;
mod form_hints;
mod harmony_hints;
mod harmony_places;
mod harmony_suggestions;
mod hints;
mod hit;
mod like;
mod loose;
mod low_notes;
mod missing_pieces;
mod pitch_curve;
mod playability;
mod rolls;
mod rudiments;
mod strokes;
mod struck;
mod syncopation;
mod tighten;
mod velocity;

use std::borrow::Cow;

use rayon::prelude::*;

use crate::base::stages::all;
use crate::kit::Index;
use crate::kit::audio::pitch::note_name;
use crate::loopfile::{Choke, Ending, Exact, Loop, Part, Stroke};
pub(crate) use crate::text::spelled;
use crate::text::{Problem, Problems};

pub use form::write_form;
pub(crate) use form::{Fades, FormScore};
pub(crate) use form_hints::form_hints;
pub(crate) use harmony_hints::harmony_hints;
pub(crate) use hints::hints;
use hit::Neighbour;
pub(crate) use hit::{Hit, Stop};
pub(crate) use low_notes::low_notes;
use missing_pieces::lacking;
pub(crate) use pitch_curve::PitchCurve;
#[cfg(test)]
pub(crate) use pitch_curve::Vibrato;
use struck::Struck;
pub(crate) use syncopation::syncopation;
pub(crate) use velocity::level_db;

/// The most semitones by which a recording is played higher or lower for a note.
pub const FARTHEST: f64 = 48.0;

/// What every part plays in one round of the loop.
#[derive(Debug, Clone, PartialEq)]
pub struct Score {
    /// One list of hits a part, in the order of the loop's parts and of time.
    pub parts: Vec<Vec<Hit>>,
    /// The length of a round in bars.
    pub bars: u32,
    /// The length of a round in seconds.
    pub round: f64,
    /// How the loop's bars repeat in it.
    pub cycle: Cycle,
}

/// How the loop's bars repeat within a score's time, for settings that move with them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cycle {
    /// The bars of the loop before the first that is played.
    pub first: u32,
    /// Bars of one time round.
    pub bars: u32,
    /// Seconds at which the first time round begins; negative where the score begins in its middle.
    pub begins: f64,
    /// Seconds of one time round.
    pub seconds: f64,
    /// How many times round there are in one round of the score.
    pub times: u32,
}

impl Score {
    /// The numbers of all recordings that are played, each with whether care is taken of it, each once, in ascending order.
    pub fn takes(&self, song: &Loop) -> Vec<(usize, bool)> {
        takes(song, &self.parts)
    }

    /// How many hits a round has.
    pub fn hits(&self) -> usize {
        self.parts.iter().map(Vec::len).sum()
    }
}

/// The recordings that a loop's parts play, each with whether care is taken of it ([`Sound::trim`](crate::loopfile::Sound)), each
/// once, in ascending order.
pub(crate) fn takes(song: &Loop, parts: &[Vec<Hit>]) -> Vec<(usize, bool)> {
    let played = song.parts.iter().zip(parts);
    let of_part = |(part, hits): (&Part, &Vec<Hit>)| {
        let take = |hit: Cow<'_, Hit>| (hit.take, part.pieces[hit.piece].sound.trim);
        hits.iter().flat_map(Hit::layers).map(take).collect::<Vec<_>>()
    };
    let mut takes: Vec<(usize, bool)> = played.flat_map(of_part).collect();
    takes.sort_unstable();
    takes.dedup();
    takes
}

/// Writes the score of a loop for a kit; of the bars from `cut.0` to `cut.1` (counted from 1) alone where given.
///
/// # Errors
/// Pieces that the kit lacks, all of them at once; bars past the end.
pub fn write(song: &Loop, kit: &Index, cut: Option<(u32, u32)>) -> Result<Score, Problems> {
    let (first, last) = cut.unwrap_or((1, song.bars));
    if first < 1 || first > last || last > song.bars {
        return Err(past((first, last), "loop", song.bars).into());
    }
    let pieces = find_pieces(song, kit)?;
    let bars = last - first + 1;
    let round = song.time.bar_seconds() * f64::from(bars);
    let window = (
        Exact::from_integer((first - 1).into()),
        Exact::from_integer(last.into()),
    );
    let struck = struck(song, kit, &pieces, window).into_iter().map(|mut struck| {
        match song.ending {
            Ending::Repeat => struck.close(round),
            Ending::LetRing | Ending::Damp => struck.begin(),
        }
        struck.hits
    });
    let mut parts: Vec<Vec<Hit>> = struck.collect();
    choke::resolve(&mut parts, round, |part, hit| group(song, kit, &pieces, part, hit));
    let cycle = Cycle {
        first: first - 1,
        bars,
        begins: 0.0,
        seconds: round,
        times: 1,
    };
    Ok(Score {
        parts,
        bars,
        round,
        cycle,
    })
}

/// The problem of bars that are asked for and not there.
fn past((first, last): (u32, u32), whose: &str, all: u32) -> Problem {
    let asked = if first == last {
        format!("bar {first} is")
    } else {
        format!("bars {first}-{last} are")
    };
    let has = if all == 1 {
        "bar 1 alone".to_string()
    } else {
        format!("bars 1-{all}")
    };
    Problem::new(format!("{asked} not in this {whose}, which has {has}"))
}

/// What every part plays in a window of bars, before one hit stops another.
fn struck(song: &Loop, kit: &Index, pieces: &[Vec<usize>], window: (Exact, Exact)) -> Vec<Struck> {
    let parts = song.parts.par_iter().zip(pieces);
    all("strokes", parts, |(part, pieces)| {
        strokes::play(song, part, kit, pieces, window)
    })
}

/// A part's strokes from one place in bars to before another.
fn strokes_between(part: &Part, from: Exact, to: Exact) -> impl Iterator<Item = &Stroke> {
    let begins = part.strokes.partition_point(|stroke| stroke.at < from);
    part.strokes[begins..].iter().take_while(move |stroke| stroke.at < to)
}

/// The choke group of a part's hit, if it has one.
fn group(song: &Loop, kit: &Index, pieces: &[Vec<usize>], part: usize, hit: &Hit) -> Option<String> {
    match &song.parts[part].pieces[hit.piece].sound.choke {
        Choke::Kit => kit.pieces[pieces[part][hit.piece]].choke.clone(),
        Choke::Group(name) => Some(name.clone()),
        Choke::Off => None,
    }
}

/// Finds every part's pieces in the kit: one list of piece numbers a part.
fn find_pieces(song: &Loop, kit: &Index) -> Result<Vec<Vec<usize>>, Problems> {
    let mut missing: Vec<Problem> = Vec::new();
    let mut found = Vec::new();
    for part in &song.parts {
        let played = |number: usize| part.strokes.iter().any(|stroke| stroke.piece == number);
        let mut numbers = Vec::new();
        for (number, piece) in part.pieces.iter().enumerate() {
            let place = kit.find(&piece.piece);
            // A piece that is named and never struck asks nothing of the kit.
            if place.is_none() && played(number) {
                missing.push(lacking(&piece.piece, kit, &piece.place, missing.is_empty()));
            }
            if let Some(place) = place {
                missing.extend(unpitched(part, number, kit, place));
            }
            numbers.push(place.unwrap_or(0));
        }
        found.push(numbers);
    }
    let mut told: Vec<String> = Vec::new();
    missing.retain(|problem| {
        let new = !told.contains(&problem.what);
        told.push(problem.what.clone());
        new
    });
    if missing.is_empty() {
        Ok(found)
    } else {
        Err(Problems(missing))
    }
}

/// The names of the pieces that a loop plays notes on, each once: those whose roots its score asks for.
pub fn pitched(song: &Loop) -> Vec<&str> {
    let mut names: Vec<&str> = Vec::new();
    for part in &song.parts {
        for stroke in part.strokes.iter().filter(|stroke| stroke.pitch.is_some()) {
            let name = part.pieces[stroke.piece].piece.as_str();
            if !names.contains(&name) {
                names.push(name);
            }
        }
    }
    names
}

/// What keeps a part's notes from being played on one of its pieces: no root, or none near enough.
fn unpitched(part: &Part, number: usize, kit: &Index, place: usize) -> Option<Problem> {
    let piece = &kit.pieces[place];
    let pitches = part
        .strokes
        .iter()
        .filter(|stroke| stroke.piece == number)
        .filter_map(|stroke| stroke.pitch);
    let at = &part.pieces[number];
    for pitch in pitches {
        if kit.substitute(&at.piece).is_some() {
            return Some(lacking(&at.piece, kit, &at.place, true));
        }
        match kit.reach(piece, f64::from(pitch)) {
            None => {
                let what = format!("`{}` can't play notes: its recorded pitch is unknown", at.piece);
                let help = "say so in kit.toml with root = \"C3\", or put a note into its file's name; `stand-in` plays any note";
                return Some(Problem::at(&at.place, what).help(help));
            }
            Some(far) if far > FARTHEST => {
                let name = note_name(f64::from(pitch));
                let what = format!(
                    "`{}` can't play {name}: it was recorded more than four octaves from there",
                    at.piece
                );
                return Some(
                    Problem::at(&at.place, what).help("write it in another octave, or give the piece more zones"),
                );
            }
            Some(_) => {}
        }
    }
    None
}
