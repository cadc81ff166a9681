//! The vocabulary of marks: what each plays, and how hard.

use crate::loopfile::{Manner, Words, WrittenPart};
use crate::schema::{MARKS, PLAIN, Struck, figured};
use crate::text::Problem;

/// Plays nothing.
pub(crate) const REST: char = '-';
/// A plain hit.
pub(crate) const PLAIN_MARK: char = 'x';

/// The marks of comping, but for the rest.
const COMPING: &str = "xXg3456789=duk<";

/// What on a hat need not be said.
const HAT_MARKS: [(char, &str); 2] = [('o', "hat-open"), ('p', "hat-pedal")];

/// The piece that a mark plays.
#[derive(Debug, Clone, Copy)]
pub(crate) enum On<'a> {
    /// The part's own.
    Own,
    /// One that the part's `marks` name.
    Told(&'a Words),
    /// One that a hat has without being told.
    Hat(&'static str),
}

/// What a mark plays in a part.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Meaning<'a> {
    /// How hard, from 1 to 127.
    pub velocity: f64,
    /// True where the part's range of velocities spreads it.
    pub plain: bool,
    /// How it is struck.
    pub manner: Manner,
    /// On what.
    pub on: On<'a>,
}

/// Pieces by the marks that play them.
type Told<'a> = Vec<(char, &'a Words)>;

/// The marks that a part knows.
pub(crate) struct Vocabulary<'a> {
    told: Told<'a>,
    /// What is told for some bars alone.
    changed: Vec<(&'a [u32], Told<'a>)>,
    hat: bool,
    comping: bool,
}

impl<'a> Vocabulary<'a> {
    /// A part's marks: everyone's, its own, and a hat's `o` and `p`. A mark that means something already cannot be told anew.
    pub fn new(part: &'a WrittenPart, problems: &mut Vec<Problem>) -> Vocabulary<'a> {
        let changed = part.changed_marks.iter();
        Vocabulary {
            told: tell(&part.marks, problems),
            changed: changed
                .map(|(bars, marks)| (bars.as_slice(), tell(marks, problems)))
                .collect(),
            hat: part.piece.text.starts_with("hat"),
            comping: false,
        }
    }

    /// The marks of comping; what they play is not for hits to say.
    pub fn of_comping() -> Vocabulary<'static> {
        Vocabulary {
            told: Vec::new(),
            changed: Vec::new(),
            hat: false,
            comping: true,
        }
    }

    /// What a mark plays in a bar, counted from 0; none for the rest and for marks that are unknown there.
    pub fn meaning_in(&self, bar: u32, mark: char) -> Option<Meaning<'a>> {
        let here = self.changed.iter().rev();
        let mut here = here.filter(|(bars, _)| bars.binary_search(&bar).is_ok());
        here.find_map(|(_, told)| told_piece(told, mark))
            .or_else(|| self.meaning(mark))
    }

    /// What a mark plays where no bar says otherwise; none for the rest and for unknown marks.
    pub fn meaning(&self, mark: char) -> Option<Meaning<'a>> {
        if let Some(meaning) = told_piece(&self.told, mark) {
            return Some(meaning);
        }
        if let Some(&(_, piece)) = HAT_MARKS.iter().find(|(sign, _)| self.hat && *sign == mark) {
            return Some(Meaning {
                velocity: PLAIN,
                plain: true,
                manner: Manner::Single,
                on: On::Hat(piece),
            });
        }
        common(mark).map(|Struck { velocity, .. }| Meaning {
            velocity,
            plain: mark == PLAIN_MARK,
            manner: manner(mark),
            on: On::Own,
        })
    }

    /// True for a mark that can stand in a line of this part.
    pub fn knows(&self, mark: char) -> bool {
        if self.comping {
            return mark == REST || COMPING.contains(mark);
        }
        let changed = || self.changed.iter().any(|(_, told)| told_piece(told, mark).is_some());
        mark == REST || self.meaning(mark).is_some() || changed()
    }

    /// The advice for a mark that is unknown.
    pub fn help(&self, unknown: char) -> String {
        if matches!(unknown, '.' | '_' | '·' | '–' | '—') {
            return "write `-` for nothing".to_string();
        }
        if self.comping {
            return "comping takes `x` `X` `g` `3` to `9` `d` `u` `k` `<`, `-` for nothing and `=` to hold".to_string();
        }
        let mut marks = vec!["`-`".to_string()];
        marks.extend(letters().map(|struck| format!("`{}`", struck.sign)));
        marks.push("`3` to `9`".to_string());
        marks.extend(
            self.told
                .iter()
                .map(|(mark, piece)| format!("`{mark}` ({})", piece.text)),
        );
        for (mark, piece) in HAT_MARKS {
            if self.hat && !self.told.iter().any(|(told, _)| *told == mark) {
                marks.push(format!("`{mark}` ({piece})"));
            }
        }
        format!("the marks are {}; the part's `marks` can add to them", marks.join(" "))
    }
}

