//! Changes within lists and levels by name: `snare.eq.1.gain`, `snare.sends.hall`.

use super::Edit;
use crate::loopfile::changes;
use crate::schema;
use crate::schema::{Key, Setting, Settings, Table, Value};
use crate::text::Problem;

/// A change within one table of a list, which is named by its number, counted from 1: `snare.eq.1.gain`.
pub(crate) fn one_of(
    settings: &mut Settings,
    key: &'static Key,
    number: &str,
    rest: &[&str],
    edit: &Edit,
    problems: &mut Vec<Problem>,
) {
    let mut none = Vec::new();
    let tables = match settings.get_mut(key.name).map(|setting| &mut setting.value) {
        Some(Value::Tables(tables)) => tables,
        _ => &mut none,
    };
    let count = tables.len();
    let index = number.parse::<usize>().ok().and_then(|number| number.checked_sub(1));
    match index.and_then(|index| tables.get_mut(index)) {
        Some(table) => changes::change(table, rest, edit, problems),
        None => {
            let what = format!("`{}` has no number `{number}`", key.name);
            problems.push(Problem::at(&edit.place(), what).help(format!("it has {count} here, counted from 1")));
        }
    }
}

/// One level of `sends`.
pub(crate) fn level(settings: &mut Settings, key: &'static Key, name: &str, edit: &Edit, problems: &mut Vec<Problem>) {
    let Some(one) = Table::Sends.key("room") else { return };
    let node = edit.node(one);
    let number = match schema::read_setting(one, &edit.place(), &node, problems) {
        Some(Value::Number(number)) => Some(number),
        Some(_) => None,
        None => return,
    };
    let mut levels = match settings.take(key.name) {
        Some(Setting {
            value: Value::Levels(levels),
            ..
        }) => levels,
        _ => Vec::new(),
    };
    levels.retain(|(other, _)| other.text != name);
    levels.push((edit.bars(name), number));
    settings.set(
        key.name,
        Setting {
            value: Value::Levels(levels),
            key: edit.place(),
            place: node.place,
        },
    );
}
