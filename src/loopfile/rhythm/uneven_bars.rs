//! Bars that don't add up, though nothing forbids them: marks, words and chords that share a bar unevenly, patterns that don't
//! fit into their bars, gaps between a part's ranges of bars.
//!
//! All of it is legal: a bar shares its time evenly among whatever stands in it. But fifteen marks beside lines of sixteen
//! are more likely a slip than a meaning. One hint a pattern is reported; lines of one key with the same fault are reported together.

use std::collections::BTreeSet;
use std::ops::Range;

use super::{is_borrowed, is_even, items, measures, ranges, read_bars};
use crate::loopfile::written::tables::{LoopTables, PartTable};
use crate::loopfile::{Exact, Time, Words};
use crate::schema::{self, Play, Setting, part};
use crate::text::spaced;
use crate::text::{Problem, count_of, in_a_row, spelled};

/// What may not be meant in the bars of a loop of `bars` bars that reads without a problem.
pub(crate) fn hints(written: &LoopTables, time: &Time, bars: u32) -> Vec<Problem> {
    let patterns = patterns(written);
    let all: Vec<CountedLine> = patterns.iter().map(|pattern| CountedLine::of(pattern, bars)).collect();
    let mut odd: Vec<Finding> = Vec::new();
    for (number, read) in all.iter().enumerate() {
        let Some(new) = read.odd(&all, time).or_else(|| read.unfitting(&all[number + 1..])) else {
            continue;
        };
        match odd.iter_mut().find(|other| other.is_like(&new)) {
            Some(other) => other.who.extend(new.who),
            None => odd.push(new),
        }
    }
    let gaps = written.parts.iter().filter_map(|part| gap(part, bars));
    odd.into_iter().map(Finding::told).chain(gaps).collect()
}

/// What the words of a pattern are.
#[derive(Clone, Copy, PartialEq, Eq)]
enum LineKind {
    /// Marks of hits and accents, which are held against those of all others.
    Hits,
    /// Marks of comping.
    Comp,
    /// Notes or degrees.
    Notes,
    Chords,
}

/// One line of what is played, for the bars of its key.
struct WrittenLine<'a> {
    who: String,
    kind: LineKind,
    bars: &'a Words,
    text: &'a Words,
}

fn patterns(written: &LoopTables) -> Vec<WrittenLine<'_>> {
    let mut patterns = Vec::new();
    for part in &written.parts {
        let who = || format!("`{}`", part.name.text);
        for line in &part.lines {
            if let Play::Line(text) = &line.play {
                patterns.push(WrittenLine {
                    who: who(),
                    kind: LineKind::Hits,
                    bars: &line.bars,
                    text,
                });
            }
        }
        for (setting, kind) in [
            (part::NOTES, LineKind::Notes),
            (part::DEGREES, LineKind::Notes),
            (part::COMP, LineKind::Comp),
        ] {
            for line in pitched(part, setting) {
                if let Play::Line(text) = &line.play {
                    patterns.push(WrittenLine {
                        who: who(),
                        kind,
                        bars: &line.bars,
                        text,
                    });
                }
            }
        }
    }
    for accent in &written.accents {
        if let Play::Line(text) = &accent.line.play {
            patterns.push(WrittenLine {
                who: "`[accents]`".into(),
                kind: LineKind::Hits,
                bars: &accent.line.bars,
                text,
            });
        }
    }
    let chords = written
        .chords
        .iter()
        .filter_map(|line| Some((&line.bars, line.texts().first()?)));
    patterns.extend(chords.map(|(bars, text)| WrittenLine {
        who: "`[chords]`".into(),
        kind: LineKind::Chords,
        bars,
        text,
    }));
    patterns
}

/// The lines of a part in one of the ways of writing notes.
fn pitched(part: &PartTable, setting: Setting<Vec<schema::Pattern>>) -> &[schema::Pattern] {
    part.settings.get(setting).map_or(&[], Vec::as_slice)
}

/// A bar of a pattern in figures.
struct MeasureCounts {
    within: Range<usize>,
    /// Groups between spaces, where several marks stand in each.
    groups: Option<usize>,
    /// Marks, words or chords that share the bar; none where the writing spaces them unevenly itself.
    steps: Option<usize>,
}

