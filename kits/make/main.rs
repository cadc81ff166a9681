//! Makes the recordings of the demo kits: `cargo run --release --example make_kits` writes them into the folders beside
//! this one, where the program embeds them. Loops and `kit.toml` are written by hand.
//!
//! Listen to what changed before you commit it.

use std::path::Path;

mod metal;
mod pack;
mod pitched;
mod shed;
mod skins;
mod small;
mod stairwell;
mod takes;
mod workshop;

fn main() -> std::io::Result<()> {
    let kits = Path::new(env!("CARGO_MANIFEST_DIR")).join("kits");
    for (path, wav) in takes::recordings() {
        std::fs::write(kits.join(path), wav)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;
    use std::path::PathBuf;

    use super::*;

    #[test]
    fn committed_recordings_are_what_is_made() {
        let kits = Path::new(env!("CARGO_MANIFEST_DIR")).join("kits");
        let made = takes::recordings();
        for (path, wav) in &made {
            let committed = std::fs::read(kits.join(path)).unwrap_or_default();
            assert!(committed == *wav, "{} differs from what is made", path.display());
        }
        let names: BTreeSet<PathBuf> = made.into_iter().map(|(path, _)| path).collect();
        let embedded = pressroll::internals::starter::DEMOS.iter().flat_map(|demo| {
            let files = demo.files.iter().map(|(path, _)| Path::new(demo.name).join(path));
            files.filter(|path| path.extension().is_some_and(|extension| extension == "wav"))
        });
        assert_eq!(names, embedded.collect());
    }
}
