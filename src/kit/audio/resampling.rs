//! Changing the rate of a recording: to the render's rate, or to sound at another pitch.
//!
//! What lies at frame 0 stays at frame 0, to a small part of a frame, so onsets keep their time; and a recording
//! that begins at full level keeps its attack, as it is taken to follow silence.

use std::ops::Range;
use std::sync::OnceLock;

use rubato::audioadapter_buffers::direct::SequentialSliceOfVecs;
use rubato::{Fft, FixedSync, Indexing, Resampler, WindowFunction};

use super::interpolation::{self, Band, Limited, LowPass};
use crate::base::audio::Audio;

/// The shortest block, on the side of the lower rate: it makes a filter that is flat to 94 % of the lower Nyquist frequency.
const LEAST_BLOCK: u64 = 512;

/// The longest block. Rates with hardly a common divisor would need longer ones; they go by sinc instead.
const MOST_BLOCK: u64 = 16_384;

/// Taps of the sinc between rates: flat to 92 % of the lower Nyquist frequency, so to 20 kHz at 44.1 kHz.
const TAPS_OF_RATES: usize = 256;

/// Taps of the sinc between pitches, at the input's own speed: flat to 88 % of the Nyquist frequency, so to 21 kHz at 48 kHz. Repitching
/// is done for many pitches, and costs as much as it has taps.
pub(crate) const TAPS_OF_PITCHES: usize = 160;

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
    Pitches::new(audio, speed).read(speed, frames)
}

/// A sound that is read at several speeds, of which what they share is made once, when the first of them asks for it.
pub(crate) struct Pitches<'a> {
    audio: &'a Audio,
    band: Band,
    /// The frames of the limited sound that each of the speeds needs that were announced.
    needed: Vec<Range<i64>>,
    limited: OnceLock<Limited>,
}

impl Pitches<'_> {
    /// For speeds of the same [`Band`] as this one.
    pub(crate) fn new(audio: &Audio, speed: f64) -> Pitches<'_> {
        Pitches {
            audio,
            band: band(speed),
            needed: Vec::new(),
            limited: OnceLock::new(),
        }
    }

    /// Announces that some frames will be read at a speed.
    pub(crate) fn announce(&mut self, speed: f64, frames: &Range<usize>) {
        self.needed.push(self.band.read_for(within_octaves(speed), frames));
    }

    fn all_needed(&self) -> Range<i64> {
        let start = self.needed.iter().map(|frames| frames.start).min();
        let end = self.needed.iter().map(|frames| frames.end).max();
        start.unwrap_or(0)..end.unwrap_or(0)
    }

    /// Some frames of what [`repitch`] makes of the sound, the same to the bit; silence where it has none. Nothing is shared with
    /// others where fewer than two were announced.
    ///
    /// # Panics
    /// When others were announced, and these were not.
    pub(crate) fn read(&self, speed: f64, frames: Range<usize>) -> Audio {
        let speed = within_octaves(speed);
        let sides = &self.audio.channels;
        let channels = if speed == 1.0 {
            sides.iter().map(|side| cut_out(side, &frames)).collect()
        } else if self.needed.len() < 2 {
            interpolation::read(sides, speed, frames, TAPS_OF_PITCHES)
        } else {
            let make = || LowPass::new(self.band, TAPS_OF_PITCHES).limited(sides, self.all_needed());
            self.limited.get_or_init(make).read(speed, frames)
        };
        Audio {
            channels,
            rate: self.audio.rate,
        }
    }
}

/// What sounds that can share a [`Pitches`] have in common, by their speed.
pub(crate) fn band(speed: f64) -> Band {
    Band::of(within_octaves(speed))
}

/// Some frames of a channel, silence where it has none.
fn cut_out(side: &[f32], frames: &Range<usize>) -> Vec<f32> {
    let there = frames.start.min(side.len())..frames.end.min(side.len());
    let mut part = side[there].to_vec();
    part.resize(frames.len(), 0.0);
    part
}

/// The nearest speed that sounds are played at.
pub(crate) fn within_octaves(speed: f64) -> f64 {
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
