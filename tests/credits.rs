//! `render --credits`: every one-shot that sounded, whose it is, on what terms, and the sum that tells its file.

use crate::support::wav::float;
use crate::support::{Desk, click};

/// SHA-256 as FIPS 180-4 writes it, apart from the binary's.
fn sha256(bytes: &[u8]) -> String {
    let primes: Vec<u64> = (2u64..).filter(|n| (2..*n).all(|d| n % d != 0)).take(64).collect();
    // The first 32 bits of the fractions of square and cube roots of primes (4.2.2, 5.3.3).
    let root = |prime: u64, power: u32| {
        // The whole part of 2^32 times the root, by bisection of whole numbers.
        let wanted = u128::from(prime) << (32 * power);
        let (mut low, mut high) = (0u128, 1u128 << 40);
        while high - low > 1 {
            let middle = (low + high) / 2;
            if middle.pow(power) <= wanted {
                low = middle
            } else {
                high = middle
            }
        }
        low as u32
    };
    let k: Vec<u32> = primes.iter().map(|prime| root(*prime, 3)).collect();
    let mut h: Vec<u32> = primes.iter().take(8).map(|prime| root(*prime, 2)).collect();
    let mut padded = bytes.to_vec();
    padded.push(0x80);
    padded.resize(padded.len().next_multiple_of(64), 0);
    if padded.len() - bytes.len() < 9 {
        padded.resize(padded.len() + 64, 0);
    }
    let end = padded.len() - 8;
    padded[end..].copy_from_slice(&(8 * bytes.len() as u64).to_be_bytes());
    for block in padded.chunks_exact(64) {
        let mut w: Vec<u32> = block
            .chunks_exact(4)
            .map(|word| u32::from_be_bytes(word.try_into().unwrap()))
            .collect();
        for t in 16..64 {
            let small = |x: u32, a: u32, b: u32, c: u32| x.rotate_right(a) ^ x.rotate_right(b) ^ (x >> c);
            w.push(
                small(w[t - 2], 17, 19, 10)
                    .wrapping_add(w[t - 7])
                    .wrapping_add(small(w[t - 15], 7, 18, 3))
                    .wrapping_add(w[t - 16]),
            );
        }
        let mut v: [u32; 8] = h.clone().try_into().unwrap();
        for t in 0..64 {
            let large = |x: u32, a: u32, b: u32, c: u32| x.rotate_right(a) ^ x.rotate_right(b) ^ x.rotate_right(c);
            let first = v[7]
                .wrapping_add(large(v[4], 6, 11, 25))
                .wrapping_add((v[4] & v[5]) ^ (!v[4] & v[6]))
                .wrapping_add(k[t])
                .wrapping_add(w[t]);
            let second = large(v[0], 2, 13, 22).wrapping_add((v[0] & v[1]) ^ (v[0] & v[2]) ^ (v[1] & v[2]));
            v = [
                first.wrapping_add(second),
                v[0],
                v[1],
                v[2],
                v[3].wrapping_add(first),
                v[4],
                v[5],
                v[6],
            ];
        }
        h.iter_mut().zip(v).for_each(|(h, v)| *h = h.wrapping_add(v));
    }
    h.iter().map(|word| format!("{word:08x}")).collect()
}

/// A WAV of a click that says of itself who made it, and what is written about the right to copy it.
fn signed(artist: &str, copyright: &str) -> Vec<u8> {
    let mut info = b"INFO".to_vec();
    for (code, text) in [(b"IART", artist), (b"ICOP", copyright)] {
        info.extend_from_slice(code);
        info.extend_from_slice(&(text.len() as u32 + 1).to_le_bytes());
        info.extend_from_slice(text.as_bytes());
        info.extend(vec![0; 1 + (text.len() + 1) % 2]);
    }
    let mut bytes = float(48_000, &[click()]);
    bytes.extend_from_slice(b"LIST");
    bytes.extend_from_slice(&(info.len() as u32).to_le_bytes());
    bytes.extend_from_slice(&info);
    let riff = (bytes.len() as u32 - 8).to_le_bytes();
    bytes[4..8].copy_from_slice(&riff);
    bytes
}

