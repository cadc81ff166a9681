//! Awkward one-shots, each named after what is awkward about it: a clean read, or one clear sentence that names the file.
//! Never a panic, never a wait.

use std::time::Duration;

use crate::support::{Desk, flac, tab};

/// Sixteen frames of 16 bits, loud enough to be heard.
fn sound() -> Vec<u8> {
    (0..16i16).flat_map(|n| (16_000 - 1_000 * n).to_le_bytes()).collect()
}

fn chunk(name: &[u8; 4], size: u32, body: &[u8]) -> Vec<u8> {
    [name.as_slice(), &size.to_le_bytes(), body].concat()
}

fn whole(name: &[u8; 4], body: &[u8]) -> Vec<u8> {
    let mut bytes = chunk(name, body.len() as u32, body);
    bytes.resize(bytes.len() + body.len() % 2, 0);
    bytes
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
    let mut body = Vec::new();
    body.extend(tag.to_le_bytes());
    body.extend(channels.to_le_bytes());
    body.extend(rate.to_le_bytes());
    body.extend(rate.wrapping_mul((channels * bytes).into()).to_le_bytes());
    body.extend((channels * bytes).to_le_bytes());
    body.extend(bits.to_le_bytes());
    body
}

fn mono() -> Vec<u8> {
    whole(b"fmt ", &fmt(1, 1, 48_000, 2, 16))
}

fn extensible(mask: u32) -> Vec<u8> {
    let mut body = fmt(0xFFFE, 2, 48_000, 2, 16);
    body.extend(22u16.to_le_bytes());
    body.extend(16u16.to_le_bytes());
    body.extend(mask.to_le_bytes());
    body.extend([1, 0, 0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71]);
    whole(b"fmt ", &body)
}

fn rf64(told: u64) -> Vec<u8> {
    let sizes = [0u64.to_le_bytes(), told.to_le_bytes(), 0u64.to_le_bytes()].concat();
    let mut bytes = [b"RF64".as_slice(), &u32::MAX.to_le_bytes(), b"WAVE"].concat();
    bytes.extend(whole(b"ds64", &[sizes.as_slice(), &[0; 4]].concat()));
    bytes.extend(mono());
    bytes.extend(chunk(b"data", u32::MAX, &sound()));
    bytes
}

fn floats(samples: &[f32]) -> Vec<u8> {
    let data: Vec<u8> = samples.iter().flat_map(|s| s.to_le_bytes()).collect();
    riff(&[whole(b"fmt ", &fmt(3, 1, 48_000, 4, 32)), whole(b"data", &data)])
}

/// An AIFF of 16 bits: its coding (AIFF-C) or none, the frames that it tells, further chunks, the told size of its sound.
fn aiff(coding: Option<&[u8; 4]>, frames: u32, further: &[u8], size: Option<u32>) -> Vec<u8> {
    let big = |name: &[u8; 4], size: u32, body: &[u8]| [name.as_slice(), &size.to_be_bytes(), body].concat();
    let mut common = 1u16.to_be_bytes().to_vec();
    common.extend(frames.to_be_bytes());
    common.extend(16u16.to_be_bytes());
    common.extend([0x40, 0x0E, 0xBB, 0x80, 0, 0, 0, 0, 0, 0]);
    if let Some(coding) = coding {
        common.extend(coding);
        common.extend([0, 0]);
    }
    let mut data = vec![0; 8];
    data.extend(sound());
    let form = if coding.is_some() { b"AIFC" } else { b"AIFF" };
    let body = [
        form.as_slice(),
        &big(b"COMM", common.len() as u32, &common),
        further,
        &big(b"SSND", size.unwrap_or(data.len() as u32), &data),
    ]
    .concat();
    big(b"FORM", body.len() as u32, &body)
}

