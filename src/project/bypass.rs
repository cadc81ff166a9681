//! A part, a bus or the master without its effects.

use super::{Plays, Project};
use crate::loopfile::{Field, Loop, Strip, Target};
use crate::text::{Problem, did_you_mean, nearest};

impl Project {
    /// Switches off the effects of whatever goes by a name, in every loop that has it: the cuts, `eq`, `compress`, `drive`,
    /// `duck`, `spread`, `width` and a bus's `ceiling`. Gain, pan and sends stay, and so do the master's ceiling and loudness,
    /// which set the level of the file.
    ///
    /// # Errors
    /// Where no part and no bus is called so, and it is not `master`.
    pub fn bypass(&mut self, name: &str) -> Result<(), Problem> {
        let mut found = false;
        if name == "master" {
            found = true;
            if let Plays::Form(form, _) = &mut self.plays {
                plain(&mut form.master, true);
                form.sweeps.retain(|sweep| stays(sweep.field, true));
            }
        }
        for song in self.loops_mut() {
            for target in targets(song, name) {
                found = true;
                bypass_in(song, target);
            }
        }
        if found {
            return Ok(());
        }
        let names: Vec<String> = self.loops_mut().into_iter().flat_map(|song| names(song)).collect();
        let problem = Problem::new(format!("no part or bus is called `{name}`"));
        Err(match nearest(name, names.iter().map(String::as_str)) {
            Some(near) => problem.help(did_you_mean(near)),
            None => problem.help("name a part, a bus or `master`"),
        })
    }

    fn loops_mut(&mut self) -> Vec<&mut Loop> {
        match &mut self.plays {
            Plays::Loop(song, _) => vec![song],
            Plays::Form(form, _) => form.sections.iter_mut().map(|section| &mut section.plays).collect(),
        }
    }
}

fn names(song: &Loop) -> Vec<String> {
    let parts = song.parts.iter().map(|part| part.name.clone());
    let buses = song.buses.iter().map(|bus| bus.name.clone());
    parts.chain(buses).chain(["master".to_string()]).collect()
}

fn targets(song: &Loop, name: &str) -> Vec<Target> {
    let parts = (0..song.parts.len()).filter(|part| song.parts[*part].name == name);
    let buses = (0..song.buses.len()).filter(|bus| song.buses[*bus].name == name);
    let master = (name == "master").then_some(Target::Master);
    parts
        .map(Target::Part)
        .chain(buses.map(Target::Bus))
        .chain(master)
        .collect()
}

fn bypass_in(song: &mut Loop, target: Target) {
    let master = target == Target::Master;
    let strip = match target {
        Target::Part(part) => &mut song.parts[part].strip,
        Target::Bus(bus) => &mut song.buses[bus].strip,
        _ => &mut song.master,
    };
    plain(strip, master);
    song.sweeps
        .retain(|sweep| sweep.target != target || stays(sweep.field, master));
}

fn plain(strip: &mut Strip, master: bool) {
    let kept = strip.clone();
    *strip = Strip {
        gain_db: kept.gain_db,
        pan: kept.pan,
        sends: kept.sends,
        ceiling_db: kept.ceiling_db.filter(|_| master),
        ..Strip::plain()
    };
}

fn stays(field: Field, master: bool) -> bool {
    matches!(field, Field::Gain | Field::Pan | Field::Send(_)) || master && field == Field::Ceiling
}
