//! Form files: loops one after another.

use std::path::Path;
use std::sync::Arc;

use super::echoes::drop_echoes;
use super::{is_form, known_mix, known_names, read_loop, written};
use super::{references, sweep};
use crate::loopfile::changes;
use crate::loopfile::changes::Edit;
use crate::loopfile::limits::{MOST_SECTIONS, MOST_SWEEPS};
use crate::loopfile::unresolved::{Changes, FormDraft, Given, LoopDraft, SectionDraft, SweepDraft};
use crate::loopfile::written::KitDefaults;
use crate::loopfile::written::paths::{beside, open, stem};
use crate::loopfile::written::tables::{LoopTables, few};
use crate::loopfile::{AsWritten, Ending, Exact, Form, Section, Words, resolve};
use crate::schema;
use crate::schema::{Entry, Layers, Setting, Settings, Table, fade, form, form_file, loop_file, master, section};
use crate::text::{Place, Problem, Source, did_you_mean, nearest};

/// A section whose loop was found, not changed yet.
struct FoundSection {
    settings: Settings,
    file: Words,
    plays: LoopTables,
}

/// Reads a form file and the loops that it strings together.
pub(crate) fn read(
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
    let mut file = schema::read_table(Table::FormFile, &beginning, entries, problems);
    drop_echoes(problems, syntax);
    if syntax > 0 {
        return None;
    }
    schema::complete(&file, problems);
    let own = file.take(form_file::FORM);
    let mut own = own.unwrap_or_else(|| Settings::empty(Table::Form, beginning.clone()));
    let mut master = file.take(form_file::MASTER);
    let mut written_sweeps = file.take(form_file::SWEEP).unwrap_or_default();
    few(&mut written_sweeps, "sweeps", MOST_SWEEPS, problems);
    let told = file.placed(form_file::SECTION).is_some();
    let mut tables = file.take(form_file::SECTION).unwrap_or_default();
    few(&mut tables, "sections", MOST_SECTIONS, problems);
    if tables.is_empty() && told {
        problems.push(
            Problem::at(&beginning, "the form has no sections")
                .help("write a [[section]] with the `loop` that it plays"),
        );
    }
    let found: Vec<FoundSection> = tables
        .into_iter()
        .filter_map(|settings| find(path, settings, problems))
        .collect();
    let for_sections = changes_of_form(&mut own, &mut master, &found, changes, problems);
    let as_written = Arc::new(AsWritten::of_form(&own, master.as_ref()));
    let sections: Vec<SectionDraft> = found
        .into_iter()
        .enumerate()
        .filter_map(|(number, found)| section(path, (number, found), &for_sections, changes, problems))
        .collect();
    let first_master = sections.first().map(|section| &section.plays.master);
    let master = master
        .or(first_master.cloned())
        .unwrap_or_else(|| Settings::empty(Table::Master, beginning.clone()));
    if let Some(duck) = master.get(master::DUCK) {
        problems.push(
            Problem::at(&duck.place, "a form has no parts for its master to duck under")
                .help("let a bus of the section's loop duck, and give the form a [master] without `duck`"),
        );
    }
    // Where a section could not be read, nobody knows the bars.
    let sweeps = match problems.is_empty() {
        true => sweeps(&written_sweeps, &master, &sections, problems),
        false => Vec::new(),
    };
    let form = Layers::new([&own]);
    let fade = form.nested(form::FADE);
    let bars = |setting| fade.as_ref().map_or(0.0, |fade| fade.number(setting));
    let draft = FormDraft {
        place: own.place.clone(),
        title: form.text(form::TITLE).map_or_else(|| stem(path), str::to_string),
        ending: changes.ending.unwrap_or_else(|| Ending::named(form.text(form::ENDING))),
        pickup: form.notes(form::PICKUP),
        last_hit: form.text(form::END) == Some("hit"),
        fades: (bars(fade::IN), bars(fade::OUT)),
        as_written,
        sections,
        master,
        sweeps,
    };
    if problems.is_empty() {
        check_names(path, &draft.sections, changes, problems);
        draft.check_frame(&own, problems);
        problems.extend(references::too_long(
            draft.sections.iter().map(SectionDraft::seconds).sum(),
            &beginning,
        ));
    }
    Some(draft)
}

