//! Which files have to be listened to where only some pieces are wanted.

use std::collections::BTreeMap;
use std::path::Path;

use super::instruments::LEAST;
use crate::kit::names::takes::{Alike, file_names};
use crate::kit::names::words::Drum;

/// Whether each group may hold what is wanted: everything, where nothing is said.
///
/// A piece is wanted by its name or with a number behind it, so every group of its kind may have a say in which file that is. So may
/// those that share names with notes: they may be an instrument's.
pub(super) fn matter(groups: &[Alike], wanted: Option<&[&str]>) -> Vec<bool> {
    let Some(wanted) = wanted else {
        return vec![true; groups.len()];
    };
    let matters = |group: &Alike| leaves_open(group) && may_be(group, wanted);
    let mut matter: Vec<bool> = groups.iter().map(matters).collect();
    let mut melodic: BTreeMap<(Option<&Path>, &str), Vec<usize>> = BTreeMap::new();
    for (at, group) in groups.iter().enumerate() {
        for take in &group.takes {
            if let Some((base, _)) = &take.melodic {
                melodic.entry((take.file.parent(), base)).or_default().push(at);
            }
        }
    }
    melodic.retain(|_, members| members.len() >= LEAST);
    for ((_, base), members) in melodic {
        let of_a_kind = |at: &usize| may_be(&groups[*at], wanted);
        if members.iter().any(of_a_kind) || wanted.iter().any(|name| is_numbered(name, base)) {
            members.into_iter().for_each(|at| matter[at] = true);
        }
    }
    matter
}

/// True where names leave something of a group open.
fn leaves_open(group: &Alike) -> bool {
    let several = group.takes.len() > 1 && group.roots.is_empty();
    several || !group.tied.is_empty() || group.bare.is_some() || group.takes.iter().any(|take| take.right.is_some())
}

/// True where a wanted piece may be one of a group's.
fn may_be(group: &Alike, wanted: &[&str]) -> bool {
    let tied = |drum: &Drum| match drum {
        Drum::Kick => "kick",
        _ => "snare",
    };
    let kinds: Vec<&str> = match group.tied.as_slice() {
        [] => group.reading.piece.into_iter().map(kind).collect(),
        tied_drums => tied_drums
            .iter()
            .map(tied)
            .chain(group.reading.piece.map(kind))
            .collect(),
    };
    let of_file = |name: &str| {
        group
            .takes
            .iter()
            .any(|take| file_names(take.file).iter().any(|own| own == name))
    };
    wanted
        .iter()
        .any(|name| kinds.iter().any(|of| kind(name) == *of) || is_numbered(name, &group.base) || of_file(name))
}

/// The kind of a piece: `tom` of `tom-high-2`.
fn kind(piece: &str) -> &str {
    piece.split('-').next().unwrap_or(piece)
}

/// True for a name, and for it with a number: `foghorn`, `foghorn-2`.
fn is_numbered(name: &str, base: &str) -> bool {
    name.strip_prefix(base).is_some_and(|rest| {
        let number = rest.strip_prefix('-').unwrap_or("none");
        rest.is_empty() || !number.is_empty() && number.bytes().all(|byte| byte.is_ascii_digit())
    })
}
