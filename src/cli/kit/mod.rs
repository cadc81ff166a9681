//! `pressroll kit`.

mod find;
mod groups;
mod page;
mod problems;
mod report;
pub(super) mod sheet;
mod shot;

use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::time::Instant;

use clap::{ArgGroup, Args};
use rayon::prelude::*;

use super::replace::Rule;
use super::{Done, output};
use crate::export::name::safe;
use crate::export::picture::shot_columns;
use crate::export::write_beside;
use crate::files::{self, plainly};
use crate::kit::audio::pitch::BELIEVED;
use crate::kit::findings::find_recordings;
use crate::kit::{Kit, Sides, has_manifest, is_percussion};
use crate::text::{Problem, shown_path};
use problems::RecordingProblem;
use report::Report;
use shot::{Shot, find_twins};

/// Tell what a folder of one-shots holds, piece by piece, with what is wrong with it
///
/// Every file is decoded. `conf.` is how surely names tell the piece, `root` the pitch that is told or heard, and how surely. Where
/// there are many pieces, those of a kind share a line.
#[derive(Args)]
#[command(group = ArgGroup::new("written").multiple(true))]
pub(super) struct KitCommand {
    /// A folder of one-shots
    #[arg(value_name = "FOLDER")]
    folder: PathBuf,
    /// Write what was found as the folder's kit.toml
    #[arg(long, group = "written")]
    write: bool,
    /// With --write: find loop points where a recording has a steady part and no loop of its own
    #[arg(long, requires = "write")]
    sustain: bool,
    /// Replace a kit.toml and files that pressroll did not write
    #[arg(long, requires = "written")]
    force: bool,
    /// Draw every one-shot's waveform and spectrum, as SVG and PNG
    #[arg(long, group = "written")]
    picture: bool,
    /// In place of renders/NAME-kit.svg and .png
    #[arg(short, long, value_name = "FILE", requires = "picture")]
    output: Option<PathBuf>,
    /// Give each piece a line of its own and name every file
    #[arg(long)]
    all: bool,
    /// List the one-shots that sound nearest to this file
    #[arg(long, value_name = "FILE", conflicts_with_all = ["written", "role"])]
    like: Option<PathBuf>,
    /// List the one-shots that could be this piece
    #[arg(long, value_name = "PIECE", conflicts_with = "written")]
    role: Option<String>,
    /// So many of them
    #[arg(long, value_name = "N", default_value = "20")]
    most: usize,
    /// Print one JSON object and nothing else
    #[arg(long)]
    json: bool,
}

impl KitCommand {
    /// Reads, decodes, tells; then writes what is asked for.
    pub(super) fn run(self) -> Done {
        let begun = Instant::now();
        let there = has_manifest(&self.folder);
        if let Some(path) = there.as_ref().filter(|_| self.write && !self.force) {
            let what = format!("{} is there already, and nothing is overwritten", path.display());
            return Err(Problem::new(what)
                .help("`--force` writes it anew with what stands in it now; comments are lost")
                .into());
        }
        let mut kit = Kit::open(std::slice::from_ref(&self.folder), &[])?;
        if let Some(path) = there.as_ref().filter(|_| self.write) {
            files::writable(path)
                .map_err(|error| Problem::new(format!("{} can't be written: {}", path.display(), plainly(&error))))?;
        }
        if self.picture {
            Rule::new(self.force, "file with -o")
                .keep_kit(&kit)
                .allow(self.places(sheet::pages(&kit)).into_iter().flatten())?;
        }
        let mut shots = self.listen(&kit);
        settle_roots(&mut kit, &shots, self.write);
        let loops = self.sustain.then(|| find_loops(&mut kit, &shots));
        // One that repeats while it is held has no need of an end.
        for shot in shots.iter_mut().filter(|shot| kit.says_loop(shot.take)) {
            shot.odd.retain(|odd| *odd != RecordingProblem::BreaksOff);
        }
        let report = Report {
            folder: &self.folder,
            written: there.is_some(),
            kit: &kit,
            shots: &shots,
        };
        let answer = match (&self.like, &self.role) {
            (Some(file), _) => Some(report.like(file, self.most)?),
            (None, Some(piece)) => Some(report.role(piece, self.most)?),
            (None, None) => None,
        };
        output::to_stdout(&match (answer, self.json) {
            (Some(answer), true) => answer.json(),
            (Some(answer), false) => answer.page(),
            (None, true) => report.json(),
            (None, false) => report.page(self.all),
        })?;
        let mut made = Vec::new();
        if self.write {
            made.push(self.write_down(&kit, &shots)?);
        }
        if self.picture {
            made.extend(self.draw(&report)?);
        }
        if !self.json {
            if let Some(told) = loops {
                output::to_stdout(&told)?;
            }
            for path in &made {
                output::to_stdout(&format!("wrote {}", shown_path(path)))?;
            }
        }
        if std::io::stderr().is_terminal() {
            let seconds = begun.elapsed().as_secs_f64();
            output::to_stderr(&format!("{} files in {seconds:.1} s", shots.len()));
        }
        Ok(())
    }

