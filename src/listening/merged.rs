//! The results of many listeners as one: exact tests over all, strengths, and intervals by bootstrap.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::answers::{Kind, Page, Results, Test};
use super::odds::{as_far, at_least, holm, over_average, strengths};
use crate::base::random::Chance;
use crate::text::Problem;

/// How many times answers are drawn anew for an interval.
pub(crate) const RESAMPLES: usize = 2000;
/// The share of resamples outside an interval, on each side: together 5 %.
const OUTSIDE: f64 = 0.025;

/// What holds over all listeners.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Merged {
    /// Listeners, counted by their names; each file without one is a listener of its own.
    pub listeners: usize,
    /// Tests that ended.
    pub tests: usize,
    /// Tests that were left: they don't count.
    pub left: usize,
    /// Tests that several files hold: they count once.
    pub twice: usize,
    /// Scores of tests that have right answers, by question and versions.
    pub scores: Vec<Score>,
    /// Preferences, where there are any.
    pub preferences: Option<Preferences>,
}

/// How many answers to one question about two versions were correct.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Score {
    /// The question.
    pub kind: Kind,
    /// The two versions, from 1.
    pub versions: [usize; 2],
    /// Each listener's name, correct answers, rounds and probability.
    pub each: Vec<(String, usize, usize, f64)>,
    /// Correct answers of all.
    pub correct: usize,
    /// Rounds of all.
    pub rounds: usize,
    /// The probability of this score or better by guessing: exact binomial test, one-sided, chance 1 in 2.
    pub p: f64,
    /// The share of correct answers.
    pub share: Share,
}

/// A share from 0 to 1 with its interval of 95 %.
#[derive(Debug, Clone, Copy, Serialize)]
pub(crate) struct Share {
    /// The share itself.
    pub is: f64,
    /// The interval's lower end.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
}

/// Preferences over all listeners.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Preferences {
    /// The pairs that came up.
    pub pairs: Vec<Pair>,
    /// Each version that took part, from 1, with how often it would be preferred to an average one; the first most often.
    pub strengths: Vec<(usize, Share)>,
    /// True where half a preference was added each way to each pair, without which no finite strengths exist.
    pub added: bool,
}

/// Two versions and how often each was preferred.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Pair {
    /// The two, from 1: the one that was preferred more often first.
    pub versions: [usize; 2],
    /// How often the first was preferred.
    pub preferred: usize,
    /// How often one of them was.
    pub told: usize,
    /// How often neither was.
    pub ties: usize,
    /// Exact binomial test, two-sided, chance 1 in 2, of those that were told.
    pub p: f64,
    /// The same, adjusted for the number of pairs (Holm).
    pub adjusted_p: f64,
}

/// Merges results of one page; `seed` is what intervals are drawn from.
///
/// # Errors
/// Results of different pages; one test with different answers in two files; nothing that counts.
pub(crate) fn merge(results: &[Results], seed: u64) -> Result<Merged, Problem> {
    of_one_page(results)?;
    let (tests, twice) = told_once(results)?;
    let ended: Vec<&Told> = tests.iter().filter(|(_, test)| test.complete).collect();
    if ended.is_empty() {
        return Err(
            Problem::new("these results hold no test that ended").help("take a test to its last round, then save")
        );
    }
    let mut groups: BTreeMap<Question, BTreeMap<&str, Vec<bool>>> = BTreeMap::new();
    let mut preferred: BTreeMap<&str, Vec<Answer>> = BTreeMap::new();
    for (listener, test) in &ended {
        if test.kind == Kind::Prefer {
            let answers = test.rounds.iter().map(|round| (round.a, round.b, round.preferred));
            preferred.entry(listener).or_default().extend(answers);
            continue;
        }
        let [a, b] = [test.versions[0], test.versions[1]];
        let group = groups.entry((test.kind, [a.min(b), a.max(b)])).or_default();
        let correct = test.rounds.iter().map(|round| round.correct == Some(true));
        group.entry(listener).or_default().extend(correct);
    }
    let listeners: BTreeSet<&str> = ended.iter().map(|(listener, _)| listener.as_str()).collect();
    Ok(Merged {
        listeners: listeners.len(),
        tests: ended.len(),
        left: tests.len() - ended.len(),
        twice,
        scores: groups
            .into_iter()
            .map(|(group, answers)| score(group, &answers, seed))
            .collect(),
        preferences: (!preferred.is_empty()).then(|| preferences(&preferred, seed)),
    })
}

/// Makes sure that all results are of the first one's page.
fn of_one_page(results: &[Results]) -> Result<(), Problem> {
    let first = &results[0];
    let same = |page: &Page| page.identity == first.page.identity && page.versions == first.page.versions;
    match results.iter().find(|one| !same(&one.page)) {
        None => Ok(()),
        Some(other) => {
            let what = format!(
                "{} is of another page than {}: {}, not {}",
                other.path.display(),
                first.path.display(),
                other.page.short(),
                first.page.short()
            );
            Err(Problem::new(what).help("merge the results of one page at a time"))
        }
    }
}

/// What was asked about which two versions.
type Question = (Kind, [usize; 2]);
/// A listener and a test of theirs.
type Told<'a> = (String, &'a Test);

/// Every test once, with its listener: a page saves all its tests each time.
fn told_once(results: &[Results]) -> Result<(Vec<Told<'_>>, usize), Problem> {
    let mut known: BTreeMap<&str, (&Test, &Results)> = BTreeMap::new();
    let (mut tests, mut twice) = (Vec::new(), 0);
    for (number, one) in results.iter().enumerate() {
        let listener = one
            .listener
            .clone()
            .unwrap_or_else(|| format!("listener {}", number + 1));
        for test in &one.tests {
            match known.get(test.id.as_str()) {
                None => {
                    known.insert(&test.id, (test, one));
                    tests.push((listener.clone(), test));
                }
                Some((same, _)) if *same == test => twice += 1,
                Some((_, other)) => {
                    let (path, other) = (one.path.display(), other.path.display());
                    let what = format!("{path} and {other} hold one test with different answers");
                    return Err(Problem::new(what).help("leave the file out that was edited"));
                }
            }
        }
    }
    Ok((tests, twice))
}

