//! `--verify`: the same input gives the same audio, shown by rendering it once more.

use rayon::ThreadPoolBuilder;
use serde::Serialize;
use sha2::{Digest, Sha256};

use super::progress::render_unmetered;
use crate::base::audio::{Audio, db_of_gain};
use crate::kit::Kit;
use crate::loopfile::Loop;
use crate::project::{Plays, Project};
use crate::render::{Order, Rendered};
use crate::score::{Hit, Stop};
use crate::text::{Problem, Problems};

/// What two renders had in common: by these sums a later one can be held against them.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct Verified {
    /// SHA-256 of all that is played, in hexadecimal. The same on every machine.
    pub score: String,
    /// SHA-256 of the finished samples before they are packed for a file. The same on every machine of a kind.
    pub audio: String,
}

/// Opens the file of a project once more, renders it on another number of threads and with no render cache, and compares
/// what comes of it with the `first` render.
///
/// # Errors
/// That they differ, with the first place where they do.
pub(super) fn verify(project: &Project, order: &Order, first: &Rendered) -> Result<Verified, Problems> {
    let threads = if rayon::current_num_threads() == 1 { 3 } else { 1 };
    let pool = ThreadPoolBuilder::new().num_threads(threads).build();
    let pool = pool.map_err(|error| Problem::new(format!("no threads can be had for a second render: {error}")))?;
    let (score, second) = pool.install(|| -> Result<_, Problems> {
        let again = project.opened_by().clone().open()?;
        let second = render_unmetered(&again, order, None)?;
        Ok((score_sum(&again, order)?, second))
    })?;
    let verified = Verified {
        score: score_sum(project, order)?,
        audio: audio_sum(&first.audio),
    };
    if score != verified.score {
        return Err(differs("it plays other hits").into());
    }
    match first_difference(&first.audio, &second.audio) {
        Some(what) => Err(differs(&what).into()),
        None => Ok(verified),
    }
}

fn differs(how: &str) -> Problem {
    Problem::new(format!("a second render differs from the first: {how}"))
        .help("see that nothing writes to the loop and its kits meanwhile, and render again; nothing was written")
}

/// The first place where two renders differ, and how far they are apart at most; none where they are the same to the bit.
fn first_difference(one: &Audio, other: &Audio) -> Option<String> {
    if one.frames() != other.frames() {
        return Some(format!("{} frames, then {}", one.frames(), other.frames()));
    }
    let sides = || one.channels.iter().zip(&other.channels);
    let pairs =
        |(one, other): (&Vec<f32>, &Vec<f32>)| one.iter().zip(other).position(|(a, b)| a.to_bits() != b.to_bits());
    let frame = sides().filter_map(pairs).min()?;
    let apart =
        |(one, other): (&Vec<f32>, &Vec<f32>)| one.iter().zip(other).fold(0f32, |most, (a, b)| most.max((a - b).abs()));
    let most = sides().map(apart).fold(0f32, f32::max);
    let seconds = frame as f64 / f64::from(one.rate);
    let level = match db_of_gain(most.into()) {
        db if db.is_finite() => format!("by up to {db:.1} dBFS"),
        _ => "in signs of zero alone".to_string(),
    };
    Some(format!("from {seconds:.3} s on (frame {frame}), {level}"))
}

/// SHA-256 of every hit, of one round of a loop and of all rounds of a form: its part, its recording's file, and each of its
/// values to the bit.
fn score_sum(project: &Project, order: &Order) -> Result<String, Problems> {
    let rounds = match project.plays() {
        Plays::Loop(..) => 1,
        Plays::Form(..) => order.rounds,
    };
    let score = project.score(&Order { rounds, ..*order })?;
    let mut sum = Sha256::new();
    sum.update(score.seconds.to_bits().to_le_bytes());
    for passage in &score.passages {
        hits(&mut sum, passage.song, passage.kit, &passage.parts);
    }
    Ok(hexadecimal(sum))
}

