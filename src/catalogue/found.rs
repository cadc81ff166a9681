//! What the paths and patterns of a list find.

use std::path::{Path, PathBuf};

use crate::files::{self, LONGEST_TEXT};
use crate::loopfile::paths::beside;
use crate::text::{Problem, Words};

/// The loop files and form files that some words name, each once, in the order of the words and, within a folder or a pattern, of
/// the alphabet.
pub(super) fn loops(around: &Path, words: &[Words], problems: &mut Vec<Problem>) -> Vec<PathBuf> {
    let mut all = Vec::new();
    for word in words {
        let found = each(around, word, problems, |path| match path.is_dir() {
            true => in_folder(&path),
            false => vec![path],
        });
        let plain = !is_pattern(&word.text) && !beside(around, &word.text).is_dir();
        // A file that is named may be anything: what is wrong with it is told when it is read.
        let there = |path: &PathBuf| if plain { path.exists() } else { plays(path) };
        let found: Vec<PathBuf> = found.into_iter().filter(there).collect();
        if plain && found.is_empty() {
            let what = format!("there is no file and no folder `{}`", word.text);
            problems.push(Problem::at(&word.whole(), what).help("paths are relative to the list"));
        } else if found.is_empty() {
            let what = format!("`{}` holds no loop file", word.text);
            problems.push(Problem::at(&word.whole(), what).help("name a loop file, a folder of them, or a pattern"));
        }
        all.extend(found);
    }
    once(all)
}

/// The folders of kits that some words name, each once.
pub(super) fn kits(around: &Path, words: &[Words], problems: &mut Vec<Problem>) -> Vec<PathBuf> {
    let mut all = Vec::new();
    for word in words {
        let found = each(around, word, problems, |path| {
            if path.is_dir() { vec![path] } else { Vec::new() }
        });
        if found.is_empty() {
            let what = format!("`{}` names no folder", word.text);
            problems
                .push(Problem::at(&word.whole(), what).help("name the folder of a kit, or a pattern of such folders"));
        }
        all.extend(found);
    }
    once(all)
}

/// What a path or each path that a pattern finds comes to.
fn each(
    around: &Path,
    word: &Words,
    problems: &mut Vec<Problem>,
    of: impl Fn(PathBuf) -> Vec<PathBuf>,
) -> Vec<PathBuf> {
    if !is_pattern(&word.text) {
        return of(beside(around, &word.text));
    }
    let pattern = format!("{}/{}", glob::Pattern::escape(&folder(around)), word.text);
    match glob::glob(&pattern) {
        Ok(paths) => {
            let mut paths: Vec<PathBuf> = paths.flatten().collect();
            paths.sort();
            paths.into_iter().flat_map(of).collect()
        }
        Err(error) => {
            problems.push(Problem::at(
                &word.whole(),
                format!("`{}` is no pattern: {}", word.text, error.msg),
            ));
            Vec::new()
        }
    }
}

fn folder(around: &Path) -> String {
    match around.to_string_lossy() {
        empty if empty.is_empty() => ".".into(),
        folder => folder.into_owned(),
    }
}

fn is_pattern(text: &str) -> bool {
    text.contains(['*', '?', '['])
}

/// The TOML files of a folder, by name.
fn in_folder(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let mut paths: Vec<PathBuf> = entries.map(|entry| entry.path()).collect();
    paths.retain(|path| path.extension().is_some_and(|ending| ending == "toml"));
    paths.sort();
    paths
}

/// True for a file that means to be a loop or a form, however broken it is.
fn plays(path: &Path) -> bool {
    let text = files::read(path, LONGEST_TEXT).unwrap_or_default();
    let text = String::from_utf8_lossy(&text);
    text.lines()
        .any(|line| ["[loop]", "[form]"].contains(&line.split('#').next().unwrap_or("").trim()))
}

fn once(paths: Vec<PathBuf>) -> Vec<PathBuf> {
    let mut seen = std::collections::BTreeSet::new();
    paths.into_iter().filter(|path| seen.insert(path.clone())).collect()
}
