//! Versions one after another in one WAV, a cue at the beginning of each.

use std::path::Path;

use super::dither::dithered;
use super::write_beside;
use crate::audio::Audio;
use crate::text::Problem;
use crate::wav::{Coding, Tags, Writer};

/// Seconds before a version's end in which the next takes over, where both go round: there the next one's own end leads into its
/// beginning, so no ring is cut.
const OVER: f64 = 0.005;

/// A version in turn.
pub struct Turn {
    /// What its cue is called.
    pub name: String,
    /// Its length.
    pub frames: usize,
}

/// Writes versions of one rate and as many channels; `read` gives each by its number, `rounds` says that they go round without a seam.
///
/// # Errors
/// As [`write_beside`]; more than a WAV holds; whatever `read` finds wrong.
pub fn write(
    path: &Path,
    turns: &[Turn],
    coding: Coding,
    mut tags: Tags,
    seed: u64,
    rounds: bool,
    read: impl Fn(usize) -> Result<Audio, Problem>,
) -> Result<(), Problem> {
    let mut begins = 0u64;
    for turn in turns {
        tags.cues.push((begins as u32, turn.name.clone()));
        begins += turn.frames as u64;
    }
    let Some(last) = turns.len().checked_sub(1) else {
        return Ok(());
    };
    let mut now = read(0)?;
    let (channels, rate) = (now.channels.len() as u16, now.rate);
    // What goes wrong in reading is kept for behind the writing, which knows errors of its own.
    let mut unread = None;
    let written = write_beside(path, |out| {
        let mut writer = Writer::new(out, channels, rate, coding, begins, &tags)?;
        for number in 0..=last {
            let next = match read((number + 1).min(last)) {
                Ok(next) => next,
                Err(problem) => {
                    unread = Some(problem);
                    return Err(std::io::Error::other("a version is gone"));
                }
            };
            if rounds && number < last {
                lead_over(&mut now, &next);
            }
            match coding {
                Coding::Float32 => {
                    let frames = (0..now.frames()).flat_map(|frame| now.channels.iter().map(move |side| side[frame]));
                    writer.floats(&frames.collect::<Vec<f32>>())?;
                }
                Coding::Int16 | Coding::Int24 => {
                    let own = seed.wrapping_add(number as u64);
                    writer.integers(&dithered(&now.channels, 8 * coding.bytes() as u32, own))?;
                }
            }
            now = next;
        }
        writer.finish().map(|_| ())
    });
    match unread {
        Some(problem) => Err(problem),
        None => written,
    }
}

/// Fades a version's end over to the next one's end.
fn lead_over(now: &mut Audio, next: &Audio) {
    let fade = ((OVER * f64::from(now.rate)) as usize)
        .min(now.frames())
        .min(next.frames());
    for (side, next) in now.channels.iter_mut().zip(&next.channels) {
        let (begin, from) = (side.len() - fade, next.len() - fade);
        for n in 0..fade {
            let share = (n + 1) as f32 / (fade + 1) as f32;
            side[begin + n] += share * (next[from + n] - side[begin + n]);
        }
    }
}