fn hits(sum: &mut Sha256, song: &Loop, kit: &Kit, parts: &[Vec<Hit>]) {
    // Lengths go before what is of any length, so that no two scores run into the same bytes.
    let text = |sum: &mut Sha256, text: &str| {
        sum.update((text.len() as u64).to_le_bytes());
        sum.update(text);
    };
    for (part, hits) in song.parts.iter().zip(parts) {
        text(sum, &part.name);
        sum.update((hits.len() as u64).to_le_bytes());
        for hit in hits {
            text(sum, &part.pieces[hit.piece].piece);
            text(
                sum,
                &kit.file(hit.take).file_name().unwrap_or_default().to_string_lossy(),
            );
            let (stop, after) = match hit.stop {
                None => (0, 0.0),
                Some(Stop::Later(after)) => (1, after),
                Some(Stop::NextRound(after)) => (2, after),
            };
            let values = [
                hit.at,
                hit.velocity,
                hit.top,
                hit.tune,
                hit.gain_db,
                hit.start,
                hit.dull,
                after,
            ];
            values
                .iter()
                .for_each(|value| sum.update(value.to_bits().to_le_bytes()));
            // No pitch and no length are told from every one that there can be.
            sum.update(hit.length.map_or(u64::MAX, f64::to_bits).to_le_bytes());
            sum.update(hit.pitch.map_or(i64::MIN, i64::from).to_le_bytes());
            sum.update([u8::from(hit.grace) | u8::from(hit.release.is_some()) << 1, stop]);
            // What most hits have not is left out of the sums of loops without it.
            if let Some(curve) = &hit.curve {
                sum.update(format!("{curve:?}"));
            }
            if let Some(decay) = hit.decay {
                sum.update(decay.to_bits().to_le_bytes());
            }
            if hit.legato {
                sum.update(b"legato");
            }
            if let Some(neighbour) = &hit.neighbour {
                let file = kit.file(neighbour.take).file_name().unwrap_or_default();
                text(sum, &file.to_string_lossy());
                let values = [neighbour.top, neighbour.tune, neighbour.gain_db];
                values
                    .iter()
                    .for_each(|value| sum.update(value.to_bits().to_le_bytes()));
            }
        }
    }
}

/// SHA-256 of samples as 32-bit floats, little end first, one channel after the other.
fn audio_sum(audio: &Audio) -> String {
    let mut sum = Sha256::new();
    let mut bytes = Vec::new();
    for samples in audio.channels.iter().flat_map(|side| side.chunks(65_536)) {
        bytes.clear();
        bytes.extend(samples.iter().flat_map(|sample| sample.to_le_bytes()));
        sum.update(&bytes);
    }
    hexadecimal(sum)
}

fn hexadecimal(sum: Sha256) -> String {
    sum.finalize().iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn audio(left: Vec<f32>, right: Vec<f32>) -> Audio {
        Audio {
            channels: vec![left, right],
            rate: 8000,
        }
    }

    #[test]
    fn the_first_difference_is_told_to_the_bit() {
        let one = audio(vec![0.0, 0.5, 0.0], vec![0.0; 3]);
        let with = |sample: f32| audio(vec![0.0, 0.5, 0.0], vec![0.0, 0.0, sample]);
        let told = |other: &Audio| first_difference(&one, other);
        assert_eq!(told(&one), None);
        assert_eq!(
            told(&with(0.1)).unwrap(),
            "from 0.000 s on (frame 2), by up to -20.0 dBFS"
        );
        assert_eq!(
            told(&with(-0.0)).unwrap(),
            "from 0.000 s on (frame 2), in signs of zero alone"
        );
        assert_eq!(told(&audio(vec![0.0], vec![0.0])).unwrap(), "3 frames, then 1");
    }

    #[test]
    fn sums_are_of_every_bit() {
        let sum = |sample: f32| audio_sum(&audio(vec![0.0; 70_000], vec![sample; 70_000]));
        assert_eq!(sum(0.0), sum(0.0));
        assert_ne!(sum(0.0), sum(-0.0));
        // By coreutils' sha256sum of two zero samples.
        let none = audio(vec![0.0], vec![0.0]);
        assert_eq!(
            audio_sum(&none),
            "af5570f5a1810b7af78caf4bc70a660f0df51e42baf91d4de5b2328de0e83dfc"
        );
    }
}