/// Names of files, their bytes, and what is said of each; nothing for those that are played.
fn files() -> Vec<(&'static str, Vec<u8>, &'static str)> {
    let data = || whole(b"data", &sound());
    let list = || whole(b"LIST", b"INFOINAM\x05\0\0\0Pier\0\0");
    let cut = |bytes: Vec<u8>, left: usize| bytes[..left].to_vec();
    let long = flac().len();
    vec![
        (
            "odd chunk without its pad.wav",
            riff(&[chunk(b"note", 3, b"odd"), mono(), data()]),
            "",
        ),
        (
            "odd chunk with its pad.wav",
            riff(&[whole(b"note", b"odd"), mono(), data()]),
            "",
        ),
        ("data of size 0.wav", riff(&[mono(), chunk(b"data", 0, &sound())]), ""),
        (
            "data of size 0xFFFFFFFF.wav",
            riff(&[mono(), chunk(b"data", u32::MAX, &sound())]),
            "",
        ),
        (
            "RIFF of size 0.wav",
            [b"RIFF\0\0\0\0WAVE".to_vec(), mono(), data()].concat(),
            "",
        ),
        (
            "truncated.wav",
            riff(&[mono(), chunk(b"data", 400, &sound())]),
            "184 frames",
        ),
        (
            "truncated in its header.wav",
            cut(riff(&[mono(), data()]), 20),
            "breaks off",
        ),
        ("LIST before fmt.wav", riff(&[list(), mono(), data()]), ""),
        ("fmt after data.wav", riff(&[data(), mono()]), ""),
        ("no fmt.wav", riff(&[data()]), "no `fmt ` chunk"),
        ("no data.wav", riff(&[mono()]), "no sound in it"),
        ("RF64.wav", rf64(32), ""),
        ("RF64 that tells terabytes.wav", rf64(1 << 42), "is cut short"),
        (
            "RF64 without ds64.wav",
            [b"RF64\xFF\xFF\xFF\xFFWAVE".to_vec(), mono(), data()].concat(),
            "",
        ),
        (
            "zero frames.wav",
            riff(&[mono(), chunk(b"data", 0, b"")]),
            "no sound in it",
        ),
        ("one sample.wav", riff(&[mono(), whole(b"data", &[0, 0x40])]), ""),
        (
            "half a sample.wav",
            riff(&[mono(), whole(b"data", &[0])]),
            "no sound in it",
        ),
        ("no number.wav", floats(&[0.5, f32::NAN, 0.25]), "the first in frame 1"),
        (
            "infinity.wav",
            floats(&[0.5, 0.25, f32::INFINITY]),
            "the first in frame 2",
        ),
        ("beyond every sound.wav", floats(&[0.5, 3e9]), "the first in frame 1"),
        ("floats over full scale.wav", floats(&[8.0, -8.0, 4.0]), ""),
        ("floats without fact.wav", floats(&[0.5, 0.25]), ""),
        ("all zeros inside.wav", floats(&[0.0; 64]), ""),
        (
            "24 in 32.wav",
            riff(&[whole(b"fmt ", &fmt(1, 1, 48_000, 4, 24)), data()]),
            "",
        ),
        (
            "extensible with an odd mask.wav",
            riff(&[extensible(0x8000_0400), data()]),
            "",
        ),
        ("extensible with no mask.wav", riff(&[extensible(0), data()]), ""),
        ("two data chunks.wav", riff(&[mono(), data(), data()]), ""),
        (
            "huge chunk.wav",
            riff(&[mono(), data(), chunk(b"note", 0x7FFF_FFF0, b"short")]),
            "",
        ),
        (
            "huge chunk before data.wav",
            riff(&[mono(), chunk(b"note", 0xF000_0000, &data())]),
            "no sound in it",
        ),
        (
            "a thousand chunks.wav",
            riff(&[vec![whole(b"note", b"x"); 1_000].concat(), mono(), data()]),
            "",
        ),
        (
            "six channels.wav",
            riff(&[whole(b"fmt ", &fmt(1, 6, 48_000, 2, 16)), data()]),
            "6 channels",
        ),
        (
            "no channels.wav",
            riff(&[whole(b"fmt ", &fmt(1, 0, 48_000, 2, 16)), data()]),
            "0 channels",
        ),
        (
            "rate of 0.wav",
            riff(&[whole(b"fmt ", &fmt(1, 1, 0, 2, 16)), data()]),
            "0 Hz",
        ),
        (
            "ADPCM.wav",
            riff(&[whole(b"fmt ", &fmt(2, 1, 48_000, 1, 4)), data()]),
            "ADPCM",
        ),
        (
            "mu-law.wav",
            riff(&[whole(b"fmt ", &fmt(7, 1, 8_000, 1, 8)), data()]),
            "",
        ),
        ("text.wav", b"Low tide at noon.\n".to_vec(), "is text, not a sound"),
        ("empty.wav", vec![], "is an empty file, not a sound"),
        ("zeros.wav", vec![0; 4_096], "is nothing but zeros, not a sound"),
        (
            "noise.wav",
            (0..4_096u32)
                .map(|n| (n.wrapping_mul(2_654_435_761) >> 13) as u8)
                .collect(),
            "convert it",
        ),
        ("AIFF by another name.wav", aiff(None, 16, b"", None), ""),
        ("FLAC by another name.wav", flac(), ""),
        ("WAV by another name.flac", riff(&[mono(), data()]), ""),
        (
            "MP3 by another name.wav",
            b"ID3\x04\0\0\0\0\0\0\xFF\xFB\x90\x64".to_vec(),
            "is an MP3 file; convert it to WAV, AIFF or FLAC",
        ),
        (
            "Ogg by another name.wav",
            b"OggS\0\x02".to_vec(),
            "is an Ogg file; convert it",
        ),
        (
            "MP4 by another name.wav",
            b"\0\0\0\x20ftypM4A ".to_vec(),
            "is an MP4 file; convert it",
        ),
        ("plain.aiff", aiff(None, 16, b"", None), ""),
        ("sowt.aifc", aiff(Some(b"sowt"), 16, b"", None), ""),
        ("compressed.aifc", aiff(Some(b"ima4"), 16, b"", None), "`ima4`"),
        ("truncated.aif", aiff(None, 400, b"", Some(808)), "384 frames"),
        ("frames of 0.aif", aiff(None, 0, b"", None), ""),
        (
            "huge chunk.aif",
            aiff(None, 16, b"APPL\xFF\xFF\xFF\xF0", None),
            "no sound in it",
        ),
        (
            "odd chunk without its pad.aif",
            aiff(None, 16, b"NAME\0\0\0\x03odd", None),
            "",
        ),
        (
            "truncated in its only block.flac",
            cut(flac(), long - 8),
            "no sound in it",
        ),
        ("truncated in its header.flac", cut(flac(), 12), ""),
        ("nothing but its name.flac", b"fLaC".to_vec(), ""),
        (
            "behind a tag.flac",
            [b"ID3\x04\0\0\0\0\0\x05note!".to_vec(), flac()].concat(),
            "",
        ),
    ]
}

