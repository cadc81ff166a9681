//! One part's strokes become hits.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::blow::{Blow, Touch};
use super::expression::{DEAD, DEAD_DECAY, DEAD_DULL, curve};
use super::like::way;
use super::loose::{Drift, Limb, band_seconds};
use super::rudiments::blows;
use super::struck::{Struck, end};
use super::tighten::placed;
use super::{Hit, Neighbour, velocity};
use crate::base::random::Chance;
use crate::kit::Index;
use crate::loopfile::{Exact, Loop, Manner, Part, Stroke};

/// The steps that `vary.tune` draws from: few enough that a pitch is computed once and used often.
const TUNE_STEPS: usize = 16;
/// A bounce of a roll is up to so many semitones higher or lower than another, on top of what `vary` does.
const BOUNCE_TUNE: f64 = 0.4;

/// A scratch over damped strings lasts so many seconds at the most [practice].
const SCRATCH: f64 = 0.025;
/// Seconds in which a string that fingers damp falls silent [practice].
const DAMPED: f64 = 0.012;
/// It sounds so many semitones higher than the open strings: fingers on them leave nothing of their low partials [practice].
const BRIGHTER: f64 = 24.0;

/// Plays a part's strokes in a window of bars; `pieces` are the numbers of its pieces in the kit.
///
/// Chance and turns run over the whole loop, so a cut plays what the whole loop plays there.
pub(super) fn play(song: &Loop, part: &Part, kit: &Index, pieces: &[usize], window: (Exact, Exact)) -> Struck {
    let mut hand = Hand {
        song,
        part,
        kit,
        pieces,
        from: window.0,
        dice: Dice::new(song.seed, &part.name),
        drift: Drift::new(song, part, Limb::Hands),
        feet: part.player.map(|_| Drift::new(song, part, Limb::Feet)),
        band: (!part.ensemble.is_empty()).then(|| band_seconds(song)),
        turns: BTreeMap::new(),
    };
    let mut hits: Vec<Hit> = Vec::new();
    // Where the hits of the last place begin, and of the one before; and where those of the first end.
    let (mut at, mut last, mut before) = (None, 0, 0);
    let mut first = None;
    for stroke in &part.strokes {
        let struck = hand.strike(stroke);
        if stroke.at >= window.0 && stroke.at < window.1 {
            if at != Some(stroke.at) {
                first = first.or(at.map(|_| hits.len()));
                (at, last, before) = (Some(stroke.at), hits.len(), last);
            }
            if let Some(first) = struck.first().filter(|hit| hit.legato) {
                end(&mut hits[before..last], first.at);
            }
            hits.extend(struck);
        }
    }
    let first = 0..first.unwrap_or(hits.len());
    Struck::new(hits, first, last)
}

/// One player with what a stroke needs to know.
struct Hand<'a, B> {
    song: &'a Loop,
    part: &'a Part,
    kit: &'a Index,
    pieces: &'a [usize],
    from: Exact,
    dice: Dice<'a>,
    /// How many takes each piece's layers have had, by the first take of the zone.
    turns: BTreeMap<(usize, usize, usize), usize>,
    drift: Drift<'a>,
    /// That of the feet, where a player has several parts.
    feet: Option<Drift<'a>>,
    /// That of the band, where it plays as one.
    band: Option<B>,
}

