//! What a loop that is built in code plays, as numbers.

use std::path::Path;

use crate::loopfile::{self, Changes, Draft, Exact, Manner, Stroke};
use crate::text::{Problem, Problems, quoted};

/// What stands where other projects have a file.
#[derive(Debug, Clone)]
pub(super) struct Built {
    pub tempo: f64,
    pub bars: u32,
    pub parts: Vec<Part>,
}

/// A part of a `LoopBuilder` and what it plays.
///
/// Positions and lengths are fractions of a bar: in 4/4, `(5, 4)` is beat 2 of the second bar, and a length of `(1, 8)` an eighth.
#[derive(Debug, Clone)]
pub struct Part {
    name: String,
    strokes: Vec<Struck>,
}

/// Position, length, velocity and pitch.
#[derive(Debug, Clone, Copy)]
struct Struck {
    at: (u32, u32),
    length: (u32, u32),
    velocity: f64,
    pitch: Option<u8>,
}

/// How long the step of a hit is, in bars.
const STEP: (u32, u32) = (1, 16);

impl Part {
    /// A part that plays the kit's piece of that name, unless its setting `piece` names another.
    pub fn new(name: impl Into<String>) -> Part {
        Part {
            name: name.into(),
            strokes: Vec::new(),
        }
    }

    /// Plays the piece as it was recorded: `at` in bars from the beginning, velocity from 1 to 127.
    pub fn hit(self, at: (u32, u32), velocity: f64) -> Part {
        self.with(Struck {
            at,
            length: STEP,
            velocity,
            pitch: None,
        })
    }

    /// Plays a note of a pitch: a MIDI note number from 0 to 127, 60 for middle C.
    pub fn note(self, at: (u32, u32), length: (u32, u32), pitch: u8, velocity: f64) -> Part {
        self.with(Struck {
            at,
            length,
            velocity,
            pitch: Some(pitch),
        })
    }

    fn with(mut self, struck: Struck) -> Part {
        self.strokes.push(struck);
        self
    }
}

impl Built {
    /// Reads it as a loop file without hits, and lets its parts play what they play.
    pub(super) fn read(&self, path: &Path, changes: &Changes) -> Result<Draft, Problems> {
        let mut text = format!("[loop]\ntempo = {:?}\nbars = {}\n", self.tempo, self.bars);
        for part in &self.parts {
            text += &format!("[[part]]\nname = {}\n", quoted(&part.name));
        }
        let mut draft = loopfile::read_text(path, text, changes)?;
        if let Draft::Loop(draft) = &mut draft {
            for (number, part) in self.parts.iter().enumerate() {
                draft.strike(number, part.strokes(self.bars)?);
            }
        }
        Ok(draft)
    }
}

impl Part {
    /// What it plays, in the order of time.
    fn strokes(&self, bars: u32) -> Result<Vec<Stroke>, Problem> {
        let wrong = |what: String| Problem::new(format!("part `{}`: {what}", self.name));
        let exact = |(numerator, denominator): (u32, u32)| match denominator {
            0 => Err(wrong("a fraction of a bar has a denominator of 0".to_string())),
            _ => Ok(Exact::new(numerator.into(), denominator.into())),
        };
        let stroke = |struck: &Struck| {
            let (at, step) = (exact(struck.at)?, exact(struck.length)?);
            if at >= Exact::from_integer(bars.into()) {
                return Err(wrong(format!(
                    "{at} bars from the beginning lies outside of its {bars} bars"
                )));
            }
            if !(1.0..=127.0).contains(&struck.velocity) || struck.pitch.is_some_and(|pitch| pitch > 127) {
                return Err(wrong("a velocity is from 1 to 127, a pitch from 0 to 127".to_string()));
            }
            Ok(Stroke {
                at,
                step,
                piece: 0,
                velocity: struck.velocity,
                plain: false,
                shift: 0.0,
                pitch: struck.pitch.map(i32::from),
                sounds: None,
                word: None,
                expression: None,
                mark: 'x',
                manner: Manner::Single,
                scale: 1.0,
            })
        };
        let mut strokes = self.strokes.iter().map(stroke).collect::<Result<Vec<_>, _>>()?;
        strokes.sort_by_key(|stroke| stroke.at);
        Ok(strokes)
    }
}

#[cfg(test)]
mod tests {
    use std::path::PathBuf;

    use super::*;
    use crate::project::Project;
    use crate::render::Order;

    fn kit() -> PathBuf {
        PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/kits/harbour-studio"))
    }

    #[test]
    fn what_is_built_plays_as_the_same_in_a_file() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("loop.toml");
        let text = format!(
            "[loop]\ntempo = 97.5\nbars = 2\nkit = '{}'\n[[part]]\nname = \"kick\"\ndrive = 3\nhits = {{ all = \"x-x-\" }}\n\
             [[part]]\nname = \"bass\"\nnotes = {{ \"1\" = \"G1 - - -\" }}\n",
            kit().display()
        );
        std::fs::write(&path, text).expect("a file");
        let quarters = |part: Part, quarter: u32| part.hit((quarter, 4), 96.0);
        let built = Project::build(97.5, 2)
            .kit(kit())
            .part([0, 2, 4, 6].into_iter().fold(Part::new("kick"), quarters))
            .part(Part::new("bass").note((0, 1), (1, 1), 31, 96.0))
            .set("kick.drive", "3")
            .open()
            .expect("it opens");
        let order = Order::default();
        let read = Project::open(&path).expect("it opens");
        let times = |project: &Project| -> Vec<(f64, f64, Option<i32>)> {
            let score = project.score(&order).expect("a score");
            score.hits().map(|hit| (hit.at, hit.velocity, hit.pitch)).collect()
        };
        assert_eq!(times(&built).len(), 5);
        assert_eq!(times(&built), times(&read));
    }

    #[test]
    fn what_cannot_be_played_is_refused() {
        let built = |part| Project::build(100.0, 1).kit(kit()).part(part).open();
        let told = |part| built(part).expect_err("it is refused").to_string();
        assert!(told(Part::new("kick").hit((4, 4), 96.0)).contains("outside of its 1 bars"));
        assert!(told(Part::new("kick").hit((0, 0), 96.0)).contains("denominator of 0"));
        assert!(told(Part::new("kick").hit((0, 4), 128.0)).contains("from 1 to 127"));
        assert!(built(Part::new("kick").hit((0, 4), 96.0)).is_ok());
    }
}
