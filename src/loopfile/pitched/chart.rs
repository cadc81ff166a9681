//! The chord chart.
//!
//! The words of a bar share it evenly. Where a slash stands among them each word is a beat, so there must be as many as
//! the bar has counts, or beats of the tempo. Notes in brackets behind a symbol are no words: they are how the chord before
//! them is voiced.

use std::ops::Range;

use super::lay;
use super::pin::Pin;
use super::tell;
use crate::harmony::{Chord, Symbol};
use crate::loopfile::rhythm::measures;
use crate::loopfile::{ChordChange, Exact, Time, Words};
use crate::schema::Pattern;
use crate::text::spaced;
use crate::text::{Place, Problem};

/// What the chart says from some place on.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::loopfile) enum Harmony {
    /// A chord.
    Chord(Chord),
    /// No chord.
    Silence,
    /// Nothing: no line of the chart names the bar.
    Unwritten,
}

/// A place of the chart, in bars, and what it says there.
#[derive(Debug, Clone)]
pub(super) struct HarmonyChange {
    pub at: Exact,
    pub harmony: Harmony,
}

/// The chart of a whole loop: what every bar begins with, and what changes in it, in the order of time.
#[derive(Debug, Clone)]
pub(in crate::loopfile) struct Chart {
    changes: Vec<HarmonyChange>,
    bars: u32,
}

/// One bar as it is written.
enum ChartMeasure {
    /// `%`.
    Again(Place),
    /// Words, each with an equal share of the bar; a slash has no symbol.
    Words(Vec<(Option<Symbol>, Place)>),
}

impl Chart {
    /// Reads the lines of `[chords]`.
    pub(crate) fn read(lines: &[Pattern], time: &Time, bars: u32, problems: &mut Vec<Problem>) -> Chart {
        let written: Vec<Vec<ChartMeasure>> = lines.iter().map(|line| read_line(line, time, problems)).collect();
        let mut chart = Chart {
            changes: Vec::new(),
            bars,
        };
        let mut told: Vec<Place> = Vec::new();
        for (bar, laid) in (0i128..).zip(lay::lay(lines, bars, problems).0) {
            // What is wrong in a line was reported; that its bars then lack chords is no second problem.
            let wrong = laid.is_some_and(|laid| written[laid.line].is_empty());
            let measures = laid.map(|laid| (&written[laid.line], laid.nth));
            let measure = measures
                .filter(|(measures, _)| !measures.is_empty())
                .map(|(measures, nth)| &measures[nth % measures.len()]);
            let lacking = match measure {
                Some(ChartMeasure::Again(place)) => {
                    (!chart.again(bar)).then_some((place, "`%` has no bar before it to play again"))
                }
                Some(ChartMeasure::Words(words)) => chart
                    .words(bar, words)
                    .map(|place| (place, "this slash has no chord before it")),
                None => {
                    let says = if wrong { Harmony::Silence } else { Harmony::Unwritten };
                    chart.push(Exact::from_integer(bar), says);
                    None
                }
            };
            if let Some((place, what)) = lacking
                && !told.contains(place)
            {
                told.push(place.clone());
                problems.push(Problem::at(place, what).help("write a chord symbol"));
            }
        }
        chart
    }

    fn push(&mut self, at: Exact, harmony: Harmony) {
        self.changes.push(HarmonyChange { at, harmony });
    }

    /// The bar before again; false where it says nothing.
    fn again(&mut self, bar: i128) -> bool {
        let (from, to) = (Exact::from_integer(bar - 1), Exact::from_integer(bar));
        let before: Vec<HarmonyChange> = self
            .changes
            .iter()
            .filter(|change| change.at >= from && change.at < to)
            .cloned()
            .collect();
        let says = before.iter().any(|change| change.harmony != Harmony::Unwritten);
        for change in before {
            self.push(change.at + 1, change.harmony);
        }
        if !says {
            self.push(to, Harmony::Unwritten);
        }
        says
    }

