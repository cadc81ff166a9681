//! Finding a setting by its address or name, and what was meant by one that is unknown.

use super::kind::Kind;
use super::setting::Setting;
use super::table::Table;
use crate::text::{Place, Problem, did_you_mean, nearest};

/// A setting, and the table whose own it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Found {
    /// The table or group of settings.
    pub table: Table,
    /// The setting.
    pub setting: &'static Setting,
}

/// Every setting that an address or a bare name may mean, without a loop at hand: `snare.room`, `drums.compress.ratio`,
/// `room.decay`, `swing`.
///
/// The first word of an address is a table's name, else taken for that of a part or bus.
pub(crate) fn find(address: &str) -> Vec<Found> {
    let words: Vec<&str> = address.split('.').collect();
    let [first, rest @ ..] = words.as_slice() else {
        return Vec::new();
    };
    if rest.is_empty() {
        return all().filter(|found| found.setting.name == *first).collect();
    }
    let mut found = Vec::new();
    // The chart is a setting of the file itself: chords.3 is what it says of a bar.
    if let (Some(setting), [_]) = (Table::LoopFile.setting(first), rest)
        && matches!(setting.kind, Kind::Bars(_))
    {
        found.push(Found {
            table: Table::LoopFile,
            setting,
        });
        return found;
    }
    for start in starts(first, rest) {
        if let Some(setting) = follow(start.0, start.1)
            && !found.contains(&setting)
        {
            found.push(setting);
        }
    }
    found
}

/// The tables at which an address may start, and the names that lead on from there.
fn starts<'a>(first: &str, rest: &'a [&'a str]) -> Vec<(Table, &'a [&'a str])> {
    let files = [Table::LoopFile, Table::FormFile, Table::KitFile, Table::CatalogueFile];
    let named = files
        .iter()
        .filter_map(|file| file.setting(first))
        .filter_map(|setting| match setting.kind {
            Kind::Table(table) | Kind::Tables(table) => Some((table, rest)),
            Kind::Named(table) => Some((table, rest.get(1..).unwrap_or(&[]))),
            _ => None,
        });
    let effects = [Table::Strip, Table::Sound, Table::Sends]
        .into_iter()
        .flat_map(|group| group.own());
    let effects = effects
        .filter(|setting| setting.name == first)
        .filter_map(|setting| inner(setting).map(|table| (table, rest)));
    let starts: Vec<_> = named.chain(effects).collect();
    if !starts.is_empty() {
        return starts;
    }
    [Table::Part, Table::Bus, Table::Room, Table::Delay]
        .map(|table| (table, rest))
        .to_vec()
}

/// The setting that names lead to from a table.
fn follow(table: Table, names: &[&str]) -> Option<Found> {
    let (first, rest) = names.split_first()?;
    let own = |group: Table| Some((group, group.own().iter().find(|setting| setting.name == *first)?));
    let (table, setting) = table.groups().find_map(own)?;
    match (setting.kind, rest) {
        (_, []) | (Kind::Bars(_) | Kind::Phrase(..) | Kind::Hits, [_]) => Some(Found { table, setting }),
        (Kind::Named(table), [_, rest @ ..]) => follow(table, rest),
        _ => follow(inner(setting)?, rest),
    }
}

fn inner(setting: &Setting) -> Option<Table> {
    match setting.kind {
        Kind::Table(table) | Kind::TableOr(table, _) | Kind::Tables(table) => Some(table),
        _ => None,
    }
}

fn all() -> impl Iterator<Item = Found> {
    Table::ALL
        .into_iter()
        .flat_map(|table| table.own().iter().map(move |setting| Found { table, setting }))
}

/// Every table that has settings of its own, with them, in the order of a reference.
pub(crate) fn in_tables() -> impl Iterator<Item = (Table, &'static [Setting])> {
    Table::ALL.into_iter().map(|table| (table, table.own()))
}

/// The name of a known setting nearest to a word or to the last word of an address, whatever its table.
pub(crate) fn nearest_setting(address: &str) -> Option<&'static str> {
    let last = address.rsplit('.').next().unwrap_or(address);
    nearest(last, all().map(|found| found.setting.name))
}

/// A setting as the reference explains it: its table, what it takes, its default, what it does.
pub(crate) fn shown(found: &Found) -> String {
    let Found { table, setting } = found;
    format!(
        "{} in {}: {}\n  takes    {}\n  default  {}\n",
        setting.name,
        table.title(),
        setting.doc,
        setting.describe(),
        setting.default.shown()
    )
}

/// Other words of the trade for what a setting does.
const ALSO: &[(&str, &str)] = &[
    ("bpm", "tempo"),
    ("distortion", "drive"),
    ("echo", "delay"),
    ("highpass", "low_cut"),
    ("level", "gain"),
    ("limiter", "ceiling"),
    ("lowpass", "high_cut"),
    ("pattern", "hits"),
    ("pitch", "tune"),
    ("reverb", "room"),
    ("sample", "piece"),
    ("saturation", "drive"),
    ("sidechain", "duck"),
    ("time_signature", "metre"),
    ("volume", "gain"),
];

