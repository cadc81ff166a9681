//! `chart --lesson`: a folder of sounds to play along with, whose page plays them without a network.

use std::fs;

use crate::support::wav::Wav;
use crate::support::{Desk, assert_near, click, tone};
use pressroll::internals::midi;

/// A loop of two bars at 120 BPM: a snare on the first beat of each bar, a kick on the third, and a bass.
const LOOP: &str = "chords = \"Gm9 | C7 / F13 /\"\n[loop]\ntitle = \"Night ferry\"\ntempo = 120\nbars = 2\nkey = \"G minor\"\n[master]\nceiling = -1\n[tab]\n\"all\" = \"\"\"\n\
                    snare x--- ---- ---- ----\nkick ---- ---- x--- ----\n\"\"\"\n[[part]]\nname = \"snare\"\nbus = \"drums\"\n[[part]]\nname = \"kick\"\nbus = \"drums\"\ngain = -12\n\
                    [[part]]\nname = \"bass\"\npiece = \"stand-in\"\ngain = -20\nnotes = \"- - G2 -\"\n[[bus]]\nname = \"drums\"\n";

fn desk() -> Desk {
    let desk = Desk::new();
    for piece in ["snare", "kick", "side-stick"] {
        desk.one_shot(&format!("{piece}.wav"), &[click()]);
    }
    desk.write("loop.toml", LOOP);
    desk
}

fn lesson(desk: &Desk, options: &[&str]) {
    desk.run(
        &[
            &["chart", "loop.toml", "--lesson", "-o", "out", "--depth", "float"],
            options,
        ]
        .concat(),
    )
    .assert_done();
}

fn sounds(desk: &Desk) -> Vec<String> {
    let mut names = desk.names("out/audio");
    names.sort();
    names
}

fn sound(desk: &Desk, name: &str) -> Wav {
    desk.read(&format!("out/audio/{name}"))
}

/// Frames at which a sound is heard after silence.
fn onsets(sound: &Wav) -> Vec<usize> {
    let loud: Vec<usize> = (0..sound.frames()).filter(|n| sound.left()[*n].abs() > 1e-4).collect();
    let fresh = |at: &usize| !loud.contains(&at.wrapping_sub(1)) && !loud.contains(&at.wrapping_sub(2));
    loud.iter().copied().filter(fresh).collect()
}

#[test]
fn a_folder_has_every_sound_and_a_page_that_plays_them() {
    let desk = desk();
    lesson(&desk, &[]);
    assert_eq!(
        sounds(&desk),
        [
            "01-all-100-percent.wav",
            "02-all-85-percent.wav",
            "03-all-70-percent.wav",
            "04-drums-alone.wav",
            "05-without-drums.wav",
            "06-snare-alone.wav",
            "07-without-snare.wav",
            "08-kick-alone.wav",
            "09-without-kick.wav",
            "10-bass-alone.wav",
            "11-without-bass.wav",
        ]
    );
    let page = fs::read_to_string(desk.path("out/index.html")).unwrap();
    for name in sounds(&desk) {
        assert!(
            page.contains(&format!("<audio controls preload=\"none\" src=\"audio/{name}\"")),
            "{name}"
        );
    }
    // Told to screen readers, and nothing from a network.
    for words in [
        "aria-label=\"All parts at 70 percent of the tempo\"",
        "aria-label=\"bass alone\"",
        "aria-label=\"All parts without bass\"",
        "Mind your ears",
        "one bar of counts on side-stick",
        "Bar 1: Gm9. Bar 2: C7, F13.",
        "120 BPM",
        "href=\"loop.mid\"",
        "href=\"loop.musicxml\"",
        "href=\"staves.html\"",
    ] {
        assert!(page.contains(words), "{words}\n{page}");
    }
    assert!(!page.contains("http:") && !page.contains("https:"), "{page}");
    let chart = fs::read_to_string(desk.path("out/chart.txt")).unwrap();
    assert!(chart.contains("snare") && !chart.contains('\u{1b}'), "{chart}");
    let credits = fs::read_to_string(desk.path("out/loop.credits.txt")).unwrap();
    assert!(
        credits.contains("side-stick.wav") && credits.contains("snare.wav"),
        "{credits}"
    );
    let staves = fs::read_to_string(desk.path("out/loop.musicxml")).unwrap();
    assert!(staves.contains("<score-partwise"), "{staves}");
    let printed = fs::read_to_string(desk.path("out/staves.html")).unwrap();
    assert!(printed.contains("<svg") && printed.contains("Gm9"), "{printed}");
    assert!(midi::read(desk.path("out/loop.mid")).unwrap().notes().count() == 6);
}

