//! Why a WAV can't be read, as sentences for the person.

use std::fmt;
use std::io;

use crate::files::{Refused, plainly};

/// Why a file can't be read as a WAV.
///
/// Each displays as one sentence without its full stop that does not name the file; whoever shows it puts the path before it.
#[derive(Debug)]
pub enum WavError {
    /// The system would not let it be read.
    Machine(io::Error),
    /// It is no regular file of at most 2 GiB.
    Refused(Refused),
    /// Something else than a WAV, with what it seems to be.
    Foreign(String),
    /// The file ends within its header.
    CutShort,
    /// It has sound but no `fmt ` chunk to say of what kind.
    NoFormat,
    /// It has a header and no sound.
    NoData,
    /// Its samples are stored in a way that is not read here, with the way's name.
    Coding(String),
    /// Neither mono nor stereo, with the number of channels.
    Channels(u16),
    /// A rate out of 8,000 to 192,000 Hz, with the rate.
    Rate(u32),
    /// A float sample that is infinite, no number, or louder than any sound, with the frame that has the first, counted from 0.
    NoNumber(usize),
}

impl fmt::Display for WavError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            WavError::Machine(error) => write!(f, "the file can't be read: {}", plainly(error)),
            WavError::Refused(refused) => write!(f, "this {refused}"),
            WavError::Foreign(kind) => write!(f, "this is not a WAV; it seems to be {kind}"),
            WavError::CutShort => f.write_str("the file breaks off within its header"),
            WavError::NoFormat => f.write_str("the WAV has no `fmt ` chunk, so its samples can't be understood"),
            WavError::NoData => f.write_str("the WAV has a header but no sound in it"),
            WavError::Coding(coding) => write!(
                f,
                "the WAV is coded as {coding}; pressroll reads 8 to 32-bit integers, 32 or 64-bit floats, A-law and mu-law"
            ),
            WavError::Channels(0) => f.write_str("the WAV says that it has 0 channels"),
            WavError::Channels(count) => write!(f, "the WAV has {count} channels; pressroll reads mono and stereo"),
            WavError::Rate(rate) => write!(
                f,
                "the WAV's rate is {rate} Hz; pressroll reads rates from 8000 to 192000 Hz"
            ),
            WavError::NoNumber(frame) => write!(
                f,
                "the WAV holds samples that are infinite, no number or beyond 2^31 times full scale, the first in frame {frame}"
            ),
        }
    }
}

impl std::error::Error for WavError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            WavError::Machine(error) => Some(error),
            WavError::Refused(refused) => Some(refused),
            _ => None,
        }
    }
}

/// A file that ends where more was promised is cut short; other errors are the machine's.
impl From<io::Error> for WavError {
    fn from(error: io::Error) -> WavError {
        match error.kind() {
            io::ErrorKind::UnexpectedEof => WavError::CutShort,
            _ => WavError::Machine(error),
        }
    }
}

/// A file that is not opened.
impl From<Refused> for WavError {
    fn from(refused: Refused) -> WavError {
        WavError::Refused(refused)
    }
}

/// What the first bytes of a file that is no WAV seem to be.
pub(crate) fn kind_of(start: &[u8]) -> String {
    let form = |form: &[u8]| start.get(8..12) == Some(form);
    let known = match start {
        [] => "an empty file",
        [b'F', b'O', b'R', b'M', ..] if form(b"AIFF") || form(b"AIFC") => "an AIFF file",
        [b'f', b'L', b'a', b'C', ..] => "a FLAC file",
        [b'O', b'g', b'g', b'S', ..] => "an Ogg file",
        [b'I', b'D', b'3', ..] => "an MP3 file",
        [b'M', b'T', b'h', b'd', ..] => "a MIDI file",
        [b'R', b'I', b'F', b'X', ..] => "a big-endian RIFX file",
        [b'r', b'i', b'f', b'f', ..] => "a Wave64 file",
        [b'c', b'a', b'f', b'f', ..] => "a CAF file",
        [b'P', b'K', 3, 4, ..] => "a ZIP archive",
        [b'R', b'I', b'F', b'F', ..] => "a RIFF file of another kind",
        [_, _, _, _, b'f', b't', b'y', b'p', ..] => "an MP4 file",
        // ADTS AAC has the same sync word with layer bits 0; ISO 11172-3 numbers layer III as 1.
        [0xFF, b, ..] if b & 0xF6 == 0xF0 => "an AAC file",
        [0xFF, b, ..] if b & 0xE6 == 0xE2 => "an MP3 file",
        _ if start.iter().all(|byte| *byte == 0) => "nothing but zeros",
        _ if is_text(start) => "text",
        _ => "a file of another kind",
    };
    known.to_string()
}

/// True for UTF-8 without control characters, but for a character that the end cuts.
fn is_text(start: &[u8]) -> bool {
    let text = match std::str::from_utf8(start) {
        Ok(text) => text,
        Err(error) if error.error_len().is_none() => std::str::from_utf8(&start[..error.valid_up_to()]).unwrap_or(""),
        Err(_) => return false,
    };
    !text.chars().any(|c| c.is_control() && !c.is_whitespace())
}

#[cfg(test)]
mod tests {
    use super::kind_of;

    #[test]
    fn a_foreign_file_is_named_by_its_first_bytes() {
        assert_eq!(kind_of(b"FORM\0\0\0\x20AIFFCOMM"), "an AIFF file");
        assert_eq!(kind_of(b"fLaC\0\0\0\x22"), "a FLAC file");
        assert_eq!(kind_of(b"OggS\0\x02"), "an Ogg file");
        assert_eq!(kind_of(b"ID3\x04\0\0"), "an MP3 file");
        assert_eq!(kind_of(&[0xFF, 0xFB, 0x90, 0x64]), "an MP3 file");
        assert_eq!(kind_of(&[0xFF, 0xF1, 0x50, 0x80]), "an AAC file");
        assert_eq!(kind_of(b"RIFF\x24\0\0\0AVI "), "a RIFF file of another kind");
        assert_eq!(kind_of("Möwe, Anleger 3\r\n".as_bytes()), "text");
        assert_eq!(kind_of("Anleger ö".as_bytes().split_last().unwrap().1), "text");
        assert_eq!(kind_of(&[]), "an empty file");
        assert_eq!(kind_of(&[0; 32]), "nothing but zeros");
        assert_eq!(kind_of(&[1, 2, 3, 200]), "a file of another kind");
    }
}
