//! Credits: whose a recording is, on what terms it may be used, and the sum that tells its file from every other.

use std::path::{Component, Path};

use crate::files;
use crate::kit::audio::decode::told_tags;
use crate::kit::open::{File, Kit};
use crate::schema::STAND_IN;
use crate::text::Problem;

/// What there is to say of one recording, for whoever has to clear it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Credit {
    /// The title of the kit that it is of; none for a file from elsewhere.
    pub kit: Option<String>,
    /// Its path: within the kit's folder, or as it was given for a file from elsewhere.
    pub path: String,
    /// SHA-256 of the file's bytes (FIPS 180-4), in hexadecimal; none for the stand-in's tone, which has no file.
    pub sha256: Option<String>,
    /// Who made it.
    pub maker: Option<Said>,
    /// On what terms it may be used.
    pub licence: Option<Said>,
}

/// A maker or a licence, and who says so.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Said {
    /// The words.
    pub text: String,
    /// True where the file says it of itself, for want of words in `kit.toml`: a WAV's `LIST INFO`, an AIFF's text chunks, a
    /// FLAC's Vorbis comments.
    pub by_file: bool,
}

impl Kit {
    /// The credits of a recording, by its number: that of its file, or of each of its two sides.
    ///
    /// # Errors
    /// When a file can't be read.
    ///
    /// # Panics
    /// When the kit has no such recording.
    pub fn credits(&self, take: usize) -> Result<Vec<Credit>, Problem> {
        let Some(file) = self.files.get(take) else {
            let own = |text: &str| {
                Some(Said {
                    text: text.to_string(),
                    by_file: false,
                })
            };
            return Ok(vec![Credit {
                kit: None,
                path: STAND_IN.to_string(),
                sha256: None,
                maker: own("pressroll"),
                licence: own("a plain tone of pressroll's own, synthesised: nothing to clear"),
            }]);
        };
        file.sides.files().map(|path| self.credit_of(file, path)).collect()
    }

    /// The credit of a file of a recording.
    fn credit_of(&self, file: &File, path: &Path) -> Result<Credit, Problem> {
        let about = file.folder.and_then(|folder| self.abouts.get(folder));
        let of_kit = |piece: &Option<String>, kit: Option<&String>| piece.clone().or_else(|| kit.cloned());
        let maker = of_kit(&file.maker, about.and_then(|about| about.maker.as_ref()));
        let licence = of_kit(&file.licence, about.and_then(|about| about.licence.as_ref()));
        let folder = file.folder.and_then(|folder| self.folders.get(folder));
        let within = folder.and_then(|folder| path.strip_prefix(folder).ok());
        credit(
            path,
            within.unwrap_or(path),
            about.map(|about| about.title.clone()),
            (maker, licence),
        )
    }

    /// The credit of a file that is no piece's, such as a room's impulse response: a recording of this kit, if it is, or of a folder in
    /// the kit's.
    ///
    /// # Errors
    /// When it can't be read.
    pub fn credit_file(&self, path: &Path) -> Result<Credit, Problem> {
        let mut own = self
            .files
            .iter()
            .flat_map(|file| file.sides.files().map(move |path| (file, path)));
        if let Some((file, own)) = own.find(|(_, own)| same(own, path)) {
            return self.credit_of(file, own);
        }
        let whole = path.canonicalize().ok();
        for (folder, about) in self.folders.iter().zip(&self.abouts) {
            let within = whole.as_ref().zip(folder.canonicalize().ok());
            if let Some(within) = within
                .as_ref()
                .and_then(|(file, folder)| file.strip_prefix(folder).ok())
            {
                let said = (about.maker.clone(), about.licence.clone());
                return credit(path, within, Some(about.title.clone()), said);
            }
        }
        credit(path, path, None, (None, None))
    }
}

fn same(one: &Path, other: &Path) -> bool {
    one == other
        || one
            .canonicalize()
            .ok()
            .zip(other.canonicalize().ok())
            .is_some_and(|(one, other)| one == other)
}

fn credit(
    path: &Path,
    shown: &Path,
    kit: Option<String>,
    (maker, licence): (Option<String>, Option<String>),
) -> Result<Credit, Problem> {
    // What carries no words, or none that can be read, says nothing of itself.
    let told = told_tags(path).unwrap_or_default();
    let said = |text: Option<String>, own: fn(&InfoFields) -> Option<String>| match text {
        Some(text) => Some(Said { text, by_file: false }),
        None => own(&told).map(|text| Said { text, by_file: true }),
    };
    Ok(Credit {
        kit,
        path: slashed(shown),
        sha256: Some(sha256(path)?),
        maker: said(maker, |told| every(told, &["artist"])),
        licence: said(licence, |told| {
            every(told, &["copyright", "licence"]).or_else(|| noted(told))
        }),
    })
}

/// What a file says of itself, as in [`crate::kit::audio::decode::Decoded::tags`].
type InfoFields = [(&'static str, String)];

/// Words that only stand in a note that speaks of rights, in small letters.
const OF_RIGHTS: [&str; 8] = [
    "copyright",
    "(c)",
    "\u{a9}",
    "licence",
    "license",
    "public domain",
    "all rights",
    "cc0",
];

/// All that is told under some names, each thing once.
fn every(told: &InfoFields, names: &[&str]) -> Option<String> {
    let mut texts: Vec<&str> = Vec::new();
    for (_, text) in told.iter().filter(|(name, _)| names.contains(name)) {
        if !text.trim().is_empty() && !texts.contains(&text.as_str()) {
            texts.push(text);
        }
    }
    (!texts.is_empty()).then(|| texts.join("; "))
}

/// The first note that speaks of rights: notes are also where programs leave their names.
fn noted(told: &InfoFields) -> Option<String> {
    let of_rights = |text: &str| OF_RIGHTS.iter().any(|words| text.to_lowercase().contains(words));
    let mut notes = told.iter().filter(|(name, text)| *name == "note" && of_rights(text));
    notes.next().map(|(_, text)| text.clone())
}

/// A path as it is written on every system.
fn slashed(path: &Path) -> String {
    let parts = path.components().filter(|part| !matches!(part, Component::CurDir));
    let joined = parts
        .map(|part| part.as_os_str().to_string_lossy().into_owned())
        .collect::<Vec<_>>()
        .join("/");
    joined.replacen("//", "/", usize::from(path.is_absolute()))
}

/// SHA-256 of a file's bytes in hexadecimal.
fn sha256(path: &Path) -> Result<String, Problem> {
    files::sha256(path).map_err(|refused| Problem::new(format!("`{}` {refused}", path.display())))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_are_those_of_the_standard() {
        // FIPS 180-4's example of one block, and NIST's of none: "abc" and nothing; recomputed by `tests/reference/constants.py`.
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("abc");
        std::fs::write(&file, "abc").unwrap();
        let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(sha256(&file).unwrap(), abc);
        std::fs::write(&file, "").unwrap();
        let nothing = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";
        assert_eq!(sha256(&file).unwrap(), nothing);
        assert!(
            sha256(&folder.path().join("gone"))
                .unwrap_err()
                .to_string()
                .contains("gone")
        );
    }

    #[test]
    fn paths_have_slashes() {
        assert_eq!(slashed(Path::new("./a/b.wav")), "a/b.wav");
        assert_eq!(slashed(Path::new("/a/b.wav")), "/a/b.wav");
        assert_eq!(slashed(Path::new("../b.wav")), "../b.wav");
    }
}
