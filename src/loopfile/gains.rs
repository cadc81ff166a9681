//! A loop file's text with other gains of its parts: only the numbers change, or lines are added, and all else stays to the byte.

use std::ops::Range;
use std::sync::Arc;

use super::read;
use super::written::tables::{LoopTables, PartTable};
use crate::schema::{self, part, strip};
use crate::text::{Source, quoted};

/// Bytes of a text, and what takes their place.
type Edit = (Range<usize>, String);

/// The text of a loop file in which some parts have other gains, in dB; none where the file can't be read.
///
/// A gain that is written changes where it stands. One that is not stands behind the part's name. A part without a table
/// of its own gets one at the end.
pub(crate) fn with_gains(source: &Arc<Source>, gains: &[(&str, f64)]) -> Option<String> {
    let mut problems = Vec::new();
    let entries = schema::parse(source, &mut problems);
    let written = read::written(source, &entries, &mut problems).filter(|_| problems.is_empty())?;
    let mut edits: Vec<Edit> = Vec::new();
    let mut tables = Vec::new();
    for (name, gain) in gains {
        let part = written.parts.iter().find(|part| part.name.text == *name)?;
        match edit(&source.text, part, *gain) {
            Some(edit) => edits.push(edit),
            None => tables.push((*name, *gain)),
        }
    }
    if !tables.is_empty() {
        edits.push(added(&source.text, &written, &tables));
    }
    // From the last to the first, so that those before stay where they are.
    edits.sort_by_key(|(span, _)| span.start);
    let mut text = source.text.clone();
    for (span, new) in edits.into_iter().rev() {
        text.replace_range(span, &new);
    }
    Some(text)
}

/// What gives a part that has a table its gain.
fn edit(text: &str, part: &PartTable, gain: f64) -> Option<Edit> {
    if let Some(placed) = part.settings.placed(strip::GAIN) {
        return Some((placed.place.span.clone(), gain.to_string()));
    }
    let name = part.settings.placed(part::NAME)?.place.span.clone();
    if in_braces(text, part) {
        return Some((name.end..name.end, format!(", gain = {gain}")));
    }
    // A line of its own, which begins as that of the name does.
    let begins = text[..name.start].rfind('\n').map_or(0, |at| at + 1);
    let before = &text[begins..name.start];
    let key = before.trim_start();
    let indent = &before[..before.len() - key.len()];
    let line = match key.strip_prefix(part::NAME.name) {
        Some(rest) => format!("{indent}gain{rest}{gain}"),
        None => format!("{indent}gain = {gain}"),
    };
    Some(match text[name.end..].find('\n') {
        Some(at) => (name.end + at + 1..name.end + at + 1, line + line_end(text)),
        None => (text.len()..text.len(), line_end(text).to_string() + &line),
    })
}

/// True where a part's table stands in braces, within a list.
fn in_braces(text: &str, part: &PartTable) -> bool {
    text[part.settings.place.span.clone()].starts_with('{')
}

/// Tables for parts that have none: in the list of those in braces, else at the end of the text.
fn added(text: &str, written: &LoopTables, tables: &[(&str, f64)]) -> Edit {
    let tabled = written.parts.iter().filter(|part| part.settings.writes(part::NAME));
    let listed = tabled.filter(|part| in_braces(text, part));
    if let Some(last) = listed.map(|part| part.settings.place.span.end).max() {
        let table = |(name, gain): &(&str, f64)| format!(", {{ name = {}, gain = {gain} }}", quoted(name));
        return (last..last, tables.iter().map(table).collect());
    }
    let end = line_end(text);
    let closed = if text.is_empty() || text.ends_with('\n') {
        ""
    } else {
        end
    };
    let table =
        |(name, gain): &(&str, f64)| format!("{end}[[part]]{end}name = {}{end}gain = {gain}{end}", quoted(name));
    let added: String = tables.iter().map(table).collect();
    (text.len()..text.len(), closed.to_string() + &added)
}