/// A pattern with what is counted in it.
struct CountedLine<'a> {
    pattern: &'a WrittenLine<'a>,
    measures: Vec<MeasureCounts>,
    /// The bars that it is given, from 0.
    given: Vec<u32>,
}

impl<'a> CountedLine<'a> {
    fn of(pattern: &'a WrittenLine<'a>, bars: u32) -> CountedLine<'a> {
        let text = &pattern.text.text;
        let borrowed = pattern.kind == LineKind::Hits && is_borrowed(pattern.text);
        let within = if borrowed { Vec::new() } else { measures(text) };
        let measure = |within: Range<usize>| {
            let (groups, steps) = counted(&text[within.clone()], pattern.kind);
            MeasureCounts { within, groups, steps }
        };
        CountedLine {
            measures: within.into_iter().map(measure).collect(),
            given: read_bars(pattern.bars, bars, &mut Vec::new()).unwrap_or_default(),
            pattern,
        }
    }

    /// The first of its bars whose groups or steps share it unevenly.
    fn odd(&self, all: &[CountedLine], time: &Time) -> Option<Finding> {
        let pulses = Pulses::of(time);
        self.measures.iter().find_map(|measure| {
            let (what, help) = match (measure.groups, measure.steps) {
                (Some(groups), _) if !pulses.take_groups(groups) => self.odd_groups(groups, all, time, &pulses),
                (_, Some(steps)) if !pulses.take_steps(steps) => match self.pattern.kind {
                    LineKind::Chords => self.odd_chords(&measure.within, steps, time),
                    _ => self.odd_steps(steps, all, time, &pulses),
                },
                _ => return None,
            };
            Some(Finding {
                who: vec![self.pattern.who.clone()],
                what,
                help,
                problem: Problem::at(&self.pattern.text.place(measure.within.clone()), ""),
                key: self.pattern.bars.literal.clone(),
            })
        })
    }

    fn odd_groups(&self, groups: usize, all: &[CountedLine], time: &Time, pulses: &Pulses) -> (String, String) {
        let others = |measure: &MeasureCounts| {
            measure
                .groups
                .filter(|groups| *groups > 1 && pulses.take_groups(*groups))
        };
        let than = self.than(groups, all, others);
        let beats = pulses.felt[0];
        let what = format!("{groups} groups in a bar of {}/{}{than}", time.counts, time.unit);
        (
            what,
            format!(
                "write a group a beat, {beats} in all, or a group a half-beat, {}",
                2 * beats
            ),
        )
    }

    fn odd_steps(&self, steps: usize, all: &[CountedLine], time: &Time, pulses: &Pulses) -> (String, String) {
        let than = self.than(steps, all, |measure| {
            measure.steps.filter(|steps| pulses.take_steps(*steps))
        });
        let notes = self.pattern.kind == LineKind::Notes;
        let things = match (notes, steps) {
            (true, 1) => "word",
            (true, _) => "words",
            (false, 1) => "mark",
            (false, _) => "marks",
        };
        // What is nearest; of two that are as near the larger, since a mark is sooner left out than written twice.
        let near = (1..=2 * steps.max(pulses.felt[0]))
            .rev()
            .filter(|steps| pulses.take_steps(*steps));
        let near = near.min_by_key(|near| near.abs_diff(steps)).unwrap_or(steps);
        let what = format!("{steps} {things} in a bar of {}/{}{than}", time.counts, time.unit);
        let fits = if notes {
            "`=` holds a note, `-` rests, `{C4 D4 Eb4}` fits other numbers in"
        } else {
            "`{xxx}` fits other numbers in"
        };
        (what, format!("{near} share its beats evenly; {fits}"))
    }

    fn odd_chords(&self, within: &Range<usize>, chords: usize, time: &Time) -> (String, String) {
        let counts = time.counts as usize;
        let each = f64::from(time.counts) / chords as f64;
        let what = format!(
            "{chords} chords in a bar of {}/{}, {each:.2} beats each",
            time.counts, time.unit
        );
        if chords > counts {
            return (what, "take some of them into a bar of their own".into());
        }
        let words = self.pattern.text.text[within.clone()].split_whitespace();
        let beats = |nth: usize| counts / chords + usize::from(nth < counts % chords);
        let spaced = words
            .enumerate()
            .map(|(nth, word)| format!("{word}{}", " /".repeat(beats(nth) - 1)));
        let example = spaced.collect::<Vec<_>>().join(" ");
        (
            what,
            format!("a slash is one more beat of a chord: write for instance `{example}`"),
        )
    }

    /// By how much a count differs from that of the nearest bar in its company.
    fn than(&self, count: usize, all: &[CountedLine], of: impl Fn(&MeasureCounts) -> Option<usize>) -> String {
        let hits = self.pattern.kind == LineKind::Hits;
        let beside = |other: &&CountedLine| match hits {
            true => other.pattern.kind == LineKind::Hits,
            false => other.pattern.kind == self.pattern.kind && other.pattern.who == self.pattern.who,
        };
        let counts = all.iter().filter(beside).flat_map(|other| {
            let counts = other.measures.iter().filter_map(&of);
            counts.map(move |count| (count, other.pattern.who.as_str()))
        });
        let Some((near, who)) = counts.min_by_key(|(other, _)| other.abs_diff(count)) else {
            return String::new();
        };
        let whose = if who == self.pattern.who {
            "another of its bars"
        } else {
            who
        };
        match near > count {
            true => format!(", {} fewer than {whose}", near - count),
            false => format!(", {} more than {whose}", count - near),
        }
    }

    /// That it does not fit into its bars a whole number of times, unless lines behind it play where it breaks off.
    fn unfitting(&self, behind: &[CountedLine]) -> Option<Finding> {
        let (length, bars) = (self.measures.len(), self.given.len());
        if length < 2 || bars == 0 || bars.is_multiple_of(length) {
            return None;
        }
        let same =
            |other: &&CountedLine| other.pattern.who == self.pattern.who && other.pattern.kind == self.pattern.kind;
        let replaced: BTreeSet<u32> = behind
            .iter()
            .filter(same)
            .flat_map(|other| other.given.clone())
            .collect();
        let broken = &self.given[bars - bars % length..];
        if bars > length && broken.iter().all(|bar| replaced.contains(bar)) {
            return None;
        }
        let rest = match bars < length {
            true if length - bars == 1 => "its last bar never plays".into(),
            true => format!("its last {} bars never play", length - bars),
            false => format!("the last time it breaks off after {}", count_of(bars % length, "bar")),
        };
        Some(Finding {
            who: vec![self.pattern.who.clone()],
            what: format!(
                "a pattern of {} for {}: {rest}",
                count_of(length, "bar"),
                count_of(bars, "bar")
            ),
            help: "let the bars of its key be a whole number of times the bars between its barlines".into(),
            problem: Problem::at(&self.pattern.text.whole(), ""),
            key: self.pattern.bars.literal.clone(),
        })
    }
}

