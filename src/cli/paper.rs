//! `chart --page`: a loop or a form on paper.

use std::io::Write;
use std::path::Path;

use clap::builder::PossibleValue;
use clap::{Args, ValueEnum};

use super::options::OutputOptions;
use super::replace::Rule;
use super::{Done, messages, output};
use crate::export::staves::{self, Drums, Wish};
use crate::export::write_beside;
use crate::notation::{Asked, Instrument};
use crate::project::Project;

/// What a page shows.
#[derive(Args)]
#[command(next_help_heading = "Output")]
pub(super) struct PageOptions {
    /// Write staves and chords as a page that prints
    #[arg(long, group = "wrote", conflicts_with_all = ["feel", "tones", "write"])]
    pub page: bool,
    /// Its drums: staff or tablature
    #[arg(
        long,
        value_name = "HOW",
        default_value = "staff",
        hide_possible_values = true,
        requires = "page"
    )]
    drums: DrumsName,
    /// Its notes with their degrees of the chords
    #[arg(long, requires = "page")]
    degrees: bool,
    /// It is for Bb or Eb instruments
    #[arg(long = "for", value_name = "NOTE", hide_possible_values = true, requires = "page")]
    instrument: Option<InstrumentName>,
}

impl PageOptions {
    /// Writes the page to `NAME-chart.html` beside the loop file, to another file, or to the terminal for `-`.
    pub(super) fn write(
        &self,
        project: &Project,
        bars: Option<(u32, u32)>,
        file: Option<&Path>,
        written: &OutputOptions,
    ) -> Done {
        let wish = Wish {
            drums: self.drums.0,
            degrees: self.degrees,
            instrument: self.instrument.map(|name| name.0),
        };
        let asked = Asked {
            bars,
            // Instruments that transpose have one staff.
            one_staff: self.instrument.is_some(),
        };
        let page = staves::page(&project.sheet(asked), &wish)?;
        if file == Some(Path::new("-")) {
            messages::report_hints_once(project.notices());
            return Ok(output::to_stdout(page.trim_end())?);
        }
        let stem = project
            .opened_by()
            .path()
            .file_stem()
            .unwrap_or_default()
            .to_string_lossy();
        let beside = project.opened_by().path().with_file_name(format!("{stem}-chart.html"));
        let path = file.unwrap_or(&beside);
        Rule::new(written.force, "file with -o").keep(project).allow([path])?;
        write_beside(path, |out| out.write_all(page.as_bytes()))?;
        messages::report_hints_once(project.notices());
        Ok(output::to_stdout(&path.display().to_string())?)
    }
}

/// How drums are shown, by its name on the command line.
#[derive(Clone, Copy)]
struct DrumsName(Drums);

impl ValueEnum for DrumsName {
    fn value_variants<'a>() -> &'a [Self] {
        &[DrumsName(Drums::Staff), DrumsName(Drums::Tablature)]
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        Some(match self.0 {
            Drums::Staff => PossibleValue::new("staff"),
            Drums::Tablature => PossibleValue::new("tablature"),
        })
    }
}

/// An instrument, by the note that sounds where C is written.
#[derive(Clone, Copy)]
struct InstrumentName(Instrument);

impl ValueEnum for InstrumentName {
    fn value_variants<'a>() -> &'a [Self] {
        &[InstrumentName(Instrument::BFlat), InstrumentName(Instrument::EFlat)]
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        Some(match self.0 {
            Instrument::BFlat => PossibleValue::new("Bb"),
            Instrument::EFlat => PossibleValue::new("Eb"),
        })
    }
}
