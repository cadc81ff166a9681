//! Lossless audio: FLAC (RFC 9639), in memory for the listening page, and as a file.

use std::io::Write;
use std::path::Path;

use flacenc::bitsink::ByteSink;
use flacenc::component::BitRepr;
use flacenc::config::Encoder;
use flacenc::error::Verify;
use flacenc::source::MemSource;

use super::dither::dithered;
use super::write_beside;
use crate::base::audio::Audio;
use crate::text::Problem;
use crate::wav::{Coding, Tags};

/// Bytes before the first block's header: the letters that open every stream.
const OPENING: usize = 4;
/// Bytes of the first block, STREAMINFO, with its header (RFC 9639, 8.1 and 8.2).
const STREAM_INFO: usize = 4 + 34;
/// The bit of a header that says that no block follows, and the type of comments (RFC 9639, 8.1).
const LAST: u8 = 0x80;
const COMMENTS: u8 = 4;

/// Writes audio as a FLAC file with a bit depth of 16 or 24, which says what made it (`maker`) and what its tags say.
///
/// # Errors
/// As [`encode`] and `write_beside`.
pub(crate) fn write(
    path: &Path,
    audio: &Audio,
    coding: Coding,
    (tags, maker): (&Tags, &str),
    seed: u64,
) -> Result<(), Problem> {
    let bits = if coding == Coding::Int16 { 16 } else { 24 };
    let bytes = marked(encode(audio, bits, seed)?, maker, &comments(tags));
    write_beside(path, |out| out.write_all(&bytes))
}

/// What a WAV's tags say, as a stream's comments: title, comment, and what repeats [practice].
fn comments(tags: &Tags) -> Vec<String> {
    let named = tags.info.iter().filter_map(|(code, text)| match code {
        b"INAM" => Some(format!("TITLE={text}")),
        b"ICMT" => Some(format!("COMMENT={text}")),
        _ => None,
    });
    let round = tags
        .round
        .into_iter()
        .flat_map(|(first, last)| [format!("LOOPSTART={first}"), format!("LOOPLENGTH={}", last - first + 1)]);
    named.chain(round).collect()
}

/// A stream with the name of what made it as the vendor of its comments, and with these comments (RFC 9639, 8.6).
fn marked(mut stream: Vec<u8>, maker: &str, comments: &[String]) -> Vec<u8> {
    let at = OPENING + STREAM_INFO;
    let last = stream[OPENING] & LAST;
    stream[OPENING] &= !LAST;
    let counted = |text: &str| [&(text.len() as u32).to_le_bytes(), text.as_bytes()].concat();
    let mut body = counted(maker);
    body.extend((comments.len() as u32).to_le_bytes());
    comments.iter().for_each(|comment| body.extend(counted(comment)));
    let mut block = vec![last | COMMENTS];
    block.extend(&(body.len() as u32).to_be_bytes()[1..]);
    block.extend(body);
    stream.splice(at..at, block);
    stream
}

/// The vendor of a stream's comments, where they are its second block.
pub(super) fn vendor(stream: &[u8]) -> Option<String> {
    let block = stream.get(OPENING + STREAM_INFO..)?;
    let (head, body) = block.split_at_checked(4)?;
    let length = u32::from_le_bytes(body.get(..4)?.try_into().ok()?) as usize;
    let vendor = body.get(4..4 + length)?;
    (head[0] & !LAST == COMMENTS).then(|| String::from_utf8_lossy(vendor).into_owned())
}

/// Audio as a FLAC stream of a bit depth, dithered from the seed as a WAV of that depth is.
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
