//! The index of a catalogue: what is told of every preview, as JSON and as CSV.

use std::io::Write;
use std::path::PathBuf;

use serde::Serialize;

use super::page;
use super::plan::Plan;
use super::record::{Record, Told};
use super::store::Store;
use crate::export::mark::MADE_BY;
use crate::export::write_beside;
use crate::text::Problem;

/// The files of an index, within its catalogue.
const JSON: &str = "index.json";
const CSV: &str = "index.csv";

/// Records of a plan's previews, and what of them is missing.
pub(crate) struct Index {
    /// What is told, in the order of the list.
    pub records: Vec<Record>,
    /// The names of previews that are not made, or whose files are gone.
    pub missing: Vec<String>,
    /// Files that are not what was written.
    pub damaged: Vec<String>,
    /// The names of previews that no list names any more.
    pub left: Vec<String>,
}

#[derive(Serialize)]
struct Json<'a> {
    title: &'a str,
    made_by: &'static str,
    entries: Vec<&'a Told>,
}

impl Index {
    /// Gathers what was kept of a plan's previews; with `sums`, every file is read and compared with what was written; with `packs`, a
    /// preview is missing whose stems are.
    ///
    /// # Errors
    /// A record that can't be read.
    pub(crate) fn gather(store: &Store, plan: &Plan, sums: bool, packs: bool) -> Result<Index, Problem> {
        let mut kept = store.kept();
        let mut index = Index {
            records: Vec::new(),
            missing: Vec::new(),
            damaged: Vec::new(),
            left: Vec::new(),
        };
        for entry in &plan.entries {
            kept.remove(&entry.name);
            match store.record(&entry.name)? {
                Some(record) if store.holds(&record) && (!packs || store.hands_over(&entry.name, &record)) => {
                    match sums.then(|| store.damaged(&record)).flatten() {
                        Some(file) => index.damaged.push(file),
                        None => index.records.push(record),
                    }
                }
                _ => index.missing.push(entry.name.clone()),
            }
        }
        index.left = kept.into_iter().collect();
        Ok(index)
    }

    /// Writes it into its catalogue; gives the files.
    ///
    /// # Errors
    /// As `write_beside`.
    pub(crate) fn write(&self, store: &Store, title: &str) -> Result<Vec<PathBuf>, Problem> {
        let json = Json {
            title,
            made_by: MADE_BY,
            entries: self.records.iter().map(|record| &record.told).collect(),
        };
        let text = serde_json::to_string_pretty(&json).expect("names and numbers can be written as JSON") + "\n";
        let table = self.table();
        let mut written = Vec::new();
        for (within, bytes) in [(JSON, text.as_bytes()), (CSV, table.as_slice())] {
            let path = store.path(within);
            write_beside(&path, |out| out.write_all(bytes))?;
            written.push(path);
        }
        written.insert(0, page::write(store, title, &self.records)?);
        Ok(written)
    }

    /// The same as a table with a line of names (RFC 4180); lists have `; ` between.
    fn table(&self) -> Vec<u8> {
        let mut table = csv::WriterBuilder::new()
            .terminator(csv::Terminator::CRLF)
            .from_writer(Vec::new());
        for record in &self.records {
            table
                .serialize(Row::of(&record.told))
                .expect("a row can be written to memory");
        }
        table.into_inner().expect("rows can be written to memory")
    }
}

/// A line of the table.
#[derive(Serialize)]
struct Row<'a> {
    file: &'a str,
    title: &'a str,
    collection: &'a str,
    #[serde(rename = "loop")]
    loop_file: &'a str,
    kit: &'a str,
    mix: Option<&'a str>,
    vary: Option<&'a str>,
    tempo: f64,
    key: Option<&'a str>,
    metre: &'a str,
    bars: u32,
    seconds: f64,
    lufs: Option<f64>,
    true_peak_db: Option<f64>,
    lra: Option<f64>,
    brightness: Option<f64>,
    density: f64,
    swing: Option<f64>,
    syncopation: Option<f64>,
    parts: String,
    licences: String,
    sha256_score: &'a str,
    sha256_audio: &'a str,
}

impl Row<'_> {
    fn of(told: &Told) -> Row<'_> {
        Row {
            file: &told.file,
            title: &told.title,
            collection: &told.collection,
            loop_file: &told.loop_file,
            kit: &told.kit,
            mix: told.mix.as_deref(),
            vary: told.vary.as_deref(),
            tempo: told.tempo,
            key: told.key.as_deref(),
            metre: &told.metre,
            bars: told.bars,
            seconds: told.seconds,
            lufs: told.lufs,
            true_peak_db: told.true_peak_db,
            lra: told.lra,
            brightness: told.brightness,
            density: told.density,
            swing: told.swing,
            syncopation: told.syncopation,
            parts: told.parts.join("; "),
            licences: told.licences.join("; "),
            sha256_score: &told.sha256_score,
            sha256_audio: &told.sha256_audio,
        }
    }
}
