//! The hits of a recording: onsets, which sound each is, how hard it was struck.

use super::Take;
use super::classify::{CLASSES, classify};
use super::colour::{BANDS, Colour, colours, share_below};
use super::doubts;
use super::exemplars::{apart, nearest};
use super::onsets::{Onset, onsets};
use super::rudiments;
use super::tempo::{self, Pulse};
use super::transcript::{Hit, Transcript};
use crate::text::Problem;

/// The most sounds that may be struck first.
pub(crate) const MOST_SOUNDS: usize = 8;

/// The most that a hit of a doubtful recording is sure of.
const DOUBTFUL: f64 = 0.5;

/// What the person says of a recording.
#[derive(Debug, Clone)]
pub(crate) struct Told {
    /// Names of its sounds: of the low, the middle and the high one, or of those that are struck first.
    pub sounds: Vec<String>,
    /// True where the recording begins with each sound once, in the order of their names.
    pub sounds_first: bool,
    /// In BPM.
    pub tempo: Option<f64>,
    /// Bars from the first hit to the last.
    pub bars: Option<u32>,
    /// Beats of a bar.
    pub beats: f64,
}

/// A hit whose sound is told by its place among the names.
#[derive(Debug, Clone, Copy)]
struct Found {
    seconds: f64,
    sound: usize,
    level: f64,
    confidence: f64,
}

/// Finds the hits of a recording.
///
/// # Errors
/// Where it has no hits, or does not begin with the sounds that it is said to begin with.
pub(crate) fn hits(take: &Take, told: &Told) -> Result<Transcript, Problem> {
    let onsets = onsets(&take.mono);
    if onsets.is_empty() {
        let what = "the recording has no hits: nothing in it begins suddenly";
        return Err(
            Problem::new(what).help("record taps, drums or a mouth's sounds, with a short silence before the first")
        );
    }
    let seconds: Vec<f64> = onsets.iter().map(|onset| onset.seconds).collect();
    let colours = colours(&take.mono, &seconds);
    let (first, found) = match told.sounds_first {
        true => (told.sounds.len(), by_exemplars(&onsets, &colours, told)?),
        false => (0, by_classes(&onsets, &colours, told)),
    };
    let mut hits = named(&found, told);
    let mut strokes = rudiments::strokes(&hits);
    rudiments::press(&mut strokes, &take.mono);
    // Grace notes and the inside of rolls say nothing of the beat.
    let beats: Vec<(f64, f64)> = onsets[first..]
        .iter()
        .filter(|onset| {
            strokes
                .iter()
                .any(|stroke| (stroke.seconds - onset.seconds).abs() < 1e-9)
        })
        .map(|onset| (onset.seconds, onset.rise))
        .collect();
    let pulse: Option<Pulse> = tempo::told(&beats, told.tempo, told.bars.map(|bars| (bars, told.beats)));
    let tempo_is_told = told.tempo.is_some();
    let doubtful = doubts::of_kind(&take.mono, &onsets[first..], pulse.as_ref(), tempo_is_told)?;
    if doubtful.is_some() {
        let most = |hit: &mut Hit| hit.confidence = hit.confidence.min(DOUBTFUL);
        hits.iter_mut().for_each(most);
    }
    let found = pulse.as_ref().filter(|_| !tempo_is_told);
    let doubts = [
        doubtful,
        doubts::of_level(&take.mono, "hits"),
        found.and_then(|pulse| doubts::of_tempo(pulse, "hits")),
    ];
    Ok(Transcript {
        seconds: take.seconds(),
        tempo: pulse.map(|pulse| pulse.tempo),
        tempo_confidence: pulse.map(|pulse| pulse.confidence),
        beat_offset: pulse.and_then(|pulse| Some(pulse.beat_at(beats.first()?.0))),
        doubts: doubts.into_iter().flatten().collect(),
        hits,
        strokes,
        ..Transcript::default()
    })
}

/// How sure an onset is, from 0 to 1.
fn certainty(onset: &Onset) -> f64 {
    /// A rise that leaves no doubt: to twice the level in all bands.
    const SURE: f64 = 0.3;
    (onset.rise / SURE).min(1.0)
}

