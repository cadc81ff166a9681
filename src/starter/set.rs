//! Which pieces of a kit a first loop plays: a set that belongs together, even where the kit is a library of thousands of one-shots.
//!
//! Names say what belongs together: a folder or a word that has a kick, a snare and something that keeps time is one maker's or one
//! session's. Among the pieces of that family those are taken whose rooms and levels are most alike.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::roles::{ROLES, Role, fits_a_tab};
use crate::kit::find::Family;
use crate::kit::findings::fingerprint::{FLOOR, STEPS};
use crate::kit::findings::{Findings, find_recordings};
use crate::kit::{Decided, GUESS, Kit, Sides};

/// So many pieces a role are listened to and compared with those of other roles.
const COMPARED: usize = 16;
/// So many dB of level weigh as much as an octave of room.
const AN_OCTAVE: f64 = 12.0;

/// A piece that a first loop plays.
#[derive(Debug, Clone, PartialEq)]
pub struct Chosen {
    /// The part's name: what the piece is, without a number.
    pub part: String,
    /// The piece's name.
    pub piece: String,
    /// The file that it was chosen by, within the kit's folder.
    pub file: PathBuf,
    /// What it does in the loop.
    pub role: Role,
}

/// The pieces of a first loop, and why these.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Set {
    /// The pieces, from the top of the tablature down.
    pub chosen: Vec<Chosen>,
    /// The folder that those of a family share, within the kit's folder.
    pub folder: Option<PathBuf>,
    /// The word that their names share.
    pub word: Option<String>,
    /// How many pieces there were to choose from.
    pub of: usize,
    /// How far their rooms are apart at the most, in octaves; none where there was nothing to compare.
    pub rooms: Option<f64>,
}

/// A piece that could play a role.
struct Candidate<'a> {
    piece: &'a str,
    part: &'static str,
    file: &'a Path,
    take: usize,
}

impl Set {
    /// Chooses among the pieces of a kit of one folder.
    pub fn of(kit: &Kit) -> Set {
        let candidates: Vec<Vec<Candidate>> = ROLES.iter().map(|role| candidates(kit, role)).collect();
        let files = candidates.iter().enumerate();
        let files: Vec<(usize, &Path)> = files
            .flat_map(|(role, of)| of.iter().map(move |one| (role, one.file)))
            .collect();
        if files.is_empty() {
            return Set::of_any(kit);
        }
        let family = Family::of(&files);
        let kept: Vec<Vec<&Candidate>> = candidates.iter().map(|of| likeliest(of, &family)).collect();
        let (chosen, rooms) = most_alike(kit, &kept);
        let chosen = kept.iter().zip(chosen).zip(ROLES);
        Set {
            chosen: chosen
                .filter_map(|((of, at), role)| {
                    let one = of.get(at?)?;
                    Some(Chosen {
                        part: one.part.to_string(),
                        piece: one.piece.to_string(),
                        file: one.file.to_path_buf(),
                        role,
                    })
                })
                .collect(),
            folder: family.folder,
            word: family.word,
            of: files.len(),
            rooms,
        }
    }

    /// True where a piece is of the family that most are of.
    pub(crate) fn of_family(&self, one: &Chosen) -> bool {
        let family = Family {
            folder: self.folder.clone(),
            word: self.word.clone(),
        };
        family.has(&one.file)
    }

    /// The first pieces that there are, whatever they are.
    fn of_any(kit: &Kit) -> Set {
        let pieces = kit.index().listed().iter().zip(ROLES).enumerate();
        let chosen = pieces.map(|(at, (piece, role))| Chosen {
            part: match fits_a_tab(&piece.name) {
                true => piece.name.clone(),
                false => format!("part-{}", at + 1),
            },
            piece: piece.name.clone(),
            file: within(kit, piece.layers[0].takes[0]).to_path_buf(),
            role: Role { under: 0.0, ..role },
        });
        Set {
            chosen: chosen.collect(),
            of: kit.index().listed().len(),
            ..Set::default()
        }
    }
}

/// A recording's file from its kit's folder.
fn within(kit: &Kit, take: usize) -> &Path {
    let file = kit.file(take);
    let folder = kit.folders().iter().find_map(|folder| file.strip_prefix(folder).ok());
    folder.unwrap_or(file)
}

