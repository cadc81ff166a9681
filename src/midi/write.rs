//! Writing: a song's parts become a file of format 1, the first track for tempo and metre, then a track a part.

use std::io::{self, Write};

use midly::num::{u4, u7, u15, u24, u28};
use midly::{Format, Header, MetaMessage, MidiMessage, Timing, TrackEvent, TrackEventKind};

use super::clock::Metre;
use super::names;
use super::percussion::PERCUSSION_CHANNEL;
use super::song::{BentNote, MidiNote, MidiPart, MidiSong, PERCUSSION_TICKS, TICKS_A_QUARTER};
use super::zone::{UPPER, Voice, Zone};

/// The velocity of note-offs: the standard's value for keyboards that don't sense it (MIDI 1.0).
const RELEASE_VELOCITY: u8 = 64;

/// Writes a song as a Standard MIDI File of format 1.
///
/// A key sounds once at a time: a note ends where its key is struck again, and of notes that start together on one key
/// the last in the list is written. A note is a tick long at least. At one tick, notes end before others start; within
/// that they go by key.
///
/// # Errors
/// When the sink fails, or the song holds what a file can't: a key or velocity out of its range, a metre whose upper
/// figure is not 1 to 255 or whose lower is no power of two up to 128, a tempo out of 1 to 16,777,215 microseconds, more than
/// seven sharps or flats, 268,435,455 ticks or more without an event, more than 65,534 parts.
pub fn write(song: &MidiSong, out: &mut impl Write) -> io::Result<()> {
    write_remarked(song, "", out)
}

/// The same with words of its own in a text event (FF 01) behind the title; none where they are empty.
///
/// # Errors
/// As [`write`].
pub fn write_remarked(song: &MidiSong, remark: &str, out: &mut impl Write) -> io::Result<()> {
    let told = song.pieces.as_deref().map(names::texts).unwrap_or_default();
    let mut tracks = vec![conductor(song, remark, &told)?];
    let own = |part: &MidiPart| part.channel.filter(|channel| !part.percussion && *channel < 16);
    let mut taken: Vec<u8> = song.parts.iter().filter_map(own).collect();
    let zone = Zone::of(song, &taken);
    if zone.members > 0 {
        taken.extend(UPPER - zone.members..=UPPER);
    }
    let mut opening = Some(zone.opening());
    let mut in_turn = turns(&taken);
    let mut asked: Vec<u8> = Vec::new();
    for (number, part) in song.parts.iter().enumerate() {
        let channel = match (part.percussion, own(part)) {
            (true, _) => PERCUSSION_CHANNEL,
            (false, Some(channel)) => channel,
            (false, None) => in_turn.next().unwrap_or(0),
        };
        let mut opening = opening.take_if(|_| !part.bent.is_empty()).unwrap_or_default();
        // A channel that parts share has the sound of the first of them.
        if let Some(program) = part.program.filter(|_| !part.percussion && !asked.contains(&channel)) {
            let program = u7::new(program & 127);
            if !opening.is_empty() {
                // What a zone's manager is told holds for its members where they know of zones.
                opening.push((UPPER, MidiMessage::ProgramChange { program }));
            }
            opening.push((channel, MidiMessage::ProgramChange { program }));
            asked.push(channel);
        }
        let voices = Voices {
            zone: &zone,
            opening,
            bent: zone.channels[number].iter().copied().zip(&part.bent).collect(),
        };
        tracks.push(part_track(part, channel, voices, song.length)?);
    }
    let header = Header::new(Format::Parallel, Timing::Metrical(u15::new(TICKS_A_QUARTER)));
    midly::write_std(&header, &tracks, out)
}

/// How many notes of a song whose pitch moves are written unbent, since no channel is free for them.
pub fn unbent(song: &MidiSong) -> usize {
    let own = |part: &MidiPart| part.channel.filter(|channel| !part.percussion && *channel < 16);
    let taken: Vec<u8> = song.parts.iter().filter_map(own).collect();
    Zone::of(song, &taken).left_out()
}

/// The channels of parts that are no percussion, one after another: 0 to 8 and 10 to 15, then again, without those that
/// are taken unless all are.
fn turns(taken: &[u8]) -> impl Iterator<Item = u8> {
    let all: Vec<u8> = (0..16).filter(|channel| *channel != PERCUSSION_CHANNEL).collect();
    let free: Vec<u8> = all.iter().copied().filter(|channel| !taken.contains(channel)).collect();
    if free.is_empty() { all } else { free }.into_iter().cycle()
}

