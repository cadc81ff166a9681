//! AIFF and AIFF-C: the walk over their chunks, their samples, and what `INST` and `MARK` say of pitch and loops.
//!
//! The walk is our own: symphonia's (0.6) refuses 24 bits in `sowt`, `42ni` and sound that is aligned to blocks, and keeps
//! nothing of `INST`, and what writers get wrong would have to be mended before it.
//!
//! Formats: "Audio Interchange File Format: AIFF", version 1.3 (Apple, 1989), and its draft for AIFF-C (1991) [memory].

use super::Extent;
use super::{Container, Decoded, EmbeddedInfo, Unread, no_sound, playable, sane};
use crate::base::audio::Audio;
use crate::wav::{a_law, deal, mu_law, words};

/// How samples are stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Coding {
    /// Integers, the most significant byte first.
    Big,
    /// Integers, the least significant byte first.
    Little,
    /// Unsigned bytes.
    Unsigned,
    Float,
    ALaw,
    MuLaw,
}

/// What a `COMM` chunk says.
#[derive(Debug, Clone, Copy)]
struct Common {
    channels: usize,
    frames: u64,
    bits: u16,
    rate: f64,
    coding: Coding,
    /// Bytes a sample takes.
    bytes: usize,
}

/// The chunks that are read, of each the first.
#[derive(Default)]
struct Chunks<'a> {
    common: Option<&'a [u8]>,
    sound: Option<&'a [u8]>,
    instrument: Option<&'a [u8]>,
    markers: Option<&'a [u8]>,
    tags: Vec<(&'static str, String)>,
}

/// An AIFF whose samples are still stored.
struct Stored<'a> {
    chunks: Chunks<'a>,
    common: Common,
    /// Whole frames of them.
    samples: &'a [u8],
    frames: usize,
    promised: u64,
}

/// Reads all but the samples, and finds where whole frames of them lie.
fn survey(file: &[u8]) -> Result<Stored<'_>, Unread> {
    let chunks = walk(file);
    let lacks = || Unread::Broken("has no `COMM` chunk, so its samples can't be understood".into());
    let common = common(chunks.common.ok_or_else(lacks)?, file.get(8..12) == Some(b"AIFC"))?;
    playable(common.channels, common.rate)?;
    // Eight bytes of offset and of a block's size stand before the samples.
    let sound = chunks.sound.ok_or_else(no_sound)?;
    let offset = u32_at(sound, 0).unwrap_or(0) as usize;
    let samples = sound.get(8..).and_then(|rest| rest.get(offset..)).unwrap_or(&[]);
    let frame = common.channels * common.bytes;
    let there = samples.len() / frame;
    // Writers into a pipe leave the count of frames at 0.
    let promised = if common.frames == 0 {
        there as u64
    } else {
        common.frames
    };
    let frames = there.min(usize::try_from(promised).unwrap_or(usize::MAX));
    Ok(Stored {
        chunks,
        common,
        samples: &samples[..frames * frame],
        frames,
        promised,
    })
}

/// Decodes an AIFF.
pub(crate) fn read(file: &[u8]) -> Result<Decoded, Unread> {
    let stored = survey(file)?;
    let common = &stored.common;
    let mut audio = Audio {
        channels: vec![Vec::with_capacity(stored.frames); common.channels],
        rate: common.rate as u32,
    };
    unpack(common, stored.samples, &mut audio.channels);
    sane(&audio)?;
    Ok(Decoded {
        audio,
        container: Container::Aiff,
        bits: common.bits,
        float: common.coding == Coding::Float,
        missing: stored.promised - stored.frames as u64,
        root: root_of(&stored.chunks),
        loops: loop_of(&stored.chunks).into_iter().collect(),
        crossfade: 0,
        tags: stored.chunks.tags,
    })
}

/// What an AIFF tells of its sound; none where it has to be decoded for that.
pub(crate) fn check(file: &[u8]) -> Result<Option<EmbeddedInfo>, Unread> {
    let stored = survey(file)?;
    if stored.frames == 0 {
        return Err(no_sound());
    }
    let loops: Vec<(u64, u64)> = loop_of(&stored.chunks).into_iter().collect();
    let common = &stored.common;
    let told = EmbeddedInfo::of(&loops, (common.channels, stored.frames as u64, common.rate as u32));
    Ok((stored.common.coding != Coding::Float).then_some(told))
}

/// How much sound an AIFF of so many bytes says it holds, by what it begins with; none where its sound is described later.
pub(crate) fn extent(start: &[u8], length: u64) -> Option<Extent> {
    let common = common(walk(start).common?, start.get(8..12) == Some(b"AIFC")).ok()?;
    let there = length / (common.channels * common.bytes).max(1) as u64;
    Some(Extent {
        channels: common.channels,
        // As in `read`: one that was written into a pipe promises nothing.
        frames: if common.frames == 0 {
            there
        } else {
            common.frames.min(there)
        },
        rate: common.rate,
    })
}