/// How the lines of a text end: as its first one does.
fn line_end(text: &str) -> &'static str {
    match text.split_once('\n') {
        Some((first, _)) if first.ends_with('\r') => "\r\n",
        _ => "\n",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEAD: &str = "[loop]\ntempo = 90\nbars = 1\n[tab]\nall = \"\"\"\nkick x\nsnare x\nhat-closed x\n\"\"\"\n";

    /// What a text becomes behind [`HEAD`].
    fn with(text: &str, gains: &[(&str, f64)]) -> String {
        let source = Source::new("loop.toml", format!("{HEAD}{text}"));
        let after = with_gains(&source, gains).expect("a loop");
        after.strip_prefix(HEAD).expect("what comes before stays").to_string()
    }

    #[test]
    fn a_gain_that_is_written_changes_where_it_stands() {
        for (before, after) in [
            (
                "[[part]] # a\n  name='kick'\t# low\n  gain   =   -2.0 # dB\n",
                "[[part]] # a\n  name='kick'\t# low\n  gain   =   3.5 # dB\n",
            ),
            (
                "[[part]]\n\"gain\" = 1\nname = 'kick'",
                "[[part]]\n\"gain\" = 3.5\nname = 'kick'",
            ),
        ] {
            assert_eq!(with(before, &[("kick", 3.5)]), after);
        }
        let list = "part = [{ name = 'kick', gain = +1e0 }, {name='snare'}]\n";
        let source = Source::new("loop.toml", format!("{list}{HEAD}"));
        let after = with_gains(&source, &[("kick", -0.5), ("snare", 2.0), ("hat-closed", -8.0)]).expect("a loop");
        let wanted =
            "part = [{ name = 'kick', gain = -0.5 }, {name='snare', gain = 2}, { name = \"hat-closed\", gain = -8 }]\n";
        assert_eq!(after.strip_suffix(HEAD), Some(wanted));
    }

    #[test]
    fn a_gain_that_is_not_written_stands_behind_the_name() {
        for (before, after) in [
            (
                "[[part]]\nname     = \"kick\"   # low\nenvelope = { decay = 9 }\n",
                "[[part]]\nname     = \"kick\"   # low\ngain     = -4\nenvelope = { decay = 9 }\n",
            ),
            ("[[part]]\nname='kick'", "[[part]]\nname='kick'\ngain=-4"),
            (
                "[[part]]\n\t'name' = 'kick'\n",
                "[[part]]\n\t'name' = 'kick'\n\tgain = -4\n",
            ),
            (
                "[[part]]\nname = 'kick'\n[part.change]\n\"1\" = { velocity = '3-9' }\n",
                "[[part]]\nname = 'kick'\ngain = -4\n[part.change]\n\"1\" = { velocity = '3-9' }\n",
            ),
        ] {
            assert_eq!(with(before, &[("kick", -4.0)]), after);
        }
    }

    #[test]
    fn a_part_without_a_table_gets_one_at_the_end() {
        let mixes = "[[mix]]\nname = 'a'\nset = { \"kick.gain\" = 1 } # stays";
        let after =
            format!("{mixes}\n\n[[part]]\nname = \"kick\"\ngain = 1.5\n\n[[part]]\nname = \"snare\"\ngain = -1\n");
        assert_eq!(with(mixes, &[("kick", 1.5), ("snare", -1.0)]), after);
    }

    #[test]
    fn lines_end_as_they_did() {
        let text = format!("{HEAD}[[part]]\nname = 'kick' # ü\n").replace('\n', "\r\n");
        let source = Source::new("loop.toml", text.clone());
        let after = with_gains(&source, &[("kick", 1.0), ("snare", 2.0)]).expect("a loop");
        let added = "gain = 1\r\n\r\n[[part]]\r\nname = \"snare\"\r\ngain = 2\r\n";
        assert_eq!(after, text + added);
    }
}
