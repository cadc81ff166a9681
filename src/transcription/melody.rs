//! The notes of one voice or instrument: when, how long, at which pitch, how loud.

use rayon::prelude::*;

use super::note_model::{Span, spans};
use super::onsets::{peaks, rises};
use super::pitch::{HOP, PitchFrame, pitches};
use super::struck_again::struck_again;
use super::{RATE, attack, tuning};
use crate::base::stages;
use crate::harmony::frequency;

/// A note as it was played.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Tone {
    /// From the recording's beginning.
    pub seconds: f64,
    /// Seconds.
    pub length: f64,
    /// A fractional MIDI note number: the median of its frames.
    pub pitch: f64,
    /// Its loudest moment, in dBFS (root mean square).
    pub decibels: f64,
    /// From 0 to 1: how periodic it is, and how much of it has a pitch.
    pub confidence: f64,
}

/// The notes of a recording.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Melody {
    /// In the order of time.
    pub tones: Vec<Tone>,
    /// How far all of them are from A4 = 440 Hz, in semitones.
    pub tuning: f64,
    /// What a recording of one note at a time has much of.
    pub evidence: Evidence,
}

/// What says that a recording plays one note at a time.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Evidence {
    /// Of the energy of all that is not faint, the share that notes have.
    pub pitched: f64,
    /// How periodic the notes are, from 0 to 1.
    pub periodic: f64,
    /// How far their pitches lie from those of a keyboard that is tuned as the take is, in semitones; by chance it is a quarter.
    pub astray: f64,
}

/// What is fainter than this share of the loudest twentieth has no note: -30 dB.
const FAINT: f64 = 0.03;
/// Onsets stand so far above what is around them: by themselves, and as a share of the strongest.
const ABOVE: f32 = 0.03;
const ABOVE_SHARE: f32 = 0.15;
/// Frames about an onset in which a note may begin.
const NEAR: usize = 3;
/// The shortest note, in seconds, and the frames in it that have a pitch, at the least.
const SHORTEST: f64 = 0.05;
const FEWEST: usize = 4;
/// An onset this long before or after a note's partials come is the note's: breath, a hammer, a consonant comes first.
const EARLY: f64 = 0.08;
const LATE: f64 = 0.01;

/// Finds the notes of one channel at [`RATE`].
pub(super) fn melody(samples: &[f32]) -> Melody {
    let (frames, measure) = stages::join(("pitches", || pitches(samples)), ("rises", || rises(samples)));
    let faint = FAINT * loud(&frames);
    let heard: Vec<Option<f64>> = frames
        .iter()
        .map(|frame| frame.pitch.filter(|_| frame.level > faint))
        .collect();
    let seconds_of_hop = HOP as f64 / f64::from(RATE);
    let onsets: Vec<f64> = peaks(&measure, ABOVE, ABOVE_SHARE)
        .into_iter()
        .map(|at| at as f64 * super::onsets::HOP as f64 / f64::from(RATE))
        .collect();
    let struck: Vec<usize> = onsets
        .iter()
        .map(|seconds| (seconds / seconds_of_hop) as usize)
        .collect();
    let mut begun = vec![false; frames.len()];
    for at in &struck {
        let about = at.saturating_sub(NEAR).min(frames.len())..(at + NEAR + 1).min(frames.len());
        begun[about].fill(true);
    }
    let all = tuning::offset(heard.iter().flatten().map(|pitch| (*pitch, 1.0)));
    let medians: Vec<(Span, f64)> = spans(&heard, &begun, all)
        .into_iter()
        .filter_map(|span| Some((span, median(&heard[span.from..span.to])?)))
        .flat_map(|(span, pitch)| {
            let moment = |frame: usize| frame as f64 * seconds_of_hop;
            let again = struck_again(samples, &onsets, (moment(span.from), moment(span.to)), frequency(pitch));
            let cuts: Vec<usize> = again.iter().map(|at| (at / seconds_of_hop) as usize).collect();
            let froms = [span.from].into_iter().chain(cuts.iter().copied());
            let tos = cuts.iter().copied().chain([span.to]);
            froms
                .zip(tos)
                .map(|(from, to)| Span { from, to })
                .collect::<Vec<Span>>()
        })
        .filter(|span| (span.to - span.from) as f64 * seconds_of_hop >= SHORTEST)
        .filter_map(|span| Some((span, median(&heard[span.from..span.to])?)))
        .collect();
    let numbers: Vec<usize> = (0..medians.len()).collect();
    let tones = stages::all("attacks", numbers.par_iter(), |number| {
        let (span, pitch) = medians[*number];
        let before = number.checked_sub(1).map(|before| medians[before].1);
        let (from, to) = (span.from as f64 * seconds_of_hop, span.to as f64 * seconds_of_hop);
        let comes = attack::begins(samples, (from, to), pitch, before);
        let near = onsets.iter().filter(|at| (comes - EARLY..comes + LATE).contains(*at));
        let seconds = near
            .min_by(|a, b| (*a - comes).abs().total_cmp(&(*b - comes).abs()))
            .copied()
            .unwrap_or(comes)
            .min(to - SHORTEST);
        tone(&frames[span.from..span.to], seconds, to - seconds, pitch)
    });
    let mut tones = tones;
    // One note at a time: none begins before the one before it, or ends behind the next one's beginning.
    tones.sort_by(|a: &Tone, b| a.seconds.total_cmp(&b.seconds));
    for at in 1..tones.len() {
        let next = tones[at].seconds;
        let before = &mut tones[at - 1];
        before.length = before.length.min(next - before.seconds);
    }
    tones.retain(|tone| tone.length >= 0.5 * SHORTEST);
    let tuning = tuning::offset(tones.iter().map(|tone| (tone.pitch, tone.length)));
    Melody {
        tuning,
        evidence: Evidence {
            astray: astray(&tones, tuning),
            ..evidence(&frames, &heard, &medians, faint)
        },
        tones,
    }
}