#[test]
fn counts_come_first_and_slow_sounds_are_played_anew() {
    let desk = desk();
    lesson(&desk, &["--only", "snare,kick"]);
    // One bar of counts, then what is played: on beats 1 and 3 of two bars.
    for (name, tempo) in [("01-all-100", 120.0), ("02-all-85", 102.0), ("03-all-70", 84.0)] {
        let heard = onsets(&sound(&desk, &format!("{name}-percent.wav")));
        let wanted = [0.0, 1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0].map(|beat| beat * 60.0 / tempo * 48000.0);
        assert_eq!(heard.len(), wanted.len(), "{name}: {heard:?}");
        for (heard, wanted) in heard.iter().zip(wanted) {
            assert!(
                (*heard as f64 - wanted).abs() <= 1.0,
                "{name}: {heard}, wanted {wanted}"
            );
        }
    }
    let beats = |name: &str| {
        let heard = onsets(&sound(&desk, name));
        heard
            .iter()
            .map(|frame| (*frame as f64 / 24000.0).round() as u32)
            .collect::<Vec<_>>()
    };
    assert_eq!(beats("04-snare-alone.wav"), [0, 1, 2, 3, 4, 8]);
    assert_eq!(beats("05-without-snare.wav"), [0, 1, 2, 3, 6, 10]);
}

#[test]
fn a_slow_sound_keeps_its_pitch() {
    let desk = desk();
    desk.one_shot("pipe_A3.wav", &[tone(220.0, 1.0, 0.3)]);
    desk.write(
        "loop.toml",
        "[loop]\ntempo = 120\nbars = 1\n[[part]]\nname = \"pipe\"\nnotes = \"A3 - - -\"\n",
    );
    lesson(&desk, &[]);
    assert_eq!(
        sounds(&desk).len(),
        3,
        "one part alone has nothing to be played along with"
    );
    for (name, bar) in [("01-all-100", 2.0), ("03-all-70", 2.0 / 0.7)] {
        let sound = sound(&desk, &format!("{name}-percent.wav"));
        let from = (bar * 48000.0) as usize + 2400;
        // Rising zero crossings in a third of a second.
        let crossings = sound.left()[from..from + 16000]
            .windows(2)
            .filter(|pair| pair[0] < 0.0 && pair[1] >= 0.0);
        assert_near(crossings.count() as f64 * 3.0, 220.0, 4.0, name);
    }
}

#[test]
fn sounds_are_as_loud_as_all_of_it_where_their_peaks_allow() {
    let desk = desk();
    lesson(&desk, &[]);
    let figures = |name: &str| {
        let sound = sound(&desk, name);
        // What is behind the counts.
        let audio = pressroll::Audio {
            rate: 48000,
            channels: [sound.left(), sound.right()]
                .map(|side| side[96000..].to_vec())
                .to_vec(),
        };
        pressroll::figures(&audio)
    };
    let whole = figures("01-all-100-percent.wav");
    for name in ["04-drums-alone.wav", "08-kick-alone.wav", "10-bass-alone.wav"] {
        let own = figures(name);
        let (lufs, peak) = (own.lufs.unwrap(), own.true_peak_db.unwrap());
        assert!(peak <= -0.99, "{name} peaks at {peak} dB");
        let near = (lufs - whole.lufs.unwrap()).abs() < 0.3;
        // Else its peak keeps it from more, or twelve dB, which is all that a soft part is raised.
        let part = name.split('-').nth(1).unwrap();
        desk.render_with(LOOP, &["--only", part, "--ending", "let ring", "--set", "loop.title=x"]);
        let rendered = desk.read("out.wav");
        let audio = pressroll::Audio {
            rate: 48000,
            channels: vec![rendered.left().to_vec(), rendered.right().to_vec()],
        };
        let raised = peak - pressroll::figures(&audio).true_peak_db.unwrap();
        assert!(
            near || peak > -1.1 || (raised - 12.0).abs() < 0.05,
            "{name}: {lufs} LUFS, peak {peak} dB, raised {raised} dB"
        );
    }
}

