//! What a render leaves: the WAV to the sample, its coding, its loop points and title, and what `--json` tells.

use std::collections::BTreeSet;

use crate::support::{Desk, assert_near, meter, number, pluck, tab, wav};
use serde_json::Value;

fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("bell.wav", &[pluck(660.0, 1.0, 0.5)]);
    desk.write(
        "night-ferry.toml",
        "[loop]\ntitle = \"Night ferry\"\ntempo = 92.5\nbars = 2\nkey = \"G minor\"\n[tab]\n\"all\" = \"bell x--- X--g\"\n",
    );
    desk
}

/// Frames of so many quarters at a tempo.
fn frames(quarters: f64, tempo: f64, rate: f64) -> usize {
    (quarters * 60.0 / tempo * rate).round() as usize
}

#[test]
fn without_a_name_it_goes_to_renders_in_the_current_folder() {
    let desk = desk();
    std::fs::create_dir(desk.path("elsewhere")).expect("a folder");
    let answer = desk.run_in(&desk.path("elsewhere"), &[], &["render", "../night-ferry.toml"]);
    answer.assert_done();
    assert_eq!(desk.names("elsewhere/renders"), ["night-ferry.wav"]);
    let sound = desk.read("elsewhere/renders/night-ferry.wav");
    assert_eq!((sound.rate, sound.bits, sound.channels.len()), (48000, 24, 2));
    assert!(!answer.out.is_empty(), "it says what it did");
}

#[test]
fn o_names_the_file() {
    let desk = desk();
    desk.run(&["render", "night-ferry.toml", "-o", "first.wav"])
        .assert_done();
    assert!(desk.path("first.wav").exists() && !desk.path("renders").exists());
    // Again, over the old one.
    desk.run(&["render", "night-ferry.toml", "-o", "first.wav", "--depth", "16"])
        .assert_done();
    assert_eq!(desk.read("first.wav").bits, 16);
}

#[test]
fn every_depth_holds_the_same_sound() {
    let desk = desk();
    let (float, _) = desk.render_file("night-ferry.toml", &["--depth", "float"]);
    assert!(float.float && float.bits == 32);
    // Two least bits: rounding, and dither over it.
    for (depth, bits, within) in [("16", 16, 2.0 / 32768.0), ("24", 24, 2.0 / 8_388_608.0)] {
        let (sound, _) = desk.render_file("night-ferry.toml", &["--depth", depth]);
        assert!(!sound.float && sound.bits == bits);
        let rest = meter::null_db(sound.left(), float.left());
        assert!(rest <= meter::db(within) + 0.01, "{depth}: {rest} dBFS");
    }
}

#[test]
fn sixteen_bits_are_dithered() {
    let desk = desk();
    let (float, _) = desk.render_file("night-ferry.toml", &["--depth", "float"]);
    let (sound, _) = desk.render_file("night-ferry.toml", &["--depth", "16"]);
    let errors: Vec<f64> = float
        .left()
        .iter()
        .zip(sound.left())
        .map(|(a, b)| f64::from(b - a) * 32768.0)
        .collect();
    // Lipshitz, Wannamaker, Vanderkooy (JAES 1992) [memory]: under TPDF dither the total error has mean 0, variance 1/4.
    let mean = errors.iter().sum::<f64>() / errors.len() as f64;
    let variance = errors.iter().map(|e| (e - mean).powi(2)).sum::<f64>() / errors.len() as f64;
    assert_near(mean, 0.0, 0.01, "mean in least bits");
    assert_near(variance, 0.25, 0.01, "variance in squared least bits");
}

#[test]
fn rates_are_kept_to_the_sample() {
    let desk = desk();
    for rate in [44100, 48000, 96000] {
        let (sound, told) = desk.render_file("night-ferry.toml", &["--rate", &rate.to_string()]);
        assert_eq!(sound.rate, rate);
        assert_eq!(sound.frames(), frames(8.0, 92.5, f64::from(rate)));
        assert_eq!(told["frames"], sound.frames());
        assert_eq!(told["rate"], rate);
        assert_near(
            number(&told["seconds"]),
            sound.frames() as f64 / f64::from(rate),
            1e-9,
            "seconds",
        );
    }
}

