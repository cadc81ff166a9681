//! A part's dry audio, played once over the whole time and kept, to be read as if it were played again.

use std::borrow::Cow;
use std::sync::Arc;

use super::bank::Bank;
use super::player::Player;
use super::rounds::Rounds;
use crate::loopfile::{Loop, Sound};
use crate::render_cache::CacheKey;
use crate::score::{Hit, Score};

/// Frames that are played in one go.
const RUN: usize = 16_384;

/// A part's dry audio from frame 0 on.
pub(crate) struct Dry {
    channels: Vec<Vec<f32>>,
}

/// Everything that a part's dry audio comes from.
#[derive(Debug, PartialEq)]
struct Part {
    /// What is played for its hits; the sounds stand for their takes, whose numbers change when a kit does.
    hits: Vec<Hit>,
    sounds: Vec<Option<CacheKey>>,
    pieces: Vec<Sound>,
    time: Rounds,
    rate: u32,
    frames: usize,
}

impl Dry {
    /// What stands in a render cache for so many frames of a part's dry audio.
    pub(crate) fn name(
        song: &Loop,
        score: &Score,
        part: usize,
        bank: &Bank,
        (time, rate, frames): (Rounds, u32, usize),
    ) -> CacheKey {
        let hits = || score.parts[part].iter().flat_map(Hit::layers);
        let sound_less = |hit: Cow<'_, Hit>| Hit {
            take: 0,
            neighbour: None,
            ..hit.into_owned()
        };
        CacheKey::of(&Part {
            hits: hits().map(sound_less).collect(),
            sounds: hits().map(|hit| bank.kept(song, part, &hit)).collect(),
            pieces: song.parts[part]
                .pieces
                .iter()
                .map(|piece| piece.sound.clone())
                .collect(),
            time,
            rate,
            frames,
        })
    }

    /// Plays so many frames from where a player stands.
    pub(crate) fn play(mut player: Player, frames: usize) -> Dry {
        let mut channels = vec![vec![0.0; frames]; player.channels()];
        for from in (0..frames).step_by(RUN) {
            let to = frames.min(from + RUN);
            let mut block: Vec<&mut [f32]> = channels.iter_mut().map(|side| &mut side[from..to]).collect();
            player.fill(&mut block);
        }
        Dry { channels }
    }

    /// Its length in frames.
    pub(crate) fn frames(&self) -> usize {
        self.channels[0].len()
    }

    /// Bytes of its samples.
    pub(crate) fn bytes(channels: usize, frames: usize) -> usize {
        channels * frames * size_of::<f32>()
    }
}

/// Reads kept dry audio in a player's place: round a circle, or along a line until a player takes over.
pub(crate) struct DryReader<'a> {
    dry: Arc<Dry>,
    circle: bool,
    now: i64,
    /// Opens a player at the end of what is kept of a line.
    beyond: Box<dyn Fn() -> Player + Send + Sync + 'a>,
    player: Option<Player>,
}

impl<'a> DryReader<'a> {
    /// A reader that begins at a frame, which may lie before 0.
    pub(crate) fn new(
        dry: Arc<Dry>,
        circle: bool,
        from: i64,
        beyond: impl Fn() -> Player + Send + Sync + 'a,
    ) -> DryReader<'a> {
        DryReader {
            dry,
            circle,
            now: from,
            beyond: Box::new(beyond),
            player: None,
        }
    }

    /// Fills the next block, one slice a channel, all equally long.
    pub(crate) fn fill(&mut self, block: &mut [&mut [f32]]) {
        let frames = block.first().map_or(0, |channel| channel.len());
        let kept = self.dry.frames() as i64;
        let mut done = 0;
        while done < frames {
            let at = self.now + done as i64;
            let left = frames - done;
            let at = if self.circle { at.rem_euclid(kept) } else { at };
            if at < 0 {
                let run = left.min(at.unsigned_abs() as usize);
                block.iter_mut().for_each(|side| side[done..done + run].fill(0.0));
                done += run;
            } else if at < kept {
                let (at, run) = (at as usize, left.min((kept - at) as usize));
                for (side, kept) in block.iter_mut().zip(&self.dry.channels) {
                    side[done..done + run].copy_from_slice(&kept[at..at + run]);
                }
                done += run;
            } else {
                let mut rest: Vec<&mut [f32]> = block.iter_mut().map(|side| &mut side[done..]).collect();
                if !self.player.get_or_insert_with(|| (self.beyond)()).fill(&mut rest) {
                    rest.iter_mut().for_each(|side| side.fill(0.0));
                }
                done = frames;
            }
        }
        self.now += frames as i64;
    }
}
