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
