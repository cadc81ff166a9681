//! A part's player: hits come in as time reaches them and ring until they are over.

use std::sync::Arc;

use super::bank::Bank;
use super::envelope::Contour;
use super::extent::{envelope, released, stopped};
use super::rounds::Rounds;
use super::tone::{Duty, ToneFilter, shared};
use super::voice::{Dull, FadeIn, Voice};
use crate::base::audio::{Audio, gain_of_db};
use crate::loopfile::{Envelope, Loop, Sound};
use crate::score::{Hit, Score, level_db};

/// Frames that all voices are added to before the next ones, so that these stay close at hand.
const NEAR: usize = 4096;

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
    fade_in: FadeIn,
    gain: f32,
    stopped: Option<usize>,
    /// Frames after which it is released, if it is, and the seconds that this takes.
    released: Option<(usize, f64)>,
    envelope: Option<Envelope>,
    /// The filter that dulls it, at rest, and the sound that it shares with others that are as dull.
    dull: Option<Dull>,
    dulled: Option<Arc<ToneFilter>>,
    /// Frames for which it is heard.
    life: usize,
}

impl Player {
    /// A player of one part that begins at a frame, which may lie before 0: on a circle, with everything ringing
    /// that was struck before.
    pub fn new(song: &Loop, score: &Score, part: usize, bank: &Bank, rounds: Rounds, rate: u32, from: i64) -> Player {
        let hits = &score.parts[part];
        let sounds: Vec<Arc<Sound>> = song.parts[part]
            .pieces
            .iter()
            .map(|piece| Arc::new(piece.sound.clone()))
            .collect();
        let strike = |round: i64, last: bool, hit: &Hit| {
            let sound = &sounds[hit.piece];
            let mut strike = Strike {
                frame: rounds.frame(round, hit.at, rate),
                audio: bank.sound(song, part, hit).clone(),
                start: bank.start(song, part, hit),
                fade_in: FadeIn::of(bank.start(song, part, hit), hit.legato, rate),
                gain: level(sound, hit),
                stopped: stopped(hit, last, rate),
                released: released(hit, sound, rate),
                envelope: envelope(sound, hit),
                dull: Dull::new(sound.dark, hit.velocity, hit.dull, rate),
                dulled: None,
                life: 0,
            };
            strike.life = strike.voice(rate).left();
            strike
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
            strikes.extend(heard.flat_map(Hit::layers).map(|hit| strike(round, last, &hit)));
        }
        strikes.sort_by_key(|strike| strike.frame);
        let duties: Vec<Option<Duty>> = strikes.iter().map(Strike::duty).collect();
        let dulled = shared(&duties);
        let filtered = strikes.iter_mut().zip(dulled);
        filtered.for_each(|(strike, dulled)| strike.dulled = dulled);
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
            .map(|strike| strike.frame.max(0) as usize + strike.life)
            .max()
            .unwrap_or(0)
    }

    /// Fills the next block, one slice a channel, all equally long. False where nothing sounds in it: then it is left as it is.
    pub fn fill(&mut self, block: &mut [&mut [f32]]) -> bool {
        let frames = block.first().map_or(0, |channel| channel.len());
        let end = self.now + frames as i64;
        if self.voices.is_empty() && self.next_frame().is_none_or(|frame| frame >= end) {
            self.now = end;
            return false;
        }
        for from in (0..frames).step_by(NEAR) {
            let to = frames.min(from + NEAR);
            let mut near: Vec<&mut [f32]> = block.iter_mut().map(|channel| &mut channel[from..to]).collect();
            self.fill_near(&mut near);
        }
        true
    }

    fn fill_near(&mut self, block: &mut [&mut [f32]]) {
        let frames = block.first().map_or(0, |channel| channel.len());
        block.iter_mut().for_each(|channel| channel.fill(0.0));
        for voice in &mut self.voices {
            voice.add(block);
        }
        let end = self.now + frames as i64;
        while let Some(frame) = self.next_frame().filter(|frame| *frame < end) {
            let mut voice = self.strikes[self.next.0].voice(self.rate);
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
        let round = self.now.div_euclid(period);
        let before = |strike: &Strike| strike.frame + round * period < self.now;
        let number = self.strikes.partition_point(before);
        self.next = match number < self.strikes.len() {
            true => (number, round),
            false => (0, round + 1),
        };
        self.voices = self.ringing(period);
    }

    /// What was struck before `now` on a circle and still rings, in the order in which it was struck.
    fn ringing(&self, period: i64) -> Vec<Voice> {
        let mut ringing = Vec::new();
        for (number, strike) in self.strikes.iter().enumerate() {
            let mut elapsed = (self.now - strike.frame - 1).rem_euclid(period) + 1;
            if elapsed >= strike.life as i64 {
                // A sound that it shares with others is not made before one of them is heard.
                continue;
            }
            let mut voice = strike.voice(self.rate);
            let mut further = elapsed;
            // Where it rings for many rounds, each of them goes on from the one after it: so its sound is gone through once.
            while elapsed < strike.life as i64 {
                voice.skip(further as usize, self.channels);
                ringing.push((self.now - elapsed, number, voice.clone()));
                (elapsed, further) = (elapsed + period, period);
            }
        }
        ringing.sort_by_key(|(frame, number, _)| (*frame, *number));
        ringing.into_iter().map(|(.., voice)| voice).collect()
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
}

impl Strike {
    /// The voice that it begins.
    fn voice(&self, rate: u32) -> Voice {
        let contour = Contour::new(self.envelope.as_ref(), self.stopped, self.released, rate);
        let (audio, dull) = match &self.dulled {
            Some(dulled) => (dulled.audio(), None),
            None => (&self.audio, self.dull.clone()),
        };
        Voice::new(
            audio.clone(),
            (self.start, self.fade_in),
            self.gain,
            Arc::new(contour),
            dull,
        )
    }

    /// What it plays through its filter, if it has one.
    fn duty(&self) -> Option<Duty> {
        let dull = self.dull.clone()?;
        (self.life > 0).then(|| Duty {
            audio: self.audio.clone(),
            start: self.start,
            frames: self.life,
            dull,
        })
    }
}

/// The factor at which a hit plays its recording.
pub(crate) fn level(sound: &Sound, hit: &Hit) -> f32 {
    gain_of_db(sound.touch * level_db(hit.velocity, hit.top) + hit.gain_db) as f32
}

#[cfg(test)]
#[path = "player_tests.rs"]
mod tests;
