//! Lines of sound become WAV files.

use pressroll::internals::wav::{Coding, Tags, Writer};

use crate::workshop::{Line, RATE};

/// A WAV of 24 bits at 48 kHz, one channel for each line; the lines are equally long and within ±1. `round`: the first
/// and the last frame of what goes round while a note is held, where it does.
pub fn wav(title: &str, lines: &[Line], round: Option<(u32, u32)>) -> Vec<u8> {
    let tags = Tags {
        round,
        info: vec![(*b"INAM", title.to_string()), (*b"ICMT", "CC0 1.0".to_string())],
        ..Tags::default()
    };
    let frames = lines.first().map_or(0, Vec::len);
    let packed: Vec<i32> = (0..frames)
        .flat_map(|frame| {
            lines
                .iter()
                .map(move |line| libm::round(line[frame] * 8_388_607.0) as i32)
        })
        .collect();
    Writer::new(
        Vec::new(),
        lines.len() as u16,
        RATE as u32,
        Coding::Int24,
        frames as u64,
        &tags,
    )
    .and_then(|mut writer| {
        writer.integers(&packed)?;
        writer.finish()
    })
    .expect("a short WAV in memory can always be written")
}
