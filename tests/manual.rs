//! The manual is right: every file and every command of each chapter works, in order; a terminal, a forge and a browser show
//! all of it.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::support::Desk;
use crate::support::reader::{LOOP, Reader, demo};

/// Chapters by name. Each is followed by a reader who has done what the first one asks.
macro_rules! chapters {
    ($($test:ident $name:literal,)*) => {
        const CHAPTERS: &[(&str, &str)] = &[$(($name, include_str!(concat!("../src/manual/", $name, ".md"))),)*];

        $(#[test]
        fn $test() {
            follow($name);
        })*
    };
}

chapters! {
    start_works "start",
    kits_works "kits",
    rhythm_works "rhythm",
    feel_works "feel",
    harmony_works "harmony",
    shaping_works "shaping",
    space_works "space",
    comparing_works "comparing",
    forms_works "forms",
    midi_works "midi",
    recordings_work "recordings",
    paper_works "paper",
    hand_over_works "hand-over",
    catalogue_works "catalogue",
    measurements_works "measurements",
    limits_works "limits",
}

fn text(name: &str) -> &'static str {
    let found = CHAPTERS.iter().find(|(known, _)| *known == name);
    found.expect("a chapter").1
}

fn follow(name: &str) {
    let mut reader = Reader::new();
    if name != "start" {
        settle(&mut reader);
    }
    reader.follow(text(name));
}

/// Gives a reader what the first chapter has them make, and what the others presume.
fn settle(reader: &mut Reader) {
    let desk = &reader.desk;
    desk.run(&["start", "demo"]).assert_done();
    for (from, to) in [
        ("side-stick_01.wav", "my-shots/rim_soft.wav"),
        ("side-stick_02.wav", "my-shots/rim_hard.wav"),
        ("keys_C4.wav", "my-shots/keys_C4.wav"),
        ("keys_C5.wav", "my-shots/keys_C5.wav"),
        ("loops/stairwell.wav", "stairwell.wav"),
    ] {
        desk.write(to, demo(from));
    }
    let start = text("start");
    let (_, rest) = start.split_once("```toml\n").expect("an example");
    let (first, _) = rest.split_once("```").expect("its end");
    desk.write(LOOP, first);
    reader.files.push(LOOP.into());
}

fn said(arguments: &[&str], variables: &[(&str, &str)]) -> String {
    let desk = Desk::new();
    let answer = desk.run_in(&desk.path("."), variables, arguments);
    answer.assert_done();
    answer.out
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src/manual")
}

#[test]
fn every_chapter_is_listed_with_a_line() {
    let entries = std::fs::read_dir(folder()).expect("a folder of chapters");
    let names = entries.map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned());
    let files: BTreeSet<String> = names
        .filter_map(|name| name.strip_suffix(".md").map(str::to_string))
        .collect();
    let tried: BTreeSet<String> = CHAPTERS.iter().map(|(name, _)| name.to_string()).collect();
    assert_eq!(files, tried);
    let list = said(&["manual"], &[]);
    for name in files {
        let line = list.lines().find(|line| line.split_whitespace().next() == Some(&name));
        let line = line.unwrap_or_else(|| panic!("{name} is not listed"));
        assert!(line.split_whitespace().count() > 3 && line.len() <= 80, "{line}");
        let about = line.trim_start().trim_start_matches(&*name).trim();
        let row = format!("| [{name}](src/manual/{name}.md) | {about} |");
        assert!(include_str!("../README.md").contains(&row), "README has no {row}");
    }
}

#[test]
fn a_chapter_fits_its_terminal() {
    for (columns, widest) in [("", 80), ("60", 60), ("400", 100)] {
        for (name, text) in CHAPTERS {
            let page = said(&["manual", name], &[("COLUMNS", columns)]);
            assert!(!page.contains('\u{1b}'), "{name} steers a pipe");
            let title = text.lines().next().expect("a title").trim_start_matches("# ");
            assert!(page.starts_with(title), "{page}");
            // Examples stay as they are written, four columns in.
            let wide = page
                .lines()
                .find(|line| line.chars().count() > widest && !line.starts_with("    "));
            assert_eq!(wide, None, "{name} at {columns}");
        }
    }
}

