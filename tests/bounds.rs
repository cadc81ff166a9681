//! Every limit of `pressroll reference limits` is told by name before memory is taken for what is past it.
//!
//! Memory is held to 100 MB; time is printed, and held only against hanging.

use std::fs::File;
use std::io::Read;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use crate::support::{Desk, click};
use wait4::Wait4;

/// What a refusal may take, in bytes.
const MEMORY: u64 = 100_000_000;
/// A second is what it takes at most; the machine may be busy with other tests, and a debug build is slower.
const HANGING: Duration = Duration::from_secs(15);

const HEAD: &str = "[loop]\nkit = \"kit\"\ntempo = 120\nbars = 1\n";
const PLAIN: &str = "[loop]\nkit = \"kit\"\ntempo = 120\nbars = 1\n[tab]\nall = \"kick x-x-\"\n";

fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("kit/kick.wav", &[click()]);
    desk.write("plain.toml", PLAIN);
    desk
}

/// Runs what has to be refused for a limit, which its error has to name.
#[track_caller]
fn refused(desk: &Desk, what: &str, arguments: &[&str], words: &[&str]) {
    let begun = Instant::now();
    let mut child = Command::new(env!("CARGO_BIN_EXE_pressroll"))
        .args(arguments)
        .env("NO_COLOR", "1")
        // Each thread has a stack of its own.
        .env("RAYON_NUM_THREADS", "2")
        .current_dir(desk.path(""))
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the binary runs");
    let mut told = String::new();
    let mut err = child.stderr.take().expect("standard error");
    err.read_to_string(&mut told).expect("it is text");
    let done = child.wait4().expect("it ends");
    let (took, memory) = (begun.elapsed(), done.rusage.maxrss);
    println!("{:7.3} s {:6.1} MB  {what}", took.as_secs_f64(), memory as f64 / 1e6);
    assert_eq!(done.status.code(), Some(1), "{what}: {told}");
    for word in words {
        assert!(told.contains(word), "{what}: `{word}` is missing in:\n{told}");
    }
    assert!(!told.contains("panicked"), "{what}: {told}");
    assert!(memory < MEMORY, "{what}: {memory} bytes");
    assert!(took < HANGING, "{what}: {took:?}");
}

fn refused_text(what: &str, text: &str, words: &[&str]) {
    let desk = desk();
    desk.write("loop.toml", text);
    refused(&desk, what, &["render", "loop.toml"], words);
}

/// Some text for every number below `count`.
fn each(count: usize, text: impl Fn(usize) -> String) -> String {
    (0..count).map(text).collect()
}

#[test]
fn texts() {
    let desk = desk();
    desk.write("loop.toml", PLAIN.to_string() + &"# tide\n".repeat(600_000));
    for command in ["render", "check", "chart", "compare", "play"] {
        let player: &[&str] = if command == "play" { &["--player", "true"] } else { &[] };
        let arguments = [&[command, "loop.toml"], player].concat();
        refused(&desk, "a text over 4 MiB", &arguments, &["4 MiB are the most"]);
    }
    desk.write("kit/kit.toml", "# tide\n".repeat(600_000));
    refused(
        &desk,
        "a kit.toml over 4 MiB",
        &["render", "plain.toml"],
        &["4 MiB are the most"],
    );
    desk.write("kit/kit.toml", each(90_000, |n| format!("a{n} = 1\n")));
    refused(
        &desk,
        "a kit.toml of 90000 keys",
        &["render", "plain.toml"],
        &["60000 lines and values"],
    );
    // Just under the limit, all of it wrong: told in part, with the rest counted.
    refused_text(
        "29000 wrong keys",
        &(HEAD.to_string() + &each(29_000, |n| format!("x{n} = 1\n"))),
        &["x7", "more like these"],
    );
    refused_text(
        "90000 keys",
        &(HEAD.to_string() + &each(90_000, |n| format!("x{n} = 1\n"))),
        &["60000 lines and values"],
    );
    refused_text(
        "a line of 900000 commas",
        &(HEAD.to_string() + "seed = [" + &"1,".repeat(900_000) + "]\n"),
        &["60000"],
    );
    refused_text(
        "lines that are no TOML",
        &"tide\n".repeat(50_000),
        &["loop.toml:1", "more like these"],
    );
    refused_text(
        "lists in lists",
        &(HEAD.to_string() + "seed = " + &"[".repeat(30_000) + &"]".repeat(30_000)),
        &["loop.toml"],
    );
    refused_text(
        "dots",
        &(HEAD.to_string() + &"a.".repeat(200_000) + "a = 1\n"),
        &["loop.toml"],
    );
    refused_text(
        "a string that never ends",
        &(HEAD.to_string() + "title = \"" + &"tide ".repeat(500_000)),
        &["loop.toml"],
    );
}

