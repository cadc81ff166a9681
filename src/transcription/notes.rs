//! The notes of a recording: a melody of one voice or instrument, with its key, its tuning and its tempo.

use super::Take;
use super::melody::{Evidence, Melody, Tone, melody};
use super::transcript::{Note, Transcript};
use super::{doubts, tempo};
use crate::harmony::{Key, Letter, Spelling, find_key};
use crate::text::Problem;

/// What the person says of a recording of notes.
#[derive(Debug, Clone, Default)]
pub(crate) struct ToldOfNotes {
    /// In BPM.
    pub tempo: Option<f64>,
    /// In how many bars of how many beats they lie.
    pub bars: Option<(u32, f64)>,
    /// The key; it is found otherwise.
    pub key: Option<Key>,
    /// True where notes are set to the key.
    pub in_key: bool,
}

/// Under this share of the energy in notes there is no melody to follow.
const TOO_LITTLE: f64 = 0.3;
/// The least that a melody has of what is pitched and periodic, and how far astray it is at the most. Recordings of one note at a
/// time lie within, with noise 20 dB under them, too; chords, bands and speech do not.
const MELODIC: Evidence = Evidence {
    pitched: 0.78,
    periodic: 0.975,
    astray: 0.13,
};
/// The most that a note of a doubtful recording is sure of.
const DOUBTFUL: f64 = 0.5;
/// The velocity of a note of middle loudness: that of a plain mark.
const PLAIN: f64 = 96.0;
/// Mains hum and its octave, in MIDI note numbers: 50 and 60 Hz, 100 and 120 Hz; and how near to it a pitch is taken for it.
const HUM: [f64; 4] = [31.35, 34.51, 43.35, 46.51];
const HUMS: f64 = 0.2;

/// Finds the notes of a recording.
///
/// # Errors
/// Where no melody can be followed.
pub(crate) fn notes(take: &Take, told: &ToldOfNotes) -> Result<Transcript, Problem> {
    let melody = melody(&take.mono);
    if melody.tones.is_empty() || melody.evidence.pitched < TOO_LITTLE {
        let what = "there is no melody in this recording that can be followed";
        let help = "--as notes needs one voice or instrument, one note at a time; for taps and drums take --as hits";
        return Err(Problem::new(what).help(help));
    }
    let mut doubtful = of_melody(&melody, take.seconds());
    let beats: Vec<(f64, f64)> = melody.tones.iter().map(|tone| (tone.seconds, 1.0)).collect();
    let pulse = tempo::told(&beats, told.tempo, told.bars);
    let key = told.key.or_else(|| key_of(&melody));
    let most = if doubtful.is_empty() { 1.0 } else { DOUBTFUL };
    let middle = middle(&melody.tones);
    let notes: Vec<Note> = melody
        .tones
        .iter()
        .map(|tone| {
            let midi = meant(tone.pitch - melody.tuning, key.as_ref().filter(|_| told.in_key));
            Note {
                seconds: tone.seconds,
                length: tone.length,
                midi,
                cents: libm::round(1000.0 * (tone.pitch - f64::from(midi))) / 10.0,
                velocity: libm::round(PLAIN * libm::exp10((tone.decibels - middle) / 40.0)).clamp(1.0, 127.0),
                confidence: tone.confidence.min(most),
            }
        })
        .collect();
    doubtful.extend(doubts::of_level(&take.mono, "notes"));
    let found = pulse.as_ref().filter(|_| told.tempo.is_none());
    doubtful.extend(found.and_then(|pulse| doubts::of_tempo(pulse, "notes")));
    Ok(Transcript {
        seconds: take.seconds(),
        tempo: pulse.map(|pulse| pulse.tempo),
        tempo_confidence: pulse.map(|pulse| pulse.confidence),
        beat_offset: pulse.and_then(|pulse| Some(pulse.beat_at(notes.first()?.seconds))),
        key: key.map(|key| key.to_string()),
        tuning_cents: Some(libm::round(1000.0 * melody.tuning) / 10.0),
        notes,
        doubts: doubtful,
        ..Transcript::default()
    })
}

