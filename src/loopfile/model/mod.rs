//! The loop, resolved: what the rest of the program works from.
//!
//! No value here has a default or a unit left to look up: times are in seconds, places in bars, levels in dB (their names
//! say so), frequencies in Hz, shares from 0 to 1. References are indices that are valid.
//!
//! - In: nothing; these are types, made by `resolve`.
//! - Out: a [`Loop`] or a [`Form`], with their parts, strokes, strips, spaces and sweeps.
//! - It knows nothing of TOML, of places in a text beyond the [`Place`] that messages point to, and of files but their
//!   paths.

mod expression;
pub(crate) mod field;
mod form;
pub(crate) mod groove;
mod harmony;
mod heard;
mod space;
mod strip;
mod sweep;
pub(crate) mod swing;

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;

use num_rational::Ratio;

use super::{AsWritten, GrooveTemplate};
use crate::text::{Place, Problem};

pub(crate) use expression::{Expression, GRACE, Slide, Swerve, WrittenVibrato};
pub use form::*;
pub(crate) use harmony::*;
pub use space::*;
pub use strip::*;
pub(crate) use sweep::*;

/// An exact position or length; the unit (bars, whole notes) is given where it is used.
pub(crate) type Exact = Ratio<i128>;

/// A loop with every default, reference and unit resolved.
#[derive(Debug, Clone)]
pub struct Loop {
    /// Its title; the file's stem unless the file says otherwise.
    pub title: String,
    /// Kit folders, the first that has a piece wins; relative to the current folder.
    pub kits: Vec<PathBuf>,
    /// Tempo and metre.
    pub time: Time,
    /// Length in bars, at least 1.
    pub bars: u32,
    /// The key as it was written, for instance `G minor`.
    pub key: Option<String>,
    /// The chord chart: where the chord changes, in the order of time.
    pub chords: Vec<ChordChange>,
    /// The band's accents, line by line as the file has them; a place that a later line took over is not among them.
    pub accents: Vec<BandAccents>,
    /// How far the band drifts, where no part says otherwise.
    pub loose: Loose,
    /// The names of players that play more than one part.
    pub players: Vec<String>,
    /// What every chance is drawn from.
    pub seed: u64,
    /// Whether hints on its harmony are wanted.
    pub harmony_hints: bool,
    /// What happens to sound that rings past the last bar.
    pub ending: Ending,
    /// The parts, in the order in which the file first names them.
    pub parts: Vec<Part>,
    /// The buses, in the file's order. Buses may feed buses, never in a circle.
    pub buses: Vec<Bus>,
    /// Rooms and delays that strips send to: those that some strip sends to or that the file describes.
    pub spaces: Vec<Space>,
    /// The master's strip; its `ceiling_db` is what the finished audio keeps to.
    pub master: Strip,
    /// Integrated loudness to lift or lower the finished audio to, in LUFS.
    pub loudness: Option<f64>,
    /// Names of the loop's mixes.
    pub mixes: Vec<String>,
    /// The MIDI files that it reads, each once; relative to the current folder.
    pub performances: Vec<PathBuf>,
    /// Notices on them: notes that can't be placed, and the like.
    pub notices: Vec<Problem>,
    /// What may not be meant in how its bars are written: bars that don't add up, gaps between a part's ranges of bars.
    pub hints: Vec<Problem>,
    /// Settings that change over the bars.
    pub sweeps: Vec<Sweep>,
    /// The centres of all its bells, those that sweeps come to among them.
    pub centres: Vec<Centre>,
    /// What the file says, key by key, as it was changed.
    pub as_written: Arc<AsWritten>,
}

/// Where the band, or some of it, plays accents.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BandAccents {
    /// The names of the parts that play them; all where none.
    pub parts: Option<Vec<String>>,
    /// The places in bars from the loop's beginning, in the order of time.
    pub places: Vec<Exact>,
}

/// Tempo and metre.
#[derive(Debug, Clone, PartialEq)]
pub struct Time {
    /// In BPM.
    pub tempo: f64,
    /// What the tempo counts, in whole notes: 1/4, or 3/8 for a dotted quarter.
    pub beat: Exact,
    /// The metre's upper figure: counts in a bar.
    pub counts: u32,
    /// The metre's lower figure: 4 for quarters.
    pub unit: u32,
}

impl Time {
    /// A bar's length in whole notes.
    pub fn bar(&self) -> Exact {
        Exact::new(self.counts.into(), self.unit.into())
    }