    /// The words of a bar; gives the place of an opening slash that has no chord before it.
    fn words<'a>(&mut self, bar: i128, words: &'a [(Option<Symbol>, Place)]) -> Option<&'a Place> {
        let mut lacking = None;
        for (nth, (symbol, place)) in (0i128..).zip(words) {
            let at = Exact::from_integer(bar) + Exact::new(nth, words.len() as i128);
            match symbol {
                Some(Symbol::Chord(chord)) => self.push(at, Harmony::Chord(chord.clone())),
                Some(Symbol::Silence) => self.push(at, Harmony::Silence),
                None if nth > 0 => {}
                None => {
                    let before = self
                        .changes
                        .last()
                        .map_or(Harmony::Unwritten, |change| change.harmony.clone());
                    if before == Harmony::Unwritten {
                        lacking = Some(place);
                    }
                    self.push(at, before);
                }
            }
        }
        lacking
    }

    /// What it says at a place.
    pub(super) fn at(&self, at: Exact) -> &Harmony {
        let next = self.changes.partition_point(|change| change.at <= at);
        match next.checked_sub(1) {
            Some(here) => &self.changes[here].harmony,
            None => &Harmony::Unwritten,
        }
    }

    /// What it says at the next barline or, if that is sooner, at the next change of chord; `round` says whether the
    /// first bar comes after the last.
    pub(super) fn to_come(&self, at: Exact, round: bool) -> &Harmony {
        let here = self.at(at);
        let barline = at.floor() + 1;
        let next = self.changes.partition_point(|change| change.at <= at);
        let sooner = self.changes[next..]
            .iter()
            .take_while(|change| change.at < barline)
            .find(|change| change.harmony != *here);
        match sooner {
            Some(change) => &change.harmony,
            None if barline < Exact::from_integer(self.bars.into()) => self.at(barline),
            None if round => self.at(Exact::from_integer(0)),
            None => here,
        }
    }

    /// The chart as the rest of the program takes it: where the chord changes.
    pub(crate) fn resolved(&self) -> Vec<ChordChange> {
        let mut resolved: Vec<ChordChange> = Vec::new();
        let mut before = &Harmony::Unwritten;
        for change in &self.changes {
            if change.harmony != *before {
                resolved.push(ChordChange {
                    at: change.at,
                    chord: match &change.harmony {
                        Harmony::Chord(chord) => Some(chord.clone()),
                        _ => None,
                    },
                    silence: change.harmony == Harmony::Silence,
                });
            }
            before = &change.harmony;
        }
        resolved
    }
}

/// The measures of a line; none where anything is wrong in it.
fn read_line(line: &Pattern, time: &Time, problems: &mut Vec<Problem>) -> Vec<ChartMeasure> {
    let before = problems.len();
    let Some(words) = line.texts().first() else {
        return Vec::new();
    };
    let within = measures(&words.text);
    if within.is_empty() {
        problems.push(Problem::at(&words.whole(), "there are no chords here").help("write N.C. for no chord"));
    }
    let measures: Vec<ChartMeasure> = within
        .into_iter()
        .filter_map(|within| measure(words, within, time, problems))
        .collect();
    if problems.len() > before { Vec::new() } else { measures }
}

fn measure(line: &Words, within: Range<usize>, time: &Time, problems: &mut Vec<Problem>) -> Option<ChartMeasure> {
    let text = &line.text[within.clone()];
    let at: Vec<Range<usize>> = spaced(text)
        .map(|at| at.start + within.start..at.end + within.start)
        .collect();
    if at.is_empty() {
        let whole = line.whole();
        problems.push(
            Problem::at(&whole, "there is nothing between two barlines").help("write `%` for the bar before again"),
        );
        return None;
    }
    if at.len() > super::MOST_WORDS {
        problems.push(super::too_many(line.place(within), at.len()));
        return None;
    }
    if let Some(again) = at.iter().find(|at| &line.text[(*at).clone()] == "%") {
        if at.len() == 1 {
            return Some(ChartMeasure::Again(line.place(again.clone())));
        }
        let what = "`%` is a whole bar, and stands alone in it";
        problems
            .push(Problem::at(&line.place(again.clone()), what).help("write `/` for one more beat of the same chord"));
        return None;
    }
    let before = problems.len();
    let mut words: Vec<(Option<Symbol>, Place)> = Vec::new();
    let mut rest = &at[..];
    while let Some((at, behind)) = rest.split_first() {
        let word = &line.text[at.clone()];
        rest = behind;
        if word.starts_with('(') {
            let pin = Pin::begin(line, at.clone(), &mut rest);
            let last = words.last_mut().and_then(|(symbol, _)| symbol.as_mut());
            if problems.len() == before {
                pin.set(line, last, problems);
            }
        } else if word == "/" {
            words.push((None, line.place(at.clone())));
        } else {
            match Symbol::parse(word) {
                Ok(symbol) => words.push((Some(symbol), line.place(at.clone()))),
                Err(wrong) => problems.push(tell(line, at.clone(), &wrong)),
            }
        }
    }
    if words.iter().any(|(symbol, _)| symbol.is_none())
        && problems.len() == before
        && let Some(problem) = not_a_bar(words.len(), time)
    {
        problems.push(problem_at(&line.place(within), problem));
        return None;
    }
    Some(ChartMeasure::Words(words))
}

fn problem_at(place: &Place, (what, help): (String, String)) -> Problem {
    Problem::at(place, what).help(help)
}

/// What is wrong with so many beats in a bar, if anything is.
fn not_a_bar(words: usize, time: &Time) -> Option<(String, String)> {
    let felt = time.bar() / time.beat;
    let felt = felt.is_integer().then(|| felt.to_integer());
    let words = words as i128;
    let counts = i128::from(time.counts);
    if words == counts || Some(words) == felt {
        return None;
    }
    let beats = match felt {
        Some(felt) if felt != counts => format!("{counts} counts, or {felt} beats"),
        _ => format!("{counts} beats"),
    };
    Some((
        format!("with a slash each word is a beat, and these are {words}, but the bar has {beats}"),
        "write a chord or a slash for each".into(),
    ))
}
