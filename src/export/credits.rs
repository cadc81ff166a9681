//! Credits: the one-shots of a finished mix as a page of plain text, so that it can be cleared.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::io::Write as _;
use std::path::Path;

use super::mark::MADE_BY;
use super::write_beside;
use crate::kit::{Credit, Said};
use crate::text::{Problem, shown};

/// What a recording did in a mix.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Role {
    /// Hits by the names of the pieces that it was played as.
    pub hits: BTreeMap<String, usize>,
    /// The rooms that it was the impulse response of, in order.
    pub rooms: Vec<String>,
}

/// Everything that sounded, each recording once: in the order of kits, of paths.
pub(crate) type Cast = BTreeMap<Credit, Role>;

/// Writes the page of a mix.
///
/// # Errors
/// As [`write_beside`].
pub(crate) fn write(path: &Path, title: &str, mix: &str, cast: &Cast) -> Result<(), Problem> {
    write_beside(path, |out| out.write_all(shown(&page(title, mix, cast)).as_bytes()))
}

/// The page: what it is about, then a block a recording under the kit that it is of, then what is left to ask.
fn page(title: &str, mix: &str, cast: &Cast) -> String {
    let mut page = format!("{}: what sounds in {}\n", one_line(title), one_line(mix));
    let (rooms, shots): (Vec<_>, Vec<_>) = cast.values().partition(|role| role.hits.is_empty());
    let rooms = match rooms.len() {
        0 => String::new(),
        count => format!(" and {}", counted(count, "recorded room")),
    };
    let _ = writeln!(
        page,
        "{}{rooms}, rendered by {MADE_BY}",
        counted(shots.len(), "one-shot")
    );
    // Kits first, then files from elsewhere, then the tone that has no file.
    let shelf = |credit: &Credit| match (&credit.kit, &credit.sha256) {
        (Some(kit), _) => (0, one_line(kit)),
        (None, Some(_)) => (1, "Files of no kit".to_string()),
        (None, None) => (2, "Of pressroll's own".to_string()),
    };
    let mut shelves: BTreeMap<(u8, String), Vec<(&Credit, &Role)>> = BTreeMap::new();
    for (credit, role) in cast {
        shelves.entry(shelf(credit)).or_default().push((credit, role));
    }
    for ((_, heading), recordings) in shelves {
        let _ = write!(page, "\n{heading}\n{}\n", "-".repeat(heading.chars().count()));
        for (credit, role) in recordings {
            block(&mut page, credit, role);
        }
    }
    let unclear = cast.keys().filter(|credit| credit.licence.is_none());
    let unclear: Vec<&str> = unclear.map(|credit| credit.path.as_str()).collect();
    if !unclear.is_empty() {
        let _ = writeln!(page, "\nNothing says on what terms these may be used:");
        unclear.iter().for_each(|path| {
            let _ = writeln!(page, "  {}", one_line(path));
        });
    }
    page
}

/// One recording: its path, then a line for each thing there is to say of it.
fn block(page: &mut String, credit: &Credit, role: &Role) {
    let _ = writeln!(page, "\n  {}", one_line(&credit.path));
    let played = role
        .hits
        .iter()
        .map(|(piece, hits)| format!("{piece}, {}", counted(*hits, "hit")));
    let played = played.chain(
        role.rooms
            .iter()
            .map(|room| format!("the impulse response of `{room}`")),
    );
    let mut line = |name: &str, text: &str| {
        let _ = writeln!(page, "    {name:<9}{text}");
    };
    line("plays", &one_line(&played.collect::<Vec<_>>().join("; ")));
    line("maker", &said(&credit.maker));
    line("licence", &said(&credit.licence));
    credit.sha256.iter().for_each(|sum| line("SHA-256", sum));
}

fn said(said: &Option<Said>) -> String {
    match said {
        None => "not told".to_string(),
        Some(Said { text, by_file: false }) => one_line(text),
        Some(Said { text, by_file: true }) => format!("{} (the file itself says so)", one_line(text)),
    }
}

/// Words on one line, whatever line ends they came with.
fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn counted(count: usize, what: &str) -> String {
    match count {
        1 => format!("1 {what}"),
        _ => format!("{count} {what}s"),
    }
}
