//! A word of notes or degrees: its tones, the grace notes before them, and how hard they are played.

use std::ops::Range;

use super::expression::ExpressionMarks;
use super::step::{Strike, Tones};
use super::tell;
use super::word_kind::WordKind;
use crate::harmony::{DegreeWord, Misread, Note};
use crate::loopfile::Words;
use crate::loopfile::foreign_marks::{elsewhere, word_elsewhere};
use crate::loopfile::marks::{ACCENT, GHOST, PLAIN, Struck, velocity_of};
use crate::text::Problem;

/// The most grace notes before a note.
const MOST_GRACES: usize = 4;

/// Reads a word that sounds. `hard` is a word behind it that says how hard, as counted lists have it.
pub(super) fn strike(
    line: &Words,
    word: Range<usize>,
    hard: Option<Range<usize>>,
    language: WordKind,
) -> Result<Strike, Problem> {
    StrikeReader { line, word, language }.read(hard)
}

struct StrikeReader<'a> {
    line: &'a Words,
    word: Range<usize>,
    language: WordKind,
}

impl StrikeReader<'_> {
    fn read(&self, behind: Option<Range<usize>>) -> Result<Strike, Problem> {
        let mut pieces = self.split(self.word.clone(), ':').into_iter();
        let mut at = pieces.next().unwrap_or(self.word.clone());
        let (marks, mut hard): (Vec<_>, Vec<_>) = pieces.partition(|piece| self.text(piece).chars().nth(1).is_some());
        hard.extend(behind);
        let marked = self.take_marks(&mut at)?;
        let told = hard.pop().map(|hard| self.velocity(hard)).transpose()?;
        if marked.is_some() && told.is_some() || !hard.is_empty() {
            let bare = self.text(&at);
            let what = format!("`{}` says twice how hard it is played", self.text(&self.word));
            return Err(self.wrong(what, format!("write {bare}^, ({bare}) or {bare}:7")));
        }
        let pushed = self.take_push(&mut at)?;
        let (graces, at) = self.graces(at)?;
        let (play, tones) = self.tones(&at, '+')?;
        let struck = told.or(marked).unwrap_or(Struck {
            plain: true,
            ..struck('x', PLAIN)
        });
        Ok(Strike {
            velocity: struck.velocity,
            plain: struck.plain,
            pushed,
            mark: struck.sign,
            tones: tones.into_iter().map(|tone| self.line.place(tone)).collect(),
            graces,
            expression: self.expression(marks)?,
            play,
        })
    }

    fn text(&self, within: &Range<usize>) -> &str {
        &self.line.text[within.clone()]
    }

    /// What is wrong with the whole word.
    fn wrong(&self, what: impl Into<String>, help: impl Into<String>) -> Problem {
        Problem::at(&self.line.place(self.word.clone()), what.into()).help(help)
    }

    fn split(&self, within: Range<usize>, by: char) -> Vec<Range<usize>> {
        let mut start = within.start;
        let piece = |piece: &str| {
            let from = start;
            start += piece.len() + by.len_utf8();
            from..from + piece.len()
        };
        self.text(&within).split(by).map(piece).collect()
    }

    /// Takes a ghost note's parentheses or an accent's mark off a word.
    fn take_marks(&self, at: &mut Range<usize>) -> Result<Option<Struck>, Problem> {
        let text = self.text(at);
        let ghost = text.starts_with('(');
        let accent = text.contains('^');
        if ghost != text.trim_end_matches('^').ends_with(')') {
            let bare = text.replace(['(', ')'], "");
            let what = format!("a parenthesis of `{}` has no partner", self.text(&self.word));
            return Err(self.wrong(what, format!("a ghost note is written ({bare})")));
        }
        if ghost && accent {
            let bare = text.replace(['(', ')', '^'], "");
            let what = format!("`{}` is a ghost note and an accent at once", self.text(&self.word));
            return Err(self.wrong(what, format!("write ({bare}) or {bare}^")));
        }
        if ghost {
            *at = at.start + 1..at.end - 1;
            return Ok(Some(struck('g', GHOST)));
        }
        if let Some(bare) = text.strip_suffix('^') {
            *at = at.start..at.start + bare.len();
            return Ok(Some(struck('X', ACCENT)));
        }
        Ok(None)
    }

    /// Takes the mark of a pushed note off a word.
    fn take_push(&self, at: &mut Range<usize>) -> Result<bool, Problem> {
        let Some(bare) = self.text(at).strip_prefix('<') else {
            return Ok(false);
        };
        if self.language == WordKind::Notes {
            let what = "`<` is for degrees: a note is itself, whatever the chord";
            return Err(self.wrong(what, format!("write {bare}")));
        }
        at.start += 1;
        Ok(true)
    }

    /// The grace notes of a word, and what stands behind them.
    fn graces(&self, at: Range<usize>) -> Result<(Option<Tones>, Range<usize>), Problem> {
        let mut notes = self.split(at.clone(), '/');
        let main = notes.pop().unwrap_or(at.clone());
        if notes.is_empty() {
            return Ok((None, main));
        }
        if notes.len() > MOST_GRACES {
            let what = format!("`{}` has more than {MOST_GRACES} grace notes", self.text(&self.word));
            let [low, middle, high] = self.language.examples();
            return Err(self.wrong(
                what,
                format!("write a run out between braces, such as {{{low} {middle} {high}}}"),
            ));
        }
        let graces = at.start..main.start - 1;
        Ok((Some(self.tones(&graces, '/')?.0), main))
    }

    /// Tones with a sign between them, and where each stands.
    fn tones(&self, within: &Range<usize>, between: char) -> Result<(Tones, Vec<Range<usize>>), Problem> {
        let tones = self.split(within.clone(), between);
        let play = match self.language {
            WordKind::Notes => self.each(&tones, Note::parse).map(Tones::Notes),
            WordKind::Degrees => self.each(&tones, DegreeWord::parse).map(Tones::Degrees),
        };
        Ok((play?, tones))
    }

    fn each<T>(&self, tones: &[Range<usize>], parse: impl Fn(&str) -> Result<T, Misread>) -> Result<Vec<T>, Problem> {
        let read = |at: &Range<usize>| parse(self.text(at)).map_err(|wrong| self.misread(at.clone(), &wrong));
        tones.iter().map(read).collect()
    }

    fn misread(&self, at: Range<usize>, wrong: &Misread) -> Problem {
        if at.is_empty() {
            let what = format!("a tone is missing in `{}`", self.text(&self.word));
            let tones = self.language.examples().join("+");
            return self.wrong(what, format!("write its tones with a + between them, such as {tones}"));
        }
        let problem = tell(self.line, at.clone(), wrong);
        let help = word_elsewhere(self.text(&at), self.language.way());
        match help.filter(|_| wrong.nearest.is_none()) {
            Some(help) => problem.help(help),
            None => problem,
        }
    }

    /// How marks behind colons say that it is played.
    fn expression(&self, marks: Vec<Range<usize>>) -> Result<Option<Box<ExpressionMarks>>, Problem> {
        let mut read = ExpressionMarks::default();
        for mark in &marks {
            let told = read.take(self.text(mark), self.language);
            told.map_err(|(what, help)| Problem::at(&self.line.place(mark.clone()), what).help(help))?;
        }
        Ok((!marks.is_empty()).then(|| Box::new(read)))
    }

    /// How hard a mark behind a colon, or behind a counted note, says that it is played.
    fn velocity(&self, at: Range<usize>) -> Result<Struck, Problem> {
        let text = self.text(&at);
        let mut signs = text.chars();
        let sign = signs.next().filter(|_| signs.next().is_none());
        if let Some(struck) = sign.and_then(velocity_of) {
            return Ok(struck);
        }
        let place = match at.is_empty() {
            true => self.line.place(self.word.clone()),
            false => self.line.place(at.clone()),
        };
        let problem = Problem::at(&place, format!("`{text}` does not say how hard a note is played"));
        let help = sign.and_then(|sign| elsewhere(sign, self.language.way()));
        let [note, ..] = self.language.examples();
        Err(problem.help(help.unwrap_or_else(|| format!("write `x`, `X`, `g` or `3` to `9`, such as `{note}:7`"))))
    }
}

fn struck(sign: char, velocity: f64) -> Struck {
    Struck {
        sign,
        velocity,
        plain: false,
        name: "",
    }
}
