//! What a render needs: whether that is within the limits, and within the memory there is.

use std::collections::BTreeSet;

use rayon::prelude::*;

use super::LONGEST;
use crate::base::memory;
use crate::files;
use crate::kit::{Kit, Sides};
use crate::loopfile::{Loop, SpaceKind};
use crate::text::Problem;

/// What is asked for, as far as memory goes.
pub(super) struct Need {
    /// Seconds of the finished audio. There are two signals of that length: what is made, and what it is made of.
    pub seconds: f64,
    /// Seconds of stereo that are there at one time beside them.
    pub held: f64,
    /// The recordings that are decoded, each with what tells its ways apart.
    pub files: BTreeSet<Decoding>,
    /// Frames per second.
    pub rate: u32,
}

/// A file that is decoded, and how: an impulse response, else whether care is taken of a one-shot.
pub(super) type Decoding = (Sides, Option<bool>);

/// What an impulse response takes for each byte that is decoded: its spectrum is made of it and as many zeros.
const OF_IMPULSE: u64 = 3;

/// The files that a loop decodes for some takes of its kit, and for its rooms.
pub(super) fn files_of(song: &Loop, kit: &Kit, takes: &[(usize, bool)]) -> impl Iterator<Item = Decoding> {
    let takes = takes.iter().map(|(take, trim)| (kit.sides(*take), Some(*trim)));
    let impulses = song.spaces.iter().filter_map(|space| match &space.kind {
        SpaceKind::Impulse(impulse) => Some((impulse.file.as_path().into(), None)),
        _ => None,
    });
    takes.chain(impulses)
}

/// Refuses audio that is too long, and what memory has no room for.
pub(super) fn allow(need: &Need) -> Result<(), Problem> {
    let seconds = need.seconds;
    let frames = seconds * f64::from(need.rate);
    if seconds > LONGEST || frames > f64::from(u32::MAX / 8) {
        let what = format!(
            "this would be {:.0} minutes of audio; {:.0} minutes are the most",
            seconds / 60.0,
            LONGEST / 60.0
        );
        return Err(Problem::new(what).help("ask for fewer bars or a faster tempo"));
    }
    memory::room().map_or(Ok(()), |room| need.fits(room))
}

impl Need {
    /// Bytes that its recordings take once they are decoded. One whose header does not tell counts nothing.
    fn recordings(&self) -> u64 {
        let bytes = |(sides, trim): &Decoding| {
            let times = if trim.is_some() { 1 } else { OF_IMPULSE };
            times * sides.decoded_bytes(self.rate).unwrap_or(0)
        };
        self.files.par_iter().map(bytes).sum()
    }

    fn fits(&self, room: u64) -> Result<(), Problem> {
        let recordings = self.recordings();
        let audio = ((2.0 * self.seconds + self.held) * f64::from(self.rate)) as u64 * 8;
        if audio.saturating_add(recordings) <= room {
            return Ok(());
        }
        let (of, help) = match recordings > audio {
            true => (
                "its recordings and ",
                "play shorter recordings, or ask for a lower --rate",
            ),
            false => ("", "ask for fewer bars, a lower --rate, or fewer rooms and delays"),
        };
        let what = format!(
            "this would take {} of memory for {of}{:.1} minutes of audio; there is room for {}",
            files::size(audio + recordings),
            self.seconds / 60.0,
            files::size(room)
        );
        Err(Problem::new(what).help(help))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn recordings_count_beside_the_audio() {
        let folder = tempfile::tempdir().expect("a folder");
        let file = folder.path().join("bell.wav");
        let audio = crate::base::audio::Audio::silence(1, 100_000, 48_000);
        let coding = crate::wav::Coding::Int16;
        crate::export::wav::write(&file, &audio, coding, &crate::wav::Tags::default(), 1).expect("a file");
        let need = |files: &[Decoding]| Need {
            seconds: 1.0,
            held: 0.5,
            files: files.iter().cloned().collect(),
            rate: 96_000,
        };
        let audio = 5 * 48_000 * 8;
        let taken = 2 * 100_000 * 4;
        let file = Sides::from(file.as_path());
        let once = (file.clone(), Some(true));
        for (files, bytes) in [
            (&[][..], audio),
            (std::slice::from_ref(&once), audio + taken),
            (&[once.clone(), (file.clone(), Some(false))], audio + 2 * taken),
            (&[once.clone(), (file, None)], audio + (1 + OF_IMPULSE) * taken),
        ] {
            assert_eq!(need(files).fits(bytes), Ok(()), "{files:?}");
            let refused = need(files).fits(bytes - 1).expect_err("a byte is missing");
            assert!(refused.what.contains("memory"), "{refused}");
        }
    }
}
