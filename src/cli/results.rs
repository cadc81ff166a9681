//! `pressroll results`.

use std::fmt::Write;
use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::options::OutputOptions;
use super::replace::Rule;
use super::{Done, output};
use crate::export::picture::{ShareRow, Shares};
use crate::listening::{Kind, Merged, Page, Preferences, RESAMPLES, Results, Score, Share, merge, read};
use crate::text::table::Table;
use crate::text::{Problem, Problems, count_of, shown_json};

/// Columns of the report.
const PAGE: usize = 80;
/// The p below which a score is taken for more than guessing.
const CONVINCING: f64 = 0.05;

/// Merge what listeners answered on one listening page: scores, preferences, how sure they are
///
/// Takes the JSON files that the page saved. Intervals are of 95 %, by bootstrap.
#[derive(Args)]
pub(super) struct ResultsCommand {
    /// Results of one page, a file a listener
    #[arg(value_name = "FILE", required = true)]
    files: Vec<PathBuf>,
    /// What intervals are drawn from
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Also draw them: NAME.svg or NAME.png
    #[arg(long, help_heading = "Output", value_name = "FILE")]
    picture: Option<PathBuf>,
    #[command(flatten)]
    written: OutputOptions,
    /// Print one JSON object and nothing else
    #[arg(long, help_heading = "Output")]
    json: bool,
}

#[derive(Serialize)]
struct Summary<'a> {
    title: &'a str,
    page: &'a str,
    versions: Vec<&'a str>,
    seed: u64,
    #[serde(flatten)]
    merged: &'a Merged,
}

impl ResultsCommand {
    /// Reads, merges, draws, tells.
    pub(super) fn run(self) -> Done {
        let (mut results, mut problems) = (Vec::new(), Vec::new());
        for path in &self.files {
            match read(path) {
                Ok(one) => results.push(one),
                Err(problem) => problems.push(problem),
            }
        }
        if !problems.is_empty() {
            return Err(Problems(problems));
        }
        let merged = merge(&results, self.seed)?;
        let page = &results[0].page;
        self.draw(page, &merged)?;
        let summary = Summary {
            title: &page.title,
            page: &page.identity,
            versions: page.versions.iter().map(|version| version.name.as_str()).collect(),
            seed: self.seed,
            merged: &merged,
        };
        let told = match self.json {
            true => shown_json(serde_json::to_string(&summary).expect("numbers and names are always JSON")),
            false => report(&results, &merged, self.seed).trim_end().to_string(),
        };
        Ok(output::to_stdout(&told)?)
    }

    /// Draws the picture that is asked for.
    fn draw(&self, page: &Page, merged: &Merged) -> Result<(), Problems> {
        let Some(path) = &self.picture else { return Ok(()) };
        let ending = path.extension().unwrap_or_default().to_string_lossy().to_lowercase();
        if !["svg", "png"].contains(&&*ending) {
            let what = format!("{} is neither NAME.svg nor NAME.png", path.display());
            return Err(Problem::new(what)
                .help("name the picture after one of the two formats")
                .into());
        }
        Rule::new(self.written.force, "file with --picture")
            .keep_files(self.files.iter().cloned())
            .allow([path])?;
        let picture = shares(page, merged, self.seed).picture();
        match &*ending {
            "svg" => Ok(picture.write_svg(path)?),
            _ => picture.write_png(path),
        }
    }
}

fn report(results: &[Results], merged: &Merged, seed: u64) -> String {
    let page = &results[0].page;
    let mut out = format!(
        "{} · page {} · {} · {}\n",
        page.title,
        page.short(),
        count_of(merged.listeners, "listener"),
        count_of(merged.tests, "test")
    );
    for score in &merged.scores {
        score_lines(page, score, &mut out);
    }
    if let Some(preferences) = &merged.preferences {
        preference_lines(page, preferences, &mut out);
    }
    let _ = writeln!(
        out,
        "\nIntervals: 95 %, from {RESAMPLES} draws of listeners and their answers, seed {seed}."
    );
    if merged.left > 0 {
        let _ = writeln!(
            out,
            "Left before the last round, so not counted: {}.",
            count_of(merged.left, "test")
        );
    }
    if merged.twice > 0 {
        let _ = writeln!(
            out,
            "In more than one file, and counted once: {}.",
            count_of(merged.twice, "test")
        );
    }
    out
}

