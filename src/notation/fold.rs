//! Bars that are alike, folded by repeats and endings.

use super::{Event, Measure, SheetBar};

/// The most bars between two repeat signs.
const LONGEST: usize = 48;
/// A repeat that spares fewer bars than this is not worth its signs.
const LEAST_SPARED: usize = 2;

/// A bar with what stands in it on each staff.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct FullBar {
    pub bar: SheetBar,
    pub measures: Vec<Measure>,
}

/// A repeat: so many bars, played so often, the last of them otherwise on the last time.
#[derive(Debug, Clone, Copy)]
struct Fold {
    bars: usize,
    times: usize,
    ending: usize,
}

impl Fold {
    /// Bars that it spares; second endings cost one, for the eye has to jump.
    fn spared(&self) -> usize {
        let spared = (self.times - 1) * self.bars - self.ending;
        spared.saturating_sub(usize::from(self.ending > 0))
    }

    /// Bars that it is when played.
    fn played(&self) -> usize {
        self.bars * self.times
    }
}

/// Folds bars where that spares some. What a section begins with is never in the middle of a repeat.
pub(super) fn folded(bars: &[FullBar]) -> Vec<FullBar> {
    // Bars that are alike have one number: comparing is cheap from there on.
    let mut distinct: Vec<usize> = Vec::new();
    let mut numbers = Vec::with_capacity(bars.len());
    for (at, bar) in bars.iter().enumerate() {
        let known = distinct.iter().position(|other| alike(&bars[*other], bar));
        numbers.push(known.unwrap_or_else(|| {
            distinct.push(at);
            distinct.len() - 1
        }));
    }
    let mut written = Vec::new();
    let mut at = 0;
    while at < bars.len() {
        match best(bars, &numbers, at) {
            Some(fold) => {
                write(bars, at, fold, &mut written);
                at += fold.played();
            }
            None => {
                written.push(bars[at].clone());
                at += 1;
            }
        }
    }
    written
}

/// True for bars in which the same is written, whatever begins with them.
fn alike(one: &FullBar, other: &FullBar) -> bool {
    let (a, b) = (&one.bar, &other.bar);
    (a.metre, a.short, a.key) == (b.metre, b.short, b.key)
        && a.chords == b.chords
        && a.kicks == b.kicks
        && one.measures == other.measures
}

fn begins_something(bar: &SheetBar) -> bool {
    bar.section.is_some() || bar.tempo.is_some() || bar.feel.is_some()
}

/// True where something of a bar is tied to the next one.
fn ties_on(bar: &FullBar) -> bool {
    let last = |voice: &Vec<Event>| {
        voice
            .last()
            .is_some_and(|event| event.notes.iter().any(|note| note.tied))
    };
    bar.measures.iter().flat_map(|measure| &measure.voices).any(last)
}

/// The repeat that spares most from a bar on.
fn best(bars: &[FullBar], numbers: &[usize], at: usize) -> Option<Fold> {
    let tied_to = at > 0 && ties_on(&bars[at - 1]);
    if tied_to || bars[at].bar.short.is_some() {
        return None;
    }
    let mut best: Option<Fold> = None;
    for length in 1..=LONGEST.min((bars.len() - at) / 2) {
        if begins_something(&bars[at + length - 1].bar) && length > 1 {
            break;
        }
        for ending in 0..=(length - 1).min(2) {
            let Some(times) = times(bars, numbers, at, length, ending) else {
                continue;
            };
            let fold = Fold {
                bars: length,
                times,
                ending,
            };
            if fold.spared() >= LEAST_SPARED && best.is_none_or(|best| fold.spared() > best.spared()) {
                best = Some(fold);
            }
        }
    }
    best
}

/// How often a stretch is played from a bar on; with an ending the last time closes with other bars than those before it.
fn times(bars: &[FullBar], numbers: &[usize], at: usize, length: usize, ending: usize) -> Option<usize> {
    let round = |time: usize| at + time * length..at + (time + 1) * length;
    let free = |time: usize| {
        let range = round(time);
        range.end <= bars.len()
            && !bars[range.clone()].iter().any(|bar| begins_something(&bar.bar))
            && !ties_on(&bars[range.end - 1])
    };
    if ties_on(&bars[at + length - 1]) {
        return None;
    }
    let same = |time: usize, bars: usize| numbers[at..at + bars] == numbers[round(time)][..bars];
    let mut times = 1;
    while free(times) && same(times, length) {
        times += 1;
    }
    if ending == 0 {
        return (times > 1).then_some(times);
    }
    (free(times) && same(times, length - ending)).then_some(times + 1)
}