/// Reads the sweeps of a form's master over the bars of all its sections.
fn sweeps(
    written: &[Settings],
    master: &Settings,
    sections: &[SectionDraft],
    problems: &mut Vec<Problem>,
) -> Vec<SweepDraft> {
    let (Some(last), bars) = (sections.last(), sections.iter().map(SectionDraft::bars)) else {
        return Vec::new();
    };
    let time = |bar: u32| {
        let mut past = 0u32;
        let section = sections.iter().find(|section| {
            past = past.saturating_add(section.bars());
            bar < past
        });
        &section.unwrap_or(last).plays.time
    };
    let bars = bars.fold(0, u32::saturating_add);
    sweep::read_form(written, master, &time, bars, problems)
}

/// Opens the loop of a section.
fn find(path: &Path, settings: Settings, problems: &mut Vec<Problem>) -> Option<FoundSection> {
    let file = settings.get(section::LOOP)?.clone();
    let loop_path = beside(path.parent().unwrap_or(Path::new("")), &file.text);
    let source = match open(&loop_path) {
        Ok(source) => source,
        Err(problem) => {
            problems.push(Problem {
                place: Some(file.whole()),
                ..problem
            });
            return None;
        }
    };
    let mut own = Vec::new();
    let entries = schema::parse(&source, &mut own);
    if is_form(&entries) {
        problems.push(
            Problem::at(&file.whole(), format!("{} is a form file", file.text)).help("a section plays a loop file"),
        );
        return None;
    }
    let plays = written(&source, &entries, &mut own);
    problems.append(&mut own);
    let mut plays = plays?;
    for edit in changes::from_mix(&settings) {
        changes::apply(&mut plays, &edit, problems);
    }
    Some(FoundSection { settings, file, plays })
}

/// A change for the loop of one section, by its place among them, or for those of all that know it.
type ForSections = (Option<usize>, Given);

/// Makes the changes that are for the form itself and its own master, and gives those that are for its sections. One that nothing
/// knows is a problem.
fn changes_of_form(
    form: &mut Settings,
    master: &mut Option<Settings>,
    found: &[FoundSection],
    changes: &Changes,
    problems: &mut Vec<Problem>,
) -> Vec<ForSections> {
    let mut others = Vec::new();
    for (given, change) in changes.set.iter().zip(&changes::from_command_line(&changes.set)) {
        match (master.as_mut(), change.names().as_slice()) {
            (_, [first, rest @ ..]) if *first == form_file::FORM.name && !rest.is_empty() => {
                changes::change(form, rest, change, problems)
            }
            (Some(master), [first, rest @ ..]) if *first == form_file::MASTER.name && !rest.is_empty() => {
                changes::change(master, rest, change, problems)
            }
            (_, [first, number, _, ..]) if *first == form_file::SECTION.name => match place_of(number, found.len()) {
                Some(place) => others.push((Some(place), within_section(given))),
                None => problems.push(no_section(change, number, found.len())),
            },
            _ if found.is_empty() || found.iter().any(|found| changes::knows(&found.plays, change)) => {
                others.push((None, given.clone()))
            }
            _ => problems.push(nowhere(change, found)),
        }
    }
    others
}

/// The place of a section among so many by its number, counted from 1.
fn place_of(number: &str, sections: usize) -> Option<usize> {
    let place = number.parse::<usize>().ok()?.checked_sub(1)?;
    (place < sections).then_some(place)
}

