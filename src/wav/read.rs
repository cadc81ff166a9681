//! Reading: the header, then samples as planar floats.

use std::fs::File;
use std::io::{BufReader, Read, Seek, SeekFrom};
use std::path::Path;

use dasp_sample::Sample;

use super::WavError;
use super::about::{self, Cue, Sampler};
use super::format::{Format, Kind, format};
use super::law::{a_law, mu_law};
use super::riff::{self, Chunks, Span};
use crate::base::audio::Audio;
use crate::files::{self, LONGEST, Refused};

/// What a WAV's header says.
#[derive(Debug, Clone, PartialEq)]
pub struct Head {
    /// How its samples are stored.
    pub format: Format,
    /// Frames that the file has, at least 1.
    pub frames: u64,
    /// Frames that its header promises beyond those: the file was cut short.
    pub missing: u64,
    /// Its `smpl` chunk.
    pub sampler: Option<Sampler>,
    /// The entries of its `LIST INFO`, in order: a four-letter code (`INAM` title, `IART` artist, `ICOP` copyright) and its text.
    pub info: Vec<([u8; 4], String)>,
    /// Its cue points.
    pub cues: Vec<Cue>,
}

impl Head {
    /// The text of a `LIST INFO` entry.
    pub fn tag(&self, code: &[u8; 4]) -> Option<&str> {
        self.info
            .iter()
            .find(|(of, _)| of == code)
            .map(|(_, text)| text.as_str())
    }
}

/// A WAV that was read.
#[derive(Debug, Clone, PartialEq)]
pub struct Decoded {
    /// Its samples at its own rate. Integers are divided by their full scale, 2^(bits - 1).
    pub audio: Audio,
    /// Its header.
    pub head: Head,
}

/// Reads a WAV.
///
/// # Errors
/// When it is not a regular file, is longer than 2 GiB, is no WAV, or one of a kind that is not read here; see [`WavError`].
pub fn read(path: impl AsRef<Path>) -> Result<Decoded, WavError> {
    read_from(open(path.as_ref())?)
}

/// Reads a WAV's header and counts its frames without decoding them.
///
/// # Errors
/// As [`read`], but for samples that are no number.
pub fn head(path: impl AsRef<Path>) -> Result<Head, WavError> {
    head_from(open(path.as_ref())?)
}

/// Reads a WAV from a source, as [`read`] does.
///
/// # Errors
/// As [`read`].
pub fn read_from(mut source: impl Read + Seek) -> Result<Decoded, WavError> {
    let (head, data) = survey(&mut source)?;
    let audio = decode(&mut source, &head.format, data)?;
    Ok(Decoded { audio, head })
}

/// Reads a WAV's header from a source, as [`head`] does.
///
/// # Errors
/// As [`head`].
pub fn head_from(mut source: impl Read + Seek) -> Result<Head, WavError> {
    Ok(survey(&mut source)?.0)
}

fn open(path: &Path) -> Result<BufReader<File>, WavError> {
    Ok(BufReader::new(files::open(path, LONGEST)?))
}

/// Reads all but the samples, and finds where whole frames of them lie.
fn survey<R: Read + Seek>(source: &mut R) -> Result<(Head, Span), WavError> {
    let length = source.seek(SeekFrom::End(0))?;
    if length > LONGEST {
        return Err(Refused::TooLong(length, LONGEST).into());
    }
    let chunks = riff::walk(source, length)?;
    let format = match (chunks.format, chunks.data) {
        (Some(span), _) => format(&riff::body(source, span)?)?,
        (None, Some(_)) => return Err(WavError::NoFormat),
        (None, None) => return Err(WavError::CutShort),
    };
    let frames = chunks.data.map_or(0, |data| data.len / format.frame_bytes());
    let Some(data) = chunks.data.filter(|_| frames > 0) else {
        return Err(WavError::NoData);
    };
    let missing = (data.len + chunks.missing) / format.frame_bytes() - frames;
    let head = about_all(
        source,
        &chunks,
        Head {
            format,
            frames,
            missing,
            sampler: None,
            info: vec![],
            cues: vec![],
        },
    )?;
    Ok((
        head,
        Span {
            len: frames * format.frame_bytes(),
            ..data
        },
    ))
}

