//! What can be odd about a one-shot's file, and what to do about it.

use crate::kit::Facts;

/// A recording that begins later than this, in seconds, is told of; silence of a few ms is usual.
const LATE: f64 = 0.02;

/// One odd thing about a file.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Odd {
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

impl Odd {
    /// What is odd by the facts of a file, the gravest first. That others have the same sound is not known to one.
    pub(super) fn of(facts: &Facts) -> Vec<Odd> {
        if facts.silent {
            return vec![Odd::Silent];
        }
        let mut odd = Vec::new();
        let mut add = |there: bool, what: Odd| odd.extend(there.then_some(what));
        add(facts.clipped > 0, Odd::Clipped);
        add(facts.missing > 0, Odd::CutShort);
        add(facts.dead.is_some(), Odd::Dead(facts.dead.unwrap_or(0)));
        // One that goes round while it is held has no need of an end.
        add(facts.care.fade > 0 && !facts.held, Odd::BreaksOff);
        add(facts.care.late > LATE, Odd::Late(facts.care.late * 1000.0));
        add(facts.care.dc.iter().any(|dc| *dc != 0.0), Odd::Dc);
        odd
    }

    /// Its place in the order of [`KINDS`].
    pub(super) fn kind(&self) -> usize {
        match self {
            Odd::Unreadable => 0,
            Odd::Silent => 1,
            Odd::Clipped => 2,
            Odd::CutShort => 3,
            Odd::Same(_) => 4,
            Odd::Dead(_) => 5,
            Odd::BreaksOff => 6,
            Odd::Late(_) => 7,
            Odd::Dc => 8,
        }
    }

    /// In a word or three.
    pub(super) fn short(&self) -> String {
        match self {
            Odd::Unreadable => "unreadable".into(),
            Odd::Silent => "silent".into(),
            Odd::Clipped => "clipped".into(),
            Odd::CutShort => "cut short".into(),
            Odd::Same(_) => "twice there".into(),
            Odd::Dead(0) => "left silent".into(),
            Odd::Dead(_) => "right silent".into(),
            Odd::BreaksOff => "breaks off".into(),
            Odd::Late(ms) => format!("{ms:.0} ms late"),
            Odd::Dc => "DC".into(),
        }
    }

    /// What it means and what to do, for all files of a kind.
    pub(super) fn advice(kind: usize) -> &'static str {
        [
            "Can't be read: a loop that plays one stops. Export it again, or take it out.",
            "Silent, below -80 dBFS throughout: take it out, or a turn will be missing.",
            "Clipped, three samples or more at full scale: export it again softer, unless that is its sound.",
            "Cut short, its header promises more than is there: copy it again from where it came.",
            "The same sound twice: as turns of one piece they are no turns. Take one of them out.",
            "One channel is silent: export it in mono, or it plays on one side alone.",
            "Breaks off while it still sounds: export it with its tail. Until then its last 2 ms fade as it is played.",
            "Begins late: it is brought forward as it is played, so nothing need be done; `trim = false` leaves it alone.",
            "DC, the wave lies beside its middle line: it is taken away as it is played, so nothing need be done.",
        ][kind]
    }
}
