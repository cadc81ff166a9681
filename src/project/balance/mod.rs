//! Gains with which the parts of a loop stand to one another as a table of common practice has them.
//!
//! In: a project that is a loop, and what a person says of single parts. Out: each part's loudness where it plays, its aim, and the gain
//! that brings it there. Nothing is written.

mod role;
mod table;

use role::Found;
pub(crate) use table::{Role, TABLE};

use super::{Plays, Project, changes};
use crate::loopfile::{Loop, Part};
use crate::render::{Order, PartLoudness, part_loudness};
use crate::schema::{Kind, strip};
use crate::text::{Problem, Problems, did_you_mean, nearest};

/// A part that stands so near to its aim, in dB, keeps its gain.
pub(crate) const NEAR: f64 = 0.5;
/// Proposed gains are multiples of this, in dB.
const STEP: f64 = 0.5;

/// What a person says of a part.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Aim {
    /// It has this role.
    Role(Role),
    /// It stands so many LU from the lead's place.
    Level(f64),
    /// Its gain stays.
    Keep,
}

/// A loop's parts, as they stand and as they would.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Balance {
    /// The part that keeps its gain while the others move, as an index; none where no part has a role and plays.
    pub reference: Option<usize>,
    /// The parts, in the loop's order, without doubles, which move with their parts.
    pub parts: Vec<BalancedPart>,
}

/// One part.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct BalancedPart {
    /// Its name.
    pub name: String,
    /// What it is to the others, where that is known.
    pub role: Option<Role>,
    /// Its gain in dB; minus infinity where it is off.
    pub gain_db: f64,
    /// Its loudness where it plays in LUFS, with that gain; none where it is not heard.
    pub lufs: Option<f64>,
    /// Where it stands in LU: 0 is the place of the lead.
    pub stands: Option<f64>,
    /// Where it should stand.
    pub aim: Option<f64>,
    /// The gain that brings it there, in dB, or what keeps the one it has.
    pub verdict: Verdict,
}

/// What becomes of a part's gain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Verdict {
    /// It should be this, in dB.
    Move(f64),
    /// It stands where it should.
    Fits,
    /// It stays, and the others move.
    Reference,
    /// Nothing tells what the part is.
    NoRole,
    /// The person keeps it.
    Kept,
    /// A sweep sets it, and should set it higher by so many dB.
    Swept(f64),
    /// The part is muted or left out.
    Silenced,
    /// The part gives no sound, or its gain is off.
    Silent,
    /// No gain is as low or as high as it would have to be, which is this, in dB.
    OutOfRange(f64),
}

impl Project {
    /// Measures the parts of a loop and proposes gains.
    ///
    /// # Errors
    /// A form; a part that is not there; as [`Project::render`].
    pub(crate) fn balance(&self, order: &Order, aims: &[(String, Aim)]) -> Result<Balance, Problems> {
        let (song, kit) = match &self.plays {
            Plays::Loop(song, kit) => (song, kit),
            Plays::Form(..) => {
                let what = format!(
                    "{} is a form, and its parts stand in its loops",
                    self.options.path().display()
                );
                return Err(Problem::new(what)
                    .help("balance each of the loops that it plays")
                    .into());
            }
        };
        let parts: Vec<&Part> = song.parts.iter().filter(|part| !part.double).collect();
        let unknown = aims
            .iter()
            .filter(|(name, _)| parts.iter().all(|part| part.name != *name));
        let unknown: Vec<Problem> = unknown.map(|(name, _)| no_part(song, name)).collect();
        if !unknown.is_empty() {
            return Err(Problems(unknown));
        }
        let aims: Vec<Option<&Aim>> = parts.iter().map(|part| aim_of(aims, &part.name)).collect();
        let roles = roles(&parts, &aims);
        let measured = part_loudness(song, kit, order)?;
        let parts = parts.iter().zip(measured).zip(roles).zip(aims);
        Ok(propose(
            parts
                .map(|(((part, loudness), role), aim)| Standing::of(part, loudness, role, aim))
                .collect(),
        ))
    }

    /// The same loop with another text, in which some gains are others and all else is the same.
    ///
    /// # Errors
    /// A text that says anything else than this one with these gains.
    pub(crate) fn with_gains_in(&self, text: String, gains: &[(&str, f64)]) -> Result<Project, Problems> {
        let moved = self.options.clone().text(text).open()?;
        let mut keys: Vec<String> = gains.iter().map(|(name, _)| format!("{name}.gain")).collect();
        let mut differs: Vec<String> = changes::settings(self, &moved).into_iter().map(|one| one.key).collect();
        // A part that had none gets a table, in which its name is new.
        differs.retain(|key| !gains.iter().any(|(name, _)| *key == format!("{name}.name")));
        keys.sort();
        differs.sort();
        let has = |(name, gain): &(&str, f64)| {
            let part = |(song, _): &(&Loop, _)| song.parts.iter().find(|part| part.name == *name).cloned();
            moved
                .loops()
                .iter()
                .find_map(part)
                .is_some_and(|part| part.strip.gain_db == *gain)
        };
        match keys == differs && gains.iter().all(has) {
            true => Ok(moved),
            false => {
                let what = format!("the gains find no place in {}", self.options.path().display());
                Err(Problem::new(what).help("write the lines into it by hand").into())
            }
        }
    }
}

