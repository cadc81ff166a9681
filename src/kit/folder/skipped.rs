//! What a look through a folder leaves out that is neither a file nor a folder of it, and what there is to say of that.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::FileType;
use std::path::{Path, PathBuf};

use crate::files;
use crate::text::{Problem, in_a_row, one_line};

/// Of what is left out for one reason so many are named.
const NAMED: usize = 5;

/// Why something is left out.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Skip {
    /// A folder that can't be read, and why.
    Unread(String),
    /// A link with nothing at its end.
    Broken,
    /// A link to what lies outside of the folder.
    Outside,
    /// Neither a file nor a folder, with what it is, such as "pipe".
    Special(&'static str),
}

impl Skip {
    /// The reason for something that is neither a file, a folder nor a link.
    pub(super) fn special(kind: FileType) -> Skip {
        Skip::Special(files::special(kind).trim_start_matches("a "))
    }
}

/// What was left out, by reason, as paths relative to the folder, in their order.
#[derive(Debug, Clone, Default)]
pub(crate) struct Skipped(BTreeMap<Skip, BTreeSet<PathBuf>>);

impl Skipped {
    pub(super) fn add(&mut self, skip: Skip, path: PathBuf) {
        self.0.entry(skip).or_default().insert(path);
    }

    /// A problem for each reason why folders can't be read: what lies in them may be missing in a loop.
    pub(super) fn unread(&self, folder: &Path) -> impl Iterator<Item = Problem> {
        self.0.iter().filter_map(move |(skip, paths)| {
            let Skip::Unread(why) = skip else { return None };
            let shown = |path: &PathBuf| format!("`{}`", folder.join(path).display());
            let (folders, are) = match paths.len() {
                1 => ("the folder", "it is"),
                _ => ("the folders", "they are"),
            };
            let what = format!("{folders} {} can't be read: {why}", named(paths, shown));
            Some(Problem::new(what).help(format!("{are} left out")))
        })
    }

    /// All else in one sentence.
    pub(super) fn told(&self) -> Option<Problem> {
        let kinds: Vec<String> = self
            .0
            .iter()
            .filter_map(|(skip, paths)| {
                let (kind, which) = match skip {
                    Skip::Unread(_) => return None,
                    Skip::Broken => ("link", " to nowhere"),
                    Skip::Outside => ("link", " out of the folder"),
                    Skip::Special(kind) => (*kind, ""),
                };
                let shown = |path: &PathBuf| one_line(&path.to_string_lossy()).into_owned();
                let s = if paths.len() == 1 { "" } else { "s" };
                Some(format!("{} {kind}{s}{which} ({})", paths.len(), named(paths, shown)))
            })
            .collect();
        let one = self.0.values().map(BTreeSet::len).sum::<usize>() == 1;
        let are = if one { "is" } else { "are" };
        let problem = Problem::new(format!("{} {are} left out", in_a_row(&kinds)));
        let leads_out = self.0.contains_key(&Skip::Outside);
        (!kinds.is_empty()).then(|| match leads_out {
            true => problem.help("copy into the folder what lies outside of it, or name it in kit.toml"),
            false => problem,
        })
    }
}

/// The first of some paths, and how many more there are.
fn named(paths: &BTreeSet<PathBuf>, shown: impl Fn(&PathBuf) -> String) -> String {
    let mut names: Vec<String> = paths.iter().take(NAMED).map(shown).collect();
    if paths.len() > NAMED {
        names.push(format!("{} more", paths.len() - NAMED));
    }
    in_a_row(&names)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn skipped(all: &[(Skip, &[&str])]) -> Skipped {
        let mut skipped = Skipped::default();
        for (skip, paths) in all {
            paths.iter().for_each(|path| skipped.add(skip.clone(), path.into()));
        }
        skipped
    }

    #[test]
    fn reasons_are_told_once_with_a_few_names() {
        let many = ["a", "b", "c", "d", "e", "f", "g"];
        let told = skipped(&[(Skip::Broken, &many), (Skip::Special("pipe"), &["p.wav"])]);
        assert_eq!(
            told.told().unwrap().to_string(),
            "7 links to nowhere (a, b, c, d, e and 2 more) and 1 pipe (p.wav) are left out"
        );
        let out = skipped(&[(Skip::Outside, &["far.wav"])]).told().unwrap().to_string();
        assert!(
            out.starts_with("1 link out of the folder (far.wav) is left out; copy"),
            "{out}"
        );
        assert_eq!(skipped(&[]).told(), None);
    }

    #[test]
    fn folders_that_are_closed_for_one_reason_are_one_sentence() {
        let denied = || Skip::Unread("permission denied".into());
        let shut = skipped(&[(denied(), &["Kicks", "Hats"]), (Skip::Broken, &["a.wav"])]);
        let told: Vec<String> = shut
            .unread(Path::new("shots"))
            .map(|problem| problem.to_string())
            .collect();
        let told: Vec<&str> = told.iter().map(String::as_str).collect();
        assert_eq!(
            told,
            ["the folders `shots/Hats` and `shots/Kicks` can't be read: permission denied; they are left out"]
        );
    }
}