/// A change of one section as its loop knows it: without the section's number.
fn within_section(given: &Given) -> Given {
    let address = &given.source.text[given.key.clone()];
    let dot = address.match_indices('.').nth(1).map_or(0, |(at, _)| at + 1);
    Given {
        key: given.key.start + dot..given.key.end,
        ..given.clone()
    }
}

fn no_section(change: &Edit, number: &str, sections: usize) -> Problem {
    let problem = Problem::at(&change.place(), format!("the form has no section number `{number}`"));
    problem.help(format!("it has {sections}, counted from 1"))
}

fn nowhere(change: &Edit, found: &[FoundSection]) -> Problem {
    let example = found
        .first()
        .map_or(loop_file::MASTER.name, |found| changes::example(&found.plays));
    let what = format!(
        "no section has anything called `{}`",
        change.names().first().copied().unwrap_or("")
    );
    Problem::at(&change.place(), what).help(format!(
        "write the name of a part, bus or table of its loops and that of a key, such as {example}.gain"
    ))
}

/// Reads a section's loop with those of the changes that it knows.
fn section(
    path: &Path,
    (number, found): (usize, FoundSection),
    for_sections: &[ForSections],
    changes: &Changes,
    problems: &mut Vec<Problem>,
) -> Option<SectionDraft> {
    let loop_path = beside(path.parent().unwrap_or(Path::new("")), &found.file.text);
    let known = |given: &Given| {
        let edits = changes::from_command_line(std::slice::from_ref(given));
        edits.iter().all(|edit| changes::knows(&found.plays, edit))
    };
    let own = for_sections
        .iter()
        .filter(|(only, given)| only.map_or_else(|| known(given), |only| only == number))
        .map(|(_, given)| given.clone());
    let has = |mix: &String| found.plays.mixes.iter().any(|(name, _)| name.text == *mix);
    let changes = Changes {
        set: own.collect(),
        mix: changes.mix.clone().filter(has),
        ..changes.clone()
    };
    let mut plays = read_loop(&loop_path, found.plays, &changes, problems)?;
    // What rings past a section rings on into the next, whatever its loop does at its own end.
    plays.ending = Ending::LetRing;
    let names = |setting: Setting<Vec<Words>>| found.settings.get(setting).map_or(&[][..], Vec::as_slice);
    let texts = |setting| -> Vec<String> { names(setting).iter().map(|name| name.text.clone()).collect() };
    for name in names(section::MUTE).iter().chain(names(section::ONLY)) {
        problems.extend(unknown_part(name, &plays));
    }
    plays.silence(&texts(section::ONLY), &texts(section::MUTE));
    let layers = Layers::new([&found.settings]);
    Some(SectionDraft {
        place: found.file.whole(),
        file: loop_path,
        sets: changes::from_mix(&found.settings).iter().map(Edit::address).collect(),
        name: layers.text(section::NAME).unwrap_or(plays.title()).to_string(),
        times: u32::try_from(layers.whole(section::TIMES)).unwrap_or(1).max(1),
        window: window(found.settings.get(section::BARS), plays.bars, problems),
        plays,
    })
}

fn unknown_part(name: &Words, plays: &LoopDraft) -> Option<Problem> {
    let names = plays.names();
    if names.contains(&name.text) {
        return None;
    }
    let what = format!("{} has no part or bus called `{}`", plays.title(), name.text);
    Some(
        Problem::at(&name.whole(), what).help(match nearest(&name.text, names.iter().map(String::as_str)) {
            Some(near) => did_you_mean(near),
            None => format!("it has {}", names.join(", ")),
        }),
    )
}

