//! How long a sound is and how much memory it takes once it is decoded, by its header alone.

use std::io::Read;
use std::path::Path;

use super::{Container, Extent, aiff, container, flac, open, playable};
use crate::wav;

/// Of an AIFF so many bytes are looked at: most writers describe the sound before it begins.
const START: u64 = 1 << 16;

/// Bytes of a file's sound, decoded and brought to a rate; none where its header does not tell.
pub(crate) fn decoded_bytes(path: &Path, rate: u32) -> Option<u64> {
    let Extent {
        channels,
        frames,
        rate: own,
    } = extent(path)?;
    playable(channels, own).ok()?;
    let samples = channels as f64 * frames as f64 * f64::from(rate) / own;
    Some(samples as u64 * size_of::<f32>() as u64)
}

/// Seconds of a file's sound; none where its header does not tell.
pub(crate) fn told_seconds(path: &Path) -> Option<f64> {
    let Extent { channels, frames, rate } = extent(path)?;
    playable(channels, rate).ok()?;
    Some(frames as f64 / rate)
}

fn extent(path: &Path) -> Option<Extent> {
    let mut source = open(path).ok()?;
    match container(&mut source).ok()? {
        Container::Wav => {
            let head = wav::head_from(source).ok()?;
            Some(Extent {
                channels: head.format.channels.into(),
                frames: head.frames,
                rate: head.format.rate.into(),
            })
        }
        Container::Aiff => {
            let mut start = Vec::new();
            let length = source.get_ref().metadata().ok()?.len();
            source.take(START).read_to_end(&mut start).ok()?;
            aiff::extent(&start, length)
        }
        Container::Flac => flac::extent(source),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::kit::audio::decode::decode;

    #[test]
    fn headers_tell_what_decoding_gives() {
        let seeds = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/seeds/recording");
        let mut told = Vec::new();
        for entry in seeds.read_dir().expect("seeds").flatten() {
            let path = entry.path();
            let Ok(decoded) = decode(&path) else { continue };
            let (bytes, rate) = (decoded.audio.bytes() as u64, decoded.audio.rate);
            // A file that was cut short has less than its header says.
            if decoded.missing == 0 {
                assert_eq!(decoded_bytes(&path, rate), Some(bytes), "{}", path.display());
                assert_eq!(told_seconds(&path), Some(decoded.audio.seconds()), "{}", path.display());
                assert_eq!(decoded_bytes(&path, 2 * rate), Some(2 * bytes), "{}", path.display());
                told.push(decoded.container);
            }
        }
        for container in [Container::Wav, Container::Aiff, Container::Flac] {
            assert!(told.contains(&container), "no seed is a {container}");
        }
        assert_eq!(decoded_bytes(&seeds, 48_000), None, "a folder");
    }
}
