//! Writing: a header, the chunks that say more about the sound, then packed samples.

use std::io::{self, Write};

/// How samples are stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Coding {
    /// 16-bit integers.
    Int16,
    /// 24-bit integers.
    Int24,
    /// 32-bit floats.
    Float32,
}

impl Coding {
    /// Bytes a sample.
    pub fn bytes(self) -> usize {
        match self {
            Coding::Int16 => 2,
            Coding::Int24 => 3,
            Coding::Float32 => 4,
        }
    }
}

/// What a WAV says of itself beside its samples.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Tags {
    /// Loop points for a `smpl` chunk: the first and the last frame of the part that repeats.
    pub round: Option<(u32, u32)>,
    /// Entries of a `LIST INFO` chunk: a four-letter code and its text, for instance `INAM`, the title.
    pub info: Vec<([u8; 4], String)>,
    /// Named places for a `cue ` chunk and its labels: a frame and its name.
    pub cues: Vec<(u32, String)>,
}

/// Writes a WAV of known length from front to back; nothing needs to seek.
///
/// It is the caller's duty to write as many frames as it announced; [`Writer::finish`] refuses otherwise.
pub struct Writer<W: Write> {
    out: W,
    coding: Coding,
    left: u64,
    data_bytes: u64,
    packed: Vec<u8>,
}

impl<W: Write> Writer<W> {
    /// Writes the header and all chunks before the samples.
    ///
    /// # Errors
    /// When the sink fails, or the file would be longer than a WAV can be (4 GiB).
    pub fn new(mut out: W, channels: u16, rate: u32, coding: Coding, frames: u64, tags: &Tags) -> io::Result<Self> {
        let data_bytes = frames * u64::from(channels) * coding.bytes() as u64;
        let mut head = Vec::new();
        chunk(&mut head, b"fmt ", &format(channels, rate, coding));
        if coding == Coding::Float32 {
            chunk(&mut head, b"fact", &(frames as u32).to_le_bytes());
        }
        if let Some((first, last)) = tags.round {
            chunk(&mut head, b"smpl", &sampler(rate, first, last));
        }
        if !tags.info.is_empty() {
            chunk(&mut head, b"LIST", &info(&tags.info));
        }
        if !tags.cues.is_empty() {
            chunk(&mut head, b"cue ", &cue_points(&tags.cues));
            chunk(&mut head, b"LIST", &cue_labels(&tags.cues));
        }
        let riff = 4 + head.len() as u64 + 8 + data_bytes + data_bytes % 2;
        let too_long = || io::Error::new(io::ErrorKind::FileTooLarge, "a WAV holds 4 GiB at the most");
        let riff = u32::try_from(riff).map_err(|_| too_long())?;
        out.write_all(b"RIFF")?;
        out.write_all(&riff.to_le_bytes())?;
        out.write_all(b"WAVE")?;
        out.write_all(&head)?;
        out.write_all(b"data")?;
        out.write_all(&(data_bytes as u32).to_le_bytes())?;
        Ok(Writer {
            out,
            coding,
            left: frames * u64::from(channels),
            data_bytes,
            packed: Vec::new(),
        })
    }

    /// Writes interleaved integers, already within the coding's range; bits above it are lost.
    ///
    /// # Errors
    /// When the sink fails.
    ///
    /// # Panics
    /// On a writer of floats.
    pub fn integers(&mut self, samples: &[i32]) -> io::Result<()> {
        self.packed.clear();
        match self.coding {
            Coding::Int16 => self
                .packed
                .extend(samples.iter().flat_map(|s| (*s as i16).to_le_bytes())),
            Coding::Int24 => {
                for sample in samples {
                    let [a, b, c, _] = sample.to_le_bytes();
                    self.packed.extend_from_slice(&[a, b, c]);
                }
            }
            Coding::Float32 => panic!("integers for a file of floats"),
        }
        self.put(samples.len())
    }

    /// Writes interleaved floats.
    ///
    /// # Errors
    /// When the sink fails.
    ///
    /// # Panics
    /// On a writer of integers.
    pub fn floats(&mut self, samples: &[f32]) -> io::Result<()> {
        assert_eq!(self.coding, Coding::Float32, "floats for a file of integers");
        self.packed.clear();
        self.packed.extend(samples.iter().flat_map(|s| s.to_le_bytes()));
        self.put(samples.len())
    }