/// The hits of classes: low, middle, high.
fn by_classes(onsets: &[Onset], colours: &[Colour], told: &Told) -> Vec<Found> {
    // Of two names the second is all that is not low.
    let named = told.sounds.len().min(CLASSES);
    let mut found = Vec::new();
    for ((onset, colour), likely) in onsets.iter().zip(colours).zip(classify(colours)) {
        let mut sounds = [0.0; CLASSES];
        for (class, likely) in likely.into_iter().enumerate() {
            let sound = class.min(named - 1);
            sounds[sound] = f64::max(sounds[sound], likely);
        }
        let best = (0..named)
            .rev()
            .max_by(|a, b| sounds[*a].total_cmp(&sounds[*b]))
            .unwrap_or(0);
        for sound in (0..named).filter(|sound| *sound == best || sounds[*sound] > 0.5) {
            let bands = match (named, sound) {
                (1, _) => 0..BANDS,
                (_, 0) => LOW,
                (2, _) => LOW.end..BANDS,
                (_, 1) => LOW.end..HIGH.start,
                _ => HIGH,
            };
            found.push(Found {
                seconds: onset.seconds,
                sound,
                level: colour.attack(bands),
                confidence: sounds[sound].max(0.5) * certainty(onset),
            });
        }
    }
    found
}

/// Bands by which the level of a low and of a high sound is told: under 230 Hz and over 7 kHz.
const LOW: std::ops::Range<usize> = 0..2;
const HIGH: std::ops::Range<usize> = BANDS - 1..BANDS;

/// The hits that come after those which show each sound.
fn by_exemplars(onsets: &[Onset], colours: &[Colour], told: &Told) -> Result<Vec<Found>, Problem> {
    /// Sounds that differ by less are not told apart, in dB.
    const ALIKE: f64 = 2.0;
    let count = told.sounds.len();
    if onsets.len() <= count {
        let what = format!(
            "the recording has {} hits, too few to begin with {count} sounds",
            onsets.len()
        );
        return Err(Problem::new(what).help("strike each sound once, one after another, and then play"));
    }
    let (exemplars, rest) = colours.split_at(count);
    for (number, one) in exemplars.iter().enumerate() {
        for (other, exemplar) in exemplars.iter().enumerate().skip(number + 1) {
            if apart(one, exemplar) < ALIKE {
                let (one, other) = (&told.sounds[number], &told.sounds[other]);
                let what = format!("the first hits of `{one}` and `{other}` sound alike, and can't be told apart");
                return Err(
                    Problem::new(what).help("strike each sound once, one after another, or leave out --sounds-first")
                );
            }
        }
    }
    let found = onsets[count..].iter().zip(rest).flat_map(|(onset, colour)| {
        nearest(colour, exemplars).into_iter().map(|(sound, confidence)| Found {
            seconds: onset.seconds,
            sound,
            level: colour.attack(0..BANDS),
            confidence: confidence * certainty(onset),
        })
    });
    Ok(found.collect())
}

/// Hits with their names and velocities.
fn named(found: &[Found], told: &Told) -> Vec<Hit> {
    let plain: Vec<f64> = (0..told.sounds.len())
        .map(|sound| plain_level(found.iter().filter(|hit| hit.sound == sound).map(|hit| hit.level)))
        .collect();
    found
        .iter()
        .map(|hit| Hit {
            seconds: hit.seconds,
            sound: told.sounds[hit.sound].clone(),
            velocity: velocity(hit.level - plain[hit.sound]),
            confidence: libm::round(hit.confidence * 1000.0) / 1000.0,
        })
        .collect()
}

/// The velocity of a plain hit.
const PLAIN: f64 = 96.0;

/// The level in dB of a sound's plain hits: a third of those that are no ghosts are softer, since half may be accents.
fn plain_level(levels: impl Iterator<Item = f64>) -> f64 {
    /// A ghost lies so many dB under the loudest hits.
    const GHOST: f64 = 9.0;
    let levels: Vec<f64> = levels.collect();
    let loud = share_below(levels.iter().copied(), 0.95);
    share_below(levels.into_iter().filter(|level| *level > loud - GHOST), 0.35)
}