fn write(bars: &[FullBar], at: usize, fold: Fold, written: &mut Vec<FullBar>) {
    let Fold {
        bars: length,
        times,
        ending,
    } = fold;
    let whole = length - ending;
    // What is tied into an ending comes from the bar that both endings follow.
    let heard = |place: usize, times: std::ops::Range<usize>| -> Vec<u32> {
        let number = |time: usize| bars[at + time * length + place].bar.number;
        times.map(number).collect()
    };
    let first_times = if ending == 0 { times } else { times - 1 };
    for place in 0..length {
        let mut bar = bars[at + place].clone();
        bar.bar.heard = heard(place, 0..if place < whole { times } else { first_times });
        bar.bar.repeat_begins = place == 0;
        bar.bar.repeat_ends = (place + 1 == length).then_some(times as u32);
        bar.bar.ending = (place >= whole).then(|| (1..=first_times as u32).collect());
        written.push(bar);
    }
    for place in whole..length {
        let mut bar = bars[at + (times - 1) * length + place].clone();
        bar.bar.ending = Some(vec![times as u32]);
        written.push(bar);
    }
}

#[cfg(test)]
mod tests {
    use super::super::Signature;
    use super::*;

    /// Bars told apart by a letter: each has its own metre. `!` before one begins a section.
    fn bars(letters: &str) -> Vec<FullBar> {
        let mut all = Vec::new();
        let mut section = None;
        for letter in letters.chars() {
            if letter == '!' {
                section = Some("verse".to_string());
                continue;
            }
            let number = all.len() as u32 + 1;
            all.push(FullBar {
                bar: SheetBar {
                    number,
                    heard: vec![number],
                    metre: (letter as u32, 4),
                    short: None,
                    key: Signature { fifths: 0, minor: None },
                    tempo: None,
                    feel: None,
                    swing: None,
                    section: section.take(),
                    chords: Vec::new(),
                    kicks: Vec::new(),
                    repeat_begins: false,
                    repeat_ends: None,
                    ending: None,
                },
                measures: Vec::new(),
            });
        }
        all
    }

    fn fold(letters: &str) -> String {
        let mut page = String::new();
        for FullBar { bar, .. } in folded(&bars(letters)) {
            page += if bar.repeat_begins { "|:" } else { "" };
            let times = bar.ending.iter().flatten().map(u32::to_string).collect::<Vec<_>>();
            if !times.is_empty() {
                page += &format!("{}.", times.join(","));
            }
            page.extend(char::from_u32(bar.metre.0));
            page += &bar.repeat_ends.map_or(String::new(), |times| format!(":|{times} "));
        }
        page.trim_end().to_string()
    }

    #[test]
    fn repeats_and_endings_spare_bars() {
        for (letters, written) in [
            ("abcabc", "|:abc:|2"),
            ("xabababy", "x|:ab:|3 y"),
            ("aab", "aab"),
            ("aaab", "|:a:|3 b"),
            ("abcdabce", "|:abc1.d:|2 2.e"),
            ("abcdabcdabce", "|:abc1,2.d:|3 3.e"),
            ("abcd", "abcd"),
            // A section begins where the eye looks for it.
            ("!abcabc!abcabc", "|:abc:|2 |:abc:|2"),
            ("abc!abc", "abcabc"),
        ] {
            assert_eq!(fold(letters), written, "{letters}");
        }
    }

    #[test]
    fn every_bar_is_heard_once() {
        for letters in ["abcabcx", "abcdabce", "abcdabcdabce", "xabababy"] {
            let mut heard: Vec<u32> = folded(&bars(letters))
                .into_iter()
                .flat_map(|bar| bar.bar.heard)
                .collect();
            heard.sort();
            assert_eq!(heard, (1..=letters.len() as u32).collect::<Vec<_>>(), "{letters}");
        }
    }
}
