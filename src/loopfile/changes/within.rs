//! Changes within lists and levels by name: `snare.eq.1.gain`, `snare.sends.hall`.

use super::Edit;
use crate::loopfile::changes;
use crate::schema;
use crate::schema::{PlacedValue, Setting, Settings, Value, sends};
use crate::text::Problem;

/// A change within one table of a list, which is named by its number, counted from 1: `snare.eq.1.gain`.
pub(crate) fn one_of(
    settings: &mut Settings,
    setting: &Setting,
    number: &str,
    rest: &[&str],
    edit: &Edit,
    problems: &mut Vec<Problem>,
) {
    let mut written = settings.take_placed(*setting);
    let tables = match written.as_mut().map(|placed| &mut placed.value) {
        Some(Value::Tables(tables)) => tables.as_mut_slice(),
        _ => &mut [],
    };
    let count = tables.len();
    let index = number.parse::<usize>().ok().and_then(|number| number.checked_sub(1));
    match index.and_then(|index| tables.get_mut(index)) {
        Some(table) => changes::change(table, rest, edit, problems),
        None => {
            let what = format!("`{}` has no number `{number}`", setting.name);
            problems.push(Problem::at(&edit.place(), what).help(format!("it has {count} here, counted from 1")));
        }
    }
    if let Some(written) = written {
        settings.set(*setting, written);
    }
}

/// One level of `sends`.
pub(crate) fn level(settings: &mut Settings, setting: &Setting, name: &str, edit: &Edit, problems: &mut Vec<Problem>) {
    let one = sends::ROOM.any();
    let node = edit.node(&one);
    let number = match schema::read_setting(&one, &edit.place(), &node, problems) {
        Some(Value::Number(number)) => Some(number),
        Some(_) => None,
        None => return,
    };
    let mut levels = match settings.take_placed(*setting).map(|placed| placed.value) {
        Some(Value::Levels(levels)) => levels,
        _ => Vec::new(),
    };
    levels.retain(|(other, _)| other.text != name);
    levels.push((edit.bars(name), number));
    let (value, name, place) = (Value::Levels(levels), edit.place(), node.place);
    settings.set(*setting, PlacedValue { value, name, place });
}