/// The pieces that could play a role, by kind in the order of the role; guesses only where nothing is sure.
fn candidates<'a>(kit: &'a Kit, role: &Role) -> Vec<Candidate<'a>> {
    let pieces = kit.index().listed().iter().enumerate();
    let all: Vec<(f64, usize, Candidate)> = pieces
        .filter_map(|(at, piece)| {
            let kind = |kind: &&&str| {
                let number = piece.name.strip_prefix(**kind).and_then(|rest| rest.strip_prefix('-'));
                piece.name == ***kind || number.is_some_and(|number| number.parse::<u32>().is_ok())
            };
            let (rank, part) = role.pieces.iter().enumerate().find(|(_, name)| kind(name))?;
            let reading = kit.reading(at)?;
            let sure = if reading.decided == Decided::Written {
                1.0
            } else {
                reading.confidence
            };
            let take = *piece.layers.last()?.takes.first()?;
            let candidate = Candidate {
                piece: &piece.name,
                part,
                file: within(kit, take),
                take,
            };
            Some((sure, rank, candidate))
        })
        .collect();
    let sure = all.iter().any(|(sure, ..)| *sure >= GUESS);
    let mut kept: Vec<_> = all
        .into_iter()
        .filter(|(confidence, ..)| !sure || *confidence >= GUESS)
        .collect();
    kept.sort_by_key(|(_, rank, _)| *rank);
    kept.into_iter().map(|(.., candidate)| candidate).collect()
}

/// Of the pieces of a role those of the family, else all; of them those of the likeliest kind, the first of many.
fn likeliest<'a, 'b>(of: &'b [Candidate<'a>], family: &Family) -> Vec<&'b Candidate<'a>> {
    let own: Vec<&Candidate> = of.iter().filter(|one| family.has(one.file)).collect();
    let some = if own.is_empty() { of.iter().collect() } else { own };
    let kind = some.first().map(|one| one.part);
    some.into_iter()
        .filter(|one| Some(one.part) == kind)
        .take(COMPARED)
        .collect()
}

/// For each role the place of a piece, so that all are alike; and how far their rooms are apart.
fn most_alike(kit: &Kit, kept: &[Vec<&Candidate>]) -> (Vec<Option<usize>>, Option<f64>) {
    let recordings: Vec<Sides> = kept.iter().flatten().map(|one| kit.sides(one.take)).collect();
    // With nothing to choose, nothing needs to be listened to.
    if kept.iter().all(|of| of.len() < 2) {
        return (kept.iter().map(|of| (!of.is_empty()).then_some(0)).collect(), None);
    }
    let mut found = find_recordings(&recordings).into_iter().map(Result::ok);
    let heard: Vec<Vec<Option<Arc<Findings>>>> =
        kept.iter().map(|of| found.by_ref().take(of.len()).collect()).collect();
    let apart = |one: &Option<Arc<Findings>>, other: &Option<Arc<Findings>>| match (one, other) {
        (Some(one), Some(other)) => apart(one, other),
        _ => f64::MAX,
    };
    // Each piece of the role that has the most to choose from is tried with those that are nearest to it.
    let anchors = (0..kept.len()).rev().max_by_key(|role| kept[*role].len()).unwrap_or(0);
    let around = |anchor: usize| {
        let nearest = |of: &Vec<Option<Arc<Findings>>>| {
            let far = of.iter().map(|other| apart(&heard[anchors][anchor], other)).enumerate();
            far.min_by(|a, b| a.1.total_cmp(&b.1))
        };
        let mut set: Vec<Option<(usize, f64)>> = heard.iter().map(nearest).collect();
        set[anchors] = Some((anchor, 0.0));
        let sum: f64 = set.iter().flatten().map(|(_, far)| far).sum();
        (sum, set)
    };
    let best = (0..kept[anchors].len()).map(around).min_by(|a, b| a.0.total_cmp(&b.0));
    let chosen: Vec<Option<usize>> = best.map_or_else(Vec::new, |(_, set)| {
        set.iter().map(|one| one.map(|(at, _)| at)).collect()
    });
    let rooms: Vec<f64> = chosen
        .iter()
        .zip(&heard)
        .filter_map(|(at, of)| room(of[(*at)?].as_ref()?))
        .collect();
    let widest = rooms
        .iter()
        .copied()
        .reduce(f64::max)
        .zip(rooms.iter().copied().reduce(f64::min));
    (chosen, widest.map(|(most, least)| most - least))
}

/// How unlike the rooms and the levels of two one-shots are, in octaves.
fn apart(one: &Findings, other: &Findings) -> f64 {
    let off = |figure: fn(&Findings) -> Option<f64>| match (figure(one), figure(other)) {
        (Some(one), Some(other)) => (one - other).abs(),
        _ => AN_OCTAVE,
    };
    off(room) + off(|of| of.facts.peak_db) / AN_OCTAVE
}

/// How much of a room is in a one-shot, in octaves: what dies away by itself takes twice as long to fall by 40 dB as by 20 dB; a
/// room's tail, which begins lower and falls slower, makes the second half longer.
fn room(of: &Findings) -> Option<f64> {
    let envelope = &of.fingerprint.as_ref()?.envelope;
    let above = |db: f64| move |level: &u8| f64::from(*level) / STEPS >= FLOOR - db;
    let begins = envelope.iter().position(above(20.0))?;
    let falls = |db: f64| Some((envelope.iter().rposition(above(db))? + 1 - begins) as f64);
    Some(libm::log2(falls(40.0)? / (2.0 * falls(20.0)?)))
}