impl<B: Fn(f64) -> f64> Hand<'_, B> {
    /// The hits of a stroke; none where it may be and is not.
    fn strike(&mut self, stroke: &Stroke) -> Vec<Hit> {
        self.dice.turn_to_bar_of(stroke);
        let velocity = self.velocity(stroke);
        // Dice of one kind lie for every stroke, so that odds move no other chance.
        if stroke.manner == Manner::Maybe && self.dice.maybe.share() >= self.part.playing_at(stroke.at).odds {
            self.dice.skip();
            return Vec::new();
        }
        let (song, part, from) = (self.song, self.part, self.from);
        let moved = |at: Exact| seconds(song, part, from, at);
        let lasts = || moved(stroke.at + stroke.step) - moved(stroke.at);
        let blows = blows(stroke, lasts, &mut self.dice.hand);
        blows.iter().map(|blow| self.blow(stroke, blow, velocity)).collect()
    }

    fn blow(&mut self, stroke: &Stroke, blow: &Blow, velocity: f64) -> Hit {
        let sound = &self.part.pieces[stroke.piece].sound;
        let playing = self.part.playing_at(stroke.at);
        let drift = self.drift_of(stroke);
        // A player's drift runs in the time that is played, so that strokes stay apart however they swing.
        let struck = match self.part.player {
            Some(_) => placed(blow.at, playing, &self.song.time),
            None => blow.at,
        };
        // Grace notes drift with their main note; a roll's bounces each read the drift where they fall.
        let place = bars(struck)
            + if blow.touch == Touch::Grace {
                0.0
            } else {
                blow.after / self.song.time.bar_seconds()
            };
        let (later, harder) = self.way(blow.at, stroke.piece);
        let velocity = ((velocity + harder) * blow.share + drift.velocity(place)).clamp(1.0, 127.0);
        let (behind, drifted) = (playing.behind, drift.seconds(place));
        let late = match (self.part.ensemble.get(&stroke.at), &self.band) {
            (Some(together), Some(band)) => {
                let own = later + behind + drifted;
                own + (band(bars(stroke.at)) - own) * together + self.part.apart + stroke.shift + blow.after
            }
            _ => later + (behind + self.part.apart) + stroke.shift + drifted + blow.after,
        };
        let pitch = blow.grace_note.map(|(pitch, _)| pitch).or(stroke.pitch);
        let of_kit = &self.kit.pieces[self.pieces[stroke.piece]];
        let (take, top) = self.take((stroke.piece, pitch), velocity::layer(of_kit, velocity));
        let crossfade = velocity::crossfade(of_kit, velocity, sound.layer_crossfade);
        let beside = crossfade
            .as_ref()
            .map(|crossfade| self.take((stroke.piece, pitch), crossfade.neighbour));
        let kit = self.kit;
        let transposed = |take| {
            pitch.map_or(0.0, |pitch| {
                f64::from(pitch) - kit.root(take).unwrap_or(f64::from(pitch))
            })
        };
        // All that a stroke sets off ends where it is written to end.
        let ends = |sounds: Exact| match self.part.playing_at(stroke.at).tighten {
            // What is pulled to the grid keeps its length.
            Some(_) => {
                self.song
                    .time
                    .seconds((stroke.at + sounds - blow.at) * self.song.time.bar())
                    - blow.after
            }
            None => self.seconds(stroke.at + sounds) - self.seconds(blow.at) - blow.after,
        };
        let length = match blow.grace_note {
            Some((_, lasts)) => Some(lasts),
            None => stroke.sounds.map(|sounds| ends(sounds).max(0.0)),
        };
        let scratch = stroke.manner == Manner::Scratch;
        let length = match scratch {
            true => Some(length.map_or(SCRATCH, |length| length.min(SCRATCH))),
            false => length,
        };
        let (bent, dull) = match blow.touch {
            Touch::Bounce(bent, dull) => (BOUNCE_TUNE * bent, dull),
            _ => (0.0, 0.0),
        };
        let at = self.seconds(blow.at) + late;
        let own = stroke.expression.as_deref().filter(|_| blow.touch == Touch::Plain);
        let dead = own.is_some_and(|expression| expression.dead);
        let length = if dead {
            Some(length.unwrap_or(DEAD).min(DEAD))
        } else {
            length
        };
        let curve = own.zip(stroke.pitch).and_then(|(expression, pitch)| {
            let sounds = length.unwrap_or_else(|| ends(stroke.held()).max(0.0));
            let chance = || {
                let place = format!("vibrato {} {pitch}", stroke.at);
                Chance::new(self.song.seed, &self.part.name, &place, 0)
            };
            curve(expression, pitch, sounds, chance)
        });
        let falls = own.is_some_and(|expression| expression.fall.is_some());
        let length = match length {
            None if falls => Some(ends(stroke.held()).max(0.0)),
            length => length,
        };
        let dice = &mut self.dice;
        let step = dice.tune.below(TUNE_STEPS) as f64 / (TUNE_STEPS - 1) as f64;
        let varied = on_steps(
            bent + sound.vary_tune * (2.0 * step - 1.0),
            bent,
            sound.vary_tune + BOUNCE_TUNE,
        );
        let tune = |take| transposed(take) + if scratch { BRIGHTER } else { 0.0 } + sound.tune + varied;
        let gain_db = sound.vary_gain * dice.gain.either_way();
        Hit {
            at,
            piece: stroke.piece,
            take,
            velocity,
            top,
            neighbour: crossfade
                .as_ref()
                .zip(beside)
                .map(|(crossfade, (take, top))| Neighbour {
                    take,
                    top,
                    tune: tune(take),
                    gain_db: gain_db + crossfade.neighbour_db,
                }),
            pitch,
            tune: tune(take),
            gain_db: crossfade.map_or(gain_db, |crossfade| gain_db + crossfade.own_db),
            start: sound.start + sound.vary_start * dice.start.share(),
            length,
            dull: if dead { dull + DEAD_DULL } else { dull },
            release: scratch.then_some(DAMPED),
            decay: dead.then_some(DEAD_DECAY),
            curve: curve.map(Arc::new),
            legato: own.is_some_and(|expression| expression.legato),
            grace: blow.touch == Touch::Grace,
            stop: None,
        }
    }

    fn seconds(&self, at: Exact) -> f64 {
        seconds(self.song, self.part, self.from, at)
    }

    /// The drift of what plays a stroke.
    fn drift_of(&self, stroke: &Stroke) -> &Drift<'_> {
        let named = |name: &str| Limb::of(name) == Limb::Feet;
        let own = stroke.piece == 0 && named(&self.part.name);
        match &self.feet {
            Some(feet) if own || named(&self.part.pieces[stroke.piece].piece) => feet,
            _ => &self.drift,
        }
    }

    /// How much later, in seconds, and harder the drummer that the part is like plays a piece at a place.
    fn way(&self, at: Exact, piece: usize) -> (f64, f64) {
        let name = &self.kit.pieces[self.pieces[piece]].name;
        let (late, harder) = way(at, name, self.part.playing_at(at), &self.song.time);
        (late * self.song.time.bar_seconds(), harder)
    }

    fn velocity(&mut self, stroke: &Stroke) -> f64 {
        let draw = self.dice.velocity.share();
        let velocity = match self.part.playing_at(stroke.at).velocity {
            Some(range) => velocity::spread(stroke.velocity, stroke.plain, range, draw),
            None => stroke.velocity,
        };
        (velocity * stroke.scale).clamp(1.0, 127.0)
    }

    /// The next take of a layer of a piece, with the layer's top: for a note, of those recorded nearest to it.
    fn take(&mut self, (piece, pitch): (usize, Option<i32>), number: usize) -> (usize, f64) {
        let layer = &self.kit.pieces[self.pieces[piece]].layers[number];
        let zone = pitch.map(|pitch| self.kit.zone(layer, f64::from(pitch)));
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

/// Seconds from a window's beginning to where swing, or tightening, moves a place.
fn seconds(song: &Loop, part: &Part, from: Exact, at: Exact) -> f64 {
    let time = &song.time;
    time.seconds((placed(at, part.playing_at(at), time) - from) * time.bar())
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
    hand: Chance,
    maybe: Chance,
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
            hand: stream("hand"),
            maybe: stream("maybe"),
        }
    }

    fn turn_to_bar_of(&mut self, stroke: &Stroke) {
        let bar = stroke.at.floor().to_integer() as u32 + 1;
        if bar != self.bar {
            *self = Dice::at(self.seed, self.part, bar);
        }
    }

    /// Lets the dice fall for a hit that is not played.
    fn skip(&mut self) {
        self.tune.share();
        self.gain.share();
        self.start.share();
    }

    /// The take that a piece's layer begins with.
    fn first_turn(&self, piece: usize, layer: usize, takes: usize) -> usize {
        let kind = format!("turn {piece} {layer}");
        Chance::new(self.seed, self.part, &kind, 0).below(takes)
    }
}

/// A place in bars, for what needs no exactness.
fn bars(at: Exact) -> f64 {
    *at.numer() as f64 / *at.denom() as f64
}

/// A change of pitch that a bounce bends, put on one of [`TUNE_STEPS`] steps between the widest changes either way; as it
/// is where nothing bends it.
fn on_steps(semitones: f64, bent: f64, widest: f64) -> f64 {
    if bent == 0.0 {
        return semitones;
    }
    let steps = (TUNE_STEPS - 1) as f64;
    let step = libm::round((semitones / widest + 1.0) / 2.0 * steps);
    widest * (2.0 * step / steps - 1.0)
}
