//! Notes whose pitch moves, each on a channel of its own: the upper zone of MIDI Polyphonic Expression (M1-100-UM, MIDI
//! Association).
//!
//! Channel 16 manages the zone; its members go down from channel 15. Their number is told by RPN 6 on the manager's channel,
//! how far a pitch bend reaches by RPN 0 on each member's.

use midly::MidiMessage;
use midly::num::{u7, u14};

use super::percussion::PERCUSSION_CHANNEL;
use super::song::{BentNote, MidiSong};

/// The channel that manages the upper zone.
pub(super) const UPPER: u8 = 15;
/// The channel that manages the lower zone.
const LOWER: u8 = 0;
/// The furthest that a bend can be told to reach, in semitones: the standard's own limit.
const FURTHEST: f64 = 96.0;
/// The middle of a bend's 14 bits: no bend.
const MIDDLE: f64 = 8192.0;
/// RPN 0: how far a pitch bend reaches.
const REACH: u8 = 0;
/// RPN 6: how many members a zone has.
const MEMBERS: u8 = 6;
/// No RPN: what is told next is no parameter.
const NO_PARAMETER: u8 = 127;

/// The zone of a song, and the channel of each bent note.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Zone {
    /// How many channels are its members.
    pub members: u8,
    /// How far a bend reaches, in semitones.
    reach: u8,
    /// A channel for each bent note of each part, where one was free.
    pub channels: Vec<Vec<Option<Voice>>>,
}

/// A member's channel for one note.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Voice {
    pub channel: u8,
    /// The program that the note's part asks for, where the channel has not got it from the note before.
    pub program: Option<u8>,
}

impl Zone {
    /// The zone that a song needs, where its parts leave room for one beside the channels that are taken.
    pub(super) fn of(song: &MidiSong, taken: &[u8]) -> Zone {
        let mut zone = Zone {
            channels: song.parts.iter().map(|part| vec![None; part.bent.len()]).collect(),
            ..Zone::default()
        };
        if taken.contains(&UPPER) {
            return zone;
        }
        let free = (PERCUSSION_CHANNEL + 1..UPPER)
            .rev()
            .take_while(|channel| !taken.contains(channel));
        let free: Vec<u8> = free.collect();
        let mut notes: Vec<(usize, usize, &BentNote)> = Vec::new();
        for (part, written) in song.parts.iter().enumerate() {
            notes.extend(
                written
                    .bent
                    .iter()
                    .enumerate()
                    .map(|(number, bent)| (part, number, bent)),
            );
        }
        notes.sort_by_key(|(.., bent)| (bent.note.start, bent.note.key));
        let members = free.len().min(together(&notes));
        // Where each member's last note ended.
        let mut ended = vec![0u64; members];
        let mut programs: Vec<Option<u8>> = vec![None; members];
        let mut widest: f64 = 0.0;
        for (part, number, bent) in notes {
            let start = bent.note.start;
            // The one that is free the longest, so that what rings on is not bent.
            let longest = (0..members)
                .filter(|member| ended[*member] <= start)
                .min_by_key(|member| ended[*member]);
            let Some(member) = longest else { continue };
            ended[member] = start.saturating_add(bent.note.length.max(1));
            let program = song.parts[part].program;
            zone.channels[part][number] = Some(Voice {
                channel: free[member],
                program: program.filter(|_| programs[member] != program),
            });
            programs[member] = program.or(programs[member]);
            widest = bent.bend.iter().fold(widest, |widest, (_, far)| widest.max(far.abs()));
        }
        zone.members = members as u8;
        zone.reach = libm::ceil(widest).clamp(1.0, FURTHEST) as u8;
        zone
    }

    /// How many bent notes found no channel.
    pub(super) fn left_out(&self) -> usize {
        self.channels
            .iter()
            .flatten()
            .filter(|channel| channel.is_none())
            .count()
    }

    /// What says that there is a zone, and how far its bends reach: channels and messages, in order.
    pub(super) fn opening(&self) -> Vec<(u8, MidiMessage)> {
        if self.members == 0 {
            return Vec::new();
        }
        let mut messages = parameter(UPPER, MEMBERS, self.members);
        for member in (UPPER - self.members..UPPER).rev() {
            messages.extend(parameter(member, REACH, self.reach));
        }
        messages
    }

    /// A bend by so many semitones.
    pub(super) fn bend(&self, semitones: f64) -> MidiMessage {
        let value = libm::round(MIDDLE + MIDDLE * semitones / f64::from(self.reach));
        let bend = midly::PitchBend(u14::new(value.clamp(0.0, 2.0 * MIDDLE - 1.0) as u16));
        MidiMessage::PitchBend { bend }
    }
}

/// How many notes of a list by start sound at once at the most.
fn together(notes: &[(usize, usize, &BentNote)]) -> usize {
    let ends = |bent: &BentNote| bent.note.start.saturating_add(bent.note.length.max(1));
    let mut sounding: Vec<u64> = Vec::new();
    let mut most = 0;
    for (.., bent) in notes {
        sounding.retain(|end| *end > bent.note.start);
        sounding.push(ends(bent));
        most = most.max(sounding.len());
    }
    most
}

/// A registered parameter and its value, and that nothing more is told of it.
fn parameter(channel: u8, number: u8, value: u8) -> Vec<(u8, MidiMessage)> {
    let told = [
        (101, 0),
        (100, number),
        (6, value),
        (38, 0),
        (101, NO_PARAMETER),
        (100, NO_PARAMETER),
    ];
    let message = |(controller, value): (u8, u8)| {
        let (controller, value) = (u7::new(controller), u7::new(value));
        (channel, MidiMessage::Controller { controller, value })
    };
    told.into_iter().map(message).collect()
}

/// The zones that a file tells of, while it is read.
#[derive(Debug, Clone, Default)]
pub(super) struct Zones {
    /// The parameter that each channel was last told of, its upper and its lower half.
    parameters: [(u8, u8); 16],
    /// Members of the lower and of the upper zone.
    lower: u8,
    upper: u8,
}

impl Zones {
    /// No zones yet, and no parameter told.
    pub(super) fn new() -> Zones {
        Zones {
            parameters: [(NO_PARAMETER, NO_PARAMETER); 16],
            ..Zones::default()
        }
    }

    /// Takes in a controller's value.
    pub(super) fn controller(&mut self, channel: u8, controller: u8, value: u8) {
        let parameter = &mut self.parameters[usize::from(channel & 15)];
        match (controller, *parameter, channel) {
            (101, ..) => parameter.0 = value,
            (100, ..) => parameter.1 = value,
            (6, (0, MEMBERS), LOWER) => self.lower = value.min(15),
            (6, (0, MEMBERS), UPPER) => self.upper = value.min(15),
            _ => {}
        }
    }

    /// The channel that manages the zone of a member; none for a channel that is no member.
    pub(super) fn manager(&self, channel: u8) -> Option<u8> {
        if (1..=self.lower).contains(&channel) {
            return Some(LOWER);
        }
        (UPPER - self.upper..UPPER).contains(&channel).then_some(UPPER)
    }
}