    /// Writes interleaved samples that are packed already: little-endian, as wide as the coding.
    ///
    /// # Errors
    /// When the sink fails.
    pub fn packed(&mut self, samples: &[u8]) -> io::Result<()> {
        self.packed.clear();
        self.count(samples.len() / self.coding.bytes())?;
        self.out.write_all(samples)
    }

    fn put(&mut self, samples: usize) -> io::Result<()> {
        self.count(samples)?;
        self.out.write_all(&self.packed)
    }

    fn count(&mut self, samples: usize) -> io::Result<()> {
        self.left = self
            .left
            .checked_sub(samples as u64)
            .ok_or_else(|| io::Error::other("more frames than announced"))?;
        Ok(())
    }

    /// Ends the file and gives the sink back.
    ///
    /// # Errors
    /// When the sink fails, or frames are missing.
    pub fn finish(mut self) -> io::Result<W> {
        if self.left != 0 {
            return Err(io::Error::other("fewer frames than announced"));
        }
        if self.data_bytes % 2 == 1 {
            self.out.write_all(&[0])?;
        }
        self.out.flush()?;
        Ok(self.out)
    }
}

/// One chunk: name, length, body, and a pad byte after an odd body.
fn chunk(out: &mut Vec<u8>, name: &[u8; 4], body: &[u8]) {
    out.extend_from_slice(name);
    out.extend_from_slice(&(body.len() as u32).to_le_bytes());
    out.extend_from_slice(body);
    if body.len() % 2 == 1 {
        out.push(0);
    }
}

fn format(channels: u16, rate: u32, coding: Coding) -> Vec<u8> {
    let frame = channels * coding.bytes() as u16;
    let tag: u16 = if coding == Coding::Float32 { 3 } else { 1 };
    let mut body = Vec::new();
    body.extend_from_slice(&tag.to_le_bytes());
    body.extend_from_slice(&channels.to_le_bytes());
    body.extend_from_slice(&rate.to_le_bytes());
    body.extend_from_slice(&(rate * u32::from(frame)).to_le_bytes());
    body.extend_from_slice(&frame.to_le_bytes());
    body.extend_from_slice(&(8 * coding.bytes() as u16).to_le_bytes());
    if coding == Coding::Float32 {
        // The update of 1994 asks for the size of the extension, even of none, in all but integer PCM.
        body.extend_from_slice(&0u16.to_le_bytes());
    }
    body
}

/// A `smpl` chunk with one forward loop that repeats for ever.
fn sampler(rate: u32, first: u32, last: u32) -> Vec<u8> {
    let period = 1_000_000_000 / rate;
    let fields = [0, 0, period, 60, 0, 0, 0, 1, 0, 0, 0, first, last, 0, 0];
    fields.iter().flat_map(|field: &u32| field.to_le_bytes()).collect()
}

fn info(entries: &[([u8; 4], String)]) -> Vec<u8> {
    let mut body = b"INFO".to_vec();
    for (code, text) in entries {
        chunk(&mut body, code, &zero_ended(text));
    }
    body
}

fn cue_points(cues: &[(u32, String)]) -> Vec<u8> {
    let mut body = (cues.len() as u32).to_le_bytes().to_vec();
    for (number, (frame, _)) in (1u32..).zip(cues) {
        for field in [number, *frame, u32::from_le_bytes(*b"data"), 0, 0, *frame] {
            body.extend_from_slice(&field.to_le_bytes());
        }
    }
    body
}

fn cue_labels(cues: &[(u32, String)]) -> Vec<u8> {
    let mut body = b"adtl".to_vec();
    for (number, (_, name)) in (1u32..).zip(cues) {
        let mut label = number.to_le_bytes().to_vec();
        label.extend_from_slice(&zero_ended(name));
        chunk(&mut body, b"labl", &label);
    }
    body
}

fn zero_ended(text: &str) -> Vec<u8> {
    let mut bytes: Vec<u8> = text.bytes().filter(|byte| *byte != 0).collect();
    bytes.push(0);
    bytes
}
