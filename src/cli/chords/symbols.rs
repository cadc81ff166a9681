//! What a chord symbol says, and a progression of them.

use serde::Serialize;

use super::report::{KeyLine, Report, ToneLine, degrees_and_notes};
use super::{columns, joined, told};
use crate::harmony::analysis::{roman, scale_of, tensions};
use crate::harmony::{Chord, Degree, Key, Note, Symbol, Voicing, VoicingRequest, lead_each};
use crate::text::{Problem, spaced};

/// What `--symbol` explains: one chord with all of its voicings, or a progression with one of each, which lead.
#[derive(Serialize)]
pub(super) struct Explained {
    /// The key that they stand in, where one is given.
    key: Option<KeyLine>,
    /// The note that voicings stand near.
    register: String,
    chords: Vec<ChordLine>,
}

#[derive(Serialize)]
struct ChordLine {
    symbol: String,
    /// Its degree in the key, as a Roman numeral.
    degree: Option<String>,
    tones: Vec<ToneLine>,
    tensions: Vec<ToneLine>,
    scale: ScaleLine,
    voicings: Vec<VoicingLine>,
}

#[derive(Serialize)]
struct ScaleLine {
    name: String,
    notes: Vec<String>,
}

#[derive(Serialize)]
struct VoicingLine {
    voicing: &'static str,
    /// From the lowest up, and the degree of each.
    notes: Vec<String>,
    degrees: Vec<String>,
}

/// Explains the symbols of a text.
pub(super) fn explained(text: &str, key: Option<&Key>, kind: Voicing, register: Note) -> Result<Explained, Problem> {
    let chords = read(text)?;
    let near = |chord, kind| VoicingRequest { chord, kind, register };
    let named = Voicing::NAMED;
    let voicings: Vec<Vec<VoicingLine>> = match &chords[..] {
        [] => return Err(Problem::new("there are no chords in `--symbol`").help("write one, as in `--symbol C7alt`")),
        [chord] => {
            let alone = |(name, kind)| {
                let led = lead_each(&[near(chord, kind)], false);
                VoicingLine::of(name, chord, led.into_iter().next().unwrap_or_default())
            };
            vec![named.into_iter().map(alone).collect()]
        }
        _ => {
            let name = named
                .iter()
                .find(|(_, known)| *known == kind)
                .map_or("close", |(name, _)| name);
            let asked: Vec<VoicingRequest> = chords.iter().map(|chord| near(chord, kind)).collect();
            let led = chords.iter().zip(lead_each(&asked, false));
            led.map(|(chord, voices)| vec![VoicingLine::of(name, chord, voices)])
                .collect()
        }
    };
    let lines = voicings.into_iter().enumerate().map(|(at, voicings)| {
        let (chord, next) = (&chords[at], chords.get(at + 1));
        let scale = scale_of(chord, key);
        ChordLine {
            symbol: chord.symbol.clone(),
            degree: key.map(|key| roman(chord, next, key)),
            tones: ToneLine::of_chord(chord),
            tensions: ToneLine::all(&tensions(chord, &scale)),
            scale: ScaleLine {
                name: scale.name,
                notes: texts(scale.notes),
            },
            voicings,
        }
    });
    Ok(Explained {
        key: key.map(KeyLine::of),
        register: register.to_string(),
        chords: lines.collect(),
    })
}

fn texts<T: ToString>(items: impl IntoIterator<Item = T>) -> Vec<String> {
    items.into_iter().map(|item| item.to_string()).collect()
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

impl VoicingLine {
    fn of(voicing: &'static str, chord: &Chord, voices: Vec<Note>) -> VoicingLine {
        // The degrees above the root are as the chord names them.
        let degree = |note: &Note| {
            let tone = chord.tones.iter().find(|tone| tone.spelling == note.spelling);
            tone.map_or_else(|| Degree::between(chord.root, note.spelling), |tone| tone.degree)
        };
        VoicingLine {
            voicing,
            degrees: texts(voices.iter().map(degree)),
            notes: texts(voices),
        }
    }
}

impl Report for Explained {
    fn page(&self) -> String {
        match &self.chords[..] {
            [chord] => self.one(chord),
            _ => self.several(),
        }
    }
}

impl Explained {
    fn one(&self, chord: &ChordLine) -> String {
        let mut rows = vec![
            vec!["tones".to_string(), degrees_and_notes(&chord.tones)],
            vec![
                "may be left out".into(),
                degrees_and_notes(chord.tones.iter().filter(|tone| tone.optional)),
            ],
            vec!["tensions".into(), degrees_and_notes(&chord.tensions)],
            vec![
                "scale".into(),
                format!("{}: {}", chord.scale.name, chord.scale.notes.join(" ")),
            ],
        ];
        let degree = self.key.iter().zip(&chord.degree);
        rows.extend(degree.map(|(key, degree)| vec![format!("in {}", key.name), degree.clone()]));
        rows.retain(|row| !row[1].is_empty());
        let voicings = chord
            .voicings
            .iter()
            .map(|line| vec![line.voicing.to_string(), line.notes.join(" "), line.degrees.join(" ")]);
        format!(
            "{}\n{}",
            columns(&[&chord.symbol], rows),
            columns(
                &["voicing", &format!("near {}", self.register), "degrees"],
                voicings.collect()
            )
        )
    }

    fn several(&self) -> String {
        let rows = self.chords.iter().map(|chord| {
            let voicing = chord.voicings.first();
            let mut row: Vec<String> = chord.degree.iter().cloned().collect();
            row.extend([
                chord.symbol.clone(),
                voicing.map_or(String::new(), |line| line.notes.join(" ")),
                voicing.map_or(String::new(), |line| line.degrees.join(" ")),
                chord.scale.name.clone(),
            ]);
            row
        });
        let kind = self
            .chords
            .first()
            .and_then(|chord| chord.voicings.first())
            .map_or("", |line| line.voicing);
        let voicing = format!("{kind} near {}", self.register);
        let heading = ["chord", &voicing, "degrees", "scale"];
        match &self.key {
            Some(key) => {
                let heading: Vec<&str> = std::iter::once("").chain(heading).collect();
                format!(
                    "{}: {}\n\n{}",
                    key.name,
                    joined(&key.notes),
                    columns(&heading, rows.collect())
                )
            }
            None => columns(&heading, rows.collect()),
        }
    }
}
