//! The vocabulary of a part: what each mark plays in it, and how hard.

use crate::loopfile::foreign_marks::elsewhere;
use crate::loopfile::marks::{HAT_MARKS, PLAIN, REST, chord_of, hit_of, listed};
use crate::loopfile::{HitPart, Manner, Way, Words};
use crate::text::Problem;

/// The piece that a mark plays.
#[derive(Debug, Clone, Copy)]
pub(crate) enum On<'a> {
    /// The part's own.
    Own,
    /// One that the part's `marks` name.
    Named(&'a Words),
    /// One that every hat has.
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
type OwnMarks<'a> = Vec<(char, &'a Words)>;

/// The marks that a part knows.
pub(crate) struct Vocabulary<'a> {
    told: OwnMarks<'a>,
    /// Those of some bars alone.
    changed: Vec<(&'a [u32], OwnMarks<'a>)>,
    hat: bool,
    comping: bool,
}

impl<'a> Vocabulary<'a> {
    /// A part's marks: everyone's, its own, and a hat's `o` and `p`. A mark that means something already is a problem.
    pub(super) fn new(part: &'a HitPart, problems: &mut Vec<Problem>) -> Vocabulary<'a> {
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
    pub(super) fn of_comping() -> Vocabulary<'static> {
        Vocabulary {
            told: Vec::new(),
            changed: Vec::new(),
            hat: false,
            comping: true,
        }
    }

    /// What a mark plays in a bar, counted from 0; none for the rest and for marks that are unknown there.
    pub(super) fn meaning_in(&self, bar: u32, mark: char) -> Option<Meaning<'a>> {
        let here = self.changed.iter().rev();
        let mut here = here.filter(|(bars, _)| bars.binary_search(&bar).is_ok());
        here.find_map(|(_, told)| told_piece(told, mark))
            .or_else(|| self.meaning(mark))
    }

    /// What a mark plays where no bar says otherwise; none for the rest and for unknown marks.
    pub(super) fn meaning(&self, mark: char) -> Option<Meaning<'a>> {
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
        let (struck, manner) = hit_of(mark)?;
        Some(Meaning {
            velocity: struck.velocity,
            plain: struck.plain,
            manner,
            on: On::Own,
        })
    }

    /// True for a mark that can stand in a line of this part.
    pub(super) fn knows(&self, mark: char) -> bool {
        if self.comping {
            return matches!(mark, REST | '=') || chord_of(mark).is_some();
        }
        let changed = || self.changed.iter().any(|(_, told)| told_piece(told, mark).is_some());
        mark == REST || self.meaning(mark).is_some() || changed()
    }

    /// True where a rest ends what sounds before it, and so is kept: chords are held, hits are not.
    pub(super) fn keeps_rests(&self) -> bool {
        self.comping
    }

    fn way(&self) -> Way {
        if self.comping { Way::Comp } else { Way::Hits }
    }

    /// The advice for a mark that is unknown.
    pub(super) fn help(&self, unknown: char) -> String {
        if matches!(unknown, '.' | '_' | '·' | '–' | '—') {
            return "write `-` for nothing".to_string();
        }
        if let Some(help) = elsewhere(unknown, self.way()) {
            return help;
        }
        if self.comping {
            return format!(
                "comping takes {}, `-` for nothing and `=` to hold",
                listed(true).join(" ")
            );
        }
        let mut marks = vec!["`-`".to_string()];
        marks.extend(listed(false));
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
fn tell<'a>(marks: &'a [(char, Words)], problems: &mut Vec<Problem>) -> OwnMarks<'a> {
    let mut told = Vec::new();
    for (mark, piece) in marks {
        let taken = hit_of(*mark)
            .map(|(struck, _)| struck.name)
            .or_else(|| sign_of_writing(*mark));
        match taken {
            None => told.push((*mark, piece)),
            Some(taken) => problems.push(
                Problem::at(&piece.whole(), format!("`{mark}` cannot play a piece: it is {taken}"))
                    .help("take another character"),
            ),
        }
    }
    told
}

/// A hit on the piece that `marks` give a mark, if they do.
fn told_piece<'a>(told: &OwnMarks<'a>, mark: char) -> Option<Meaning<'a>> {
    let (_, piece) = told.iter().find(|(told, _)| *told == mark)?;
    Some(Meaning {
        velocity: PLAIN,
        plain: true,
        manner: Manner::Single,
        on: On::Named(piece),
    })
}

/// What a character is to the writing of tablature, where that keeps it from being a mark.
fn sign_of_writing(sign: char) -> Option<&'static str> {
    Some(match sign {
        REST => "a rest",
        '|' => "a barline",
        '{' | '}' => "a brace around marks to be fitted in",
        '#' => "the beginning of a comment",
        space if space.is_whitespace() => "a space between groups",
        _ => return None,
    })
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
        assert!(matches!(vocabulary.meaning('o').unwrap().on, On::Named(piece) if piece.text == "splash"));
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
