//! Values of which there may be one or a list.

use super::{in_range, refuse, wrong};
use crate::schema::setting::Setting;
use crate::schema::settings::Value;
use crate::schema::tree::{Node, TomlValue};
use crate::text::Problem;

/// One path, or a list of them.
pub(super) fn paths(setting: &Setting, node: &Node, problems: &mut Vec<Problem>) -> Option<Value> {
    let nodes = match &node.what {
        TomlValue::Text(_) => std::slice::from_ref(node),
        TomlValue::List(nodes) if !nodes.is_empty() => nodes,
        _ => return refuse(setting, node, problems),
    };
    let mut paths = Vec::new();
    for node in nodes {
        match &node.what {
            TomlValue::Text(words) if !words.text.is_empty() => paths.push(words.clone()),
            _ => problems.push(wrong(setting, node)),
        }
    }
    (!paths.is_empty()).then_some(Value::Paths(paths))
}

/// Numbers, one or a list of them.
pub(super) fn numbers(setting: &Setting, node: &Node, problems: &mut Vec<Problem>) -> Option<Value> {
    let nodes = match &node.what {
        TomlValue::Number(_) | TomlValue::Whole(_) => std::slice::from_ref(node),
        TomlValue::List(nodes) if !nodes.is_empty() => nodes,
        _ => return refuse(setting, node, problems),
    };
    let number = |node: &Node| match node.what {
        TomlValue::Number(number) => in_range(setting.name, number, node, &setting.kind),
        TomlValue::Whole(number) => in_range(setting.name, number as f64, node, &setting.kind),
        _ => Err(wrong(setting, node)),
    };
    let (read, wrong): (Vec<_>, Vec<_>) = nodes.iter().map(number).partition(Result::is_ok);
    problems.extend(wrong.into_iter().filter_map(Result::err));
    (!read.is_empty()).then(|| Value::Numbers(read.into_iter().flatten().collect()))
}