/// What an AIFF says of itself.
pub(crate) fn tags(file: &[u8]) -> Vec<(&'static str, String)> {
    walk(file).tags
}

/// Finds the chunks, in any order; a chunk that says it is longer than the file ends with it.
fn walk(file: &[u8]) -> Chunks<'_> {
    let mut chunks = Chunks::default();
    let mut rest = file.get(12..).unwrap_or(&[]);
    while let (Some(name), Some(size)) = (rest.first_chunk::<4>(), u32_at(rest, 4)) {
        let body = &rest[8..];
        let body = &body[..(size as usize).min(body.len())];
        match name {
            b"COMM" => _ = chunks.common.get_or_insert(body),
            b"SSND" => _ = chunks.sound.get_or_insert(body),
            b"INST" => _ = chunks.instrument.get_or_insert(body),
            b"MARK" => _ = chunks.markers.get_or_insert(body),
            b"NAME" => chunks.tags.push(("title", words(body))),
            b"AUTH" => chunks.tags.push(("artist", words(body))),
            b"(c) " => chunks.tags.push(("copyright", words(body))),
            b"ANNO" => chunks.tags.push(("note", words(body))),
            _ => {}
        }
        let next = 8 + body.len();
        // A chunk of odd length is padded; some writers leave the pad out.
        let padded = body.len() % 2 == 1 && !rest.get(next..).is_some_and(names_a_chunk);
        rest = rest.get(next + usize::from(padded)..).unwrap_or(&[]);
    }
    chunks
}

fn names_a_chunk(bytes: &[u8]) -> bool {
    matches!(
        bytes.first_chunk::<4>(),
        Some(
            b"COMM" | b"SSND" | b"INST" | b"MARK" | b"FVER" | b"NAME" | b"AUTH" | b"(c) " | b"ANNO" | b"APPL" | b"COMT"
        )
    )
}

fn common(body: &[u8], compressed: bool) -> Result<Common, Unread> {
    let cut = || Unread::Broken("breaks off within its header".into());
    let bits = u16_at(body, 6).ok_or_else(cut)?;
    let rate = extended(body.get(8..18).ok_or_else(cut)?);
    let stored = usize::from(bits.div_ceil(8));
    let whole = |coding| Some((coding, stored)).filter(|_| (1..=4).contains(&stored));
    let name: [u8; 4] = match compressed {
        true => *body.get(18..).and_then(<[u8]>::first_chunk).ok_or_else(cut)?,
        false => *b"NONE",
    };
    // What the bits of floats and of companded samples say differs from writer to writer; the coding's name tells.
    let coding = match &name.map(|letter| letter.to_ascii_lowercase()) {
        b"none" | b"twos" => whole(Coding::Big),
        b"in24" => Some((Coding::Big, 3)),
        b"in32" => Some((Coding::Big, 4)),
        b"sowt" => whole(Coding::Little),
        b"42ni" | b"42n1" => Some((Coding::Little, 3)),
        b"23ni" => Some((Coding::Little, 4)),
        b"raw " => Some((Coding::Unsigned, 1)),
        b"fl32" => Some((Coding::Float, 4)),
        b"fl64" => Some((Coding::Float, 8)),
        b"alaw" => Some((Coding::ALaw, 1)),
        b"ulaw" => Some((Coding::MuLaw, 1)),
        _ => None,
    };
    let Some((coding, bytes)) = coding else {
        let name: String = name.iter().map(|byte| char::from(*byte)).collect();
        let what = match name.as_str() {
            "NONE" => format!("has samples of {bits} bits; pressroll reads 1 to 32"),
            name => format!(
                "is an AIFF-C coded as `{}`; convert it to WAV, AIFF or FLAC",
                name.escape_default()
            ),
        };
        return Err(Unread::Broken(what));
    };
    Ok(Common {
        channels: u16_at(body, 0).ok_or_else(cut)?.into(),
        frames: u32_at(body, 2).ok_or_else(cut)?.into(),
        bits: match coding {
            Coding::Float => 8 * bytes as u16,
            Coding::ALaw | Coding::MuLaw | Coding::Unsigned => 8,
            _ => bits,
        },
        rate,
        coding,
        bytes,
    })
}

