//! What a chord symbol says, and a progression of them.

use super::{columns, joined, told};
use crate::harmony::analysis::{roman, scale_of, tensions};
use crate::harmony::{Chord, Degree, Key, Note, Symbol, Voicing, VoicingRequest, lead_each};
use crate::text::{Problem, spaced};

/// The page of `--symbol`: one chord with all of its voicings, or a progression with its degrees in a key.
pub(super) fn page(text: &str, key: Option<&Key>, kind: Voicing, register: Note) -> Result<String, Problem> {
    let chords = read(text)?;
    match &chords[..] {
        [] => Err(Problem::new("there are no chords in `--symbol`").help("write one, as in `--symbol C7alt`")),
        [chord] => Ok(one(chord, key, register)),
        _ => Ok(several(&chords, key, kind, register)),
    }
}

/// The symbols of a text; barlines, slashes that are one more beat, and bars without a chord are passed over.
fn read(text: &str) -> Result<Vec<Chord>, Problem> {
    let mut chords = Vec::new();
    for at in spaced(text) {
        for word in text[at.clone()]
            .split('|')
            .filter(|word| !matches!(*word, "" | "/" | "%"))
        {
            let from = word.as_ptr() as usize - text.as_ptr() as usize;
            match Symbol::parse(word) {
                Ok(Symbol::Chord(chord)) => chords.push(chord),
                Ok(Symbol::Silence) => {}
                Err(wrong) => return Err(told("--symbol", text, &wrong.moved(from))),
            }
        }
    }
    Ok(chords)
}

fn shown(voices: &[Note]) -> String {
    joined(voices.iter())
}

/// The degrees of some voices above the root, as the chord names them.
fn degrees(chord: &Chord, voices: &[Note]) -> String {
    let degree = |note: &Note| {
        let tone = chord.tones.iter().find(|tone| tone.spelling == note.spelling);
        tone.map_or_else(|| Degree::between(chord.root, note.spelling), |tone| tone.degree)
    };
    joined(voices.iter().map(degree))
}

fn one(chord: &Chord, key: Option<&Key>, register: Note) -> String {
    let scale = scale_of(chord, key);
    let named = |tone: &crate::harmony::chord::Tone| format!("{} {}", tone.degree, tone.spelling);
    let list = |tones: Vec<String>| tones.join(", ");
    let may_go = chord.tones.iter().filter(|tone| !tone.essential).map(named);
    let mut rows = vec![
        vec!["tones".to_string(), list(chord.tones.iter().map(named).collect())],
        vec!["may be left out".into(), list(may_go.collect())],
        vec![
            "tensions".into(),
            list(tensions(chord, &scale).iter().map(named).collect()),
        ],
        vec![
            "scale".into(),
            format!("{}: {}", scale.name, joined(scale.notes.iter())),
        ],
    ];
    rows.extend(key.map(|key| vec![format!("in {key}"), roman(chord, None, key)]));
    rows.retain(|row| !row[1].is_empty());
    let voicings = Voicing::NAMED.iter().map(|(name, kind)| {
        let led = lead_each(
            &[VoicingRequest {
                chord,
                kind: *kind,
                register,
            }],
            false,
        );
        let voices = led.into_iter().next().unwrap_or_default();
        vec![name.to_string(), shown(&voices), degrees(chord, &voices)]
    });
    format!(
        "{}\n{}",
        columns(&[&chord.symbol], rows),
        columns(&["voicing", &format!("near {register}"), "degrees"], voicings.collect())
    )
}

fn several(chords: &[Chord], key: Option<&Key>, kind: Voicing, register: Note) -> String {
    let asked: Vec<VoicingRequest> = chords
        .iter()
        .map(|chord| VoicingRequest { chord, kind, register })
        .collect();
    let led = lead_each(&asked, false);
    let rows = chords.iter().zip(&led).enumerate().map(|(at, (chord, voices))| {
        let degree = key.map(|key| roman(chord, chords.get(at + 1), key));
        let mut row: Vec<String> = degree.into_iter().collect();
        row.extend([
            chord.symbol.clone(),
            shown(voices),
            degrees(chord, voices),
            scale_of(chord, key).name,
        ]);
        row
    });
    let name = Voicing::NAMED.iter().find(|(_, known)| *known == kind);
    let voicing = format!("{} near {register}", name.map_or("close", |(name, _)| name));
    let heading = ["chord", &voicing, "degrees", "scale"];
    match key {
        Some(key) => {
            let heading: Vec<&str> = std::iter::once("").chain(heading).collect();
            format!(
                "{key}: {}\n\n{}",
                joined(key.notes()),
                columns(&heading, rows.collect())
            )
        }
        None => columns(&heading, rows.collect()),
    }
}
