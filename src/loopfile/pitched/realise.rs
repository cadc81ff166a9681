//! A phrase becomes strokes with pitches.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::chart::{Chart, Harmony};
use super::expression::{ExpressionMarks, expression};
use super::habits::{self, Arpeggio, BarSettings, Strum};
use super::phrase::{Event, Phrase, lead_in};
use super::step::Tones;
use super::strum;
use super::tone::{Tone, way};
use super::tutti;
use super::{MOST_STROKES, too_long};
use crate::base::random::Chance;
use crate::harmony::{Chord, Key, Note, VoicingRequest, lead_each};
use crate::loopfile::marks::Hand;
use crate::loopfile::rhythm::accents::Accent;
use crate::loopfile::{Exact, Expression, GRACE, Manner, Stroke, Time, Way, Word, Words};
use crate::schema::{Layers, playing};
use crate::text::Problem;

/// What a part's notes depend on beside what it says itself.
#[derive(Debug, Clone, Copy)]
pub(in crate::loopfile) struct PhraseContext<'a> {
    pub chart: &'a Chart,
    pub key: Option<&'a Key>,
    pub time: &'a Time,
    pub seed: u64,
    /// True where the first bar comes after the last.
    pub round: bool,
    /// The loop's length.
    pub bars: u32,
}

/// A stroke and the name of what it sounds.
#[derive(Debug, Clone)]
pub(in crate::loopfile) struct PitchedStroke {
    pub stroke: Stroke,
    pub note: Note,
}

/// The strokes of a part, with those that accents of the band let it strike, in the order of time, all on the part's first piece.
pub(in crate::loopfile) fn realise(
    name: &Words,
    phrase: &Phrase,
    habits: BarSettings<'_>,
    accents: &BTreeMap<Exact, Accent>,
    stage: PhraseContext<'_>,
    problems: &mut Vec<Problem>,
) -> Vec<PitchedStroke> {
    let written = phrase.events(stage.round);
    let strikes = tutti::strikes(phrase.way, &written, accents, habits, (stage.chart, problems));
    let mut events = tutti::laid(written, &strikes, stage.bars);
    lead_in(&mut events);
    let mut player = PhrasePlayer {
        name,
        way: phrase.way,
        stage,
        sounded: Vec::new(),
        problems,
        dice: None,
        hand: None,
        before: Vec::new(),
    };
    if let Some(last) = events.last().filter(|_| stage.round) {
        player.before = player.notes(last, &habits.at(bar_of(last.at)), &last.strike.play);
    }
    let chords = player.chords(&events, habits);
    let voices = lead(&chords, stage.round);
    for (number, event) in events.iter().enumerate() {
        let layers = habits.at(bar_of(event.at));
        if layers.switch(playing::MUTE) && habits.changes(playing::MUTE) {
            continue;
        }
        match &event.strike.play {
            tones @ (Tones::Notes(_) | Tones::Degrees(_)) => {
                let notes = player.notes(event, &layers, tones);
                let graces = event.strike.graces.as_ref();
                let graces = graces.map_or(Vec::new(), |graces| player.notes(event, &layers, graces));
                player.together(event, &layers, &notes, graces);
            }
            Tones::Chord(hand) => {
                if let Ok(at) = chords.binary_search_by_key(&number, |asked| asked.event) {
                    player.chord(event, &layers, &voices[at], *hand);
                }
            }
        }
        if player.sounded.len() > MOST_STROKES {
            player.problems.extend(too_long(name, player.sounded.len()));
            return Vec::new();
        }
    }
    let mut sounded = player.sounded;
    sounded.sort_by_key(|sounded| sounded.stroke.at);
    sounded
}

fn bar_of(at: Exact) -> u32 {
    u32::try_from(at.floor().to_integer()).unwrap_or(0)
}

/// A chord that a strike asks for.
struct Comped<'a> {
    event: usize,
    asked: VoicingRequest<'a>,
}

