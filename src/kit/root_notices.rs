//! What there is to say of names that name other pitches than are heard: each kind in one sentence, however many files there are.

use super::audio::pitch::note_name;
use super::root::{RootSource, Zone};
use crate::text::Problem;

/// Of so many pieces or files the names are told.
const NAMED: usize = 3;

/// What was odd about the pitches of some pieces.
#[derive(Default)]
pub(super) struct Odd {
    /// Pieces whose names count octaves otherwise: the piece, one of its files, the key that its name names, by how many octaves.
    pub octaves: Vec<(String, String, f64, i32)>,
    /// Pieces whose names are not believed: the piece, and one of its files.
    pub overruled: Vec<(String, String)>,
    /// Files that sound otherwise than their names say: the file, the key it is called, that it sounds as, that it is played as.
    called: Vec<(String, [f64; 3])>,
}

impl Odd {
    /// Takes note of a file whose name and sound have nothing to do with one another.
    pub(super) fn add(&mut self, zone: &Zone, key: Option<f64>, overruled: bool, name: impl Fn() -> String) {
        let (Some(heard), Some(says), Some(taken)) = (zone.believed(), zone.said.key(), key) else {
            return;
        };
        let off = (heard - says).rem_euclid(12.0);
        let another_octave = off.min(12.0 - off) < 1.0 && !matches!(zone.said, RootSource::Numbered(_));
        if !(overruled || another_octave || (heard - says).abs() < 1.0) {
            self.called.push((name(), [says, heard, taken]));
        }
    }

    /// A sentence for each kind.
    pub(super) fn notices(self) -> Vec<Problem> {
        let mut notices: Vec<Problem> = Vec::new();
        for octaves in [1, -1, 2, -2, 3, -3] {
            let pieces: Vec<_> = self.octaves.iter().filter(|(.., off)| *off == octaves).collect();
            let Some((_, file, key, _)) = pieces.first() else {
                continue;
            };
            let names = listed(pieces.iter().map(|(piece, ..)| piece.as_str()));
            let (says, sounds) = (note_name(*key), note_name(key + f64::from(12 * octaves)));
            let what = format!("{names}: what `{file}` calls {says} sounds as {sounds}, counting C4 as middle C");
            let played = match pieces.as_slice() {
                [_] => format!("it is played as {sounds}"),
                _ => "they are played as they sound".into(),
            };
            let help = format!("{played}; `root` in kit.toml would say otherwise");
            notices.push(Problem::new(what).help(help));
        }
        if let Some((_, file)) = self.overruled.first() {
            let names = listed(self.overruled.iter().map(|(piece, _)| piece.as_str()));
            let what = format!("{names}: most files, `{file}` for one, sound at other pitches than their names say");
            notices
                .push(Problem::new(what).help("they are played as they sound; `root` in kit.toml would say otherwise"));
        }
        if let Some((file, [says, sounds, taken])) = self.called.first() {
            let more = match self.called.len() - 1 {
                0 => String::new(),
                1 => ", and another file is called otherwise than it sounds".into(),
                more => format!(", and {more} more files are called otherwise than they sound"),
            };
            let what = format!(
                "`{file}` is called {} and sounds as {}{more}",
                note_name(*says),
                note_name(*sounds)
            );
            let played = format!(
                "it is played as {}; `root` in kit.toml would say otherwise",
                note_name(*taken)
            );
            notices.push(Problem::new(what).help(played));
        }
        notices
    }
}

/// Some names, the first of them, and how many there are.
fn listed<'a>(names: impl ExactSizeIterator<Item = &'a str>) -> String {
    let count = names.len();
    let mut shown: Vec<String> = names.take(NAMED).map(|name| format!("`{name}`")).collect();
    if count > NAMED {
        shown.push(format!("{} more", count - NAMED));
    }
    match shown.pop() {
        Some(last) if !shown.is_empty() => format!("{} and {last}", shown.join(", ")),
        last => last.unwrap_or_default(),
    }
}
