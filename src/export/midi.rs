//! What was played, as a Standard MIDI File: one track a part, notes at their pitch, percussion on General MIDI's keys.
//!
//! Title and parts are told in UTF-8. The key signature is that of the key's own scale: a mode has the signature of the major
//! key whose notes it has, and is called minor where its third is.

use std::collections::BTreeSet;
use std::path::Path;

use super::mark::MADE_BY;
use super::write_beside;
use crate::kit::Index;
use crate::loopfile::{Exact, Loop, Part, Time};
use crate::midi::{
    self, BentNote, KeySignature, Metre, MidiNote, MidiPart, MidiSong, PERCUSSION_CHANNEL, PERCUSSION_TICKS,
    TICKS_A_QUARTER, Tempo,
};
use crate::score::{Cycle, Hit, PitchCurve};
use crate::text::Problem;

/// Ticks that a note is written which is let ring.
const RINGING_TICKS: u64 = TICKS_A_QUARTER as u64;

/// Seconds from one look at a pitch that moves to the next: finer than hearing tells pitches apart in time [practice].
const LOOK: f64 = 0.005;
/// Cents by which a pitch has to move for a new bend: a tenth of what the ear tells apart [memory: about 5 cents].
const FINEST: f64 = 0.5;

/// A stretch of music in one tempo and metre: a round of a loop, or a section of a form.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Passage<'a> {
    /// The loop that it plays.
    pub song: &'a Loop,
    /// What the loop's kit holds.
    pub kit: &'a Index,
    /// One list of hits a part of the loop.
    pub parts: &'a [Vec<Hit>],
    /// The hits' time at the passage's beginning, in seconds.
    pub counted_from: f64,
    /// How long it is, in seconds.
    pub seconds: f64,
    /// What comes before its first barline, in whole notes.
    pub pickup: Option<Exact>,
    /// How the loop's bars repeat in it, in the hits' time.
    pub cycle: Cycle,
    /// The section of a form that it is.
    pub section: Option<&'a str>,
}

/// A piece that General MIDI has no percussion key for, and the key that it is written on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct FreeKey {
    /// The piece's name in its kit.
    pub piece: String,
    /// 0 to 127.
    pub key: u8,
}

/// Writes down passages one after another, at the times and velocities at which they are played.
///
/// Parts of one name are one track; those that are silenced are left out. On a circle, what lies before the first tick
/// or past the last comes round at the other end; on a line what lies before the first tick stands on it, but
/// for grace notes, which are left out.
///
/// # Errors
/// More pieces than there are keys.
pub(crate) fn song(title: &str, passages: &[Passage], circle: bool) -> Result<(MidiSong, Vec<FreeKey>), Problem> {
    let mut desk = Copyist {
        keys: FreeNotes::new(passages)?,
        song: MidiSong {
            title: title.into(),
            ..MidiSong::default()
        },
    };
    let length: u64 = passages.iter().map(|passage| passage.ticks()).sum();
    let mut begins = 0;
    for passage in passages {
        desk.mark_time(begins, passage);
        desk.mark_music(begins, passage);
        desk.copy(passage, begins, circle.then_some(length));
        begins += passage.ticks();
    }
    desk.song.length = length;
    for part in &mut desk.song.parts {
        set_apart(part, length);
        part.notes.sort_by_key(|note| (note.start, note.key));
        part.bent.sort_by_key(|bent| (bent.note.start, bent.note.key));
    }
    desk.song.pieces = Some(desk.keys.told());
    Ok((desk.song, desk.keys.free()))
}

/// Writes a song to a file.
///
/// # Errors
/// As [`write_beside`]; what a Standard MIDI File can't hold.
pub(crate) fn write(path: &Path, song: &MidiSong) -> Result<(), Problem> {
    write_beside(path, |out| midi::write_remarked(song, MADE_BY, out))
}

impl Passage<'_> {
    /// Its length in ticks.
    fn ticks(&self) -> u64 {
        libm::round(self.seconds * ticks_a_second(&self.song.time)).max(0.0) as u64
    }

    /// The parts that are heard, with their hits.
    fn heard(&self) -> impl Iterator<Item = (&Part, &Vec<Hit>)> {
        let parts = self.song.parts.iter().zip(self.parts);
        parts.filter(|(part, _)| !part.silenced)
    }

    /// The tick, counted from the passage's beginning, of a moment in the hits' time.
    fn tick(&self, moment: f64) -> i64 {
        libm::round((moment - self.counted_from) * ticks_a_second(&self.song.time)) as i64
    }

    /// Where its chords change, in ticks from its beginning: what its bars begin with, and each change within them.
    fn chords(&self) -> Vec<(u64, &str)> {
        let (song, cycle) = (self.song, &self.cycle);
        let first = Exact::from_integer(cycle.first.into());
        let last = first + Exact::from_integer(cycle.bars.into());
        let opening = song.change_at(first).map(|change| (first, change));
        let within = song.chords.iter().map(|change| (change.at, change));
        let within = within.filter(|(at, _)| *at > first && *at < last);
        let changes: Vec<_> = opening.into_iter().chain(within).collect();
        let begins = self.pickup.map_or(0, |pickup| ticks_of(pickup) as i64);
        let mut found = Vec::new();
        for time in 0..cycle.times {
            let round = cycle.begins + f64::from(time) * cycle.seconds;
            for (at, change) in &changes {
                let bars = at - first;
                let bars = *bars.numer() as f64 / *bars.denom() as f64;
                let tick = self.tick(round + bars * song.time.bar_seconds());
                let symbol = match &change.chord {
                    Some(chord) => chord.symbol.as_str(),
                    None if change.silence => "N.C.",
                    None => continue,
                };
                if (begins..self.ticks() as i64).contains(&tick) {
                    found.push((tick as u64, symbol));
                }
            }
        }
        found
    }

    /// The name that the kit has for a piece of a part.
    fn piece<'a>(&'a self, part: &'a Part, number: usize) -> &'a str {
        let name = &part.pieces[number].piece;
        let piece = self.kit.find(name).map(|place| &self.kit.pieces[place].name);
        piece.unwrap_or(name)
    }
}

