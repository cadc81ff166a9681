//! The keys that are down while a track is read: which strike belongs to which release.

use std::collections::VecDeque;

use super::percussion::PERCUSSION_CHANNEL;
use super::performance::Note;

const KEYS: usize = 128;
const CHANNELS: usize = 16;

/// Pairs strikes with releases, first in, first out where one key is struck again before it is let go.
///
/// The sustain pedal (controller 64, down from 64 on) lengthens notes as on a piano: a key that is let go while it is
/// down sounds on until the pedal goes up or the key is struck again. It does nothing on the percussion channel, whose
/// sounds end by themselves.
pub(super) struct Keyboard {
    /// Notes whose key is down, by channel and key, as indices into the track's notes.
    held: Vec<VecDeque<u32>>,
    /// Notes that the pedal alone keeps, likewise.
    kept: Vec<Vec<u32>>,
    /// How many of them each channel has, so that a pedal that keeps nothing costs nothing.
    kept_count: [usize; CHANNELS],
    /// True where a channel was struck since all its keys were let go at once.
    struck: [bool; CHANNELS],
    pedal: [bool; CHANNELS],
}

impl Keyboard {
    pub(super) fn new() -> Keyboard {
        Keyboard {
            held: vec![VecDeque::new(); CHANNELS * KEYS],
            kept: vec![Vec::new(); CHANNELS * KEYS],
            kept_count: [0; CHANNELS],
            struck: [false; CHANNELS],
            pedal: [false; CHANNELS],
        }
    }

    /// A key goes down; the note's length is open until it is let go.
    pub(super) fn strike(&mut self, notes: &mut Vec<Note>, note: Note) {
        let slot = slot(note.channel, note.key);
        self.drop_kept(notes, slot, note.start);
        self.held[slot].push_back(notes.len() as u32);
        self.struck[usize::from(note.channel)] = true;
        notes.push(note);
    }

    /// A key is let go. A release without a strike means nothing.
    pub(super) fn release(&mut self, notes: &mut [Note], channel: u8, key: u8, at: u64) {
        let slot = slot(channel, key);
        let Some(index) = self.held[slot].pop_front() else {
            return;
        };
        if self.pedal[usize::from(channel)] {
            self.kept[slot].push(index);
            self.kept_count[usize::from(channel)] += 1;
        } else {
            end(notes, index, at);
        }
    }

    /// The pedal of a channel moves.
    pub(super) fn pedal(&mut self, notes: &mut [Note], channel: u8, down: bool, at: u64) {
        let down = down && channel != PERCUSSION_CHANNEL;
        self.pedal[usize::from(channel)] = down;
        if !down && self.kept_count[usize::from(channel)] > 0 {
            for key in 0..KEYS as u8 {
                self.drop_kept(notes, slot(channel, key), at);
            }
        }
    }

    /// All keys of a channel are let go (controllers 120 and 123 to 127), whatever the pedal does; gives how many were
    /// down.
    pub(super) fn hush(&mut self, notes: &mut [Note], channel: u8, at: u64) -> usize {
        if !std::mem::take(&mut self.struck[usize::from(channel)]) {
            return 0;
        }
        let mut down = 0;
        for key in 0..KEYS as u8 {
            let slot = slot(channel, key);
            self.drop_kept(notes, slot, at);
            down += self.held[slot].len();
            while let Some(index) = self.held[slot].pop_front() {
                end(notes, index, at);
            }
        }
        down
    }

    /// The track ends, and everything with it; gives how many keys were still down.
    pub(super) fn finish(&mut self, notes: &mut [Note], at: u64) -> usize {
        self.pedal = [false; CHANNELS];
        (0..CHANNELS as u8).map(|channel| self.hush(notes, channel, at)).sum()
    }

    fn drop_kept(&mut self, notes: &mut [Note], slot: usize, at: u64) {
        let kept = &mut self.kept[slot];
        self.kept_count[slot / KEYS] -= kept.len();
        for index in kept.drain(..) {
            end(notes, index, at);
        }
    }
}

fn slot(channel: u8, key: u8) -> usize {
    usize::from(channel) * KEYS + usize::from(key)
}

fn end(notes: &mut [Note], index: u32, at: u64) {
    let note = &mut notes[index as usize];
    note.length = at - note.start;
}

#[cfg(test)]
mod tests {
    use super::*;

    fn strike(keyboard: &mut Keyboard, notes: &mut Vec<Note>, channel: u8, start: u64) {
        let note = Note {
            start,
            length: 0,
            key: 60,
            velocity: 96,
            channel,
        };
        keyboard.strike(notes, note);
    }

    fn lengths(notes: &[Note]) -> Vec<u64> {
        notes.iter().map(|note| note.length).collect()
    }

    #[test]
    fn a_key_struck_twice_is_let_go_first_in_first_out() {
        let (mut keyboard, mut notes) = (Keyboard::new(), Vec::new());
        strike(&mut keyboard, &mut notes, 0, 0);
        strike(&mut keyboard, &mut notes, 0, 50);
        keyboard.release(&mut notes, 0, 60, 70);
        keyboard.release(&mut notes, 0, 60, 100);
        keyboard.release(&mut notes, 0, 60, 110);
        assert_eq!(lengths(&notes), [70, 50]);
        assert_eq!(keyboard.finish(&mut notes, 200), 0);
        assert_eq!(lengths(&notes), [70, 50]);
    }

    #[test]
    fn the_pedal_keeps_a_note_until_it_goes_up_or_the_key_is_struck_again() {
        let (mut keyboard, mut notes) = (Keyboard::new(), Vec::new());
        keyboard.pedal(&mut notes, 0, true, 0);
        strike(&mut keyboard, &mut notes, 0, 0);
        keyboard.release(&mut notes, 0, 60, 10);
        strike(&mut keyboard, &mut notes, 0, 40);
        keyboard.release(&mut notes, 0, 60, 50);
        keyboard.pedal(&mut notes, 0, false, 90);
        strike(&mut keyboard, &mut notes, 0, 100);
        keyboard.release(&mut notes, 0, 60, 105);
        assert_eq!(lengths(&notes), [40, 50, 5]);
    }

    #[test]
    fn the_pedal_leaves_percussion_and_held_keys_alone() {
        let (mut keyboard, mut notes) = (Keyboard::new(), Vec::new());
        keyboard.pedal(&mut notes, PERCUSSION_CHANNEL, true, 0);
        strike(&mut keyboard, &mut notes, PERCUSSION_CHANNEL, 0);
        keyboard.release(&mut notes, PERCUSSION_CHANNEL, 60, 10);
        keyboard.pedal(&mut notes, 0, true, 20);
        strike(&mut keyboard, &mut notes, 0, 20);
        keyboard.pedal(&mut notes, 0, false, 30);
        keyboard.release(&mut notes, 0, 60, 80);
        assert_eq!(lengths(&notes), [10, 60]);
    }

    #[test]
    fn hanging_notes_are_counted_and_those_that_the_pedal_keeps_are_not() {
        let (mut keyboard, mut notes) = (Keyboard::new(), Vec::new());
        keyboard.pedal(&mut notes, 1, true, 0);
        strike(&mut keyboard, &mut notes, 1, 0);
        keyboard.release(&mut notes, 1, 60, 10);
        strike(&mut keyboard, &mut notes, 2, 0);
        strike(&mut keyboard, &mut notes, 3, 0);
        keyboard.hush(&mut notes, 3, 30);
        assert_eq!(keyboard.finish(&mut notes, 100), 1);
        assert_eq!(lengths(&notes), [100, 100, 30]);
    }
}
