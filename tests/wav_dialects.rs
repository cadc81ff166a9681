//! The promise that a WAV is read right in whatever dialect it was written, or refused with a sentence that says why.
//!
//! Every file here is built byte by byte by this test alone.

use std::io::Cursor;

use pressroll::internals::files::Refused;
use pressroll::internals::wav::{self, Decoded, WavError};
use proptest::prelude::*;

/// A chunk as it stands in the file: name, told size, body, pad.
fn chunk(name: &[u8; 4], body: &[u8]) -> Vec<u8> {
    let mut bytes = told(name, body.len() as u32, body);
    if body.len() % 2 == 1 {
        bytes.push(0);
    }
    bytes
}

/// A chunk that tells a size of its own choosing, without a pad.
fn told(name: &[u8; 4], size: u32, body: &[u8]) -> Vec<u8> {
    [name.as_slice(), &size.to_le_bytes(), body].concat()
}

fn riff(chunks: &[Vec<u8>]) -> Vec<u8> {
    let body = chunks.concat();
    [
        b"RIFF".as_slice(),
        &(4 + body.len() as u32).to_le_bytes(),
        b"WAVE",
        &body,
    ]
    .concat()
}

fn fmt(tag: u16, channels: u16, rate: u32, bytes: u16, bits: u16) -> Vec<u8> {
    let frame = channels * bytes;
    let mut body = Vec::new();
    body.extend(tag.to_le_bytes());
    body.extend(channels.to_le_bytes());
    body.extend(rate.to_le_bytes());
    body.extend((rate * u32::from(frame)).to_le_bytes());
    body.extend(frame.to_le_bytes());
    body.extend(bits.to_le_bytes());
    body
}

/// WAVE_FORMAT_EXTENSIBLE: the sub-format is the tag and the rest of KSDATAFORMAT_SUBTYPE_PCM (Microsoft, mmreg.h).
fn extensible(tag: u16, channels: u16, rate: u32, bytes: u16, valid: u16) -> Vec<u8> {
    let mut body = fmt(0xFFFE, channels, rate, bytes, 8 * bytes);
    body.extend(22u16.to_le_bytes());
    body.extend(valid.to_le_bytes());
    body.extend(if channels == 1 { 4u32 } else { 3 }.to_le_bytes());
    body.extend(tag.to_le_bytes());
    body.extend([0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71]);
    body
}

/// Ways to store a sample: tag, bytes, bits that count.
const STORED: [(u16, u16, u16); 12] = [
    (1, 1, 8),
    (1, 1, 6),
    (1, 2, 12),
    (1, 2, 16),
    (1, 3, 20),
    (1, 3, 24),
    (1, 4, 20),
    (1, 4, 24),
    (1, 4, 32),
    (1, 2, 9),
    (3, 4, 32),
    (3, 8, 64),
];

/// Values that every coding of 6 bits or more holds exactly; in frames of two they differ from side to side.
const VALUES: [f64; 12] = [
    0.0, 0.5, -0.5, -1.0, 0.96875, -0.96875, 0.03125, -0.03125, 0.25, -0.75, 0.0, 0.125,
];

fn stored(value: f64, tag: u16, bytes: u16) -> Vec<u8> {
    match (tag, bytes) {
        (3, 4) => (value as f32).to_le_bytes().to_vec(),
        (3, _) => value.to_le_bytes().to_vec(),
        (_, 1) => vec![(value * 128.0 + 128.0) as u8],
        _ => {
            // Valid bits are the upper ones of those that are stored (Microsoft, "Multiple channel audio data and WAVE files").
            let full = (value * 2f64.powi(i32::from(8 * bytes) - 1)) as i64;
            full.to_le_bytes()[..usize::from(bytes)].to_vec()
        }
    }
}

fn samples(tag: u16, bytes: u16) -> Vec<u8> {
    VALUES.iter().flat_map(|value| stored(*value, tag, bytes)).collect()
}

fn read(bytes: &[u8]) -> Result<Decoded, WavError> {
    wav::read_from(Cursor::new(bytes))
}

#[track_caller]
fn assert_values(decoded: &Decoded, channels: usize) {
    assert_eq!(decoded.audio.channels.len(), channels);
    for (channel, samples) in decoded.audio.channels.iter().enumerate() {
        let expected: Vec<f32> = VALUES
            .iter()
            .skip(channel)
            .step_by(channels)
            .map(|v| *v as f32)
            .collect();
        assert_eq!(samples, &expected);
    }
}

