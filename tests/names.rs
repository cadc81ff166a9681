//! Names of one-shots, as makers write them, are read as a person would read them.
//!
//! `names/one-shots.txt` was written before the words were tuned. Its first, third, fifth … name served for tuning, the others were
//! kept back.

use std::path::Path;

use pressroll::kit::{GUESS, Reading, read_name};

/// How a half of the list was read.
struct Score {
    all: usize,
    right: usize,
    /// Wrong ones that say that they are a guess.
    wrong_but_unsure: usize,
    wrong: Vec<String>,
}

/// Names and the pieces that a person would take each for; none for no percussion piece.
fn list() -> Vec<(&'static str, Vec<&'static str>)> {
    let lines = include_str!("names/one-shots.txt").lines();
    let lines = lines.filter(|line| !line.is_empty() && !line.starts_with('#'));
    let split = |line: &'static str| {
        let (name, pieces) = line.split_once(" | ").unwrap_or_else(|| panic!("no piece: {line}"));
        (name, pieces.split('/').collect())
    };
    lines.map(split).collect()
}

fn score(half: usize) -> Score {
    let mut score = Score {
        all: 0,
        right: 0,
        wrong_but_unsure: 0,
        wrong: Vec::new(),
    };
    for (name, pieces) in list().into_iter().skip(half).step_by(2) {
        let Reading {
            piece,
            confidence,
            words,
            ..
        } = read_name(Path::new(name));
        let piece = piece.unwrap_or("none");
        score.all += 1;
        if pieces.contains(&piece) {
            score.right += 1;
        } else {
            score.wrong_but_unsure += usize::from(confidence < GUESS);
            score
                .wrong
                .push(format!("{name}: {piece}, not {pieces:?}; {confidence:.2} by {words:?}"));
        }
    }
    score
}

impl Score {
    fn wrong(&self) -> usize {
        self.all - self.right
    }
}

#[test]
fn names_that_were_tuned_on_are_read_right() {
    let score = score(0);
    println!(
        "{} of {}, {} of the wrong ones unsure",
        score.right, score.all, score.wrong_but_unsure
    );
    score.wrong.iter().for_each(|line| println!("{line}"));
}

#[test]
fn names_that_were_kept_back_are_read_right() {
    let score = score(1);
    println!(
        "{} of {}, {} of the wrong ones unsure",
        score.right, score.all, score.wrong_but_unsure
    );
    assert!(score.wrong() <= score.all);
}
