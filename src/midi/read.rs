//! Reading: a file's bytes become tracks of notes.
//!
//! Events are parsed lazily, one at a time; what is kept is bounded by [`MOST_NOTES`] and its like, whatever the file
//! says.

use std::path::Path;

use midly::{EventIter, MetaMessage, MidiMessage, TrackEvent, TrackEventKind};

use super::chunks::{Chunks, TrackChunk};
use super::clock::{Clock, Metre, Tempo};
use super::error::MidiError;
use super::keyboard::Keyboard;
use super::names;
use super::notice::Notice;
use super::performance::{Note, Performance, Track};
use super::zone::Zones;
use crate::files;

/// The longest file that is read, in bytes.
pub const MOST_BYTES: u64 = 16 << 20;
/// The most events that are read.
pub const MOST_EVENTS: usize = 5_000_000;
/// The most notes that are kept.
pub const MOST_NOTES: usize = 500_000;
/// The most changes of tempo, and of metre, that are kept.
const MOST_CHANGES: usize = 100_000;
/// A header counts tracks in 16 bits.
const MOST_TRACKS: usize = 65_535;
/// Longer track names are cut, in characters.
const LONGEST_NAME: usize = 256;

/// Reads a Standard MIDI File of format 0 or 1.
///
/// # Errors
/// When it is no such file, holds bytes that are no MIDI event, or is longer than 16 MiB, 5 million events or half a
/// million notes. A file that breaks off, or has no end-of-track, or notes that nothing ends, is read with a
/// [`Notice`].
pub fn read(path: impl AsRef<Path>) -> Result<Performance, MidiError> {
    from_bytes(&files::read(path.as_ref(), MOST_BYTES)?)
}

/// Reads a Standard MIDI File that is in memory already, as [`read`] does.
///
/// # Errors
/// As for [`read`].
pub fn from_bytes(bytes: &[u8]) -> Result<Performance, MidiError> {
    if bytes.len() as u64 > MOST_BYTES {
        return Err(MidiError::TooLong);
    }
    let (header, mut chunks) = Chunks::open(bytes)?;
    let mut reader = EventReader::new(header.clock);
    while let Some(chunk) = chunks.next_track() {
        limit("tracks", reader.performance.tracks.len(), MOST_TRACKS)?;
        let read = reader.track(&chunk)?;
        if chunk.open {
            chunks.resume(chunk.start + read);
        }
    }
    reader.finish(header.tracks, chunks.skipped)
}

/// The first text event (FF 01) among the meta events that open the first track. The file may break off behind it.
pub fn remark(bytes: &[u8]) -> Option<String> {
    let (_, mut chunks) = Chunks::open(bytes).ok()?;
    let mut events = Events::new(chunks.next_track()?.body);
    while let Next::Event(event) = events.next() {
        match event.kind {
            TrackEventKind::Meta(MetaMessage::Text(bytes)) => return Some(name(bytes)),
            TrackEventKind::Meta(_) => {}
            _ => break,
        }
    }
    None
}

/// Fails when one more would be too many.
fn limit(what: &'static str, have: usize, most: usize) -> Result<(), MidiError> {
    match have < most {
        true => Ok(()),
        false => Err(MidiError::TooMany { what, most }),
    }
}

struct EventReader {
    performance: Performance,
    keyboard: Keyboard,
    events: usize,
    notes: usize,
    senseless: usize,
    zones: Zones,
    /// The channel that each track says its own is, where it says so.
    own: Vec<Option<u8>>,
}

impl EventReader {
    fn new(clock: Clock) -> EventReader {
        EventReader {
            performance: Performance {
                clock,
                tracks: Vec::new(),
                tempos: Vec::new(),
                metres: Vec::new(),
                pieces: None,
                notices: Vec::new(),
            },
            keyboard: Keyboard::new(),
            events: 0,
            notes: 0,
            senseless: 0,
            zones: Zones::new(),
            own: Vec::new(),
        }
    }