#[test]
fn every_coding_in_every_container_is_read_exactly() {
    for (tag, bytes, bits) in STORED {
        for channels in [1u16, 2] {
            for rate in [8_000, 22_050, 44_100, 48_000, 96_000, 192_000] {
                let data = samples(tag, bytes);
                let mut longer = fmt(tag, channels, rate, bytes, bits);
                longer.extend(0u16.to_le_bytes());
                for format in [
                    fmt(tag, channels, rate, bytes, bits),
                    longer,
                    extensible(tag, channels, rate, bytes, bits),
                ] {
                    let plain = riff(&[chunk(b"fmt ", &format), chunk(b"data", &data)]);
                    let wide = rf64(&format, &data);
                    for file in [plain, wide] {
                        let decoded = read(&file).unwrap_or_else(|error| panic!("{tag} {bytes} {bits}: {error}"));
                        assert_eq!(decoded.audio.rate, rate);
                        assert_eq!(decoded.head.format.bits, bits);
                        assert_eq!(decoded.head.missing, 0);
                        assert_values(&decoded, channels.into());
                    }
                }
            }
        }
    }
}

#[test]
fn a_reader_of_plain_wavs_reads_the_same() {
    // hound, an independent reader, for the codings that it reads right.
    for (tag, bytes, bits) in [(1u16, 1u16, 8u16), (1, 2, 16), (1, 3, 24), (1, 4, 32), (3, 4, 32)] {
        let file = riff(&[
            chunk(b"fmt ", &fmt(tag, 1, 48_000, bytes, bits)),
            chunk(b"data", &samples(tag, bytes)),
        ]);
        let mut other = hound::WavReader::new(Cursor::new(&file)).unwrap();
        let full = 2f64.powi(i32::from(bits) - 1);
        let values: Vec<f32> = match tag {
            3 => other.samples::<f32>().map(Result::unwrap).collect(),
            _ => other
                .samples::<i32>()
                .map(|sample| (f64::from(sample.unwrap()) / full) as f32)
                .collect(),
        };
        assert_eq!(read(&file).unwrap().audio.channels, [values]);
    }
}

/// RF64 (EBU Tech 3306): sizes of 64 bits in `ds64`, -1 where they would stand.
fn rf64(format: &[u8], data: &[u8]) -> Vec<u8> {
    let mut sizes = Vec::new();
    sizes.extend(0u64.to_le_bytes());
    sizes.extend((data.len() as u64).to_le_bytes());
    sizes.extend(0u64.to_le_bytes());
    sizes.extend(0u32.to_le_bytes());
    let mut bytes = [b"RF64".as_slice(), &u32::MAX.to_le_bytes(), b"WAVE"].concat();
    bytes.extend(chunk(b"ds64", &sizes));
    bytes.extend(chunk(b"fmt ", format));
    bytes.extend(told(b"data", u32::MAX, data));
    if data.len() % 2 == 1 {
        bytes.push(0);
    }
    bytes.extend(chunk(
        b"LIST",
        &[b"INFO".as_slice(), &chunk(b"INAM", b"Foghorn\0")].concat(),
    ));
    bytes
}

fn mono16() -> Vec<u8> {
    chunk(b"fmt ", &fmt(1, 1, 48_000, 2, 16))
}

#[test]
fn chunks_come_in_any_order_and_odd_ones_are_padded() {
    let data = chunk(b"data", &samples(1, 2));
    let odd = chunk(b"note", b"odd");
    for chunks in [
        vec![odd.clone(), mono16(), data.clone()],
        vec![mono16(), odd.clone(), data.clone(), odd.clone()],
        vec![data.clone(), odd, mono16()],
    ] {
        assert_values(&read(&riff(&chunks)).unwrap(), 1);
    }
}

#[test]
fn a_pad_that_was_left_out_loses_nothing() {
    let data = chunk(b"data", &samples(1, 2));
    assert_values(&read(&riff(&[told(b"note", 3, b"odd"), mono16(), data])).unwrap(), 1);
    let odd = riff(&[
        chunk(b"fmt ", &fmt(1, 1, 48_000, 1, 8)),
        told(b"data", 3, &[128, 0, 192]),
    ]);
    let decoded = read(&odd).unwrap();
    assert_eq!(decoded.audio.channels, [[0.0, -1.0, 0.5]]);
    assert_eq!(decoded.head.missing, 0, "the last pad is no sound");
}

