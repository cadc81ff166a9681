//! What `reference` hands to editors, shells and `man`.

use crate::support::Desk;
use serde_json::Value;

fn said(arguments: &[&str]) -> String {
    let answer = Desk::new().run(arguments);
    assert_eq!(answer.code, Some(0), "{arguments:?}: {}", answer.err);
    answer.out
}

const COMMANDS: [&str; 3] = ["render", "check", "reference"];

#[test]
fn schemas_are_json_with_the_keys_of_their_files() {
    for (file, keys) in [
        ("loop", ["loop", "part", "master"]),
        ("form", ["form", "section", "master"]),
        ("kit", ["kit", "piece", "piece"]),
    ] {
        let schema: Value = serde_json::from_str(&said(&["reference", "--schema", file])).expect("JSON");
        let root = schema["$ref"]
            .as_str()
            .and_then(|path| schema.pointer(&path[1..]))
            .expect("a table");
        for key in keys {
            assert!(root["properties"][key].is_object(), "{file} knows no {key}");
        }
    }
}

#[test]
fn completions_know_commands_and_options() {
    for shell in ["bash", "zsh", "fish"] {
        let script = said(&["reference", "--shell", shell]);
        for word in COMMANDS.iter().chain(&["seed", "depth"]) {
            assert!(script.contains(word), "{shell}: no {word}");
        }
    }
}

#[test]
fn manual_pages_are_whole() {
    let page = said(&["reference", "--man"]);
    assert!(page.contains(".TH pressroll 1"), "{page}");
    for command in COMMANDS {
        assert!(page.contains(command), "no {command}");
        let own = said(&["reference", "--man", command]);
        assert!(own.contains(&format!(".TH pressroll-{command} 1")), "{own}");
    }
    let answer = Desk::new().run(&["reference", "--man", "rendr"]);
    assert_eq!(answer.code, Some(1));
    assert!(answer.err.contains("did you mean `render`?"), "{}", answer.err);
}

#[test]
fn help_fits_a_screen_and_the_reference_a_page() {
    let commands = said(&["--help"]);
    let names = commands
        .lines()
        .filter_map(|line| line.strip_prefix("  "))
        .filter_map(|line| {
            let name = line.split_whitespace().next()?;
            line.starts_with(|letter: char| letter.is_ascii_lowercase())
                .then_some(name)
        });
    let names: Vec<&str> = names.filter(|name| *name != "help").collect();
    assert!(names.len() >= 12, "{commands}");
    for name in names {
        let help = said(&[name, "--help"]);
        assert!(
            help.lines().count() <= 40,
            "{name} takes {} lines",
            help.lines().count()
        );
        assert!(help.lines().all(|line| line.chars().count() <= 80), "{help}");
        let usage = |line: &&str| line.starts_with("Usage: pressroll ");
        assert_eq!(help.lines().filter(usage).count(), 1, "{help}");
        let example = |line: &&str| line.starts_with("  pressroll ");
        assert_eq!(help.lines().filter(example).count(), 2, "{help}");
        let explained = said(&["reference", name]);
        assert!(explained.contains("Usage: pressroll "), "{explained}");
    }
    let reference = said(&["reference"]);
    for line in reference.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
}
