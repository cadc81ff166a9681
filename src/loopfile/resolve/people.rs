//! Who plays: people who play several parts (`[feel] players`), and where the band plays as one.

use std::collections::BTreeMap;

use crate::loopfile::unresolved::{LoopDraft, PartDraft};
use crate::loopfile::{Exact, Words};
use crate::schema::{Layers, feel, playing};
use crate::text::{Place, Problem, did_you_mean, nearest};

/// Stands for any ending of a part's name.
const ANY: char = '*';

/// True for a part that a word of `players` means: by its name, or by how its name begins.
fn means(word: &str, part: &str) -> bool {
    match word.strip_suffix(ANY) {
        Some(beginning) => part.starts_with(beginning),
        None => part == word,
    }
}

impl LoopDraft {
    /// The players that the file names, each with its words for parts.
    pub(super) fn people(&self) -> &[(Words, Vec<Words>)] {
        self.feel.get(feel::PLAYERS).map_or(&[], Vec::as_slice)
    }

    /// Who plays a part, by number. What was performed has its own time, whoever is said to play it.
    pub(super) fn player_of(&self, part: &PartDraft) -> Option<usize> {
        let plays = |(_, words): &(Words, Vec<Words>)| words.iter().any(|word| means(&word.text, &part.name.text));
        self.people().iter().position(plays).filter(|_| part.take.is_none())
    }

    /// Finds players of parts that nobody has, parts of two players, and players whose parts drift in different ways.
    pub(crate) fn check_people(&self, problems: &mut Vec<Problem>) {
        let mut taken: BTreeMap<&str, &str> = BTreeMap::new();
        for (name, words) in self.people() {
            for word in words {
                let mut found = false;
                for part in self.parts.iter().filter(|part| means(&word.text, &part.name.text)) {
                    found = true;
                    let other = taken.insert(&part.name.text, &name.text);
                    if let Some(other) = other.filter(|other| *other != name.text) {
                        let what = format!("`{}` is played by `{other}` and by `{}`", part.name.text, name.text);
                        problems.push(Problem::at(&word.whole(), what).help("leave it to one of them"));
                    }
                }
                if !found {
                    problems.push(self.nobodys(word));
                }
            }
        }
        for player in 0..self.people().len() {
            problems.extend(self.divided(player));
        }
    }

    /// The problem of a word that means no part.
    fn nobodys(&self, word: &Words) -> Problem {
        if let Some(beginning) = word.text.strip_suffix(ANY) {
            let what = format!("no part has a name that begins with `{beginning}`");
            return Problem::at(&word.whole(), what).help("name a part, or a beginning that some parts share");
        }
        let names = self.parts.iter().map(|part| part.name.text.as_str());
        let help = match nearest(&word.text, names) {
            Some(near) => did_you_mean(near),
            None => "`players` takes names of parts".into(),
        };
        Problem::at(&word.whole(), format!("there is no part called `{}`", word.text)).help(help)
    }

    /// The problem of a player whose parts drift in time in different ways: one person can't.
    fn divided(&self, player: usize) -> Option<Problem> {
        let parts: Vec<&PartDraft> = self
            .parts
            .iter()
            .filter(|part| self.player_of(part) == Some(player))
            .collect();
        let (first, others) = parts.split_first()?;
        let drift = |part: &PartDraft, bar: Option<u32>| {
            let layers = bar.map_or_else(|| Layers::new([&part.settings]), |bar| part.habits().at(bar));
            let loose = self.playing(&layers, false).loose;
            // `together` is the same in all bars.
            (loose.time, if bar.is_none() { loose.together } else { 0.0 })
        };
        let changed = parts.iter().flat_map(|part| &part.changed).flat_map(|(bars, _)| bars);
        let bars: Vec<Option<u32>> = std::iter::once(None).chain(changed.map(|bar| Some(*bar))).collect();
        let differs = |part: &&&PartDraft| bars.iter().any(|bar| drift(part, *bar) != drift(first, *bar));
        let other = others.iter().find(differs)?;
        let name = &self.people()[player].0.text;
        let what = format!(
            "`{}` and `{}` differ in `loose`, but `{name}` plays both, and drifts as one",
            first.name.text, other.name.text
        );
        let problem = Problem::at(
            &place_of_loose(other).unwrap_or_else(|| place_of_loose(first).unwrap_or(other.name.whole())),
            what,
        );
        Some(problem.help(format!(
            "give all parts of `{name}` the same `ms` and `together`, or leave them to `[feel]`"
        )))
    }
}

/// Where a part speaks of its drift.
fn place_of_loose(part: &PartDraft) -> Option<Place> {
    let own = std::iter::once(&part.settings).chain(part.changed.iter().map(|(_, settings)| settings));
    own.into_iter()
        .find_map(|settings| settings.placed(playing::LOOSE))
        .map(|placed| placed.name.clone())
}

impl PartDraft {
    /// Where it plays as one with the band, and how far; what was performed stays as it was played.
    pub(super) fn ensemble(&self) -> BTreeMap<Exact, f64> {
        let accents = self.read.accents.iter().filter(|_| self.take.is_none());
        let together = accents.filter(|(_, accent)| accent.together > 0.0);
        together.map(|(at, accent)| (*at, accent.together)).collect()
    }
}
