//! What a project plays, as written music.

use super::{Plays, Project};
use crate::notation::{Asked, Sheet, of_form, of_loop};

impl Project {
    /// Its staves and bars, with the names of its kits' folders.
    pub(crate) fn sheet(&self, asked: Asked) -> Sheet {
        let sheet = match &self.plays {
            Plays::Loop(song, _) => of_loop(song, asked),
            Plays::Form(form, _) => of_form(form, asked),
        };
        let folders = self.loops().into_iter().flat_map(|(_, kit)| kit.folders());
        let mut kits: Vec<String> = Vec::new();
        for folder in folders {
            // `..` has a name only where it leads.
            let real = folder.canonicalize();
            let real = real.as_deref().unwrap_or(folder);
            let name = real.file_name().unwrap_or_default().to_string_lossy().into_owned();
            if !kits.contains(&name) {
                kits.push(name);
            }
        }
        Sheet { kits, ..sheet }
    }
}
