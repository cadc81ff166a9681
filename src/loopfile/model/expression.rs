//! What a note has about it beside its pitch and its velocity.

use crate::harmony::Note;

/// What is played about a note.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Expression {
    /// The grace notes before it, in the order of time.
    pub graces: Vec<Note>,
    /// It glides from the note before.
    pub slide: Option<Slide>,
    /// It begins so far below its pitch, and takes so long to reach it.
    pub scoop: Option<Swerve>,
    /// It falls so far at its end, and takes so long for it.
    pub fall: Option<Swerve>,
    /// It is bent up so far (down where negative) and back, either in that time.
    pub bend: Option<Swerve>,
    /// Its vibrato, before chance makes it uneven.
    pub vibrato: Option<WrittenVibrato>,
    /// It is damped as it is struck.
    pub dead: bool,
    /// It goes on from the note before, without an attack of its own.
    pub legato: bool,
}

/// A glide from another note.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slide {
    /// The note that it comes from.
    pub from: Note,
    /// How long it takes.
    pub seconds: f64,
}

/// A way off a note's pitch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Swerve {
    /// How far.
    pub semitones: f64,
    /// How long it takes.
    pub seconds: f64,
}

/// A vibrato as it is written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WrittenVibrato {
    /// Hz.
    pub rate: f64,
    /// Cents to either side.
    pub cents: f64,
    /// Seconds after the onset at which it begins.
    pub delay: f64,
}

/// Seconds from one grace note of a melody to the next note: short enough to lean on it, long enough to have a pitch
/// [practice].
pub(crate) const GRACE: f64 = 0.06;

impl Expression {
    /// The signs of a chart around a note of a pitch, before and behind it: as lead sheets have them, where a character is
    /// like their sign.
    pub(crate) fn signs(&self, pitch: i32) -> (String, String) {
        let (mut before, mut behind) = (String::new(), String::new());
        if let Some(slide) = &self.slide {
            before.push(if slide.from.midi() > pitch { '↘' } else { '↗' });
        }
        for (there, sign) in [(self.scoop.is_some(), '∪'), (self.legato, '‿'), (self.dead, '×')] {
            before.extend(there.then_some(sign));
        }
        for (there, sign) in [
            (self.bend.is_some(), '∩'),
            (self.vibrato.is_some(), '~'),
            (self.fall.is_some(), '↘'),
        ] {
            behind.extend(there.then_some(sign));
        }
        (before, behind)
    }

    /// The marks that write it behind a note of a loop file, but for its grace notes.
    pub(crate) fn words(&self) -> String {
        let ms = |seconds: f64| format!("{}ms", libm::round(seconds * 10_000.0) / 10.0);
        let swerve = |name: &str, swerve: &Swerve, sign: &str| {
            format!(":{name}={sign}{},{}", swerve.semitones, ms(swerve.seconds))
        };
        let mut words = String::new();
        words.extend(self.slide.map(|slide| format!(":slide={}", ms(slide.seconds))));
        words.extend(self.scoop.map(|scoop| swerve("scoop", &scoop, "")));
        words.extend(
            self.bend
                .map(|bend| swerve("bend", &bend, if bend.semitones > 0.0 { "+" } else { "" })),
        );
        words.extend(self.fall.map(|fall| swerve("fall", &fall, "")));
        for (there, word) in [
            (self.vibrato.is_some(), ":vibrato"),
            (self.dead, ":dead"),
            (self.legato, ":legato"),
        ] {
            words.extend(there.then_some(word));
        }
        words
    }
}
