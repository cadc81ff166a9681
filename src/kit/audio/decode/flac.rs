//! FLAC (RFC 9639), decoded by symphonia.

use std::io::{Cursor, Read, Seek, SeekFrom};

use symphonia::core::codecs::audio::{AudioCodecParameters, AudioDecoderOptions};
use symphonia::core::errors::Error;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatReader, TrackType};
use symphonia::core::io::MediaSourceStream;
use symphonia::core::meta::StandardTag;

use super::Extent;
use super::{Container, Decoded, Unread, playable, sane};
use crate::base::audio::Audio;

/// The most samples that a file may unpack to: 2 GiB of floats. A few bytes can say that hours of silence follow.
pub(super) const MOST_SAMPLES: u64 = 1 << 29;

/// True where a FLAC follows an ID3v2 tag, which some taggers put before it.
pub(crate) fn behind_a_tag(source: &mut (impl Read + Seek)) -> Result<bool, Unread> {
    let mut start = Vec::new();
    source.by_ref().take(10).read_to_end(&mut start)?;
    let mut follows = Vec::new();
    if let Some(skip) = tag_length(&start) {
        source.seek(SeekFrom::Start(skip as u64))?;
        source.by_ref().take(4).read_to_end(&mut follows)?;
    }
    source.seek(SeekFrom::Start(0))?;
    Ok(follows == b"fLaC")
}

/// The bytes of an ID3v2 tag with its header, whose size has seven bits a byte.
fn tag_length(start: &[u8]) -> Option<usize> {
    let [b'I', b'D', b'3', _, _, _, size @ ..] = start else {
        return None;
    };
    let size: &[u8; 4] = size.first_chunk()?;
    let length = size
        .iter()
        .fold(0, |length, byte| length << 7 | usize::from(byte & 0x7F));
    Some(length + 10)
}

/// How much sound a FLAC says it holds in the block that comes first (RFC 9639, 8.2).
pub(crate) fn extent(mut source: impl Read + Seek) -> Option<Extent> {
    let mut start = Vec::new();
    source.by_ref().take(10).read_to_end(&mut start).ok()?;
    source
        .seek(SeekFrom::Start(tag_length(&start).unwrap_or(0) as u64))
        .ok()?;
    // The name, the block's head, sizes of blocks and frames; then 20 bits of rate, 3 of channels, 5 of depth, 36 of frames.
    let mut block = [0; 26];
    source.read_exact(&mut block).ok()?;
    let packed = u64::from_be_bytes(*block.last_chunk()?);
    let (channels, frames) = ((packed >> 41 & 7) + 1, packed & ((1 << 36) - 1));
    // More is refused when it is decoded.
    (channels * frames <= MOST_SAMPLES).then_some(Extent {
        channels: channels as usize,
        frames,
        rate: (packed >> 44) as f64,
    })
}

/// Decodes a FLAC. One that breaks off is read as far as it goes.
pub(crate) fn read(bytes: Vec<u8>) -> Result<Decoded, Unread> {
    let mut file = open(bytes)?;
    let track = file.default_track(TrackType::Audio);
    let lacks = || Unread::Broken("is a FLAC without a description of its sound".into());
    let track = track.ok_or_else(lacks)?;
    let promised = track.num_frames;
    let parameters = track.codec_params.as_ref().and_then(|codec| codec.audio()).cloned();
    let parameters = parameters.ok_or_else(lacks)?;
    let (Some(channels), Some(rate)) = (parameters.channels.as_ref(), parameters.sample_rate) else {
        return Err(lacks());
    };
    playable(channels.count(), f64::from(rate))?;
    if promised.unwrap_or(0).saturating_mul(channels.count() as u64) > MOST_SAMPLES {
        return Err(too_long());
    }
    let mut audio = Audio::silence(channels.count(), 0, rate);
    unpack(file.as_mut(), &parameters, &mut audio)?;
    sane(&audio)?;
    Ok(Decoded {
        missing: promised.unwrap_or(0).saturating_sub(audio.frames() as u64),
        audio,
        container: Container::Flac,
        bits: parameters.bits_per_sample.unwrap_or(0).try_into().unwrap_or(0),
        float: false,
        root: None,
        loops: Vec::new(),
        crossfade: 0,
        tags: tags(file.as_mut()),
    })
}

/// What a FLAC says of itself.
pub(crate) fn told(bytes: Vec<u8>) -> Result<Vec<(&'static str, String)>, Unread> {
    Ok(tags(open(bytes)?.as_mut()))
}

/// Reads all that stands before the sound.
fn open(mut bytes: Vec<u8>) -> Result<Box<dyn FormatReader>, Unread> {
    if let Some(tag) = tag_length(&bytes) {
        bytes.drain(..tag.min(bytes.len()));
    }
    let stream = MediaSourceStream::new(Box::new(Cursor::new(bytes)), Default::default());
    let mut hint = Hint::new();
    hint.with_extension("flac");
    let probed = symphonia::default::get_probe().probe(&hint, stream, Default::default(), Default::default());
    probed.map_err(|error| unread(&error))
}

/// Adds all that can be decoded to the audio.
fn unpack(file: &mut dyn FormatReader, parameters: &AudioCodecParameters, audio: &mut Audio) -> Result<(), Unread> {
    let options = AudioDecoderOptions::default();
    let decoder = symphonia::default::get_codecs().make_audio_decoder(parameters, &options);
    let mut decoder = decoder.map_err(|error| unread(&error))?;
    let mut block: Vec<Vec<f32>> = Vec::new();
    // What follows a damaged place would sound at a wrong time, so the sound ends there.
    while let Ok(Some(packet)) = file.next_packet() {
        let Ok(decoded) = decoder.decode(&packet) else { break };
        if decoded.num_planes() != audio.channels.len() {
            return Err(Unread::Broken("changes its channels in the middle".into()));
        }
        decoded.copy_to_vecs_planar(&mut block);
        for (side, more) in audio.channels.iter_mut().zip(&block) {
            side.extend_from_slice(more);
        }
        if (audio.frames() * audio.channels.len()) as u64 > MOST_SAMPLES {
            return Err(too_long());
        }
    }
    Ok(())
}

fn too_long() -> Unread {
    Unread::Broken("unpacks to more than 2 GiB, too long for a one-shot".into())
}

fn unread(error: &Error) -> Unread {
    Unread::Broken(match error {
        Error::IoError(_) => "breaks off within its header".into(),
        error => format!("is a FLAC that can't be read: {error}"),
    })
}

/// What its Vorbis comments say.
fn tags(file: &mut dyn FormatReader) -> Vec<(&'static str, String)> {
    let metadata = file.metadata();
    let Some(current) = metadata.current() else {
        return Vec::new();
    };
    let named = |tag: &symphonia::core::meta::Tag| match tag.std.as_ref()? {
        StandardTag::TrackTitle(text) => Some(("title", text.to_string())),
        StandardTag::Artist(text) => Some(("artist", text.to_string())),
        StandardTag::Copyright(text) => Some(("copyright", text.to_string())),
        StandardTag::License(text) => Some(("licence", text.to_string())),
        _ => None,
    };
    current.media.tags.iter().filter_map(named).collect()
}
