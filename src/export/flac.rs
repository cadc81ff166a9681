//! Lossless audio for the listening page: FLAC (RFC 9639), in memory.

use flacenc::bitsink::ByteSink;
use flacenc::component::BitRepr;
use flacenc::config::Encoder;
use flacenc::error::Verify;
use flacenc::source::MemSource;

use super::dither::dithered;
use crate::base::audio::Audio;
use crate::text::Problem;

/// Audio as a FLAC stream of so many bits a sample, dithered from the seed as a WAV of those bits is.
///
/// Two signals of one length and one seed share their dither, so what is the same in both stays the same.
///
/// # Errors
/// A rate or a number of channels that FLAC doesn't know (1 to 8 channels, up to 655 350 Hz); no audio at all.
pub(crate) fn encode(audio: &Audio, bits: u32, seed: u64) -> Result<Vec<u8>, Problem> {
    let refused = |what: &dyn std::fmt::Debug| Problem::new(format!("the sound can't be stored as FLAC: {what:?}"));
    if audio.frames() == 0 {
        return Err(Problem::new("there is no sound to be stored"));
    }
    let ints = dithered(&audio.channels, bits, seed);
    let mut plain = Encoder::default();
    // Predictors made to measure take three times as long to find as fixed ones, and save a few percent of the bytes.
    plain.subframe_coding.use_lpc = false;
    let config = plain.into_verified().map_err(|(_, error)| refused(&error))?;
    let source = MemSource::from_samples(&ints, audio.channels.len(), bits as usize, audio.rate as usize);
    let mut stream =
        flacenc::encode_with_fixed_block_size(&config, source, config.block_size).map_err(|error| refused(&error))?;
    // RFC 9639, 8.2: the last block is left out of account. With it in, readers take the blocks for ones of changing length.
    let block = stream.stream_info().max_block_size();
    let info = stream.stream_info_mut();
    info.set_block_sizes(block, block).map_err(|error| refused(&error))?;
    let mut sink = ByteSink::new();
    stream.write(&mut sink).map_err(|error| refused(&error))?;
    Ok(sink.into_inner())
}
