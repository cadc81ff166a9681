//! Decoding what is played, at the render's rate.

use std::path::Path;
use std::sync::Arc;

use rayon::prelude::*;

use super::open::Kit;
use super::recording::{Held, Recording};
use super::resample::resample;
use super::stand_in::tone;
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
        let mut wanted = takes.to_vec();
        wanted.sort_unstable();
        wanted.dedup();
        let decoded: Vec<_> = wanted
            .par_iter()
            .map(|take| match self.stand_in_key(*take) {
                Some(key) => (*take, Ok(Recording::plain(tone(key, rate)))),
                None => (*take, load_file(self.file(*take), rate)),
            })
            .collect();
        let mut loaded = vec![None; self.takes()];
        for (take, recording) in decoded {
            loaded[take] = Some(Arc::new(recording?));
        }
        Ok(loaded)
    }
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