/// The problem of a setting that a table does not take.
pub(crate) fn unknown(table: Table, name: &str, place: &Place) -> Problem {
    let problem = Problem::at(place, format!("{} has no key `{name}`", table.title()));
    let mut homes: Vec<&str> = all()
        .filter(|found| found.setting.name == name)
        .map(|found| found.table.title())
        .collect();
    homes.dedup();
    if table == Table::Master && Table::Sends.setting(name).is_some() {
        return problem.help("the master has no sends");
    }
    let also = ALSO
        .iter()
        .find(|(word, setting)| *word == name.to_lowercase() && table.setting(setting).is_some());
    if let Some((_, setting)) = also {
        return problem.help(did_you_mean(setting));
    }
    if !homes.is_empty() {
        return problem.help(format!("`{name}` belongs in {}", homes.join(", ")));
    }
    let known: Vec<&'static str> = table.settings().map(|setting| setting.name).collect();
    match (nearest(name, known.iter().copied()), nearest_setting(name)) {
        (Some(near), _) => problem.help(did_you_mean(near)),
        (None, Some(near)) => {
            let homes: Vec<&str> = all()
                .filter(|found| found.setting.name == near)
                .map(|found| found.table.title())
                .collect();
            problem.help(format!("did you mean `{near}`, which belongs in {}?", homes.join(", ")))
        }
        (None, None) if known.len() > 12 => problem.help("`pressroll reference` lists the keys of every table"),
        (None, None) => problem.help(format!("it takes `{}`", known.join("`, `"))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schema::setting::DefaultValue;

    fn homes(address: &str) -> Vec<(Table, &'static str)> {
        find(address)
            .iter()
            .map(|found| (found.table, found.setting.name))
            .collect()
    }

    #[test]
    fn addresses_lead_to_their_keys_without_a_loop() {
        assert_eq!(homes("snare.room"), [(Table::Sends, "room")]);
        assert_eq!(homes("drums.compress.ratio"), [(Table::Compress, "ratio")]);
        assert_eq!(homes("room.decay"), [(Table::Room, "decay")]);
        assert_eq!(homes("rooms.hall.decay"), [(Table::Room, "decay")]);
        assert_eq!(homes("hall.feedback"), [(Table::Delay, "feedback")]);
        assert_eq!(homes("compress.ratio"), [(Table::Compress, "ratio")]);
        assert_eq!(homes("loop.tempo"), [(Table::Loop, "tempo")]);
        assert_eq!(homes("master.ceiling"), [(Table::Master, "ceiling")]);
        assert_eq!(homes("snare.gain"), [(Table::Strip, "gain")]);
        assert_eq!(homes("chords.3"), [(Table::LoopFile, "chords")]);
        assert_eq!(homes("bass.degrees.4"), [(Table::Part, "degrees")]);
        assert_eq!(homes("keys.change.4.voicing"), [(Table::Playing, "voicing")]);
        assert_eq!(homes("swing"), [(Table::Feel, "swing"), (Table::Playing, "swing")]);
        for nothing in ["", ".", "snare.", "snare.gian", "snare.gain.x", "rooms.hall"] {
            assert_eq!(homes(nothing), [], "{nothing}");
        }
        assert_eq!(nearest_setting("snare.gian"), Some("gain"));
    }

    #[test]
    fn the_registry_holds_together() {
        for (table, keys) in in_tables() {
            assert!(!keys.is_empty(), "{table:?}");
            for setting in keys {
                assert!(setting.doc.ends_with(['.', '}']), "{}", setting.name);
                assert_eq!(
                    setting.default == DefaultValue::Off,
                    setting.default == DefaultValue::Off && setting.off,
                    "{} is off but may not be",
                    setting.name
                );
                if let (Kind::Number(from, to, _), DefaultValue::Number(standard)) = (setting.kind, setting.default) {
                    assert!(from < to && (from..=to).contains(&standard), "{}", setting.name);
                }
                if let (Kind::NoteValue | Kind::Time, DefaultValue::Text(text)) = (setting.kind, setting.default) {
                    assert!(crate::schema::note_values::length(text).is_some(), "{}", setting.name);
                }
                if let (Kind::Choice(words), DefaultValue::Text(text)) = (setting.kind, setting.default) {
                    assert!(words.contains(&text), "{}", setting.name);
                }
                assert!(shown(&Found { table, setting }).contains(setting.doc));
            }
            let mut names: Vec<&str> = table.settings().map(|setting| setting.name).collect();
            names.sort_unstable();
            let count = names.len();
            names.dedup();
            assert_eq!(names.len(), count, "{table:?} has a key twice");
        }
    }
}