    /// Reads one track; gives how many of the chunk's bytes it took.
    fn track(&mut self, chunk: &TrackChunk) -> Result<usize, MidiError> {
        let number = self.performance.tracks.len() + 1;
        let mut track = Track::default();
        self.own.push(None);
        let mut events = Events::new(chunk.body);
        let mut ended = false;
        while !ended {
            let event = match events.next() {
                Next::Event(event) => event,
                Next::Nothing => break,
                // The last event of a file that breaks off is a torn one.
                Next::Damage { left, .. } if chunk.cut && left <= LONGEST_TORN => break,
                Next::Damage { left, .. } => {
                    let byte = chunk.start + chunk.body.len() - left;
                    return Err(MidiError::NoEvent { track: number, byte });
                }
            };
            limit("events", self.events, MOST_EVENTS)?;
            self.events += 1;
            track.end += u64::from(event.delta.as_int());
            match event.kind {
                TrackEventKind::Midi { channel, message } => self.message(&mut track, channel.as_int(), message)?,
                TrackEventKind::Meta(MetaMessage::EndOfTrack) => ended = true,
                TrackEventKind::Meta(meta) => self.meta(&mut track, meta)?,
                TrackEventKind::SysEx(_) | TrackEventKind::Escape(_) => {}
            }
        }
        if chunk.cut && !ended {
            self.performance.notices.push(Notice::CutShort { track: number });
        }
        let hanging = self.keyboard.finish(&mut track.notes, track.end);
        if hanging > 0 {
            let notice = Notice::Hanging {
                track: number,
                notes: hanging,
            };
            self.performance.notices.push(notice);
        }
        track.notes.shrink_to_fit();
        self.performance.tracks.push(track);
        Ok(chunk.body.len() - events.left())
    }

    fn message(&mut self, track: &mut Track, channel: u8, message: MidiMessage) -> Result<(), MidiError> {
        let (notes, at) = (&mut track.notes, track.end);
        match message {
            MidiMessage::NoteOn { key, vel } if vel > 0 => {
                limit("notes", self.notes, MOST_NOTES)?;
                self.notes += 1;
                let note = Note {
                    start: at,
                    length: 0,
                    key: key.as_int(),
                    velocity: vel.as_int(),
                    channel,
                };
                self.keyboard.strike(notes, note);
            }
            MidiMessage::NoteOn { key, .. } | MidiMessage::NoteOff { key, .. } => {
                self.keyboard.release(notes, channel, key.as_int(), at);
            }
            MidiMessage::Controller { controller, value } => match controller.as_int() {
                6 | 100 | 101 => self.zones.controller(channel, controller.as_int(), value.as_int()),
                64 => self.keyboard.pedal(notes, channel, value >= 64, at),
                121 => self.keyboard.pedal(notes, channel, false, at),
                120 | 123..=127 => {
                    self.keyboard.hush(notes, channel, at);
                }
                _ => {}
            },
            _ => {}
        }
        Ok(())
    }

    fn meta(&mut self, track: &mut Track, meta: MetaMessage) -> Result<(), MidiError> {
        let at = track.end;
        match meta {
            MetaMessage::Text(bytes) if at == 0 && self.performance.tracks.is_empty() => {
                if let Ok(text) = std::str::from_utf8(bytes) {
                    names::take(text, &mut self.performance.pieces);
                }
            }
            MetaMessage::TrackName(bytes) if track.name.is_empty() => track.name = name(bytes),
            MetaMessage::MidiChannel(channel) => {
                self.own.last_mut().map(|own| own.get_or_insert(channel.as_int()));
            }
            MetaMessage::Tempo(micros) if micros > 0 => {
                limit("changes of tempo", self.performance.tempos.len(), MOST_CHANGES)?;
                let micros = micros.as_int();
                self.performance.tempos.push(Tempo { at, micros });
            }
            // The lower figure is told as a power of two; 2^7 is more than any print shows.
            MetaMessage::TimeSignature(counts, power, ..) if counts > 0 && power <= 7 => {
                limit("changes of metre", self.performance.metres.len(), MOST_CHANGES)?;
                let (counts, unit) = (u32::from(counts), 1 << power);
                self.performance.metres.push(Metre { at, counts, unit });
            }
            MetaMessage::Tempo(_) | MetaMessage::TimeSignature(..) => self.senseless += 1,
            _ => {}
        }
        Ok(())
    }