/// The first track: the title, who made it (`remark`), what its keys are (`told`), then what changes along the song.
fn conductor<'a>(song: &'a MidiSong, remark: &'a str, told: &'a [String]) -> io::Result<Vec<TrackEvent<'a>>> {
    let mut events = vec![(0, TrackEventKind::Meta(MetaMessage::TrackName(song.title.as_bytes())))];
    if !remark.is_empty() {
        events.push((0, TrackEventKind::Meta(MetaMessage::Text(remark.as_bytes()))));
    }
    let text = |text: &'a String| (0, TrackEventKind::Meta(MetaMessage::Text(text.as_bytes())));
    events.extend(told.iter().map(text));
    let mut marks = Vec::new();
    for (at, section) in &song.sections {
        marks.push((*at, MetaMessage::Marker(section.as_bytes())));
    }
    for tempo in &song.tempos {
        if !(1..=0xFF_FFFF).contains(&tempo.micros) {
            return Err(refused(format!(
                "a tempo of {} microseconds a quarter note",
                tempo.micros
            )));
        }
        marks.push((tempo.at, MetaMessage::Tempo(u24::new(tempo.micros))));
    }
    for metre in &song.metres {
        marks.push((metre.at, time_signature(metre)?));
    }
    for key in &song.keys {
        if !(-7..=7).contains(&key.sharps) {
            return Err(refused(format!("a key signature of {} sharps", key.sharps)));
        }
        marks.push((key.at, MetaMessage::KeySignature(key.sharps, key.minor)));
    }
    for (at, chord) in &song.chords {
        marks.push((*at, MetaMessage::Text(chord.as_bytes())));
    }
    marks.sort_by_key(|(at, _)| *at);
    events.extend(marks.into_iter().map(|(at, mark)| (at, TrackEventKind::Meta(mark))));
    track(events, song.length)
}

/// The metre's bytes. The metronome clicks on the beat: three units in compound metres, else one; in MIDI clocks, 24 a
/// quarter note. So 6/8 is 06 03 24 08 (hexadecimal), as in the standard's own example.
fn time_signature(metre: &Metre) -> io::Result<MetaMessage<'static>> {
    let refuse = || refused(format!("a metre of {}/{}", metre.counts, metre.unit));
    let counts = u8::try_from(metre.counts).map_err(|_| refuse())?;
    if counts == 0 || !metre.unit.is_power_of_two() || metre.unit > 128 {
        return Err(refuse());
    }
    let compound = metre.unit >= 8 && counts > 3 && counts.is_multiple_of(3);
    let click = (96 * if compound { 3 } else { 1 } / metre.unit).max(1);
    let power = metre.unit.trailing_zeros();
    Ok(MetaMessage::TimeSignature(counts, power as u8, click as u8, 8))
}

/// What a track's messages are sorted by, at one tick: notes end, then sounds change and bends move, then notes start; within that by key.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Turn {
    Ends,
    Bends,
    Starts,
}

/// The bent notes of a part.
struct Voices<'a> {
    zone: &'a Zone,
    /// What tells of the zone, in the first track that has bent notes.
    opening: Vec<(u8, MidiMessage)>,
    /// Each note with the channel that was free for it.
    bent: Vec<(Option<Voice>, &'a BentNote)>,
}

/// A part's track. Its bent notes stand on channels of the zone; that they are the part's own is told by the channel that its
/// opening names (FF 20, Standard MIDI Files 1.0).
fn part_track<'a>(
    part: &'a MidiPart,
    channel: u8,
    Voices { zone, opening, bent }: Voices<'a>,
    length: u64,
) -> io::Result<Vec<TrackEvent<'a>>> {
    let mut marks = Vec::with_capacity(2 * part.notes.len());
    let mut notes = part.notes.clone();
    notes.extend(bent.iter().filter(|(own, _)| own.is_none()).map(|(_, bent)| bent.note));
    let plain = one_at_a_time(&notes, part.percussion)?
        .into_iter()
        .map(|note| (channel, note));
    let mut moving = Vec::new();
    for (own, BentNote { note, bend }) in &bent {
        let Some(Voice { channel: own, program }) = *own else {
            continue;
        };
        if let Some(program) = program {
            let program = MidiMessage::ProgramChange {
                program: u7::new(program & 127),
            };
            marks.push((note.start, Turn::Bends, note.key, own, program));
        }
        moving.extend(
            one_at_a_time(std::slice::from_ref(note), false)?
                .into_iter()
                .map(|note| (own, note)),
        );
        for (after, semitones) in bend.iter().filter(|(after, _)| *after < note.length.max(1)) {
            let message = zone.bend(*semitones);
            marks.push((note.start.saturating_add(*after), Turn::Bends, note.key, own, message));
        }
    }
    for (channel, note) in plain.chain(moving) {
        let (key, velocity) = (u7::new(note.key), u7::new(note.velocity));
        let on = MidiMessage::NoteOn { key, vel: velocity };
        let off = MidiMessage::NoteOff {
            key,
            vel: u7::new(RELEASE_VELOCITY),
        };
        marks.push((note.start, Turn::Starts, note.key, channel, on));
        marks.push((
            note.start.saturating_add(note.length),
            Turn::Ends,
            note.key,
            channel,
            off,
        ));
    }
    marks.sort_by_key(|(at, turn, key, ..)| (*at, *turn, *key));
    let mut events = vec![(0, TrackEventKind::Meta(MetaMessage::TrackName(part.name.as_bytes())))];
    if bent.iter().any(|(own, _)| own.is_some()) {
        events.push((0, TrackEventKind::Meta(MetaMessage::MidiChannel(u4::new(channel)))));
    }
    let opening = opening.into_iter().map(|(channel, message)| (0, channel, message));
    let marks = marks
        .into_iter()
        .map(|(at, _, _, channel, message)| (at, channel, message));
    events.extend(opening.chain(marks).map(|(at, channel, message)| {
        let channel = u4::new(channel);
        (at, TrackEventKind::Midi { channel, message })
    }));
    track(events, length)
}