const LOOP: &str = "[loop]\ntitle = \"Night ferry\"\nkit = \"shots\"\ntempo = 120\nbars = 2\n[tab]\n\"1\" = \"\"\"\nkick x-x-\nclap ---x\n\"\"\"\n\"2\" = \"\"\"\nkick x---\nsnare -x--\nshaker xxxx\n\"\"\"\n[[part]]\nname = \"kick\"\n[[part]]\nname = \"shaker\"\nmute = true\n";

fn desk() -> Desk {
    let desk = Desk::new();
    for name in ["kick", "clap", "shaker", "crash"] {
        desk.one_shot(&format!("shots/{name}.wav"), &[click()]);
    }
    desk.write(
        "shots/deep/snare.wav",
        signed("Quay Ensemble", "Copyright 2024 Quay Ensemble"),
    );
    desk.write(
        "shots/kit.toml",
        "[kit]\ntitle = \"Harbour shots\"\nmaker = \"Harbour Radio\"\n\
         [[piece]]\nname = \"kick\"\nfiles = [\"kick.wav\"]\nmaker = \"The pier drummer\"\nlicence = \"CC0 1.0\"\n\
         [[piece]]\nname = \"clap\"\nlicence = \"CC BY 4.0\"\n",
    );
    desk.write("loop.toml", LOOP);
    desk
}

fn credits(desk: &Desk, options: &[&str]) -> String {
    let (_, told) = desk.render_file("loop.toml", &[&["--credits"], options].concat());
    assert_eq!(told["credits"], "out.credits.txt");
    std::fs::read_to_string(desk.path("out.credits.txt")).unwrap()
}

/// The lines of one recording's block.
fn block(page: &str, file: &str) -> Vec<String> {
    let lines = page.lines().skip_while(|line| line.trim() != file).skip(1);
    let lines: Vec<String> = lines
        .take_while(|line| line.starts_with("    "))
        .map(|line| line.split_whitespace().collect::<Vec<_>>().join(" "))
        .collect();
    assert!(!lines.is_empty(), "{file} in\n{page}");
    lines
}