#[test]
fn endings_have_their_lengths() {
    let desk = desk();
    let length = frames(8.0, 92.5, 48000.0);
    for ending in ["repeat", "damp"] {
        let (sound, _) = desk.render_file("night-ferry.toml", &["--ending", ending]);
        assert_eq!(sound.frames(), length, "{ending}");
    }
    let (rings, _) = desk.render_file("night-ferry.toml", &["--ending", "let ring"]);
    // The last bell is struck 15/16 into the second bar and lasts a second; 100 ms of silence may follow.
    let last = 60.0 / 92.5 * 7.5 * 48000.0 + 48000.0;
    let over = rings.frames() as f64 - last;
    assert!(
        (-9600.0..=5000.0).contains(&over),
        "{} frames, {over} after the last bell's end",
        rings.frames()
    );
    assert!(
        meter::db(meter::peak(&rings.left()[rings.frames() - 480..])) < -90.0,
        "it has rung out"
    );
    let (damped, _) = desk.render_file("night-ferry.toml", &["--ending", "damp"]);
    assert!(meter::null_db(&rings.left()[..length - 4800], &damped.left()[..length - 4800]) < -100.0);
}

#[test]
fn repeat_n_is_n_rounds_and_then_the_ring() {
    let desk = desk();
    let quarters = |n: f64| frames(8.0 * n, 92.5, 48000.0);
    let (three, _) = desk.render_file("night-ferry.toml", &["--repeat", "3"]);
    assert!(three.frames().abs_diff(quarters(3.0)) <= 1, "{} frames", three.frames());
    let (one, _) = desk.render_file("night-ferry.toml", &["--ending", "let ring"]);
    let (two, told) = desk.render_file("night-ferry.toml", &["--ending", "let ring", "--repeat", "2"]);
    assert!(
        two.frames().abs_diff(one.frames() + quarters(1.0)) <= 2,
        "{} frames",
        two.frames()
    );
    assert_eq!(told["frames"], two.frames());
}

#[test]
fn a_repeating_loop_carries_its_loop_points() {
    let desk = desk();
    let (sound, _) = desk.render_file("night-ferry.toml", &["--depth", "24"]);
    let smpl = sound.chunk(b"smpl").expect("a smpl chunk");
    // Microsoft, Multimedia Data Standards Update 3.0: 36 bytes, then 24 a loop: id, type, start, end, fraction, count.
    assert_eq!(smpl.len(), 36 + 24);
    let field = |at: usize| wav::long(&smpl[at..]);
    assert_eq!(field(28), 1, "one loop");
    assert_eq!(
        (field(40), field(44), field(48)),
        (0, 0, sound.frames() as u32 - 1),
        "forward, first to last frame"
    );
    assert_eq!(field(56), 0, "for ever");
    assert_near(f64::from(field(8)), 1e9 / 48000.0, 1.0, "nanoseconds a sample");
    let (rings, _) = desk.render_file("night-ferry.toml", &["--ending", "let ring"]);
    assert!(rings.chunk(b"smpl").is_none(), "what rings out does not go round");
}

#[test]
fn the_file_carries_title_tempo_and_key() {
    let desk = desk();
    let (sound, _) = desk.render_file("night-ferry.toml", &[]);
    let info = sound.info();
    assert!(
        info.contains(&("INAM".to_owned(), "Night ferry".to_owned())),
        "{info:?}"
    );
    let all: String = info
        .iter()
        .map(|(_, text)| text.as_str())
        .collect::<Vec<_>>()
        .join("; ");
    assert!(all.contains("92.5") && all.contains("G minor"), "{info:?}");
}

