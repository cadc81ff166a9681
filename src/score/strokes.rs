//! One part's strokes become hits.

use std::collections::BTreeMap;

use super::chance::Chance;
use super::swing::swung;
use super::{Hit, velocity};
use crate::kit::Index;
use crate::loopfile::{Exact, Loop, Part, Stroke};

/// The steps that `vary.tune` draws from: few enough that a pitch is computed once and used often.
const TUNE_STEPS: usize = 16;

/// Plays a part's strokes in a window of bars; `pieces` are the numbers of its pieces in the kit.
///
/// Chance and turns run over the whole loop, so a cut plays what the whole loop plays there.
pub fn play(song: &Loop, part: &Part, kit: &Index, pieces: &[usize], window: (Exact, Exact)) -> Vec<Hit> {
    let mut hand = Hand {
        song,
        part,
        kit,
        pieces,
        from: window.0,
        dice: Dice::new(song.seed, &part.name),
        turns: BTreeMap::new(),
    };
    let mut hits = Vec::new();
    for stroke in &part.strokes {
        let hit = hand.strike(stroke);
        if stroke.at >= window.0 && stroke.at < window.1 {
            hits.push(hit);
        }
    }
    hits.sort_by(|a, b| a.at.total_cmp(&b.at));
    hits
}

/// One player with what a stroke needs to know.
struct Hand<'a> {
    song: &'a Loop,
    part: &'a Part,
    kit: &'a Index,
    pieces: &'a [usize],
    from: Exact,
    dice: Dice<'a>,
    /// How many takes each piece's layers have had, by the first take of the zone.
    turns: BTreeMap<(usize, usize, usize), usize>,
}

impl Hand<'_> {
    fn strike(&mut self, stroke: &Stroke) -> Hit {
        self.dice.turn_to_bar_of(stroke);
        let Hand { song, part, .. } = *self;
        let sound = &part.pieces[stroke.piece].sound;
        let playing = part.playing_at(stroke.at);
        let at = swung(stroke.at, &playing.swing, &song.time) - self.from;
        let velocity = self.velocity(stroke);
        let (take, top) = self.take(stroke, velocity);
        let transposed = |pitch: i32| f64::from(pitch) - self.kit.root(take).unwrap_or(f64::from(pitch));
        let transposed = stroke.pitch.map_or(0.0, transposed);
        let ends = |sounds: Exact| swung(stroke.at + sounds, &part.playing.swing, &song.time) - self.from;
        let length = stroke
            .sounds
            .map(|sounds| song.time.seconds((ends(sounds) - at) * song.time.bar()));
        let dice = &mut self.dice;
        let step = dice.tune.below(TUNE_STEPS) as f64 / (TUNE_STEPS - 1) as f64;
        Hit {
            at: song.time.seconds(at * song.time.bar()) + playing.behind + stroke.shift,
            piece: stroke.piece,
            take,
            velocity,
            top,
            tune: transposed + sound.tune + sound.vary_tune * (2.0 * step - 1.0),
            gain_db: sound.vary_gain * dice.gain.either_way(),
            start: sound.start + sound.vary_start * dice.start.share(),
            length: length.map(|seconds| seconds.max(0.0)),
            stop: None,
        }
    }

    fn velocity(&mut self, stroke: &Stroke) -> f64 {
        let draw = self.dice.velocity.share();
        match self.part.playing_at(stroke.at).velocity {
            Some(range) => velocity::spread(stroke.velocity, stroke.plain, range, draw),
            None => stroke.velocity,
        }
    }

    /// The next take of a stroke's piece for a velocity, with its layer's top: for a note, of those recorded nearest to it.
    fn take(&mut self, stroke: &Stroke, velocity: f64) -> (usize, f64) {
        let piece = stroke.piece;
        let of_kit = &self.kit.pieces[self.pieces[piece]];
        let number = velocity::layer(of_kit, velocity);
        let layer = &of_kit.layers[number];
        let zone = stroke.pitch.map(|pitch| self.kit.zone(layer, f64::from(pitch)));
        let takes = zone.as_deref().unwrap_or(&layer.takes);
        let dice = &self.dice;
        let turn = self
            .turns
            .entry((piece, number, takes[0]))
            .or_insert_with(|| dice.first_turn(piece, number, takes.len()));
        let take = takes[*turn % takes.len()];
        *turn += 1;
        (take, layer.upto)
    }
}

/// A part's streams of chance, one a kind, opened anew at each bar.
struct Dice<'a> {
    seed: u64,
    part: &'a str,
    bar: u32,
    velocity: Chance,
    tune: Chance,
    gain: Chance,
    start: Chance,
}

impl<'a> Dice<'a> {
    fn new(seed: u64, part: &'a str) -> Dice<'a> {
        Dice::at(seed, part, 1)
    }

    fn at(seed: u64, part: &'a str, bar: u32) -> Dice<'a> {
        let stream = |kind| Chance::new(seed, part, kind, bar);
        Dice {
            seed,
            part,
            bar,
            velocity: stream("velocity"),
            tune: stream("tune"),
            gain: stream("gain"),
            start: stream("start"),
        }
    }

    fn turn_to_bar_of(&mut self, stroke: &Stroke) {
        let bar = stroke.at.floor().to_integer() as u32 + 1;
        if bar != self.bar {
            *self = Dice::at(self.seed, self.part, bar);
        }
    }

    /// The take that a piece's layer begins with.
    fn first_turn(&self, piece: usize, layer: usize, takes: usize) -> usize {
        let kind = format!("turn {piece} {layer}");
        Chance::new(self.seed, self.part, &kind, 0).below(takes)
    }
}
