//! A part's player: hits come in as time reaches them and ring until they are over.

use std::sync::Arc;

use super::bank::Bank;
use super::envelope::Contour;
use super::rounds::Rounds;
use super::voice::{Dull, Voice};
use crate::audio::{Audio, gain_of_db};
use crate::loopfile::{Loop, Sound};
use crate::score::{Hit, Score, Stop, level_db};

/// Plays one part from front to back.
pub struct Player {
    strikes: Vec<Strike>,
    rounds: Rounds,
    rate: u32,
    channels: usize,
    /// The next frame to fill.
    now: i64,
    /// The next strike, and the round that it belongs to on a circle.
    next: (usize, i64),
    voices: Vec<Voice>,
}

/// A hit with its frame and everything that its voice needs.
struct Strike {
    frame: i64,
    audio: Arc<Audio>,
    start: usize,
    gain: f32,
    stopped: Option<usize>,
    /// Frames after which it is released, if it is.
    released: Option<usize>,
    sound: Sound,
    velocity: f64,
    dull: f64,
}

impl Player {
    /// A player of one part that begins at a frame, which may lie before 0: on a circle, with everything ringing
    /// that was struck before.
    pub fn new(song: &Loop, score: &Score, part: usize, bank: &Bank, rounds: Rounds, rate: u32, from: i64) -> Player {
        let hits = &score.parts[part];
        let strike = |round: i64, last: bool, hit: &Hit| Strike {
            frame: rounds.frame(round, hit.at, rate),
            audio: bank.sound(song, part, hit).clone(),
            start: (hit.start * f64::from(rate)).round() as usize,
            gain: level(&song.parts[part].pieces[hit.piece].sound, hit),
            stopped: stopped(hit, last, rate),
            released: hit.length.map(|length| (length * f64::from(rate)).round() as usize),
            sound: song.parts[part].pieces[hit.piece].sound.clone(),
            velocity: hit.velocity,
            dull: hit.dull,
        };
        let count = if let Rounds::Line { rounds, .. } = rounds {
            i64::from(rounds)
        } else {
            1
        };
        let mut strikes = Vec::new();
        for round in 0..count {
            let last = matches!(rounds, Rounds::Line { .. }) && round == count - 1;
            let heard = hits
                .iter()
                .filter(|hit| !hit.grace || rounds.reaches(round, hit.at, rate));
            strikes.extend(heard.map(|hit| strike(round, last, hit)));
        }
        strikes.sort_by_key(|strike| strike.frame);
        let channels = bank.channels(song, part, hits);
        let mut player = Player {
            strikes,
            rounds,
            rate,
            channels,
            now: from,
            next: (0, 0),
            voices: Vec::new(),
        };
        player.take_up();
        player
    }

    /// Channels of this part: 1, or 2 where one of its sounds is stereo.
    pub fn channels(&self) -> usize {
        self.channels
    }

    /// The frame after which a line is silent.
    pub fn end(&self) -> usize {
        self.strikes
            .iter()
            .map(|strike| strike.frame.max(0) as usize + self.voice(strike).left())
            .max()
            .unwrap_or(0)
    }

    /// Fills the next block, one slice a channel, all equally long.
    pub fn fill(&mut self, block: &mut [&mut [f32]]) {
        let frames = block.first().map_or(0, |channel| channel.len());
        block.iter_mut().for_each(|channel| channel.fill(0.0));
        for voice in &mut self.voices {
            voice.add(block);
        }
        let end = self.now + frames as i64;
        while let Some(frame) = self.next_frame().filter(|frame| *frame < end) {
            let mut voice = self.voice(&self.strikes[self.next.0]);
            let offset = (frame - self.now) as usize;
            let mut rest: Vec<&mut [f32]> = block.iter_mut().map(|channel| &mut channel[offset..]).collect();
            voice.add(&mut rest);
            self.voices.push(voice);
            self.step();
        }
        self.voices.retain(|voice| !voice.is_over());
        self.now = end;
    }

    /// Sets out at `now`: finds what rings already, and which strike comes next.
    fn take_up(&mut self) {
        let Rounds::Circle { frames } = self.rounds else {
            self.next = (self.strikes.partition_point(|strike| strike.frame < self.now), 0);
            return;
        };
        let period = frames as i64;
        let longest = self
            .strikes
            .iter()
            .map(|strike| self.voice(strike).left())
            .max()
            .unwrap_or(0) as i64;
        let first_round = (self.now - longest).div_euclid(period);
        self.next = (0, first_round);
        while let Some(frame) = self.next_frame().filter(|frame| *frame < self.now) {
            let mut voice = self.voice(&self.strikes[self.next.0]);
            // A voice that rings already is played up to here and thrown away: its filter remembers.
            let elapsed = (self.now - frame) as usize;
            if voice.left() > elapsed {
                let mut away = vec![vec![0.0; elapsed]; self.channels];
                voice.add(&mut away.iter_mut().map(Vec::as_mut_slice).collect::<Vec<_>>());
                self.voices.push(voice);
            }
            self.step();
        }
    }

    fn next_frame(&self) -> Option<i64> {
        let (number, round) = self.next;
        let strike = self.strikes.get(number)?;
        Some(match self.rounds {
            Rounds::Circle { frames } => strike.frame + round * frames as i64,
            Rounds::Line { .. } => strike.frame,
        })
    }

    fn step(&mut self) {
        self.next.0 += 1;
        if self.next.0 == self.strikes.len() && matches!(self.rounds, Rounds::Circle { .. }) {
            self.next = (0, self.next.1 + 1);
        }
    }

    fn voice(&self, strike: &Strike) -> Voice {
        let released = strike.released.map(|frames| (frames, strike.sound.release));
        let contour = Contour::new(strike.sound.envelope.as_ref(), strike.stopped, released, self.rate);
        let dull = Dull::new(strike.sound.dark, strike.velocity, strike.dull, self.rate);
        Voice::new(strike.audio.clone(), strike.start, strike.gain, contour, dull)
    }
}

/// The factor at which a hit plays its recording.
pub fn level(sound: &Sound, hit: &Hit) -> f32 {
    gain_of_db(sound.touch * level_db(hit.velocity, hit.top) + hit.gain_db) as f32
}

/// Frames after which a hit is choked, if it is; in a last round nothing of a next one stops it.
fn stopped(hit: &Hit, last: bool, rate: u32) -> Option<usize> {
    match hit.stop? {
        Stop::NextRound(_) if last => None,
        stop => Some((stop.after() * f64::from(rate)).round() as usize),
    }
}
