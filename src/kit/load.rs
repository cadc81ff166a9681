//! Decoding what is played, at the render's rate.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::SystemTime;

use rayon::prelude::*;

use super::open::Kit;
use super::recording::{Held, Recording};
use super::resample::resample;
use super::stand_in::tone;
use crate::keep::{Keep, Name};
use crate::text::Problem;
use crate::wav;

impl Kit {
    /// Decodes some recordings and brings them to a rate, on all cores; nothing is kept from one call to the next.
    ///
    /// Gives one entry for each recording of the kit, `None` for those that were not asked for.
    ///
    /// # Errors
    /// When a file can't be read: the one with the lowest number of those that can't, named.
    ///
    /// # Panics
    /// When the kit has no such recording.
    pub fn load(&self, takes: &[usize], rate: u32) -> Result<Vec<Option<Arc<Recording>>>, Problem> {
        self.load_by(takes, |take| self.decoded(take, rate).map(Arc::new))
    }

    /// The same by way of a keep, under the names that [`Kit::names`] gives.
    ///
    /// # Errors
    /// As [`Kit::load`].
    ///
    /// # Panics
    /// As [`Kit::load`]; when a take has no name.
    pub fn load_from(
        &self,
        keep: &Keep,
        names: &[Option<Name>],
        takes: &[usize],
        rate: u32,
    ) -> Result<Vec<Option<Arc<Recording>>>, Problem> {
        self.load_by(takes, |take| {
            let name = names[take].expect("every take that is asked for has a name");
            keep.find_or(name, Recording::bytes, || self.decoded(take, rate))
        })
    }

    fn load_by(
        &self,
        takes: &[usize],
        get: impl Fn(usize) -> Result<Arc<Recording>, Problem> + Sync,
    ) -> Result<Vec<Option<Arc<Recording>>>, Problem> {
        let mut wanted = takes.to_vec();
        wanted.sort_unstable();
        wanted.dedup();
        let decoded: Vec<_> = wanted.par_iter().map(|take| (*take, get(*take))).collect();
        let mut loaded = vec![None; self.takes()];
        for (take, recording) in decoded {
            loaded[take] = Some(recording?);
        }
        Ok(loaded)
    }

    fn decoded(&self, take: usize, rate: u32) -> Result<Recording, Problem> {
        match self.stand_in_key(take) {
            Some(key) => Ok(Recording::plain(tone(key, rate))),
            None => load_file(self.file(take), rate),
        }
    }

    /// What stands in a keep for some recordings at a rate: for each of the kit, none for those that were not asked for.
    /// A file that was written to since is another recording.
    ///
    /// # Panics
    /// When the kit has no such recording.
    pub fn names(&self, keep: &Keep, takes: &[usize], rate: u32) -> Vec<Option<Name>> {
        let mut names = vec![None; self.takes()];
        for take in takes {
            names[*take].get_or_insert_with(|| {
                keep.name(Origin {
                    stand_in: self.stand_in_key(*take),
                    file: self.file(*take).to_path_buf(),
                    state: state(self.file(*take)),
                    rate,
                })
            });
        }
        names
    }
}

/// What stands in a keep for a file as it is now, brought to a rate.
pub fn file_name(keep: &Keep, file: &Path, rate: u32) -> Name {
    keep.name(Origin {
        stand_in: None,
        file: file.to_path_buf(),
        state: state(file),
        rate,
    })
}

/// Where a recording comes from, as far as it tells recordings apart.
#[derive(PartialEq)]
struct Origin {
    stand_in: Option<usize>,
    file: PathBuf,
    state: Option<(u64, SystemTime)>,
    rate: u32,
}

/// A file's length and when it was last written to.
fn state(file: &Path) -> Option<(u64, SystemTime)> {
    let about = file.metadata().ok()?;
    Some((about.len(), about.modified().ok()?))
}

impl Kit {
    /// What is odd about recordings that were loaded, though they can be played.
    pub fn oddities(&self, loaded: &[Option<Arc<Recording>>]) -> Vec<Problem> {
        let cut = |(take, recording): (usize, &Option<Arc<Recording>>)| {
            let missing = recording.as_ref()?.missing;
            let file = self.file(take).display();
            (missing > 0).then(|| {
                let what = format!("`{file}` is cut short: {missing} frames that its header promises are missing");
                Problem::new(what).help("it is played as far as it goes; copy it again from where it came")
            })
        };
        loaded.iter().enumerate().filter_map(cut).collect()
    }
}

/// Decodes one file and brings it to a rate.
///
/// Its onset is its first frame: silence before the sound is played as it is.
///
/// # Errors
/// When it can't be read; the problem names the file.
pub fn load_file(path: &Path, rate: u32) -> Result<Recording, Problem> {
    let decoded = wav::read(path).map_err(|error| Problem::new(format!("`{}`: {error}", path.display())))?;
    let held = held(&decoded);
    let missing = decoded.head.missing;
    let audio = if decoded.audio.rate == rate {
        decoded.audio
    } else {
        resample(&decoded.audio, rate)
    };
    Ok(Recording {
        held,
        missing,
        ..Recording::plain(audio)
    })
}

/// What goes round while a note is held: the first loop of the `smpl` chunk that lies within the sound.
fn held(decoded: &wav::Decoded) -> Option<Held> {
    let frames = decoded.audio.frames();
    let within = |(first, last): &(u32, u32)| first < last && (*last as usize) < frames;
    let (first, last) = *decoded.head.sampler.as_ref()?.loops.iter().find(|ends| within(ends))?;
    Some(Held {
        audio: Arc::new(decoded.audio.clone()),
        from: first as usize,
        to: last as usize + 1,
    })
}
