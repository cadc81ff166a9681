//! Sides in names: which of two files is the left of a stereo recording, and which the right.

use std::collections::BTreeMap;
use std::ops::Range;
use std::path::Path;

use super::{stem, words};

/// The left or the right.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Side {
    Left,
    Right,
}

/// The words for a side, in small letters.
const SIDES: [(&str, Side); 8] = [
    ("l", Side::Left),
    ("left", Side::Left),
    ("lft", Side::Left),
    ("lt", Side::Left),
    ("r", Side::Right),
    ("right", Side::Right),
    ("rgt", Side::Right),
    ("rt", Side::Right),
];

/// Files of one folder whose names are alike but for a side: the left one, and its right one. A name that says the same side twice,
/// or that two files share, says nothing.
pub(crate) fn pairs<'a>(files: impl Iterator<Item = &'a Path>) -> BTreeMap<&'a Path, &'a Path> {
    let mut sides: BTreeMap<(Option<&Path>, String), [Vec<&Path>; 2]> = BTreeMap::new();
    for file in files {
        if let Some((side, rest)) = side(&stem(file)) {
            let key = (file.parent(), words(&rest).join(" "));
            sides.entry(key).or_default()[side as usize].push(file);
        }
    }
    let pair = |sides: [Vec<&'a Path>; 2]| match (sides[0].as_slice(), sides[1].as_slice()) {
        ([left], [right]) => Some((*left, *right)),
        _ => None,
    };
    sides.into_values().filter_map(pair).collect()
}

/// A file's name without its side, where it has one and its name says more.
pub(crate) fn without_side(stem: &str) -> Option<String> {
    side(stem).map(|(_, rest)| rest)
}

/// The side that a name says last, and the name without it.
fn side(stem: &str) -> Option<(Side, String)> {
    let letters: Vec<(usize, char)> = stem.char_indices().collect();
    let mut end = letters.len();
    while let Some(last) = letters[..end].iter().rposition(|(_, c)| c.is_ascii_alphabetic()) {
        end = last + 1;
        let begins = letters[..end].iter().rposition(|(_, c)| !c.is_ascii_alphabetic());
        let start = begins.map_or(0, |at| at + 1);
        let run = &letters[start..end];
        let text: String = run.iter().map(|(_, c)| c.to_ascii_lowercase()).collect();
        let whole = SIDES.iter().find(|(word, _)| *word == text);
        if let Some((side, from)) = whole.map(|(_, side)| (*side, start)).or_else(|| capital(run, start)) {
            let behind = letters.get(end).map_or(stem.len(), |(at, _)| *at);
            let rest = without(stem, letters[from].0..behind);
            return rest.chars().any(char::is_alphanumeric).then_some((side, rest));
        }
        end = start;
    }
    None
}

/// A side that a capital behind small letters says: `KickL`.
fn capital(run: &[(usize, char)], start: usize) -> Option<(Side, usize)> {
    let [.., (_, before), (_, last)] = run else { return None };
    let side = match last {
        'L' => Side::Left,
        'R' => Side::Right,
        _ => return None,
    };
    before.is_ascii_lowercase().then_some((side, start + run.len() - 1))
}

/// A name without a part of it and the brackets round that part.
fn without(stem: &str, part: Range<usize>) -> String {
    let before = stem[..part.start].trim_end_matches(['(', '[', '{']);
    let behind = stem[part.end..].trim_start_matches([')', ']', '}']);
    let parts = |c: char| c.is_whitespace() || "_-.".contains(c);
    match behind.is_empty() {
        true => before.trim_end_matches(parts).to_string(),
        false => format!("{before}{behind}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_side_is_read_in_every_writing() {
        for (left, right, name) in [
            ("Tom Hi(L)", "Tom Hi(R)", "Tom Hi"),
            ("kick_L", "kick_R", "kick"),
            ("snare-left", "snare-right", "snare"),
            ("cello.L", "cello.R", "cello"),
            ("Pad Lft", "Pad Rgt", "Pad"),
            ("Strings E3L", "Strings E3R", "Strings E3"),
            ("KickL", "KickR", "Kick"),
            ("Power Bass Drum 1(L", "Power Bass Drum 1(R", "Power Bass Drum 1"),
            ("Str1C4 L", "Str1C4 R", "Str1C4"),
            ("kick_L_02", "kick_R_02", "kick__02"),
            ("Left Cymbal", "Right Cymbal", " Cymbal"),
        ] {
            let (left_side, rest) = side(left).unwrap_or_else(|| panic!("{left} says no side"));
            assert_eq!((left_side, rest.as_str()), (Side::Left, name), "{left}");
            assert_eq!(side(right), Some((Side::Right, name.to_string())), "{right}");
        }
        for stem in ["kick", "snare_rr2", "crash ride", "HAL", "L", "FLOOR", "bell"] {
            assert_eq!(side(stem), None, "{stem}");
        }
    }

    #[test]
    fn only_two_files_of_one_folder_are_a_pair() {
        let files = [
            "a/kick_L",
            "a/kick_R",
            "b/kick_L",
            "c/kick_R",
            "a/snare(l)",
            "a/snare(L)",
            "a/snare(r)",
        ];
        let found = pairs(files.iter().map(Path::new));
        assert_eq!(found, BTreeMap::from([(Path::new("a/kick_L"), Path::new("a/kick_R"))]));
    }
}
