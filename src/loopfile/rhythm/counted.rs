//! Counted lists: `["1 X", "2& x +12ms", "4a g -8ms"]`, one string a hit.

use std::ops::Range;

use super::reading::{Bar, Marked, Reading, unknown_mark};
use super::{Vocabulary, figure};
use crate::loopfile::marks::REST;
use crate::loopfile::{Exact, Time, Words};
use crate::text::spaced;
use crate::text::{Problem, count_of};

/// A syllable after a count: where in the count it falls and how long its step is, in counts.
#[derive(Clone, Copy)]
struct Syllable {
    said: &'static str,
    at: Exact,
    step: Exact,
}

const SYLLABLES: [Syllable; 5] = [
    Syllable {
        said: "e",
        at: Exact::new_raw(1, 4),
        step: Exact::new_raw(1, 4),
    },
    Syllable {
        said: "&",
        at: Exact::new_raw(1, 2),
        step: Exact::new_raw(1, 2),
    },
    Syllable {
        said: "a",
        at: Exact::new_raw(3, 4),
        step: Exact::new_raw(1, 4),
    },
    Syllable {
        said: "t",
        at: Exact::new_raw(1, 3),
        step: Exact::new_raw(1, 3),
    },
    Syllable {
        said: "l",
        at: Exact::new_raw(2, 3),
        step: Exact::new_raw(1, 3),
    },
];

/// The count itself.
const ON_THE_COUNT: Syllable = Syllable {
    said: "",
    at: Exact::ZERO,
    step: Exact::ONE,
};

/// How a place within a count is said, and the length of its step, both in counts; none for one that has no syllable.
pub(crate) fn syllable_at(within: Exact) -> Option<(&'static str, Exact)> {
    let mut all = std::iter::once(ON_THE_COUNT).chain(SYLLABLES);
    let found = all.find(|syllable| syllable.at == within)?;
    Some((found.said, found.step))
}

/// The furthest that a hit can be written off the grid, in milliseconds and in percent of a count.
const MOST_SHIFT: f64 = 1000.0;
const MOST_SHARE: f64 = 100.0;

/// What stands behind counts and syllables in a kind of lists.
pub(in crate::loopfile) struct CountedWords<'a> {
    /// What an entry plays: a hit, a note.
    pub entry: &'static str,
    /// What says so: a mark, a note.
    pub called: &'static str,
    /// How an entry is written.
    pub help: &'static str,
    /// How many words it takes at the most.
    pub most: usize,
    /// True for a word that means something by itself, though a syllable is called so.
    pub knows: &'a dyn Fn(&str) -> bool,
}

/// An entry of a counted list.
pub(in crate::loopfile) struct Counted {
    /// From 0 to below 1, in bars.
    pub at: Exact,
    /// The length of its step, in bars.
    pub step: Exact,
    /// Seconds off the grid.
    pub shift: f64,
    /// Where the words behind the count stand, one at least.
    pub words: Vec<Range<usize>>,
}

const MARKS: &str = "write a count, its syllable and a mark, as in `1 X`, `2& x` or `4a g -8ms`";

/// Reads a bar of hits that is counted aloud; nothing where a hit is wrong.
pub(super) fn read(hits: &[Words], vocabulary: &Vocabulary, reading: &mut Reading) -> Option<Bar> {
    if let Some(first) = hits.first()
        && !reading.admits(hits.len(), &first.whole())
    {
        return None;
    }
    let time = reading.time;
    let before = reading.problems.len();
    let marks = CountedWords {
        entry: "hit",
        called: "mark",
        help: MARKS,
        most: 1,
        knows: &|text| text.chars().all(|sign| vocabulary.knows(sign)),
    };
    let mut bar = Bar::new();
    for hit in hits {
        let read = counted(hit, time, &marks).and_then(|counted| {
            let word = counted.words[0].clone();
            let mark = mark(hit, &word, vocabulary)?;
            Ok(Marked {
                at: counted.at,
                step: counted.step,
                mark,
                shift: counted.shift,
                place: hit.place(word),
            })
        });
        match read {
            Ok(marked) if marked.mark == REST && !vocabulary.keeps_rests() => {}
            Ok(marked) => bar.push(marked),
            Err(problem) => reading.problems.push(*problem),
        }
    }
    // A stable sort: what falls on one time keeps the file's order.
    bar.sort_by_key(|marked| marked.at);
    (reading.problems.len() == before).then_some(bar)
}

fn mark(hit: &Words, word: &Range<usize>, vocabulary: &Vocabulary) -> Result<char, Box<Problem>> {
    let text = &hit.text[word.clone()];
    let mut signs = text.chars();
    match (signs.next(), signs.next()) {
        (Some(sign), None) if vocabulary.knows(sign) => Ok(sign),
        (Some(sign), None) => Err(Box::new(unknown_mark(sign, word.start, hit, vocabulary))),
        _ => {
            let what = format!("`{text}` is more than one mark");
            Err(Box::new(Problem::at(&hit.place(word.clone()), what).help(MARKS)))
        }
    }
}