/// The MIDI key that a pitch is meant for; in a key the nearest of its own, of two the lower.
fn meant(pitch: f64, key: Option<&Key>) -> i32 {
    let nearest = libm::round(pitch) as i32;
    let own = |midi: &i32| key.is_none_or(|key| key.has(spelled(*midi)));
    let near = (nearest - 3..=nearest + 3).filter(own);
    let away = |midi: i32| (pitch - f64::from(midi)).abs();
    let found = near.reduce(|best, next| if away(next) < away(best) { next } else { best });
    found.unwrap_or(nearest).clamp(0, 127)
}

/// Any name of a MIDI key.
fn spelled(midi: i32) -> Spelling {
    let mut names = [0, 1]
        .into_iter()
        .flat_map(|alter| Letter::ALL.map(|letter| Spelling::new(letter, alter)));
    names
        .find(|name| name.pitch_class() == midi.rem_euclid(12))
        .unwrap_or(Spelling::new(Letter::C, 0))
}

fn key_of(melody: &Melody) -> Option<Key> {
    let mut sounding = [0.0; 12];
    for tone in &melody.tones {
        let class = (libm::round(tone.pitch - melody.tuning) as i32).rem_euclid(12);
        sounding[class as usize] += tone.length;
    }
    find_key(&sounding)
}

/// The level of the middle note.
fn middle(tones: &[Tone]) -> f64 {
    let mut levels: Vec<f64> = tones.iter().map(|tone| tone.decibels).collect();
    levels.sort_by(f64::total_cmp);
    levels.get(levels.len() / 2).copied().unwrap_or(0.0)
}

