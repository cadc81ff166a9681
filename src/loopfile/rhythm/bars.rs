//! Bar keys: `all`, `3`, `1-8`, `4,8`, `every 4 bars`, `every 2 bars from 1`, and several of them between commas.

use std::ops::Range;

use super::figure;
use crate::loopfile::Words;
use crate::text::Problem;
use crate::text::{count_of, spaced, trimmed};

const HELP: &str = "write `all`, `3`, `1-8`, `4,8`, `every 4 bars` or `every 2 bars from 1`";

/// The bars that a key names in a loop of `bars` bars, counted from 0, each once, in the order of time.
pub(in crate::loopfile) fn read(key: &Words, bars: u32, problems: &mut Vec<Problem>) -> Option<Vec<u32>> {
    let mut named = vec![false; bars as usize];
    let before = problems.len();
    let mut start = 0;
    for item in key.text.split(',') {
        let within = trimmed(&key.text, start..start + item.len());
        start += item.len() + 1;
        match (BarList { key, bars }).item(within) {
            Ok(stretch) => stretch.mark(&mut named),
            Err(problem) => problems.push(problem),
        }
    }
    (problems.len() == before).then(|| (0..bars).filter(|&bar| named[bar as usize]).collect())
}

/// The ranges that a key names, first and last bars counted from 1: not its single bars, nor those that come round.
pub(in crate::loopfile) fn ranges(key: &Words, bars: u32) -> Vec<(u32, u32)> {
    let mut start = 0;
    let stretch = |item: &str| {
        let within = trimmed(&key.text, start..start + item.len());
        start += item.len() + 1;
        let BarRange { first, last, step } = (BarList { key, bars }).item(within).ok()?;
        (step == 1 && first < last).then_some((first, last))
    };
    key.text.split(',').filter_map(stretch).collect()
}

/// Bars from a first one to a last one, counted from 1, by some step.
struct BarRange {
    first: u32,
    last: u32,
    step: u32,
}

impl BarRange {
    fn mark(&self, named: &mut [bool]) {
        for bar in (self.first..=self.last).step_by(self.step as usize) {
            named[bar as usize - 1] = true;
        }
    }
}

struct BarList<'a> {
    key: &'a Words,
    bars: u32,
}

