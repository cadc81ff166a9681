//! `[[sweep]]`: settings that change over the bars.

use crate::loopfile::changes;
use crate::loopfile::changes::Edit;
use crate::loopfile::unresolved::SweepDraft;
use crate::loopfile::written::tables::LoopTables;
use crate::loopfile::{Exact, Time, Words};
use crate::schema;
use crate::schema::{Layers, Settings, Table, duck, loop_file, master, room, sends, sweep};
use crate::text::{Place, Problem};

/// The settings of sends and of the master whose numbers can move, beside all of a strip's.
const MOVING: [&str; 4] = [
    sends::ROOM.name,
    sends::DELAY.name,
    sends::SENDS.name,
    master::CEILING.name,
];

/// Reads the sweeps of a loop, each on a copy of the table that it changes, so that its two values are checked as those
/// of any other change are.
pub(crate) fn read(written: &LoopTables, time: &Time, bars: u32, problems: &mut Vec<Problem>) -> Vec<SweepDraft> {
    let counts = |_| time;
    let grid = SweepBars {
        what: "loop",
        bars,
        time: &counts,
    };
    let changed = |edit: &Edit, problems: &mut Vec<Problem>| changes::changed(written, edit, problems);
    all(&written.sweeps, &grid, &changed, problems)
}

/// Reads the sweeps of a form, which move its master. `time` says how each of its bars counts, the first being 0.
pub(crate) fn read_form<'a>(
    written: &[Settings],
    master: &Settings,
    time: &dyn Fn(u32) -> &'a Time,
    bars: u32,
    problems: &mut Vec<Problem>,
) -> Vec<SweepDraft> {
    let grid = SweepBars {
        what: "form",
        bars,
        time,
    };
    let changed = |edit: &Edit, problems: &mut Vec<Problem>| changes::changed_master(master, edit, problems);
    all(written, &grid, &changed, problems)
}

/// The bars over which sweeps go.
struct SweepBars<'a, 't> {
    /// What has these bars.
    what: &'a str,
    bars: u32,
    /// How a bar counts, the first being 0.
    time: &'a dyn Fn(u32) -> &'t Time,
}

/// Gives the table that a change leads into, as it is after it, with the table's name.
type ChangedTable<'a> = dyn Fn(&Edit, &mut Vec<Problem>) -> Option<(String, Settings)> + 'a;

fn all(written: &[Settings], grid: &SweepBars, changed: &ChangedTable, problems: &mut Vec<Problem>) -> Vec<SweepDraft> {
    let mut sweeps: Vec<(Words, SweepDraft)> = Vec::new();
    for settings in written {
        schema::complete(settings, problems);
        let Some((key, sweep)) = one(settings, grid, changed, problems) else {
            continue;
        };
        let overlaps = |(other, known): &(Words, SweepDraft)| {
            other.text == key.text && sweep.start < known.end && known.start < sweep.end
        };
        if sweeps.iter().any(overlaps) {
            let what = format!("two sweeps of `{}` overlap", key.text);
            problems.push(Problem::at(&sweep.place, what).help("let one end before the other begins"));
        }
        sweeps.push((key, sweep));
    }
    sweeps.into_iter().map(|(_, sweep)| sweep).collect()
}

fn one(
    settings: &Settings,
    grid: &SweepBars,
    changed: &ChangedTable,
    problems: &mut Vec<Problem>,
) -> Option<(Words, SweepDraft)> {
    let key = settings.get(sweep::KEY)?;
    if key
        .text
        .split('.')
        .next()
        .is_some_and(|first| first.trim() == loop_file::CHORDS.name)
    {
        problems.push(unmoving(key, &key.whole(), false));
        return None;
    }
    let window = window(settings.get(sweep::BARS)?, grid)
        .and_then(|(start, end)| Ok((start, end, every(settings, (start, end), grid)?)));
    let (start, end, every) = window.map_err(|problem| problems.push(problem)).ok()?;
    let mut at = |end| {
        let number = &settings.placed(end)?.place;
        changed(&changes::to_number(key.clone(), number), problems)
    };
    let ((whose, from), (_, to)) = at(sweep::FROM).zip(at(sweep::TO))?;
    let place = key.whole();
    let room = matches!(from.table, Table::Room | Table::Delay);
    let mut names = key
        .text
        .split('.')
        .map(str::trim)
        .skip_while(|name| *name != whose)
        .skip(1);
    let movable = match (from.table, names.next()) {
        (Table::Part | Table::Bus | Table::Master, Some(name)) if name == sends::DUCK.name => {
            names.next() == Some(duck::DEPTH.name)
        }
        (Table::Part | Table::Bus | Table::Master, Some(name)) => {
            Table::Strip.setting(name).is_some() || MOVING.contains(&name)
        }
        (Table::Room | Table::Delay, name) => name == Some(room::LEVEL.name),
        _ => false,
    };
    if !movable {
        problems.push(unmoving(key, &place, room));
        return None;
    }
    Some((
        key.clone(),
        SweepDraft {
            whose,
            from,
            to,
            start,
            end,
            every,
            place,
        },
    ))
}