#[test]
fn a_writer_into_a_pipe_leaves_sizes_open() {
    for size in [0, u32::MAX, 0x7FFF_F000] {
        let file = riff(&[mono16(), told(b"data", size, &samples(1, 2))]);
        let decoded = read(&file).unwrap();
        assert_values(&decoded, 1);
        assert_eq!(decoded.head.missing, 0);
    }
}

#[test]
fn data_of_no_size_before_other_chunks_is_no_sound() {
    let file = riff(&[mono16(), chunk(b"data", b""), chunk(b"note", b"tide table")]);
    assert!(matches!(read(&file), Err(WavError::NoData)));
    assert!(matches!(
        read(&riff(&[mono16(), chunk(b"data", b"")])),
        Err(WavError::NoData)
    ));
    assert!(matches!(read(&riff(&[mono16()])), Err(WavError::NoData)));
}

#[test]
fn a_size_past_the_end_is_read_as_far_as_it_goes_and_what_is_cut_is_told() {
    let file = riff(&[mono16(), told(b"data", 24 + 200, &samples(1, 2))]);
    let decoded = read(&file).unwrap();
    assert_values(&decoded, 1);
    assert_eq!(decoded.head.missing, 100);
    assert_eq!(wav::head_from(Cursor::new(&file)).unwrap(), decoded.head);
}

#[test]
fn half_a_frame_at_the_end_is_left_out() {
    let mut data = samples(1, 2);
    data.extend([1, 2, 3]);
    let file = riff(&[chunk(b"fmt ", &fmt(1, 2, 48_000, 2, 16)), chunk(b"data", &data)]);
    assert_values(&read(&file).unwrap(), 2);
}

#[test]
fn twenty_four_bits_in_a_plain_header_may_lie_in_four_bytes() {
    let file = riff(&[
        chunk(b"fmt ", &fmt(1, 2, 48_000, 4, 24)),
        chunk(b"data", &samples(1, 4)),
    ]);
    assert_values(&read(&file).unwrap(), 2);
}

#[test]
fn what_a_wav_says_of_itself_is_read() {
    let mut sampler = Vec::new();
    for field in [0u32, 0, 20_833, 43, 0x8000_0000, 0, 0, 1, 0, 7, 0, 100, 4_099, 0, 0] {
        sampler.extend(field.to_le_bytes());
    }
    let info = [
        b"INFO".as_slice(),
        &chunk(b"INAM", b"Pier bell\0"),
        &chunk(b"ICOP", b"CC0\0"),
    ]
    .concat();
    let mut cues = 1u32.to_le_bytes().to_vec();
    for field in [9u32, 5, u32::from_le_bytes(*b"data"), 0, 0, 5] {
        cues.extend(field.to_le_bytes());
    }
    let label = [9u32.to_le_bytes().as_slice(), b"strike\0"].concat();
    let labels = [b"adtl".as_slice(), &chunk(b"labl", &label)].concat();
    let file = riff(&[
        mono16(),
        chunk(b"data", &samples(1, 2)),
        chunk(b"smpl", &sampler),
        chunk(b"LIST", &info),
        chunk(b"cue ", &cues),
        chunk(b"LIST", &labels),
    ]);
    let head = wav::head_from(Cursor::new(&file)).unwrap();
    let sampler = head.sampler.clone().unwrap();
    assert_eq!((sampler.note, sampler.fraction), (43, 0.5));
    assert_eq!(sampler.loops, [(100, 4_099)]);
    assert_eq!(head.tag(b"INAM"), Some("Pier bell"));
    assert_eq!(head.tag(b"ICOP"), Some("CC0"));
    assert_eq!((head.cues[0].frame, head.cues[0].name.as_str()), (5, "strike"));
    assert_eq!(head.frames, 12);
}

#[test]
fn what_pressroll_writes_it_reads() {
    let tags = wav::Tags {
        round: Some((0, 3)),
        info: vec![(*b"INAM", "Möwen am Kai".into())],
        cues: vec![(2, "verse".into())],
    };
    let mut writer = wav::Writer::new(Vec::new(), 1, 48_000, wav::Coding::Int24, 4, &tags).unwrap();
    writer.integers(&[0, 1 << 22, -(1 << 23), 1]).unwrap();
    let decoded = read(&writer.finish().unwrap()).unwrap();
    assert_eq!(decoded.audio.channels, [[0.0, 0.5, -1.0, 1.0 / 8_388_608.0]]);
    assert_eq!(decoded.head.sampler.unwrap().loops, [(0, 3)]);
    assert_eq!(decoded.head.info, tags.info);
    assert_eq!(
        (decoded.head.cues[0].frame, decoded.head.cues[0].name.as_str()),
        (2, "verse")
    );
}

