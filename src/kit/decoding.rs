//! Decoding recordings with what `kit.toml` says of their loops, and finding loops for those that have none.

use rayon::prelude::*;

use super::audio::decode::{Decoded, EmbeddedInfo, loop_within};
use super::audio::sustain::find_loop;
use super::open::Kit;
use super::sustain::Sustain;
use crate::schema::LoopPoint;
use crate::text::Problem;

impl Kit {
    /// Decodes a recording, with the loop points that `kit.toml` gives it in the place of its file's.
    ///
    /// # Errors
    /// When it can't be read; when the loop points do not lie in it.
    ///
    /// # Panics
    /// When the kit has no such recording, or it is of the stand-in.
    pub(super) fn decode(&self, take: usize) -> Result<Decoded, Problem> {
        let file = &self.files[take];
        let decoded = file.sides.decode()?;
        let Some(sustain) = &file.sustain else {
            return Ok(decoded);
        };
        let (start, end, fade) = sustain.frames(decoded.audio.frames() as u64, decoded.audio.rate)?;
        Ok(Decoded {
            loops: vec![(start, end)],
            crossfade: fade as usize,
            ..decoded
        })
    }

    /// True for a recording to which `kit.toml` gives loop points.
    pub fn says_loop(&self, take: usize) -> bool {
        self.files.get(take).is_some_and(|file| file.sustain.is_some())
    }

    /// Finds loop points in recordings that have none, each given by its number and the MIDI key at which it is heard, and gives those
    /// for which some were found. A file that can't be read has none.
    ///
    /// # Panics
    /// As [`Kit::decode`].
    pub fn find_loops(&mut self, takes: &[(usize, f64)]) -> Vec<usize> {
        let find = |(take, key): &(usize, f64)| {
            let decoded = self.decode(*take).ok()?;
            let held = loop_within(&decoded.loops, decoded.audio.frames() as u64).is_some();
            let found = find_loop(&decoded.audio, *key).filter(|_| !held)?;
            Some((*take, found))
        };
        let found: Vec<_> = takes.par_iter().filter_map(find).collect();
        for (take, found) in &found {
            self.files[*take].sustain = Some(Sustain {
                start: LoopPoint::Frame(found.start as u64),
                end: LoopPoint::Frame(found.end as u64),
                crossfade: f64::from(found.crossfade_ms),
                place: None,
            });
        }
        found.into_iter().map(|(take, _)| take).collect()
    }

    /// Looks whether [`Kit::decode`] would decode a recording.
    ///
    /// # Errors
    /// As [`Kit::decode`], always both or neither.
    ///
    /// # Panics
    /// As [`Kit::decode`].
    pub(super) fn look(&self, take: usize) -> Result<EmbeddedInfo, Problem> {
        let file = &self.files[take];
        let told = file.sides.check()?;
        let Some(sustain) = &file.sustain else { return Ok(told) };
        let frames = libm::round(told.seconds * f64::from(told.rate)) as u64;
        sustain.frames(frames, told.rate)?;
        Ok(EmbeddedInfo { held: true, ..told })
    }
}