/// The velocity that sounds so many dB over a plain hit, by the law of 40·log10(v/127) dB.
fn velocity(db: f64) -> f64 {
    libm::round(PLAIN * libm::exp10(db / 40.0)).clamp(1.0, 127.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::audio::Audio;
    use crate::transcription::RATE;

    fn told(sounds: &[&str]) -> Told {
        Told {
            sounds: sounds.iter().map(|name| name.to_string()).collect(),
            sounds_first: false,
            tempo: None,
            bars: None,
            beats: 4.0,
        }
    }

    fn take(mono: Vec<f32>) -> Take {
        let channels = vec![mono.clone()];
        let recorded = Audio { channels, rate: RATE };
        Take { recorded, mono }
    }

    fn chance() -> impl FnMut() -> f32 {
        let mut state = 5u32;
        move || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 8) as f32 / (1 << 24) as f32 - 0.5
        }
    }

    #[test]
    fn whatever_is_recorded_hits_are_in_order_and_in_range() {
        let mut chance = chance();
        for length in [1, 2, 47, 127, 128, 1023, 1025, 4800, 30_011, 100_003] {
            for kind in 0..6 {
                let mut mono: Vec<f32> = (0..length)
                    .map(|n| match kind {
                        0 => chance(),
                        1 => libm::sinf(n as f32 * 0.03),
                        2 => libm::sinf(n as f32 * n as f32 * 1e-6),
                        3 => f32::from(n % 4800 == 0),
                        4 => chance() * libm::expf(-((n % 9600) as f32) / 500.0),
                        _ => 1e9 * chance() * f32::from(n > length / 2),
                    })
                    .collect();
                mono[0] += 1e-3;
                let seconds = length as f64 / f64::from(RATE);
                let mut variants = vec![told(&["low", "mid", "high"]), told(&["one"]), told(&["low", "rest"])];
                variants.push(Told {
                    bars: Some(2),
                    ..told(&["low", "high"])
                });
                variants.push(Told {
                    sounds_first: true,
                    ..told(&["a", "b", "c", "d"])
                });
                for told in variants {
                    let Ok(heard) = hits(&take(mono.clone()), &told) else {
                        continue;
                    };
                    assert!(heard.hits.is_sorted_by_key(|hit| hit.seconds));
                    for hit in &heard.hits {
                        assert!((0.0..=seconds).contains(&hit.seconds), "{hit:?} of {seconds} s");
                        assert!((1.0..=127.0).contains(&hit.velocity), "{hit:?}");
                        assert!((0.0..=1.0).contains(&hit.confidence), "{hit:?}");
                    }
                    assert!(heard.tempo.is_none_or(|tempo| (15.0..420.0).contains(&tempo)));
                    assert!(heard.strokes.iter().all(|stroke| stroke.ends >= stroke.seconds));
                }
            }
        }
    }

    #[test]
    fn velocities_follow_levels() {
        let mut chance = chance();
        let mut mono = vec![0.0; 4 * RATE as usize];
        // Every fourth hit is 3.6 dB louder: an accent's velocity, 118; every other 15.2 dB softer: a ghost's, 40.
        for number in 0..16 {
            let level = match number % 4 {
                0 => 1.51,
                1 | 3 => 0.174,
                _ => 1.0,
            };
            for n in 0..4000 {
                mono[number * 11_000 + 2000 + n] += 0.3 * level * chance() * libm::expf(-(n as f32) / 600.0);
            }
        }
        let heard = hits(&take(mono), &told(&["one"])).expect("hits");
        assert_eq!(heard.hits.len(), 16);
        for (number, hit) in heard.hits.iter().enumerate() {
            let (known, within) = [(118.0, 12.0), (40.0, 12.0), (96.0, 12.0), (40.0, 12.0)][number % 4];
            assert!((hit.velocity - known).abs() < within, "{hit:?} for {known}");
        }
    }
}
