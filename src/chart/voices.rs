//! The voicings that comping parts play, note by note.

use super::WIDTH;
use crate::loopfile::{Exact, Loop, Part, Way};
use crate::score::spelled;
use crate::text::width::{columns, padded, wrapped};

/// What one strike plays, and the bars in which it comes.
struct Heard {
    symbol: String,
    notes: String,
    bars: Vec<u32>,
}

/// One strike: where, its mark, and its notes by key.
struct Strike {
    at: Exact,
    mark: char,
    notes: Vec<(i32, String)>,
}

/// A table for each part that comps: its chords in some bars, counted from 1, with the notes it plays of them.
pub(super) fn voicings(song: &Loop, bars: (u32, u32)) -> Vec<String> {
    let mut lines = Vec::new();
    let comping = |part: &&Part| part.way == Way::Comp && !part.double && !part.silenced;
    for part in song.parts.iter().filter(comping) {
        let heard = heard(song, part, bars);
        if heard.is_empty() {
            continue;
        }
        lines.push(String::new());
        lines.extend(wrapped(&format!("{} plays", part.name), WIDTH));
        let widest = |of: fn(&Heard) -> &str| heard.iter().map(|heard| columns(of(heard))).max().unwrap_or(0);
        let (symbols, notes) = (widest(|heard| &heard.symbol), widest(|heard| &heard.notes));
        let room = WIDTH.saturating_sub(symbols + notes + 6).max(12);
        for Heard {
            symbol,
            notes: played,
            bars,
        } in &heard
        {
            let mut symbol = symbol.as_str();
            let mut played = played.as_str();
            // Bars that do not fit go on beneath.
            for bars in wrapped(&spelled(bars), room) {
                lines.push(format!(
                    "  {}  {}  {bars}",
                    padded(symbol, symbols),
                    padded(played, notes)
                ));
                (symbol, played) = ("", "");
            }
        }
    }
    lines
}

fn heard(song: &Loop, part: &Part, (first, last): (u32, u32)) -> Vec<Heard> {
    let mut strikes: Vec<Strike> = Vec::new();
    for stroke in &part.strokes {
        let Some(note) = song.named(stroke, None) else { continue };
        let note = (note.midi(), note.to_string());
        match strikes.last_mut() {
            // The notes of a broken chord go on from its first.
            Some(strike) if stroke.mark == '=' || strike.at == stroke.at => strike.notes.push(note),
            _ => strikes.push(Strike {
                at: stroke.at,
                mark: stroke.mark,
                notes: vec![note],
            }),
        }
    }
    let mut all: Vec<Heard> = Vec::new();
    for Strike { at, mark, mut notes } in strikes {
        let bar = u32::try_from(at.floor().to_integer()).unwrap_or(0) + 1;
        if bar < first || bar > last {
            continue;
        }
        notes.sort();
        notes.dedup();
        let names: Vec<String> = notes.into_iter().map(|(_, name)| name).collect();
        let (symbol, notes) = (symbol(song, at, mark == '<'), names.join(" "));
        match all
            .iter_mut()
            .find(|known| known.symbol == symbol && known.notes == notes)
        {
            Some(known) => known.bars.push(bar),
            None => all.push(Heard {
                symbol,
                notes,
                bars: vec![bar],
            }),
        }
    }
    all.iter_mut().for_each(|heard| heard.bars.dedup());
    all
}

/// The chord of a strike; of a pushed one that at the next barline, or at the next change if that is sooner.
fn symbol(song: &Loop, at: Exact, pushed: bool) -> String {
    let barline = at.floor() + 1;
    let sooner = song.chords.iter().find(|change| change.at > at && change.at <= barline);
    let chord = match sooner {
        _ if !pushed => song.chord_at(at),
        Some(change) => change.chord.as_ref(),
        None if barline == Exact::from_integer(song.bars.into()) => song.chord_at(Exact::ZERO),
        None => song.chord_at(at),
    };
    chord.map(ToString::to_string).unwrap_or_default()
}