impl BarList<'_> {
    fn item(&self, within: Range<usize>) -> Result<BarRange, Problem> {
        let text = &self.key.text[within.clone()];
        if text == "all" {
            return Ok(BarRange {
                first: 1,
                last: self.bars,
                step: 1,
            });
        }
        if text.split_whitespace().next() == Some("every") {
            return self.every(within);
        }
        if let Some(dash) = text.find('-') {
            let first = self.bar(trimmed(&self.key.text, within.start..within.start + dash))?;
            let last = self.bar(trimmed(&self.key.text, within.start + dash + 1..within.end))?;
            if last < first {
                let what = format!("bars {first}-{last} run backwards");
                return Err(Problem::at(&self.key.place(within), what).help(format!("write {last}-{first}")));
            }
            return Ok(BarRange { first, last, step: 1 });
        }
        let bar = self.bar(within)?;
        Ok(BarRange {
            first: bar,
            last: bar,
            step: 1,
        })
    }

    /// `every N bars`, `every N bars from M`.
    fn every(&self, within: Range<usize>) -> Result<BarRange, Problem> {
        let text = &self.key.text[within.clone()];
        let at: Vec<Range<usize>> = spaced(text)
            .map(|word| word.start + within.start..word.end + within.start)
            .collect();
        let words: Vec<&str> = text.split_whitespace().collect();
        let (step, first) = match words[..] {
            ["every", step, "bar" | "bars"] => (step, None),
            ["every", step, "bar" | "bars", "from", _] => (step, Some(self.bar(at[4].clone())?)),
            _ => return Err(self.nonsense(within)),
        };
        let number = figure(step).ok_or_else(|| self.nonsense(at[1].clone()))?;
        let place = self.key.place(at[1].clone());
        match number {
            0 => Err(Problem::at(&place, "every 0 bars is no distance").help("count from `every 1 bars` upwards")),
            _ if first.is_none() && number > self.bars => {
                let length = count_of(self.bars as usize, "bar");
                Err(Problem::at(
                    &place,
                    format!("every {number} bars never comes round in a loop of {length}"),
                ))
            }
            _ => Ok(BarRange {
                first: first.unwrap_or(number),
                last: self.bars,
                step: number,
            }),
        }
    }

    /// One bar's number, within the loop.
    fn bar(&self, within: Range<usize>) -> Result<u32, Problem> {
        let bar = figure(&self.key.text[within.clone()]).ok_or_else(|| self.nonsense(within.clone()))?;
        let place = self.key.place(within.clone());
        if bar == 0 {
            return Err(Problem::at(&place, "there is no bar 0: bars count from 1"));
        }
        if bar > self.bars {
            let (text, length) = (&self.key.text[within], count_of(self.bars as usize, "bar"));
            return Err(Problem::at(
                &place,
                format!("bar {text} is past the end of the loop, which has {length}"),
            ));
        }
        Ok(bar)
    }

    fn nonsense(&self, within: Range<usize>) -> Problem {
        let text = &self.key.text[within.clone()];
        if text.is_empty() {
            return Problem::at(&self.key.whole(), "a bar is missing here").help(HELP);
        }
        Problem::at(&self.key.place(within.clone()), format!("`{text}` names no bars")).help(HELP)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loopfile::rhythm::tests::{pointed_at, words};

    fn bars(key: &str, of: u32) -> Vec<u32> {
        let mut problems = Vec::new();
        let read = read(&words(key), of, &mut problems);
        assert_eq!(problems, []);
        read.unwrap().into_iter().map(|bar| bar + 1).collect()
    }

    #[test]
    fn keys_name_bars() {
        assert_eq!(bars("all", 3), [1, 2, 3]);
        assert_eq!(bars("3", 8), [3]);
        assert_eq!(bars("1-8", 8), [1, 2, 3, 4, 5, 6, 7, 8]);
        assert_eq!(bars("4,8", 8), [4, 8]);
        assert_eq!(bars("8, 4, 4", 8), [4, 8]);
        assert_eq!(bars("1 - 4, 7", 8), [1, 2, 3, 4, 7]);
        assert_eq!(bars("every 4 bars", 13), [4, 8, 12]);
        assert_eq!(bars("every 2 bars from 1", 6), [1, 3, 5]);
        assert_eq!(bars("every 16 bars from 2", 6), [2]);
        assert_eq!(bars("every 4 bars, 1", 8), [1, 4, 8]);
    }

    #[test]
    fn ranges_have_two_ends() {
        assert_eq!(ranges(&words("1 - 3, 5, 7-8, every 2 bars"), 8), [(1, 3), (7, 8)]);
        assert_eq!(ranges(&words("all"), 8), [(1, 8)]);
        assert_eq!(ranges(&words("3-3"), 8), []);
    }

    #[test]
    fn what_is_no_bar_is_pointed_at() {
        for (key, word, what) in [
            ("1-9", "9", "bar 9 is past the end of the loop, which has 8 bars"),
            ("0", "0", "there is no bar 0: bars count from 1"),
            ("2,8-1", "8-1", "bars 8-1 run backwards"),
            ("1,two", "two", "`two` names no bars"),
            (
                "every 9 bars",
                "9",
                "every 9 bars never comes round in a loop of 8 bars",
            ),
            ("every 0 bars", "0", "every 0 bars is no distance"),
            (
                "every 2 bars from 12",
                "12",
                "bar 12 is past the end of the loop, which has 8 bars",
            ),
            ("every two bars", "two", "`two` names no bars"),
            ("every 2", "every 2", "`every 2` names no bars"),
            (
                "99999999999999999999",
                "99999999999999999999",
                "bar 99999999999999999999 is past the end of the loop, which has 8 bars",
            ),
            ("1,,2", "1,,2", "a bar is missing here"),
            ("1-", "1-", "a bar is missing here"),
        ] {
            let mut problems = Vec::new();
            assert_eq!(read(&words(key), 8, &mut problems), None, "{key}");
            assert_eq!(problems.len(), 1, "{key}");
            assert_eq!(problems[0].what, what);
            assert_eq!(pointed_at(&problems[0]), word);
        }
    }
}
