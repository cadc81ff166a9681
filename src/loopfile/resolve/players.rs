//! What parts play, resolved: notes beside hits, what `[part.change]` changes, doubles.

use std::collections::BTreeMap;

use super::sound;
use crate::loopfile::limits::{MOST_PARTS, MOST_STROKES};
use crate::loopfile::pitched;
use crate::loopfile::pitched::{DoubleVoice, Phrase, PitchedStroke, WAYS, double_name, doubles, pan_of, realise};
use crate::loopfile::rhythm::accents;
use crate::loopfile::unresolved::{LoopDraft, PartDraft, all_doubles};
use crate::loopfile::written::KitDefaults;
use crate::loopfile::written::tables::PartTable;
use crate::loopfile::{Ending, Field, Loop, Part, Played, Playing, Stroke, Sweep, Target, Time, Words};
use crate::schema::{Layers, PlacedValue, Value, part, playing};
use crate::text::Problem;

/// Reads what a part plays where it is written in notes, degrees or comping. A part has one of these, or hits.
pub(crate) fn phrase(part: &PartTable, time: &Time, bars: u32, problems: &mut Vec<Problem>) -> Option<Phrase> {
    let mut ways: Vec<&str> = Vec::new();
    if !part.lines.is_empty() {
        ways.push(part::HITS.name);
    }
    if part.settings.writes(part::MIDI) {
        ways.push(part::MIDI.name);
    }
    let mut phrase = None;
    for (way, setting) in WAYS {
        let Some(PlacedValue {
            value: Value::Patterns(lines),
            name,
            ..
        }) = part.settings.placed(setting)
        else {
            continue;
        };
        let language = setting.name;
        if let Some(other) = ways.first() {
            let what = format!("`{}` has `{language}`, and `{other}` already", part.name.text);
            problems.push(Problem::at(name, what).help("a part plays one of them; write a second part for the other"));
        }
        ways.push(language);
        phrase = Some(Phrase::read(way, lines, &part.name, (time, bars), problems));
    }
    phrase
}

impl LoopDraft {
    /// Finds what only shows when the parts play: chords that the chart lacks, notes beyond all keys, doubles that go
    /// along in no key.
    pub(crate) fn rehearse(&self, problems: &mut Vec<Problem>) {
        let key = self.tonality();
        let (mut voices, mut strokes) = (0, 0);
        for part in &self.parts {
            let own = 1 + all_doubles(part).len();
            let written = match &part.phrase {
                Some(phrase) => {
                    let stage = self.stage(key.as_ref());
                    realise(&part.name, phrase, part.habits(), &part.read.accents, stage, problems).len()
                }
                None => part.read.strokes.len(),
            };
            let before = (voices, strokes);
            (voices, strokes) = (voices + own, strokes + own * written);
            if before.0 <= MOST_PARTS && voices > MOST_PARTS {
                let what = format!(
                    "with `{}` and its doubles the loop has {voices} parts; {MOST_PARTS} are the most",
                    part.name.text
                );
                problems.push(Problem::at(&part.name.whole(), what).help("take some of the doubles out"));
            }
            if before.1 <= MOST_STROKES && strokes > MOST_STROKES {
                let what = format!(
                    "with `{}` and its doubles the loop has {strokes} strokes; {MOST_STROKES} are the most",
                    part.name.text
                );
                problems.push(Problem::at(&part.name.whole(), what).help("shorten the loop, or write fewer notes"));
            }
            if voices > MOST_PARTS || strokes > MOST_STROKES {
                return;
            }
            for (nth, double) in all_doubles(part).into_iter().enumerate() {
                let name = double_name(&part.name.text, nth + 1);
                if let Some(other) = self.parts.iter().find(|other| other.name.text == name) {
                    let what = format!("`{name}` is what a double of `{}` is called", part.name.text);
                    problems.push(Problem::at(&other.name.whole(), what).help("choose another name"));
                }
                let Some(words) = double.in_words() else { continue };
                if part.phrase.is_none() {
                    let what = format!("`{}` has hits, and hits have no `{}`", part.name.text, words.text);
                    problems.push(Problem::at(&words.whole(), what).help("write semitones, such as -12"));
                } else if key.is_none() {
                    let what = format!("`{}` goes along in a key, and the loop has none", words.text);
                    problems.push(
                        Problem::at(&words.whole(), what)
                            .help("write semitones, such as -12, or give `[loop]` a `key` such as \"G minor\""),
                    );
                }
            }
        }
    }

    /// The notes of a part, where it is written in notes.
    fn sounded(&self, part: &PartDraft) -> Option<Vec<PitchedStroke>> {
        let key = self.tonality();
        let phrase = part.phrase.as_ref()?;
        // What is wrong was reported when the loop was read.
        let told = &mut Vec::new();
        Some(realise(
            &part.name,
            phrase,
            part.habits(),
            &part.read.accents,
            self.stage(key.as_ref()),
            told,
        ))
    }

