//! A recording that lies in one file, or in two: its left side and its right.

use std::path::{Path, PathBuf};

use super::{Decoded, EmbeddedInfo, check, decode, decoded_bytes};
use crate::text::Problem;

/// The file of a recording, or the mono files of its two sides.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Sides {
    /// Its file, or that of its left side.
    pub left: PathBuf,
    /// That of its right side, where it has one of its own.
    pub right: Option<PathBuf>,
}

impl From<&Path> for Sides {
    fn from(file: &Path) -> Sides {
        Sides {
            left: file.to_path_buf(),
            right: None,
        }
    }
}

impl Sides {
    /// Its files, the left one first.
    pub(crate) fn files(&self) -> impl Iterator<Item = &Path> {
        std::iter::once(self.left.as_path()).chain(self.right.as_deref())
    }

    /// The same, taken out.
    pub(crate) fn into_files(self) -> impl Iterator<Item = PathBuf> {
        std::iter::once(self.left).chain(self.right)
    }

    /// Decodes it: two files become the channels of one sound, the shorter with silence behind it. What the left one says of its
    /// root, its loops and itself holds.
    ///
    /// # Errors
    /// When a file can't be read; when two are not both mono and of one rate.
    pub(crate) fn decode(&self) -> Result<Decoded, Problem> {
        let decoded = |path: &Path| decode(path).map_err(|unread| unread.problem(path));
        let left = decoded(&self.left)?;
        let Some(path) = &self.right else { return Ok(left) };
        let right = decoded(path)?;
        let form = |side: &Decoded| (side.audio.channels.len(), side.audio.rate);
        self.suit(form(&left), form(&right))?;
        Ok(joined(left, right))
    }

    /// Looks whether [`Sides::decode`] would decode it, as [`check`] does.
    ///
    /// # Errors
    /// As [`Sides::decode`], always both or neither.
    pub(crate) fn check(&self) -> Result<EmbeddedInfo, Problem> {
        let checked = |path: &Path| check(path).map_err(|unread| unread.problem(path));
        let left = checked(&self.left)?;
        let Some(path) = &self.right else { return Ok(left) };
        let right = checked(path)?;
        self.suit((left.channels, left.rate), (right.channels, right.rate))?;
        Ok(EmbeddedInfo {
            channels: 2,
            seconds: left.seconds.max(right.seconds),
            ..left
        })
    }

    /// Bytes of its sound, decoded and brought to a rate; none where a header does not tell.
    pub(crate) fn decoded_bytes(&self, rate: u32) -> Option<u64> {
        let left = decoded_bytes(&self.left, rate)?;
        match &self.right {
            Some(right) => Some(2 * left.max(decoded_bytes(right, rate)?)),
            None => Some(left),
        }
    }

    /// Refuses two files that are no two sides, by their channels and rates.
    fn suit(&self, left: (usize, u32), right: (usize, u32)) -> Result<(), Problem> {
        let mut names = self.files().map(|file| file.display().to_string());
        let [one, other] = [names.next(), names.next()].map(Option::unwrap_or_default);
        for (name, (channels, _)) in [(&one, left), (&other, right)] {
            if channels != 1 {
                let what = format!("`{name}` is stereo, so it can't be one side of a recording");
                return Err(Problem::new(what).help("name a stereo file alone, without `left` and `right`"));
            }
        }
        if left.1 != right.1 {
            let what = format!(
                "`{one}` has {} Hz and `{other}` {} Hz, so they can't be the sides of one recording",
                left.1, right.1
            );
            return Err(Problem::new(what).help("export both at one rate"));
        }
        Ok(())
    }
}

/// Two mono sounds as the channels of one.
fn joined(mut left: Decoded, mut right: Decoded) -> Decoded {
    let (own, frames) = (left.audio.frames(), left.audio.frames().max(right.audio.frames()));
    // What lies past the left side's own end was no loop of it.
    left.loops.retain(|(_, to)| *to <= own as u64);
    left.audio.channels.append(&mut right.audio.channels);
    left.audio.channels.iter_mut().for_each(|side| side.resize(frames, 0.0));
    Decoded {
        missing: left.missing.max(right.missing),
        ..left
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::base::audio::Audio;
    use crate::export::wav::write;
    use crate::wav::{Coding, Tags};

    fn put(folder: &Path, name: &str, channels: Vec<Vec<f32>>, rate: u32) -> PathBuf {
        let path = folder.join(name);
        write(&path, &Audio { channels, rate }, Coding::Float32, &Tags::default(), 1).expect("a file");
        path
    }

    #[test]
    fn two_files_are_two_channels_and_the_shorter_ends_in_silence() {
        let folder = tempfile::tempdir().expect("a folder");
        let sides = Sides {
            left: put(folder.path(), "l.wav", vec![vec![0.5, 0.25]], 44_100),
            right: Some(put(folder.path(), "r.wav", vec![vec![-0.5, 0.5, -0.25]], 44_100)),
        };
        let decoded = sides.decode().expect("they suit");
        assert_eq!(decoded.audio.channels, [[0.5, 0.25, 0.0], [-0.5, 0.5, -0.25]]);
        let told = sides.check().expect("they suit");
        assert_eq!((told.channels, told.seconds), (2, 3.0 / 44_100.0));
        assert_eq!(sides.decoded_bytes(44_100), Some(decoded.audio.bytes() as u64));
    }

    proptest! {
        #[test]
        fn two_files_are_decoded_as_the_stereo_file_made_of_them(
            left in prop::collection::vec(-1.0f32..1.0, 1..40),
            right in prop::collection::vec(-1.0f32..1.0, 1..40),
            rate in prop::sample::select(vec![8_000u32, 44_100, 192_000]),
        ) {
            let folder = tempfile::tempdir().expect("a folder");
            let frames = left.len().max(right.len());
            let mut both = vec![left.clone(), right.clone()];
            both.iter_mut().for_each(|side| side.resize(frames, 0.0));
            let sides = Sides {
                left: put(folder.path(), "l.wav", vec![left], rate),
                right: Some(put(folder.path(), "r.wav", vec![right], rate)),
            };
            let stereo = Sides::from(put(folder.path(), "both.wav", both, rate).as_path());
            prop_assert_eq!(sides.decode().expect("they suit"), stereo.decode().expect("it is whole"));
            prop_assert_eq!(sides.check().expect("they suit"), stereo.check().expect("it is whole"));
            prop_assert_eq!(sides.decoded_bytes(rate), stereo.decoded_bytes(rate));
        }
    }

    #[test]
    fn files_that_are_no_two_sides_are_refused_alike_by_looking_and_decoding() {
        let folder = tempfile::tempdir().expect("a folder");
        let mono = put(folder.path(), "mono.wav", vec![vec![0.5; 4]], 44_100);
        let stereo = put(folder.path(), "stereo.wav", vec![vec![0.5; 4]; 2], 44_100);
        let fast = put(folder.path(), "fast.wav", vec![vec![0.5; 4]], 48_000);
        let gone = folder.path().join("gone.wav");
        for (left, right, word) in [
            (&mono, &stereo, "stereo.wav` is stereo"),
            (&stereo, &mono, "stereo.wav` is stereo"),
            (&mono, &fast, "44100 Hz"),
            (&mono, &gone, "gone.wav` is not there"),
            (&gone, &mono, "gone.wav` is not there"),
        ] {
            let sides = Sides {
                left: left.clone(),
                right: Some(right.clone()),
            };
            let refused = sides.decode().expect_err(word);
            assert!(refused.what.contains(word), "{refused}");
            assert_eq!(sides.check(), Err(refused));
        }
    }
}
