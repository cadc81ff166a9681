//! A finished render as a WAV.

use std::io::{self, Write};
use std::path::Path;

use rayon::prelude::*;

use super::dither::{self, pack_stretch};
use super::{mark, write_beside, write_preview};
use crate::base::audio::Audio;
use crate::base::stages::{each, join};
use crate::text::Problem;
use crate::wav::{Coding, Tags, Writer};

/// Frames that are packed at a time.
const STRETCH: usize = dither::STRETCH;
/// Stretches that are packed on all cores while those before them are written.
const AT_ONCE: usize = 8;

/// Writes audio to a file, dithered where it is stored as integers. The seed is the dither's.
///
/// # Errors
/// As `write_beside`; audio that is too long for a WAV.
pub fn write(path: &Path, audio: &Audio, coding: Coding, tags: &Tags, seed: u64) -> Result<(), Problem> {
    write_beside(path, |out| put(out, audio, coding, tags, seed))
}

/// The same for a preview, as [`write_preview`] writes them.
///
/// # Errors
/// As [`write`].
pub(crate) fn preview(path: &Path, audio: &Audio, coding: Coding, tags: &Tags, seed: u64) -> Result<(), Problem> {
    write_preview(path, |out| put(out, audio, coding, tags, seed))
}

fn put(out: impl Write + Send, audio: &Audio, coding: Coding, tags: &Tags, seed: u64) -> io::Result<()> {
    let channels = audio.channels.len();
    let tags = marked(tags.clone());
    let mut writer = Writer::new(out, channels as u16, audio.rate, coding, audio.frames() as u64, &tags)?;
    match coding {
        Coding::Float32 => {
            let mut woven = Vec::new();
            for from in (0..audio.frames()).step_by(STRETCH) {
                woven.clear();
                let to = audio.frames().min(from + STRETCH);
                woven.extend((from..to).flat_map(|frame| audio.channels.iter().map(move |channel| channel[frame])));
                writer.floats(&woven)?;
            }
        }
        Coding::Int16 | Coding::Int24 => write_integers(&mut writer, audio, 8 * coding.bytes() as u32, seed)?,
    }
    writer.finish().map(|_| ())
}

/// Tags that also tell what wrote the file; first, as nothing of any length stands before it then.
pub(super) fn marked(mut tags: Tags) -> Tags {
    tags.info.insert(0, (*b"ISFT", mark::MADE_BY.to_string()));
    tags
}

/// Dithers, packs and writes: while some stretches go out, the next are made.
fn write_integers(writer: &mut Writer<impl Write + Send>, audio: &Audio, bits: u32, seed: u64) -> io::Result<()> {
    let pack = |first: usize, packed: &mut [Vec<u8>]| {
        let numbered = packed.par_iter_mut().enumerate();
        each("dither", numbered, |(n, packed)| {
            pack_stretch(&audio.channels, bits, seed, first + n, packed)
        });
    };
    let stretches = audio.frames().div_ceil(STRETCH);
    let (mut now, mut next) = (vec![Vec::new(); AT_ONCE], vec![Vec::new(); AT_ONCE]);
    pack(0, &mut now);
    for first in (0..stretches).step_by(AT_ONCE) {
        let (written, ()) = join(
            ("write", || now.iter().try_for_each(|packed| writer.packed(packed))),
            ("dither", || pack(first + AT_ONCE, &mut next)),
        );
        written?;
        std::mem::swap(&mut now, &mut next);
    }
    Ok(())
}
