//! Audio that is put aside in a temporary file, for as long as there is too much of it to be held.

use std::fs::File;
use std::io::{self, BufReader, BufWriter, Read, Seek, SeekFrom, Write};

use crate::audio::Audio;
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
        let mut out = BufWriter::with_capacity(STRETCH, &file);
        for sample in audio.channels.iter().flatten() {
            out.write_all(&sample.to_le_bytes()).map_err(failed)?;
        }
        out.flush().map_err(failed)?;
        drop(out);
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
        let mut bytes = BufReader::with_capacity(STRETCH, file);
        let mut audio = Audio::silence(self.channels, self.frames, self.rate);
        for sample in audio.channels.iter_mut().flatten() {
            let mut four = [0; 4];
            bytes.read_exact(&mut four).map_err(failed)?;
            *sample = f32::from_le_bytes(four);
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
    Problem::new(format!("a temporary file can't be used: {error}")).help("make room where the system keeps those")
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
