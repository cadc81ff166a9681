//! Decoding what is played, at the render's rate.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use rayon::prelude::*;

use super::audio::decode::{Decoded, EmbeddedInfo, Sides, decode};
use super::audio::stand_in::tone;
use super::open::Kit;
use super::recording::Recording;
use super::sustain::Sustain;
use crate::base::stages::all;
use crate::files::{self, State};
use crate::render_cache::{CacheKey, Turn};
use crate::schema::LoopPoint;
use crate::text::{Problem, Problems};

/// A recording that begins later than this, in seconds, is told of when it is played.
const LATE: f64 = 0.02;
/// Of so many late ones the names are told.
const NAMED: usize = 3;

impl Kit {
    /// Decodes some recordings and brings them to a rate, on all cores; nothing is kept from one call to the next.
    ///
    /// Each is asked for with care taken of it (true) or as its file has it, or both ways. Gives one entry for each
    /// recording of the kit, `None` for those that were not asked for.
    ///
    /// # Errors
    /// When a file can't be read: the one with the lowest number of those that can't, named.
    ///
    /// # Panics
    /// When the kit has no such recording.
    pub fn load(&self, takes: &[(usize, bool)], rate: u32) -> Result<Vec<Option<Arc<Recording>>>, Problem> {
        self.load_by(takes, |take, ways| self.decoded(take, ways, rate).map(Arc::new))
    }

    /// The same in a turn at a render cache, under the names that [`Kit::names`] gives for the same takes.
    ///
    /// # Errors
    /// As [`Kit::load`].
    ///
    /// # Panics
    /// As [`Kit::load`]; when a take has no name.
    pub fn load_from(
        &self,
        turn: &Turn,
        names: &[Option<CacheKey>],
        takes: &[(usize, bool)],
        rate: u32,
    ) -> Result<Vec<Option<Arc<Recording>>>, Problem> {
        let tally = turn.tally();
        let loaded = self.load_by(takes, |take, ways| {
            let name = names[take].expect("every take that is asked for has a name");
            let kept = turn.find(name).and_then(|kept| kept.get());
            kept.map_or_else(
                || {
                    tally.add("recordings", 1);
                    self.decoded(take, ways, rate).map(Arc::new)
                },
                Ok,
            )
        })?;
        // In the kit's order: which of them find room must not hang on which was decoded first.
        for (name, recording) in names.iter().zip(&loaded) {
            if let (Some(name), Some(recording)) = (name, recording) {
                turn.put(*name, recording, recording.bytes());
            }
        }
        Ok(loaded)
    }

    fn load_by(
        &self,
        takes: &[(usize, bool)],
        get: impl Fn(usize, Ways) -> Result<Arc<Recording>, Problem> + Sync,
    ) -> Result<Vec<Option<Arc<Recording>>>, Problem> {
        let wanted: Vec<(usize, Ways)> = wanted(takes).into_iter().collect();
        let decoded = all("recording", wanted.par_iter(), |(take, ways)| {
            (*take, get(*take, *ways))
        });
        let mut loaded = vec![None; self.takes()];
        for (take, recording) in decoded {
            loaded[take] = Some(recording?);
        }
        Ok(loaded)
    }

    fn decoded(&self, take: usize, ways: Ways, rate: u32) -> Result<Recording, Problem> {
        match self.stand_in_key(take) {
            Some(key) => Ok(Recording::plain(tone(key, rate))),
            None => Ok(ways.load(self.decode(take)?, rate)),
        }
    }

    /// Looks whether [`Kit::load`] would load some recordings, and decodes only what headers leave open. Gives what they tell by
    /// the recordings' numbers; nothing of the stand-in's.
    ///
    /// # Errors
    /// Every file that can't be read, named, in the order of their numbers.
    ///
    /// # Panics
    /// As [`Kit::load`].
    pub fn check(&self, takes: &[(usize, bool)]) -> Result<BTreeMap<usize, EmbeddedInfo>, Problems> {
        let files: Vec<usize> = wanted(takes)
            .into_keys()
            .filter(|take| self.stand_in_key(*take).is_none())
            .collect();
        let look = |take: &usize| (*take, self.look(*take));
        let mut told = BTreeMap::new();
        let mut problems = Vec::new();
        for (take, looked) in files.par_iter().map(look).collect::<Vec<_>>() {
            match looked {
                Ok(tells) => _ = told.insert(take, tells),
                Err(problem) => problems.push(problem),
            }
        }
        match problems.is_empty() {
            true => Ok(told),
            false => Err(Problems(problems)),
        }
    }

