//! What can be odd about a one-shot's file, and what to do about it.

use std::ops::RangeInclusive;

use crate::kit::Facts;

/// A recording that begins later than this, in seconds, is told of; silence of a few ms is usual.
const LATE: f64 = 0.02;

/// One odd thing about a file.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum RecordingProblem {
    /// It can't be read.
    Unreadable,
    /// Below -80 dBFS throughout.
    Silent,
    /// Its tops stay at full scale.
    Clipped,
    /// Frames that its header promises are missing.
    CutShort,
    /// Another file, by its number, has the same sound.
    Same(usize),
    /// One of two channels is silent.
    Dead(usize),
    /// It ends while it still sounds.
    BreaksOff,
    /// Its sound begins after so many ms.
    Late(f64),
    /// It has an offset.
    Dc,
}

/// Kinds of odd things in the order in which they are told.
pub(super) const KINDS: usize = 9;
/// Those that are mended as they are played.
pub(super) const NO_ACTION: RangeInclusive<usize> = 7..=8;

impl RecordingProblem {
    /// What is odd by the facts of a file, the gravest first. That others have the same sound is not known to one.
    pub(super) fn of(facts: &Facts) -> Vec<RecordingProblem> {
        if facts.silent {
            return vec![RecordingProblem::Silent];
        }
        let mut odd = Vec::new();
        let mut add = |there: bool, what: RecordingProblem| odd.extend(there.then_some(what));
        add(facts.clipped > 0, RecordingProblem::Clipped);
        add(facts.missing > 0, RecordingProblem::CutShort);
        add(facts.dead.is_some(), RecordingProblem::Dead(facts.dead.unwrap_or(0)));
        // One that repeats while it is held has no need of an end.
        add(facts.care.fade > 0 && !facts.held, RecordingProblem::BreaksOff);
        add(facts.care.late > LATE, RecordingProblem::Late(facts.care.late * 1000.0));
        add(facts.care.dc.iter().any(|dc| *dc != 0.0), RecordingProblem::Dc);
        odd
    }

    /// Its place in the order of [`KINDS`].
    pub(super) fn kind(&self) -> usize {
        match self {
            RecordingProblem::Unreadable => 0,
            RecordingProblem::Silent => 1,
            RecordingProblem::Clipped => 2,
            RecordingProblem::CutShort => 3,
            RecordingProblem::Same(_) => 4,
            RecordingProblem::Dead(_) => 5,
            RecordingProblem::BreaksOff => 6,
            RecordingProblem::Late(_) => 7,
            RecordingProblem::Dc => 8,
        }
    }

    /// In a word or three.
    pub(super) fn short(&self) -> String {
        match self {
            RecordingProblem::Unreadable => "unreadable".into(),
            RecordingProblem::Silent => "silent".into(),
            RecordingProblem::Clipped => "clipped".into(),
            RecordingProblem::CutShort => "cut short".into(),
            RecordingProblem::Same(_) => "twice there".into(),
            RecordingProblem::Dead(0) => "left silent".into(),
            RecordingProblem::Dead(_) => "right silent".into(),
            RecordingProblem::BreaksOff => "breaks off".into(),
            RecordingProblem::Late(ms) => format!("{ms:.0} ms late"),
            RecordingProblem::Dc => "DC".into(),
        }
    }

    /// By how many ms it is late.
    pub(super) fn ms(&self) -> Option<f64> {
        match self {
            RecordingProblem::Late(ms) => Some(*ms),
            _ => None,
        }
    }

    /// What it means and what to do, for all files of a kind, so many. A kind that needs no action has nothing to be told.
    pub(super) fn advice(kind: usize, files: &str) -> String {
        let (what, advice) = [
            (
                "Can't be read",
                "a loop that plays one stops. Export it again, or take it out.",
            ),
            (
                "Silent",
                "below -80 dBFS throughout. Take it out, or a turn will be missing.",
            ),
            (
                "Clipped",
                "three samples or more at full scale. Export it again softer, unless that is its sound.",
            ),
            (
                "Cut short",
                "its header promises more than is there. Copy it again from where it came.",
            ),
            (
                "The same sound twice",
                "as turns of one piece they are no turns. Take one of them out.",
            ),
            (
                "One channel is silent",
                "export it in mono, or it plays on one side alone.",
            ),
            (
                "Breaks off while it still sounds",
                "export it with its tail. Until then its last 2 ms fade as it is played.",
            ),
        ]
        .get(kind)
        .copied()
        .unwrap_or_default();
        format!("{what} ({files}): {advice}")
    }

    /// How many files are mended as they are played, for a kind that is; the latest is so many ms late.
    pub(super) fn cured(kind: usize, files: &str, latest: f64) -> Option<String> {
        match kind {
            7 => Some(format!("a late beginning ({files}, up to {latest:.0} ms)")),
            8 => Some(format!("an offset, DC ({files})")),
            _ => None,
        }
    }
}
