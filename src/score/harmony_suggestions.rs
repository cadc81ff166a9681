//! What an arranger would suggest for the notes of a loop: notes that blur below, a melody that fights its chord, a bass
//! that leaves out the root.

use super::harmony_places::{BASS, HarmonyHint, has, name, place};
use crate::harmony::{Chord, Spelling, too_low};
use crate::loopfile::{Ending, Exact, Loop, Part, Stroke, Way};
use crate::text::Problem;

/// Keys below which a fifth that bass and chords share thickens the sound: C3 \[practice\].
const THICK: i32 = 48;

/// The widest interval above a bass note that is looked at: a fifth, below whose low interval limit all narrower ones blur too. A
/// bass that climbs near the chords for a moment is none.
const FIFTH: i32 = 7;

/// Suggestions for a loop, at most one of a kind for each part.
pub(super) fn suggestions(song: &Loop) -> Vec<Problem> {
    let heard = || song.parts.iter().filter(|part| !part.double && !part.silenced);
    let mut hints = Vec::new();
    for bass in heard().filter(|part| is_bass(part)) {
        hints.extend(
            heard()
                .filter(|part| !is_bass(part))
                .filter_map(|part| blurs(song, bass, part)),
        );
        hints.extend(rootless(song, bass));
    }
    hints.extend(
        heard()
            .filter(|part| part.way == Way::Notes && !is_bass(part))
            .filter_map(|part| fights(song, part)),
    );
    hints
}

/// A part whose notes are low, more of them than not.
fn is_bass(part: &Part) -> bool {
    let pitches = || part.strokes.iter().filter_map(|stroke| stroke.pitch);
    let low = pitches().filter(|pitch| *pitch < BASS).count();
    part.way != Way::Comp && low * 2 > pitches().count()
}

/// Notes that a part strikes with the bass, so close above it that they blur, or the same fifth in both, low.
fn blurs(song: &Loop, bass: &Part, part: &Part) -> Option<Problem> {
    let mut close = HarmonyHint::default();
    let mut fifth = HarmonyHint::default();
    for low in &bass.strokes {
        let Some(below) = low.pitch else { continue };
        let from = part.strokes.partition_point(|stroke| stroke.at < low.at);
        for stroke in part.strokes[from..].iter().take_while(|stroke| stroke.at == low.at) {
            let Some(above) = stroke.pitch else { continue };
            let apart = above - below;
            if (1..=FIFTH).contains(&apart) && too_low(below, FIFTH) {
                close.add(stroke);
            }
            let shared = above < THICK && apart % 12 == 0;
            if shared && song.chord_at(low.at).is_some_and(|chord| is_fifth(chord, below)) {
                fifth.add(stroke);
            }
        }
    }
    let (part_name, bass_name) = (&part.name, &bass.name);
    let (odd, what) = if close.first.is_some() {
        let what = format!(
            "`{part_name}` and `{bass_name}` are so close and so low in {} that they blur",
            close.spelled()
        );
        (close, what)
    } else {
        let what = format!(
            "`{part_name}` and `{bass_name}` both play the fifth below C3 in {}",
            fifth.spelled()
        );
        (fifth, what)
    };
    let stroke = odd.first?;
    let help = format!("give `{part_name}` a higher `register`, or a voicing without that note");
    Some(Problem::at(place(part, Some(stroke)), what).help(help))
}

fn is_fifth(chord: &Chord, pitch: i32) -> bool {
    let fifth = chord.tones.iter().find(|tone| tone.degree.number == 5);
    fifth.is_some_and(|tone| tone.spelling.pitch_class() == pitch.rem_euclid(12))
}

/// A note of a melody that is held for a beat or more a semitone, octaves aside, above a tone of its chord and is none itself: the
/// minor ninth that books on harmony avoid, but for the flat ninth of a dominant \[practice\].
fn fights(song: &Loop, part: &Part) -> Option<Problem> {
    let beat = Exact::new(1, song.time.counts.into());
    let rub = |stroke: &Stroke| -> Option<(Spelling, Spelling)> {
        let pitch = stroke.pitch.filter(|_| stroke.held() >= beat)?;
        let chord = song.chord_at(stroke.at)?;
        let stays = song.chord_at(stroke.at + beat / 2) == Some(chord);
        if !stays || has(chord, name(pitch)) {
            return None;
        }
        let under = |number: u8| matches!(number, 1 | 3 | 5 | 7);
        let tone = chord
            .tones
            .iter()
            .filter(|tone| tone.essential && under(tone.degree.number))
            .find(|tone| (pitch - tone.spelling.pitch_class()).rem_euclid(12) == 1)?;
        let dark = chord.is_dominant() && tone.degree.number == 1;
        let note = song.named(stroke, song.tonality().as_ref())?;
        (!dark).then_some((note.spelling, tone.spelling))
    };
    let mut odd = HarmonyHint::default();
    let mut first = None;
    for stroke in &part.strokes {
        if let Some(names) = rub(stroke) {
            first.get_or_insert(names);
            odd.add(stroke);
        }
    }
    let (note, tone) = first?;
    let stroke = odd.first?;
    let chord = song.chord_at(stroke.at)?;
    let what = format!(
        "`{}` holds {note} over {chord} in {}, a minor ninth above its {tone}",
        part.name,
        odd.spelled()
    );
    let help = format!("go on to {tone}, play it short, or take a chord that has {note}");
    Some(Problem::at(place(part, Some(stroke)), what).help(help))
}

/// Chords of a bar or more over which the bass plays several notes, and none is the root or the bass behind the slash. A bass that
/// stays on the note of the chord before is a pedal point.
fn rootless(song: &Loop, bass: &Part) -> Option<Problem> {
    let mut odd = HarmonyHint::default();
    let end = Exact::from_integer(song.bars.into());
    let ends = song.chords.iter().skip(1).map(|change| change.at).chain([end]);
    let pitched: Vec<(Exact, i32, &Stroke)> = bass
        .strokes
        .iter()
        .filter_map(|stroke| Some((stroke.at, stroke.pitch?.rem_euclid(12), stroke)))
        .collect();
    let round = pitched.last().filter(|_| song.ending == Ending::Repeat);
    let mut before: Option<(Exact, i32)> = round.map(|(at, pitch, _)| (at - end, *pitch));
    let beat = Exact::new(1, song.time.counts.into());
    for (change, ends) in song.chords.iter().zip(ends) {
        let from = pitched.partition_point(|(at, ..)| *at < change.at);
        let to = pitched.partition_point(|(at, ..)| *at < ends);
        let notes = &pitched[from..to];
        let last = before;
        before = notes.last().map(|(at, pitch, _)| (*at, *pitch)).or(before);
        let Some(chord) = change.chord.as_ref().filter(|_| ends - change.at >= Exact::ONE) else {
            continue;
        };
        let lowest = chord.lowest().pitch_class();
        let pedal = last.is_some_and(|(_, last)| notes.iter().all(|(_, pitch, _)| *pitch == last));
        // The root may have come early.
        let early = last.is_some_and(|(at, last)| last == lowest && change.at - at <= beat);
        if notes.len() > 1 && !pedal && !early && notes.iter().all(|(_, pitch, _)| *pitch != lowest) {
            odd.add(notes[0].2);
        }
    }
    let stroke = odd.first?;
    let chord = song.chord_at(stroke.at)?;
    let what = format!("`{}` never plays the root in {}", bass.name, odd.spelled());
    let help = format!(
        "play {} there once, or write the bass that is meant behind a slash",
        chord.lowest()
    );
    Some(Problem::at(place(bass, Some(stroke)), what).help(help))
}
