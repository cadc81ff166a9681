//! Decoding a one-shot, whatever its file is: told by its first bytes, not by its name.

mod aiff;
mod extent;
mod flac;
mod sides;

use std::fmt;
use std::fs::File;
use std::io::{BufReader, Read, Seek, SeekFrom};
use std::path::Path;

use serde::{Deserialize, Serialize};

use crate::base::audio::Audio;
use crate::files::{self, Refused};
use crate::text::{Place, Problem};
use crate::wav::{self, Kind, WavError};

use extent::decoded_bytes;
pub(crate) use extent::told_seconds;
pub(crate) use sides::Sides;

/// What a header says of a sound.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Extent {
    /// Channels.
    pub channels: usize,
    /// Frames.
    pub frames: u64,
    /// Frames per second.
    pub rate: f64,
}

/// What a sound comes in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Container {
    /// RIFF/WAVE, RF64 or BW64.
    Wav,
    /// AIFF or AIFF-C.
    Aiff,
    /// FLAC.
    Flac,
}

impl fmt::Display for Container {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Container::Wav => "WAV",
            Container::Aiff => "AIFF",
            Container::Flac => "FLAC",
        })
    }
}

/// A sound that was decoded, and what its file says of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Decoded {
    /// Its samples at its own rate. Integers are divided by their full scale, 2^(bits - 1).
    pub audio: Audio,
    /// What it came in.
    pub container: Container,
    /// Bits a sample that count.
    pub bits: u16,
    /// True for floats.
    pub float: bool,
    /// Frames that its file promises and does not have; 0 for a whole one.
    pub missing: u64,
    /// The pitch at which it says it was recorded, as a MIDI number with its fraction. Many writers put 60 for want of knowledge.
    pub root: Option<f64>,
    /// What repeats while a note is held: first frames, and the frames after the last. Not verified to lie within the sound.
    pub loops: Vec<(u64, u64)>,
    /// Frames at a loop's end that turn into what lies before its beginning; 0 for all that a file says by itself.
    pub crossfade: usize,
    /// What it says of itself: `title`, `artist`, `copyright`, `licence`, and a `note` on anything.
    pub tags: Vec<(&'static str, String)>,
}

/// Why a file can't be decoded.
#[derive(Debug)]
pub enum Unread {
    /// It is no file that is read.
    Refused(Refused),
    /// It is of another kind, with what it seems to be.
    Foreign(String),
    /// A WAV that can't be read.
    Wav(WavError),
    /// An AIFF or a FLAC that can't be read, with the rest of a sentence that begins with its name.
    Broken(String),
}

impl Unread {
    /// The problem, naming the file.
    pub fn problem(&self, path: &Path) -> Problem {
        Problem::new(self.sentence(path))
    }

    /// The problem at the place where the file is named.
    pub fn at(&self, place: &Place, path: &Path) -> Problem {
        Problem::at(place, self.sentence(path))
    }

    fn sentence(&self, path: &Path) -> String {
        let shown = path.display();
        match self {
            Unread::Refused(refused) => format!("`{shown}` {refused}"),
            Unread::Foreign(kind) => match kind.as_str() {
                "text" | "an empty file" | "nothing but zeros" | "a MIDI file" => {
                    format!("`{shown}` is {kind}, not a sound")
                }
                kind => format!("`{shown}` is {kind}; convert it to WAV, AIFF or FLAC"),
            },
            Unread::Wav(error) => format!("`{shown}`: {error}"),
            Unread::Broken(what) => format!("`{shown}` {what}"),
        }
    }
}

impl From<Refused> for Unread {
    fn from(refused: Refused) -> Unread {
        Unread::Refused(refused)
    }
}

impl From<std::io::Error> for Unread {
    fn from(error: std::io::Error) -> Unread {
        Unread::Refused(Refused::from(error))
    }
}

impl From<WavError> for Unread {
    fn from(error: WavError) -> Unread {
        match error {
            WavError::Refused(refused) => Unread::Refused(refused),
            WavError::Foreign(kind) => Unread::Foreign(kind),
            error => Unread::Wav(error),
        }
    }
}

/// Decodes a WAV, an AIFF or a FLAC.
///
/// # Errors
/// When it is none of these, or one that can't be read; see `Unread`.
pub fn decode(path: impl AsRef<Path>) -> Result<Decoded, Unread> {
    decode_from(open(path.as_ref())?)
}

/// Decodes from a source, as [`decode`] does.
///
/// # Errors
/// As [`decode`].
pub fn decode_from(mut source: impl Read + Seek) -> Result<Decoded, Unread> {
    match container(&mut source)? {
        Container::Wav => Ok(of_wav(wav::read_from(source)?)),
        Container::Aiff => aiff::read(&whole(source)?),
        Container::Flac => flac::read(whole(source)?),
    }
}

/// What a file tells of its sound without being played.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EmbeddedInfo {
    /// How long it sounds, in seconds.
    pub seconds: f64,
    /// True where something of it repeats while a note is held.
    pub held: bool,
    /// Channels.
    pub channels: usize,
    /// Frames per second.
    pub rate: u32,
}