/// What is doubtful about a melody, for the person.
fn of_melody(melody: &Melody, seconds: f64) -> Vec<Problem> {
    let heard = &melody.evidence;
    let mut doubts = Vec::new();
    if heard.pitched < MELODIC.pitched || heard.periodic < MELODIC.periodic {
        let what = format!(
            "these notes are doubtful: single notes make up {:.0} % of the sound",
            100.0 * heard.pitched * heard.periodic
        );
        let help = "--as notes follows one voice or instrument, one note at a time; speech, chords, a band and noise mislead it";
        doubts.push(Problem::new(what).help(help));
    } else if heard.astray > MELODIC.astray {
        let what = "these notes are doubtful: pitches lie between the notes, as in speech";
        doubts.push(Problem::new(what).help("sing or play each note long enough to stand"));
    }
    if let [tone] = melody.tones.as_slice() {
        let hums = HUM.iter().any(|hum| (tone.pitch - hum).abs() < HUMS);
        if hums && tone.length > 0.5 * seconds {
            let what = "the one note that was found may be the hum of the mains";
            doubts.push(Problem::new(what).help("record nearer to the microphone, or check the cable"));
        }
    }
    doubts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::audio::Audio;
    use crate::harmony::frequency;
    use crate::transcription::RATE;
    use proptest::prelude::*;

    /// Notes of a plain instrument: each key, its seconds, how loud.
    fn take(notes: &[(f64, f64, f64)]) -> Take {
        let mut samples = vec![0.0f32; RATE as usize / 4];
        for (key, seconds, gain) in notes {
            let frames = (seconds * f64::from(RATE)) as usize;
            samples.extend((0..frames).map(|n| {
                let t = n as f64 / f64::from(RATE);
                let fade = (t / 0.01).min((seconds - t) / 0.02).clamp(0.0, 1.0);
                let partial =
                    |k: u32| libm::sin(std::f64::consts::TAU * f64::from(k) * frequency(*key) * t) / f64::from(k);
                (0.2 * gain * fade * (1..=5).map(partial).sum::<f64>()) as f32
            }));
        }
        let channels = vec![samples];
        Take::of(Audio { channels, rate: RATE })
    }

    #[test]
    fn a_melody_out_of_tune_is_followed() {
        let keys = [60.0, 62.0, 64.0, 67.0, 67.0, 64.0, 60.0, 48.0, 72.0];
        let played: Vec<(f64, f64, f64)> = keys.iter().map(|key| (key - 0.31, 0.25, 1.0)).collect();
        let heard = notes(&take(&played), &ToldOfNotes::default()).unwrap();
        let found: Vec<f64> = heard.notes.iter().map(|note| f64::from(note.midi)).collect();
        assert_eq!(found, keys);
        for (number, note) in heard.notes.iter().enumerate() {
            let begins = 0.25 + 0.25 * number as f64;
            assert!(
                (note.seconds - begins).abs() < 0.015,
                "{number}: {} for {begins}",
                note.seconds
            );
            assert!((note.cents + 31.0).abs() < 5.0, "{number}: {} cents", note.cents);
            assert!(note.confidence > 0.9, "{number}: {}", note.confidence);
        }
        assert!((heard.tuning_cents.unwrap() + 31.0).abs() < 2.0);
        assert_eq!(heard.key.as_deref(), Some("C major"));
        assert_eq!(heard.doubts, []);
    }

    #[test]
    fn notes_are_set_to_a_key_where_that_is_asked() {
        let told = ToldOfNotes {
            key: Key::parse("G major").ok(),
            in_key: true,
            ..ToldOfNotes::default()
        };
        let midi = |told: &ToldOfNotes| {
            let heard = notes(
                &take(&[(67.0, 0.4, 1.0), (65.1, 0.4, 1.0), (67.0, 0.4, 1.0), (71.0, 0.4, 1.0)]),
                told,
            )
            .unwrap();
            heard.notes.iter().map(|note| note.midi).collect::<Vec<_>>()
        };
        assert_eq!(midi(&told), [67, 66, 67, 71]);
        assert_eq!(midi(&ToldOfNotes::default()), [67, 65, 67, 71]);
    }

    #[test]
    fn louder_notes_have_higher_velocities() {
        let heard = notes(
            &take(&[(60.0, 0.4, 0.5), (62.0, 0.4, 1.0), (64.0, 0.4, 2.0)]),
            &ToldOfNotes::default(),
        )
        .unwrap();
        let velocities: Vec<f64> = heard.notes.iter().map(|note| note.velocity).collect();
        // 6 dB a step at 40 dB a tenfold velocity.
        assert!(
            (velocities[0] - 68.0).abs() < 3.0 && (velocities[1] - 96.0).abs() < 3.0,
            "{velocities:?}"
        );
        assert_eq!(velocities[2], 127.0);
    }

    #[test]
    fn chords_and_the_hum_of_the_mains_are_doubtful() {
        let hum = notes(&take(&[(31.35, 3.0, 0.05)]), &ToldOfNotes::default()).unwrap();
        assert_eq!(hum.doubts.len(), 1, "{:?}", hum.doubts);
        assert!(hum.notes.iter().all(|note| note.confidence <= DOUBTFUL));
        let layers =
            [60.0, 64.0, 67.0].map(|key| take(&[(key, 0.5, 1.0), (key + 5.0, 0.5, 1.0), (key - 3.0, 0.5, 1.0)]).mono);
        let sum = (0..layers[0].len()).map(|n| layers.iter().map(|layer| layer[n]).sum());
        let chords = Take::of(Audio {
            channels: vec![sum.collect()],
            rate: RATE,
        });
        let heard = notes(&chords, &ToldOfNotes::default());
        assert!(heard.is_err() || heard.is_ok_and(|heard| heard.doubts.len() == 1));
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]
        #[test]
        fn whatever_is_recorded_notes_follow_each_other(
            samples in proptest::collection::vec(-1.0f32..1.0, 0..6000),
            hertz in 20.0f64..5000.0,
            share in 0.0f32..1.0,
        ) {
            let tone = |n: usize| libm::sin(std::f64::consts::TAU * hertz * n as f64 / f64::from(RATE)) as f32;
            let mixed = samples.iter().enumerate().map(|(n, noise)| share * noise + (1.0 - share) * tone(n));
            let mono: Vec<f32> = mixed.collect();
            let length = mono.len() as f64 / f64::from(RATE);
            let Ok(heard) = notes(&Take { recorded: Audio { channels: vec![mono.clone()], rate: RATE }, mono }, &ToldOfNotes::default()) else {
                return Ok(());
            };
            for pair in heard.notes.windows(2) {
                prop_assert!(pair[0].seconds + pair[0].length <= pair[1].seconds + 1e-9);
            }
            for note in &heard.notes {
                prop_assert!(note.seconds >= 0.0 && note.length > 0.0 && note.seconds + note.length <= length + 0.1);
                prop_assert!((0..=127).contains(&note.midi) && (0.0..=1.0).contains(&note.confidence));
                prop_assert!((1.0..=127.0).contains(&note.velocity));
            }
        }
    }
}
