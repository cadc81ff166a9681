//! Files of results as a listening page saves them, and whether what they say can be.

use std::path::{Path, PathBuf};

use serde::Deserialize;

use crate::export::page::MOST_ROUNDS;
use crate::files::{self, LONGEST_TEXT};
use crate::text::{Problem, clean};

/// Which way of writing results this is.
const FORMAT: u32 = 1;
/// What the answer is called that takes no side.
const CANT_TELL: &str = "can't tell";

/// The results of one listener.
#[derive(Debug, Clone, Deserialize)]
pub(crate) struct Results {
    /// The file that they are from.
    #[serde(skip)]
    pub path: PathBuf,
    pressroll_results: u32,
    /// The page that was listened to.
    pub page: Page,
    /// The listener's name, where one was given.
    pub listener: Option<String>,
    /// The tests in the order in which they ended.
    pub tests: Vec<Test>,
}

/// A listening page.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub(crate) struct Page {
    /// Its title.
    pub title: String,
    /// The SHA-256 of its versions.
    pub identity: String,
    /// Its versions.
    pub versions: Vec<Version>,
}

/// A version of a page.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub(crate) struct Version {
    /// Its name.
    pub name: String,
}

/// A question.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Deserialize, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub(crate) enum Kind {
    /// Which of two is X?
    Which,
    /// Are two the same or different?
    Same,
    /// Which of two is preferred?
    Prefer,
}

/// A test that ended or was left.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub(crate) struct Test {
    /// What no other test is called.
    pub id: String,
    /// Its question.
    pub kind: Kind,
    /// The versions that took part, from 1.
    pub versions: Vec<usize>,
    /// How many rounds were set.
    pub rounds_set: usize,
    /// Whether all of them were answered.
    pub complete: bool,
    /// What was answered.
    pub rounds: Vec<Round>,
}

/// One round.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub(crate) struct Round {
    /// The version under A.
    pub a: usize,
    /// The version under B.
    pub b: usize,
    x: Option<usize>,
    answer: String,
    guess: Option<String>,
    /// Whether the answer, or the guess in its place, was correct; none for a preference.
    pub correct: Option<bool>,
    /// The version that was preferred; none where neither was.
    pub preferred: Option<usize>,
}

impl Page {
    /// The first digits of its identity, which tell pages apart for people.
    pub(crate) fn short(&self) -> &str {
        self.identity.get(..12).unwrap_or(&self.identity)
    }

    /// A version's number and name.
    pub(crate) fn called(&self, number: usize) -> String {
        format!("{number} {}", self.versions[number - 1].name)
    }
}

/// Reads a file of results.
///
/// # Errors
/// One that can't be read, is something else, or says what can't be.
pub(crate) fn read(path: &Path) -> Result<Results, Problem> {
    let shown = path.display();
    let bytes = files::read(path, LONGEST_TEXT).map_err(|refused| Problem::new(format!("{shown} {refused}")))?;
    let mut results: Results = serde_json::from_slice(&bytes).map_err(|error| {
        let what = format!("{shown} is not the results of a listening page: {error}");
        Problem::new(what).help("give files that the page saved with Save results as JSON")
    })?;
    results.path = path.to_path_buf();
    let wrong = |what: String| {
        Problem::new(format!("{shown}: {what}"))
            .help("save the results again from the page; files are not to be edited")
    };
    if results.pressroll_results != FORMAT {
        let what = format!(
            "{shown} is written in way {}, known is {FORMAT}",
            results.pressroll_results
        );
        return Err(Problem::new(what).help("merge it with the version of pressroll that made the page"));
    }
    clean(&mut results.page.title);
    clean(&mut results.page.identity);
    results
        .page
        .versions
        .iter_mut()
        .for_each(|version| clean(&mut version.name));
    results.listener.iter_mut().for_each(clean);
    let versions = results.page.versions.len();
    for (number, test) in (1..).zip(&results.tests) {
        allow(test, versions).map_err(|what| wrong(format!("test {number} {what}")))?;
    }
    Ok(results)
}

/// Makes sure that a test can have come about on a page of so many versions; says what is wrong with it.
fn allow(test: &Test, versions: usize) -> Result<(), String> {
    let known = |number: &usize| (1..=versions).contains(number);
    let count = test.versions.len();
    if !test.versions.iter().all(known) || count < 2 || (test.kind != Kind::Prefer && count > 2) {
        return Err(format!("can't be of the versions {:?}", test.versions));
    }
    let rounds = test.rounds.len();
    if test.rounds_set > MOST_ROUNDS
        || rounds > test.rounds_set
        || test.complete != (rounds == test.rounds_set)
        || rounds == 0 && test.complete
    {
        return Err(format!("has {rounds} rounds of {}", test.rounds_set));
    }
    for (number, round) in (1..).zip(&test.rounds) {
        let taking_part = [Some(round.a), Some(round.b), round.x, round.preferred];
        let all_known = taking_part.iter().flatten().all(|one| test.versions.contains(one));
        if !all_known || !round.holds(test.kind) {
            return Err(format!("says in round {number} what can't be: \"{}\"", round.answer));
        }
    }
    Ok(())
}

impl Round {
    /// Whether what is said of the answer follows from what was played.
    fn holds(&self, kind: Kind) -> bool {
        let between = |one: &'static str, other: &'static str, truth: &str| {
            let guess = self.guess.as_deref().unwrap_or_default();
            let answered = self.answer == guess || self.answer == CANT_TELL;
            answered && [one, other].contains(&guess) && self.correct == Some(guess == truth)
        };
        match kind {
            Kind::Which => {
                let x = self.x == Some(self.a) || self.x == Some(self.b);
                let truth = if self.x == Some(self.a) { "A" } else { "B" };
                x && self.a != self.b && between("A", "B", truth)
            }
            Kind::Same => between("same", "different", if self.a == self.b { "same" } else { "different" }),
            Kind::Prefer => {
                let preferred = match self.answer.as_str() {
                    "A" => Some(self.a),
                    "B" => Some(self.b),
                    CANT_TELL => None,
                    _ => return false,
                };
                self.a != self.b && self.preferred == preferred
            }
        }
    }
}