#[test]
fn a_kit_without_a_piece_to_count_on_has_a_short_tone() {
    let desk = desk();
    fs::remove_file(desk.path("side-stick.wav")).unwrap();
    lesson(&desk, &["--only", "snare"]);
    let page = fs::read_to_string(desk.path("out/index.html")).unwrap();
    assert!(page.contains("one bar of counts on a short tone"), "{page}");
    let sound = sound(&desk, "01-all-100-percent.wav");
    let loud = |from: usize| sound.left()[from..from + 2000].iter().any(|sample| sample.abs() > 0.05);
    assert!([0, 24000, 48000, 72000].into_iter().all(loud));
    assert!(sound.left()[22000..23990].iter().all(|sample| sample.abs() < 0.01));
}

#[test]
fn metres_and_pickups_are_counted_as_they_are_felt() {
    let desk = desk();
    let count = |text: &str, beats: &[f64]| {
        desk.write("loop.toml", text);
        lesson(&desk, &["--force"]);
        let heard = onsets(&sound(&desk, "01-all-100-percent.wav"));
        assert!(heard.len() >= beats.len(), "{heard:?}");
        for (heard, wanted) in heard.iter().zip(beats) {
            assert!(
                (*heard as f64 - wanted * 48000.0).abs() <= 1.0,
                "{text}: {heard}, wanted {wanted}"
            );
        }
    };
    // Two dotted quarters; seven eighths, since quarters do not fill the bar.
    count(
        "[loop]\ntempo = 60\nbars = 1\nmetre = \"6/8\"\nbeat = \"1/4 dotted\"\n[tab]\nall = \"snare x-----\"\n",
        &[0.0, 1.0, 2.0],
    );
    count(
        "[loop]\ntempo = 60\nbars = 1\nmetre = \"7/8\"\n[tab]\nall = \"snare x------\"\n",
        &[0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5],
    );
    desk.write(
        "verse.toml",
        "[loop]\ntempo = 60\nbars = 1\n[tab]\nall = \"snare x--x\"\n",
    );
    // A bar, and the three beats before the pickup.
    count(
        "[form]\npickup = \"1/4\"\n[[section]]\nloop = \"verse.toml\"\n",
        &[0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0],
    );
    // Each section of a form has its own tempo, slowed.
    desk.write(
        "fast.toml",
        "[loop]\ntempo = 120\nbars = 1\n[tab]\nall = \"snare x--x\"\n",
    );
    desk.write(
        "loop.toml",
        "[form]\n[[section]]\nloop = \"verse.toml\"\n[[section]]\nloop = \"fast.toml\"\n",
    );
    lesson(&desk, &["--force"]);
    let heard = onsets(&sound(&desk, "03-all-70-percent.wav"));
    let wanted = [4.0, 7.0, 8.0, 9.5].map(|seconds| seconds / 0.7 * 48000.0);
    for (heard, wanted) in heard[4..].iter().zip(wanted) {
        assert!((*heard as f64 - wanted).abs() <= 1.0, "{heard}, wanted {wanted}");
    }
}

