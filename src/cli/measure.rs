//! `pressroll measure`.

use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;

use super::report::{number_of, range_note};
use super::{Done, output};
use crate::kit::audio::decode::decode;
use crate::measure::{Figures, figures};
use crate::text::table::Table;
use crate::text::{Problems, one_line, shown_json};

/// Columns of the page.
const PAGE: usize = 80;

/// Loudness, true peak, range, seam and mono loss of WAVs, AIFFs or FLACs
#[derive(Args)]
pub(super) struct Measure {
    /// The WAVs, AIFFs or FLACs
    #[arg(value_name = "FILE", required = true)]
    files: Vec<PathBuf>,
    /// Print a JSON list and nothing else
    #[arg(long)]
    json: bool,
}

/// The figures of one file, as `--json` gives them.
#[derive(Serialize)]
struct Measured {
    file: String,
    #[serde(flatten)]
    figures: Figures,
}

impl Measure {
    /// Measures every file that can be read; those that can't are told of at the end.
    pub(super) fn run(self) -> Done {
        let mut measured = Vec::new();
        let mut problems = Vec::new();
        for path in &self.files {
            match decode(path) {
                Ok(decoded) => measured.push(Measured {
                    file: path.display().to_string(),
                    figures: figures(&decoded.audio),
                }),
                Err(unread) => problems.push(unread.problem(path)),
            }
        }
        let page = if self.json {
            let list = shown_json(serde_json::to_string(&measured).expect("figures and names are always JSON"));
            problems.is_empty().then_some(list)
        } else {
            (!measured.is_empty()).then(|| table(&measured).trim_end().to_string())
        };
        problems.extend(page.and_then(|page| output::to_stdout(&page).err()));
        if problems.is_empty() {
            Ok(())
        } else {
            Err(Problems(problems))
        }
    }
}

/// A line a file, its figures under their names and units.
fn table(measured: &[Measured]) -> String {
    let heads = [
        "length", "loud", "truepk", "range", "peak", "crest", "corr", "mono", "seam",
    ];
    let units = ["s", "LUFS", "dBTP", "LU", "dBFS", "dB", "", "dB", "dB"];
    let mut table = Table::new();
    table.row("", heads);
    table.row("", units);
    for Measured { file, figures } in measured {
        let cells = [
            number_of(Some(figures.seconds)),
            number_of(figures.lufs),
            number_of(figures.true_peak_db),
            number_of(figures.lra),
            number_of(figures.sample_peak_db),
            number_of(figures.crest_db),
            figures
                .correlation
                .map_or("-".to_string(), |correlation| format!("{correlation:.2}")),
            number_of(figures.mono_loss_db),
            number_of(figures.seam_db),
        ];
        table.row(name_of(file), cells);
    }
    let mut page = table.text(PAGE);
    for Measured { file, figures } in measured {
        if figures.dc.abs() > 1e-4 {
            page.push_str(&format!("{}: a DC of {:.4} of full scale\n", name_of(file), figures.dc));
        }
    }
    page.push_str(range_note(measured.iter().map(|one| &one.figures)));
    page
}

/// A file's name without its folder.
fn name_of(file: &str) -> String {
    let name = Path::new(file).file_name().map(|name| name.to_string_lossy());
    one_line(name.as_deref().unwrap_or(file)).into_owned()
}