fn ticks_a_second(time: &Time) -> f64 {
    let ticks = time.bar() * i128::from(4 * u32::from(TICKS_A_QUARTER));
    *ticks.numer() as f64 / *ticks.denom() as f64 / time.bar_seconds()
}

/// The ticks of a length in whole notes.
fn ticks_of(length: Exact) -> u64 {
    (length * i128::from(4 * u32::from(TICKS_A_QUARTER))).to_integer() as u64
}

/// A metre whose bar has a length in whole notes, where there is one: triplets have none.
fn short_bar(at: u64, length: Exact) -> Option<Metre> {
    let (counts, unit) = (
        u32::try_from(*length.numer()).ok()?,
        u32::try_from(*length.denom()).ok()?,
    );
    let fits = (1..=255).contains(&counts) && unit.is_power_of_two() && unit <= 64;
    fits.then_some(Metre { at, counts, unit })
}

/// The keys of all pieces that are struck without a pitch, in the order in which parts and their pieces come.
struct FreeNotes(Vec<(String, midi::PercussionKey)>);

impl FreeNotes {
    fn new(passages: &[Passage]) -> Result<FreeNotes, Problem> {
        let mut names: Vec<&str> = Vec::new();
        for passage in passages {
            for (part, hits) in passage.heard() {
                let struck = (0..part.pieces.len())
                    .filter(|number| hits.iter().any(|hit| hit.piece == *number && hit.pitch.is_none()));
                for name in struck.map(|number| passage.piece(part, number)) {
                    if !names.contains(&name) {
                        names.push(name);
                    }
                }
            }
        }
        let keys = midi::keys_for(names.iter().copied());
        let keyed = names.iter().zip(keys).map(|(name, key)| {
            let what = || {
                format!(
                    "MIDI has 128 keys, too few for the {} pieces that are played",
                    names.len()
                )
            };
            let key = key.ok_or_else(|| Problem::new(what()).help("take some parts with --only"))?;
            Ok((name.to_string(), key))
        });
        keyed.collect::<Result<Vec<_>, Problem>>().map(FreeNotes)
    }

    fn of(&self, piece: &str) -> u8 {
        let found = self.0.iter().find(|(name, _)| name == piece);
        found.map_or(0, |(_, key)| key.key)
    }

    /// Every key with its piece's name.
    fn told(&self) -> Vec<(u8, String)> {
        self.0.iter().map(|(name, key)| (key.key, name.clone())).collect()
    }

    fn free(self) -> Vec<FreeKey> {
        let free = self.0.into_iter().filter(|(_, key)| !key.general_midi);
        free.map(|(piece, key)| FreeKey { piece, key: key.key }).collect()
    }
}

struct Copyist {
    keys: FreeNotes,
    song: MidiSong,
}

impl Copyist {
    /// Marks a passage's tempo and metre where they change. A pickup is a short bar of its own, so that the barlines
    /// behind it stand where they should.
    fn mark_time(&mut self, at: u64, passage: &Passage) {
        let time = &passage.song.time;
        let quarters = time.beat * 4;
        let quarters = time.tempo * *quarters.numer() as f64 / *quarters.denom() as f64;
        let tempo = Tempo::new(at, quarters);
        if self.song.tempos.last().map(|last| last.micros) != Some(tempo.micros) {
            self.song.tempos.push(tempo);
        }
        let mut barline = at;
        if let Some((length, metre)) = passage.pickup.and_then(|pickup| Some((pickup, short_bar(at, pickup)?))) {
            self.song.metres.push(metre);
            barline += ticks_of(length);
        }
        let (counts, unit) = (time.counts, time.unit);
        if self.song.metres.last().map(|last| (last.counts, last.unit)) != Some((counts, unit)) {
            self.song.metres.push(Metre {
                at: barline,
                counts,
                unit,
            });
        }
    }

