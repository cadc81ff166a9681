//! Audio that is put aside in a temporary file, for as long as there is too much of it to be held.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom, Write};

use crate::audio::Audio;
use crate::files::plainly;
use crate::text::Problem;

/// Bytes that are read or written at a time.
const STRETCH: usize = 1 << 18;

/// Audio in a temporary file that goes with the value.
pub struct Aside {
    file: File,
    channels: usize,
    frames: usize,
    rate: u32,
}

impl Aside {
    /// Puts audio aside, bit for bit.
    ///
    /// # Errors
    /// When the system has no room for temporary files.
    pub fn put(audio: &Audio) -> Result<Aside, Problem> {
        let file = tempfile::tempfile().map_err(failed)?;
        let mut out = &file;
        let mut bytes = Vec::with_capacity(STRETCH);
        for samples in audio.channels.iter().flat_map(|side| side.chunks(STRETCH / 4)) {
            bytes.clear();
            bytes.extend(samples.iter().flat_map(|sample| sample.to_le_bytes()));
            out.write_all(&bytes).map_err(failed)?;
        }
        Ok(Aside {
            file,
            channels: audio.channels.len(),
            frames: audio.frames(),
            rate: audio.rate,
        })
    }

    /// Takes it up again.
    ///
    /// # Errors
    /// When the file can't be read.
    pub fn take_up(&self) -> Result<Audio, Problem> {
        let mut file = &self.file;
        file.seek(SeekFrom::Start(0)).map_err(failed)?;
        let mut audio = Audio::silence(self.channels, self.frames, self.rate);
        let mut bytes = vec![0; STRETCH];
        for samples in audio.channels.iter_mut().flat_map(|side| side.chunks_mut(STRETCH / 4)) {
            let bytes = &mut bytes[..4 * samples.len()];
            file.read_exact(bytes).map_err(failed)?;
            let fours = bytes.as_chunks::<4>().0;
            samples
                .iter_mut()
                .zip(fours)
                .for_each(|(sample, four)| *sample = f32::from_le_bytes(*four));
        }
        Ok(audio)
    }

    /// Its length in frames.
    pub fn frames(&self) -> usize {
        self.frames
    }

    /// Frames a second.
    pub fn rate(&self) -> u32 {
        self.rate
    }
}

fn failed(error: io::Error) -> Problem {
    Problem::new(format!("a temporary file can't be used: {}", plainly(&error)))
        .help("make room where the system keeps those")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_put_aside_comes_back_bit_for_bit() {
        let audio = Audio {
            channels: vec![vec![0.1, -0.0, f32::MIN_POSITIVE], vec![1.5, -2.0, 0.3]],
            rate: 44_100,
        };
        let aside = Aside::put(&audio).unwrap();
        assert_eq!(aside.take_up().unwrap(), audio);
        assert_eq!(aside.take_up().unwrap(), audio, "as often as it is asked for");
        assert_eq!((aside.frames(), aside.rate()), (3, 44_100));
    }
}
