//! Audio that is put aside, in temporary files where there is too much of it to be held.

use std::borrow::Cow;
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::sync::atomic::{AtomicUsize, Ordering};

use crate::base::audio::Audio;
use crate::files::plainly;
use crate::text::Problem;

/// Bytes that are read or written at a time.
const STRETCH: usize = 1 << 18;

/// The bytes that all together hold in memory, at the most, before they go into files.
const HELD: usize = 256 << 20;

/// Audio that is put aside: in memory while there is room for it, else in a temporary file that goes with the value.
pub(crate) struct Spill {
    place: Place,
    channels: usize,
    frames: usize,
    rate: u32,
    /// What it is multiplied by when it is read from a file.
    gain: f32,
}

enum Place {
    Memory(Audio),
    File(File),
}

impl Spill {
    /// Puts audio aside, bit for bit. `held` counts the bytes that are held in memory.
    ///
    /// # Errors
    /// When the system has no room for temporary files.
    pub(crate) fn put(audio: Audio, held: &AtomicUsize) -> Result<Spill, Problem> {
        let (channels, frames, rate) = (audio.channels.len(), audio.frames(), audio.rate);
        let bytes = audio.bytes();
        let more = |now: usize| now.checked_add(bytes).filter(|all| *all <= HELD);
        let place = match held.fetch_update(Ordering::Relaxed, Ordering::Relaxed, more) {
            Ok(_) => Place::Memory(audio),
            Err(_) => Place::File(write(&audio).map_err(failed)?),
        };
        Ok(Spill {
            place,
            channels,
            frames,
            rate,
            gain: 1.0,
        })
    }

    /// Makes it louder or quieter by a factor.
    pub(crate) fn scale(&mut self, gain: f32) {
        match &mut self.place {
            Place::Memory(audio) => audio.channels.iter_mut().flatten().for_each(|sample| *sample *= gain),
            Place::File(_) => self.gain *= gain,
        }
    }

    /// Takes it up again.
    ///
    /// # Errors
    /// When the file can't be read.
    pub(crate) fn take_up(&self) -> Result<Cow<'_, Audio>, Problem> {
        let mut file = match &self.place {
            Place::Memory(audio) => return Ok(Cow::Borrowed(audio)),
            Place::File(file) => file,
        };
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
                .for_each(|(sample, four)| *sample = self.gain * f32::from_le_bytes(*four));
        }
        Ok(Cow::Owned(audio))
    }

    /// Its length in frames.
    pub(crate) fn frames(&self) -> usize {
        self.frames
    }

    /// Bytes of its samples.
    pub(crate) fn bytes(&self) -> usize {
        self.channels * self.frames * size_of::<f32>()
    }

    /// Frames per second.
    pub(crate) fn rate(&self) -> u32 {
        self.rate
    }
}

/// Writes audio to a temporary file.
fn write(audio: &Audio) -> io::Result<File> {
    let file = tempfile::tempfile()?;
    let mut out = &file;
    let mut bytes = Vec::with_capacity(STRETCH);
    for samples in audio.channels.iter().flat_map(|side| side.chunks(STRETCH / 4)) {
        bytes.clear();
        bytes.extend(samples.iter().flat_map(|sample| sample.to_le_bytes()));
        out.write_all(&bytes)?;
    }
    Ok(file)
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
        let (room, none) = (AtomicUsize::new(0), AtomicUsize::new(HELD - 1));
        for held in [&room, &none] {
            let mut aside = Spill::put(audio.clone(), held).unwrap();
            assert_eq!(*aside.take_up().unwrap(), audio);
            assert_eq!(*aside.take_up().unwrap(), audio, "as often as it is asked for");
            assert_eq!((aside.frames(), aside.rate()), (3, 44_100));
            aside.scale(0.5);
            assert_eq!(aside.take_up().unwrap().channels[1], [0.75, -1.0, 0.15]);
        }
        assert_eq!(room.into_inner(), audio.bytes());
        assert_eq!(none.into_inner(), HELD - 1, "what is in a file holds nothing");
    }
}
