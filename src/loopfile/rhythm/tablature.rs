//! Tablature: marks that share a bar evenly, groups, braces, barlines. Any bar of a line can be an even rhythm instead.

use std::ops::Range;

use super::reading::{Bar, Marked, Reading, unknown_mark};
use super::{Vocabulary, even};
use crate::loopfile::marks::REST;
use crate::loopfile::{Exact, Words};
use crate::text::Problem;
use crate::text::{count_of, spaced, trimmed};

/// Reads a line of one or more bars. A line in which anything is wrong has none.
pub(crate) fn read(line: &Words, vocabulary: &Vocabulary, reading: &mut Reading) -> Vec<Bar> {
    let before = reading.problems.len();
    let measures = measures(&line.text);
    if measures.is_empty() {
        let place = line.whole();
        reading
            .problems
            .push(Problem::at(&place, "there are no marks here").help("write `-` for a bar of nothing"));
    }
    let mut tablature = Tablature {
        line,
        vocabulary,
        reading,
        unknown: Vec::new(),
    };
    let bars: Vec<Option<Bar>> = measures.into_iter().map(|within| tablature.measure(within)).collect();
    if reading.problems.len() > before {
        return Vec::new();
    }
    bars.into_iter().flatten().collect()
}

/// Where the bars stand between the barlines; barlines before the first and after the last part nothing.
pub(in crate::loopfile) fn measures(text: &str) -> Vec<Range<usize>> {
    let mut start = 0;
    let mut between: Vec<Range<usize>> = Vec::new();
    for measure in text.split('|') {
        between.push(trimmed(text, start..start + measure.len()));
        start += measure.len() + 1;
    }
    let first = between.iter().position(|within| !within.is_empty());
    let last = between.iter().rposition(|within| !within.is_empty());
    match (first, last) {
        (Some(first), Some(last)) => between[first..=last].to_vec(),
        _ => Vec::new(),
    }
}

/// A step of a group: one mark, or several between braces that share its time.
struct TabStep {
    marks: Vec<(usize, char)>,
    braced: bool,
}

/// Marks between spaces.
struct Group {
    within: Range<usize>,
    steps: Vec<TabStep>,
}

impl Group {
    /// True for braces that are a group of their own, and so of any length.
    fn stands_alone(&self) -> bool {
        matches!(self.steps[..], [TabStep { braced: true, .. }])
    }
}

struct Tablature<'a, 'b> {
    line: &'a Words,
    vocabulary: &'a Vocabulary<'a>,
    reading: &'a mut Reading<'b>,
    /// The unknown marks that were reported for the line.
    unknown: Vec<char>,
}

impl Tablature<'_, '_> {
    fn measure(&mut self, within: Range<usize>) -> Option<Bar> {
        if within.is_empty() {
            let place = self.line.whole();
            let problem = Problem::at(&place, "there is nothing between two barlines");
            self.reading
                .problems
                .push(problem.help("write `-` for a bar of nothing"));
            return None;
        }
        if even::is_even(&self.line.text[within.clone()]) {
            return even::read(self.line, within, self.reading);
        }
        let text = &self.line.text[within.clone()];
        let marks = text
            .chars()
            .filter(|&sign| !sign.is_whitespace() && sign != '{' && sign != '}')
            .count();
        if !self.reading.admits(marks, &self.line.place(within.clone())) {
            return None;
        }
        let mut groups = Vec::new();
        for group in spaced(text) {
            groups.push(self.group(group.start + within.start..group.end + within.start)?);
        }
        self.all_of_one_length(&groups)?;
        Some(self.place(&groups))
    }

    fn group(&mut self, within: Range<usize>) -> Option<Group> {
        let mut steps: Vec<TabStep> = Vec::new();
        let mut brace: Option<usize> = None;
        for (offset, sign) in self.line.text[within.clone()].char_indices() {
            let at = within.start + offset;
            match (sign, brace) {
                ('{', None) => {
                    brace = Some(at);
                    steps.push(TabStep {
                        marks: Vec::new(),
                        braced: true,
                    });
                }
                ('{', Some(_)) => return self.wrong(at..at + 1, "braces stand inside braces", "fit marks in once"),
                ('}', None) => return self.wrong(at..at + 1, "this brace was never opened", BRACES),
                ('}', Some(open)) => {
                    if steps.last().is_some_and(|step| step.marks.is_empty()) {
                        return self.wrong(open..at + 1, "there are no marks between these braces", BRACES);
                    }
                    brace = None;
                }
                (mark, _) => {
                    self.meet(mark, at);
                    match (brace, steps.last_mut()) {
                        (Some(_), Some(step)) => step.marks.push((at, mark)),
                        _ => steps.push(TabStep {
                            marks: vec![(at, mark)],
                            braced: false,
                        }),
                    }
                }
            }
        }
        match brace {
            Some(open) => self.wrong(open..open + 1, "this brace is not closed before the next space", BRACES),
            None => Some(Group { within, steps }),
        }
    }

    fn meet(&mut self, mark: char, at: usize) {
        if !self.vocabulary.knows(mark) && !self.unknown.contains(&mark) {
            self.unknown.push(mark);
            let problem = unknown_mark(mark, at, self.line, self.vocabulary);
            self.reading.problems.push(problem);
        }
    }

    fn wrong<T>(&mut self, within: Range<usize>, what: &str, help: &str) -> Option<T> {
        self.reading
            .problems
            .push(Problem::at(&self.line.place(within), what).help(help));
        None
    }