#[test]
fn a_lesson_is_replaced_whole_and_a_persons_files_never() {
    let desk = desk();
    lesson(&desk, &[]);
    // With fewer parts: what the earlier one had beyond is gone.
    lesson(&desk, &["--only", "bass"]);
    assert_eq!(sounds(&desk).len(), 3);
    let before = fs::read(desk.path("out/index.html")).unwrap();
    desk.write("out/notes.txt", "bow more lightly");
    for options in [&[][..], &["--force"]] {
        let answer = desk.run(&[&["chart", "loop.toml", "--lesson", "-o", "out"], options].concat());
        assert_eq!(answer.code, Some(1));
        assert!(answer.err.contains("notes.txt is there already"), "{}", answer.err);
        assert!(fs::read(desk.path("out/index.html")).unwrap() == before);
        assert_eq!(
            fs::read_to_string(desk.path("out/notes.txt")).unwrap(),
            "bow more lightly"
        );
    }
    // What fails leaves nothing.
    desk.write("loop.toml", LOOP.replace("snare x---", "gong x---"));
    let answer = desk.run(&["chart", "loop.toml", "--lesson", "-o", "other"]);
    assert_eq!(answer.code, Some(1));
    assert!(!desk.path("other").exists());
    assert!(desk.names("").iter().all(|name| !name.starts_with(".pressroll")));
}

#[test]
fn flac_holds_the_same_sound_and_may_be_replaced() {
    use pressroll::internals::kit::decode;
    let desk = desk();
    let write = |options: &[&str]| {
        desk.run(&[&["chart", "loop.toml", "--lesson", "-o", "out"], options].concat())
            .assert_done()
    };
    write(&[]);
    let wav = decode(desk.path("out/audio/01-all-100-percent.wav")).unwrap().audio;
    for _ in 0..2 {
        write(&["--flac", "--depth", "24"]);
        assert_eq!(sounds(&desk)[0], "01-all-100-percent.flac");
        let flac = decode(desk.path("out/audio/01-all-100-percent.flac")).unwrap().audio;
        assert!(flac.channels == wav.channels && flac.rate == wav.rate);
    }
    // 16 bits where nothing is said: what is in 24 of them hardly gets smaller.
    let size = || {
        fs::metadata(desk.path("out/audio/01-all-100-percent.flac"))
            .unwrap()
            .len()
    };
    let long = size();
    write(&["--flac"]);
    assert!(size() < long, "{} bytes, then {long}", size());
}

#[test]
fn titles_and_names_with_any_character_are_safe() {
    let desk = desk();
    desk.write(
        "A&B <Möwe>?#%.toml",
        "[loop]\ntitle = \"<b>Quay & \\\"pier\\\"</b> / 7\"\ntempo = 120\nbars = 1\n[[part]]\nname = \"Großes Blech\"\npiece = \"snare\"\nhits = \"x\"\n\
         [[part]]\nname = \"kick\"\npiece = \"kick\"\nhits = \"-x\"\n",
    );
    desk.run(&["chart", "A&B <Möwe>?#%.toml", "--lesson"]).assert_done();
    let folder = "renders/A&B <Möwe>?#%-lesson";
    let names = desk.names(&format!("{folder}/audio"));
    assert!(names.contains(&"04-Großes-Blech-alone.wav".to_string()), "{names:?}");
    let page = fs::read_to_string(desk.path(&format!("{folder}/index.html"))).unwrap();
    assert!(page.contains("&lt;b&gt;Quay") && !page.contains("<b>Quay"), "{page}");
    // Every address leads to a file of the folder.
    for part in page.split("src=\"").chain(page.split("<a href=\"")).skip(1) {
        let address = part.split('"').next().unwrap();
        if address.starts_with("<!") || address.starts_with("data:") {
            continue;
        }
        let mut bytes = Vec::new();
        let mut left = address.bytes();
        while let Some(byte) = left.next() {
            bytes.push(match byte {
                b'%' => {
                    let digits = [left.next().unwrap(), left.next().unwrap()];
                    u8::from_str_radix(std::str::from_utf8(&digits).unwrap(), 16).unwrap()
                }
                byte => byte,
            });
        }
        let place = format!("{folder}/{}", String::from_utf8(bytes).unwrap());
        assert!(desk.path(&place).is_file(), "{address}");
    }
}
