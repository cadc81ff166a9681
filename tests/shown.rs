//! What steers a terminal or turns the order of letters never leaves for people, wherever it comes from.

use std::fs;
use std::process::{Command, Stdio};

use crate::support::{Desk, click, page, wav};
use serde_json::Value;

/// Escapes of C0 (one of them a style, which nothing here sets itself), of C1 and as one, bells, a bare return, DEL, a line separator, an override and an isolate.
const STEERS: &str = "\u{1b}[2J\u{1b}[7m\u{9b}31m\u{1b}]0;x\u{7}\r\u{7f}\u{85}\u{2028}\u{202e}\u{2066}";
/// The same as TOML writes it.
const IN_TOML: &str = "\\u001b[2J\\u001b[7m\\u009b31m\\u001b]0;x\\u0007\\r\\u007f\\u0085\\u2028\\u202e\\u2066";

fn steers(letter: char) -> bool {
    let turns = matches!(letter, '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    letter.is_control() && !"\n\t".contains(letter) || turns
}

/// Text without the styles that the program itself sets.
fn without_styles(text: &str) -> String {
    let mut pieces = text.split("\u{1b}[");
    let mut out = pieces.next().unwrap_or("").to_string();
    for piece in pieces {
        match piece.split_once('m') {
            Some((sets, rest)) if sets.chars().all(|letter| letter.is_ascii_digit() || letter == ';') => out += rest,
            _ => out += &format!("\u{1b}[{piece}"),
        }
    }
    out
}

/// A one-shot whose header names its artist.
fn by(artist: &str) -> Vec<u8> {
    let mut bytes = wav::float(48_000, &[click()]);
    let mut entry = artist.as_bytes().to_vec();
    entry.push(0);
    let mut list = b"INFOIART".to_vec();
    list.extend((entry.len() as u32).to_le_bytes());
    list.extend(&entry);
    list.resize(list.len() + entry.len() % 2, 0);
    bytes.extend(b"LIST");
    bytes.extend((list.len() as u32).to_le_bytes());
    bytes.extend(&list);
    let length = bytes.len() as u32 - 8;
    bytes[4..8].copy_from_slice(&length.to_le_bytes());
    bytes
}

fn desk() -> Desk {
    let desk = Desk::new();
    desk.write("kit/kick.wav", by(&format!("Anna{STEERS}")));
    desk.one_shot("kit/snare.wav", &[click()]);
    desk.write(&format!("kit/clap {STEERS}.wav"), by("Ben"));
    desk.write(
        "kit/kit.toml",
        format!("[kit]\ntitle = \"Pier{IN_TOML}\"\n[[piece]]\nname = \"snare\"\nmaker = \"Cleo{IN_TOML}\"\nfiles = [\"snare.wav\"]\n"),
    );
    desk.write(
        "loop.toml",
        format!(
            "[loop]\ntitle = \"Quay{IN_TOML}\\nsecond\"\nkit = \"kit\"\ntempo = 120\nbars = 1\n\
             [[part]]\nname = \"k\u{202e}ick\"\npiece = \"kick\"\nhits = \"x-x-\"\n\
             [[part]]\nname = \"snare\"\nhits = \"-x-x\"\n\
             [[mix]]\nname = \"loud{IN_TOML}\"\nset = {{ \"snare.gain\" = 3 }}\n"
        ),
    );
    desk
}

/// Runs a command with styles on, as at a terminal, and sees that nothing but these steers: what it printed.
#[track_caller]
fn plain(desk: &Desk, arguments: &[&str]) -> String {
    let done = Command::new(env!("CARGO_BIN_EXE_pressroll"))
        .args(arguments)
        .env("CLICOLOR_FORCE", "1")
        .env_remove("NO_COLOR")
        .stdin(Stdio::null())
        .current_dir(desk.path(""))
        .output()
        .expect("the binary runs");
    let out = String::from_utf8(done.stdout).expect("UTF-8");
    let err = String::from_utf8(done.stderr).expect("UTF-8");
    assert!(!out.is_empty() || !err.is_empty(), "{arguments:?} says nothing");
    assert!(
        !(out.clone() + &err).contains("\u{1b}[7m"),
        "{arguments:?}: {out:?} {err:?}"
    );
    // Only charts have styles among what is no error.
    let out = match arguments[0] {
        "chart" => without_styles(&out),
        _ => out,
    };
    assert!(!out.contains(steers), "{arguments:?}: {out:?}");
    let err = without_styles(&err);
    assert!(!err.contains(steers), "{arguments:?}: {err:?}");
    out + &err
}

#[test]
fn whatever_a_command_prints() {
    let desk = desk();
    let clap = format!("kit/clap {STEERS}.wav");
    let title = plain(&desk, &["render", "loop.toml", "--credits", "--midi", "--picture"]);
    assert!(title.starts_with("Quay\u{fffd}[2J\u{fffd}[7m\u{fffd}31m"), "{title:?}");
    assert!(
        title.lines().next().unwrap_or("").ends_with("\u{fffd}second"),
        "a title is one line: {title:?}"
    );
    let commands: [&[&str]; 18] = [
        &["render", "loop.toml", "--mixes", "--json"],
        &["render", "loop.toml", "--stems"],
        &["render", "loop.toml", "--name", &format!("{{title}} {STEERS} {{mix}}")],
        &["chart", "loop.toml"],
        &["check", "loop.toml"],
        &["balance", "loop.toml", "--aim", "snare=keep"],
        &["balance", "loop.toml", "--aim", &format!("k{STEERS}=keep")],
        &["kit", "kit"],
        &["kit", "kit", "--json"],
        &["measure", &clap],
        &["measure", &clap, "--json"],
        &["compare", "loop.toml"],
        &["compare", "loop.toml", "--vary", "snare.gain=1", "--json"],
        &["tryout", "loop.toml", "kick", "kit"],
        &["render", &format!("gone{STEERS}.toml")],
        &["render", "loop.toml", "--set", &format!("k{STEERS}=1")],
        &["render", "loop.toml", "--swap", &format!("k{STEERS}=kit/kick.wav")],
        &[&format!("rend{STEERS}")],
    ];
    for arguments in commands {
        plain(&desk, arguments);
    }
    // Names of files that come of it are as harmless.
    assert!(desk.names("renders").iter().all(|name| !name.contains(steers)));
}

#[test]
fn programs_get_the_very_names() {
    let desk = desk();
    let answer = desk.run(&["measure", &format!("kit/clap {STEERS}.wav"), "--json"]);
    let told: Value = serde_json::from_str(&answer.out).expect("JSON");
    assert_eq!(told[0]["file"], format!("kit/clap {STEERS}.wav"));
}

#[test]
fn a_line_that_is_quoted_is_pointed_into_at_its_place() {
    let desk = Desk::new();
    desk.write(
        "loop.toml",
        "[loop]\ntempo = 120\nbars = 1\n[[part]]\nname = \"\u{202e}\u{9b}kick\" # \u{202e}\ngian = 1\n",
    );
    let told = plain(&desk, &["check", "loop.toml"]);
    assert!(
        told.contains("loop.toml:6:1") && told.contains("did you mean `gain`?"),
        "{told}"
    );
    desk.write(
        "loop.toml",
        "[loop]\ntempo = 120\nbars = 1\ntitle = \"\u{9b}\u{202e}\" ; x\n",
    );
    let told = plain(&desk, &["check", "loop.toml"]);
    assert!(told.contains("title = \"\u{fffd}\u{fffd}\""), "{told}");
}

#[test]
fn whatever_is_written_for_people() {
    let desk = desk();
    plain(&desk, &["render", "loop.toml", "--credits", "--picture"]);
    plain(&desk, &["compare", "loop.toml"]);
    plain(&desk, &["kit", "kit", "--picture"]);
    desk.run(&["kit", "kit", "--write", "--force"]).assert_done();
    let read = |name: &str| fs::read_to_string(desk.path(name)).expect("UTF-8");
    let credits = read("renders/loop.credits.txt");
    assert!(
        credits.contains("Anna\u{fffd}[2J") && credits.contains("Cleo\u{fffd}[2J"),
        "{credits:?}"
    );
    let pages = [
        "renders/loop.credits.txt",
        "renders/loop.svg",
        "renders/loop-compare/index.html",
        "renders/kit-kit.svg",
    ];
    for name in pages.into_iter().chain(["kit/kit.toml"]) {
        let text = page::shown(&read(name));
        let at = text.find(steers);
        assert_eq!(at, None, "{name}: {:?}", at.map(|at| text[..at].lines().last()));
    }
    // What TOML escapes is what it was.
    let kit: toml::Table = read("kit/kit.toml").parse().expect("TOML");
    assert_eq!(kit["kit"]["title"].as_str(), Some(&*format!("Pier{STEERS}")));
}
