//! Reading a sound between its frames, by a windowed sinc: for any speed.

use std::collections::{BTreeSet, VecDeque};
use std::ops::Range;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use rayon::prelude::*;
use rubato::sinc_interpolator::{AnyInterpolator, SincInterpolator, make_interpolator};
use rubato::{WindowFunction, calculate_cutoff};

/// Points between two frames at which the sinc is tabled, at the input's own speed; a straight line goes through them. Its error is
/// (π / points)² / 8 at the Nyquist frequency, -106 dB.
const POINTS: f64 = 512.0;

/// Speeds above the input's own that lie within a hundredth of each other share a filter, which is that of the fastest.
const STEPS: f64 = 100.0;

/// How many filters are kept for the next sounds; each takes a third of a megabyte.
const MOST: usize = 16;

/// A sinc that is tabled, once somebody has needed it.
type Filter = Arc<OnceLock<AnyInterpolator<f32>>>;

/// The filters that were needed last, by their taps at the input's own speed and by hundredths of their stretch.
static FILTERS: Mutex<VecDeque<((usize, u64), Filter)>> = Mutex::new(VecDeque::new());

/// Some frames of each channel, read `speed` input frames apart; frame 0 is the input's first. `taps` is the sinc's length at the
/// input's own speed.
///
/// Faster than that a sound must lose what would pass the Nyquist frequency, so the sinc grows longer with the speed; it
/// is smoother by as much, so fewer points between its taps suffice and its table stays as large.
pub(crate) fn read(channels: &[Vec<f32>], speed: f64, frames: Range<usize>, taps: usize) -> Vec<Vec<f32>> {
    let stretch = hundredths(speed);
    let filter = filter(stretch, taps);
    let filter = filter.get_or_init(|| tabled(stretch, taps));
    let (taps, points) = (filter.nbr_points(), filter.nbr_sincs());
    // What it gives of the frames from one on lies half a filter behind that, and its table begins one step later. Places
    // count from a filter's length before the input.
    let first = (taps / 2 + 1) as f64 - 1.0 / points as f64;
    let place = |frame: usize| (frame as f64 * speed + first) * points as f64;
    let begins = place(frames.start) as usize / points;
    let ends = place(frames.end) as usize / points + taps + 2;
    let padded: Vec<Vec<f32>> = channels
        .iter()
        .map(|channel| padded(channel, begins..ends, taps))
        .collect();
    let mut made = vec![Vec::with_capacity(frames.len()); channels.len()];
    for frame in frames {
        let place = place(frame);
        let whole = place as usize;
        let share = (place - whole as f64) as f32;
        for (wave, made) in padded.iter().zip(&mut made) {
            let at = |place: usize| filter.get_sinc_interpolated(wave, place / points - begins, place % points);
            let (here, next) = (at(whole), at(whole + 1));
            made.push(here + share * (next - here));
        }
    }
    made
}

/// Some frames of a channel that has `before` frames of silence before it, and as much as it takes behind it.
fn padded(channel: &[f32], frames: Range<usize>, before: usize) -> Vec<f32> {
    let lead = before.saturating_sub(frames.start).min(frames.len());
    let from = frames.start.saturating_sub(before).min(channel.len());
    let to = frames.end.saturating_sub(before).min(channel.len());
    let mut padded = vec![0.0; frames.len()];
    padded[lead..lead + to - from].copy_from_slice(&channel[from..to]);
    padded
}

/// Tables the filters for some speeds, side by side: of sounds that share one, all but the first would wait for it.
pub(crate) fn prepare(speeds: impl Iterator<Item = f64>, taps: usize) {
    let stretches: BTreeSet<u64> = speeds.map(hundredths).collect();
    // No more than are kept.
    let stretches: Vec<u64> = stretches.into_iter().take(MOST).collect();
    stretches.into_par_iter().for_each(|hundredths| {
        filter(hundredths, taps).get_or_init(|| tabled(hundredths, taps));
    });
}

/// How much longer than at the input's own speed a sinc is.
fn hundredths(speed: f64) -> u64 {
    (speed.max(1.0) * STEPS).ceil() as u64
}

fn filter(hundredths: u64, taps: usize) -> Filter {
    // What a thread that panicked left behind is still whole.
    let mut filters = FILTERS.lock().unwrap_or_else(PoisonError::into_inner);
    let name = (taps, hundredths);
    if let Some((_, known)) = filters.iter().find(|(known, _)| *known == name) {
        return known.clone();
    }
    filters.truncate(MOST - 1);
    filters.push_front((name, Filter::default()));
    filters[0].1.clone()
}

fn tabled(hundredths: u64, taps: usize) -> AnyInterpolator<f32> {
    let stretch = hundredths as f64 / STEPS;
    let window = WindowFunction::Blackman2;
    let cutoff = calculate_cutoff::<f32>(taps, window) / stretch as f32;
    let taps = ((taps as f64 * stretch) as usize).next_multiple_of(8);
    let points = ((POINTS / stretch).ceil() as usize).next_power_of_two();
    make_interpolator(taps, 1.0, Some(cutoff), points, window)
}
