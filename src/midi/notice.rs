//! What was odd about a file that could be read all the same.

use std::fmt;

/// Something odd that the reader worked round. Displays as one sentence without its full stop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Notice {
    /// The file ends within a track; what came before is read.
    CutShort {
        /// The track, counted from 1.
        track: usize,
    },
    /// Bytes outside of any chunk were skipped.
    Skipped {
        /// How many.
        bytes: usize,
    },
    /// Notes that nothing ended; they were ended at their track's end.
    Hanging {
        /// The track, counted from 1.
        track: usize,
        /// How many.
        notes: usize,
    },
    /// The header tells another number of tracks than there are.
    Tracks {
        /// What the header tells.
        told: usize,
        /// How many there are.
        found: usize,
    },
    /// Tempo and metre marks that make no sense, such as a metre of 0 counts, were left out.
    Senseless {
        /// How many.
        marks: usize,
    },
}

impl fmt::Display for Notice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Notice::CutShort { track } => {
                write!(
                    f,
                    "the MIDI file breaks off within track {track}; what came before is read"
                )
            }
            Notice::Skipped { bytes: 1 } => f.write_str("1 byte between the MIDI file's chunks was skipped"),
            Notice::Skipped { bytes } => write!(f, "{bytes} bytes between the MIDI file's chunks were skipped"),
            Notice::Hanging { track, notes: 1 } => {
                write!(f, "1 note of track {track} is never let go; it ends with the track")
            }
            Notice::Hanging { track, notes } => {
                write!(
                    f,
                    "{notes} notes of track {track} are never let go; they end with the track"
                )
            }
            Notice::Tracks { told, found } => {
                write!(
                    f,
                    "the MIDI file's header announces {told} tracks, the file has {found}"
                )
            }
            Notice::Senseless { marks } => {
                write!(
                    f,
                    "{marks} tempo or metre marks of the MIDI file make no sense and are left out"
                )
            }
        }
    }
}