#[test]
fn loops() {
    let of_bars = |bars: u64| HEAD.replace("bars = 1", &format!("bars = {bars}")) + "[tab]\nall = \"kick x\"\n";
    refused_text("bars", &of_bars(10_001), &["10000"]);
    refused_text("very many bars", &of_bars(4_000_000_000), &["4000000000"]);
    refused_text(
        "its length",
        &of_bars(9_000).replace("tempo = 120", "tempo = 5"),
        &["120 minutes at most"],
    );
    refused_text(
        "parts",
        &(HEAD.to_string()
            + &each(600, |n| {
                format!("[[part]]\nname = \"p{n}\"\npiece = \"kick\"\nhits = \"x\"\n")
            })),
        &["512 are the most"],
    );
    refused_text(
        "parts of a tab",
        &(HEAD.to_string() + "[tab]\nall = '''\n" + &each(5_000, |n| format!("p{n} x\n")) + "'''\n"),
        &["512 are the most"],
    );
    let doubles = "{ interval = 12 }, ".repeat(600);
    refused_text(
        "doubles",
        &(HEAD.to_string()
            + &format!("[[part]]\nname = \"lead\"\npiece = \"stand-in\"\nnotes = \"C4\"\ndouble = [{doubles}]\n")),
        &["512 are the most"],
    );
    refused_text(
        "buses",
        &(PLAIN.to_string() + &each(300, |n| format!("[[bus]]\nname = \"b{n}\"\n"))),
        &["256 are the most"],
    );
    let chain = each(40, |n| format!("[[bus]]\nname = \"b{n}\"\nbus = \"b{}\"\n", n + 1)) + "[[bus]]\nname = \"b40\"\n";
    refused_text(
        "buses within buses",
        &(PLAIN.to_string() + &chain),
        &["32 are the most"],
    );
    let bells = |count: usize| "{ at = 10, gain = 40, width = 0.05 }, ".repeat(count);
    refused_text(
        "bells",
        &(PLAIN.to_string() + &format!("[[part]]\nname = \"kick\"\neq = [{}]\n", bells(33))),
        &["these are 33 bells", "32 are the most"],
    );
    refused_text(
        "bells of a bus",
        &(PLAIN.to_string() + &format!("[[bus]]\nname = \"all\"\neq = [{}]\n", bells(4000))),
        &["32 are the most"],
    );
    refused_text(
        "rooms and delays",
        &(PLAIN.to_string() + &each(70, |n| format!("[rooms.r{n}]\ndecay = 60\n"))),
        &["64 are the most"],
    );
    refused_text(
        "mixes",
        &(PLAIN.to_string()
            + &each(300, |n| {
                format!("[[mix]]\nname = \"m{n}\"\nset = {{ \"kick.gain\" = -3 }}\n")
            })),
        &["256 are the most"],
    );
    refused_text(
        "sweeps",
        &(PLAIN.replace("bars = 1", "bars = 1100")
            + &each(1_100, |n| {
                let bar = n + 1;
                format!("[[sweep]]\nkey = \"kick.gain\"\nbars = \"{bar}\"\nfrom = -3\nto = 0\n")
            })),
        &["1024 are the most"],
    );
    refused_text(
        "letters of a name",
        &(PLAIN.to_string() + &format!("[[part]]\nname = \"{}\"\n", "k".repeat(61))),
        &["60 letters at most"],
    );
}

