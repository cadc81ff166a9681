//! Finding one-shots by how they sound.
//!
//! In: what sounds are like, and what they are called. Out: orders and choices of them. It knows nothing of loops and of the command
//! line.

mod choice;
mod family;
mod order;
mod role;

use super::findings::distance::distance;
use super::findings::fingerprint::Fingerprint;
use choice::{farthest, most_typical};
pub(crate) use family::Family;
pub(crate) use order::chain;
pub(crate) use role::{COULD_BE, Fit, Sound, brightness, fits, usual_fit};

/// Among more than this no typical one is looked for: each is compared with each.
const COMPARED: usize = 300;

/// How far sounds lie from one, by their places, the nearest first; of equally near ones the first.
pub(crate) fn nearest(like: &Fingerprint, sounds: &[Sound]) -> Vec<(usize, f64)> {
    let far = sounds.iter().map(|sound| distance(like, sound.like));
    let mut far: Vec<(usize, f64)> = far.enumerate().collect();
    far.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)));
    far
}

/// Sounds that stand for all that could be a piece.
pub(crate) struct Picked {
    /// Their places, the most typical one first.
    pub places: Vec<usize>,
    /// How many could be the piece.
    pub fitting: usize,
}

/// Picks so many sounds that differ most among those that could be a piece; where fewer could, those that fit best. `examples` are
/// sounds beside them that surely are the piece.
pub(crate) fn pick(piece: &str, wanted: usize, sounds: &[Sound], examples: &[&Fingerprint]) -> Picked {
    let fits = fits(piece, sounds, examples);
    let fitting = fits.iter().filter(|fit| fit.fit >= COULD_BE).count();
    let kept: Vec<usize> = fits
        .iter()
        .take(fitting.clamp(wanted, COMPARED.max(wanted)))
        .map(|fit| fit.at)
        .collect();
    let apart = |one: usize, other: usize| distance(sounds[kept[one]].like, sounds[kept[other]].like);
    let first = most_typical(kept.len(), apart).unwrap_or(0);
    let chosen = farthest(kept.len(), wanted, first, apart);
    Picked {
        places: chosen.into_iter().map(|at| kept[at]).collect(),
        fitting,
    }
}
