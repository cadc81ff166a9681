//! `pressroll start`.

use std::path::{Path, PathBuf};

use clap::Args;

use super::replace::nothing_there;
use super::{Done, output};
use crate::export::write_beside;
use crate::files::plainly;
use crate::kit::Kit;
use crate::starter::{self, Level, Set};
use crate::text::table::{Table, apart};
use crate::text::width::wrapped;
use crate::text::{Problem, count_of, one_line, shown_path};
use std::io::Write;

/// Columns of the page.
const WIDTH: usize = 80;
/// The widest that a file's name may be.
const FILE: usize = 44;

/// Make the demo kits and their loops in a folder, or a first loop for a kit of your own
#[derive(Args)]
pub(super) struct Start {
    /// Where to make them
    #[arg(value_name = "FOLDER")]
    folder: PathBuf,
    /// Make a first loop on the one-shots of this folder instead
    #[arg(long, value_name = "FOLDER")]
    kit: Option<PathBuf>,
}

impl Start {
    /// Makes them, and says what to do next.
    pub(super) fn run(self) -> Done {
        match &self.kit {
            Some(kit) => self.first_loop(kit),
            None => self.demos(),
        }
    }

    fn demos(&self) -> Done {
        let mut loops = Vec::new();
        let (list, bytes) = starter::CATALOGUE;
        let list = self.folder.join(list);
        let of_kits = starter::DEMOS.iter().flat_map(|demo| {
            let folder = self.folder.join(demo.name);
            demo.files.iter().map(move |(path, bytes)| (folder.join(path), *bytes))
        });
        let files: Vec<(PathBuf, &[u8])> = of_kits.chain([(list.clone(), bytes)]).collect();
        for (path, _) in &files {
            nothing_there(path)?;
        }
        for (path, bytes) in &files {
            write_beside(path, |out| out.write_all(bytes))?;
            if path.extension().is_some_and(|extension| extension == "toml")
                && !path.ends_with("kit.toml")
                && *path != list
            {
                loops.push(path);
            }
        }
        let mut page = format!(
            "{} files in {}. Loops to begin with:",
            files.len(),
            self.folder.display()
        );
        for path in loops {
            page += &format!("\n  pressroll render {}", path.display());
        }
        page += &format!(
            "\nAll of them as a catalogue:\n  pressroll catalogue {}",
            list.display()
        );
        Ok(output::to_stdout(&page)?)
    }

    fn first_loop(&self, folder: &PathBuf) -> Done {
        let kit = Kit::open(std::slice::from_ref(folder), &[])?;
        let path = self.folder.join("first-loop.toml");
        nothing_there(&path)?;
        // The loop names its kit by a path that holds from anywhere.
        let place = std::fs::canonicalize(folder)
            .map_err(|error| Problem::new(format!("{} can't be opened: {}", folder.display(), plainly(&error))))?;
        let set = Set::of(&kit);
        let chosen = |name: &str| set.chosen.iter().any(|one| one.piece == name);
        let listed = kit.index().listed().iter().map(|piece| piece.name.as_str());
        let others: Vec<&str> = listed.filter(|name| !chosen(name)).collect();
        let text = |levels: &[Level]| starter::first_loop(&place, &set, levels, &others);
        let levels = starter::balanced(&path, &text(&vec![Level::UNTOUCHED; set.chosen.len()]), &set)?;
        write_beside(&path, |out| out.write_all(text(&levels).as_bytes()))?;
        Ok(output::to_stdout(&report(&path, folder, &set, &levels))?)
    }
}

/// What a first loop plays, and why.
fn report(path: &Path, folder: &Path, set: &Set, levels: &[Level]) -> String {
    let mut page = format!("{} plays on {}:\n", shown_path(path), shown_path(folder));
    let mut table = Table::with_words();
    table.row("", ["gain", "by itself", "file"]);
    table.row("", ["dB", "LUFS", ""]);
    let files: Vec<String> = set.chosen.iter().map(|one| shown_path(&one.file)).collect();
    let files = apart(&files.iter().map(String::as_str).collect::<Vec<_>>(), FILE);
    for ((one, level), file) in set.chosen.iter().zip(levels).zip(files) {
        let lufs = level.lufs.map_or("silent".into(), |lufs| format!("{lufs:.1}"));
        table.row(
            format!("  {}", one_line(&one.piece)),
            [format!("{:.1}", level.gain), lufs, file],
        );
    }
    page.push_str(&table.text(WIDTH));
    wrapped(&why(set), WIDTH)
        .iter()
        .for_each(|line| page.push_str(&format!("{line}\n")));
    page + &format!("Hear it with:\n  pressroll render {}", shown_path(path))
}

/// Why these pieces, and why so loud.
fn why(set: &Set) -> String {
    let mut why = match (&set.folder, &set.word) {
        (None, None) => String::new(),
        (folder, word) => {
            let lie = folder.as_ref().map(|folder| format!("lie in `{}`", shown_path(folder)));
            let share = word
                .as_ref()
                .map(|word| format!("have `{}` in their names", one_line(word)));
            let both: Vec<String> = lie.into_iter().chain(share).collect();
            let strays = set.chosen.iter().filter(|one| !set.of_family(one)).count();
            let what = if strays == 0 { "They" } else { "Most of them" };
            format!("{what} {}. ", both.join(" and "))
        }
    };
    if let Some(rooms) = set.rooms {
        why.push_str(&format!(
            "Of {} that could play, these are most alike in room (tails within {rooms:.1} octaves) and level. ",
            count_of(set.of, "piece")
        ));
    }
    match set.chosen.iter().map(|one| one.role.under).fold(0.0, f64::max) {
        0.0 => why.push_str("All are equally loud, as measured."),
        under => why.push_str(&format!(
            "Levels are measured: what keeps time lies {under:.0} LU below the rest."
        )),
    }
    why
}