    /// Finds the first group that is not as long as most are (as the longest, where as many are of either length).
    fn all_of_one_length(&mut self, groups: &[Group]) -> Option<()> {
        let mut lengths: Vec<usize> = groups
            .iter()
            .filter(|group| !group.stands_alone())
            .map(|group| group.steps.len())
            .collect();
        lengths.sort_unstable();
        let usual = lengths
            .chunk_by(|a, b| a == b)
            .max_by_key(|alike| (alike.len(), alike[0]))
            .map(|alike| alike[0]);
        let odd = |group: &&Group| !group.stands_alone() && Some(group.steps.len()) != usual;
        let (Some(usual), Some(odd)) = (usual, groups.iter().find(odd)) else {
            return Some(());
        };
        let length = odd.steps.len();
        let guess = if length < usual {
            "a dash was dropped?"
        } else {
            "a mark too many?"
        };
        let what = format!(
            "this group has {} and the others have {usual}: {guess}",
            count_of(length, "mark")
        );
        self.wrong(
            odd.within.clone(),
            &what,
            "groups share the bar evenly; `{xxx}` fits other numbers in",
        )
    }

    fn place(&self, groups: &[Group]) -> Bar {
        let mut bar = Bar::new();
        let share = part_of(Exact::ONE, groups.len());
        for (group, nth) in groups.iter().zip(0i128..) {
            let step = part_of(share, group.steps.len());
            for (TabStep { marks, .. }, nth_step) in group.steps.iter().zip(0i128..) {
                let fitted = part_of(step, marks.len());
                for (&(offset, mark), nth_mark) in marks.iter().zip(0i128..) {
                    if mark != REST || self.vocabulary.keeps_rests() {
                        let place = self.line.place(offset..offset + mark.len_utf8());
                        let at = share * nth + step * nth_step + fitted * nth_mark;
                        bar.push(Marked {
                            at,
                            step: fitted,
                            mark,
                            shift: 0.0,
                            place,
                        });
                    }
                }
            }
        }
        bar
    }
}

const BRACES: &str = "write `{xxx}`, without spaces, to fit marks into one group's or one step's time";

/// One of so many even parts.
fn part_of(whole: Exact, parts: usize) -> Exact {
    whole / parts as i128
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loopfile::rhythm::tests::{heard, line, part, problem_of, wrong_line};

    #[test]
    fn marks_share_the_bar_however_many() {
        assert_eq!(line("xxxxxxxxxxxxxxxx", 16), (0..16).collect::<Vec<_>>());
        assert_eq!(line("xxxxxxxxxxxx", 12), (0..12).collect::<Vec<_>>());
        assert_eq!(line("xxxxx", 5), [0, 1, 2, 3, 4]);
        assert_eq!(line("x-xx-xx", 7), [0, 2, 3, 5, 6]);
        assert_eq!(line("x--- -x-- x--x ---x", 16), [0, 5, 8, 11, 15]);
        assert_eq!(line("x-x x-x", 6), [0, 2, 3, 5]);
    }

    #[test]
    fn a_step_is_as_long_as_its_share() {
        let steps = |marks: &str| -> Vec<Exact> {
            heard(&[part("snare", &[("all", marks)])], 1)[0]
                .strokes
                .iter()
                .map(|stroke| stroke.step)
                .collect()
        };
        assert_eq!(steps("x--- ---- ---- ----"), [Exact::new(1, 16)]);
        assert_eq!(steps("x-x"), [Exact::new(1, 3); 2]);
        assert_eq!(
            steps("x {xxx} - -"),
            [vec![Exact::new(1, 4)], vec![Exact::new(1, 12); 3]].concat()
        );
        assert_eq!(steps("5 in 16"), [Exact::new(1, 16); 5]);
    }

    #[test]
    fn braces_fit_marks_into_a_group_or_a_step() {
        // A group of its own: three in the time of the third quarter, 24, 28 and 32 forty-eighths.
        assert_eq!(line("---- X--g {xxx} X---", 48), [12, 21, 24, 28, 32, 36]);
        // Inside a group: three in the time of one sixteenth.
        assert_eq!(line("---- --x{xxx} ---- ----", 48), [18, 21, 22, 23]);
        assert_eq!(line("{xx}{xxx}", 12), [0, 3, 6, 8, 10]);
        assert_eq!(line("{x-xx-}", 5), [0, 2, 3]);
    }

    #[test]
    fn wrong_marks_and_groups_are_pointed_at() {
        wrong_line(
            "x-x- x-x x-x- x-x-",
            "this group has 3 marks and the others have 4: a dash was dropped?",
            "x-x",
        );
        wrong_line(
            "x-x- x-x-x",
            "this group has 4 marks and the others have 5: a dash was dropped?",
            "x-x-",
        );
        wrong_line(
            "x-x x-x-x x-x",
            "this group has 5 marks and the others have 3: a mark too many?",
            "x-x-x",
        );
        wrong_line("x-q- q---", "`q` is no mark", "q");
        wrong_line("x {xxx", "this brace is not closed before the next space", "{");
        wrong_line("x xxx}", "this brace was never opened", "}");
        wrong_line("x{}", "there are no marks between these braces", "{}");
        wrong_line("{x{x}}", "braces stand inside braces", "{");
        wrong_line("x- || x-", "there is nothing between two barlines", "x- || x-");
        wrong_line(" | ", "there are no marks here", " | ");
        let help = problem_of(part("hat-closed", &[("all", "x.x.")])).help;
        assert_eq!(help.as_deref(), Some("write `-` for nothing"));
        let help = problem_of(part("hat-closed", &[("all", "xqxq")]))
            .help
            .unwrap_or_default();
        assert!(
            help.starts_with("the marks are `-` `x` `X` `g` `f` `F` `d` `D` `r` `R` `b` `B` `m` `3` to `9` `o` (hat-open) `p` (hat-pedal);"),
            "{help}"
        );
    }
}