#[test]
fn every_awkward_file_is_read_or_refused_in_a_sentence() {
    for (name, bytes, says) in files() {
        let desk = Desk::new();
        desk.write(&format!("kit/{name}"), bytes);
        desk.write(
            "kit/kit.toml",
            format!("[[piece]]\nname = \"boom\"\nfiles = [\"{name}\"]\n"),
        );
        desk.write(
            "loop.toml",
            tab("240", 1, "boom x").replace("[loop]\n", "[loop]\nkit = \"kit\"\n"),
        );
        let answer = desk.run(&["render", "loop.toml", "-o", "out.wav"]);
        assert!(!answer.err.contains("panicked"), "{name}: {}", answer.err);
        // At once is promised; the machine may be busy with other tests.
        assert!(answer.took < Duration::from_secs(5), "{name} took {:?}", answer.took);
        match answer.code {
            Some(0) => assert_eq!(
                says.is_empty(),
                !answer.err.contains("cut short"),
                "{name}: {}",
                answer.err
            ),
            code => assert_eq!(
                (code, desk.names("").contains(&"out.wav".into())),
                (Some(1), false),
                "{name}"
            ),
        }
        assert!(
            answer.err.contains(says),
            "{name}: `{says}` is missing in:\n{}",
            answer.err
        );
        let check = desk.run(&["check", "loop.toml"]);
        assert_eq!(
            check.code, answer.code,
            "{name}: `check` says otherwise:\n{}",
            check.err
        );
        if answer.code == Some(1) {
            assert!(
                !says.is_empty() || name.starts_with("truncated in") || name.starts_with("nothing"),
                "{name}: {}",
                answer.err
            );
            assert!(
                answer.err.starts_with("error") && answer.err.contains(name),
                "{name}: {}",
                answer.err
            );
            assert_eq!(answer.err.matches("error").count(), 1, "{name}: {}", answer.err);
        }
    }
}
