//! Form files: loops one after another.

use std::path::Path;
use std::sync::Arc;

use super::draft::{Changes, FormDraft, KitDefaults, LoopDraft, SectionDraft};
use super::edit::{self, Edit};
use super::gather::{Written, whole};
use super::read::{beside, drop_echoes, ending, is_form, known_mix, known_names, open, read_loop, stem, written};
use super::{Form, Section, Words, refer, resolve};
use crate::keys::{self, Entry, Layers, Settings, Table, Value};
use crate::text::{Place, Problem, Source};

/// A section whose loop was found, not changed yet.
struct Found {
    settings: Settings,
    file: Words,
    plays: Written,
}

/// Reads a form file and the loops that it strings together.
pub(super) fn read(
    path: &Path,
    source: &Arc<Source>,
    entries: &[Entry],
    changes: &Changes,
    problems: &mut Vec<Problem>,
) -> Option<FormDraft> {
    let syntax = problems.len();
    let beginning = Place {
        source: source.clone(),
        span: 0..0,
    };
    let mut file = keys::read_table(Table::FormFile, &beginning, entries, problems);
    drop_echoes(problems, syntax);
    if syntax > 0 {
        return None;
    }
    keys::complete(&file, problems);
    let mut master = match file.take("master").map(|setting| setting.value) {
        Some(Value::Table(master)) => Some(master),
        _ => None,
    };
    let told = file.get("section").is_some();
    let tables = match file.take("section").map(|setting| setting.value) {
        Some(Value::Tables(tables)) => tables,
        _ => Vec::new(),
    };
    if tables.is_empty() && told {
        problems.push(
            Problem::at(&beginning, "the form has no sections")
                .help("write a [[section]] with the `loop` that it plays"),
        );
    }
    let found: Vec<Found> = tables
        .into_iter()
        .filter_map(|settings| find(path, settings, problems))
        .collect();
    let edits = changes_of_master(&mut master, &found, changes, problems);
    if let Some(duck) = master.as_ref().and_then(|master| master.get("duck")) {
        problems.push(
            Problem::at(&duck.key, "a form has no parts for its master to duck under")
                .help("let the sections' own masters duck"),
        );
    }
    let sections: Vec<SectionDraft> = found
        .into_iter()
        .filter_map(|found| section(path, found, &edits, changes, problems))
        .collect();
    if problems.is_empty() {
        check_names(path, &sections, changes, problems);
        let seconds: f64 = sections
            .iter()
            .map(|section| section.plays.seconds() * f64::from(section.times))
            .sum();
        problems.extend(refer::too_long(seconds, &beginning));
    }
    let form = Layers::new(Table::Form, file.table("form"));
    Some(FormDraft {
        title: form.text("title").map_or_else(|| stem(path), str::to_string),
        ending: changes.ending.unwrap_or_else(|| ending(form.text("ending"))),
        sections,
        master,
    })
}

/// Opens the loop of a section.
fn find(path: &Path, settings: Settings, problems: &mut Vec<Problem>) -> Option<Found> {
    let file = settings.text("loop")?.clone();
    let loop_path = beside(path.parent().unwrap_or(Path::new("")), &file.text);
    let source = match open(&loop_path) {
        Ok(source) => source,
        Err(problem) => {
            problems.push(Problem {
                place: Some(whole(&file)),
                ..problem
            });
            return None;
        }
    };
    let mut own = Vec::new();
    let entries = keys::parse(&source, &mut own);
    if is_form(&entries) {
        problems.push(
            Problem::at(&whole(&file), format!("{} is a form file", file.text)).help("a section plays a loop file"),
        );
        return None;
    }
    let plays = written(&source, &entries, &mut own);
    problems.append(&mut own);
    Some(Found {
        settings,
        file,
        plays: plays?,
    })
}

/// Makes the changes that are for the form's own master, and gives the places in `changes.set` of those that are for
/// its sections. One that nothing knows is a problem.
fn changes_of_master(
    master: &mut Option<Settings>,
    found: &[Found],
    changes: &Changes,
    problems: &mut Vec<Problem>,
) -> Vec<usize> {
    let mut others = Vec::new();
    for (index, change) in edit::from_command_line(&changes.set).iter().enumerate() {
        match (master.as_mut(), change.names().as_slice()) {
            (Some(master), ["master", rest @ ..]) if !rest.is_empty() => edit::change(master, rest, change, problems),
            _ if found.is_empty() || found.iter().any(|found| edit::knows(&found.plays, change)) => others.push(index),
            _ => problems.push(nowhere(change)),
        }
    }
    others
}

fn nowhere(change: &Edit) -> Problem {
    let what = format!(
        "no section has anything called `{}`",
        change.names().first().copied().unwrap_or("")
    );
    Problem::at(&change.place(), what)
        .help("write the name of a part, bus or table of its loops and that of a key, such as snare.gain")
}

/// Reads a section's loop with those of the changes that it knows.
fn section(
    path: &Path,
    found: Found,
    edits: &[usize],
    changes: &Changes,
    problems: &mut Vec<Problem>,
) -> Option<SectionDraft> {
    let loop_path = beside(path.parent().unwrap_or(Path::new("")), &found.file.text);
    let all = edit::from_command_line(&changes.set);
    let own = edits
        .iter()
        .filter(|index| edit::knows(&found.plays, &all[**index]))
        .map(|index| changes.set[*index].clone());
    let has = |mix: &String| found.plays.mixes.iter().any(|(name, _)| name.text == *mix);
    let changes = Changes {
        set: own.collect(),
        mix: changes.mix.clone().filter(has),
        ..changes.clone()
    };
    let plays = read_loop(&loop_path, found.plays, &changes, problems)?;
    let layers = Layers::new(Table::Section, [&found.settings]);
    Some(SectionDraft {
        name: layers.text("name").unwrap_or(plays.title()).to_string(),
        times: u32::try_from(layers.integer("times")).unwrap_or(1).max(1),
        plays,
    })
}

fn check_names(path: &Path, sections: &[SectionDraft], changes: &Changes, problems: &mut Vec<Problem>) {
    let mut names: Vec<&str> = sections.iter().flat_map(|section| section.plays.names()).collect();
    names.sort_unstable();
    names.dedup();
    known_names(&names, changes, problems);
    if let Some(mix) = &changes.mix {
        let mixes: Vec<&str> = sections
            .iter()
            .flat_map(|section| section.plays.mixes.iter().map(String::as_str))
            .collect();
        known_mix(mix, &mixes, path, problems);
    }
}

impl LoopDraft {
    /// How long once round takes.
    fn seconds(&self) -> f64 {
        self.time.bar_seconds() * f64::from(self.bars)
    }
}

impl FormDraft {
    /// The form, with what the kit of each section's loop says; `kit` is asked once a section, in order.
    pub fn resolve(&self, mut kit: impl FnMut(&LoopDraft) -> KitDefaults) -> Form {
        let section = |section: &SectionDraft| Section {
            name: section.name.clone(),
            plays: section.plays.resolve(&kit(&section.plays)),
            times: section.times,
        };
        let sections: Vec<Section> = self.sections.iter().map(section).collect();
        let standard = Settings::empty(
            Table::Master,
            Place {
                source: Source::new("", ""),
                span: 0..0,
            },
        );
        let (master, loudness) = match (&self.master, sections.first()) {
            (Some(master), _) => resolve::form_master(master),
            (None, Some(first)) => (first.plays.master.clone(), first.plays.loudness),
            (None, None) => resolve::form_master(&standard),
        };
        Form {
            title: self.title.clone(),
            sections,
            ending: self.ending,
            master,
            loudness,
        }
    }
}
