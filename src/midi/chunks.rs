//! The chunks of a Standard MIDI File: its header, its tracks, and whatever stands between.

use super::clock::Clock;
use super::error::MidiError;

/// What a header chunk says.
pub(super) struct Header {
    /// How many tracks it tells.
    pub tracks: usize,
    /// What a tick is worth.
    pub clock: Clock,
}

/// A track chunk's body.
pub(super) struct TrackChunk<'a> {
    /// Its events' bytes.
    pub body: &'a [u8],
    /// Where the body begins in the file.
    pub start: usize,
    /// True where the told length runs past the file's end.
    pub cut: bool,
    /// True where the told length can't be right: the body then runs to the file's end, and the end-of-track event
    /// says where the track ends.
    pub open: bool,
}

/// Walks the track chunks of a file.
pub(super) struct Chunks<'a> {
    bytes: &'a [u8],
    at: usize,
    /// Bytes so far that belong to no chunk.
    pub skipped: usize,
}

impl<'a> Chunks<'a> {
    /// Reads the header, and stands ready before the first track.
    ///
    /// The wrapper of an RMID file (a RIFF file whose `data` chunk is a Standard MIDI File) is taken off.
    pub(super) fn open(bytes: &'a [u8]) -> Result<(Header, Chunks<'a>), MidiError> {
        let bytes = unwrapped(bytes);
        if !bytes.starts_with(b"MThd") {
            return Err(MidiError::Foreign);
        }
        let told = u32_at(bytes, 4).ok_or(MidiError::CutShort)? as usize;
        let word = |at| u16_at(bytes, at).ok_or(MidiError::CutShort);
        let (format, tracks, division) = (word(8)?, word(10)?, word(12)?);
        if told < 6 {
            return Err(MidiError::CutShort);
        }
        if format > 1 {
            return Err(MidiError::Format(format));
        }
        let header = Header {
            tracks: tracks.into(),
            clock: clock(division).ok_or(MidiError::Division(division))?,
        };
        // A header may grow in a later version of the standard; a length that leads out of the file is no such thing.
        let end = 8usize.saturating_add(told);
        let at = if is_chunk_end(bytes, end) { end } else { 14 };
        Ok((header, Chunks { bytes, at, skipped: 0 }))
    }

    /// The next track. What is no track is skipped: whole where it is a chunk of another kind, as the standard asks;
    /// else up to the next track's name.
    pub(super) fn next_track(&mut self) -> Option<TrackChunk<'a>> {
        loop {
            let rest = self.bytes.get(self.at..).unwrap_or_default();
            let Some(told) = u32_at(rest, 4) else {
                self.skipped += rest.len();
                self.at = self.bytes.len();
                return None;
            };
            let start = self.at + 8;
            let end = start.saturating_add(told as usize);
            let sure = is_chunk_end(self.bytes, end);
            if rest.starts_with(b"MTrk") {
                let body = if sure { start..end } else { start..self.bytes.len() };
                self.at = body.end;
                return Some(TrackChunk {
                    body: &self.bytes[body],
                    start,
                    cut: end > self.bytes.len(),
                    open: !sure,
                });
            }
            if sure && is_name(rest) {
                self.at = end;
                continue;
            }
            let found = rest.windows(4).position(|four| four == b"MTrk").unwrap_or(rest.len());
            self.skipped += found;
            self.at += found;
        }
    }

    /// Goes on from a place in the file, behind a track of open length.
    pub(super) fn resume(&mut self, at: usize) {
        self.at = at;
    }
}

/// A place where a chunk may end: the file's end, or before something that looks like a chunk.
fn is_chunk_end(bytes: &[u8], end: usize) -> bool {
    match bytes.get(end..) {
        None => false,
        Some([]) => true,
        Some(rest) => rest.len() >= 8 && is_name(rest),
    }
}

/// Chunk names are four printable ASCII characters.
fn is_name(rest: &[u8]) -> bool {
    rest.len() >= 4 && rest[..4].iter().all(|byte| (0x20..0x7F).contains(byte))
}

/// Checked here and not left to the event parser, which does not expect a frame rate of -128.
fn clock(division: u16) -> Option<Clock> {
    let [high, low] = division.to_be_bytes();
    match (high < 0x80, low) {
        (true, _) => (division > 0).then(|| Clock::quarters(division)),
        (false, 0) => None,
        (false, ticks) => Clock::seconds(high.wrapping_neg(), ticks),
    }
}

fn unwrapped(bytes: &[u8]) -> &[u8] {
    if !(bytes.starts_with(b"RIFF") && bytes.get(8..12) == Some(b"RMID")) {
        return bytes;
    }
    let mut at = 12usize;
    // RIFF lengths are little-endian, and an odd body has a pad byte behind it.
    while let Some(told) = u32_at(bytes, at + 4) {
        let (start, told) = (at + 8, told.swap_bytes() as usize);
        let end = start.saturating_add(told).min(bytes.len());
        if bytes[at..].starts_with(b"data") {
            return &bytes[start..end];
        }
        at = end.saturating_add(told % 2);
    }
    bytes
}

fn u32_at(bytes: &[u8], at: usize) -> Option<u32> {
    let four = bytes.get(at..)?.first_chunk::<4>()?;
    Some(u32::from_be_bytes(*four))
}

fn u16_at(bytes: &[u8], at: usize) -> Option<u16> {
    let two = bytes.get(at..)?.first_chunk::<2>()?;
    Some(u16::from_be_bytes(*two))
}