#[test]
fn strokes() {
    let line = |marks: &str| PLAIN.replace("x-x-", marks);
    refused_text("marks of a bar", &line(&"x".repeat(4_097)), &["4096 are the most"]);
    refused_text("steps of a spread", &line("5 in 100000"), &["4096"]);
    let long = |play: &str| HEAD.replace("bars = 1", "bars = 1000") + play;
    refused_text(
        "strokes",
        &long(&format!("[tab]\nall = \"kick {}\"\n", "x".repeat(2_000))),
        &["1000000 are the most"],
    );
    let notes = "C4 ".repeat(2_000);
    refused_text(
        "notes",
        &long(&format!(
            "[[part]]\nname = \"lead\"\npiece = \"stand-in\"\nnotes = \"{notes}\"\n"
        )),
        &["1000000"],
    );
    let of_part = |n: usize| {
        format!(
            "[[part]]\nname = \"p{n}\"\npiece = \"stand-in\"\nnotes = \"{}\"\n",
            "C4 ".repeat(100)
        )
    };
    refused_text(
        "notes of many parts",
        &long(&each(20, of_part)),
        &["1000000 are the most"],
    );
    refused_text(
        "words of a bar",
        &(HEAD.to_string()
            + &format!(
                "[[part]]\nname = \"lead\"\npiece = \"stand-in\"\nnotes = \"{}\"\n",
                "C4 ".repeat(5_000)
            )),
        &["4096 are the most"],
    );
    refused_text(
        "chords of a bar",
        &(PLAIN.to_string() + &format!("[chords]\nall = \"{}\"\n", "Am7 / ".repeat(5_000))),
        &["4096 are the most"],
    );
    refused_text(
        "a broken chord",
        &long(
            "[chords]\nall = \"Am7\"\n[[part]]\nname = \"keys\"\npiece = \"stand-in\"\ncomp = \"x\"\narpeggio = { step = \"1/2048\", order = \"up\" }\n",
        ),
        &[],
    );
}

#[test]
fn forms() {
    let desk = desk();
    let form = |sections: &str| format!("[form]\ntitle = \"Tides\"\n{sections}");
    let section = |n: usize| format!("[[section]]\nname = \"s{n}\"\nloop = \"plain.toml\"\n");
    desk.write("form.toml", form(&each(1_100, section)));
    refused(&desk, "sections", &["render", "form.toml"], &["1000 are the most"]);
    desk.write("form.toml", form(&(section(0) + "times = 4000000000\n")));
    refused(&desk, "times round", &["render", "form.toml"], &["1 to 1000"]);
    desk.write("form.toml", form(&each(900, |n| section(n) + "times = 1000\n")));
    refused(
        &desk,
        "a form's length",
        &["render", "form.toml"],
        &["120 minutes at most"],
    );
}

#[test]
fn performances() {
    let desk = desk();
    let part = "[[part]]\nname = \"drums\"\nmidi = \"take.mid\"\n";
    desk.write("loop.toml", HEAD.to_string() + part);
    let arguments = ["render", "loop.toml"];
    let file = File::create(desk.path("take.mid")).expect("a file");
    file.set_len((16 << 20) + 1).expect("a length");
    refused(&desk, "a MIDI file over 16 MiB", &arguments, &["16 MiB are the most"]);
    let midi = |events: Vec<u8>| {
        let mut bytes = b"MThd\0\0\0\x06\0\0\0\x01\0\x60MTrk".to_vec();
        bytes.extend((events.len() as u32 + 4).to_be_bytes());
        bytes.extend(events);
        bytes.extend([0, 0xFF, 0x2F, 0]);
        bytes
    };
    desk.write("take.mid", midi([0, 0x99, 36, 100, 1, 36, 0].repeat(520_000)));
    refused(&desk, "notes", &arguments, &["500000"]);
    desk.write("take.mid", midi([0, 0xC0, 1].repeat(5_100_000)));
    refused(&desk, "events", &arguments, &["5000000"]);
}