    /// Marks a passage's section, key and chords, each where it changes.
    fn mark_music(&mut self, at: u64, passage: &Passage) {
        let barline = at + passage.pickup.map_or(0, ticks_of);
        if let Some(section) = passage.section {
            self.song.sections.push((barline, section.to_string()));
        }
        if let Some(key) = passage.song.tonality() {
            let (sharps, minor) = (key.signature(), key.is_minor());
            let last = self.song.keys.last();
            if last.is_none_or(|last| (last.sharps, last.minor) != (sharps, minor)) {
                self.song.keys.push(KeySignature { at, sharps, minor });
            }
        }
        for (tick, symbol) in passage.chords() {
            let new = tick == barline - at && passage.section.is_some();
            if new || self.song.chords.last().is_none_or(|(_, last)| last != symbol) {
                self.song.chords.push((at + tick, symbol.to_string()));
            }
        }
    }

    /// Copies a passage that begins at a tick; `round` is the circle's length where there is one.
    fn copy(&mut self, passage: &Passage, begins: u64, round: Option<u64>) {
        let ticks_a_second = ticks_a_second(&passage.song.time);
        for (part, hits) in passage.heard() {
            let keys: Vec<u8> = (0..part.pieces.len())
                .map(|number| self.keys.of(passage.piece(part, number)))
                .collect();
            let note = |hit: &Hit| -> Option<MidiNote> {
                let at = begins as i64 + passage.tick(hit.at);
                let start = match round {
                    Some(round) => at.rem_euclid(round.max(1) as i64),
                    None if at < 0 && hit.grace => return None,
                    None => at.max(0),
                };
                Some(MidiNote {
                    start: start as u64,
                    length: length(hit, ticks_a_second),
                    key: hit.pitch.map_or(keys[hit.piece], |pitch| pitch.clamp(0, 127) as u8),
                    velocity: libm::round(hit.velocity).clamp(1.0, 127.0) as u8,
                })
            };
            if hits.is_empty() {
                self.track(part, part.strokes.iter().all(|stroke| stroke.pitch.is_none()));
            }
            for (note, hit) in hits.iter().filter_map(|hit| Some((note(hit)?, hit))) {
                let track = self.track(part, hit.pitch.is_none());
                match &hit.curve {
                    Some(curve) => track.bent.push(BentNote {
                        note,
                        bend: bend(curve, note.length, ticks_a_second),
                    }),
                    None => track.notes.push(note),
                }
            }
        }
    }

    /// The track of a part, a new one where it has none yet.
    fn track(&mut self, part: &Part, percussion: bool) -> &mut MidiPart {
        let parts = &mut self.song.parts;
        let place = parts
            .iter()
            .position(|known| known.name == part.name && known.percussion == percussion);
        let place = place.unwrap_or_else(|| {
            let piece = part.pieces.first().map(|piece| piece.piece.as_str());
            let program = piece.and_then(midi::program_for);
            parts.push(MidiPart {
                name: part.name.clone(),
                percussion,
                channel: part.channel.filter(|channel| *channel != PERCUSSION_CHANNEL),
                program: program.or_else(|| midi::program_for(&part.name)),
                ..MidiPart::default()
            });
            parts.len() - 1
        });
        &mut parts[place]
    }
}

/// Moves notes of one key that start together a tick or two apart, the hardest staying: of such notes a file would hold one.
fn set_apart(part: &mut MidiPart, length: u64) {
    let bent = part.bent.iter_mut().map(|bent| &mut bent.note);
    let mut notes: Vec<&mut MidiNote> = part.notes.iter_mut().chain(bent).collect();
    notes.sort_by_key(|note| (note.start, note.key, std::cmp::Reverse(note.velocity)));
    let mut taken: BTreeSet<(u8, u64)> = BTreeSet::new();
    for note in notes {
        let later = |far: u64| Some(note.start + far).filter(|start| *start < length.max(1));
        let mut near = (0..=length.max(1))
            .flat_map(|far| [later(far), note.start.checked_sub(far)])
            .flatten();
        let free = near.find(|start| !taken.contains(&(note.key, *start)));
        note.start = free.unwrap_or(note.start);
        taken.insert((note.key, note.start));
    }
}

/// A curve as bends: a new one where the pitch has moved on by [`FINEST`], looked at every [`LOOK`] seconds.
fn bend(curve: &PitchCurve, length: u64, ticks_a_second: f64) -> Vec<(u64, f64)> {
    let every = libm::round(LOOK * ticks_a_second).max(1.0) as usize;
    let mut bends: Vec<(u64, f64)> = Vec::new();
    for tick in (0..length).step_by(every) {
        let cents = curve.cents(tick as f64 / ticks_a_second);
        if bends
            .last()
            .is_none_or(|(_, last)| (100.0 * last - cents).abs() >= FINEST)
        {
            bends.push((tick, cents / 100.0));
        }
    }
    bends
}

/// How many ticks a hit is written.
fn length(hit: &Hit, ticks_a_second: f64) -> u64 {
    match (hit.pitch, hit.length) {
        (None, _) => PERCUSSION_TICKS,
        (Some(_), Some(seconds)) => libm::round(seconds * ticks_a_second).max(1.0) as u64,
        (Some(_), None) => RINGING_TICKS,
    }
}