    /// A bar's length in seconds.
    pub fn bar_seconds(&self) -> f64 {
        self.seconds(self.bar())
    }

    /// The seconds that a length in whole notes takes.
    pub fn seconds(&self, whole_notes: Exact) -> f64 {
        let beats = whole_notes / self.beat;
        *beats.numer() as f64 * 60.0 / (*beats.denom() as f64 * self.tempo)
    }
}

/// What happens to sound that rings past the last bar.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ending {
    /// It sounds at the loop's beginning, as on the next time round.
    Repeat,
    /// It rings out after the last bar.
    LetRing,
    /// It ends with the last bar.
    Damp,
}

impl Ending {
    /// The ending of a word; that of loops where there is none.
    pub(crate) fn named(word: Option<&str>) -> Ending {
        match word {
            Some("let ring") => Ending::LetRing,
            Some("damp") => Ending::Damp,
            _ => Ending::Repeat,
        }
    }
}

/// A part: what it plays, on which pieces, and its strip.
#[derive(Debug, Clone)]
pub struct Part {
    /// Its name.
    pub name: String,
    /// Where the file names it, for problems that come up later.
    pub place: Place,
    /// Every piece that its strokes play, the part's own first.
    pub pieces: Vec<Played>,
    /// What it plays, in the order of time.
    pub strokes: Vec<Stroke>,
    /// Bars that none of its lines names, where it is silent; those after a performance's end.
    pub unnamed_bars: Vec<u32>,
    /// True for a voice of another part's `double`.
    pub double: bool,
    /// The way in which it is written.
    pub way: Way,
    /// The MIDI file that it plays, where it plays one; relative to the current folder.
    pub performance: Option<PathBuf>,
    /// The channel of that file, from 0.
    pub channel: Option<u8>,
    /// Its time feel and the spread of its velocities.
    pub playing: Playing,
    /// The same for bars, counted from 0, in which it plays otherwise.
    pub changed_playing: BTreeMap<u32, Playing>,
    /// Who plays it, as an index; somebody of its own where none.
    pub player: Option<usize>,
    /// Where it plays with the band: places of accents in bars, and how far, from 0 to 1.
    pub ensemble: BTreeMap<Exact, f64>,
    /// Seconds that a double is later than its part.
    pub apart: f64,
    /// Effects, gain, pan and sends.
    pub strip: Strip,
    /// The bus it goes to, as an index; the master where none.
    pub bus: Option<usize>,
    /// True where `mute`, `--only` or `--without` silences it; it still chokes and ducks.
    pub silenced: bool,
}

/// The way in which a part is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// As hits, or played as MIDI.
    Hits,
    /// Note by note.
    Notes,
    /// In degrees of the chart's chords.
    Degrees,
    /// As a rhythm on which it plays the chart's chords.
    Comp,
}

impl Part {
    /// How it plays at a place in bars.
    pub fn playing_at(&self, at: Exact) -> &Playing {
        let bar = u32::try_from(at.floor().to_integer()).ok();
        bar.and_then(|bar| self.changed_playing.get(&bar))
            .unwrap_or(&self.playing)
    }
}

/// A piece as one part plays it.
#[derive(Debug, Clone)]
pub struct Played {
    /// The piece's name in the kit.
    pub piece: String,
    /// Where the file asks for it.
    pub place: Place,
    /// How its hits sound.
    pub sound: Sound,
}

/// One written stroke, before swing and chance.
#[derive(Debug, Clone, PartialEq)]
pub struct Stroke {
    /// When, in bars from the loop's beginning.
    pub at: Exact,
    /// The length of its step, in bars.
    pub step: Exact,
    /// Which of the part's pieces.
    pub piece: usize,
    /// How hard, from 1 to 127.
    pub velocity: f64,
    /// True for a plain hit (`x`, or a mark of the part's own), whose velocity a range spreads.
    pub plain: bool,
    /// Seconds by which it was written off the grid, as in `2& x +12ms`.
    pub shift: f64,
    /// The pitch, as a MIDI key from 0 to 127; none for a hit, which sounds as it was recorded.
    pub pitch: Option<i32>,
    /// How long it is written to sound, in bars, the part's `length` reckoned in; none: until it has rung out.
    pub sounds: Option<Exact>,
    /// The word that it was written as; none for hits and for what was played as MIDI.
    pub word: Option<Arc<Word>>,
    /// What is played about it; none for most.
    pub expression: Option<Arc<Expression>>,
    /// The mark that stands for it on a chart: one that its part knows.
    pub mark: char,
    /// How it is struck.
    pub manner: Manner,
    /// What a swell and the band's accents make of its velocity: a factor, after the range of velocities.
    pub scale: f64,
}