/// Some marks and the pieces that they play, without those that mean something already.
fn tell<'a>(marks: &'a [(char, Words)], problems: &mut Vec<Problem>) -> Told<'a> {
    let mut told = Vec::new();
    for (mark, piece) in marks {
        let taken = common(*mark)
            .map(|mark| mark.name.to_string())
            .or_else(|| sign_of_writing(*mark));
        match taken {
            None => told.push((*mark, piece)),
            Some(taken) => problems.push(
                Problem::at(
                    &piece.place(0..piece.text.len()),
                    format!("`{mark}` cannot play a piece: it is {taken}"),
                )
                .help("take another character"),
            ),
        }
    }
    told
}

/// A hit on the piece that a mark is told to play, if it is.
fn told_piece<'a>(told: &Told<'a>, mark: char) -> Option<Meaning<'a>> {
    let (_, piece) = told.iter().find(|(told, _)| *told == mark)?;
    Some(Meaning {
        velocity: PLAIN,
        plain: true,
        manner: Manner::Single,
        on: On::Told(piece),
    })
}

/// The mark of a single hit whose velocity is nearest to one; of two that are as near, the letter.
pub fn mark_for(velocity: f64) -> char {
    let single = letters()
        .map(|struck| struck.sign)
        .filter(|sign| manner(*sign) == Manner::Single);
    let away = |sign: &char| common(*sign).map_or(f64::MAX, |struck| (struck.velocity - velocity).abs());
    let all = single.chain('3'..='9');
    all.min_by(|a, b| away(a).total_cmp(&away(b))).unwrap_or(PLAIN_MARK)
}

/// The letters that strike in every part.
fn letters() -> impl Iterator<Item = Struck> {
    MARKS.iter().flat_map(|mark| mark.strikes).copied()
}

/// A mark of everyone's.
fn common(sign: char) -> Option<Struck> {
    match sign.to_digit(10) {
        Some(figure @ 3..=9) => Some(Struck {
            sign,
            velocity: figured(figure),
            name: "a hit of a set loudness",
        }),
        _ => letters().find(|struck| struck.sign == sign),
    }
}

/// How a mark of everyone's is struck.
fn manner(sign: char) -> Manner {
    match sign {
        'f' | 'F' => Manner::Flam,
        'd' | 'D' => Manner::Drag,
        'r' | 'R' => Manner::Two,
        'b' | 'B' => Manner::Press,
        'm' => Manner::Maybe,
        _ => Manner::Single,
    }
}

/// What a character is to the writing of tablature, where that keeps it from being a mark.
fn sign_of_writing(sign: char) -> Option<String> {
    let name = match sign {
        REST => "a rest",
        '|' => "a barline",
        '{' | '}' => "a brace around marks to be fitted in",
        '#' => "the beginning of a comment",
        space if space.is_whitespace() => "a space between groups",
        _ => return None,
    };
    Some(name.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loopfile::rhythm::tests::{part, words};

    #[test]
    fn a_hat_knows_open_and_pedal_unless_told_otherwise() {
        let mut hat = part("hat-closed", &[]);
        let mut problems = Vec::new();
        assert!(matches!(
            Vocabulary::new(&hat, &mut problems).meaning('o').unwrap().on,
            On::Hat("hat-open")
        ));
        hat.marks.push(('o', words("splash")));
        let vocabulary = Vocabulary::new(&hat, &mut problems);
        assert!(matches!(vocabulary.meaning('o').unwrap().on, On::Told(piece) if piece.text == "splash"));
        assert!(matches!(vocabulary.meaning('p').unwrap().on, On::Hat("hat-pedal")));
        assert!(
            Vocabulary::new(&part("snare", &[]), &mut problems)
                .meaning('o')
                .is_none()
        );
        assert_eq!(problems, []);
    }

    #[test]
    fn a_mark_that_means_something_cannot_be_told_anew() {
        let mut snare = part("snare", &[]);
        snare.marks = vec![
            ('x', words("clap")),
            ('|', words("clap")),
            ('7', words("clap")),
            ('b', words("clap")),
            ('c', words("clap")),
        ];
        let mut problems = Vec::new();
        let vocabulary = Vocabulary::new(&snare, &mut problems);
        let whats: Vec<&str> = problems.iter().map(|problem| problem.what.as_str()).collect();
        assert_eq!(
            whats,
            [
                "`x` cannot play a piece: it is a hit",
                "`|` cannot play a piece: it is a barline",
                "`7` cannot play a piece: it is a hit of a set loudness",
                "`b` cannot play a piece: it is a press of a buzz roll"
            ]
        );
        assert!(vocabulary.knows('c') && vocabulary.knows('-') && !vocabulary.knows('q'));
        assert_eq!(
            vocabulary.help('q'),
            "the marks are `-` `x` `X` `g` `f` `F` `d` `D` `r` `R` `b` `B` `m` `3` to `9` `c` (clap); the part's `marks` can add to them"
        );
    }
}
