//! Compressed previews: MPEG-1 Audio Layer III (ISO/IEC 11172-3), which every browser and phone plays, with the tags of ID3v2.4.
//!
//! Encoded by LAME, which is under the GNU Lesser General Public License; hence behind a feature of its own. A stream begins with
//! about a thousand frames of the codec's own and ends with some more, so a preview does not repeat without a gap.

use std::io::Write;
use std::path::Path;

use id3::frame::Comment;
use id3::{Encoder as Id3, Tag, TagLike, Version};
use mp3lame_encoder::{Bitrate, Builder, DualPcm, Encoder, FlushNoGap, Mode, Quality, max_required_buffer_size};

use super::mark::MADE_BY;
use super::write_preview;
use crate::base::audio::Audio;
use crate::text::Problem;
use crate::wav::Tags;

/// The highest rate that the codec knows (ISO/IEC 11172-3, 2.4.2.3), in Hz.
pub(crate) const HIGHEST_RATE: u32 = 48_000;
/// Bits a second of every stream.
pub(crate) const BITS_A_SECOND: f64 = 192_000.0;
/// Frames that are handed to the encoder at a time.
const STRETCH: usize = 1 << 16;

/// Writes stereo audio to a file, with its title and comment out of a WAV's tags, its tempo in BPM and its key.
///
/// # Errors
/// As [`write_preview`]; a rate that the codec does not know.
pub(crate) fn write(path: &Path, audio: &Audio, tags: &Tags, tempo: f64, key: Option<&str>) -> Result<(), Problem> {
    let mut bytes = tagged(tags, tempo, key)?;
    bytes.extend(encoded(audio)?);
    write_preview(path, |out| out.write_all(&bytes))
}

fn failed(what: impl std::fmt::Display) -> Problem {
    Problem::new(format!("the sound can't be stored as MP3: {what}"))
}

fn encoded(audio: &Audio) -> Result<Vec<u8>, Problem> {
    let [left, right] = audio.channels.as_slice() else {
        return Err(failed("it is not in stereo"));
    };
    let mut encoder = encoder(audio.rate)?;
    let mut stream = Vec::new();
    for (left, right) in left.chunks(STRETCH).zip(right.chunks(STRETCH)) {
        stream.reserve(max_required_buffer_size(left.len()));
        encoder
            .encode_to_vec(DualPcm { left, right }, &mut stream)
            .map_err(failed)?;
    }
    stream.reserve(max_required_buffer_size(0));
    encoder.flush_to_vec::<FlushNoGap>(&mut stream).map_err(failed)?;
    // The first frame, which is silent, then tells how much silence the codec put before and behind.
    let mut first = Vec::with_capacity(encoder.lame_tag_size());
    if encoder.lame_tag_encode_to_vec(&mut first).is_some() && first.len() <= stream.len() {
        stream[..first.len()].copy_from_slice(&first);
    }
    Ok(stream)
}

fn encoder(rate: u32) -> Result<Encoder, Problem> {
    let builder = Builder::new().ok_or_else(|| failed("there is no memory"))?;
    let builder = builder.with_num_channels(2).map_err(failed)?;
    let builder = builder.with_sample_rate(rate).map_err(failed)?;
    let builder = builder.with_mode(Mode::JointStereo).map_err(failed)?;
    let builder = builder.with_brate(Bitrate::Kbps192).map_err(failed)?;
    let builder = builder.with_quality(Quality::Good).map_err(failed)?;
    builder.build().map_err(failed)
}

/// What stands before a stream: what made it, title, tempo (a whole number), key and comment (ID3v2.4.0, 4.2).
fn tagged(tags: &Tags, tempo: f64, key: Option<&str>) -> Result<Vec<u8>, Problem> {
    let mut tag = Tag::new();
    tag.set_text("TSSE", MADE_BY);
    let told = |code: &[u8; 4]| {
        tags.info
            .iter()
            .find(|(own, _)| own == code)
            .map(|(_, text)| text.clone())
    };
    if let Some(title) = told(b"INAM") {
        tag.set_title(title);
    }
    tag.set_text("TBPM", format!("{tempo:.0}"));
    key.into_iter().for_each(|key| tag.set_text("TKEY", short(key)));
    if let Some(text) = told(b"ICMT") {
        tag.add_frame(Comment {
            lang: "eng".into(),
            description: String::new(),
            text,
        });
    }
    let mut bytes = Vec::new();
    Id3::new()
        .version(Version::Id3v24)
        .encode(&tag, &mut bytes)
        .map_err(failed)?;
    Ok(bytes)
}

/// A key as TKEY has it, in three letters at most: the note, `b` or `#`, `m` for a minor third.
fn short(key: &str) -> String {
    let (tonic, scale) = key.split_once(' ').unwrap_or((key, ""));
    let minor = ["minor", "dorian", "phrygian", "aeolian", "locrian"]
        .iter()
        .any(|name| scale.contains(name));
    format!("{tonic}{}", if minor { "m" } else { "" })
}
