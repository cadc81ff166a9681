//! Loop and form files from their text to the resolved loop.

mod changes;
mod chords;
mod edited;
mod expression;
mod forms;
mod notes;
mod problems;
mod whole;
mod wrong_notes;

use std::path::PathBuf;

use super::{Changes, Draft, Given, KitDefaults, Loop, LoopDraft, read};
use crate::text::Problems;

/// A folder with files in it, gone when dropped.
struct Files(tempfile::TempDir);

impl Files {
    fn new(files: &[(&str, &str)]) -> Files {
        let folder = tempfile::tempdir().expect("a temporary folder");
        for (name, text) in files {
            std::fs::write(folder.path().join(name), text).expect("a file in it");
        }
        Files(folder)
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }
}

fn draft(text: &str, changes: &Changes) -> Result<LoopDraft, Problems> {
    let files = Files::new(&[("night.toml", text)]);
    match read(&files.path("night.toml"), changes)? {
        Draft::Loop(draft) => Ok(draft),
        Draft::Form(_) => panic!("a loop was written"),
    }
}

/// A loop as it is written, on a kit that says nothing.
fn resolved(text: &str) -> Loop {
    changed(text, &Changes::default())
}

fn changed(text: &str, changes: &Changes) -> Loop {
    match draft(text, changes) {
        Ok(draft) => draft.resolve(&KitDefaults::new()),
        Err(problems) => panic!("{problems}"),
    }
}

fn set(pairs: &[(&str, &str)]) -> Changes {
    Changes {
        set: pairs.iter().map(|(key, value)| Given::set(key, value)).collect(),
        ..Changes::default()
    }
}

/// What is wrong, one line a problem: `line:column what; help`.
fn wrong(text: &str) -> Vec<String> {
    wrong_with(text, &Changes::default())
}

fn wrong_with(text: &str, changes: &Changes) -> Vec<String> {
    let problems = draft(text, changes).expect_err("a problem");
    let shown = problems.0.iter().map(|problem| {
        let place = problem.place.as_ref().map(|place| {
            let (line, column) = place.source.line_and_column(place.span.start);
            let path = place.source.path.to_string_lossy();
            if path.starts_with("--") {
                format!("{path} {line}:{column} ")
            } else {
                format!("{line}:{column} ")
            }
        });
        let help = problem.help.as_ref().map(|help| format!("; {help}"));
        format!(
            "{}{}{}",
            place.unwrap_or_default(),
            problem.what,
            help.unwrap_or_default()
        )
    });
    shown.collect()
}
