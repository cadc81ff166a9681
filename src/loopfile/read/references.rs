//! What a loop's tables say of one another: missing keys, names that nobody has, circles.

use crate::loopfile::Words;
use crate::loopfile::limits::{DEEPEST, LONGEST};
use crate::loopfile::written::tables::{LoopTables, PartTable};
use crate::schema;
use crate::schema::{Setting, Settings, bus, duck, feel, loop_file, part, room, sends};
use crate::text::{Place, Problem, did_you_mean, nearest};

/// Finds what is missing and what refers to nothing or round in a circle.
pub(crate) fn check(written: &LoopTables, problems: &mut Vec<Problem>) {
    for settings in [&written.song, &written.feel, &written.master] {
        schema::complete(settings, problems);
    }
    if let (None, Some(amount)) = (written.feel.placed(feel::LIKE), written.feel.placed(feel::AMOUNT)) {
        let what = "`amount` says how far the loop goes the way of `like`, but there is no `like`";
        problems.push(Problem::at(&amount.name, what).help("name a drummer's MIDI file by like = \"drummer.mid\""));
    }
    for space in &written.spaces {
        schema::complete(&space.settings, problems);
        impulse(&space.settings, problems);
    }
    for part in &written.parts {
        // A part that only `[tab]` names has no `name` of its own to lack.
        if part.settings.writes(part::NAME) {
            schema::complete(&part.settings, problems);
        } else if let Some(duck) = part.settings.get(sends::DUCK) {
            schema::complete(duck, problems);
        }
        strip(written, &part.settings, problems);
    }
    for (_, settings) in &written.buses {
        schema::complete(settings, problems);
        strip(written, settings, problems);
    }
    strip(written, &written.master, problems);
    for accent in &written.accents {
        let parts: Vec<&str> = written.parts.iter().map(|part| part.name.text.as_str()).collect();
        for name in accent.parts.iter().flatten().chain(&accent.strike) {
            known("part", name, &parts, "parts play accents, by their names", problems);
        }
    }
    bus_circles(written, problems);
    duck_circles(written, problems);
}

fn impulse(room: &Settings, problems: &mut Vec<Problem>) {
    if room.placed(room::IMPULSE).is_none() {
        return;
    }
    for setting in [room::SIZE, room::DECAY, room::DAMPING] {
        let name = setting.name;
        if let Some(placed) = room.placed(setting) {
            let what = format!("`{name}` is of no use to a recorded impulse response");
            problems.push(Problem::at(&placed.name, what).help(format!("leave out `{name}` or `impulse`")));
        }
    }
}

fn strip(written: &LoopTables, settings: &Settings, problems: &mut Vec<Problem>) {
    if let Some(name) = settings.get(part::BUS) {
        let buses: Vec<&str> = written.buses.iter().map(|(name, _)| name.text.as_str()).collect();
        let otherwise = if name.text == loop_file::MASTER.name {
            "leave `bus` out to go to the master"
        } else {
            "write a `[[bus]]` of that name"
        };
        known("bus", name, &buses, otherwise, problems);
    }
    if let Some(name) = settings.get(sends::DUCK).and_then(|duck| duck.get(duck::BY)) {
        let parts: Vec<&str> = written.parts.iter().map(|part| part.name.text.as_str()).collect();
        known("part", name, &parts, "`duck` follows one part", problems);
    }
    if let Some(levels) = settings.get(sends::SENDS) {
        let spaces: Vec<&str> = written.spaces.iter().map(|space| space.name.text.as_str()).collect();
        for (name, _) in levels {
            if [sends::ROOM.name, sends::DELAY.name].contains(&name.text.as_str()) {
                let what = format!(
                    "`sends` is for rooms and delays that go by name, not for `{}`",
                    name.text
                );
                problems.push(Problem::at(&name.whole(), what).help(format!("write {0} = … by itself", name.text)));
            } else {
                known(
                    "room or delay",
                    name,
                    &spaces[2..],
                    "write a `[rooms.NAME]` or `[delays.NAME]`",
                    problems,
                );
            }
        }
    }
}

fn known(kind: &str, name: &Words, names: &[&str], otherwise: &str, problems: &mut Vec<Problem>) {
    if names.contains(&name.text.as_str()) {
        return;
    }
    let help = match nearest(&name.text, names.iter().copied()) {
        Some(near) => did_you_mean(near),
        None => otherwise.into(),
    };
    problems.push(Problem::at(&name.whole(), format!("there is no {kind} called `{}`", name.text)).help(help));
}

