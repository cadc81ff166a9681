//! How a note is played beside its pitch and how hard: the marks behind a word, and the part's keys that say how far and how
//! long.

use super::word_kind::WordKind;
use crate::harmony::Note;
use crate::loopfile::{Expression, Slide, Swerve, Time, WrittenVibrato};
use crate::schema::{Layers, Length, fall, playing, read_length, scoop, vibrato};
use crate::text::{did_you_mean, nearest};

/// The marks behind a word, without those that say how hard.
#[derive(Debug, Clone, Default)]
pub(crate) struct ExpressionMarks {
    slide: Option<Option<Length>>,
    scoop: Option<WrittenSwerve>,
    fall: Option<WrittenSwerve>,
    bend: Option<(Bend, Option<Length>)>,
    vibrato: bool,
    dead: bool,
    legato: bool,
}

/// How far and how long, where a mark says so.
#[derive(Debug, Clone, Copy, Default)]
struct WrittenSwerve {
    semitones: Option<f64>,
    time: Option<Length>,
}

/// Where a bend goes.
#[derive(Debug, Clone, Copy)]
enum Bend {
    Semitones(f64),
    To(Note),
}

/// The marks: what stands behind each, and an example.
const MARKS: [(&str, &str, &str); 7] = [
    ("slide", "a time", "slide=80ms"),
    ("scoop", "semitones and a time", "scoop=2,120ms"),
    ("fall", "semitones and a time", "fall=5,250ms"),
    ("bend", "where it goes and a time", "bend=+2,1/16"),
    ("vibrato", "", "vibrato"),
    ("dead", "", "dead"),
    ("legato", "", "legato"),
];

/// The furthest that a mark takes a note off its pitch, in semitones: two octaves, as wheels and whammy bars do not reach
/// [practice].
const FURTHEST: f64 = 24.0;

/// What is wrong with a mark, and what to write.
pub(super) type Wrong = (String, String);

impl ExpressionMarks {
    /// Takes a mark such as `slide=80ms`.
    pub(super) fn take(&mut self, mark: &str, language: WordKind) -> Result<(), Wrong> {
        let (name, told) = match mark.split_once('=') {
            Some((name, told)) => (name, Some(told)),
            None => (mark, None),
        };
        let Some((name, takes, example)) = MARKS.into_iter().find(|(known, ..)| *known == name) else {
            let what = format!("`{mark}` does not say how a note is played");
            let help = match nearest(name, MARKS.iter().map(|(name, ..)| *name)) {
                Some(near) => did_you_mean(near),
                None => "write how hard, as in `:7` or `:g`, or `:slide`, `:scoop`, `:fall`, `:bend=+2`, `:vibrato`, `:dead`, `:legato`".into(),
            };
            return Err((what, help));
        };
        if told.is_some() && takes.is_empty() {
            let what = format!("`{name}` takes nothing behind it");
            let help = match name {
                "vibrato" => "its rate, depth and delay are the part's key `vibrato`".into(),
                _ => format!("write `:{name}`"),
            };
            return Err((what, help));
        }
        let wrong = |told: &str| {
            let what = format!("`{told}` is nothing that `{name}` takes: it takes {takes}");
            (
                what,
                format!("write for instance `:{example}`; times are ms or note values"),
            )
        };
        let values = told.map_or(Vec::new(), |told| told.split(',').collect());
        let (mut far, mut time) = (None, None);
        for (number, value) in values.iter().enumerate() {
            match read_length(value) {
                Some(length) if time.is_none() => time = Some(length),
                None if number == 0 && name != "slide" => far = Some(*value),
                _ => return Err(wrong(value)),
            }
        }
        let twice = match name {
            "slide" => self.slide.replace(time).is_some(),
            "scoop" | "fall" => {
                let semitones = far.map(|far| depth(far).ok_or_else(|| wrong(far))).transpose()?;
                let own = if name == "fall" {
                    &mut self.fall
                } else {
                    &mut self.scoop
                };
                own.replace(WrittenSwerve { semitones, time }).is_some()
            }
            "bend" => {
                let Some(far) = far else {
                    return Err((
                        "a bend says where it goes".into(),
                        format!("write for instance `:{example}`"),
                    ));
                };
                let to = bend(far, language).ok_or_else(|| wrong(far))?;
                self.bend.replace((to, time)).is_some()
            }
            "vibrato" => std::mem::replace(&mut self.vibrato, true),
            "dead" => std::mem::replace(&mut self.dead, true),
            _ => std::mem::replace(&mut self.legato, true),
        };
        if twice {
            return Err((format!("`{name}` stands twice"), format!("write `:{example}` once")));
        }
        self.fits()
    }

