//! `pressroll start`.

use std::path::PathBuf;

use clap::Args;

use super::replace::nothing_there;
use super::{Done, output};
use crate::export::write_beside;
use crate::files::plainly;
use crate::kit::Kit;
use crate::starter;
use crate::text::Problem;
use std::io::Write;

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
        let files: Vec<(PathBuf, &[u8])> = starter::DEMOS
            .iter()
            .flat_map(|demo| {
                let folder = self.folder.join(demo.name);
                demo.files.iter().map(move |(path, bytes)| (folder.join(path), *bytes))
            })
            .collect();
        for (path, _) in &files {
            nothing_there(path)?;
        }
        for (path, bytes) in &files {
            write_beside(path, |out| out.write_all(bytes))?;
            if path.extension().is_some_and(|extension| extension == "toml") && !path.ends_with("kit.toml") {
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
        Ok(output::to_stdout(&page)?)
    }

    fn first_loop(&self, folder: &PathBuf) -> Done {
        let kit = Kit::open(std::slice::from_ref(folder), &[])?;
        let path = self.folder.join("first-loop.toml");
        nothing_there(&path)?;
        // The loop names its kit by a path that holds from anywhere.
        let place = std::fs::canonicalize(folder)
            .map_err(|error| Problem::new(format!("{} can't be opened: {}", folder.display(), plainly(&error))))?;
        let text = starter::first_loop(&place, kit.index());
        write_beside(&path, |out| out.write_all(text.as_bytes()))?;
        Ok(output::to_stdout(&format!(
            "{} plays on {}. Hear it with:\n  pressroll render {}",
            path.display(),
            folder.display(),
            path.display()
        ))?)
    }
}
