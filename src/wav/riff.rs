//! Walking the chunks of a RIFF file, as files are and not only as they should be.

use std::io::{Read, Seek, SeekFrom};

use super::WavError;
use super::error::kind_of;

/// A stretch of the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Span {
    /// Its first byte.
    pub start: u64,
    /// Its bytes, as far as the file has them.
    pub len: u64,
}

/// The chunks that are read here; of each the first that the file has.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Chunks {
    /// `fmt `
    pub format: Option<Span>,
    /// `data`
    pub data: Option<Span>,
    /// Bytes that the header of `data` promises and the file lacks.
    pub missing: u64,
    /// `smpl`
    pub sampler: Option<Span>,
    /// `cue `
    pub cues: Option<Span>,
    /// Every `LIST`, with the same bound as everything that is read into memory but samples.
    pub lists: Vec<Span>,
}

/// The most of a chunk beside `data` that is read, and the most `LIST`s: far more than any honest file has.
const MOST: u64 = 1 << 20;
const MOST_LISTS: usize = 64;

/// From this size on `data` is a promise that a writer into a pipe made before it knew better: 0xFFFFFFFF, or the
/// nearest to 2 GiB that some round down to.
const STREAMED: u64 = 0x7FFF_0000;

/// Chunk names that may follow another; they settle where a pad byte was left out.
const KNOWN: [&[u8; 4]; 16] = [
    b"fmt ", b"data", b"fact", b"smpl", b"LIST", b"cue ", b"inst", b"bext", b"JUNK", b"PAD ", b"PEAK", b"plst",
    b"id3 ", b"acid", b"iXML", b"ds64",
];

/// Sizes of more than 32 bits, which a `ds64` chunk gives (EBU Tech 3306).
#[derive(Default)]
struct Wide {
    data: Option<u64>,
    others: Vec<([u8; 4], u64)>,
}

/// Finds the chunks of a WAV of `length` bytes, in any order, without reading the samples.
pub(super) fn walk<R: Read + Seek>(source: &mut R, length: u64) -> Result<Chunks, WavError> {
    let wide = opens_wav(source, length)?;
    let mut chunks = Chunks::default();
    let mut sizes = Wide::default();
    let mut at = 12;
    while let Some((name, promised)) = chunk_head(source, at, length)? {
        let start = at + 8;
        let promised = match &name {
            b"data" if wide => sizes.data.filter(|_| promised == 0xFFFF_FFFF).unwrap_or(promised),
            _ if promised == 0xFFFF_FFFF => find(&sizes.others, &name).unwrap_or(promised),
            _ => promised,
        };
        let left = length - start;
        let span = Span {
            start,
            len: promised.min(left),
        };
        match &name {
            b"ds64" if wide => sizes = wide_sizes(&body(source, span)?),
            b"fmt " => _ = chunks.format.get_or_insert(span),
            b"smpl" => _ = chunks.sampler.get_or_insert(span),
            b"cue " => _ = chunks.cues.get_or_insert(span),
            b"LIST" if chunks.lists.len() < MOST_LISTS => chunks.lists.push(span),
            b"data" if chunks.data.is_none() => {
                let streamed = promised == 0 && !chunk_follows(source, start, length)?;
                let len = if streamed { left } else { span.len };
                chunks.data = Some(Span { start, len });
                let honest = promised <= STREAMED || (wide && promised != 0xFFFF_FFFF);
                chunks.missing = if honest { promised.saturating_sub(left) } else { 0 };
                at = start + len;
                at = after_pad(source, at, length)?;
                continue;
            }
            _ => {}
        }
        at = after_pad(source, start + span.len, length)?;
    }
    Ok(chunks)
}

/// Reads the twelve bytes that open a WAV; true where it is one of 64-bit sizes (RF64, or BW64 of ITU-R BS.2088).
fn opens_wav<R: Read + Seek>(source: &mut R, length: u64) -> Result<bool, WavError> {
    let mut start = Vec::new();
    source.seek(SeekFrom::Start(0))?;
    source.by_ref().take(512).read_to_end(&mut start)?;
    let wide = matches!(start.get(..4), Some(b"RF64" | b"BW64"));
    if wide || start.starts_with(b"RIFF") {
        if length < 12 {
            return Err(WavError::CutShort);
        }
        if &start[8..12] == b"WAVE" {
            return Ok(wide);
        }
    }
    Err(WavError::Foreign(kind_of(&start)))
}