/// Adds what the chunks beside the samples say.
fn about_all<R: Read + Seek>(source: &mut R, chunks: &Chunks, mut head: Head) -> Result<Head, WavError> {
    if let Some(span) = chunks.sampler {
        head.sampler = about::sampler(&riff::body(source, span)?);
    }
    let mut labels = Vec::new();
    for list in &chunks.lists {
        let body = riff::body(source, *list)?;
        head.info.extend(about::info(&body));
        labels.extend(about::labels(&body));
    }
    if let Some(span) = chunks.cues {
        head.cues = about::cues(&riff::body(source, span)?, &labels);
    }
    Ok(head)
}

/// Frames that are read at a time.
const RUN: u64 = 1 << 16;

/// Reads whole frames of stored samples as planar floats, run by run: a recording may be long, and is held but once.
fn decode<R: Read + Seek>(source: &mut R, format: &Format, data: Span) -> Result<Audio, WavError> {
    let frames = (data.len / format.frame_bytes()) as usize;
    let mut audio = Audio {
        channels: vec![Vec::with_capacity(frames); usize::from(format.channels)],
        rate: format.rate,
    };
    let mut bytes = Vec::new();
    let run = RUN * format.frame_bytes();
    source.seek(SeekFrom::Start(data.start))?;
    for at in (0..data.len).step_by(run as usize) {
        bytes.clear();
        source.by_ref().take(run.min(data.len - at)).read_to_end(&mut bytes)?;
        add(&mut audio.channels, format, &bytes);
    }
    match audio.first_unsound() {
        Some(frame) => Err(WavError::NoNumber(frame)),
        None => Ok(audio),
    }
}

/// Adds whole frames of stored samples to planar floats.
///
/// Valid bits are the upper ones of those that are stored, so all that are stored are read as if they were valid.
fn add(planes: &mut [Vec<f32>], format: &Format, bytes: &[u8]) {
    match (format.kind, format.bytes) {
        (Kind::ALaw, _) => deal(planes, bytes, |[a]: [u8; 1]| a_law(a)),
        (Kind::MuLaw, _) => deal(planes, bytes, |[a]: [u8; 1]| mu_law(a)),
        (Kind::Integer, 1) => deal(planes, bytes, |[a]: [u8; 1]| a.to_sample()),
        (Kind::Integer, 2) => deal(planes, bytes, |stored| i16::from_le_bytes(stored).to_sample()),
        // Three bytes are the upper ones of four: the value is the same.
        (Kind::Integer, 3) => deal(planes, bytes, |[a, b, c]: [u8; 3]| {
            i32::from_le_bytes([0, a, b, c]).to_sample()
        }),
        (Kind::Integer, _) => deal(planes, bytes, |stored| i32::from_le_bytes(stored).to_sample()),
        (Kind::Float, 8) => deal(planes, bytes, |stored| f64::from_le_bytes(stored) as f32),
        (Kind::Float, _) => deal(planes, bytes, f32::from_le_bytes),
    }
}

/// Deals stored samples of N bytes out to their channels.
pub(crate) fn deal<const N: usize>(channels: &mut [Vec<f32>], bytes: &[u8], read: impl Fn([u8; N]) -> f32) {
    let (samples, _) = bytes.as_chunks::<N>();
    match channels {
        [left, right] => {
            for [l, r] in samples.as_chunks::<2>().0 {
                left.push(read(*l));
                right.push(read(*r));
            }
        }
        channels => channels
            .iter_mut()
            .for_each(|only| only.extend(samples.iter().map(|sample| read(*sample)))),
    }
}