fn score((kind, versions): Question, answers: &BTreeMap<&str, Vec<bool>>, seed: u64) -> Score {
    let count = |answers: &[bool]| (answers.iter().filter(|correct| **correct).count(), answers.len());
    let one = |(listener, answers): (&&str, &Vec<bool>)| {
        let (correct, rounds) = count(answers);
        (listener.to_string(), correct, rounds, at_least(correct, rounds, 0.5))
    };
    let all: Vec<bool> = answers.values().flatten().copied().collect();
    let (correct, rounds) = count(&all);
    let by_listener: Vec<&[bool]> = answers.values().map(Vec::as_slice).collect();
    let name = format!("{kind:?} {versions:?}");
    let drawn = resampled(&by_listener, (seed, &name), |answers| {
        let (correct, rounds) = count(answers);
        vec![correct as f64 / rounds as f64]
    });
    Score {
        kind,
        versions,
        each: answers.iter().map(one).collect(),
        correct,
        rounds,
        p: at_least(correct, rounds, 0.5),
        share: interval(correct as f64 / rounds as f64, drawn.into_iter().map(|drawn| drawn[0])),
    }
}

/// Two versions that were heard, and which was preferred; none where neither was.
type Answer = (usize, usize, Option<usize>);

fn preferences(answers: &BTreeMap<&str, Vec<Answer>>, seed: u64) -> Preferences {
    let all: Vec<Answer> = answers.values().flatten().copied().collect();
    let versions: BTreeSet<usize> = all.iter().flat_map(|(a, b, _)| [*a, *b]).collect();
    let versions: Vec<usize> = versions.into_iter().collect();
    let model = strengths(&wins(&versions, &all));
    let by_listener: Vec<&[Answer]> = answers.values().map(Vec::as_slice).collect();
    let drawn = resampled(&by_listener, (seed, "prefer"), |answers| {
        strengths(&wins(&versions, answers)).log
    });
    let share = |place: usize| {
        let drawn = drawn.iter().map(|log| over_average(log[place]));
        interval(over_average(model.log[place]), drawn)
    };
    let mut order: Vec<usize> = (0..versions.len()).collect();
    order.sort_by(|a, b| model.log[*b].total_cmp(&model.log[*a]));
    Preferences {
        pairs: pairs(&all),
        strengths: order.into_iter().map(|place| (versions[place], share(place))).collect(),
        added: model.added,
    }
}

/// How often each version was preferred to each other one; where neither was, half for each.
fn wins(versions: &[usize], answers: &[Answer]) -> Vec<Vec<f64>> {
    let mut wins = vec![vec![0.0; versions.len()]; versions.len()];
    let place = |version: usize| versions.binary_search(&version).expect("it takes part");
    for (a, b, preferred) in answers {
        let (a, b) = (place(*a), place(*b));
        let of_a = preferred.map_or(0.5, |preferred| f64::from(u8::from(place(preferred) == a)));
        wins[a][b] += of_a;
        wins[b][a] += 1.0 - of_a;
    }
    wins
}

fn pairs(all: &[Answer]) -> Vec<Pair> {
    let mut counts: BTreeMap<[usize; 2], [usize; 3]> = BTreeMap::new();
    for (a, b, preferred) in all {
        let pair = [*a.min(b), *a.max(b)];
        let place = preferred.map_or(2, |preferred| usize::from(preferred == pair[1]));
        counts.entry(pair).or_default()[place] += 1;
    }
    let p = |count: &[usize; 3]| as_far(count[0], count[0] + count[1], 0.5);
    let adjusted = holm(&counts.values().map(p).collect::<Vec<f64>>());
    let pair = |(([a, b], count), adjusted_p): (([usize; 2], [usize; 3]), f64)| Pair {
        versions: if count[0] >= count[1] { [a, b] } else { [b, a] },
        preferred: count[0].max(count[1]),
        told: count[0] + count[1],
        ties: count[2],
        p: p(&count),
        adjusted_p,
    };
    counts.into_iter().zip(adjusted).map(pair).collect()
}

/// Figures of answers drawn anew: listeners with replacement, then as many of each one's answers with replacement (A. C. Davison
/// and D. V. Hinkley, "Bootstrap Methods and their Application", 1997, section 3.8 [memory]).
fn resampled<T: Copy>(
    answers: &[&[T]],
    (seed, name): (u64, &str),
    figures: impl Fn(&[T]) -> Vec<f64>,
) -> Vec<Vec<f64>> {
    let draw = |number: usize| {
        let mut chance = Chance::new(seed, "listening test", name, number as u32);
        let mut drawn = Vec::new();
        for _ in answers {
            let own = answers[chance.below(answers.len())];
            drawn.extend((0..own.len()).map(|_| own[chance.below(own.len())]));
        }
        figures(&drawn)
    };
    (1..=RESAMPLES).map(draw).collect()
}

/// A share with its interval: percentiles of what came of answers drawn anew.
fn interval(is: f64, drawn: impl Iterator<Item = f64>) -> Share {
    let mut drawn: Vec<f64> = drawn.collect();
    drawn.sort_by(f64::total_cmp);
    let outside = (OUTSIDE * drawn.len() as f64) as usize;
    Share {
        is,
        low: drawn[outside],
        high: drawn[drawn.len() - 1 - outside],
    }
}