/// A part as it is before anything is proposed.
#[derive(Debug, Clone, PartialEq)]
struct Standing {
    name: String,
    role: Option<Role>,
    gain_db: f64,
    lufs: Option<f64>,
    aim: Option<f64>,
    /// What keeps its gain, whatever it is.
    keeps: Option<Verdict>,
}

impl Standing {
    fn of(part: &Part, loudness: PartLoudness, role: Option<Role>, aim: Option<&Aim>) -> Standing {
        let gain_db = part.strip.gain_db;
        let with_gain = if loudness.swept { 0.0 } else { gain_db };
        let aim_level = match aim {
            Some(Aim::Level(level)) => Some(*level),
            Some(Aim::Keep) => None,
            _ => role.map(|role| role.row().level),
        };
        let lufs = loudness.lufs.filter(|_| !part.silenced && with_gain.is_finite());
        let keeps = if part.silenced {
            Some(Verdict::Silenced)
        } else if lufs.is_none() {
            Some(Verdict::Silent)
        } else if aim == Some(&Aim::Keep) {
            Some(Verdict::Kept)
        } else if aim_level.is_none() {
            Some(Verdict::NoRole)
        } else {
            loudness.swept.then_some(Verdict::Swept(0.0))
        };
        Standing {
            name: part.name.clone(),
            role: role.filter(|_| !matches!(aim, Some(Aim::Level(_) | Aim::Keep))),
            gain_db,
            lufs: lufs.map(|lufs| lufs + with_gain),
            aim: aim_level,
            keeps,
        }
    }

    /// The place of the lead in LUFS by where this part stands.
    fn zero(&self) -> Option<f64> {
        Some(self.lufs? - self.aim?)
    }
}

/// What each part is. A melody is the lead where no other is; where there are several and none is called so, all are lines.
fn roles(parts: &[&Part], aims: &[Option<&Aim>]) -> Vec<Option<Role>> {
    let found: Vec<Found> = parts
        .iter()
        .zip(aims)
        .map(|(part, aim)| match aim {
            Some(Aim::Role(role)) => Found::Role(*role),
            Some(_) => Found::Nothing,
            None if part.silenced => Found::Nothing,
            None => role::of(part),
        })
        .collect();
    let melodies = found.iter().filter(|one| **one == Found::Melody).count();
    let leads = melodies == 1 && !found.contains(&Found::Role(Role::Lead));
    let role = |found: Found| match found {
        Found::Role(role) => Some(role),
        Found::Melody if leads => Some(Role::Lead),
        Found::Melody => Some(Role::Line),
        Found::Nothing => None,
    };
    found.into_iter().map(role).collect()
}

/// Brings all parts to where the first in the table's order stands, which keeps its gain.
fn propose(parts: Vec<Standing>) -> Balance {
    let known = parts.iter().enumerate().filter(|(_, part)| part.zero().is_some());
    let reference = known
        .min_by_key(|(_, part)| (part.role.is_none(), part.role))
        .map(|(at, _)| at);
    let zero = reference.and_then(|at| parts[at].zero());
    let balanced = |(at, part): (usize, Standing)| {
        let stands = part.lufs.zip(zero).map(|(lufs, zero)| lufs - zero);
        let lacks = part.aim.zip(stands).map_or(0.0, |(aim, stands)| aim - stands);
        let verdict = match part.keeps {
            Some(Verdict::Swept(_)) if lacks.abs() > NEAR => Verdict::Swept(stepped(lacks)),
            Some(Verdict::Swept(_)) => Verdict::Fits,
            Some(keeps) => keeps,
            None if reference == Some(at) => Verdict::Reference,
            None if lacks.abs() <= NEAR => Verdict::Fits,
            None => match stepped(part.gain_db + lacks) {
                gain if in_range(gain) => Verdict::Move(gain),
                gain => Verdict::OutOfRange(gain),
            },
        };
        BalancedPart {
            name: part.name,
            role: part.role,
            gain_db: part.gain_db,
            lufs: part.lufs,
            stands,
            aim: part.aim,
            verdict,
        }
    };
    Balance {
        reference,
        parts: parts.into_iter().enumerate().map(balanced).collect(),
    }
}

