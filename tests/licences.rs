//! Whatever pressroll is built of may be used as it is used here: every dependency, on every platform and for tests too, comes
//! from crates.io and has a licence of a stated list.

use std::process::Command;

use serde_json::Value;

/// Licences under which anybody may use, change and pass on what is built, by their names in the SPDX list. MPL-2.0 asks that
/// changes to its own files be shared: there are none here.
const GRANTED: [&str; 13] = [
    "0BSD",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "CC0-1.0",
    "ISC",
    "MIT",
    "MIT-0",
    "MPL-2.0",
    "Unicode-3.0",
    "Unlicense",
    "Zlib",
];

/// True where an SPDX expression leaves a way that is granted. Old manifests write `/` for `OR`.
fn granted(expression: &str) -> bool {
    let spaced = expression.replace('/', " OR ").replace('(', " ( ").replace(')', " ) ");
    let words: Vec<&str> = spaced.split_whitespace().collect();
    let mut at = 0;
    let whole = either(&words, &mut at);
    whole && at == words.len()
}

fn either(words: &[&str], at: &mut usize) -> bool {
    let mut any = both(words, at);
    while words.get(*at) == Some(&"OR") {
        *at += 1;
        any |= both(words, at);
    }
    any
}

fn both(words: &[&str], at: &mut usize) -> bool {
    let mut all = single(words, at);
    while words.get(*at) == Some(&"AND") {
        *at += 1;
        all &= single(words, at);
    }
    all
}

fn single(words: &[&str], at: &mut usize) -> bool {
    let Some(word) = words.get(*at) else { return false };
    *at += 1;
    if *word == "(" {
        let inner = either(words, at);
        *at += 1;
        return inner && words.get(*at - 1) == Some(&")");
    }
    let mut name = word.to_string();
    if let (Some(&"WITH"), Some(exception)) = (words.get(*at), words.get(*at + 1)) {
        name += &format!(" WITH {exception}");
        *at += 2;
    }
    GRANTED.contains(&name.as_str())
}

#[test]
fn expressions_are_read_as_they_are_meant() {
    for yes in [
        "MIT",
        "MIT/Apache-2.0",
        "MIT OR LGPL-2.1-or-later",
        "(MIT OR GPL-3.0-only) AND Unicode-3.0",
        "Apache-2.0 WITH LLVM-exception OR GPL-2.0-only",
    ] {
        assert!(granted(yes), "{yes}");
    }
    for no in [
        "",
        "GPL-3.0-only",
        "MIT AND GPL-3.0-only",
        "(MIT OR Zlib) AND SSPL-1.0",
        "GPL-2.0-only WITH Classpath-exception-2.0",
        "MIT MIT",
        "(MIT",
    ] {
        assert!(!granted(no), "{no}");
    }
}

#[test]
fn every_dependency_may_be_used() {
    let told = Command::new(env!("CARGO"))
        .args(["metadata", "--format-version", "1", "--locked"])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("cargo runs");
    assert!(told.status.success(), "{}", String::from_utf8_lossy(&told.stderr));
    let metadata: Value = serde_json::from_slice(&told.stdout).expect("JSON");
    let packages = metadata["packages"].as_array().expect("packages");
    assert!(packages.len() > 100, "{} packages", packages.len());
    let mut wrong = Vec::new();
    for package in packages {
        let name = package["name"].as_str().expect("a name");
        let licence = package["license"].as_str().unwrap_or_default();
        if !granted(licence) {
            wrong.push(format!("{name}: licence {licence:?}"));
        }
        match package["source"].as_str() {
            None if name == "pressroll" => {}
            Some("registry+https://github.com/rust-lang/crates.io-index") => {}
            source => wrong.push(format!("{name}: comes from {source:?}")),
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
