//! The feel of a loop, as a musician says it.

use crate::loopfile::{Exact, Loop, Swing};

/// The swing of most parts that are heard, in words where it is not straight, and in figures.
pub(super) fn of(song: &Loop) -> (Option<String>, Swing) {
    let written = song
        .parts
        .iter()
        .filter(|part| !part.silenced && part.performance.is_none());
    let mut counted: Vec<(&Swing, usize)> = Vec::new();
    for part in written {
        let swing = &part.playing.swing;
        match counted.iter_mut().find(|(known, _)| *known == swing) {
            Some((_, count)) => *count += 1,
            None => counted.push((swing, 1)),
        }
    }
    // Of as many the first.
    let most = counted.iter().rev().max_by_key(|(_, count)| *count);
    let swing = most.map_or(
        Swing {
            share: Exact::new(1, 2),
            of: Exact::new(1, 8),
        },
        |(swing, _)| (*swing).clone(),
    );
    let words = (swing.share != Exact::new(1, 2)).then(|| {
        let percent = *swing.share.numer() as f64 * 100.0 / *swing.share.denom() as f64;
        let percent = libm::round(percent * 10.0) / 10.0;
        format!("Swing {} {percent} %", notes(swing.of))
    });
    (words, swing)
}

/// What notes of a length are called.
fn notes(length: Exact) -> String {
    match (*length.numer(), *length.denom()) {
        (1, 2) => "halves".into(),
        (1, 4) => "quarters".into(),
        (1, 8) => "eighths".into(),
        (1, 16) => "sixteenths".into(),
        (1, 32) => "thirty-seconds".into(),
        _ => length.to_string(),
    }
}