    /// Looks at what was found in every recording, on all cores.
    fn listen(&self, kit: &Kit) -> Vec<Shot> {
        let mut takes: Vec<usize> = kit
            .index()
            .listed()
            .iter()
            .flat_map(|piece| &piece.layers)
            .flat_map(|layer| layer.zones.iter().copied())
            .collect();
        takes.sort_unstable();
        takes.dedup();
        let columns = self.picture.then(|| shot_columns(sheet::drawn(kit).min(sheet::MOST)));
        let recordings: Vec<Sides> = takes.iter().map(|take| kit.sides(*take)).collect();
        let found: Vec<_> = find_recordings(&recordings);
        let shots = takes.into_par_iter().zip(recordings).zip(found);
        let shot = |((take, sides), found)| Shot::of(sides, take, found, columns);
        let mut shots: Vec<Shot> = shots.map(shot).collect();
        find_twins(&mut shots);
        shots
    }

    fn write_down(&self, kit: &Kit, shots: &[Shot]) -> Result<PathBuf, Problem> {
        let told = |take: usize| shot::of_take(shots, take).map_or(String::new(), Shot::told);
        let text = kit.as_toml(&self.folder, &told)?;
        let path = self.folder.join("kit.toml");
        write_beside(&path, |out| out.write_all(text.as_bytes()))?;
        Ok(path)
    }

    /// Where so many pages of a picture go: each as SVG and as PNG.
    fn places(&self, pages: usize) -> Vec<[PathBuf; 2]> {
        let own = || Path::new("renders").join(format!("{}-kit", safe(&report::name_of(&self.folder))));
        let place = match &self.output {
            // A name with a point in it keeps it, but for the two endings.
            Some(path)
                if path
                    .extension()
                    .is_some_and(|ending| ending == "svg" || ending == "png") =>
            {
                path.with_extension("")
            }
            Some(path) => path.clone(),
            None => own(),
        };
        let numbers = (1..=pages).map(|page| if pages > 1 { format!("-{page}") } else { String::new() });
        let paths = numbers.map(|number| {
            ["svg", "png"].map(|ending| {
                let mut name = place.clone().into_os_string();
                name.push(format!("{number}.{ending}"));
                PathBuf::from(name)
            })
        });
        paths.collect()
    }

    fn draw(&self, report: &Report) -> Result<Vec<PathBuf>, crate::text::Problems> {
        let places = self.places(sheet::pages(report.kit));
        let mut free = places.iter();
        report.each_sheet(|sheet| -> Result<(), crate::text::Problems> {
            let Some([svg, png]) = free.next() else { return Ok(()) };
            let picture = sheet.picture();
            picture.write_svg(svg)?;
            picture.write_png(png)
        })?;
        Ok(places.into_iter().flatten().collect())
    }
}

/// Settles the octaves of what names say of pitches, and where it is to be written finds the pitches of the rest. A file that can't be read is told of anyhow.
fn settle_roots(kit: &mut Kit, shots: &[Shot], all: bool) {
    let pieces = kit.index().listed().iter();
    let told = pieces.filter(|piece| {
        let mut takes = piece.layers.iter().flat_map(|layer| &layer.zones);
        let readable = |take: &usize| shot::of_take(shots, *take).is_some_and(|shot| shot.found.is_ok());
        !is_percussion(&piece.name)
            && (all || takes.clone().any(|take| kit.index().root(*take).is_some()))
            && takes.all(readable)
    });
    let names: Vec<String> = told.map(|piece| piece.name.clone()).collect();
    let _ = kit.find_roots(names.iter().map(String::as_str));
}

/// Finds loop points for what has a pitch and is no percussion, and tells how many were found.
fn find_loops(kit: &mut Kit, shots: &[Shot]) -> String {
    let pieces = kit.index().listed().iter();
    let pitched = pieces.filter(|piece| !is_percussion(&piece.name) && kit.holds_loops(piece));
    let mut takes: Vec<usize> = pitched
        .flat_map(|piece| piece.layers.iter().flat_map(|layer| layer.zones.clone()))
        .collect();
    takes.sort_unstable();
    takes.dedup();
    let heard = |take: usize| {
        let facts = &shot::of_take(shots, take)?.found.as_ref().ok()?.facts;
        let heard = facts.heard.filter(|heard| heard.confidence >= BELIEVED)?;
        let has_loop = kit.told(take).is_some_and(|told| told.held);
        (!has_loop).then_some((take, heard.key))
    };
    let takes: Vec<(usize, f64)> = takes.into_iter().filter_map(heard).collect();
    let found = kit.find_loops(&takes).len();
    format!(
        "found loop points in {found} of {} recordings with a pitch and no loop",
        takes.len()
    )
}