#[test]
fn every_one_shot_that_sounded_stands_there_with_its_sum_maker_and_licence() {
    // FIPS 180-4's "abc", of one block, and its 448 bits, of two; the first is recomputed by `tests/reference/constants.py`.
    let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    assert_eq!(sha256(b"abc"), abc);
    let longer = "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1";
    assert_eq!(
        sha256(b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"),
        longer
    );

    let desk = desk();
    let page = credits(&desk, &[]);
    let sum = |file: &str| {
        format!(
            "SHA-256 {}",
            sha256(&std::fs::read(desk.path(&format!("shots/{file}"))).unwrap())
        )
    };
    assert_eq!(
        block(&page, "kick.wav"),
        [
            "plays kick, 3 hits",
            "maker The pier drummer",
            "licence CC0 1.0",
            &sum("kick.wav")
        ]
    );
    assert_eq!(
        block(&page, "clap.wav"),
        [
            "plays clap, 1 hit",
            "maker Harbour Radio",
            "licence CC BY 4.0",
            &sum("clap.wav")
        ]
    );
    // The kit says who made it, and nothing of terms: there the file's own words stand, as its own.
    assert_eq!(
        block(&page, "deep/snare.wav"),
        [
            "plays snare, 1 hit",
            "maker Harbour Radio",
            "licence Copyright 2024 Quay Ensemble (the file itself says so)",
            &sum("deep/snare.wav")
        ]
    );
    assert!(page.contains("Harbour shots") && page.contains("Night ferry"), "{page}");
    assert!(
        !page.contains("shaker") && !page.contains("crash"),
        "muted, or never struck: {page}"
    );
    assert!(page.lines().all(|line| line.chars().count() <= 80), "{page}");
}

#[test]
fn what_bars_and_mutes_leave_out_is_not_credited() {
    let desk = desk();
    let second = credits(&desk, &["--bars", "2"]);
    assert!(
        !second.contains("clap") && second.contains("plays    kick, 1 hit\n"),
        "{second}"
    );
    let first = credits(&desk, &["--only", "clap"]);
    assert!(first.contains("clap.wav") && !first.contains("kick.wav"), "{first}");
    let all = credits(&desk, &["--set", "shaker.mute=false", "--repeat", "2"]);
    assert!(all.contains("plays    shaker, 8 hits"), "{all}");
    assert!(
        all.contains("Nothing says on what terms these may be used:\n  shaker.wav\n"),
        "{all}"
    );
    assert_eq!(credits(&desk, &[]), credits(&desk, &[]), "the same page every time");
}

#[test]
fn swaps_loans_rooms_and_the_stand_in_count() {
    let desk = desk();
    desk.write("found/door.wav", signed("A door", "as found"));
    desk.one_shot("stairs.wav", &[click()]);
    let more = "room = -6\n[rooms.unused]\nimpulse = \"stairs.wav\"\n[room]\nimpulse = \"stairs.wav\"\n\
                [[part]]\nname = \"tune\"\npiece = \"stand-in\"\nnotes = \"C4 - E4 -\"\n\
                [[part]]\nname = \"ride\"\nhits = \"x---\"\n";
    desk.write(
        "loop.toml",
        LOOP.replace("name = \"kick\"\n", "name = \"kick\"\nroom = -6\n") + &more["room = -6\n".len()..],
    );
    let page = credits(&desk, &["--swap", "clap=found/door.wav", "--lend"]);
    assert_eq!(
        block(&page, "found/door.wav")[..2],
        ["plays clap, 1 hit", "maker A door (the file itself says so)"]
    );
    assert_eq!(block(&page, "crash.wav")[0], "plays ride, 2 hits");
    assert_eq!(block(&page, "stairs.wav")[0], "plays the impulse response of `room`");
    let own = block(&page, "stand-in");
    assert!(
        own[0].starts_with("plays stand-in, 4 hits") && own[2].contains("pressroll's own"),
        "{own:?}"
    );
    assert!(
        !page.contains("shots/clap.wav") && !page.contains("\n  clap.wav"),
        "{page}"
    );
    let dry = credits(&desk, &["--lend", "--only", "clap,tune"]);
    assert!(
        !dry.contains("stairs.wav"),
        "no one who is heard plays into the room: {dry}"
    );
}

#[test]
fn forms_and_mixes_have_credits_of_their_own() {
    let desk = desk();
    desk.write(
        "loop.toml",
        format!("{LOOP}[[mix]]\nname = \"no clap\"\nset = {{ \"clap.mute\" = true }}\n[[part]]\nname = \"clap\"\n"),
    );
    desk.run(&["render", "loop.toml", "-o", "out.wav", "--mixes", "--credits"])
        .assert_done();
    let page = |name: &str| std::fs::read_to_string(desk.path(name)).unwrap();
    assert!(page("out.credits.txt").contains("\n  clap.wav"));
    assert!(!page("out-no-clap.credits.txt").contains("\n  clap.wav"));
    assert!(page("out-no-clap.credits.txt").contains("out-no-clap.wav"));
    desk.write(
        "show.toml",
        "[form]\ntitle = \"Show\"\n[[section]]\nname = \"a\"\nloop = \"loop.toml\"\nbars = \"2\"\ntimes = 2\n\
         [[section]]\nname = \"b\"\nloop = \"loop.toml\"\nmute = [\"kick\"]\n",
    );
    desk.run(&["render", "show.toml", "-o", "show.wav", "--credits"])
        .assert_done();
    let show = page("show.credits.txt");
    assert_eq!(block(&show, "kick.wav")[0], "plays kick, 2 hits");
    assert_eq!(block(&show, "clap.wav")[0], "plays clap, 1 hit");
    assert_eq!(block(&show, "deep/snare.wav")[0], "plays snare, 3 hits");
}

/// An AIFF of a few frames with text chunks before its sound.
fn aiff(texts: &[(&[u8; 4], &str)]) -> Vec<u8> {
    let mut chunks: Vec<(&[u8; 4], Vec<u8>)> = texts
        .iter()
        .map(|(name, text)| (*name, text.as_bytes().to_vec()))
        .collect();
    // One channel, four frames, 16 bits, 44,100 Hz as an 80-bit float.
    chunks.push((
        b"COMM",
        vec![0, 1, 0, 0, 0, 4, 0, 16, 0x40, 0x0E, 0xAC, 0x44, 0, 0, 0, 0, 0, 0],
    ));
    chunks.push((b"SSND", vec![0, 0, 0, 0, 0, 0, 0, 0, 0x40, 0, 0x20, 0, 0x10, 0, 0, 0]));
    let mut form = b"AIFF".to_vec();
    for (name, body) in chunks {
        form.extend_from_slice(name);
        form.extend((body.len() as u32).to_be_bytes());
        form.extend_from_slice(&body);
        form.resize(form.len().next_multiple_of(2), 0);
    }
    [b"FORM".to_vec(), (form.len() as u32).to_be_bytes().to_vec(), form].concat()
}

/// A FLAC of the reference rows (RFC 9639), with Vorbis comments before its sound.
fn flac(comments: &[&str]) -> Vec<u8> {
    let bare = crate::support::flac();
    let mut block = 0u32.to_le_bytes().to_vec();
    block.extend((comments.len() as u32).to_le_bytes());
    for comment in comments {
        block.extend((comment.len() as u32).to_le_bytes());
        block.extend_from_slice(comment.as_bytes());
    }
    // After the stream's description, 4 + 4 + 34 bytes, come blocks up to the one with the high bit; kind 4 is comments.
    let mut sound = 42;
    let mut last = bare[4] & 0x80 != 0;
    while !last {
        last = bare[sound] & 0x80 != 0;
        let size = u32::from_be_bytes([0, bare[sound + 1], bare[sound + 2], bare[sound + 3]]);
        sound += 4 + size as usize;
    }
    let mut bytes = bare[..42].to_vec();
    bytes[4] &= 0x7F;
    bytes.push(0x84);
    bytes.extend_from_slice(&(block.len() as u32).to_be_bytes()[1..]);
    bytes.extend(block);
    bytes.extend_from_slice(&bare[sound..]);
    bytes
}

#[test]
fn aiffs_and_flacs_speak_for_themselves_too() {
    let desk = desk();
    std::fs::remove_file(desk.path("shots/kit.toml")).unwrap();
    for name in ["kick", "clap", "deep/snare"] {
        std::fs::remove_file(desk.path(&format!("shots/{name}.wav"))).unwrap();
    }
    let told: &[(&[u8; 4], &str)] = &[(b"AUTH", "Möwe Trio"), (b"(c) ", "2023 Möwe Trio")];
    desk.write("shots/kick.aif", aiff(told));
    desk.write(
        "shots/clap.flac",
        flac(&[
            "TITLE=clap",
            "ARTIST=Pier Singers",
            "COPYRIGHT=2022 Pier Singers",
            "LICENSE=CC BY 4.0",
        ]),
    );
    // What programs leave in notes is no licence.
    let notes: &[(&[u8; 4], &str)] = &[(b"ANNO", "bounced on a Monday"), (b"ANNO", "Licence: CC0 1.0")];
    desk.write("shots/snare.aiff", aiff(notes));
    let page = credits(&desk, &[]);
    assert_eq!(
        block(&page, "kick.aif")[1..3],
        [
            "maker Möwe Trio (the file itself says so)",
            "licence 2023 Möwe Trio (the file itself says so)"
        ]
    );
    assert_eq!(
        block(&page, "clap.flac")[1..3],
        [
            "maker Pier Singers (the file itself says so)",
            "licence 2022 Pier Singers; CC BY 4.0 (the file itself says so)"
        ]
    );
    assert_eq!(
        block(&page, "snare.aiff")[1..3],
        ["maker not told", "licence Licence: CC0 1.0 (the file itself says so)"]
    );
    desk.write(
        "shots/kit.toml",
        "[kit]\nmaker = \"Harbour Radio\"\nlicence = \"CC0 1.0\"\n",
    );
    let page = credits(&desk, &[]);
    assert_eq!(
        block(&page, "kick.aif")[1..3],
        ["maker Harbour Radio", "licence CC0 1.0"]
    );
}