/// True for a gain in dB that a part can have.
fn in_range(gain: f64) -> bool {
    match strip::GAIN.kind {
        Kind::Number(from, to, _) => (from..=to).contains(&gain),
        _ => true,
    }
}

/// The nearest multiple of [`STEP`].
fn stepped(db: f64) -> f64 {
    // Nothing is -0.
    libm::round(db / STEP) * STEP + 0.0
}

/// The last that is said of a part.
fn aim_of<'a>(aims: &'a [(String, Aim)], name: &str) -> Option<&'a Aim> {
    aims.iter().rev().find(|(of, _)| of == name).map(|(_, aim)| aim)
}

fn no_part(song: &Loop, name: &str) -> Problem {
    let problem = Problem::new(format!("there is no part called `{name}`"));
    let parts: Vec<&str> = song
        .parts
        .iter()
        .filter(|part| !part.double)
        .map(|part| part.name.as_str())
        .collect();
    match nearest(name, parts.iter().copied()) {
        Some(near) => problem.help(did_you_mean(near)),
        None => problem.help(format!("there are {}", parts.join(", "))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn standing(role: Option<Role>, gain_db: f64, lufs: Option<f64>) -> Standing {
        Standing {
            name: String::new(),
            role,
            gain_db,
            lufs,
            aim: role.map(|role| role.row().level),
            keeps: match (lufs, role) {
                (None, _) => Some(Verdict::Silent),
                (_, None) => Some(Verdict::NoRole),
                _ => None,
            },
        }
    }

    fn verdicts(balance: &Balance) -> Vec<Verdict> {
        balance.parts.iter().map(|part| part.verdict).collect()
    }

    #[test]
    fn the_lead_stays_and_the_others_come_to_their_places() {
        let balance = propose(vec![
            standing(Some(Role::Kick), 3.0, Some(-20.0)),
            standing(None, 0.0, Some(-40.0)),
            standing(Some(Role::Lead), -2.0, Some(-24.0)),
            standing(Some(Role::Time), 0.0, Some(-34.3)),
            standing(Some(Role::Bass), 0.0, Some(-46.3)),
            standing(Some(Role::Chords), 0.0, None),
        ]);
        assert_eq!(balance.reference, Some(2));
        let wanted = [
            Verdict::Move(-3.0),
            Verdict::NoRole,
            Verdict::Reference,
            Verdict::Fits,
            Verdict::Move(20.5),
            Verdict::Silent,
        ];
        assert_eq!(verdicts(&balance), wanted);
        assert_eq!(balance.parts[0].stands, Some(4.0));
        let far = propose(vec![
            standing(Some(Role::Kick), 0.0, Some(-10.0)),
            standing(Some(Role::Snare), 0.0, Some(-60.2)),
        ]);
        assert_eq!(verdicts(&far), [Verdict::Reference, Verdict::OutOfRange(50.0)]);
    }

    #[test]
    fn without_a_lead_the_drums_are_what_stays() {
        let balance = propose(vec![
            standing(Some(Role::Pad), 0.0, Some(-20.0)),
            standing(Some(Role::Snare), 0.0, Some(-20.0)),
            standing(Some(Role::Kick), 0.0, Some(-20.0)),
        ]);
        assert_eq!(balance.reference, Some(2));
        assert_eq!(
            verdicts(&balance),
            [Verdict::Move(-8.0), Verdict::Fits, Verdict::Reference]
        );
        assert_eq!(propose(vec![standing(None, 0.0, Some(-20.0))]).reference, None);
    }

    proptest! {
        #[test]
        fn what_is_balanced_stands_within_a_step_and_stays(
            parts in prop::collection::vec((0..TABLE.len(), -12.0f64..12.0, -30.0f64..-10.0), 1..9)
        ) {
            let standings = |gains: &[f64]| -> Vec<Standing> {
                let parts = parts.iter().zip(gains);
                parts.map(|((role, _, plain), gain)| {
                    let role = Role::named(TABLE[*role].name);
                    standing(role, *gain, Some(plain + gain))
                }).collect()
            };
            let before: Vec<f64> = parts.iter().map(|(_, gain, _)| *gain).collect();
            let proposed = propose(standings(&before));
            let after: Vec<f64> = proposed.parts.iter().map(|part| match part.verdict {
                Verdict::Move(gain) => gain,
                _ => part.gain_db,
            }).collect();
            let again = propose(standings(&after));
            prop_assert_eq!(again.reference, proposed.reference);
            for part in &again.parts {
                prop_assert!((part.aim.unwrap() - part.stands.unwrap()).abs() <= NEAR);
                prop_assert!(matches!(part.verdict, Verdict::Fits | Verdict::Reference));
            }
        }
    }
}
