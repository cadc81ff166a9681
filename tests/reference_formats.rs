//! The promise that a one-shot sounds the same whatever it comes in: every row as libsndfile writes and reads it
//! (`tests/reference/formats.py`).

use std::io::Cursor;

use crate::support::{Desk, list, number, reference};
use pressroll::internals::kit::decode;
use pressroll::internals::kit::{Container, decode_from};
use proptest::prelude::*;
use serde_json::Value;

/// What a row keeps: the name, the file's ending and bytes, the values of each channel.
struct Row {
    name: String,
    ending: String,
    rate: u32,
    bytes: Vec<u8>,
    channels: Vec<Vec<f64>>,
}

fn rows() -> Vec<Row> {
    let row = |row: &Value| {
        let text = |key: &str| row[key].as_str().expect("a text").to_string();
        let digits = text("file");
        let byte = |at: usize| u8::from_str_radix(&digits[2 * at..2 * at + 2], 16).expect("two digits");
        let side = |side: &Value| side.as_array().expect("a list").iter().map(number).collect();
        Row {
            name: text("name"),
            ending: text("ending"),
            rate: number(&row["rate"]) as u32,
            bytes: (0..digits.len() / 2).map(byte).collect(),
            channels: list(row, "channels").iter().map(side).collect(),
        }
    };
    reference("formats")
        .as_array()
        .expect("a list")
        .iter()
        .map(row)
        .collect()
}

/// Samples are 32-bit floats here, so values of 24 bits and fewer are exact and others are rounded once.
const ROUNDED: f64 = 6e-8;

#[test]
fn every_row_is_read_as_libsndfile_reads_it() {
    let desk = Desk::new();
    let rows = rows();
    assert!(rows.len() > 100);
    for row in rows {
        let path = desk.write(&format!("row.{}", row.ending), &row.bytes);
        let decoded = decode(&path).unwrap_or_else(|unread| panic!("{}: {unread:?}", row.name));
        assert_eq!(decoded.audio.rate, row.rate, "{}", row.name);
        assert_eq!(decoded.missing, 0, "{}", row.name);
        let container = match row.ending.as_str() {
            "wav" => Container::Wav,
            "aiff" => Container::Aiff,
            _ => Container::Flac,
        };
        assert_eq!(decoded.container, container, "{}", row.name);
        assert_eq!(decoded.audio.channels.len(), row.channels.len(), "{}", row.name);
        for (side, values) in decoded.audio.channels.iter().zip(&row.channels) {
            assert_eq!(side.len(), values.len(), "{}", row.name);
            for (sample, value) in side.iter().zip(values) {
                assert!(
                    (f64::from(*sample) - value).abs() <= ROUNDED,
                    "{}: {sample} where libsndfile reads {value}",
                    row.name
                );
            }
        }
    }
}

#[test]
fn every_row_at_the_renders_rate_is_played_as_it_is() {
    let desk = Desk::new();
    let rows: Vec<Row> = rows()
        .into_iter()
        .filter(|row| row.rate == crate::support::RATE)
        .collect();
    let (mut kit, mut tab) = (String::new(), String::new());
    for (number, row) in rows.iter().enumerate() {
        let name = format!("row{number}x");
        let file = format!("{name}.{}", row.ending);
        desk.write(&file, &row.bytes);
        kit += &format!("[[piece]]\nname = \"{name}\"\nfiles = [\"{file}\"]\ntrim = false\n");
        tab += &format!("\"{}\" = \"\"\"\n{name} 9\n\"\"\"\n", number + 1);
    }
    desk.write("kit.toml", kit);
    let sound = desk.render(&format!(
        "[loop]\ntempo = 240\nmetre = \"1/4\"\nbars = {}\nending = \"damp\"\n[tab]\n{tab}[master]\nceiling = \"off\"\n",
        rows.len()
    ));
    for (number, row) in rows.iter().enumerate() {
        let begins = number * crate::support::RATE as usize / 4;
        // Mono stands at the centre, 3 dB down on each side.
        let share = if row.channels.len() == 1 { 0.5f64.sqrt() } else { 1.0 };
        for (side, heard) in [sound.left(), sound.right()].into_iter().enumerate() {
            let values = &row.channels[side.min(row.channels.len() - 1)];
            for (frame, value) in values.iter().enumerate() {
                let is = f64::from(heard[begins + frame]);
                assert!((is - share * value).abs() < 2e-7, "{}: frame {frame} is {is}", row.name);
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    #[test]
    fn no_damage_makes_it_panic(
        row in any::<prop::sample::Index>(), hurt in proptest::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..12), cut in 0..30usize,
    ) {
        thread_local! {
            static ROWS: Vec<Row> = rows();
        }
        let mut file = ROWS.with(|rows| row.get(rows).bytes.clone());
        for (at, byte) in hurt {
            let at = at.index(file.len());
            file[at] = byte;
        }
        file.truncate(file.len().saturating_sub(cut));
        if let Ok(decoded) = decode_from(Cursor::new(file)) {
            prop_assert!(decoded.audio.channels.iter().all(|side| side.len() == decoded.audio.frames()));
            prop_assert!(decoded.audio.channels.iter().flatten().all(|sample| sample.is_finite()));
        }
    }
}
