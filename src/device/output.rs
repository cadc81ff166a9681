//! The system's own way to its loudspeakers.

use std::sync::{Arc, Mutex, PoisonError};

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{BufferSize, FromSample, SampleFormat, SizedSample, Stream, StreamConfig, SupportedBufferSize};

use super::{Record, Turntable};
use crate::text::Problem;

/// Seconds of a block, of which devices hold two. Nobody waits for what is heard here: a newer render comes in at a bar. So blocks
/// are long, and a machine with much else to do is seldom late with one.
const BLOCK: f64 = 0.1;

/// A device that plays a turntable for as long as this lives.
pub(crate) struct Output {
    turntable: Arc<Mutex<Turntable>>,
    /// Plays until it is dropped.
    _stream: Stream,
}

impl Output {
    /// Opens the system's default device at a rate.
    ///
    /// # Errors
    /// That there is none, or none that runs at this rate.
    pub(crate) fn open(rate: u32) -> Result<Output, Problem> {
        let failed = |why: String| {
            let what = format!("the sound can't be played here: {why}");
            Problem::new(what).help("play through another program with --player, or use `pressroll render`")
        };
        let host = cpal::default_host();
        let device = host
            .default_output_device()
            .ok_or_else(|| failed("there is no sound device".into()))?;
        let offered = device
            .supported_output_configs()
            .map_err(|error| failed(error.to_string()))?;
        let fits = offered.filter(|offer| {
            let known = [SampleFormat::F32, SampleFormat::I16].contains(&offer.sample_format());
            known && (offer.min_sample_rate()..=offer.max_sample_rate()).contains(&rate)
        });
        // Two channels before all others, then floats before integers.
        let best = fits.min_by_key(|offer| {
            let far = offer.channels().abs_diff(2);
            (far, offer.sample_format() != SampleFormat::F32)
        });
        let best = best.ok_or_else(|| failed(format!("the device does not run at {rate} Hz")))?;
        let config = best.with_sample_rate(rate);
        let turntable: Arc<Mutex<Turntable>> = Arc::default();
        let (format, blocks) = (config.sample_format(), block(config.buffer_size(), rate));
        let config = StreamConfig {
            buffer_size: blocks,
            ..config.config()
        };
        let stream = match format {
            SampleFormat::F32 => stream::<f32>(&device, config, turntable.clone()),
            _ => stream::<i16>(&device, config, turntable.clone()),
        };
        let stream = stream.map_err(|error| failed(error.to_string()))?;
        stream.play().map_err(|error| failed(error.to_string()))?;
        Ok(Output {
            turntable,
            _stream: stream,
        })
    }

    /// Hands a record to the turntable.
    pub(crate) fn put(&self, record: Record) {
        let mut turntable = self.turntable.lock().unwrap_or_else(PoisonError::into_inner);
        turntable.put(record);
    }
}

/// A block of [`BLOCK`], as near as a device can have it; its own where it does not say what it can have.
fn block(offered: &SupportedBufferSize, rate: u32) -> BufferSize {
    match *offered {
        SupportedBufferSize::Range { min, max } => {
            let frames = (BLOCK * f64::from(rate)) as u32;
            BufferSize::Fixed(frames.min(max).max(min))
        }
        SupportedBufferSize::Unknown => BufferSize::Default,
    }
}

fn stream<S: SizedSample + FromSample<f32>>(
    device: &cpal::Device,
    config: StreamConfig,
    turntable: Arc<Mutex<Turntable>>,
) -> Result<Stream, cpal::Error> {
    let channels = usize::from(config.channels);
    let mut block: Vec<f32> = Vec::new();
    let fill = move |out: &mut [S], _: &cpal::OutputCallbackInfo| {
        block.resize(out.len(), 0.0);
        let mut turntable = turntable.lock().unwrap_or_else(PoisonError::into_inner);
        turntable.fill(&mut block, channels);
        for (sample, value) in out.iter_mut().zip(&block) {
            *sample = S::from_sample(*value);
        }
    };
    // A block that came too late is heard; there is nothing to be done about it.
    device.build_output_stream(config, fill, |_| (), None)
}