fn asked(page: &Page, score: &Score) -> String {
    let [a, b] = score.versions.map(|number| page.called(number));
    match score.kind {
        Kind::Which => format!("Which of two is X? {a}, {b}"),
        _ => format!("Same or different? {a}, {b}"),
    }
}

fn score_lines(page: &Page, score: &Score, out: &mut String) {
    let _ = writeln!(out, "\n{}", asked(page, score));
    let mut table = Table::new();
    table.row("", ["correct", "probability"]);
    for (listener, correct, rounds, p) in &score.each {
        table.row(listener.as_str(), [format!("{correct} of {rounds}"), probability(*p)]);
    }
    let all = format!("{} of {}", score.correct, score.rounds);
    table.row("all", [all, probability(score.p)]);
    out.push_str(&table.text(PAGE));
    let _ = writeln!(
        out,
        "{} correct, 95 % interval {}",
        percent(score.share.is),
        between(score.share)
    );
    out.push_str("Probability of this score or better by guessing: exact binomial test.\n");
    out.push_str(match score.p < CONVINCING {
        true => "Evidence of an audible difference.\n",
        false => "No evidence of an audible difference.\n",
    });
}

fn preference_lines(page: &Page, preferences: &Preferences, out: &mut String) {
    out.push_str("\nWhich of two is preferred?\n");
    let mut table = Table::new();
    table.row("", ["preferred", "can't tell", "p", "adjusted p"]);
    for pair in &preferences.pairs {
        let [a, b] = pair.versions.map(|number| page.called(number));
        let cells = [
            format!("{} of {}", pair.preferred, pair.told),
            pair.ties.to_string(),
            probability(pair.p),
            probability(pair.adjusted_p),
        ];
        table.row(format!("{a} to {b}"), cells);
    }
    out.push_str(&table.text(PAGE));
    out.push_str("p is the probability of a count this far from even by guessing: exact binomial\n");
    out.push_str("test, two-sided; adjusted for the number of pairs (Holm).\n");
    out.push_str(
        match preferences.pairs.iter().any(|pair| pair.adjusted_p < CONVINCING) {
            true => "Evidence of a preference.\n",
            false => "No evidence of a preference.\n",
        },
    );
    out.push_str("\nHow often each would be preferred to an average one (Bradley and Terry 1952)\n");
    let mut table = Table::new();
    table.row("", ["share", "95 % interval"]);
    for (number, share) in &preferences.strengths {
        table.row(page.called(*number), [percent(share.is), between(*share)]);
    }
    out.push_str(&table.text(PAGE));
    if preferences.added {
        out.push_str("Half a preference is added each way to each pair, else a share would be 0 or 1.\n");
    }
}

/// What is drawn: a group a question.
fn shares(page: &Page, merged: &Merged, seed: u64) -> Shares {
    let row = |name: String, share: Share| ShareRow {
        name,
        share: [share.is, share.low, share.high],
        words: format!("{}, {}", percent(share.is), between(share)),
    };
    let scores = merged.scores.iter().map(|score| {
        let name = format!(
            "{} of {} correct, p = {}",
            score.correct,
            score.rounds,
            probability(score.p)
        );
        (asked(page, score), vec![row(name, score.share)])
    });
    let preferences = merged.preferences.iter().map(|preferences| {
        let rows = preferences
            .strengths
            .iter()
            .map(|(number, share)| row(page.called(*number), *share));
        (
            "How often each would be preferred to an average one".to_string(),
            rows.collect(),
        )
    });
    Shares {
        title: page.title.clone(),
        about: vec![
            format!("page {}", page.short()),
            count_of(merged.listeners, "listener"),
            format!("intervals of 95 % by bootstrap, seed {seed}"),
        ],
        groups: scores.chain(preferences).collect(),
    }
}

fn percent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share)
}

fn between(share: Share) -> String {
    format!("{:.0} to {:.0} %", 100.0 * share.low, 100.0 * share.high)
}

/// A probability with two digits that count.
fn probability(p: f64) -> String {
    match p {
        _ if p < 0.0001 => "<0.0001".into(),
        _ => format!("{p:.*}", (1.0 - p.log10().floor()) as usize),
    }
}
