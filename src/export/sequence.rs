//! Versions one after another in one WAV, a cue at the beginning of each.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use super::dither::dithered;
use super::wav::marked;
use super::write_beside;
use crate::base::audio::Audio;
use crate::text::Problem;
use crate::wav::{Coding, Tags, Writer};

/// Seconds before a version's end in which the next takes over, where both repeat: there the next one's own end leads into its
/// beginning, so no ring is cut.
const OVER: f64 = 0.005;
/// Bytes that are copied at a time.
const STRETCH: usize = 1 << 18;

/// A version in turn.
pub(crate) struct Turn {
    /// What its cue is called.
    pub name: String,
    /// Its own WAV, of the same coding: what is stored there is stored again.
    pub file: PathBuf,
    /// Its length.
    pub frames: usize,
    /// Its last frames, as [`end_of`] gives them.
    pub end: Audio,
}

/// The end of a version, in which the next one may take over.
pub(crate) fn end_of(audio: &Audio) -> Audio {
    let frames = ((OVER * f64::from(audio.rate)) as usize).min(audio.frames());
    let end = |side: &Vec<f32>| side[side.len() - frames..].to_vec();
    Audio {
        channels: audio.channels.iter().map(end).collect(),
        rate: audio.rate,
    }
}

/// Writes versions of one rate and as many channels; `rounds` says that they repeat without a seam.
///
/// # Errors
/// As [`write_beside`]; more than a WAV holds; a version whose own WAV is gone.
pub(crate) fn write(
    path: &Path,
    turns: &[Turn],
    coding: Coding,
    mut tags: Tags,
    seed: u64,
    rounds: bool,
) -> Result<(), Problem> {
    let mut begins = 0u64;
    for turn in turns {
        tags.cues.push((begins as u32, turn.name.clone()));
        begins += turn.frames as u64;
    }
    let tags = marked(tags);
    let Some(first) = turns.first() else {
        return Ok(());
    };
    let (channels, rate) = (first.end.channels.len() as u16, first.end.rate);
    write_beside(path, |out| {
        let mut writer = Writer::new(out, channels, rate, coding, begins, &tags)?;
        for (number, turn) in turns.iter().enumerate() {
            let next = turns.get(number + 1).filter(|_| rounds);
            let Some(next) = next else {
                copy(turn, turn.frames, coding, &mut writer)?;
                continue;
            };
            let end = led_over(&turn.end, &next.end);
            copy(turn, turn.frames - end.frames(), coding, &mut writer)?;
            match coding {
                Coding::Float32 => {
                    let frames = (0..end.frames()).flat_map(|frame| end.channels.iter().map(move |side| side[frame]));
                    writer.floats(&frames.collect::<Vec<f32>>())?;
                }
                Coding::Int16 | Coding::Int24 => {
                    let own = seed.wrapping_add(1 + number as u64);
                    writer.integers(&dithered(&end.channels, 8 * coding.bytes() as u32, own))?;
                }
            }
        }
        writer.finish().map(|_| ())
    })
}

/// Copies the first frames of a version from its own WAV, whose samples are the last that stands there.
fn copy(turn: &Turn, frames: usize, coding: Coding, writer: &mut Writer<impl Write>) -> io::Result<()> {
    let frame = turn.end.channels.len() * coding.bytes();
    let stored = turn.frames * frame;
    let mut file = File::open(&turn.file)?;
    file.seek(SeekFrom::End(-((stored + stored % 2) as i64)))?;
    let mut bytes = vec![0; STRETCH - STRETCH % frame];
    let mut left = frames * frame;
    while left > 0 {
        let now = left.min(bytes.len());
        file.read_exact(&mut bytes[..now])?;
        writer.packed(&bytes[..now])?;
        left -= now;
    }
    Ok(())
}

/// A version's end, fading over to the next one's.
fn led_over(now: &Audio, next: &Audio) -> Audio {
    let fade = now.frames().min(next.frames());
    let mut end = now.clone();
    for (side, next) in end.channels.iter_mut().zip(&next.channels) {
        let (begin, from) = (side.len() - fade, next.len() - fade);
        for n in 0..fade {
            let share = (n + 1) as f32 / (fade + 1) as f32;
            side[begin + n] += share * (next[from + n] - side[begin + n]);
        }
    }
    end
}