/// The groups and the steps of a bar, where its spelling leaves them to be shared evenly.
fn counted(bar: &str, kind: LineKind) -> (Option<usize>, Option<usize>) {
    let words: Vec<&str> = spaced(bar).map(|within| &bar[within]).collect();
    match kind {
        LineKind::Notes => (None, items(bar).ok().map(|items| items.len())),
        // With a slash each word is a beat; that they are as many as the bar has is checked.
        LineKind::Chords if words.contains(&"/") || words.contains(&"%") => (None, None),
        LineKind::Chords => (None, Some(words.len()).filter(|chords| *chords > 1)),
        LineKind::Hits | LineKind::Comp if is_even(bar) => (None, None),
        LineKind::Hits | LineKind::Comp => {
            let lengths: Vec<Option<usize>> = words.iter().map(|group| steps(group)).collect();
            let length = lengths.iter().flatten().max().copied().unwrap_or(1);
            let groups = Some(words.len()).filter(|groups| *groups > 1 && length > 1);
            (groups, Some(words.len() * length))
        }
    }
}

/// The steps of a group, braces counted as one; none for braces that are a group of their own, and so of any length.
fn steps(group: &str) -> Option<usize> {
    let (mut steps, mut within) = (0, false);
    for mark in group.chars() {
        match mark {
            '{' => (within, steps) = (true, steps + 1),
            '}' => within = false,
            _ => steps += usize::from(!within),
        }
    }
    (steps != 1 || !group.starts_with('{')).then_some(steps)
}

