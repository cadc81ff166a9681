//! What listening to a one-shot finds: its figures, its pitch, its loudness, and what it is like.
//!
//! Every file is listened to once: [`find_all`] remembers what was found for as long as a file stays as it is, in
//! the process and, where the program asks for it ([`keep_in`]), in the user's cache folder, which all commands share.
//!
//! In: files. Out: [`Findings`], and with [`distance`] how far two sounds lie apart. It knows nothing of names, pieces or loops.

pub(crate) mod distance;
pub(crate) mod fingerprint;
mod memory;
mod store;

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::audio::decode::Decoded;
use super::audio::facts::Facts;
use crate::base::audio::Audio;
use crate::measure::shot_loudness;
use fingerprint::Fingerprint;
pub(crate) use memory::{find_all, find_recordings, listened, show_listening};
pub(crate) use store::{ignore_kept, keep_in};

/// What is found in one recording.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Findings {
    /// Its figures.
    pub facts: Facts,
    /// Loudness in LUFS, of a short one with silence behind it; none for silence.
    pub lufs: Option<f64>,
    /// What tells its samples from every other file's.
    pub sum: [u8; 16],
    /// What it is like; none for silence.
    pub fingerprint: Option<Fingerprint>,
}

impl Findings {
    /// Listens to a sound.
    pub(crate) fn of(decoded: &Decoded) -> Findings {
        let audio = &decoded.audio;
        Findings {
            facts: Facts::of(decoded),
            lufs: shot_loudness(audio),
            sum: sum(audio),
            fingerprint: Fingerprint::of(audio),
        }
    }

    /// The findings of a stereo recording whose left and right side lie in two files, from those of the files. Its loudness is that
    /// of both sides' power, but for the gate, which either side has passed by itself.
    pub(crate) fn joined(left: &Findings, right: &Findings) -> Findings {
        let power = |lufs: Option<f64>| lufs.map_or(0.0, |lufs| libm::exp10(lufs / 10.0));
        let both = power(left.lufs) + power(right.lufs);
        let mut sum = left.sum;
        sum.iter_mut()
            .zip(right.sum)
            .for_each(|(left, right)| *left = left.rotate_left(1) ^ right);
        Findings {
            facts: Facts::joined(&left.facts, &right.facts),
            lufs: (both > 0.0).then(|| 10.0 * libm::log10(both)),
            sum,
            fingerprint: left.fingerprint.clone().or_else(|| right.fingerprint.clone()),
        }
    }
}

/// The sum of all samples, their number and their rate: what is the same to the ear, whatever its file says beside it.
fn sum(audio: &Audio) -> [u8; 16] {
    let mut sum = Sha256::new();
    sum.update(audio.rate.to_le_bytes());
    sum.update((audio.channels.len() as u64).to_le_bytes());
    let mut bytes = Vec::with_capacity(4 * 4096);
    for part in audio.channels.iter().flat_map(|side| side.chunks(4096)) {
        bytes.clear();
        bytes.extend(part.iter().flat_map(|sample| sample.to_le_bytes()));
        sum.update(&bytes);
    }
    let whole: [u8; 32] = sum.finalize().into();
    *whole.first_chunk().expect("16 of 32 bytes")
}
