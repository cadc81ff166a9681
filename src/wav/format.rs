//! The `fmt ` chunk: how samples are stored.

use super::WavError;
use super::riff::{u16_at, u32_at};

/// What a WAV's samples are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Integers.
    Integer,
    /// Floats.
    Float,
    /// A-law of ITU-T G.711.
    ALaw,
    /// mu-law of ITU-T G.711.
    MuLaw,
}

/// How a WAV's samples are stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Format {
    /// 1 or 2.
    pub channels: u16,
    /// Frames per second, 8,000 to 192,000.
    pub rate: u32,
    /// Integers, floats, or one of telephony's codings.
    pub kind: Kind,
    /// Bits that count, the upper ones of those that are stored.
    pub bits: u16,
    /// Bytes a sample takes in the file: 1 to 4 for integers (1 is unsigned), 4 or 8 for floats, 1 for the laws.
    pub bytes: u16,
}

impl Format {
    /// Bytes a frame takes in the file.
    pub fn frame_bytes(&self) -> u64 {
        u64::from(self.channels) * u64::from(self.bytes)
    }
}

/// Format tags, as registered in RFC 2361.
const PCM: u16 = 1;
const FLOAT: u16 = 3;
const A_LAW: u16 = 6;
const MU_LAW: u16 = 7;
const EXTENSIBLE: u16 = 0xFFFE;

/// What follows the format tag in the sub-format of an extensible header.
const TAG_BASE: [u8; 14] = [0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71];

/// Reads a `fmt ` chunk.
///
/// The bytes a sample takes come from the size of a frame, which is what tells 24 bits in 32 from 24 packed ones; where that
/// size is nonsense, as some writers leave it, they come from the bits.
pub(super) fn format(body: &[u8]) -> Result<Format, WavError> {
    let field = |at| u16_at(body, at).ok_or(WavError::CutShort);
    let (mut tag, channels) = (field(0)?, field(2)?);
    let rate = u32_at(body, 4).ok_or(WavError::CutShort)?;
    let (frame, bits) = (field(12)?, field(14)?);
    let mut valid = bits;
    if tag == EXTENSIBLE {
        tag = extended_tag(body)?;
        valid = match field(18)? {
            valid if (1..=bits).contains(&valid) => valid,
            _ => bits,
        };
    }
    let kind = match tag {
        PCM => Kind::Integer,
        FLOAT => Kind::Float,
        A_LAW => Kind::ALaw,
        MU_LAW => Kind::MuLaw,
        tag => return Err(WavError::Coding(name_of(tag))),
    };
    if !(1..=2).contains(&channels) {
        return Err(WavError::Channels(channels));
    }
    if !(8_000..=192_000).contains(&rate) {
        return Err(WavError::Rate(rate));
    }
    let least = bits.div_ceil(8);
    let bytes = match frame / channels {
        told if frame % channels == 0 && (least..=8).contains(&told) => told,
        _ => least,
    };
    let (readable, name) = match kind {
        Kind::Float => (matches!((bits, bytes), (32, 4) | (64, 8)), "floats"),
        Kind::Integer => (valid > 0 && (1..=4).contains(&bytes), "integers"),
        Kind::ALaw => (bytes == 1, "A-law"),
        Kind::MuLaw => (bytes == 1, "mu-law"),
    };
    if !readable {
        return Err(WavError::Coding(format!("{bits}-bit {name} in {bytes} bytes")));
    }
    Ok(Format {
        channels,
        rate,
        kind,
        bits: valid,
        bytes,
    })
}

/// The tag that an extensible header carries in its sub-format.
fn extended_tag(body: &[u8]) -> Result<u16, WavError> {
    let tag = u16_at(body, 24).ok_or(WavError::CutShort)?;
    match body.get(26..40) {
        Some(base) if base == TAG_BASE => Ok(tag),
        // The B-format of ambisonics has a base of its own; its channels are not speakers.
        Some(_) => Err(WavError::Coding("a sub-format of its own".into())),
        None => Err(WavError::CutShort),
    }
}

/// The codings that WAVs are met with, by their tags in RFC 2361.
fn name_of(tag: u16) -> String {
    let name = match tag {
        0x0002 => "Microsoft ADPCM",
        0x0011 => "IMA ADPCM",
        0x0031 => "GSM 6.10",
        0x0040 => "G.721 ADPCM",
        0x0050 => "MPEG layer I or II",
        0x0055 => "MP3",
        0x0161 => "Windows Media Audio",
        0xF1AC => "FLAC",
        _ => return format!("format {tag:#06x}"),
    };
    name.to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plain(tag: u16, channels: u16, frame: u16, bits: u16) -> Vec<u8> {
        let mut body = Vec::new();
        body.extend(tag.to_le_bytes());
        body.extend(channels.to_le_bytes());
        body.extend(44_100u32.to_le_bytes());
        body.extend((44_100 * u32::from(frame)).to_le_bytes());
        body.extend(frame.to_le_bytes());
        body.extend(bits.to_le_bytes());
        body
    }

    #[test]
    fn the_size_of_a_frame_tells_how_many_bytes_a_sample_takes() {
        assert_eq!(format(&plain(1, 2, 6, 24)).unwrap().bytes, 3);
        assert_eq!(format(&plain(1, 2, 8, 24)).unwrap().bytes, 4);
        assert_eq!(format(&plain(1, 2, 4, 12)).unwrap().bytes, 2);
        assert_eq!(format(&plain(1, 2, 0, 24)).unwrap().bytes, 3, "a frame of no size");
    }

    #[test]
    fn what_is_not_read_is_named() {
        let named = |body: &[u8]| format(body).unwrap_err().to_string();
        assert!(named(&plain(7, 1, 2, 16)).contains("mu-law"));
        assert!(named(&plain(2, 1, 1, 4)).contains("Microsoft ADPCM"));
        assert!(named(&plain(0x55, 2, 1, 0)).contains("MP3"));
        assert!(named(&plain(0x1234, 2, 1, 0)).contains("0x1234"));
        assert!(named(&plain(1, 6, 12, 16)).contains("6 channels"));
        assert!(named(&plain(1, 0, 12, 16)).contains("0 channels"));
        assert!(named(&plain(1, 1, 8, 64)).contains("64-bit integers"));
        assert!(named(&plain(3, 1, 2, 16)).contains("16-bit floats"));
        assert!(named(&plain(1, 1, 2, 16)[..15]).contains("breaks off"));
    }
}