/// The bars of a loop that a section asks for: `3`, `1-4`; all where it does not say.
fn window(words: Option<&Words>, bars: u32, problems: &mut Vec<Problem>) -> (u32, u32) {
    let Some(words) = words else { return (1, bars) };
    let (first, last) = words.text.split_once('-').unwrap_or((&words.text, &words.text));
    let problem = match (first.trim().parse::<u32>(), last.trim().parse::<u32>()) {
        (Ok(first), Ok(last)) if 1 <= first && first <= last && last <= bars => return (first, last),
        (Ok(first), Ok(last)) if last < first => {
            Problem::at(&words.whole(), format!("bars {first}-{last} run backwards"))
                .help(format!("write \"{last}-{first}\""))
        }
        (Ok(_), Ok(_)) => Problem::at(
            &words.whole(),
            format!(
                "bars {} are not in this section's loop, which has bars 1-{bars}",
                words.text.trim()
            ),
        ),
        _ => Problem::at(&words.whole(), format!("`{}` names no bars", words.text)).help("write \"1-4\" or \"8\""),
    };
    problems.push(problem);
    (1, bars)
}

fn check_names(path: &Path, sections: &[SectionDraft], changes: &Changes, problems: &mut Vec<Problem>) {
    let mut names: Vec<String> = sections.iter().flat_map(|section| section.plays.names()).collect();
    names.sort_unstable();
    names.dedup();
    known_names(&names, changes, problems);
    if let Some(mix) = &changes.mix {
        let mut mixes: Vec<&str> = Vec::new();
        for name in sections.iter().flat_map(|section| &section.plays.mixes) {
            if !mixes.contains(&name.as_str()) {
                mixes.push(name);
            }
        }
        known_mix(mix, &mixes, path, problems);
    }
}

impl SectionDraft {
    fn bars(&self) -> u32 {
        (self.window.1 - self.window.0 + 1).saturating_mul(self.times)
    }

    fn seconds(&self) -> f64 {
        self.plays.time.bar_seconds() * f64::from(self.bars())
    }
}

impl FormDraft {
    /// The form, with what the kit of each section's loop says; `kit` is asked once a section, in order.
    pub fn resolve(&self, mut kit: impl FnMut(&LoopDraft) -> KitDefaults) -> Form {
        let section = |section: &SectionDraft| Section {
            name: section.name.clone(),
            place: section.place.clone(),
            file: section.file.clone(),
            plays: section.plays.resolve(&kit(&section.plays)),
            times: section.times,
            sets: section.sets.clone(),
            window: section.window,
        };
        let sections: Vec<Section> = self.sections.iter().map(section).collect();
        let (master, loudness, sweeps) = resolve::form_master(&self.master, &self.sweeps);
        let centres = resolve::form_centres(&self.master, &self.sweeps);
        Form {
            title: self.title.clone(),
            place: self.place.clone(),
            sections,
            ending: self.ending,
            master,
            loudness,
            sweeps,
            centres,
            pickup: self.pickup,
            last_hit: self.last_hit,
            fades: self.fades,
            as_written: self.as_written.clone(),
        }
    }

    /// Checks what comes before, around and after the sections.
    fn check_frame(&self, form: &Settings, problems: &mut Vec<Problem>) {
        let bars: u64 = self.sections.iter().map(|section| u64::from(section.bars())).sum();
        if let (Some(pickup), Some(first)) = (self.pickup, self.sections.first()) {
            let longest = first.plays.time.bar() * Exact::from_integer((first.window.1 - first.window.0 + 1).into());
            if pickup > longest {
                let what = "the pickup is longer than what the first section plays";
                problems.push(
                    Problem::at(&references::place_of(form, form::PICKUP), what).help("take a shorter note value"),
                );
            }
        }
        let fade = references::place_of(form, form::FADE);
        for (name, length) in [("in", self.fades.0), ("out", self.fades.1)] {
            if length > bars as f64 {
                let what = format!("the form fades {name} over {length} bars, but has only {bars}");
                problems.push(Problem::at(&fade, what).help("fade over fewer bars"));
            }
        }
        if self.last_hit && self.fades.1 > 0.0 {
            let what = "a form that fades out has no last hit";
            problems.push(Problem::at(&fade, what).help("leave out `end` or `fade.out`"));
        }
    }
}
