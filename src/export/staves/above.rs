//! What stands above a system: kicks, chord symbols, endings, sections, tempo and feel, each kind in a row of its own; and
//! the counts below it.

use super::ink::{Ink, Kind, Reach, Side, short, thick, width};
use super::spacing::{BarPlace, Extent, number};
use crate::loopfile::Exact;
use crate::notation::SheetBar;

/// Size of chord symbols' letters, in staff spaces.
const CHORD: f64 = 2.5;
/// Size of the letters of sections, tempo and feel.
const LABEL: f64 = 1.9;
/// Size of bar numbers and counts.
const FIGURE: f64 = 1.5;
/// Size of the names of rows below staves.
pub(super) const ROW_NAME: f64 = 1.3;
/// What stands in the rows below staves.
pub(super) const ROW_NAMES: [&str; 2] = ["degrees", "counts"];
/// Height of a row of labels.
const ROW: f64 = 3.0;

/// A chord symbol as it is written: with the signs of music.
pub(super) fn chord_text(symbol: &str) -> String {
    let letters: Vec<char> = symbol.chars().collect();
    let mut out = String::new();
    for (place, letter) in letters.iter().enumerate() {
        let behind = letters.get(place + 1);
        let of_note = out.ends_with(|before: char| ('A'..='G').contains(&before) || before == '♭');
        let of_degree = behind.is_some_and(char::is_ascii_digit);
        out.push(match letter {
            '#' => '♯',
            'b' if of_note || of_degree => '♭',
            letter => *letter,
        });
    }
    out
}

/// What chord symbols of a bar take.
pub(super) fn chord_extents(bar: &SheetBar) -> Vec<Extent> {
    let chords = bar.chords.iter().map(|(at, sign)| Extent {
        at: *at,
        left: 0.0,
        right: width(&chord_text(&sign.text), CHORD),
    });
    chords.collect()
}

/// What the kicks of a bar take.
pub(super) fn kick_extents(bar: &SheetBar) -> Vec<Extent> {
    let kicks = bar.accents().map(|event| Extent {
        at: event.at,
        left: 0.0,
        right: 1.6,
    });
    kicks.collect()
}

/// What the counts of a bar take.
pub(super) fn count_extents(bar: &SheetBar, length: Exact) -> Vec<Extent> {
    let counts = counts(bar, length).map(|(at, text)| {
        let half = width(&text, FIGURE) / 2.0;
        Extent {
            at,
            left: half - 0.6,
            right: half + 0.6,
        }
    });
    counts.collect()
}

fn counts(bar: &SheetBar, length: Exact) -> impl Iterator<Item = (Exact, String)> {
    let (counts, unit) = bar.metre;
    let full = Exact::new(i128::from(counts), i128::from(unit));
    // A pickup's counts are the last ones of its bar.
    let skipped = if bar.number == 0 {
        full - length
    } else {
        Exact::new(0, 1)
    };
    let times = (0..counts).map(move |count| (Exact::new(i128::from(count), i128::from(unit)) - skipped, count + 1));
    times
        .filter(move |(at, _)| *at >= Exact::new(0, 1) && *at < length)
        .map(|(at, count)| (at, count.to_string()))
}

/// Writes the counts below a system, whose lowest point is given.
pub(super) fn write_counts(ink: &mut Ink, bars: &[(&SheetBar, Exact)], places: &[BarPlace], bottom: f64) {
    let y = bottom + 1.9;
    ink.words(
        Kind::Words,
        ROW_NAMES[1],
        (places[0].left - 0.8, y),
        ROW_NAME,
        Side::Right,
    );
    for ((bar, length), place) in bars.iter().zip(places) {
        for (at, text) in counts(bar, *length) {
            ink.words(Kind::Words, &text, (place.column(at) + 0.6, y), FIGURE, Side::Middle);
        }
    }
}

/// Draws the rows above a system, whose highest point is at height 0; `right` is as far as anything may go. The
/// tempo and the feel of the `first` bar stand below the title already.
pub(super) fn draw(bars: &[&SheetBar], places: &[BarPlace], right: f64, first: bool) -> Ink {
    let mut ink = Ink::new();
    let all = || bars.iter().copied().zip(places);
    if bars.iter().any(|bar| bar.accents().next().is_some()) {
        let y = ink.heights().0 - 0.7;
        all().for_each(|(bar, place)| kicks(&mut ink, bar, place, y));
    }
    let y = ink.heights().0 - 0.9;
    for (bar, place) in all() {
        for (at, sign) in &bar.chords {
            let text = chord_text(&sign.text);
            ink.words(Kind::Chord, &text, (place.column(*at), y), CHORD, Side::Left);
        }
    }
    let number = bars[0].number;
    if number > 1 {
        ink.words(
            Kind::Words,
            &number.to_string(),
            (places[0].left, y),
            FIGURE,
            Side::Left,
        );
    }
    endings(&mut ink, bars, places);
    labels(&mut ink, bars, places, right, first);
    ink
}

