//! Reading the files of recordings: a path, or a table of two.

use super::{complete, read_table, refuse, wrong};
use crate::schema::registry::pair;
use crate::schema::setting::{Setting, Table};
use crate::schema::settings::{RecordingWords, Value};
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
