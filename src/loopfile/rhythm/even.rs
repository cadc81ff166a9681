//! Even rhythms: `5 in 16`, `5 in 16 from 3`.

use std::ops::Range;

use super::figure;
use super::reading::{Bar, Marked, Reading};
use crate::loopfile::limits::MOST_MARKS;
use crate::loopfile::{Exact, Words};
use crate::text::Problem;
use crate::text::spaced;

const HELP: &str = "write the hits and the steps of the bar, as in `5 in 16` or `5 in 16 from 3`";

/// True for a bar whose second word is `in`, which no tablature is.
pub(in crate::loopfile) fn is_even(text: &str) -> bool {
    text.split_whitespace().nth(1) == Some("in")
}

/// Reads an even rhythm: plain hits, one bar.
pub(crate) fn read(line: &Words, within: Range<usize>, reading: &mut Reading) -> Option<Bar> {
    let even = match Even::read(line, within.clone()) {
        Ok(even) => even,
        Err(problem) => {
            reading.problems.push(problem);
            return None;
        }
    };
    let place = line.place(within);
    if !reading.admits(even.steps, &place) {
        return None;
    }
    let step = Exact::new(1, even.steps as i128);
    let mut rhythm = spread(even.hits, even.steps);
    rhythm.rotate_right(even.from - 1);
    let hits = rhythm.into_iter().zip(0i128..).filter(|(hit, _)| *hit);
    Some(
        hits.map(|(_, nth)| Marked {
            at: step * nth,
            step,
            mark: 'x',
            shift: 0.0,
            place: place.clone(),
        })
        .collect(),
    )
}

struct Even {
    hits: usize,
    steps: usize,
    from: usize,
}

impl Even {
    fn read(line: &Words, within: Range<usize>) -> Result<Even, Problem> {
        let text = &line.text[within.clone()];
        let at: Vec<Range<usize>> = spaced(text)
            .map(|word| word.start + within.start..word.end + within.start)
            .collect();
        let number = |word: usize| {
            let text = &line.text[at[word].clone()];
            let nonsense = || Problem::at(&line.place(at[word].clone()), format!("`{text}` is no number")).help(HELP);
            figure(text).map(|number| number as usize).ok_or_else(nonsense)
        };
        let words: Vec<&str> = text.split_whitespace().collect();
        let from = match words[..] {
            [_, "in", _] => 1,
            [_, "in", _, "from", _] => number(4)?,
            _ => return Err(Problem::at(&line.place(within), "this is no even rhythm").help(HELP)),
        };
        let (hits, steps) = (number(0)?, number(2)?);
        let wrong = |word: usize, what: String| Err(Problem::at(&line.place(at[word].clone()), what));
        if steps > MOST_MARKS {
            return wrong(2, format!("{steps} steps are too many: a bar can have {MOST_MARKS}"));
        }
        if hits == 0 {
            return wrong(0, "an even rhythm has at least one hit".to_string());
        }
        if hits > steps {
            return wrong(0, format!("{hits} hits do not fit on {steps} steps"));
        }
        if from == 0 || from > steps {
            return wrong(4, format!("there is no step {from}: the steps go from 1 to {steps}"));
        }
        Ok(Even { hits, steps, from })
    }
}

/// So many hits over so many steps, as evenly as they go, a hit first: Bjorklund's pairing as described by Toussaint, "The
/// Euclidean algorithm generates traditional musical rhythms" (BRIDGES 2005). `hits` is from 1 to `steps`.
fn spread(hits: usize, steps: usize) -> Vec<bool> {
    let (mut heads, mut head) = (hits, vec![true]);
    let (mut tails, mut tail) = (steps - hits, vec![false]);
    // The rests are always dealt out once; after that, a single group left over stays at the end.
    let mut left_over = 1;
    while tails >= left_over && tails > 0 {
        left_over = 2;
        let longer = [head.as_slice(), tail.as_slice()].concat();
        if heads > tails {
            tail = head;
        }
        (heads, tails) = (heads.min(tails), heads.abs_diff(tails));
        head = longer;
    }
    let mut rhythm = head.repeat(heads);
    rhythm.extend(tail.repeat(tails));
    rhythm
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loopfile::rhythm::tests::{line, wrong_line};

    fn drawn(hits: usize, steps: usize) -> String {
        spread(hits, steps)
            .into_iter()
            .map(|hit| if hit { 'x' } else { '-' })
            .collect()
    }

    /// Toussaint, BRIDGES 2005 [memory].
    #[test]
    fn published_rhythms() {
        assert_eq!(drawn(3, 8), "x--x--x-");
        assert_eq!(drawn(5, 8), "x-xx-xx-");
        assert_eq!(drawn(7, 12), "x-xx-x-xx-x-");
        assert_eq!(drawn(5, 16), "x--x--x--x--x---");
        assert_eq!(drawn(4, 9), "x-x-x-x--");
        assert_eq!(drawn(2, 5), "x-x--");
        assert_eq!(drawn(3, 4), "x-xx");
        assert_eq!(drawn(7, 16), "x--x-x-x--x-x-x-");
        assert_eq!(drawn(13, 24), "x-xx-x-x-x-x-xx-x-x-x-x-");
    }

    #[test]
    fn every_rhythm_is_even() {
        for steps in 1..=40 {
            for hits in 1..=steps {
                let rhythm = spread(hits, steps);
                assert_eq!(rhythm.len(), steps);
                assert!(rhythm[0], "{hits} in {steps} starts on a hit");
                let at: Vec<usize> = (0..steps).filter(|&step| rhythm[step]).collect();
                assert_eq!(at.len(), hits);
                let next = at.iter().skip(1).copied().chain([steps]);
                for (gap, from) in next.zip(&at).map(|(next, &at)| (next - at, at)) {
                    let even = [steps / hits, steps.div_ceil(hits)].contains(&gap);
                    assert!(even, "{hits} in {steps} has a gap of {gap} at {from}");
                }
            }
        }
    }

    #[test]
    fn even_rhythms_are_bars() {
        assert_eq!(line("5 in 16", 16), [0, 3, 6, 9, 12]);
        assert_eq!(line("5 in 16 from 3", 16), [2, 5, 8, 11, 14]);
        assert_eq!(line("3 in 8 from 8", 8), [2, 5, 7]);
        wrong_line("9 in 8", "9 hits do not fit on 8 steps", "9");
        wrong_line("0 in 8", "an even rhythm has at least one hit", "0");
        wrong_line("3 in 8 from 9", "there is no step 9: the steps go from 1 to 8", "9");
        wrong_line("3 in many", "`many` is no number", "many");
        wrong_line("3 in 8 of 9", "this is no even rhythm", "3 in 8 of 9");
        wrong_line("5 in 5000", "5000 steps are too many: a bar can have 4096", "5000");
    }
}