/// The accents of the whole band: small notes over the line.
fn kicks(ink: &mut Ink, bar: &SheetBar, place: &BarPlace, y: f64) {
    const SIZE: f64 = 0.6;
    for event in bar.accents() {
        let x = place.column(event.at);
        ink.sign_of(Kind::Other, "noteheadSlashHorizontalEnds", x, y, SIZE);
        let stem = x + 0.8;
        ink.line((stem, y - 0.5), (stem, y - 2.4), thick::STEM * 0.8);
        let flag = match event.value.part {
            ..=4 => None,
            5..=8 => Some("flag8thUp"),
            _ => Some("flag16thUp"),
        };
        if let Some(flag) = flag {
            ink.sign_of(Kind::Other, flag, stem - 0.05, y - 2.4, SIZE);
        }
        ink.sign_of(Kind::Other, "articAccentAbove", x + 0.1, y - 2.6, SIZE);
    }
}

/// Brackets over endings, with the times on which they are played.
fn endings(ink: &mut Ink, bars: &[&SheetBar], places: &[BarPlace]) {
    if bars.iter().all(|bar| bar.ending.is_none()) {
        return;
    }
    let y = ink.heights().0 - 2.4;
    for (order, (bar, place)) in bars.iter().zip(places).enumerate() {
        let Some(times) = &bar.ending else { continue };
        let begins = order == 0 || bars[order - 1].ending.as_ref() != Some(times);
        let ends = bars
            .get(order + 1)
            .is_none_or(|next| next.ending.as_ref() != Some(times));
        let (left, right) = (place.left + 0.3, place.right - if ends { 0.3 } else { -0.3 });
        if begins {
            ink.line((left, y + 2.0), (left, y), thick::FRAME);
            let text: Vec<String> = times.iter().map(|time| format!("{time}.")).collect();
            ink.words(Kind::Words, &text.join(" "), (left + 0.5, y + 1.7), FIGURE, Side::Left);
        }
        ink.line((left, y), (right, y), thick::FRAME);
        if ends && bar.repeat_ends.is_some() {
            ink.line((right, y + 2.0), (right, y), thick::FRAME);
        }
    }
}

/// Sections in frames, tempo, feel, and how often a repeat is played where that is more than twice. What would lie on
/// another label goes a row higher.
fn labels(ink: &mut Ink, bars: &[&SheetBar], places: &[BarPlace], right: f64, first: bool) {
    let lowest = ink.heights().0 - 1.3;
    let mut rows: Vec<f64> = Vec::new();
    let mut put = |ink: &mut Ink, text: &str, x: f64, side: Side, framed: bool| {
        let room = if framed { 1.0 } else { 0.0 };
        let wide = width(text, LABEL) + room;
        let wanted = if side == Side::Right { x - wide } else { x };
        let left = wanted.min(right - wide).max(places[0].left);
        let row = rows.iter().position(|end| *end + 0.8 <= left).unwrap_or_else(|| {
            rows.push(f64::NEG_INFINITY);
            rows.len() - 1
        });
        rows[row] = left + wide;
        let y = lowest - ROW * row as f64;
        ink.words(Kind::Words, text, (left + room / 2.0, y), LABEL, Side::Left);
        if framed {
            frame(
                ink,
                Reach {
                    left,
                    top: y - 1.8,
                    right: left + wide,
                    bottom: y + 0.75,
                },
            );
        }
        left + wide
    };
    for (order, (bar, place)) in bars.iter().zip(places).enumerate() {
        let mut x = place.left;
        if let Some(section) = &bar.section {
            x = put(ink, section, x, Side::Left, true) + 1.2;
        }
        let tempo = bar.tempo.map(|(bpm, unit)| tempo_text(bpm, unit));
        for text in tempo.iter().chain(&bar.feel).filter(|_| order > 0 || !first) {
            x = put(ink, text, x, Side::Left, false) + 1.2;
        }
        if let Some(times) = bar.repeat_ends.filter(|times| *times > 2) {
            put(ink, &format!("play {times} times"), place.right, Side::Right, false);
        }
    }
}

fn frame(ink: &mut Ink, reach: Reach) {
    let data = format!(
        "M{0} {1}L{2} {1}L{2} {3}L{0} {3}Z",
        short(reach.left),
        short(reach.top),
        short(reach.right),
        short(reach.bottom)
    );
    ink.lines(&data, thick::FRAME, reach);
}

/// A tempo in BPM with what it counts, in whole notes.
pub(super) fn tempo_text(bpm: f64, unit: Exact) -> String {
    let bpm = (bpm * 100.0).round() / 100.0;
    let counted = match (*unit.numer(), *unit.denom()) {
        (1, 4) => "♩",
        (3, 8) => "♩.",
        (1, 8) => "♪",
        _ => return format!("{bpm} BPM of {} whole notes", number(unit)),
    };
    format!("{counted} = {bpm}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chord_symbols_get_the_signs_of_music() {
        for (typed, written) in [
            ("Bbmaj9", "B♭maj9"),
            ("F#7(b9,#11)", "F♯7(♭9,♯11)"),
            ("Ebb", "E♭♭"),
            ("F/Eb", "F/E♭"),
            ("Bm7b5", "Bm7♭5"),
            ("Gsus4add9", "Gsus4add9"),
            ("N.C.", "N.C."),
        ] {
            assert_eq!(chord_text(typed), written);
        }
    }
}