/// The name and the size of the chunk at a place; none where no chunk begins there.
fn chunk_head<R: Read + Seek>(source: &mut R, at: u64, length: u64) -> Result<Option<([u8; 4], u64)>, WavError> {
    if at + 8 > length {
        return Ok(None);
    }
    let bytes: [u8; 8] = peek(source, at)?;
    let [a, b, c, d, size @ ..] = bytes;
    let name = [a, b, c, d];
    Ok(is_name(&name).then(|| (name, u32::from_le_bytes(size).into())))
}

/// A chunk's name is printable ASCII; what follows the last chunk in some files (a tag, zeros) is not.
fn is_name(name: &[u8; 4]) -> bool {
    name.iter().all(|byte| (0x20..0x7F).contains(byte))
}

/// True where the bytes from here to the end of the file are chunks, or there are none.
///
/// A `data` chunk of size 0 means "all that follows" in a file that was written into a pipe, and "nothing" in one
/// that holds no sound.
fn chunk_follows<R: Read + Seek>(source: &mut R, mut at: u64, length: u64) -> Result<bool, WavError> {
    // No honest file has so many chunks after its sound.
    for _ in 0..1000 {
        if at + 8 > length {
            return Ok(at + 1 >= length);
        }
        match chunk_head(source, at, length)? {
            Some((_, size)) if at + 8 + size <= length => at = after_pad(source, at + 8 + size, length)?,
            _ => return Ok(false),
        }
    }
    Ok(false)
}

/// Where the next chunk begins after one that ends at `end`: behind a pad byte where `end` is odd.
///
/// Some writers leave the pad out. A known name in its place tells; else the pad is taken to be there.
fn after_pad<R: Read + Seek>(source: &mut R, end: u64, length: u64) -> Result<u64, WavError> {
    if end.is_multiple_of(2) || end + 8 > length {
        return Ok(end + end % 2);
    }
    let [a, b, c, d, e]: [u8; 5] = peek(source, end)?;
    let left_out = KNOWN.contains(&&[a, b, c, d]) && !KNOWN.contains(&&[b, c, d, e]);
    Ok(if left_out { end } else { end + 1 })
}

fn peek<R: Read + Seek, const N: usize>(source: &mut R, at: u64) -> Result<[u8; N], WavError> {
    let mut bytes = [0; N];
    source.seek(SeekFrom::Start(at))?;
    source.read_exact(&mut bytes)?;
    Ok(bytes)
}

/// The bytes of a chunk beside `data`, 1 MiB of them at the most.
pub(super) fn body<R: Read + Seek>(source: &mut R, span: Span) -> Result<Vec<u8>, WavError> {
    bytes(
        source,
        Span {
            len: span.len.min(MOST),
            ..span
        },
    )
}

/// The bytes of a stretch. What it takes to hold them is bounded by what the file has, whatever its header says.
pub(super) fn bytes<R: Read + Seek>(source: &mut R, span: Span) -> Result<Vec<u8>, WavError> {
    let mut bytes = Vec::new();
    source.seek(SeekFrom::Start(span.start))?;
    source.by_ref().take(span.len).read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// The sizes of a `ds64` chunk: of the file, of `data`, the count of samples, then a table for other chunks.
fn wide_sizes(body: &[u8]) -> Wide {
    let entries = body.get(28..).unwrap_or(&[]).chunks_exact(12);
    Wide {
        data: u64_at(body, 8),
        others: entries
            .filter_map(|entry| Some((*entry.first_chunk()?, u64_at(entry, 4)?)))
            .collect(),
    }
}

fn find(sizes: &[([u8; 4], u64)], name: &[u8; 4]) -> Option<u64> {
    sizes.iter().find(|(of, _)| of == name).map(|(_, size)| *size)
}

/// The little-endian number at an offset, where there are bytes for it.
pub(super) fn u16_at(bytes: &[u8], at: usize) -> Option<u16> {
    bytes.get(at..)?.first_chunk().map(|b| u16::from_le_bytes(*b))
}

/// The little-endian number at an offset, where there are bytes for it.
pub(super) fn u32_at(bytes: &[u8], at: usize) -> Option<u32> {
    bytes.get(at..)?.first_chunk().map(|b| u32::from_le_bytes(*b))
}

fn u64_at(bytes: &[u8], at: usize) -> Option<u64> {
    bytes.get(at..)?.first_chunk().map(|b| u64::from_le_bytes(*b))
}