fn bus_circles(written: &LoopTables, problems: &mut Vec<Problem>) {
    let next: Vec<Option<usize>> = written
        .buses
        .iter()
        .map(|(_, settings)| bus_index(written, settings))
        .collect();
    let circles = circles(&next);
    if circles.is_empty() {
        too_deep(written, &next, problems);
    }
    for start in circles {
        if let Some(name) = written.buses[start].1.get(bus::BUS) {
            let what = format!(
                "bus `{}` feeds itself through `{}`",
                written.buses[start].0.text, name.text
            );
            problems.push(Problem::at(&name.whole(), what).help("let one of them go to the master"));
        }
    }
}

/// Tells of the first bus that has too many others behind it. `next` has no circles.
fn too_deep(written: &LoopTables, next: &[Option<usize>], problems: &mut Vec<Problem>) {
    let depth = |bus: usize| {
        std::iter::successors(Some(bus), |at| next[*at])
            .take(DEEPEST + 1)
            .count()
    };
    if let Some(bus) = (0..next.len()).find(|bus| depth(*bus) > DEEPEST) {
        let (name, _) = &written.buses[bus];
        let what = format!(
            "`{}` goes through more than {DEEPEST} buses; {DEEPEST} are the most",
            name.text
        );
        problems.push(Problem::at(&name.whole(), what).help("let one of them go to the master"));
    }
}

fn duck_circles(written: &LoopTables, problems: &mut Vec<Problem>) {
    let by = |part: &PartTable| part.settings.get(sends::DUCK)?.get(duck::BY).cloned();
    let next: Vec<Option<usize>> = written
        .parts
        .iter()
        .map(|part| by(part).and_then(|name| written.parts.iter().position(|part| part.name.text == name.text)))
        .collect();
    for start in circles(&next) {
        if let Some(name) = by(&written.parts[start]) {
            let what = format!(
                "`{}` would duck under itself, by way of `{}`",
                written.parts[start].name.text, name.text
            );
            problems.push(Problem::at(&name.whole(), what).help("let it follow another part"));
        }
    }
}

/// The bus that a strip goes to.
pub(crate) fn bus_index(written: &LoopTables, settings: &Settings) -> Option<usize> {
    let name = settings.get(part::BUS)?;
    written.buses.iter().position(|(bus, _)| bus.text == name.text)
}

/// One member of each circle, the first, where everyone points at one other at most.
pub(crate) fn circles(next: &[Option<usize>]) -> Vec<usize> {
    let mut found = Vec::new();
    let mut seen = vec![0; next.len()];
    for start in 0..next.len() {
        let mut at = start;
        while seen[at] == 0 {
            seen[at] = start + 1;
            match next[at] {
                Some(to) => at = to,
                None => break,
            }
        }
        // Back on this very walk's own path: `at` lies on a circle that no walk has met before.
        if seen[at] == start + 1 && next[at].is_some() {
            let mut first = at;
            let mut member = next[at];
            while let Some(here) = member.filter(|here| *here != at) {
                first = first.min(here);
                member = next[here];
            }
            found.push(first);
        }
    }
    found
}

/// The problem of a loop that lasts too long.
pub(crate) fn too_long(seconds: f64, place: &Place) -> Option<Problem> {
    (seconds > LONGEST).then(|| {
        let minutes = libm::round(seconds / 60.0);
        Problem::at(
            place,
            format!(
                "this lasts {minutes} minutes, but can last {} minutes at most",
                LONGEST / 60.0
            ),
        )
        .help("take fewer bars, or a faster tempo")
    })
}

/// Where a setting stands, or its table where it is not given.
pub(crate) fn place_of<T>(settings: &Settings, setting: Setting<T>) -> Place {
    let placed = settings.placed(setting);
    placed.map_or(&settings.place, |placed| &placed.place).clone()
}

#[cfg(test)]
mod tests {
    use super::circles;

    #[test]
    fn circles_are_found_once_each() {
        assert_eq!(circles(&[None, Some(0), Some(1)]), Vec::<usize>::new());
        assert_eq!(circles(&[Some(0)]), [0]);
        assert_eq!(circles(&[Some(2), Some(2), Some(3), Some(2), Some(4)]), [2, 4]);
        assert_eq!(circles(&[Some(1), None, Some(1)]), Vec::<usize>::new());
    }
}
