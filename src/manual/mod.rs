//! The manual: chapters in Markdown, built into the program, for a terminal and as one HTML page.
//!
//! In: a chapter's name and a width, or a reference. Out: text. It knows nothing of loops, kits or audio. The tests write
//! every file and type every command of a chapter.

mod page;
mod terminal;

pub(crate) use page::{Listing, Page, page};
pub(crate) use terminal::for_terminal;

/// A chapter of the manual.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Chapter {
    /// The word that asks for it, which is also its file's name.
    pub name: &'static str,
    /// What it is about, in a line.
    pub about: &'static str,
    /// Its text in GitHub Flavored Markdown; the first line is its title.
    pub text: &'static str,
}

impl Chapter {
    /// The title, as its first line has it.
    pub(crate) fn title(&self) -> &'static str {
        let first = self.text.lines().next().unwrap_or(self.name);
        first.trim_start_matches('#').trim()
    }
}

/// Every chapter, in the order in which a newcomer reads them.
pub(crate) const CHAPTERS: [Chapter; 16] = [
    chapter(
        "start",
        "a first loop, and the commands that it goes through",
        include_str!("start.md"),
    ),
    chapter(
        "kits",
        "what a folder holds: names, takes, layers, zones, kit.toml",
        include_str!("kits.md"),
    ),
    chapter(
        "rhythm",
        "marks, bars, other ways to write hits, accents",
        include_str!("rhythm.md"),
    ),
    chapter(
        "feel",
        "swing, drift, ahead and behind, chance",
        include_str!("feel.md"),
    ),
    chapter(
        "harmony",
        "chords, bass, melody, comping, doubles",
        include_str!("harmony.md"),
    ),
    chapter(
        "shaping",
        "envelopes, tuning, effects, a strip's order, sweeps, balance",
        include_str!("shaping.md"),
    ),
    chapter(
        "space",
        "rooms, delays, sends, where a loop repeats",
        include_str!("space.md"),
    ),
    chapter(
        "comparing",
        "versions at one loudness, the listening page, other one-shots",
        include_str!("comparing.md"),
    ),
    chapter("forms", "loops one after another", include_str!("forms.md")),
    chapter("midi", "performances in, MIDI out", include_str!("midi.md")),
    chapter(
        "recordings",
        "from a recording to lines of a loop",
        include_str!("recordings.md"),
    ),
    chapter(
        "paper",
        "staves and notes for players, classes and notation programs",
        include_str!("paper.md"),
    ),
    chapter(
        "hand-over",
        "stems, versions, credits, proof, what may be replaced",
        include_str!("hand-over.md"),
    ),
    chapter(
        "catalogue",
        "previews of many loops, on one machine or many, with an index",
        include_str!("catalogue.md"),
    ),
    chapter(
        "measurements",
        "what is measured, against what, and how exact it is",
        include_str!("measurements.md"),
    ),
    chapter(
        "limits",
        "how much of everything there may be",
        include_str!("limits.md"),
    ),
];

const fn chapter(name: &'static str, about: &'static str, text: &'static str) -> Chapter {
    Chapter { name, about, text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_chapter_has_a_name_of_its_own_and_begins_with_its_title() {
        for (number, chapter) in CHAPTERS.iter().enumerate() {
            assert!(chapter.text.starts_with("# "), "{}", chapter.name);
            assert!(CHAPTERS[..number].iter().all(|other| other.name != chapter.name));
        }
    }
}