/// How a stroke is struck.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Manner {
    /// One hit.
    Single,
    /// One soft grace note before it.
    Flam,
    /// Two soft grace notes before it.
    Drag,
    /// Two even strokes in its step.
    Two,
    /// A press of a buzz roll, which lasts its step.
    Press,
    /// Played or not, as the part's odds fall.
    Maybe,
    /// A chord's note on a string that fingers damp: short and bright.
    Scratch,
}

/// How a part is played.
#[derive(Debug, Clone, PartialEq)]
pub struct Playing {
    /// Seconds after the beat; negative: ahead.
    pub behind: f64,
    /// Swing; straight for what was performed, unless the part itself swings.
    pub swing: Swing,
    /// What pulls a performance to the grid.
    pub tighten: Option<Tighten>,
    /// The drummer whose timing and touch are laid on it, and how far.
    pub like: Option<(Arc<GrooveTemplate>, f64)>,
    /// The range that plain strokes spread over evenly, lowest and highest velocity.
    pub velocity: Option<(f64, f64)>,
    /// How likely a stroke that may be is to be played, 0 to 1.
    pub odds: f64,
    /// The player's drift.
    pub loose: Loose,
}

/// How far a player drifts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Loose {
    /// Standard deviation in seconds.
    pub time: f64,
    /// Standard deviation in velocity.
    pub velocity: f64,
    /// The share of the drift's variance that is common to the band, 0 to 1.
    pub together: f64,
}

/// Swing: the share of a pair that its first half takes.
#[derive(Debug, Clone, PartialEq)]
pub struct Swing {
    /// From 0 to 1 exclusive; a half is straight.
    pub share: Exact,
    /// The notes that pair up, in whole notes.
    pub of: Exact,
}

/// Pulling strokes to the nearest sixteenth of the bar.
#[derive(Debug, Clone, PartialEq)]
pub struct Tighten {
    /// The share of the way, up to 1.
    pub by: Exact,
    /// How the sixteenths swing.
    pub swing: Swing,
}

/// How a hit sounds.
#[derive(Debug, Clone, PartialEq)]
pub struct Sound {
    /// How far velocity reaches into level, 0 to 1.
    pub touch: f64,
    /// How much duller a soft hit is, 0 to 1.
    pub dark: f64,
    /// Velocities over which one layer of recordings turns into the next; 0: at once.
    pub layer_crossfade: f64,
    /// Semitones.
    pub tune: f64,
    /// Spread from hit to hit: ± semitones.
    pub vary_tune: f64,
    /// Spread from hit to hit: ± dB.
    pub vary_gain: f64,
    /// Spread from hit to hit: up to so many seconds later into the recording.
    pub vary_start: f64,
    /// The envelope, where one is given.
    pub envelope: Option<Envelope>,
    /// Seconds in which a note that ends fades.
    pub release: f64,
    /// The group in which hits stop one another; see [`Choke`].
    pub choke: Choke,
    /// Play the recording backwards.
    pub reverse: bool,
    /// Seconds into the recording, from its onset, at which it starts.
    pub start: f64,
    /// Take care of its recordings: leave out their leads, their offsets, their sudden ends.
    pub trim: bool,
}

/// Which choke group a piece belongs to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Choke {
    /// The kit's own: the hats are one group, other pieces have none.
    Kit,
    /// A named group.
    Group(String),
    /// None.
    Off,
}

/// An amplitude envelope.
#[derive(Debug, Clone, PartialEq)]
pub struct Envelope {
    /// Seconds from silence to full level.
    pub attack: f64,
    /// Seconds at full level.
    pub hold: f64,
    /// Seconds to fall 60 dB; none: no fall.
    pub decay: Option<f64>,
}

/// A bus.
#[derive(Debug, Clone)]
pub struct Bus {
    /// Its name.
    pub name: String,
    /// Effects, gain, pan and sends.
    pub strip: Strip,
    /// The bus it goes to, as an index; the master where none.
    pub bus: Option<usize>,
    /// True where it is silenced.
    pub silenced: bool,
}
