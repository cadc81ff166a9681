//! `pressroll chart`.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::Args;

use super::lesson::{self, LessonOrder};
use super::options::{Depth, LoopOptions, OutputOptions};
use super::paper::PageOptions;
use super::replace::Rule;
use super::{Done, messages, musicxml, output};
use crate::chart;
use crate::export::tablature::on_the_grid;
use crate::export::{mark, notes, tablature, write_beside};
use crate::loopfile::{Loop, Part, Way};
use crate::project::{Plays, Project};
use crate::score::{self, Score};
use crate::text::{Problem, Problems, shown};

/// Print the groove as a musician reads it: bars, counts, marks
#[derive(Args)]
pub(super) struct Chart {
    #[command(flatten)]
    options: LoopOptions,
    /// Show how many ms each hit lies off the grid
    #[arg(long, help_heading = "The chart")]
    feel: bool,
    /// Show each chord's tones, and the notes that comp plays
    #[arg(long, help_heading = "The chart")]
    tones: bool,
    /// Write MIDI, comp, degrees as hits and notes; - is the terminal
    #[arg(long, help_heading = "Output", value_name = "FILE", num_args = 0..=1, conflicts_with_all = ["feel", "tones", "bars"])]
    write: Option<Option<PathBuf>>,
    /// Write staves and notes as MusicXML
    #[arg(long, help_heading = "Output", group = "wrote", conflicts_with_all = ["feel", "tones", "write"])]
    musicxml: bool,
    /// Write a lesson: sounds to play along, chart, MIDI, a page
    #[arg(long, help_heading = "Output", group = "wrote", conflicts_with_all = ["feel", "tones", "write"])]
    lesson: bool,
    /// Where --page, --lesson or --musicxml writes; - is the terminal
    #[arg(short, long, help_heading = "Output", value_name = "PATH", requires = "wrote")]
    output: Option<PathBuf>,
    /// A lesson's sounds as FLAC, which is smaller
    #[arg(long, help_heading = "Output", requires = "lesson")]
    flac: bool,
    /// A lesson's bit depth: 16 (FLAC), 24 (WAV) or float
    #[arg(
        long,
        help_heading = "Output",
        value_name = "DEPTH",
        hide_possible_values = true,
        requires = "lesson"
    )]
    depth: Option<Depth>,
    #[command(flatten)]
    page: PageOptions,
    #[command(flatten)]
    written: OutputOptions,
}

impl Chart {
    /// Prints the page.
    pub(super) fn run(self) -> Done {
        let project = self.options.project(None).open()?;
        if let Some(file) = &self.write {
            return self.write(&project, file.as_deref());
        }
        let all = project.bars();
        let bars = self.options.bars.unwrap_or((1, all));
        if bars.1 > all {
            return Err(Problem::new(format!(
                "bars {}-{} are not in this file, which has bars 1-{all}",
                bars.0, bars.1
            ))
            .into());
        }
        if self.page.page {
            let file = self.output.as_deref();
            return self.page.write(&project, self.options.bars, file, &self.written);
        }
        if self.musicxml {
            return musicxml::write(&project, self.options.bars, self.output.as_deref(), &self.written);
        }
        if self.lesson {
            let asked = LessonOrder {
                file: &self.options.file,
                output: self.output.as_deref(),
                chart: plain(&project, bars),
                bars: self.options.bars,
                depth: self.depth.unwrap_or(match self.flac {
                    // What is dithered to 24 bits has noise in it that no code makes smaller.
                    true => Depth::Sixteen,
                    false => Depth::TwentyFour,
                }),
                flac: self.flac,
                written: &self.written,
            };
            return lesson::write(&project, &asked);
        }
        let scores: Option<Vec<Score>> = if self.feel {
            let scores = project
                .loops()
                .into_iter()
                .map(|(song, kit)| score::write(song, kit.index(), None));
            Some(scores.collect::<Result<_, Problems>>()?)
        } else {
            None
        };
        let besides = chart::Besides {
            scores: scores.as_deref(),
            tones: self.tones,
        };
        let said = output::styled_to_stdout(&page(&project, bars, besides));
        messages::report_hints_once(project.loans());
        Ok(said?)
    }

    /// Writes performances as hits or notes, and what follows the chords note by note.
    fn write(&self, project: &Project, file: Option<&Path>) -> Done {
        let Plays::Loop(song, _) = project.plays() else {
            return Err(Problem::new("a form's performances are those of its loops")
                .help("write those of one of its loops")
                .into());
        };
        let page: String = song.parts.iter().filter_map(|part| editable(song, part)).collect();
        if page.is_empty() {
            let what = format!(
                "no part of {} plays a MIDI file, or has `comp` or `degrees`",
                self.options.file.display()
            );
            return Err(Problem::new(what)
                .help("what has hits or notes can be edited where it stands")
                .into());
        }
        if file == Some(Path::new("-")) {
            messages::report_hints_once(project.notices());
            return Ok(output::to_stdout(page.trim_end())?);
        }
        let stem = self.options.file.file_stem().unwrap_or_default().to_string_lossy();
        let beside = self.options.file.with_file_name(format!("{stem}-hits.toml"));
        let path = file.unwrap_or(&beside);
        Rule::new(self.written.force, "file behind --write")
            .keep(project)
            .allow([path])?;
        let seal = mark::seal(&page);
        write_beside(path, |out| {
            [seal, page].iter().try_for_each(|text| out.write_all(text.as_bytes()))
        })?;
        messages::report_hints_once(project.notices());
        Ok(output::to_stdout(&format!(
            "{}: put its hits and notes in the place of the `midi`, `comp` and `degrees` that they are made of",
            path.display()
        ))?)
    }
}

/// The chart of some bars.
fn page(project: &Project, bars: (u32, u32), besides: chart::Besides<'_>) -> String {
    match project.plays() {
        Plays::Loop(song, _) => chart::song(&on_the_grid(song), bars, besides),
        Plays::Form(form, _) => {
            let mut form = form.clone();
            let sections = form.sections.iter_mut();
            sections.for_each(|section| section.plays = on_the_grid(&section.plays));
            chart::form(&form, bars, besides)
        }
    }
}

/// The same as plain text.
fn plain(project: &Project, bars: (u32, u32)) -> String {
    let page = page(project, bars, chart::Besides::default());
    shown(&anstream::adapter::strip_str(&page).to_string()).into_owned()
}

/// A part that is heard as text of a loop file, where it is not there already as hits or notes.
fn editable(song: &Loop, part: &Part) -> Option<String> {
    let follows = matches!(part.way, Way::Comp | Way::Degrees);
    // A double is made of its part again.
    if part.silenced || part.double || !(follows || part.performance.is_some()) {
        return None;
    }
    let pitched = part.strokes.iter().any(|stroke| stroke.pitch.is_some());
    Some(match pitched || follows {
        true => notes::written(song, part),
        false => tablature::written(part, &song.time, song.bars),
    })
}
