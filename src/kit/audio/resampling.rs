//! Changing the rate of a recording: to the render's rate, or to sound at another pitch.
//!
//! What lies at frame 0 stays at frame 0, to a small part of a frame, so onsets keep their time; and a recording
//! that begins at full level keeps its attack, as it is taken to follow silence.

use std::ops::Range;

use rubato::audioadapter_buffers::direct::SequentialSliceOfVecs;
use rubato::{Fft, FixedSync, Indexing, Resampler, WindowFunction};

use super::interpolation;
use crate::base::audio::Audio;

/// The shortest block, on the side of the lower rate: it makes a filter that is flat to 94 % of the lower Nyquist frequency.
const LEAST_BLOCK: u64 = 512;

/// The longest block. Rates with hardly a common divisor would need longer ones; they go by sinc instead.
const MOST_BLOCK: u64 = 16_384;

/// Taps of the sinc between rates: flat to 92 % of the lower Nyquist frequency, so to 20 kHz at 44.1 kHz.
const TAPS_OF_RATES: usize = 256;

/// Taps of the sinc between pitches, at the input's own speed: flat to 88 % of the Nyquist frequency, so to 21 kHz at 48 kHz. Repitching
/// is done for many pitches, and costs as much as it has taps.
const TAPS_OF_PITCHES: usize = 160;

/// The same sound at another rate, `ceil(frames * rate / audio.rate)` frames long.
///
/// Flat within 0.1 dB to 94 % of the lower of the two Nyquist frequencies (92 % between rates without a large common divisor), images and
/// aliases 100 dB down. A rate of 0 is taken for 1.
pub fn resample(audio: &Audio, rate: u32) -> Audio {
    let (from, to) = (u64::from(audio.rate.max(1)), u64::from(rate.max(1)));
    if from == to {
        return audio.clone();
    }
    let frames = (audio.frames() as u64 * to).div_ceil(from) as usize;
    let common = gcd(from, to);
    let (block_in, block_out) = (from / common, to / common);
    // An even number of blocks puts the filter's middle, and with it the delay, on a whole frame of both sides.
    let blocks = LEAST_BLOCK.div_ceil(block_in.min(block_out)).next_multiple_of(2);
    let channels = if blocks * block_in.max(block_out) <= MOST_BLOCK {
        by_blocks(
            &audio.channels,
            from as usize,
            to as usize,
            (blocks * block_in) as usize,
            frames,
        )
    } else {
        interpolation::read(&audio.channels, from as f64 / to as f64, 0..frames, TAPS_OF_RATES)
    };
    Audio { channels, rate }
}

/// The same sound played `speed` times as fast, so at another pitch: 2 is an octave up, and half as long.
///
/// `ceil(frames / speed)` frames at the same rate. `speed` is kept within 1/16 to 16, four octaves either way. Flat within 0.1 dB
/// to 88 % of the Nyquist frequency of the slower of input and output; images and aliases 100 dB down.
pub fn repitch(audio: &Audio, speed: f64) -> Audio {
    repitch_part(audio, speed, 0..repitched_frames(audio.frames(), speed))
}

/// The frames of what [`repitch`] makes of so many.
pub(crate) fn repitched_frames(frames: usize, speed: f64) -> usize {
    (frames as f64 / within_octaves(speed)).ceil() as usize
}

/// Some frames of what [`repitch`] makes, the same to the bit; silence where it has none.
pub(crate) fn repitch_part(audio: &Audio, speed: f64, frames: Range<usize>) -> Audio {
    let speed = within_octaves(speed);
    let channels = match speed == 1.0 {
        true => audio.channels.iter().map(|side| cut_out(side, &frames)).collect(),
        false => interpolation::read(&audio.channels, speed, frames, TAPS_OF_PITCHES),
    };
    Audio {
        channels,
        rate: audio.rate,
    }
}

/// Some frames of a channel, silence where it has none.
fn cut_out(side: &[f32], frames: &Range<usize>) -> Vec<f32> {
    let there = frames.start.min(side.len())..frames.end.min(side.len());
    let mut part = side[there].to_vec();
    part.resize(frames.len(), 0.0);
    part
}

/// Makes ready what [`repitch`] needs for some speeds.
pub(crate) fn prepare_pitches(speeds: impl Iterator<Item = f64>) {
    let other = speeds.map(within_octaves).filter(|speed| *speed != 1.0);
    interpolation::prepare(other, TAPS_OF_PITCHES);
}

fn within_octaves(speed: f64) -> f64 {
    if speed.is_nan() {
        return 1.0;
    }
    speed.clamp(1.0 / 16.0, 16.0)
}

fn gcd(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

/// Resamples by transforms of whole blocks: the cheapest way, where the rates' ratio is one of small numbers.
fn by_blocks(channels: &[Vec<f32>], from: usize, to: usize, block: usize, frames: usize) -> Vec<Vec<f32>> {
    let length = channels.first().map_or(0, Vec::len);
    if length == 0 {
        return vec![Vec::new(); channels.len()];
    }
    let mut resampler = Fft::<f32>::new_custom(
        from,
        to,
        block,
        1,
        channels.len(),
        WindowFunction::BlackmanHarris2,
        FixedSync::Both,
    )
    .expect("rates and blocks are above 0");
    let (take, give) = (resampler.fft_size_in(), resampler.fft_size_out());
    let delay = give / 2;
    let rounds = (delay + frames).div_ceil(give);
    let source = SequentialSliceOfVecs::new(channels, channels.len(), length).expect("channels are equally long");
    let mut made = vec![vec![0.0; rounds * give]; channels.len()];
    let mut sink = SequentialSliceOfVecs::new_mut(&mut made, channels.len(), rounds * give).expect("made so");
    for round in 0..rounds {
        let at = (round * take).min(length);
        let part = Indexing::new()
            .input_offset(at)
            .output_offset(round * give)
            .partial_len(take.min(length - at));
        resampler
            .process_into_buffer(&source, &mut sink, Some(&part))
            .expect("the buffers hold every round");
    }
    cut(made, delay, frames)
}

/// Leaves out the frames before the sound, and those after its length.
fn cut(mut channels: Vec<Vec<f32>>, before: usize, frames: usize) -> Vec<Vec<f32>> {
    for channel in &mut channels {
        channel.drain(..before);
        channel.truncate(frames);
    }
    channels
}

#[cfg(test)]
#[path = "resampling_tests.rs"]
mod tests;
