//! Why a Standard MIDI File can't be read, as sentences for the person.

use std::fmt;

use crate::files::Refused;

/// Why a file can't be read as a Standard MIDI File.
///
/// Each displays as one sentence without its full stop that does not name the file; whoever shows it puts the path
/// before it.
#[derive(Debug)]
pub enum MidiError {
    /// It is no regular file of at most 16 MiB.
    Refused(Refused),
    /// Longer than 64 MiB.
    TooLong,
    /// Something else than a Standard MIDI File.
    Foreign,
    /// The file ends within its header.
    CutShort,
    /// A format that is not read here: 2, or a number that the standard doesn't know.
    Format(u16),
    /// A division of time that can't be understood, with its 16 bits.
    Division(u16),
    /// A header and no track.
    NoTracks,
    /// Bytes that are no MIDI event, with the track's number from 1 and the byte's place in the file from 0.
    NoEvent {
        /// The track, counted from 1.
        track: usize,
        /// The byte's place in the file, counted from 0.
        byte: usize,
    },
    /// More of something than is kept.
    TooMany {
        /// Of what, in the plural.
        what: &'static str,
        /// The most that is read.
        most: usize,
    },
}

impl fmt::Display for MidiError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            MidiError::Refused(refused) => write!(f, "this {refused}"),
            MidiError::TooLong => f.write_str("the file is longer than 16 MiB, too long for a performance"),
            MidiError::Foreign => f.write_str("this is not a Standard MIDI File: it does not begin with `MThd`"),
            MidiError::CutShort => f.write_str("the MIDI file breaks off within its header"),
            MidiError::Format(2) => f.write_str(
                "the MIDI file is of format 2, a set of separate patterns; save the one you want as format 0 or 1",
            ),
            MidiError::Format(other) => write!(
                f,
                "the MIDI file says that it is of format {other}; pressroll reads formats 0 and 1"
            ),
            MidiError::Division(0) => f.write_str("the MIDI file says that a quarter note has 0 ticks"),
            MidiError::Division(bits) => write!(
                f,
                "the MIDI file divides its time in a way that the standard doesn't know (division {bits:04X} in hexadecimal)"
            ),
            MidiError::NoTracks => f.write_str("the MIDI file has a header but no track"),
            MidiError::NoEvent { track, byte } => write!(
                f,
                "track {track} of the MIDI file holds bytes that are no MIDI event, from byte {byte} of the file on"
            ),
            MidiError::TooMany { what, most } => write!(f, "the MIDI file holds more than {most} {what}"),
        }
    }
}

impl std::error::Error for MidiError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            MidiError::Refused(refused) => Some(refused),
            _ => None,
        }
    }
}

impl From<Refused> for MidiError {
    fn from(refused: Refused) -> MidiError {
        MidiError::Refused(refused)
    }
}