/// The notes as a keyboard can play them, by key and start.
fn one_at_a_time(notes: &[MidiNote], percussion: bool) -> io::Result<Vec<MidiNote>> {
    let mut notes = notes.to_vec();
    notes.sort_by_key(|note| (note.key, note.start));
    let mut kept: Vec<MidiNote> = Vec::with_capacity(notes.len());
    for mut note in notes {
        if note.key > 127 || !(1..=127).contains(&note.velocity) {
            let what = format!("a note of key {} and velocity {}", note.key, note.velocity);
            return Err(refused(what));
        }
        let most = if percussion { PERCUSSION_TICKS } else { u64::MAX };
        note.length = note.length.clamp(1, most);
        match kept.last_mut() {
            Some(before) if before.key == note.key && before.start == note.start => *before = note,
            Some(before) if before.key == note.key => {
                before.length = before.length.min(note.start - before.start);
                kept.push(note);
            }
            _ => kept.push(note),
        }
    }
    Ok(kept)
}

/// Turns places, in order, into delta times, and ends the track.
fn track(events: Vec<(u64, TrackEventKind<'_>)>, length: u64) -> io::Result<Vec<TrackEvent<'_>>> {
    let end = events.last().map_or(length, |(at, _)| length.max(*at));
    let mut before = 0;
    let ending = (end, TrackEventKind::Meta(MetaMessage::EndOfTrack));
    let with_delta = |(at, kind): (u64, _)| {
        let delta = u32::try_from(at - before).ok().and_then(u28::try_from);
        let delta = delta.ok_or_else(|| refused(format!("{} ticks without an event", at - before)))?;
        before = at;
        Ok(TrackEvent { delta, kind })
    };
    events.into_iter().chain([ending]).map(with_delta).collect()
}

fn refused(what: String) -> io::Error {
    io::Error::new(io::ErrorKind::InvalidInput, format!("a MIDI file can't hold {what}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn channels_go_round_past_percussion() {
        let channels: Vec<u8> = turns(&[]).take(16).collect();
        assert_eq!(channels, [0, 1, 2, 3, 4, 5, 6, 7, 8, 10, 11, 12, 13, 14, 15, 0]);
        assert_eq!(turns(&[0, 2]).take(3).collect::<Vec<_>>(), [1, 3, 4]);
    }

    #[test]
    fn a_click_is_a_beat() {
        let click = |counts, unit| match time_signature(&Metre { at: 0, counts, unit }) {
            Ok(MetaMessage::TimeSignature(n, d, click, thirty_seconds)) => (n, d, click, thirty_seconds),
            other => panic!("{other:?}"),
        };
        // Standard MIDI Files 1.0: 6/8 is 06 03 24 08; 4/4 is 04 02 18 08.
        assert_eq!(click(6, 8), (6, 3, 0x24, 8));
        assert_eq!(click(4, 4), (4, 2, 0x18, 8));
        assert_eq!(click(7, 8), (7, 3, 12, 8));
        assert_eq!(click(2, 2), (2, 1, 48, 8));
        assert!(
            time_signature(&Metre {
                at: 0,
                counts: 256,
                unit: 4
            })
            .is_err()
        );
        assert!(
            time_signature(&Metre {
                at: 0,
                counts: 4,
                unit: 6
            })
            .is_err()
        );
    }

    #[test]
    fn a_key_sounds_once_at_a_time() {
        let note = |start, length, velocity| MidiNote {
            start,
            length,
            key: 60,
            velocity,
        };
        let played = one_at_a_time(&[note(0, 100, 80), note(50, 0, 80), note(0, 70, 90)], false).unwrap();
        assert_eq!(played, [note(0, 50, 90), note(50, 1, 80)]);
        let struck = one_at_a_time(&[note(0, 5000, 80), note(40, 5000, 80)], true).unwrap();
        assert_eq!(struck, [note(0, 40, 80), note(40, PERCUSSION_TICKS, 80)]);
    }
}