/// Looks whether [`decode`] would read a file. Only what a header can't vouch for is decoded: floats, which may be no numbers,
/// and FLACs, whose packets may be damaged.
///
/// # Errors
/// As [`decode`], always both or neither.
pub(crate) fn check(path: impl AsRef<Path>) -> Result<EmbeddedInfo, Unread> {
    let mut source = open(path.as_ref())?;
    let told = match container(&mut source)? {
        Container::Wav => {
            let head = wav::head_from(&mut source)?;
            let extent = (head.format.channels.into(), head.frames, head.format.rate);
            let told = EmbeddedInfo::of(&loops_of_wav(&head), extent);
            (head.format.kind != Kind::Float).then_some(told)
        }
        Container::Aiff => aiff::check(&whole(&mut source)?)?,
        Container::Flac => None,
    };
    if let Some(told) = told {
        return Ok(told);
    }
    source.seek(SeekFrom::Start(0))?;
    let Decoded { audio, loops, .. } = decode_from(source)?;
    let extent = (audio.channels.len(), audio.frames() as u64, audio.rate);
    Ok(EmbeddedInfo::of(&loops, extent))
}

impl EmbeddedInfo {
    /// What some loops within so many channels and frames of a rate tell.
    fn of(loops: &[(u64, u64)], (channels, frames, rate): (usize, u64, u32)) -> EmbeddedInfo {
        EmbeddedInfo {
            channels,
            rate,
            seconds: frames as f64 / f64::from(rate),
            held: loop_within(loops, frames).is_some(),
        }
    }
}

/// The first of some loops that lies within so many frames, and so repeats while a note is held.
pub(crate) fn loop_within(loops: &[(u64, u64)], frames: u64) -> Option<(u64, u64)> {
    loops.iter().find(|(from, to)| from + 1 < *to && *to <= frames).copied()
}

/// What a file says of itself, as in [`Decoded::tags`], without decoding its sound.
///
/// # Errors
/// As [`decode`], but for what is wrong with its samples.
pub(crate) fn told_tags(path: impl AsRef<Path>) -> Result<Vec<(&'static str, String)>, Unread> {
    let mut source = open(path.as_ref())?;
    match container(&mut source)? {
        Container::Wav => Ok(tags_of_wav(&wav::head_from(source)?)),
        Container::Aiff => Ok(aiff::tags(&whole(source)?)),
        Container::Flac => flac::told(whole(source)?),
    }
}

fn open(path: &Path) -> Result<BufReader<File>, Unread> {
    Ok(BufReader::new(files::open(path, files::LONGEST)?))
}

/// What a file is, by its first bytes.
fn container(source: &mut (impl Read + Seek)) -> Result<Container, Unread> {
    let mut start = Vec::new();
    source.by_ref().take(512).read_to_end(&mut start)?;
    source.seek(SeekFrom::Start(0))?;
    let form = |form: &[u8]| start.get(8..12) == Some(form);
    match start.get(..4) {
        Some(b"RIFF" | b"RF64" | b"BW64") => Ok(Container::Wav),
        Some(b"FORM") if form(b"AIFF") || form(b"AIFC") => Ok(Container::Aiff),
        Some(b"fLaC") => Ok(Container::Flac),
        _ if flac::behind_a_tag(source)? => Ok(Container::Flac),
        _ => Err(Unread::Foreign(wav::kind_of(&start))),
    }
}

fn whole(mut source: impl Read) -> Result<Vec<u8>, Unread> {
    let mut bytes = Vec::new();
    source.by_ref().take(files::LONGEST).read_to_end(&mut bytes)?;
    Ok(bytes)
}

fn of_wav(decoded: wav::Decoded) -> Decoded {
    let wav::Decoded { audio, head } = decoded;
    Decoded {
        audio,
        container: Container::Wav,
        bits: head.format.bits,
        float: head.format.kind == Kind::Float,
        missing: head.missing,
        root: root_of_wav(&head),
        loops: loops_of_wav(&head),
        crossfade: 0,
        tags: tags_of_wav(&head),
    }
}

fn loops_of_wav(head: &wav::Head) -> Vec<(u64, u64)> {
    let loops = head.sampler.iter().flat_map(|sampler| &sampler.loops);
    // A `smpl` chunk names the last frame that is played (IBM and Microsoft 1994).
    loops
        .map(|(first, last)| (u64::from(*first), u64::from(*last) + 1))
        .collect()
}

fn tags_of_wav(head: &wav::Head) -> Vec<(&'static str, String)> {
    let tag = |(name, code): &(&'static str, &[u8; 4])| head.tag(code).map(|text| (*name, text.to_string()));
    [("title", b"INAM"), ("artist", b"IART"), ("copyright", b"ICOP")]
        .iter()
        .filter_map(tag)
        .collect()
}

fn root_of_wav(head: &wav::Head) -> Option<f64> {
    let sampler = head.sampler.as_ref().filter(|sampler| sampler.note <= 127)?;
    Some(f64::from(sampler.note) + sampler.fraction)
}

/// Refuses what no one-shot is: rates and channels that are not played, and samples that are no sound's.
fn sane(audio: &Audio) -> Result<(), Unread> {
    let broken = |what: String| Err(Unread::Broken(what));
    if audio.frames() == 0 {
        return Err(no_sound());
    }
    if let Some(frame) = audio.first_unsound() {
        return broken(format!(
            "holds samples that are infinite, no number or beyond 2^31 times full scale, the first in frame {frame}"
        ));
    }
    Ok(())
}

fn no_sound() -> Unread {
    Unread::Broken("has a header but no sound in it".into())
}

/// Refuses rates and channels that are not played.
fn playable(channels: usize, rate: f64) -> Result<(), Unread> {
    if !(1..=2).contains(&channels) {
        let what = format!("has {channels} channels; pressroll reads mono and stereo");
        return Err(Unread::Broken(what));
    }
    if !(8_000.0..=192_000.0).contains(&rate) {
        let what = format!("has a rate of {rate} Hz; pressroll reads rates from 8000 to 192000 Hz");
        return Err(Unread::Broken(what));
    }
    Ok(())
}
