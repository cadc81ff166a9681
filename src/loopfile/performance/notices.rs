//! Notices on a performance with a kit: notes that could not be placed, a channel without any, a file that was mended.

use std::collections::{BTreeMap, BTreeSet};

use super::PartPerformance;
use crate::harmony::spell;
use crate::midi;
use crate::text::{Problem, count_of};

impl PartPerformance {
    /// The notices: of `past` notes behind the loop's end, of notes that no piece plays, by their keys, and of a part
    /// that has none at all. `pitched` is the piece that plays keys as notes, where one does.
    pub(super) fn notices(
        &self,
        past: usize,
        lacking: &BTreeMap<u8, usize>,
        (pitched, silent): (Option<&str>, bool),
    ) -> Vec<Problem> {
        let mut notices = Vec::new();
        let (place, file) = (self.file.whole(), &self.file.text);
        let mut tell = |what: String, help: String| notices.push(Problem::at(&place, what).help(help));
        if self.tells {
            for notice in &self.performance.notices {
                tell(
                    format!("{file}: {notice}"),
                    "save it again where it was made if that is not meant".into(),
                );
            }
        }
        if let Some(help) = self.other_channels() {
            tell(format!("{file} has no notes on channel {}", self.channel + 1), help);
            return notices;
        }
        if past > 0 && self.tells {
            let last = self.notes().map(|note| note.start).max().unwrap_or_default();
            let last = self.tick * i128::from(last);
            let notes = count_of(past, "note");
            tell(
                format!("{notes} of {file} come after the loop's last bar and are left out"),
                format!(
                    "the loop has {}, the last of these notes is in bar {}",
                    count_of(self.bars as usize, "bar"),
                    last.floor().to_integer() + 1
                ),
            );
        }
        if let (Some(piece), false) = (pitched, lacking.is_empty()) {
            let names: Vec<String> = lacking
                .keys()
                .map(|key| spell((*key).into(), None, None).to_string())
                .collect();
            let notes = count_of(lacking.values().sum(), "note");
            tell(
                format!(
                    "`{piece}` was recorded more than four octaves from {} of {file}: {notes} left out",
                    names.join(", ")
                ),
                "give the piece more zones in kit.toml, or play these notes on another".into(),
            );
        } else if !lacking.is_empty() {
            let keys: Vec<String> = lacking.keys().map(|key| named(*key)).collect();
            let notes = count_of(lacking.values().sum(), "note");
            let first = lacking.keys().next().unwrap_or(&0);
            tell(
                format!(
                    "the kit has no piece for key{} {} of {file}: {notes} left out",
                    if keys.len() == 1 { "" } else { "s" },
                    keys.join(", ")
                ),
                format!(
                    "say which pieces play them: keys = {{ {first} = \"snare\" }}; `--lend` substitutes the closest piece for percussion"
                ),
            );
        }
        if let (true, None, Some(piece)) = (silent, pitched, &self.piece) {
            let piece = &piece.text;
            tell(
                format!("{file} has no notes for `{piece}` in this loop"),
                format!(
                    "say which key plays it: keys = {{ 38 = \"{piece}\" }}; or, to play the keys as notes, at which pitch it was recorded: root = \"C3\" in kit.toml"
                ),
            );
        }
        notices
    }

    /// Where a channel without notes is meant to be another: what to do about it.
    fn other_channels(&self) -> Option<String> {
        if self.notes().next().is_some() {
            return None;
        }
        let others: BTreeSet<u8> = self.on_track().map(|note| note.channel + 1).collect();
        let listed = others.iter().map(u8::to_string).collect::<Vec<_>>().join(", ");
        Some(match others.first() {
            Some(first) => format!("it has some on channel {listed}: write channel = {first}"),
            None => "it has no notes at all".into(),
        })
    }
}

/// A key with the name that General MIDI has for it.
fn named(key: u8) -> String {
    match midi::piece_for(key) {
        Some(name) => format!("{key} ({name})"),
        None => key.to_string(),
    }
}
