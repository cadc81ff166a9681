//! Doubles: voices that play along with a part.

use std::sync::Arc;

use super::realise::PitchedStroke;
use crate::harmony::{Key, Note, spell};
use crate::loopfile::{Expression, Slide, Stroke, Words};
use crate::schema::{Layers, Settings, Value, double, interval_steps, playing};

/// One voice of a part's `double`, with its number, counted from 1.
#[derive(Debug, Clone, Copy)]
pub(in crate::loopfile) struct DoubleVoice<'a> {
    pub settings: &'a Settings,
}

/// What a part's nth double is called, counted from 1.
pub(in crate::loopfile) fn double_name(part: &str, nth: usize) -> String {
    format!("{part} double {nth}")
}

/// The doubles that some keys ask for.
pub(in crate::loopfile) fn doubles<'a>(layers: &Layers<'a>) -> Vec<DoubleVoice<'a>> {
    let voices = layers.get(playing::DOUBLE).into_iter().flatten();
    voices.map(|settings| DoubleVoice { settings }).collect()
}

impl<'a> DoubleVoice<'a> {
    fn layers(&self) -> Layers<'a> {
        Layers::new([self.settings])
    }

    /// Its own piece, where it has one.
    pub(crate) fn piece(&self) -> Option<&'a Words> {
        self.settings.get(double::PIECE)
    }

    /// dB against the part.
    pub(crate) fn gain_db(&self) -> f64 {
        self.layers().number(double::GAIN)
    }

    /// Seconds after the part.
    pub(crate) fn behind(&self) -> f64 {
        self.layers().number(double::BEHIND) / 1000.0
    }

    /// True where its interval is one of a key, in words.
    pub(crate) fn in_words(&self) -> Option<&'a Words> {
        match &self.settings.placed(double::INTERVAL)?.value {
            Value::Text(words) => Some(words),
            _ => None,
        }
    }

    /// What it plays for a note of the part; none beyond the keys of MIDI, and for an interval of the key where there is no
    /// key.
    pub(crate) fn stroke(&self, sounded: &PitchedStroke, key: Option<&Key>) -> Option<Stroke> {
        let pitch = self.along(sounded.note, key)?;
        let expression = sounded.stroke.expression.as_ref().map(|own| {
            let along = |note: Note| {
                let pitch = self.along(note, key)?;
                Some(note.spelling.at(pitch).unwrap_or_else(|| spell(pitch, None, key)))
            };
            let slide = |slide: Slide| {
                let from = along(slide.from)?;
                Some(Slide { from, ..slide })
            };
            Arc::new(Expression {
                graces: own.graces.iter().filter_map(|grace| along(*grace)).collect(),
                slide: own.slide.and_then(slide),
                ..own.as_ref().clone()
            })
        });
        Some(Stroke {
            pitch: Some(pitch),
            expression,
            ..sounded.stroke.clone()
        })
    }

    /// The pitch that goes along with a note; none beyond the keys of MIDI, or in no key.
    fn along(&self, note: Note, key: Option<&Key>) -> Option<i32> {
        let pitch = match self.in_words() {
            Some(words) => along(key?, note, interval_steps(&words.text)?).midi(),
            None => note.midi() + self.semitones() as i32,
        };
        (0..=127).contains(&pitch).then_some(pitch)
    }

    /// What it plays for a stroke that nobody wrote as a note: a hit as it is, a played note so many semitones away; none
    /// beyond the keys of MIDI.
    pub(crate) fn played(&self, stroke: &Stroke) -> Option<Stroke> {
        let pitch = stroke.pitch.map(|pitch| pitch + self.semitones() as i32);
        pitch.is_none_or(|pitch| (0..=127).contains(&pitch)).then(|| Stroke {
            pitch,
            ..stroke.clone()
        })
    }

    /// Its interval in semitones; 0 where it is one of a key.
    pub(crate) fn semitones(&self) -> f64 {
        self.layers().number(double::INTERVAL)
    }
}

/// Its pan from -1 to 1, where it has its own.
pub(in crate::loopfile) fn pan_of(double: &DoubleVoice<'_>) -> Option<f64> {
    double.layers().level(double::PAN).map(|pan| pan / 100.0)
}

/// The note so many steps of a key away. A note that the key lacks goes along with the key's note of its letter, so that
/// the second voice stays in the key.
fn along(key: &Key, note: Note, steps: i32) -> Note {
    if let Some(along) = key.step(note, steps) {
        return along;
    }
    let own = key.notes().into_iter().find(|own| own.letter == note.spelling.letter);
    let plain = own.map_or(note, |spelling| Note { spelling, ..note });
    key.step(plain, steps).unwrap_or(note)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_note_outside_of_the_key_is_harmonised_from_within_it() {
        let key = Key::parse("C major").expect("a key");
        let along = |note: &str, steps| along(&key, Note::parse(note).expect(note), steps).to_string();
        assert_eq!(along("E4", -2), "C4");
        assert_eq!(along("F#4", -2), "D4");
        assert_eq!(along("Bb4", 5), "G5");
    }
}