#[test]
fn kits() {
    let desk = desk();
    let giant = File::create(desk.path("kit/snare.wav")).expect("a file");
    giant.set_len((1 << 31) + 1).expect("a length");
    desk.write("loop.toml", PLAIN.replace("kick x", "snare x"));
    refused(
        &desk,
        "a one-shot over 2 GiB",
        &["render", "loop.toml"],
        &["2 GiB are the most"],
    );
    for n in 0..20_001 {
        desk.write(&format!("many/{n}.wav"), "");
    }
    for arguments in [
        &["render", "plain.toml", "--kit", "many"][..],
        &["kit", "many"],
        &["tryout", "plain.toml", "kick", "many"],
    ] {
        refused(&desk, "one-shots", arguments, &["20000"]);
    }
    // A promise of more than a FLAC may hold, and nothing behind it: 2^36 - 1 samples, 48 kHz, 16 bits, mono.
    let mut flac = b"fLaC\x80\0\0\x22\x10\0\x10\0\0\0\0\0\0\0".to_vec();
    flac.extend([0x0B, 0xB8, 0x00, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF]);
    flac.extend([0; 16]);
    desk.write("kit/snare.wav", flac);
    refused(
        &desk,
        "a FLAC that promises hours",
        &["render", "loop.toml"],
        &["snare.wav"],
    );
}

#[test]
fn impulses() {
    let desk = desk();
    let text = PLAIN.to_string() + "[room]\nimpulse = \"hall.wav\"\n[[part]]\nname = \"kick\"\nroom = -6\n";
    desk.write("loop.toml", text);
    desk.write("hall.wav", crate::support::wav::float(8_000, &[vec![0.1; 61 * 8_000]]));
    for ending in ["repeat", "let ring"] {
        let set = format!("loop.ending=\"{ending}\"");
        let arguments = ["render", "loop.toml", "--set", &set];
        refused(
            &desk,
            "an impulse response",
            &arguments,
            &["loop.toml:8", "hall.wav", "60 s is the most"],
        );
    }
    desk.write("hall.wav", crate::support::wav::float(8_000, &[vec![0.0; 60 * 8_000]]));
    desk.run(&["render", "loop.toml", "-o", "out.wav"]).assert_done();
}

#[test]
fn renders_and_versions() {
    let desk = desk();
    desk.write("loop.toml", PLAIN.replace("bars = 1", "bars = 1000"));
    refused(
        &desk,
        "an hour and more",
        &["render", "loop.toml", "--repeat", "10000"],
        &["60 minutes are the most"],
    );
    refused(
        &desk,
        "an hour and more at 192 kHz",
        &["render", "loop.toml", "--repeat", "3", "--rate", "192000"],
        &["minutes are the most"],
    );
    let values = each(65, |n| format!("{},", -(n as i64)));
    let vary = format!("kick.gain={}", values.trim_end_matches(','));
    refused(&desk, "versions", &["compare", "plain.toml", "--vary", &vary], &["64"]);
    desk.write(
        "mixes.toml",
        PLAIN.to_string()
            + &each(3, |n| {
                format!("[[mix]]\nname = \"m{n}\"\nset = {{ \"kick.gain\" = -3 }}\n")
            }),
    );
    let text = std::fs::read_to_string(desk.path("mixes.toml"))
        .expect("it was written")
        .replace("bars = 1", "bars = 800");
    desk.write("mixes.toml", text);
    refused(
        &desk,
        "versions of more than an hour",
        &["compare", "mixes.toml"],
        &["60 minutes"],
    );
    for n in 0..65 {
        desk.one_shot(&format!("shots/{n}.wav"), &[click()]);
    }
    refused(
        &desk,
        "one-shots that are tried",
        &["tryout", "plain.toml", "kick", "shots"],
        &["64"],
    );
}

#[test]
fn every_limit_stands_in_one_place() {
    let desk = desk();
    let answer = desk.run(&["reference", "limits"]);
    answer.assert_done();
    for limit in [
        "4 MiB",
        "60000",
        "10000",
        "512",
        "4096",
        "1000000",
        "256",
        "32",
        "bells of a strip",
        "0.45 of its rate",
        "60 seconds",
        "64",
        "1024",
        "60",
        "1000",
        "16 MiB",
        "500000",
        "20000",
        "2 GiB",
        "60 minutes",
        "60 s",
    ] {
        let told = answer.out.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(told.contains(limit), "`{limit}` is missing in:\n{}", answer.out);
    }
}