    /// What stands in a render cache for some recordings at a rate: for each of the kit, none for those that were not asked for.
    /// A file that was written to since is another recording.
    ///
    /// # Panics
    /// When the kit has no such recording.
    pub fn names(&self, takes: &[(usize, bool)], rate: u32) -> Vec<Option<CacheKey>> {
        let mut names = vec![None; self.takes()];
        for (take, ways) in wanted(takes) {
            let stand_in = self.stand_in_key(take);
            let sustain = self.files.get(take).and_then(|file| file.sustain.as_ref());
            let origin = Origin::of(stand_in, self.sides(take), ways, rate);
            names[take] = Some(CacheKey::of(&Origin {
                sustain: sustain.map(Sustain::said),
                ..origin
            }));
        }
        names
    }

    /// What is odd about recordings that were loaded, though they can be played.
    pub fn oddities(&self, loaded: &[Option<Arc<Recording>>]) -> Vec<Problem> {
        let there = || {
            loaded
                .iter()
                .enumerate()
                .filter_map(|(take, found)| Some((take, found.as_ref()?)))
        };
        let cut = |(take, recording): (usize, &Arc<Recording>)| {
            let missing = recording.missing;
            let file = self.file(take).display();
            (missing > 0).then(|| {
                let what = format!("`{file}` is cut short: {missing} frames that its header promises are missing");
                Problem::new(what).help("it is played as far as it goes; copy it again from where it came")
            })
        };
        let late: Vec<(&Path, f64)> = there()
            .filter(|(_, recording)| recording.care.late > LATE)
            .map(|(take, recording)| (self.file(take), recording.care.late))
            .collect();
        there().filter_map(cut).chain(told_late(&late)).collect()
    }
}

/// The ways in which each recording is asked for.
fn wanted(takes: &[(usize, bool)]) -> BTreeMap<usize, Ways> {
    let mut wanted: BTreeMap<usize, Ways> = BTreeMap::new();
    for (take, trim) in takes {
        let ways = wanted.entry(*take).or_default();
        *(if *trim {
            &mut ways.taken_care_of
        } else {
            &mut ways.plain
        }) = true;
    }
    wanted
}

/// What stands in a render cache for a file as it is now, brought to a rate.
pub(crate) fn file_name(file: &Path, rate: u32) -> CacheKey {
    CacheKey::of(&Origin::of(None, file.into(), Ways::default(), rate))
}

/// Where a recording comes from, as far as it tells recordings apart.
#[derive(Debug, PartialEq)]
struct Origin {
    stand_in: Option<usize>,
    sides: Sides,
    states: Vec<Option<State>>,
    sustain: Option<(LoopPoint, LoopPoint, f64)>,
    ways: Ways,
    rate: u32,
}

impl Origin {
    fn of(stand_in: Option<usize>, sides: Sides, ways: Ways, rate: u32) -> Origin {
        Origin {
            stand_in,
            states: sides.files().map(files::state).collect(),
            sides,
            sustain: None,
            ways,
            rate,
        }
    }
}

/// The ways in which a recording is asked for.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct Ways {
    taken_care_of: bool,
    plain: bool,
}

impl Ways {
    fn load(&self, decoded: Decoded, rate: u32) -> Recording {
        let plain = (self.plain && self.taken_care_of).then(|| decoded.clone());
        let mut recording = Recording::of(decoded, rate, self.taken_care_of);
        let differs = !recording.care.is_none();
        recording.plain = plain
            .filter(|_| differs)
            .map(|decoded| Arc::new(Recording::of(decoded, rate, false)));
        recording
    }
}

/// One line on those that began late.
fn told_late(late: &[(&Path, f64)]) -> Option<Problem> {
    let by = |(path, seconds): &(&Path, f64)| format!("`{}` by {:.0} ms", path.display(), seconds * 1000.0);
    let what = match late {
        [] => return None,
        [(path, seconds)] => format!(
            "`{}` begins {:.0} ms late and was brought forward",
            path.display(),
            seconds * 1000.0
        ),
        many => {
            let named: Vec<String> = many.iter().take(NAMED).map(by).collect();
            let rest = if many.len() > NAMED { " …" } else { "" };
            format!(
                "{} recordings begin late and were brought forward: {}{rest}",
                many.len(),
                named.join(", ")
            )
        }
    };
    Some(Problem::new(what).help("hits land on the sound; `trim = false` plays a piece as its file is"))
}

/// Decodes one file and brings it to a rate, with care taken of it.
///
/// # Errors
/// When it can't be read; the problem names the file.
pub fn load_file(path: &Path, rate: u32) -> Result<Recording, Problem> {
    let decoded = decode(path).map_err(|unread| unread.problem(path))?;
    Ok(Recording::of(decoded, rate, true))
}