/// Reads an entry of a list that counts aloud, in a metre and a tempo.
pub(in crate::loopfile) fn counted(entry: &Words, time: &Time, words: &CountedWords) -> Result<Counted, Box<Problem>> {
    EntryReader { entry, time, words }.read()
}

struct EntryReader<'a> {
    entry: &'a Words,
    time: &'a Time,
    words: &'a CountedWords<'a>,
}

impl EntryReader<'_> {
    fn read(&self) -> Result<Counted, Box<Problem>> {
        let mut words: Vec<Range<usize>> = spaced(&self.entry.text).collect();
        if words.is_empty() {
            let whole = 0..self.entry.text.len();
            return Err(self.wrong(whole, format!("there is no {} here", self.words.entry)));
        }
        let first = words.remove(0);
        let figures = self.text(&first).bytes().take_while(u8::is_ascii_digit).count();
        let glued = first.start + figures..first.end;
        let count = self.count(first.start..glued.start, &first)?;
        if !glued.is_empty() {
            words.insert(0, glued.clone());
        }
        let shift = words
            .iter()
            .position(|word| word.len() > 1 && self.text(word).starts_with(['+', '-']));
        let shifts = words.split_off(shift.unwrap_or(words.len()));
        let syllable = self.take_syllable(&mut words, !glued.is_empty())?;
        if words.is_empty() {
            let what = format!("the {} is missing", self.words.called);
            return Err(self.wrong(0..self.entry.text.len(), what));
        }
        let counts = i128::from(self.time.counts);
        Ok(Counted {
            at: (syllable.at + (i128::from(count) - 1)) / counts,
            step: syllable.step / counts,
            shift: self.shift(&shifts)?,
            words,
        })
    }

    fn text(&self, within: &Range<usize>) -> &str {
        &self.entry.text[within.clone()]
    }

    fn wrong(&self, within: Range<usize>, what: impl Into<String>) -> Box<Problem> {
        Box::new(Problem::at(&self.entry.place(within), what).help(self.words.help))
    }

    fn count(&self, figures: Range<usize>, word: &Range<usize>) -> Result<u32, Box<Problem>> {
        match figure(self.text(&figures)) {
            None => Err(self.wrong(word.clone(), format!("`{}` begins without a count", self.text(word)))),
            Some(0) => Err(self.wrong(figures, "there is no count 0: counts go from 1")),
            Some(count) if count > self.time.counts => {
                let (text, length) = (self.text(&figures), count_of(self.time.counts as usize, "count"));
                let what = format!("count {text} is past the end of the bar, which has {length}");
                Err(Box::new(Problem::at(&self.entry.place(figures.clone()), what)))
            }
            Some(count) => Ok(count),
        }
    }

    /// Takes the syllable off the words between count and shift, where they begin with one.
    fn take_syllable(&self, words: &mut Vec<Range<usize>>, glued: bool) -> Result<Syllable, Box<Problem>> {
        let most = self.words.most;
        if let Some(rest) = words.get(most + 1) {
            return Err(self.wrong(rest.clone(), format!("`{}` is one word too many", self.text(rest))));
        }
        let Some(first) = words.first() else {
            return Ok(ON_THE_COUNT);
        };
        let text = self.text(first);
        let found = SYLLABLES.into_iter().find(|syllable| syllable.said == text);
        let alone = words.len() == 1 && (self.words.knows)(text);
        if !glued && words.len() <= most && (found.is_none() || alone) {
            return Ok(ON_THE_COUNT);
        }
        let Some(syllable) = found else {
            let what = format!("`{text}` is no syllable: they are `e` `&` `a`, and `t` `l` in triplets");
            return Err(self.wrong(first.clone(), what));
        };
        words.remove(0);
        Ok(syllable)
    }

    /// Seconds; `+12ms`, `-8 ms`, or `+3.5%` of a count, which goes along with the tempo.
    fn shift(&self, words: &[Range<usize>]) -> Result<f64, Box<Problem>> {
        let (Some(first), Some(last)) = (words.first(), words.last()) else {
            return Ok(0.0);
        };
        let within = first.start..last.end;
        let nonsense = || {
            let what = format!("`{}` is no shift", self.text(&within));
            let problem = Problem::at(&self.entry.place(within.clone()), what);
            Box::new(
                problem.help("write it in milliseconds, as in `+12ms` or `-8ms`, or in percent of a count: `+3.5%`"),
            )
        };
        let sign = if self.text(&within).starts_with('-') { -1.0 } else { 1.0 };
        let text = &self.text(&within)[1..];
        let count = self.time.bar_seconds() / f64::from(self.time.counts);
        // So much of a unit is a second: a quotient is nearer to what is written than a product.
        let (amount, most, unit, second) = match (text.strip_suffix("ms"), text.strip_suffix('%')) {
            (Some(amount), _) => (amount, MOST_SHIFT, "ms", 1000.0),
            (_, Some(amount)) => (amount, MOST_SHARE, "% of a count", 100.0 / count),
            _ => return Err(nonsense()),
        };
        let amount = amount.trim();
        if !amount.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.') {
            return Err(nonsense());
        }
        let amount: f64 = amount.parse().map_err(|_| nonsense())?;
        if amount > most {
            let what = format!("a hit can be shifted by {most} {unit} at the most");
            return Err(Box::new(Problem::at(&self.entry.place(within.clone()), what)));
        }
        Ok(sign * amount / second)
    }
}

