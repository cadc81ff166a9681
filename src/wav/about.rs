//! What a WAV says of itself beside its samples: `smpl`, `LIST INFO`, `cue ` and its labels.

use super::riff::u32_at;

/// A `smpl` chunk: at which pitch the sound was recorded, and what of it repeats.
#[derive(Debug, Clone, PartialEq)]
pub struct Sampler {
    /// The MIDI note at which it sounds as recorded. Many writers put 60 for want of knowledge.
    pub note: u32,
    /// Semitones by which the recording is above that note, 0 to below 1.
    pub fraction: f64,
    /// The first and the last frame of each loop, whatever its kind; not verified to lie within the sound.
    pub loops: Vec<(u32, u32)>,
}

/// A named place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cue {
    /// Its frame; not verified to lie within the sound.
    pub frame: u32,
    /// Its label; empty where it has none.
    pub name: String,
}

/// Reads a `smpl` chunk; none where it is too short to be one.
pub(super) fn sampler(body: &[u8]) -> Option<Sampler> {
    let told = u32_at(body, 28)? as usize;
    let loops = body.get(36..)?.chunks_exact(24).take(told);
    Some(Sampler {
        note: u32_at(body, 12)?,
        fraction: f64::from(u32_at(body, 16)?) / 4_294_967_296.0,
        loops: loops
            .filter_map(|entry| Some((u32_at(entry, 8)?, u32_at(entry, 12)?)))
            .collect(),
    })
}

/// The entries of a `LIST INFO`; none for another list.
pub(super) fn info(body: &[u8]) -> Vec<([u8; 4], String)> {
    let Some(entries) = body.strip_prefix(b"INFO") else {
        return Vec::new();
    };
    within(entries)
        .map(|(code, text)| (code, words(text)))
        .filter(|(_, text)| !text.is_empty())
        .collect()
}

/// The labels of a `LIST adtl`: a cue's number and its name.
pub(super) fn labels(body: &[u8]) -> Vec<(u32, String)> {
    let Some(entries) = body.strip_prefix(b"adtl") else {
        return Vec::new();
    };
    within(entries)
        .filter(|(code, _)| code == b"labl")
        .filter_map(|(_, label)| Some((u32_at(label, 0)?, words(label.get(4..)?))))
        .collect()
}

/// The places of a `cue ` chunk, named by labels.
pub(super) fn cues(body: &[u8], labels: &[(u32, String)]) -> Vec<Cue> {
    let told = u32_at(body, 0).unwrap_or(0) as usize;
    let name = |number| {
        labels
            .iter()
            .find(|(of, _)| *of == number)
            .map_or(String::new(), |(_, name)| name.clone())
    };
    let points = body.get(4..).unwrap_or(&[]).chunks_exact(24).take(told);
    points
        .filter_map(|point| {
            Some(Cue {
                frame: u32_at(point, 20)?,
                name: name(u32_at(point, 0)?),
            })
        })
        .collect()
}

/// The chunks within a list.
fn within(mut rest: &[u8]) -> impl Iterator<Item = ([u8; 4], &[u8])> {
    std::iter::from_fn(move || {
        let code = *rest.first_chunk()?;
        let size = u32_at(rest, 4)? as usize;
        let body = &rest[8..];
        let (body, after) = body.split_at(size.min(body.len()));
        rest = after.get(size % 2..).unwrap_or(&[]);
        Some((code, body))
    })
}

/// Text up to its first zero: UTF-8 where it is valid, else Latin-1, which older writers use.
pub(crate) fn words(bytes: &[u8]) -> String {
    let bytes = bytes.split(|byte| *byte == 0).next().unwrap_or(&[]);
    let text = match std::str::from_utf8(bytes) {
        Ok(text) => text.to_string(),
        Err(_) => bytes.iter().map(|byte| char::from(*byte)).collect(),
    };
    text.trim().to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn older_writers_text_is_read_as_latin_1() {
        assert_eq!(words(b"M\xF6we\0\0junk"), "Möwe");
        assert_eq!(words("Möwe ".as_bytes()), "Möwe");
    }

    #[test]
    fn entries_of_odd_length_are_padded_and_the_last_pad_may_lack() {
        let body = b"INFOINAM\x03\0\0\0abc\0IART\x01\0\0\0z";
        assert_eq!(info(body), [(*b"INAM", "abc".to_string()), (*b"IART", "z".to_string())]);
    }
}
