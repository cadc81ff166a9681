//! A finished render as a WAV.

use std::path::Path;

use super::dither::dithered;
use super::write_beside;
use crate::audio::Audio;
use crate::text::Problem;
use crate::wav::{Coding, Tags, Writer};

/// Frames that are packed at a time.
const STRETCH: usize = 65_536;

/// Writes audio to a file, dithered where it is stored as integers. The seed is the dither's.
///
/// # Errors
/// As [`write_beside`]; audio that is too long for a WAV.
pub fn write(path: &Path, audio: &Audio, coding: Coding, tags: &Tags, seed: u64) -> Result<(), Problem> {
    write_beside(path, |out| {
        let channels = audio.channels.len();
        let mut writer = Writer::new(out, channels as u16, audio.rate, coding, audio.frames() as u64, tags)?;
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
            Coding::Int16 | Coding::Int24 => {
                let ints = dithered(&audio.channels, 8 * coding.bytes() as u32, seed);
                ints.chunks(STRETCH * channels)
                    .try_for_each(|ints| writer.integers(ints))?;
            }
        }
        writer.finish().map(|_| ())
    })
}