/// The level that a twentieth of the frames is over.
fn loud(frames: &[PitchFrame]) -> f64 {
    let mut levels: Vec<f64> = frames.iter().map(|frame| frame.level).collect();
    levels.sort_by(f64::total_cmp);
    levels.get(levels.len() * 19 / 20).copied().unwrap_or(0.0)
}

/// The median of some pitches; none of too few.
fn median(pitches: &[Option<f64>]) -> Option<f64> {
    let mut pitches: Vec<f64> = pitches.iter().flatten().copied().collect();
    pitches.sort_by(f64::total_cmp);
    (pitches.len() >= FEWEST).then(|| pitches[pitches.len() / 2])
}

fn tone(frames: &[PitchFrame], seconds: f64, length: f64, pitch: f64) -> Tone {
    let loudest = frames.iter().map(|frame| frame.level).fold(0.0, f64::max);
    let periodic: f64 = frames.iter().map(|frame| frame.periodic).sum();
    Tone {
        seconds,
        length,
        pitch,
        decibels: 20.0 * libm::log10(loudest.max(1e-9)),
        confidence: periodic / frames.len().max(1) as f64,
    }
}

/// How far pitches lie from those of a keyboard of some tuning, each as long as it sounds.
fn astray(tones: &[Tone], tuning: f64) -> f64 {
    let away = |tone: &Tone| (tone.pitch - tuning - libm::round(tone.pitch - tuning)).abs();
    let all: f64 = tones.iter().map(|tone| tone.length).sum();
    tones.iter().map(|tone| away(tone) * tone.length).sum::<f64>() / all.max(f64::MIN_POSITIVE)
}

fn evidence(frames: &[PitchFrame], heard: &[Option<f64>], notes: &[(Span, f64)], faint: f64) -> Evidence {
    let energy = |frame: &PitchFrame| frame.level * frame.level;
    let all: f64 = frames.iter().filter(|frame| frame.level > faint).map(energy).sum();
    let of_notes = || notes.iter().flat_map(|(span, _)| span.from..span.to);
    let pitched: f64 = of_notes()
        .filter(|at| heard[*at].is_some())
        .map(|at| energy(&frames[at]))
        .sum();
    let periodic: f64 = of_notes().map(|at| energy(&frames[at]) * frames[at].periodic).sum();
    Evidence {
        pitched: pitched / all.max(f64::MIN_POSITIVE),
        periodic: periodic / pitched.max(f64::MIN_POSITIVE),
        astray: 0.0,
    }
}