/// The voices of each chord. Strikes of one chord in a row are voiced once, so that a rhythm stays on it.
fn lead(chords: &[Comped<'_>], round: bool) -> Vec<Vec<Note>> {
    let same = |one: &VoicingRequest, other: &VoicingRequest| {
        one.chord == other.chord && one.kind == other.kind && one.register == other.register
    };
    let mut distinct: Vec<VoicingRequest> = Vec::new();
    let mut which = Vec::new();
    for Comped { asked, .. } in chords {
        if distinct.last().is_none_or(|last| !same(last, asked)) {
            distinct.push(*asked);
        }
        which.push(distinct.len() - 1);
    }
    let voices = lead_each(&distinct, round);
    which.into_iter().map(|number| voices[number].clone()).collect()
}

struct PhrasePlayer<'a> {
    name: &'a Words,
    way: Way,
    stage: PhraseContext<'a>,
    sounded: Vec<PitchedStroke>,
    problems: &'a mut Vec<Problem>,
    /// The stream that random arpeggios of a bar are drawn from.
    dice: Option<(u32, Chance)>,
    /// The same for strokes of the hand.
    hand: Option<(u32, Chance)>,
    /// The notes that sounded last, from which a slide comes.
    before: Vec<Note>,
}

impl<'a> PhrasePlayer<'a> {
    /// The chord that a strike takes; none where there is none to play, which is a problem unless the chart says so.
    fn heard(&mut self, event: &Event<'_>) -> Option<&'a Chord> {
        let PhraseContext { chart, round, .. } = self.stage;
        let harmony = if event.strike.pushed {
            chart.to_come(event.at, round)
        } else {
            chart.at(event.at)
        };
        match harmony {
            Harmony::Chord(chord) => Some(chord),
            Harmony::Silence => None,
            Harmony::Unwritten => {
                let pushed = event.strike.pushed;
                let bar = bar_of(event.at) + 1 + u32::from(pushed);
                let bar = if bar > self.stage.bars { 1 } else { bar };
                let problem = Problem::at(event.place, format!("`[chords]` has no chord in bar {bar}"));
                let problem = problem.help("name the bar in `[chords]`, with N.C. for no chord");
                if !self.problems.iter().any(|other| other.place == problem.place) {
                    self.problems.push(problem);
                }
                None
            }
        }
    }

    fn chords(&mut self, events: &[Event<'_>], habits: BarSettings<'_>) -> Vec<Comped<'a>> {
        let mut chords = Vec::new();
        for (number, event) in events.iter().enumerate() {
            if !matches!(event.strike.play, Tones::Chord(_)) {
                continue;
            }
            let Some(chord) = self.heard(event) else { continue };
            let layers = habits.at(bar_of(event.at));
            chords.push(Comped {
                event: number,
                asked: VoicingRequest {
                    chord,
                    kind: habits::voicing(&layers),
                    register: habits::register(&layers, self.way),
                },
            });
        }
        chords
    }

    /// The notes that are written, or that degrees mean on the chord that is heard.
    fn notes(&mut self, event: &Event<'_>, layers: &Layers<'_>, tones: &Tones) -> Vec<Note> {
        let words = match tones {
            Tones::Notes(notes) => return notes.clone(),
            Tones::Degrees(words) => words,
            Tones::Chord(_) => return Vec::new(),
        };
        let Some(chord) = self.heard(event) else {
            return Vec::new();
        };
        let register = habits::register(layers, self.way);
        let mut notes = Vec::new();
        for word in words {
            let note = word.place(chord, self.stage.key, register);
            if (0..=127).contains(&note.midi()) {
                notes.push(note);
                continue;
            }
            let what = format!("on {chord} this is {note}, beyond the keys of MIDI, which go from C-1 to G9");
            let problem = Problem::at(event.place, what).help("take another octave, or another `register`");
            if !self.problems.contains(&problem) {
                self.problems.push(problem);
            }
        }
        notes
    }

    /// Notes that sound together, with grace notes before the first of them.
    fn together(&mut self, event: &Event<'_>, layers: &Layers<'_>, notes: &[Note], graces: Vec<Note>) {
        let length = event.length - self.led(event);
        let sounds = habits::length(layers, Some(100.0)).map(|share| share * length);
        let marks = event.strike.expression.as_deref();
        self.missing_note_before(event, &graces);
        let before = graces.last().map_or(self.before.clone(), |grace| vec![*grace]);
        let mut graces = graces;
        for (nth, note) in notes.iter().enumerate() {
            let place = event.strike.tones.get(nth).unwrap_or(event.place);
            let from = before.get(nth).or(before.last()).copied();
            let expression = expression(marks, *note, from, layers, self.stage.time);
            let expression = match std::mem::take(&mut graces) {
                none if none.is_empty() => expression,
                graces => Some(Expression {
                    graces,
                    ..expression.unwrap_or_default()
                }),
            };
            let tone = Tone {
                place,
                sounds,
                expression: expression.map(Arc::new),
                ..Tone::of(event, *note)
            };
            self.push(event, tone);
        }
        self.before = notes.to_vec();
    }

    /// Says so where a note slides from the note before, and there is none.
    fn missing_note_before(&mut self, event: &Event<'_>, graces: &[Note]) {
        let slides = event.strike.expression.as_deref().is_some_and(ExpressionMarks::slides);
        if slides && graces.is_empty() && self.before.is_empty() {
            let problem = Problem::at(event.place, "there is no note before it that it could slide from");
            let problem = problem.help("write a scoop from below, such as `:scoop=2`, or a grace note before it");
            if !self.problems.contains(&problem) {
                self.problems.push(problem);
            }
        }
    }

    /// How much of its end grace notes of the next note take from a note, in bars: half of it at the most.
    fn led(&self, event: &Event<'_>) -> Exact {
        if event.leads == 0 {
            return Exact::ZERO;
        }
        let bars = GRACE * event.leads as f64 / self.stage.time.bar_seconds();
        let millionths = libm::round(bars * 1e6) as i128;
        Exact::new(millionths, 1_000_000).min(event.length / 2)
    }

    /// A chord as the hand plays it; `voices` go from the lowest up.
    fn chord(&mut self, event: &Event<'_>, layers: &Layers<'_>, voices: &[Note], hand: Hand) {
        let mut voices: Vec<Note> = voices
            .iter()
            .copied()
            .filter(|note| (0..=127).contains(&note.midi()))
            .collect();
        if voices.is_empty() {
            return;
        }
        if let Some(arpeggio) = habits::arpeggio(layers)
            && hand != Hand::Scratch
        {
            return self.broken(event, layers, &voices, arpeggio);
        }
        let strum = habits::strum(layers, hand != Hand::Even);
        let down = match hand {
            Hand::Down => false,
            Hand::Up => true,
            _ => strum.is_some_and(|Strum { down, .. }| down),
        };
        let guitar = strum.is_some_and(|strum| strum.guitar);
        let met = match hand {
            // Low strings thump.
            Hand::Scratch => voices.len().min(SCRATCHED),
            _ if guitar => strum::met(voices.len(), down),
            _ => voices.len(),
        };
        voices.drain(..voices.len() - met);
        if down {
            voices.reverse();
        }
        let sounds = match hand {
            Hand::Scratch => Some((MUTED / self.stage.time.bar()).min(event.length)),
            _ => habits::length(layers, Some(100.0)).map(|share| share * event.length),
        };
        let all = strum.map_or(0.0, |strum| strum.seconds);
        // The hand has no tone to wait for.
        let all = if hand == Hand::Scratch { all / 2.0 } else { all };
        let strings: Vec<(f64, f64)> = if guitar {
            strum::stroke(voices.len(), down, all, self.chance_of_hand(event.at))
        } else {
            let gaps = (voices.len() - 1).max(1) as f64;
            (0..voices.len()).map(|nth| (all * nth as f64 / gaps, 1.0)).collect()
        };
        let manner = match hand {
            Hand::Scratch => Manner::Scratch,
            _ => Manner::Single,
        };
        for (note, (shift, scale)) in voices.iter().zip(strings) {
            let tone = Tone {
                sounds,
                shift: event.shift + shift,
                scale: event.scale * scale,
                manner,
                ..Tone::of(event, *note)
            };
            self.push(event, tone);
        }
    }

    /// The stream of chance that the hand's strokes of a bar are drawn from.
    fn chance_of_hand(&mut self, at: Exact) -> &mut Chance {
        let bar = bar_of(at) + 1;
        let open = || Chance::new(self.stage.seed, &self.name.text, "strum", bar);
        if self.hand.as_ref().is_some_and(|(of, _)| *of != bar) {
            self.hand = None;
        }
        &mut self.hand.get_or_insert_with(|| (bar, open())).1
    }

    /// A chord broken into its notes, as long as it is written to sound.
    fn broken(&mut self, event: &Event<'_>, layers: &Layers<'_>, voices: &[Note], arpeggio: Arpeggio<'_>) {
        let step = arpeggio.step / self.stage.time.bar();
        let count = (event.length / step)
            .ceil()
            .to_integer()
            .clamp(1, MOST_STROKES as i128 + 1);
        let turns = way(voices.len(), arpeggio.order);
        let mut before = None;
        for nth in 0..count {
            let gone = step * nth;
            let length = step.min(event.length - gone);
            let voice = match &turns {
                Some(turns) => turns[nth as usize % turns.len()],
                None => self.draw(event.at, voices.len(), before),
            };
            before = Some(voice);
            let sounds = habits::length(layers, Some(100.0)).map(|share| share * length);
            let tone = Tone {
                at: event.at + gone,
                step,
                held: length,
                sounds,
                mark: if nth == 0 { event.strike.mark } else { '=' },
                ..Tone::of(event, voices[voice])
            };
            self.push(event, tone);
        }
    }

    /// A voice by chance, never the same twice in a row.
    fn draw(&mut self, at: Exact, voices: usize, before: Option<usize>) -> usize {
        let bar = bar_of(at) + 1;
        if self.dice.as_ref().is_none_or(|(of, _)| *of != bar) {
            self.dice = Some((bar, Chance::new(self.stage.seed, &self.name.text, "arpeggio", bar)));
        }
        let Some((_, dice)) = &mut self.dice else { return 0 };
        match before {
            Some(before) if voices > 1 => (before + 1 + dice.below(voices - 1)) % voices,
            _ => dice.below(voices),
        }
    }

    fn push(&mut self, event: &Event<'_>, tone: Tone<'_>) {
        let end = Exact::from_integer(self.stage.bars.into());
        // What the loop's opening holds lengthened can be broken into notes past the last bar: they open the next round.
        let at = if tone.at >= end { tone.at - end } else { tone.at };
        self.sounded.push(PitchedStroke {
            stroke: Stroke {
                at,
                step: tone.step,
                piece: 0,
                velocity: event.strike.velocity,
                plain: event.strike.plain,
                shift: tone.shift,
                pitch: Some(tone.note.midi()),
                sounds: tone.sounds,
                word: Some(Arc::new(Word {
                    spelling: tone.note.spelling,
                    place: tone.place.clone(),
                    held: tone.held,
                })),
                mark: tone.mark,
                expression: tone.expression,
                manner: tone.manner,
                scale: tone.scale,
            },
            note: tone.note,
        });
    }
}

/// How many strings a scratch is heard on, the highest ones.
const SCRATCHED: usize = 3;
/// How long muted strings sound, in whole notes.
const MUTED: Exact = Exact::new_raw(1, 64);