    /// The pieces and strokes of a part.
    pub(in crate::loopfile) fn played(&self, part: &PartDraft) -> (Vec<Words>, Vec<Stroke>) {
        let mut pieces = part.read.pieces.clone();
        let habits = part.habits();
        let mut strokes: Vec<Stroke> = match self.sounded(part) {
            Some(sounded) => sounded.into_iter().map(|sounded| sounded.stroke).collect(),
            None => self.struck(part),
        };
        if part.phrase.is_some() {
            accents::raise(&mut strokes, &part.read.accents);
        }
        if part.take.is_some() {
            let round = (self.ending == Ending::Repeat).then_some(self.bars);
            // A part that swings by itself bends what it plays and its grid alike.
            let own = part.settings.placed(playing::SWING).is_some();
            let swing = Some(self.swing()).filter(|_| !own);
            accents::raise_near(&mut strokes, &part.read.accents, swing.as_ref(), (&self.time, round));
        }
        if habits.changes(playing::PIECE) {
            for stroke in strokes.iter_mut().filter(|stroke| stroke.piece == 0) {
                let Some(piece) = habits.piece(bar_of(stroke)) else {
                    continue;
                };
                let known = pieces.iter().position(|known| known.text == piece.text);
                stroke.piece = known.unwrap_or(pieces.len());
                if known.is_none() {
                    pieces.push(piece.clone());
                }
            }
        }
        (pieces, strokes)
    }

    /// The hits of a part, with the lengths that its keys give them.
    fn struck(&self, part: &PartDraft) -> Vec<Stroke> {
        let habits = part.habits();
        let plain = !part.settings.writes(playing::LENGTH) && !habits.changes(playing::LENGTH);
        let mut strokes = part.read.strokes.clone();
        if habits.changes(playing::MUTE) {
            strokes.retain(|stroke| !habits.at(bar_of(stroke)).switch(playing::MUTE));
        }
        for stroke in strokes.iter_mut().filter(|stroke| !plain || stroke.pitch.is_some()) {
            let standard = stroke.pitch.map(|_| 100.0);
            let share = pitched::length(&habits.at(bar_of(stroke)), standard);
            stroke.sounds = share.map(|share| share * stroke.step);
        }
        strokes
    }

    /// How a part plays in the bars in which its keys of time and velocity are different.
    pub(in crate::loopfile) fn changed_playing(&self, part: &PartDraft) -> BTreeMap<u32, Playing> {
        let bars = part.changed.iter().flat_map(|(bars, _)| bars);
        bars.map(|bar| (*bar, self.playing(&part.habits().at(*bar), part.take.is_some())))
            .collect()
    }

    /// Adds the doubles of all parts, as parts behind those that the file names, and what is swept in them.
    pub(crate) fn add_doubles(&self, resolved: &mut Loop, kit: &KitDefaults) {
        let key = self.tonality();
        for (number, part) in self.parts.iter().enumerate() {
            let voices = all_doubles(part);
            if voices.is_empty() {
                continue;
            }
            let sounded = self.sounded(part);
            for (nth, double) in voices.into_iter().enumerate() {
                let own = &resolved.parts[number];
                let here = |stroke: &Stroke| doubles(&part.habits().at(bar_of(stroke))).get(nth).copied();
                let strokes: Vec<Stroke> = match &sounded {
                    Some(sounded) => {
                        let voice = sounded.iter().zip(&own.strokes);
                        voice
                            .filter_map(|(sounded, own)| {
                                let stroke = here(own)?.stroke(sounded, key.as_ref())?;
                                Some(Stroke {
                                    piece: own.piece,
                                    scale: own.scale,
                                    ..stroke
                                })
                            })
                            .collect()
                    }
                    None => own
                        .strokes
                        .iter()
                        .filter_map(|stroke| here(stroke)?.played(stroke))
                        .collect(),
                };
                let silenced = part.silenced_doubles.get(nth).copied().unwrap_or(false)
                    || Layers::new([&part.settings]).switch(playing::MUTE);
                let new = double_of(part, own, (nth, &double), strokes, silenced, kit);
                sweeps_of(resolved, number, &double);
                resolved.parts.push(new);
            }
        }
    }
}

fn bar_of(stroke: &Stroke) -> u32 {
    u32::try_from(stroke.at.floor().to_integer()).unwrap_or(0)
}

fn double_of(
    part: &PartDraft,
    own: &Part,
    (nth, double): (usize, &DoubleVoice<'_>),
    mut strokes: Vec<Stroke>,
    silenced: bool,
    kit: &KitDefaults,
) -> Part {
    let mut pieces = own.pieces.clone();
    if let Some(piece) = double.piece() {
        let layers = Layers::new(std::iter::once(&part.settings).chain(kit.get(&piece.text)));
        pieces = vec![Played {
            piece: piece.text.clone(),
            place: piece.whole(),
            sound: sound(&layers),
        }];
        strokes.iter_mut().for_each(|stroke| stroke.piece = 0);
    }
    if strokes.iter().all(|stroke| stroke.pitch.is_none()) {
        pieces
            .iter_mut()
            .for_each(|piece| piece.sound.tune += double.semitones());
    }
    let mut strip = own.strip.clone();
    strip.gain_db += double.gain_db();
    strip.pan = pan_of(double).unwrap_or(strip.pan);
    Part {
        name: double_name(&own.name, nth + 1),
        double: true,
        pieces,
        strokes,
        apart: double.behind(),
        strip,
        silenced,
        ..own.clone()
    }
}

/// Sweeps of a part move its doubles too, each on its own level; a pan of a double's own stays.
fn sweeps_of(resolved: &mut Loop, number: usize, double: &DoubleVoice<'_>) {
    let target = Target::Part(resolved.parts.len());
    let of_part = resolved
        .sweeps
        .iter()
        .filter(|sweep| sweep.target == Target::Part(number));
    let kept = of_part.filter(|sweep| sweep.field != Field::Pan || pan_of(double).is_none());
    let mut new: Vec<Sweep> = kept.cloned().collect();
    for sweep in &mut new {
        sweep.target = target;
        if sweep.field == Field::Gain {
            for stretch in &mut sweep.stretches {
                stretch.from += double.gain_db();
                stretch.to += double.gain_db();
            }
        }
    }
    resolved.sweeps.extend(new);
}