#[test]
fn json_has_these_fields_and_no_others() {
    let desk = desk();
    let text = tab("120", 1, "bell x--g")
        + "[[part]]\nname = \"bell\"\nbus = \"low\"\n[[bus]]\nname = \"low\"\n\
                compress = { threshold = -40, ratio = 4 }\n";
    let (sound, told) = desk.render_with(&text, &[]);
    let keys = |value: &Value| -> BTreeSet<String> { value.as_object().expect("an object").keys().cloned().collect() };
    let set = |names: &str| -> BTreeSet<String> { names.split(' ').map(str::to_owned).collect() };
    assert_eq!(
        keys(&told),
        set("file seconds frames rate lufs true_peak_db hits parts buses render_seconds")
    );
    assert_eq!(keys(&told["parts"][0]), set("name hits peak_db"));
    assert_eq!(
        keys(&told["buses"][0]),
        set(
            "name gain_reduction_db compressor_reduction_db ceiling_reduction_db peak_db lufs width_percent mono_loss_db mono_loss_octave_hz mono_loss_octave_db"
        )
    );
    assert_eq!(told["file"], "out.wav");
    assert_eq!(
        (&told["hits"], &told["parts"][0]["hits"]),
        (&Value::from(2), &Value::from(2))
    );
    assert_eq!(
        (&told["parts"][0]["name"], &told["buses"][0]["name"]),
        (&Value::from("bell"), &Value::from("low"))
    );
    // 1 kHz and below at half of full scale: -6 dB, 96 of 127, 3 dB down a side, squeezed afterwards.
    let loud = number(&told["parts"][0]["peak_db"]);
    assert!((-16.0..-9.0).contains(&loud), "{loud} dB");
    assert!(number(&told["buses"][0]["gain_reduction_db"]).abs() > 3.0, "{told}");
    assert_near(
        number(&told["true_peak_db"]),
        meter::true_peak_db(sound.left()),
        0.2,
        "true peak",
    );
    assert!(number(&told["render_seconds"]) > 0.0);
}

#[test]
fn parts_that_say_nothing_are_told_with_no_peak() {
    let desk = desk();
    let text = tab("120", 1, "bell x---\nhorn ----") + "[[part]]\nname = \"horn\"\npiece = \"bell\"\n";
    let (_, told) = desk.render_with(&text, &[]);
    assert_eq!(told["parts"][1]["hits"], 0);
    assert!(told["parts"][1]["peak_db"].is_null(), "{told}");
}

#[test]
fn set_only_and_without_change_the_render() {
    let desk = desk();
    let text = tab("120", 1, "bell x---\nhorn --x-") + "[[part]]\nname = \"horn\"\npiece = \"bell\"\npan = 60\n";
    let (all, _) = desk.render_with(&text, &[]);
    let (bell, _) = desk.render_with(&text, &["--only", "bell"]);
    let (horn, _) = desk.render_with(&text, &["--without", "bell"]);
    let sum: Vec<f32> = bell.left().iter().zip(horn.left()).map(|(a, b)| a + b).collect();
    assert!(meter::null_db(&sum, all.left()) < -100.0, "they sum to the whole");
    let (quiet, _) = desk.render_with(&text, &["--set", "bell.gain=-6", "--only", "bell"]);
    assert_near(
        meter::db(meter::rms(quiet.left()) / meter::rms(bell.left())),
        -6.0,
        0.01,
        "--set",
    );
    let (slow, _) = desk.render_with(&text, &["--set", "loop.tempo=60"]);
    assert_eq!(slow.frames(), 2 * all.frames());
}

#[test]
fn swap_puts_a_file_in_a_pieces_place() {
    let desk = desk();
    let other = Desk::new();
    let tone = crate::support::tone(300.0, 0.4, 0.25);
    let file = other.one_shot("other.wav", &[tone.clone(), tone.clone()]);
    let swap = format!("bell={}", file.display());
    let (sound, _) = desk.render_with(&tab("120", 1, "bell 9---"), &["--swap", &swap]);
    // The tone breaks off, so its last 2 ms are faded.
    let whole = 19200 - 96;
    assert!(meter::null_db(&sound.left()[..whole], &tone[..whole]) < -100.0);
}

#[test]
fn what_a_loop_is_made_of_is_not_written_over() {
    let desk = desk();
    desk.one_shot("stairwell.wav", &[pluck(110.0, 0.5, 0.5)]);
    let text = std::fs::read_to_string(desk.path("night-ferry.toml")).expect("a loop");
    desk.write(
        "night-ferry.toml",
        format!("{text}[room]\nimpulse = \"stairwell.wav\"\n"),
    );
    for own in ["bell.wav", "stairwell.wav", "night-ferry.toml"] {
        let before = std::fs::read(desk.path(own)).expect("a file");
        let answer = desk.run(&["render", "night-ferry.toml", "-o", own]);
        assert_eq!(answer.code, Some(1), "{own}");
        assert!(answer.err.contains("would be overwritten"), "{}", answer.err);
        assert_eq!(std::fs::read(desk.path(own)).expect("a file"), before);
    }
    // What lies in the kit's folder and is not played may be an earlier render.
    for _ in 0..2 {
        desk.run(&["render", "night-ferry.toml", "-o", "take.wav"])
            .assert_done();
    }
}