    /// What can't be played together.
    fn fits(&self) -> Result<(), Wrong> {
        let moves = [
            (self.slide.is_some(), "slide"),
            (self.scoop.is_some(), "scoop"),
            (self.fall.is_some(), "fall"),
            (self.bend.is_some(), "bend"),
            (self.vibrato, "vibrato"),
            (self.legato, "legato"),
        ];
        if self.slide.is_some() && self.scoop.is_some() {
            return Err((
                "a note begins with a slide or with a scoop, not with both".into(),
                "leave one of them out".into(),
            ));
        }
        match moves.into_iter().find(|(there, _)| *there && self.dead) {
            Some((_, name)) => Err((
                format!("a dead note is damped at once: it has no `{name}`"),
                format!("leave `:{name}` or `:dead` out"),
            )),
            None => Ok(()),
        }
    }

    /// True where it comes from the note before.
    pub(super) fn slides(&self) -> bool {
        self.slide.is_some()
    }
}

/// How a note of a part is played, with `from` the note before it; none for one that is just played.
pub(super) fn expression(
    marks: Option<&ExpressionMarks>,
    note: Note,
    from: Option<Note>,
    layers: &Layers<'_>,
    time: &Time,
) -> Option<Expression> {
    let none = ExpressionMarks::default();
    let marks = marks.unwrap_or(&none);
    let seconds = |length: Length| match length {
        Length::Seconds(seconds) => seconds,
        Length::Notes(notes) => time.seconds(notes),
    };
    let swerve = |written: WrittenSwerve, depth: f64, standard: Option<Length>| Swerve {
        semitones: written.semitones.unwrap_or(depth),
        seconds: written.time.or(standard).map_or(0.0, seconds),
    };
    let scoops = layers.nested(playing::SCOOP).unwrap_or_else(|| Layers::new([]));
    let falls = layers.nested(playing::FALL).unwrap_or_else(|| Layers::new([]));
    let shakes = layers.nested(playing::VIBRATO);
    let all = shakes.as_ref().is_some_and(|own| own.switch(vibrato::EVERY));
    let shakes = shakes.unwrap_or_else(|| Layers::new([]));
    let written = Expression {
        graces: Vec::new(),
        slide: marks.slide.zip(from).map(|(time, from)| Slide {
            from,
            seconds: time.or(layers.length(playing::SLIDE)).map_or(0.0, seconds),
        }),
        scoop: marks
            .scoop
            .map(|scoop| swerve(scoop, scoops.number(scoop::DEPTH), scoops.length(scoop::TIME))),
        fall: marks
            .fall
            .map(|fall| swerve(fall, falls.number(fall::DEPTH), falls.length(fall::TIME))),
        bend: marks.bend.map(|(bend, time)| Swerve {
            semitones: match bend {
                Bend::Semitones(semitones) => semitones,
                Bend::To(to) => f64::from(to.midi() - note.midi()),
            },
            seconds: time.or(layers.length(playing::BEND)).map_or(0.0, seconds),
        }),
        vibrato: (marks.vibrato || all && !marks.dead).then(|| WrittenVibrato {
            rate: shakes.number(vibrato::RATE),
            cents: shakes.number(vibrato::DEPTH),
            delay: shakes.number(vibrato::DELAY) / 1000.0,
        }),
        dead: marks.dead,
        legato: marks.legato,
    };
    (written != Expression::default()).then_some(written)
}

fn depth(text: &str) -> Option<f64> {
    let figures = !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.');
    let depth: f64 = text.parse().ok().filter(|_| figures)?;
    (depth > 0.0 && depth <= FURTHEST).then_some(depth)
}

/// Semitones with their sign, or among notes a note.
fn bend(text: &str, language: WordKind) -> Option<Bend> {
    if let Some(far) = text.strip_prefix('+') {
        return depth(far).map(Bend::Semitones);
    }
    if let Some(far) = text.strip_prefix('-') {
        return depth(far).map(|far| Bend::Semitones(-far));
    }
    match language {
        WordKind::Notes => Note::parse(text).ok().map(Bend::To),
        WordKind::Degrees => None,
    }
}
