//! WAV files, written and read by the tests' own hands: a walk over RIFF chunks.

/// A WAV taken apart.
pub struct Wav {
    pub rate: u32,
    pub bits: u16,
    pub float: bool,
    pub channels: Vec<Vec<f32>>,
    /// Every chunk in the file's order: its four letters and its bytes.
    pub chunks: Vec<([u8; 4], Vec<u8>)>,
}

impl Wav {
    /// Takes a whole, well-formed file apart; anything amiss ends the test.
    pub fn parse(bytes: &[u8]) -> Wav {
        assert_eq!(&bytes[..4], b"RIFF");
        assert_eq!(&bytes[8..12], b"WAVE");
        assert_eq!(
            long(&bytes[4..]) as usize + 8,
            bytes.len(),
            "the RIFF size is the file's"
        );
        let mut chunks = Vec::new();
        let mut at = 12;
        while at < bytes.len() {
            let name: [u8; 4] = bytes[at..at + 4].try_into().expect("four letters");
            let size = long(&bytes[at + 4..]) as usize;
            chunks.push((name, bytes[at + 8..at + 8 + size].to_vec()));
            at += 8 + size + size % 2;
        }
        let format = &find(&chunks, b"fmt ").expect("a fmt chunk");
        // An extensible format keeps the real one in the first two bytes of its sub-format.
        let kind = if short(format) == 0xFFFE {
            short(&format[24..])
        } else {
            short(format)
        };
        let (count, bits) = (short(&format[2..]) as usize, short(&format[14..]));
        assert!(
            matches!((kind, bits), (1, 16 | 24) | (3, 32)),
            "format {kind}, {bits} bits"
        );
        let data = find(&chunks, b"data").expect("a data chunk");
        let width = usize::from(bits / 8);
        assert_eq!(data.len() % (width * count), 0, "whole frames");
        let samples: Vec<f32> = data.chunks_exact(width).map(|sample| value(sample, bits)).collect();
        let channel = |c: usize| samples.iter().skip(c).step_by(count).copied().collect();
        Wav {
            rate: long(&format[4..]),
            bits,
            float: kind == 3,
            channels: (0..count).map(channel).collect(),
            chunks,
        }
    }

    pub fn frames(&self) -> usize {
        self.channels[0].len()
    }

    pub fn left(&self) -> &[f32] {
        &self.channels[0]
    }

    pub fn right(&self) -> &[f32] {
        &self.channels[1]
    }

    pub fn chunk(&self, name: &[u8; 4]) -> Option<&[u8]> {
        find(&self.chunks, name)
    }

    /// Entries of the `LIST INFO` chunk: four letters and text.
    pub fn info(&self) -> Vec<(String, String)> {
        let Some(list) = self
            .chunks
            .iter()
            .find(|(name, bytes)| name == b"LIST" && bytes.starts_with(b"INFO"))
        else {
            return Vec::new();
        };
        let (mut at, mut entries) = (4, Vec::new());
        while at < list.1.len() {
            let size = long(&list.1[at + 4..]) as usize;
            let text = String::from_utf8_lossy(&list.1[at + 8..at + 8 + size]);
            let name = String::from_utf8_lossy(&list.1[at..at + 4]).into_owned();
            entries.push((name, text.trim_end_matches('\0').to_owned()));
            at += 8 + size + size % 2;
        }
        entries
    }
}

fn find<'a>(chunks: &'a [([u8; 4], Vec<u8>)], name: &[u8; 4]) -> Option<&'a [u8]> {
    chunks
        .iter()
        .find(|(its, _)| its == name)
        .map(|(_, bytes)| bytes.as_slice())
}

fn value(bytes: &[u8], bits: u16) -> f32 {
    match bits {
        16 => f32::from(i16::from_le_bytes([bytes[0], bytes[1]])) / 32768.0,
        24 => (i32::from_le_bytes([0, bytes[0], bytes[1], bytes[2]]) >> 8) as f32 / 8388608.0,
        _ => f32::from_le_bytes([bytes[0], bytes[1], bytes[2], bytes[3]]),
    }
}

pub fn short(bytes: &[u8]) -> u16 {
    u16::from_le_bytes([bytes[0], bytes[1]])
}

pub fn long(bytes: &[u8]) -> u32 {
    u32::from_le_bytes([bytes[0], bytes[1], bytes[2], bytes[3]])
}

/// A WAV of 32-bit floats.
pub fn float(rate: u32, channels: &[Vec<f32>]) -> Vec<u8> {
    let count = channels.len() as u32;
    let mut out = head(3, count, 32, rate, channels[0].len() as u32 * count * 4);
    for frame in 0..channels[0].len() {
        for channel in channels {
            out.extend(channel[frame].to_le_bytes());
        }
    }
    out
}

/// A WAV's first 44 bytes: format 1 for integers or 3 for floats, and the bytes of its data chunk.
pub fn head(format: u16, channels: u32, bits: u32, rate: u32, data: u32) -> Vec<u8> {
    let frame = channels * bits / 8;
    let mut out = Vec::new();
    out.extend(b"RIFF");
    out.extend((36 + data).to_le_bytes());
    out.extend(b"WAVEfmt \x10\0\0\0");
    out.extend(format.to_le_bytes());
    out.extend((channels as u16).to_le_bytes());
    out.extend(rate.to_le_bytes());
    out.extend((rate * frame).to_le_bytes());
    out.extend((frame as u16).to_le_bytes());
    out.extend((bits as u16).to_le_bytes());
    out.extend(b"data");
    out.extend(data.to_le_bytes());
    out
}
