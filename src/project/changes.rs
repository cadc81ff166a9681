//! What sounds otherwise in a version than in the loop as written.

use super::{Plays, Project};
use crate::loopfile::{Impulse, KitDefaults, Loop, Space, SpaceKind, Strip, Sweep, Target};
use crate::render::PartReport;
use crate::schema::Difference;

/// The keys that a version sets otherwise than the file as written, each with what it was; a form's section by section.
pub(crate) fn settings(written: &Project, project: &Project) -> Vec<Difference> {
    let mut told = Vec::new();
    if let (Plays::Form(one, _), Plays::Form(other, _)) = (&written.plays, &project.plays) {
        let none = KitDefaults::new();
        told.extend(one.as_written.differences(&none, (&other.as_written, &none)));
    }
    for (section, ((one, kit), (other, others))) in written.loops().into_iter().zip(project.loops()).enumerate() {
        let own = one
            .as_written
            .differences(kit.defaults(), (&other.as_written, others.defaults()));
        told.extend(own.into_iter().map(|one| Difference {
            key: format!("{}{}", of_section(project, section), one.key),
            ..one
        }));
    }
    told
}

/// What stands before the names of a section.
fn of_section(project: &Project, section: usize) -> String {
    match &project.plays {
        Plays::Form(form, _) => format!("{}: ", form.sections[section].name),
        Plays::Loop(..) => String::new(),
    }
}

type Side<'a> = (&'a Project, &'a [PartReport]);

/// Parts, buses, rooms, delays and the master that differ, by their names; where all parts do, that alone.
pub(crate) fn changed(
    (written, parts): (&Project, &Vec<PartReport>),
    (project, own): (&Project, &Vec<PartReport>),
) -> Vec<String> {
    let mut changed = of_parts((written, parts), (project, own));
    for (section, ((one, _), (other, _))) in written.loops().into_iter().zip(project.loops()).enumerate() {
        let named = |name: String| format!("{}{name}", of_section(project, section));
        changed.extend(of_buses(one, other).into_iter().map(named));
        changed.extend(of_spaces(one, other).into_iter().map(named));
    }
    if master(written) != master(project) {
        changed.push("master".into());
    }
    changed
}

fn of_parts((_, written): Side, (_, own): Side) -> Vec<String> {
    let same = |part: &&PartReport| {
        let other = written.iter().find(|other| other.name == part.name);
        other.is_some_and(|other| other.silenced == part.silenced && (part.silenced || other.trace == part.trace))
    };
    let differ: Vec<String> = own
        .iter()
        .filter(|part| !same(part))
        .map(|part| part.name.clone())
        .collect();
    match differ.len() {
        many if many > 1 && many == own.len() => vec!["every part".into()],
        _ => differ,
    }
}

fn of_buses(written: &Loop, own: &Loop) -> Vec<String> {
    let differs = |number: &usize| {
        let bus = &own.buses[*number];
        let Some(other) = written.buses.iter().position(|other| other.name == bus.name) else {
            return true;
        };
        let same = written.buses[other].strip == bus.strip && written.buses[other].silenced == bus.silenced;
        !same || sweeps(written, Target::Bus(other)) != sweeps(own, Target::Bus(*number))
    };
    let buses = (0..own.buses.len()).filter(differs);
    buses
        .map(|number| format!("{} (bus)", own.buses[number].name))
        .collect()
}

fn of_spaces(written: &Loop, own: &Loop) -> Vec<String> {
    let differs = |number: &usize| {
        let space = &own.spaces[*number];
        let Some(other) = written.spaces.iter().position(|other| other.name == space.name) else {
            return true;
        };
        !alike(&written.spaces[other], space)
            || sweeps(written, Target::Space(other)) != sweeps(own, Target::Space(*number))
    };
    let spaces = (0..own.spaces.len()).filter(differs);
    spaces.map(|number| own.spaces[number].name.clone()).collect()
}

/// Whether two rooms or delays answer alike; where the file speaks of them is no matter.
fn alike(one: &Space, other: &Space) -> bool {
    let kind = match (&one.kind, &other.kind) {
        (SpaceKind::Impulse(one), SpaceKind::Impulse(other)) => {
            let settings = |impulse: &Impulse| (impulse.file.clone(), impulse.predelay, impulse.low_cut);
            settings(one) == settings(other)
        }
        (one, other) => one == other,
    };
    kind && one.level_db == other.level_db
}

fn sweeps(song: &Loop, target: Target) -> Vec<Sweep> {
    let own = song.sweeps.iter().filter(|sweep| sweep.target == target);
    own.map(|sweep| Sweep {
        target: Target::Master,
        ..sweep.clone()
    })
    .collect()
}

fn master(project: &Project) -> (&Strip, Option<f64>, Vec<Sweep>) {
    match &project.plays {
        Plays::Loop(song, _) => (&song.master, song.loudness, sweeps(song, Target::Master)),
        Plays::Form(form, _) => (&form.master, form.loudness, form.sweeps.clone()),
    }
}