/// The beats of a bar, as its metre and its tempo count them.
struct Pulses {
    /// The beats that are felt: of a metre of three to a beat (6/8, 9/8, 12/8) the dotted ones, else the metre's counts, and the
    /// tempo's where they are others. At least one.
    felt: Vec<usize>,
    counts: usize,
}

impl Pulses {
    fn of(time: &Time) -> Pulses {
        let counts = time.counts as usize;
        let compound = time.unit >= 8 && counts > 3 && counts.is_multiple_of(3);
        let mut felt = vec![if compound { counts / 3 } else { counts }];
        let beats: Exact = time.bar() / time.beat;
        if let Ok(beats) = usize::try_from(beats.to_integer())
            && (time.bar() / time.beat).is_integer()
            && !compound
        {
            felt.push(beats);
        }
        Pulses { felt, counts }
    }

    /// True for groups of which one lasts a beat, a half-beat, a count, or several whole beats.
    fn take_groups(&self, groups: usize) -> bool {
        let mut felt = self.felt.iter();
        felt.any(|beats| beats % groups == 0 || groups == 2 * beats)
            || groups == self.counts
            || groups == 2 * self.counts
    }

    /// True for steps of which a whole number makes a beat, or each lasts several.
    fn take_steps(&self, steps: usize) -> bool {
        let mut pulses = self.felt.iter().chain([&self.counts]);
        pulses.any(|beats| beats.is_multiple_of(steps) || steps.is_multiple_of(*beats))
    }
}

/// Something that does not add up, and whose it is.
struct Finding {
    who: Vec<String>,
    what: String,
    help: String,
    problem: Problem,
    /// Where the key of its bars stands.
    key: Range<usize>,
}

impl Finding {
    fn is_like(&self, other: &Finding) -> bool {
        self.key == other.key && self.what == other.what && self.help == other.help
    }

    fn told(mut self) -> Problem {
        self.who.dedup();
        let has = if self.who.len() == 1 { "has" } else { "have" };
        self.problem.what = format!("{} {has} {}", in_a_row(&self.who), self.what);
        self.problem.help(self.help)
    }
}

/// The bars between two ranges of a part that none of its lines names.
fn gap(part: &PartTable, bars: u32) -> Option<Problem> {
    let of_hits = part.lines.iter().map(|line| &line.bars);
    let of_notes = [part::NOTES, part::DEGREES, part::COMP]
        .into_iter()
        .flat_map(|setting| pitched(part, setting));
    let keys: Vec<&Words> = of_hits.chain(of_notes.map(|line| &line.bars)).collect();
    let named: BTreeSet<u32> = keys
        .iter()
        .flat_map(|key| read_bars(key, bars, &mut Vec::new()).unwrap_or_default())
        .map(|bar| bar + 1)
        .collect();
    // Ranges of one key are written side by side, and what lies between them is seen.
    let ranges: Vec<(usize, (u32, u32))> = (0..keys.len())
        .flat_map(|key| ranges(keys[key], bars).into_iter().map(move |range| (key, range)))
        .collect();
    let apart = |before: u32, behind: u32| {
        let mut ends = ranges.iter().filter(|(_, (_, last))| *last == before);
        ends.any(|(key, _)| {
            ranges
                .iter()
                .any(|(other, (first, _))| *first == behind && other != key)
        })
    };
    let pairs = named.iter().zip(named.iter().skip(1));
    let gaps = pairs.filter(|(before, behind)| **before + 1 < **behind && apart(**before, **behind));
    let silent: Vec<u32> = gaps.flat_map(|(before, behind)| before + 1..*behind).collect();
    if silent.is_empty() {
        return None;
    }
    let bars = spelled(&silent);
    let what = format!(
        "`{}` is silent in {bars}, between the ranges of its lines",
        part.name.text
    );
    Some(Problem::at(&part.name.whole(), what).help("name those bars too; a `-` is a bar of nothing"))
}
