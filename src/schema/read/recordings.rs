//! Reading recordings: a path, or a table of two; and where their loops lie.

use super::{complete, read_table, refuse, wrong};
use crate::schema::registry::pair;
use crate::schema::setting::Setting;
use crate::schema::settings::{LoopPoint, RecordingWords, Value};
use crate::schema::table::Table;
use crate::schema::tree::{Node, TomlValue};
use crate::text::Problem;

/// One recording.
pub(super) fn one(setting: &Setting, node: &Node, problems: &mut Vec<Problem>) -> Option<RecordingWords> {
    match &node.what {
        TomlValue::Text(words) if !words.text.trim().is_empty() => Some(RecordingWords {
            left: words.clone(),
            right: None,
        }),
        TomlValue::Table(entries) => {
            let mut pair = read_table(Table::Pair, &node.place, entries, problems);
            complete(&pair, problems);
            Some(RecordingWords {
                left: pair.take(pair::LEFT)?,
                right: Some(pair.take(pair::RIGHT)?),
            })
        }
        _ => {
            problems.push(wrong(setting, node));
            None
        }
    }
}

/// One recording, or a list of them.
pub(super) fn all(setting: &Setting, node: &Node, problems: &mut Vec<Problem>) -> Option<Value> {
    let nodes = match &node.what {
        TomlValue::List(nodes) if !nodes.is_empty() => nodes,
        TomlValue::List(_) => return refuse(setting, node, problems),
        _ => std::slice::from_ref(node),
    };
    let recordings: Vec<_> = nodes.iter().filter_map(|node| one(setting, node, problems)).collect();
    (!recordings.is_empty()).then_some(Value::Recordings(recordings))
}

/// The start and the end of a loop.
pub(super) fn loop_points(setting: &Setting, node: &Node, problems: &mut Vec<Problem>) -> Option<Value> {
    let TomlValue::List(nodes) = &node.what else {
        return refuse(setting, node, problems);
    };
    let points: Option<Vec<LoopPoint>> = nodes.iter().map(point).collect();
    let (start, end) = match points.as_deref() {
        Some([start, end]) => (*start, *end),
        _ => return refuse(setting, node, problems),
    };
    let backwards = match (start, end) {
        (LoopPoint::Frame(start), LoopPoint::Frame(end)) => start >= end,
        (LoopPoint::Seconds(start), LoopPoint::Seconds(end)) => start >= end,
        // How frames and seconds lie to one another is for the recording's rate to say.
        _ => false,
    };
    if backwards {
        let what = format!("`{}` has to start before it ends", setting.name);
        problems.push(Problem::at(&node.place, what).help("the first is its start, the second its end"));
        return None;
    }
    Some(Value::LoopPoints((start, end)))
}

fn point(node: &Node) -> Option<LoopPoint> {
    match &node.what {
        TomlValue::Whole(frame) => Some(LoopPoint::Frame(*frame)),
        TomlValue::Text(words) => {
            let text = words.text.trim();
            let (number, unit) = match text.strip_suffix("ms") {
                Some(number) => (number, 1e-3),
                None => (text.strip_suffix('s')?, 1.0),
            };
            let number: f64 = number.trim().parse().ok()?;
            let written = number.is_finite() && number >= 0.0;
            written.then_some(LoopPoint::Seconds(number * unit))
        }
        _ => None,
    }
}