#[cfg(test)]
mod tests {
    use crate::loopfile::rhythm;
    use crate::loopfile::rhythm::tests::{counting, heard, metre, places, pointed_at, problem_of};

    #[test]
    fn counting_aloud() {
        let part = counting(
            "snare",
            &[
                "2& x +12ms",
                "1 X",
                "4a g -8 ms",
                "3 t x",
                "3l x",
                "2 e x",
                "4 -",
                "4a X",
            ],
        );
        let read = heard(&[part], 1);
        assert_eq!(places(&read[0], 48), [0, 15, 18, 28, 32, 45, 45]);
        let strokes = &read[0].strokes;
        let steps: Vec<i128> = strokes.iter().map(|stroke| (stroke.step * 48).to_integer()).collect();
        assert_eq!(steps, [12, 3, 6, 4, 4, 3, 3]);
        let shifts: Vec<f64> = strokes.iter().map(|stroke| stroke.shift).collect();
        assert_eq!(shifts, [0.0, 0.0, 0.012, 0.0, 0.0, -0.008, 0.0]);
        assert_eq!(
            (strokes[5].velocity, strokes[6].velocity),
            (40.0, 118.0),
            "one time keeps the file's order"
        );
    }

    #[test]
    fn a_share_of_a_count_goes_along_with_the_tempo() {
        let mut shifts = Vec::new();
        for tempo in [60.0, 120.0] {
            let time = crate::loopfile::Time { tempo, ..metre(4, 4) };
            let mut problems = Vec::new();
            let part = counting("snare", &["1 x +12.5%", "2& x -0.25 %"]);
            let read = rhythm::read(&[part], &time, 1, &mut problems);
            assert_eq!(problems, []);
            shifts.push(read[0].strokes.iter().map(|stroke| stroke.shift).collect::<Vec<_>>());
        }
        assert_eq!(shifts, [[0.125, -0.0025], [0.0625, -0.00125]]);
    }

    #[test]
    fn counts_are_the_lower_figure() {
        let mut problems = Vec::new();
        let read = rhythm::read(&[counting("snare", &["4& x", "6 x"])], &metre(6, 8), 1, &mut problems);
        assert_eq!(problems, []);
        assert_eq!(places(&read[0], 12), [7, 10]);
    }

    #[test]
    fn wrong_counts_are_pointed_at() {
        for (hit, what, word) in [
            ("5 x", "count 5 is past the end of the bar, which has 4 counts", "5"),
            (
                "99999999999 x",
                "count 99999999999 is past the end of the bar, which has 4 counts",
                "99999999999",
            ),
            ("0 x", "there is no count 0: counts go from 1", "0"),
            ("x 1", "`x` begins without a count", "x"),
            (
                "2i x",
                "`i` is no syllable: they are `e` `&` `a`, and `t` `l` in triplets",
                "i",
            ),
            (
                "2 i x",
                "`i` is no syllable: they are `e` `&` `a`, and `t` `l` in triplets",
                "i",
            ),
            ("2&", "the mark is missing", "2&"),
            ("2 &", "the mark is missing", "2 &"),
            ("2", "the mark is missing", "2"),
            ("2 xx", "`xx` is more than one mark", "xx"),
            ("2& x x", "`x` is one word too many", "x"),
            ("2 q", "`q` is no mark", "q"),
            ("2 x +12", "`+12` is no shift", "+12"),
            ("2 x +1e3ms", "`+1e3ms` is no shift", "+1e3ms"),
            ("2 x -.ms", "`-.ms` is no shift", "-.ms"),
            ("2 x +1001ms", "a hit can be shifted by 1000 ms at the most", "+1001ms"),
            (
                "2 x -101%",
                "a hit can be shifted by 100 % of a count at the most",
                "-101%",
            ),
            ("2 x +%", "`+%` is no shift", "+%"),
            ("", "there is no hit here", ""),
        ] {
            let problem = problem_of(counting("snare", &[hit]));
            assert_eq!(problem.what, what);
            assert_eq!(pointed_at(&problem), word);
        }
    }
}