/// Turns whole frames of stored samples into planar floats; integers are left-justified, so all their bits are read.
fn unpack(common: &Common, bytes: &[u8], planes: &mut [Vec<f32>]) {
    const FULL: f32 = 2_147_483_648.0;
    let whole = |bytes: [u8; 4]| i32::from_be_bytes(bytes) as f32 / FULL;
    match (common.coding, common.bytes) {
        (Coding::Unsigned, _) => deal(planes, bytes, |[a]: [u8; 1]| whole([a ^ 0x80, 0, 0, 0])),
        (Coding::ALaw, _) => deal(planes, bytes, |[a]: [u8; 1]| a_law(a)),
        (Coding::MuLaw, _) => deal(planes, bytes, |[a]: [u8; 1]| mu_law(a)),
        (Coding::Float, 8) => deal(planes, bytes, |stored| f64::from_be_bytes(stored) as f32),
        (Coding::Float, _) => deal(planes, bytes, f32::from_be_bytes),
        (_, 1) => deal(planes, bytes, |[a]: [u8; 1]| whole([a, 0, 0, 0])),
        (Coding::Big, 2) => deal(planes, bytes, |[a, b]: [u8; 2]| whole([a, b, 0, 0])),
        (Coding::Big, 3) => deal(planes, bytes, |[a, b, c]: [u8; 3]| whole([a, b, c, 0])),
        (Coding::Big, _) => deal(planes, bytes, whole),
        (Coding::Little, 2) => deal(planes, bytes, |[a, b]: [u8; 2]| whole([b, a, 0, 0])),
        (Coding::Little, 3) => deal(planes, bytes, |[a, b, c]: [u8; 3]| whole([c, b, a, 0])),
        (Coding::Little, _) => deal(planes, bytes, |[a, b, c, d]: [u8; 4]| whole([d, c, b, a])),
    }
}

/// `INST`: the base note, and by how many cents playing it is to be altered, which is how far it was recorded off the other way.
fn root_of(chunks: &Chunks) -> Option<f64> {
    let [note, detune, ..] = chunks.instrument? else {
        return None;
    };
    (*note <= 127).then(|| f64::from(*note) - f64::from(*detune as i8) / 100.0)
}

/// The sustain loop of `INST`, whose ends are markers; a marker stands before its frame.
fn loop_of(chunks: &Chunks) -> Option<(u64, u64)> {
    let instrument = chunks.instrument?;
    let field = |at| u16_at(instrument, at);
    if field(8)? == 0 {
        return None;
    }
    let (begin, end) = (field(10)?, field(12)?);
    let markers = chunks.markers?;
    let mut rest = markers.get(2..)?;
    let (mut from, mut to) = (None, None);
    // A marker: number, frame, and a name with its length before it, padded to an even length of both.
    while let (Some(number), Some(frame)) = (u16_at(rest, 0), u32_at(rest, 2)) {
        if number == begin {
            from = Some(u64::from(frame));
        }
        if number == end {
            to = Some(u64::from(frame));
        }
        let name = 1 + usize::from(*rest.get(6)?);
        rest = rest.get(6 + name + name % 2..).unwrap_or(&[]);
    }
    Some((from?, to?))
}

/// An 80-bit float (IEEE 754 extended, 1985): sign and exponent in 16 bits, then a mantissa with its leading one.
fn extended(bytes: &[u8]) -> f64 {
    let power = i32::from(u16_at(bytes, 0).unwrap_or(0));
    let (high, low) = (u32_at(bytes, 2).unwrap_or(0), u32_at(bytes, 6).unwrap_or(0));
    // Of no number, of a negative one, of more than any rate.
    if power > 16383 + 31 {
        return 0.0;
    }
    libm::scalbn(f64::from(high), power - 16383 - 31) + libm::scalbn(f64::from(low), power - 16383 - 63)
}

fn u16_at(bytes: &[u8], at: usize) -> Option<u16> {
    bytes.get(at..)?.first_chunk().map(|b| u16::from_be_bytes(*b))
}

fn u32_at(bytes: &[u8], at: usize) -> Option<u32> {
    bytes.get(at..)?.first_chunk().map(|b| u32::from_be_bytes(*b))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn eighty_bit_rates_are_read() {
        // 44,100 as the standard's appendix writes it.
        assert_eq!(extended(&[0x40, 0x0E, 0xAC, 0x44, 0, 0, 0, 0, 0, 0]), 44_100.0);
        assert_eq!(extended(&[0x40, 0x0E, 0xBB, 0x80, 0, 0, 0, 0, 0, 0]), 48_000.0);
        assert_eq!(extended(&[0; 10]), 0.0);
        assert_eq!(extended(&[0xFF; 10]), 0.0);
    }

    #[test]
    fn a_loop_is_found_between_its_markers() {
        let mut instrument = vec![57, 0xF6, 0, 127, 1, 127, 0, 0];
        for field in [1u16, 7, 9, 0, 0, 0] {
            instrument.extend(field.to_be_bytes());
        }
        let mut markers = 2u16.to_be_bytes().to_vec();
        for (number, frame, name) in [(7u16, 100u32, "in"), (9, 4_100, "out")] {
            markers.extend(number.to_be_bytes());
            markers.extend(frame.to_be_bytes());
            markers.push(name.len() as u8);
            markers.extend(name.as_bytes());
            if name.len() % 2 == 0 {
                markers.push(0);
            }
        }
        let chunks = Chunks {
            instrument: Some(&instrument),
            markers: Some(&markers),
            ..Chunks::default()
        };
        assert_eq!(loop_of(&chunks), Some((100, 4_100)));
        assert_eq!(root_of(&chunks), Some(57.1));
    }
}
