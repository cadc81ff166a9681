//! The index as a page: one HTML file and, beside it, the rows that it lists, in files that every browser reads from disk.

use std::fs;
use std::io::Write;
use std::path::PathBuf;

use minijinja::{Environment, context};
use serde_json::json;

use super::record::Record;
use super::store::Store;
use crate::export::mark::MADE_BY;
use crate::export::page::STYLE;
use crate::export::{write_beside, write_preview};
use crate::files::plainly;
use crate::text::{Problem, one_line, thousands};

const STRUCTURE: &str = include_str!("page/structure.html");
const OWN_STYLE: &str = include_str!("page/style.css");
const SCRIPT: &str = include_str!("page/script.js");
/// Rows in a file: a browser reads one while it shows the last.
const ROWS: usize = 1000;
/// What is louder is turned down to this for equal loudness, in LUFS: that of quiet beds, as a page can't turn anything up.
const AIM: f64 = -20.0;
/// The page, and the folder of its rows.
const PAGE: &str = "index.html";
const FOLDER: &str = "index";

/// Writes the page of some previews and their rows; rows of an earlier page that has more of them go.
///
/// # Errors
/// As `write_beside`; a file of rows that can't be removed.
pub(super) fn write(store: &Store, title: &str, records: &[Record]) -> Result<PathBuf, Problem> {
    let rows = |number: usize| store.path(&format!("{FOLDER}/rows-{number:04}.js"));
    let mut chunks = 0;
    for records in records.chunks(ROWS) {
        let rows_of: Vec<_> = records.iter().map(row).collect();
        let text = format!("catalogueRows({});\n", script_safe(&json!(rows_of).to_string()));
        write_preview(&rows(chunks), |out| out.write_all(text.as_bytes()))?;
        chunks += 1;
    }
    for stale in (chunks..).map(rows).take_while(|path| path.exists()) {
        fs::remove_file(&stale)
            .map_err(|error| Problem::new(format!("{} can't be removed: {}", stale.display(), plainly(&error))))?;
    }
    let page = Environment::new().render_named_str(
        "structure.html",
        STRUCTURE,
        context! {
            made_by => MADE_BY,
            title => one_line(title),
            style => format!("{STYLE}{OWN_STYLE}"),
            script => SCRIPT,
            previews => thousands(records.len()) + if records.len() == 1 { " preview" } else { " previews" },
            count => records.len(),
            chunks,
            aim => AIM,
        },
    );
    let page = page.expect("the page's structure is our own");
    let path = store.path(PAGE);
    write_beside(&path, |out| out.write_all(page.as_bytes()))?;
    Ok(path)
}

/// A row as the script takes it: values in the order of its `column`.
fn row(record: &Record) -> serde_json::Value {
    let told = &record.told;
    json!([
        told.file,
        told.title,
        told.collection,
        told.loop_file,
        told.kit,
        told.mix,
        told.vary,
        told.tempo,
        told.key,
        told.metre,
        told.bars,
        told.seconds,
        told.lufs,
        told.brightness,
        told.density,
        told.swing,
        told.syncopation,
        told.parts,
        record.outline,
    ])
}

/// JSON as a script may hold it, also within a page.
fn script_safe(json: &str) -> String {
    json.replace('<', "\\u003c")
        .replace('\u{2028}', "\\u2028")
        .replace('\u{2029}', "\\u2029")
}
