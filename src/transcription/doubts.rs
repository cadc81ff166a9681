//! Whether a recording is of something struck, and what is doubtful about its hits, in sentences for the person.
//!
//! The limits lie between recordings of drums, mouths and taps on one side, and of speech, singing and whole bands on the
//! other.

use super::RATE;
use super::colour::share_below;
use super::onsets::Onset;
use super::tempo::Pulse;
use crate::text::Problem;

/// Under this confidence hits keep no steady pulse.
const UNSTEADY: f64 = 0.3;
/// Fewer hits say nothing of what kind a recording is.
const ENOUGH: usize = 4;
/// What is struck is this loud in dB some time later against its beginning; in most of its hits it is softer.
const DIES: f64 = 0.0;
const BEGINNING: (f64, f64) = (0.0, 0.015);
const LATER: (f64, f64) = (0.04, 0.08);
/// In most hits of one player levels rise by more, as [`Onset::rise`] has it.
const STANDS_OUT: f64 = 0.36;
/// So large a share of samples at the very peak means that it is clipped.
const CLIPPED: f64 = 5e-4;

/// Whether what was recorded is something struck: what is doubtful about all of its hits.
///
/// # Errors
/// Where nothing is struck in the recording.
pub(super) fn of_kind(
    samples: &[f32],
    onsets: &[Onset],
    pulse: Option<&Pulse>,
    tempo_is_told: bool,
) -> Result<Option<Problem>, Problem> {
    let unsteady = pulse.is_none_or(|pulse| pulse.confidence < UNSTEADY);
    if onsets.len() < ENOUGH {
        return Ok(None);
    }
    if share_below(onsets.iter().map(|onset| later(samples, onset.seconds)), 0.5) > DIES {
        let what = "most sounds of this recording go on or swell after they begin, as in speech or in song";
        let needs = "--as hits needs taps, drums or a mouth's short sounds, of one player";
        return match unsteady && !tempo_is_told {
            true => Err(Problem::new(what).help(needs)),
            false => Ok(Some(
                Problem::new(format!("these hits are doubtful: {what}")).help(needs),
            )),
        };
    }
    let stands_out = share_below(onsets.iter().map(|onset| onset.rise), 0.5) >= STANDS_OUT;
    Ok((!stands_out).then(|| {
        let what =
            "these hits are doubtful: they hardly stand out from what else sounds, as in a whole band or in noise";
        Problem::new(what).help("record one player alone, near to the microphone")
    }))
}

/// What is doubtful about the velocities of what was `played`: hits or notes.
pub(super) fn of_level(samples: &[f32], played: &str) -> Option<Problem> {
    is_clipped(samples).then(|| {
        let what = format!("the recording is clipped: how hard its loudest {played} are is lost");
        Problem::new(what).help("record again with less gain if velocities matter")
    })
}

/// What is doubtful about a tempo that was found for what was `played`.
pub(super) fn of_tempo(pulse: &Pulse, played: &str) -> Option<Problem> {
    if pulse.confidence < UNSTEADY {
        let what = format!(
            "the tempo of {:.1} BPM is doubtful: the {played} keep no steady pulse",
            pulse.tempo
        );
        return Some(Problem::new(what).help("give it, as in --tempo 96, or the length, as in --bars 4"));
    }
    let other = pulse.other?;
    let what = format!(
        "the tempo may be {:.1} or {other:.1} BPM: the {played} fit both",
        pulse.tempo
    );
    Some(Problem::new(what).help(format!("if {other:.1} BPM is meant, add --tempo {other:.1}")))
}

/// How loud a hit is some time later, in dB against its beginning.
fn later(samples: &[f32], onset: f64) -> f64 {
    let mean = |(from, to): (f64, f64)| {
        let frame = |seconds: f64| (((onset + seconds) * f64::from(RATE)) as usize).min(samples.len());
        let some = &samples[frame(from)..frame(to)];
        some.iter().map(|sample| f64::from(sample * sample)).sum::<f64>() / some.len().max(1) as f64
    };
    10.0 * libm::log10(mean(LATER).max(1e-12) / mean(BEGINNING).max(1e-12))
}

/// True where many samples lie at the very peak, and more than just below it: a sine has twice as many there.
fn is_clipped(samples: &[f32]) -> bool {
    let peak = samples.iter().fold(0.0f32, |most, sample| most.max(sample.abs()));
    let above = |share: f32| samples.iter().filter(|sample| sample.abs() > share * peak).count();
    let (at_peak, near) = (above(0.999), above(0.99));
    peak > 0.0 && at_peak as f64 > (CLIPPED * samples.len() as f64).max(32.0) && 2 * at_peak > near
}