#[test]
fn a_wrong_name_gets_the_nearest() {
    let answer = Desk::new().run(&["manual", "kit"]);
    assert_eq!(answer.code, Some(1));
    assert!(answer.err.contains("did you mean `kits`?"), "{}", answer.err);
    let answer = Desk::new().run(&["manual", "zzzzzzzz"]);
    assert_eq!(answer.code, Some(1));
    assert!(answer.err.contains("`pressroll manual` lists"), "{}", answer.err);
}

#[test]
fn every_link_of_a_chapter_leads_to_a_file() {
    for (name, text) in CHAPTERS {
        let links = text.split("](").skip(1).filter_map(|rest| rest.split(')').next());
        for link in links {
            assert!(folder().join(link).is_file(), "{name}: {link} leads nowhere");
        }
    }
}

#[test]
fn every_figure_names_a_test_that_is_there() {
    let rows = text("measurements").lines().filter(|line| line.contains("| `"));
    let paths: Vec<&str> = rows
        .flat_map(|row| row.split('`').skip(1).step_by(2))
        .filter(|code| code.contains('/'))
        .collect();
    assert!(paths.len() > 30, "{paths:?}");
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    for path in paths {
        assert!(here.join(path).exists(), "{path} is not there");
    }
}

#[test]
fn the_page_is_well_formed_and_holds_all() {
    let desk = Desk::new();
    let answer = desk.run(&["manual", "--page"]);
    answer.assert_done();
    let html = std::fs::read_to_string(desk.path(answer.out.trim())).expect("the page");
    assert_eq!(answer.out.trim(), "renders/manual.html");
    well_formed(&html);
    for outside in ["<script", "src=\"http", "href=\"http", "url(", "src=\"../"] {
        assert!(!html.contains(outside), "it asks for {outside}");
    }
    for (name, text) in CHAPTERS {
        let title = text.lines().next().expect("a title").trim_start_matches("# ");
        assert!(html.contains(&format!("<h2>{title}</h2>")), "no chapter {title}");
        assert!(html.contains(&format!("href=\"#{name}\"")) && html.contains(&format!("id=\"{name}\"")));
    }
    for setting in settings() {
        let cell = format!("<td><code>{setting}</code></td>");
        assert!(html.contains(&cell), "no setting {setting}");
    }
    assert_eq!(html.matches("src=\"data:image/png;base64,").count(), 2);
}

#[test]
fn a_page_is_replaced_where_it_carries_the_mark() {
    let desk = Desk::new();
    desk.run(&["manual", "--page", "-o", "manual.html"]).assert_done();
    desk.run(&["manual", "--page", "-o", "manual.html"]).assert_done();
    desk.write("mine.html", "<!doctype html><title>Mine</title>");
    assert_eq!(desk.run(&["manual", "--page", "-o", "mine.html"]).code, Some(1));
    desk.run(&["manual", "--page", "-o", "mine.html", "--force"])
        .assert_done();
}

/// The names of all settings, from the schemas of all kinds of files.
fn settings() -> BTreeSet<String> {
    fn collect(value: &Value, names: &mut BTreeSet<String>) {
        match value {
            Value::Object(members) => {
                if let Some(Value::Object(properties)) = members.get("properties") {
                    names.extend(properties.keys().cloned());
                }
                members.values().for_each(|value| collect(value, names));
            }
            Value::Array(values) => values.iter().for_each(|value| collect(value, names)),
            _ => {}
        }
    }
    let mut names = BTreeSet::new();
    for file in ["loop", "form", "kit"] {
        let schema = said(&["reference", "--schema", file], &[]);
        collect(&serde_json::from_str(&schema).expect("JSON"), &mut names);
    }
    assert!(names.len() > 80, "{names:?}");
    names
}

/// Asserts that every element that opens is closed, in order (HTML Living Standard, 13.1.2: void elements have no end).
fn well_formed(html: &str) {
    const VOID: [&str; 5] = ["meta", "link", "img", "br", "hr"];
    let mut open: Vec<&str> = Vec::new();
    let rest = html.strip_prefix("<!doctype html>").expect("a doctype");
    for piece in rest.split('<').skip(1) {
        let (tag, _) = piece.split_once('>').expect("the end of a tag");
        let name = tag.split([' ', '\n', '/']).find(|word| !word.is_empty()).unwrap_or("");
        match tag.strip_prefix('/') {
            Some(name) => assert_eq!(open.pop(), Some(name), "in {open:?}"),
            None if VOID.contains(&name) => {}
            None => open.push(name),
        }
    }
    assert_eq!(open, [""; 0]);
}
