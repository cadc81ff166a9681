//! What is told of a catalogue.

use std::path::{Path, PathBuf};

use serde_json::{Value, json};

use crate::catalogue::{Failed, Index, List, Outcome, Plan};
use crate::files::size;
use crate::text::{Problem, shown_json, shown_path, thousands};

/// The most names that a line lists.
const NAMED: usize = 4;

/// What of the index was done.
pub(super) struct Finished {
    /// What is there.
    pub index: Index,
    /// Its files.
    pub written: Vec<PathBuf>,
    /// How many previews were removed.
    pub removed: usize,
    /// Files of those that somebody has changed, which stay.
    pub changed: Vec<String>,
}

/// What a run has done.
pub(super) struct Made<'a> {
    /// What was made; none where it was only verified.
    pub outcome: Option<&'a Outcome>,
    /// What of the index was done; none for a shard.
    pub finished: Option<&'a Finished>,
    /// The catalogue's folder.
    pub place: &'a Path,
    /// How long it all took.
    pub seconds: f64,
}

/// What a list comes to: how many previews, how long, how large.
pub(super) fn dry(list: &List, plan: &Plan, numbers: &[usize], as_json: bool) -> String {
    let seconds: f64 = numbers.iter().map(|number| plan.entries[*number].seconds).sum();
    let bytes: f64 = list
        .formats
        .iter()
        .map(|format| format.bytes_a_second(list.rate, list.coding) * seconds)
        .sum();
    if as_json {
        let told = json!({
            "previews": numbers.len(), "of": plan.entries.len(), "seconds": seconds, "bytes": bytes.round(),
            "unread": plan.broken.len(),
        });
        return shown_json(told.to_string());
    }
    let share = match numbers.len() == plan.entries.len() {
        true => String::new(),
        false => format!(" of {}", thousands(plan.entries.len())),
    };
    format!(
        "{}{share} · {} · about {}",
        previews(numbers.len()),
        duration(seconds),
        size(bytes as u64)
    )
}

/// So many previews.
fn previews(count: usize) -> String {
    format!("{} preview{}", thousands(count), if count == 1 { "" } else { "s" })
}

fn duration(seconds: f64) -> String {
    match seconds {
        short if short < 60.0 => format!("{short:.1} s"),
        short if short < 3600.0 => format!("{:.0} min {:02.0} s", (short / 60.0).floor(), (short % 60.0).floor()),
        long => format!(
            "{:.0} h {:02.0} min",
            (long / 3600.0).floor(),
            (long % 3600.0 / 60.0).floor()
        ),
    }
}

impl Made<'_> {
    /// The same for people.
    pub(super) fn text(&self) -> String {
        let mut lines = Vec::new();
        if let Some(outcome) = self.outcome {
            let failed = match outcome.failed.len() {
                0 => String::new(),
                failed => format!(" · {} not made", thousands(failed)),
            };
            lines.push(format!(
                "{} made · {} up to date{failed}",
                thousands(outcome.made),
                thousands(outcome.up_to_date)
            ));
        }
        if let Some(finished) = self.finished {
            if finished.removed > 0 {
                lines.push(format!(
                    "{} removed, which the list no longer names",
                    thousands(finished.removed)
                ));
            }
            let files: Vec<String> = finished.written.iter().map(|path| shown_path(path)).collect();
            lines.push(format!(
                "{} in {}",
                previews(finished.index.records.len()),
                files.join(", ")
            ));
        }
        lines.push(format!("{} · {:.2} s", shown_path(self.place), self.seconds));
        lines.join("\n")
    }

    /// The same for programs.
    pub(super) fn json(&self, plan: &Plan) -> String {
        let failed = |outcome: &Outcome| -> Vec<Value> {
            let told = |failed: &Failed| json!({ "name": plan.entries[failed.number].name, "problems": failed.problems.to_string() });
            outcome.failed.iter().map(told).collect()
        };
        let told = json!({
            "folder": self.place.to_string_lossy(),
            "made": self.outcome.map(|outcome| outcome.made),
            "up_to_date": self.outcome.map(|outcome| outcome.up_to_date),
            "failed": self.outcome.map(failed),
            "unread": plan.broken.len(),
            "previews": self.finished.map(|finished| finished.index.records.len()),
            "missing": self.finished.map(|finished| &finished.index.missing),
            "damaged": self.finished.map(|finished| &finished.index.damaged),
            "left": self.finished.map(|finished| &finished.index.left),
            "removed": self.finished.map(|finished| finished.removed),
            "seconds": self.seconds,
        });
        shown_json(told.to_string())
    }
}

impl Finished {
    /// What a person may want to know.
    pub(super) fn hints(&self) -> Vec<Problem> {
        let mut hints = Vec::new();
        let left = self.index.left.len();
        if left > self.removed {
            let what = format!(
                "{} there that the list no longer names: {}",
                are(left),
                some(&self.index.left)
            );
            hints.push(Problem::new(what).help("--remove takes them away"));
        }
        if !self.changed.is_empty() {
            let what = format!("changed since they were made, these stay: {}", some(&self.changed));
            hints.push(Problem::new(what).help("take them away by hand where you don't want them"));
        }
        hints
    }

    /// What is missing and damaged; what is missing is told where nothing else says why.
    pub(super) fn problems(&self, missing: bool) -> Vec<Problem> {
        let mut problems = Vec::new();
        if missing && !self.index.missing.is_empty() {
            let what = format!(
                "{} not made: {}",
                are(self.index.missing.len()),
                some(&self.index.missing)
            );
            problems.push(Problem::new(what).help("run pressroll catalogue once more, or the shards that did not end"));
        }
        if !self.index.damaged.is_empty() {
            let what = format!("not as written: {}", some(&self.index.damaged));
            problems.push(Problem::new(what).help("take these files away and run pressroll catalogue once more"));
        }
        problems
    }
}

fn are(count: usize) -> String {
    format!("{} {}", previews(count), if count == 1 { "is" } else { "are" })
}

fn some(names: &[String]) -> String {
    let named = names[..names.len().min(NAMED)].join(", ");
    match names.len().saturating_sub(NAMED) {
        0 => named,
        more => format!("{named} and {more} more"),
    }
}

/// Everything that kept previews from being made, each thing once, with the first preview that it kept.
pub(super) fn gathered(plan: &Plan, failed: Vec<Failed>) -> Vec<Problem> {
    let mut told: Vec<(Problem, String, usize)> = Vec::new();
    for Failed { number, problems } in failed {
        for problem in problems.0 {
            match told.iter_mut().find(|(other, _, _)| *other == problem) {
                Some((_, _, count)) => *count += 1,
                None => told.push((problem, plan.entries[number].name.clone(), 1)),
            }
        }
    }
    let said = |(problem, name, count): (Problem, String, usize)| {
        let more = match count {
            1 => String::new(),
            count => format!(" and {} more", count - 1),
        };
        Problem {
            what: format!("{name}{more}: {}", problem.what),
            ..problem
        }
    };
    told.into_iter().map(said).collect()
}