    fn finish(mut self, told: usize, skipped: usize) -> Result<Performance, MidiError> {
        let performance = &mut self.performance;
        let found = performance.tracks.len();
        if found == 0 {
            return Err(MidiError::NoTracks);
        }
        // A zone is one instrument, whose voices have a channel each.
        for (track, own) in performance.tracks.iter_mut().zip(&self.own) {
            for note in &mut track.notes {
                let manager = self.zones.manager(note.channel);
                note.channel = manager.map_or(note.channel, |manager| own.unwrap_or(manager));
            }
        }
        // Stable: of two marks at one place the later in the file stays the later.
        performance.tempos.sort_by_key(|tempo| tempo.at);
        performance.metres.sort_by_key(|metre| metre.at);
        if told != found {
            performance.notices.push(Notice::Tracks { told, found });
        }
        if skipped > 0 {
            performance.notices.push(Notice::Skipped { bytes: skipped });
        }
        if self.senseless > 0 {
            let marks = self.senseless;
            performance.notices.push(Notice::Senseless { marks });
        }
        Ok(self.performance)
    }
}

/// Bytes that a torn event leaves at the most: four of delta time, a status and two of data.
const LONGEST_TORN: usize = 7;

/// The events of a track, with the parser's strictness taken off where files in the field are laxer.
struct Events<'a> {
    parser: EventIter<'a>,
    /// The last status of a channel message: some writers let it run on across meta events, which the standard forbids.
    status: Option<u8>,
}

enum Next<'a> {
    Event(TrackEvent<'a>),
    Nothing,
    /// No event, with so many bytes left.
    Damage {
        left: usize,
    },
}

impl<'a> Events<'a> {
    fn new(body: &'a [u8]) -> Events<'a> {
        Events {
            parser: EventIter::new(body),
            status: None,
        }
    }

    fn left(&self) -> usize {
        self.parser.unread().len()
    }

    fn next(&mut self) -> Next<'a> {
        loop {
            let before = self.parser.unread();
            if before.is_empty() {
                return Next::Nothing;
            }
            *self.parser.running_status_mut() = self.status;
            if let Some(Ok(event)) = self.parser.next() {
                self.status = self.parser.running_status().or(self.status);
                return Next::Event(event);
            }
            match behind_meta(before) {
                Some(rest) => self.parser = EventIter::new(rest),
                None => return Next::Damage { left: before.len() },
            }
        }
    }
}

/// What stands behind a meta event that the parser refuses, such as an SMPTE offset of 31 frames: its bytes may be
/// senseless, but its length is told. Its delta time must be 0, or the times behind it would not be known.
fn behind_meta(bytes: &[u8]) -> Option<&[u8]> {
    match bytes {
        [0, 0xFF, _, length @ 0..=0x7F, rest @ ..] => rest.get(usize::from(*length)..),
        _ => None,
    }
}

fn name(bytes: &[u8]) -> String {
    let bytes = &bytes[..bytes.len().min(4 * LONGEST_NAME)];
    let text = match std::str::from_utf8(bytes) {
        Ok(text) => text.to_string(),
        Err(error) if error.error_len().is_none() => {
            String::from_utf8_lossy(&bytes[..error.valid_up_to()]).into_owned()
        }
        Err(_) => bytes.iter().map(|byte| char::from(*byte)).collect(),
    };
    let printable: String = text.chars().filter(|c| !c.is_control()).take(LONGEST_NAME).collect();
    printable.trim().to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_utf8_or_else_latin_1() {
        assert_eq!(name("Möwe\0".as_bytes()), "Möwe");
        assert_eq!(name(b"M\xF6we "), "Möwe");
        assert_eq!(name(&[b'a'; 3000]).len(), LONGEST_NAME);
    }

    #[test]
    fn a_senseless_meta_event_is_stepped_over() {
        // An SMPTE offset of 99 hours, then a note-on.
        let body = [0, 0xFF, 0x54, 5, 0x1F, 99, 99, 99, 99, 0, 0x90, 60, 96];
        let mut events = Events::new(&body);
        assert!(matches!(
            events.next(),
            Next::Event(TrackEvent {
                kind: TrackEventKind::Midi { .. },
                ..
            })
        ));
        assert!(matches!(events.next(), Next::Nothing));
    }
}