/// The problem of a key that can't be swept.
pub(crate) fn unmoving(key: &Words, place: &Place, room: bool) -> Problem {
    let problem = Problem::at(place, format!("`{}` can't be swept", key.text));
    problem.help(if room {
        "of a room or delay its `level` can"
    } else {
        "the numbers of a strip can, such as gain, pan, high_cut, drive or compress.threshold"
    })
}

/// The bars after which a sweep begins again, if it does; all its bars must be equally long then.
fn every(settings: &Settings, (start, end): (Exact, Exact), grid: &SweepBars) -> Result<Option<Exact>, Problem> {
    let Some(notes) = Layers::new([settings]).notes(sweep::EVERY) else {
        return Ok(None);
    };
    let (first, past) = (start.to_integer() as u32, end.ceil().to_integer() as u32);
    let bar = (grid.time)(first).bar();
    if (first..past).any(|other| (grid.time)(other).bar() != bar) {
        let place = settings
            .placed(sweep::EVERY)
            .map_or(&settings.place, |every| &every.place);
        let problem = Problem::at(place, "`every` can't count through a change of metre");
        return Err(problem.help("write one sweep for the bars of each metre"));
    }
    Ok(Some(notes / bar))
}

/// The beginning and the end of a window in bars: `all`, `3`, `1-4`, or between counts, `3:1-3:4`.
fn window(words: &Words, grid: &SweepBars) -> Result<(Exact, Exact), Problem> {
    let bars = grid.bars;
    let wrong =
        |what: String| Problem::at(&words.whole(), what).help("write bars such as 1-4, or counts such as 3:1-3:4");
    let text = words.text.trim();
    if text == "all" {
        return Ok((Exact::from_integer(0), Exact::from_integer(bars.into())));
    }
    let (first, last) = text.split_once('-').unwrap_or((text, text));
    let point = |word: &str, after: u32| {
        point(word.trim(), after, grid)
            .ok_or_else(|| wrong(format!("`{}` is no bar and no count of a bar", word.trim())))
    };
    let (start, end) = (point(first, 0)?, point(last, 1)?);
    if end > Exact::from_integer(bars.into()) {
        return Err(wrong(format!(
            "`{text}` goes past the end of the {}, which has {bars} bars",
            grid.what
        )));
    }
    if start >= end {
        return Err(wrong(format!("`{text}` ends before it begins")));
    }
    Ok((start, end))
}

/// A bar, at its beginning or with all of it (`after` 1), or a count of a bar.
fn point(word: &str, after: u32, grid: &SweepBars) -> Option<Exact> {
    let whole_bar = |bar: &str| {
        let number = bar.parse::<u32>().ok().filter(|bar| (1..=1_000_000).contains(bar));
        number.map(|number| Exact::from_integer((number - 1).into()))
    };
    match word.split_once(':') {
        None => whole_bar(word).map(|begins| begins + Exact::from_integer(after.into())),
        Some((bar, count)) => {
            let begins = whole_bar(bar)?;
            let counts = (grid.time)(begins.to_integer() as u32).counts;
            let count = count.parse::<u32>().ok().filter(|count| (1..=counts).contains(count))?;
            Some(begins + Exact::new((count - 1).into(), counts.into()))
        }
    }
}
