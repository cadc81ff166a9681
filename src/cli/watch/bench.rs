//! What renders of one watch share: kits as they were opened, and what earlier renders have left of use.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::{Mutex, MutexGuard};

use crate::kit::Kit;
use crate::project::{self, Project};
use crate::render_cache::RenderCache;
use crate::text::Problems;
use crate::watch::{Inventory, MadeOf};

/// The bench of a watch. Renders that are under way at once would wait for one another: whoever renders holds it.
#[derive(Default)]
pub(super) struct Bench {
    pub(super) cache: RenderCache,
    kits: Kits,
}

impl Bench {
    /// Opens a project on kits that are open already.
    pub(super) fn open(&mut self, options: project::Options) -> Result<Project, Problems> {
        options.open_on(&mut |folders, swaps, _| self.kits.open(folders, swaps))
    }
}

/// The bench, for one render; a new one where a render broke off, as nobody knows what state that has left it in.
pub(super) fn hold(bench: &Mutex<Bench>) -> MutexGuard<'_, Bench> {
    bench.lock().unwrap_or_else(|broken| {
        let mut held = broken.into_inner();
        *held = Bench::default();
        bench.clear_poison();
        held
    })
}

/// Kits as they were opened, for as long as nothing in their folders changes.
#[derive(Default)]
struct Kits(BTreeMap<Vec<PathBuf>, (Inventory, Kit)>);

impl Kits {
    /// The same as [`Kit::open`] gives now.
    fn open(&mut self, folders: &[PathBuf], swaps: &[(String, PathBuf)]) -> Result<Kit, Problems> {
        let now = Inventory::of(&MadeOf {
            files: swaps.iter().map(|(_, file)| file.clone()).collect(),
            kits: folders.iter().cloned().collect(),
            spared: PathBuf::new(),
        });
        if let Some((then, kit)) = self.0.get(folders)
            && *then == now
        {
            return Ok(kit.clone());
        }
        let kit = Kit::open(folders, swaps)?;
        self.0.insert(folders.to_vec(), (now, kit.clone()));
        Ok(kit)
    }
}
