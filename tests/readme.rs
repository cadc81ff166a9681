//! README's own examples work: every file and every command in it, in order.

use std::path::Path;

use crate::support::reader::Reader;

const README: &str = include_str!("../README.md");

#[test]
fn every_file_and_command_works_in_order() {
    let mut reader = Reader::new();
    reader.follow(README);
    assert_eq!(reader.files, ["ten-lines.toml"]);
    assert!(reader.ran.len() >= 10, "{:?}", reader.ran);
}

#[test]
fn every_link_leads_to_a_file() {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let links: Vec<&str> = README
        .split("](")
        .skip(1)
        .filter_map(|rest| rest.split(')').next())
        .collect();
    assert!(links.len() > 13, "{links:?}");
    for link in links {
        assert!(here.join(link).is_file(), "{link} leads nowhere");
    }
}

#[test]
fn it_leads_to_every_chapter_and_is_short() {
    let manual = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/manual");
    for entry in std::fs::read_dir(manual).expect("a folder of chapters") {
        let name = entry.expect("an entry").file_name().to_string_lossy().into_owned();
        let known = !name.ends_with(".md") || README.contains(&format!("](src/manual/{name})"));
        assert!(known, "README has no link to {name}");
    }
    assert!(README.lines().count() <= 130);
}