#[test]
fn floats_that_are_no_number_are_an_error_that_names_the_first_frame() {
    for bad in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY] {
        let data: Vec<u8> = [0.0, 0.5, 0.25, bad, bad, 0.0]
            .iter()
            .flat_map(|s: &f32| s.to_le_bytes())
            .collect();
        let file = riff(&[chunk(b"fmt ", &fmt(3, 2, 48_000, 4, 32)), chunk(b"data", &data)]);
        assert!(matches!(read(&file), Err(WavError::NoNumber(1))));
    }
    let data: Vec<u8> = [0.0, 1e300].iter().flat_map(|s: &f64| s.to_le_bytes()).collect();
    let file = riff(&[chunk(b"fmt ", &fmt(3, 1, 48_000, 8, 64)), chunk(b"data", &data)]);
    assert!(
        matches!(read(&file), Err(WavError::NoNumber(1))),
        "too large for 32 bits"
    );
}

#[test]
fn a_refusal_says_what_the_file_is() {
    let says = |bytes: &[u8]| read(bytes).unwrap_err().to_string();
    let data = chunk(b"data", &samples(1, 2));
    assert!(says(b"").contains("an empty file"));
    assert!(says(b"fLaC\0\0\0\x22").contains("a FLAC file"));
    assert!(says(b"RIFF\x04").contains("breaks off"));
    assert!(says(b"RIFF\x04\0\0\0WAVE").contains("breaks off"));
    assert!(says(&riff(std::slice::from_ref(&data))).contains("`fmt `"));
    let odd = |format: Vec<u8>| says(&riff(&[chunk(b"fmt ", &format), data.clone()]));
    assert!(odd(fmt(1, 6, 48_000, 2, 16)).contains("6 channels"));
    assert!(odd(fmt(1, 0, 48_000, 2, 16)).contains("0 channels"));
    assert!(odd(fmt(1, 1, 4_000, 2, 16)).contains("4000 Hz"));
    assert!(odd(fmt(0x11, 1, 48_000, 2, 4)).contains("IMA ADPCM"));
    assert!(odd(vec![1, 0, 1]).contains("breaks off"));
}

#[test]
fn only_regular_files_of_bearable_length_are_read() {
    let folder = tempfile::tempdir().unwrap();
    assert!(matches!(
        wav::read(folder.path()),
        Err(WavError::Refused(Refused::Folder))
    ));
    assert!(matches!(
        wav::read(folder.path().join("none.wav")),
        Err(WavError::Refused(Refused::Absent))
    ));
    let long = folder.path().join("long.wav");
    // A sparse file: 3 GiB that take no room on the disk.
    std::fs::File::create(&long).unwrap().set_len(3 << 30).unwrap();
    assert!(matches!(wav::read(&long), Err(WavError::Refused(Refused::TooLong(..)))));
    assert!(matches!(wav::head(&long), Err(WavError::Refused(Refused::TooLong(..)))));
    let good = folder.path().join("good.wav");
    std::fs::write(&good, riff(&[mono16(), chunk(b"data", &samples(1, 2))])).unwrap();
    assert_values(&wav::read(&good).unwrap(), 1);
}

proptest! {
    #[test]
    fn no_bytes_make_it_panic(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        let _ = read(&bytes);
        let _ = read(&[b"RIFF\0\0\0\0WAVE".as_slice(), &bytes].concat());
    }

    #[test]
    fn no_damage_makes_it_panic_or_take_more_than_the_file_has(
        stored in 0..STORED.len(), channels in 1u16..=2, wide: bool, hurt in proptest::collection::vec((any::<usize>(), any::<u8>()), 1..12), cut: usize,
    ) {
        let (tag, bytes, bits) = STORED[stored];
        let (format, data) = (extensible(tag, channels, 44_100, bytes, bits), samples(tag, bytes));
        let mut file = if wide { rf64(&format, &data) } else { riff(&[chunk(b"fmt ", &format), chunk(b"data", &data)]) };
        for (at, byte) in hurt {
            let at = at % file.len();
            file[at] = byte;
        }
        file.truncate(file.len() - cut % 20);
        if let Ok(decoded) = read(&file) {
            prop_assert!(decoded.audio.frames() as u64 == decoded.head.frames);
            prop_assert!(decoded.audio.frames() <= file.len());
        }
    }
}
