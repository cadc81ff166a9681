//! What a project plays.

use std::sync::Arc;

use super::{Plays, Project};
use crate::kit::{Index, Kit};
use crate::loopfile::Loop;
use crate::render::Order;
use crate::score::{self, Cycle, Hit};
use crate::text::Problems;

/// Everything that a project plays, in all rounds that are asked for.
#[derive(Debug, Clone)]
pub struct Score<'a> {
    pub(crate) passages: Vec<Passage<'a>>,
    /// Seconds to the end of the last bar.
    pub seconds: f64,
}

/// A round of a loop, or a section of a form with its rounds.
#[derive(Debug, Clone)]
pub(crate) struct Passage<'a> {
    /// Which of the form's sections; 0 for a loop.
    pub section: usize,
    pub song: &'a Loop,
    pub kit: &'a Kit,
    /// One list of hits a part of the loop.
    pub parts: Arc<Vec<Vec<Hit>>>,
    /// The first sample's time, in seconds, where the hits' own times are 0.
    pub offset: f64,
    /// Seconds from the first sample at which it begins and ends.
    pub begins: f64,
    pub ends: f64,
    /// How the loop's bars repeat in it, counted from the first sample.
    pub cycle: Cycle,
}

/// One hit or note, as it is played.
#[derive(Debug, Clone, PartialEq)]
pub struct Played<'a> {
    /// The part that plays it.
    pub part: &'a str,
    /// The piece of the kit that it is played on.
    pub piece: &'a str,
    /// Seconds from the first sample; a little less than 0 where drift puts the first hit of a loop that repeats before it.
    pub at: f64,
    /// How hard, from 1 to 127.
    pub velocity: f64,
    /// The pitch as a MIDI note number, from 0 to 127; none for a hit that sounds as it was recorded.
    pub pitch: Option<i32>,
    /// Seconds after which it is released; none where it rings as long as its recording.
    pub length: Option<f64>,
}

impl Score<'_> {
    /// Every hit and note of the parts that are audible, part by part within each round or section.
    pub fn hits(&self) -> impl Iterator<Item = Played<'_>> {
        self.passages.iter().flat_map(|passage| {
            let parts = passage.song.parts.iter().zip(&*passage.parts);
            parts.filter(|(part, _)| !part.silenced).flat_map(|(part, hits)| {
                hits.iter().map(|hit| Played {
                    part: &part.name,
                    piece: &part.pieces[hit.piece].piece,
                    at: hit.at + passage.offset,
                    velocity: hit.velocity,
                    pitch: hit.pitch,
                    length: hit.length,
                })
            })
        })
    }
}

impl Project {
    /// What it plays: every hit's time, piece and velocity, with swing, feel and chance in them, as [`Project::render`] plays it.
    ///
    /// # Errors
    /// Pieces that the kit lacks, bars that are not there.
    pub fn score(&self, order: &Order) -> Result<Score<'_>, Problems> {
        match &self.plays {
            Plays::Loop(song, kit) => {
                let score = score::write(song, kit.index(), order.bars)?;
                let parts = Arc::new(score.parts);
                let round = |number| {
                    let begins = f64::from(number) * score.round;
                    Passage {
                        section: 0,
                        song,
                        kit,
                        parts: parts.clone(),
                        offset: begins,
                        begins,
                        ends: begins + score.round,
                        cycle: Cycle { begins, ..score.cycle },
                    }
                };
                Ok(Score {
                    passages: (0..order.rounds).map(round).collect(),
                    seconds: f64::from(order.rounds) * score.round,
                })
            }
            Plays::Form(form, kits) => {
                let indices: Vec<&Index> = kits.iter().map(Kit::index).collect();
                let score = score::write_form(form, &indices, order.bars, order.rounds)?;
                let passages = score.stretches.into_iter().map(|stretch| Passage {
                    section: stretch.section,
                    song: &form.sections[stretch.section].plays,
                    kit: &kits[stretch.section],
                    parts: Arc::new(stretch.parts),
                    offset: 0.0,
                    begins: stretch.begins,
                    ends: stretch.ends,
                    cycle: stretch.cycle,
                });
                Ok(Score {
                    passages: passages.collect(),
                    seconds: score.length,
                })
            }
        }
    }
}
