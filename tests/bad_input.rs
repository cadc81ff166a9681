//! Bad input: exit 1, one clear error that names file and place, nothing half-written, no panic, at once.

use std::time::Duration;

use crate::support::{Answer, Desk, click, tab, wav};

fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("kick.wav", &[click()]);
    desk.one_shot("snare.wav", &[click()]);
    desk
}

/// A render that has to be refused, in a desk where nothing may appear.
#[track_caller]
fn refused(desk: &Desk, arguments: &[&str]) -> Answer {
    let before = desk.names("");
    let answer = desk.run(arguments);
    assert_eq!(answer.code, Some(1), "{arguments:?}\n{}{}", answer.out, answer.err);
    assert_clear(&answer);
    assert!(
        answer.out.is_empty(),
        "standard output is for what was done: {}",
        answer.out
    );
    assert_eq!(desk.names(""), before, "nothing is left behind");
    answer
}

/// Asserts that an answer says plainly what is wrong, in time.
#[track_caller]
fn assert_clear(answer: &Answer) {
    let first = answer.err.lines().next().unwrap_or_default();
    assert!(
        first.starts_with("error"),
        "it says first that it is an error:\n{}",
        answer.err
    );
    for word in ["panicked", "RUST_BACKTRACE", "unwrap", "Os {", "Error(", "src/"] {
        assert!(
            !answer.err.contains(word),
            "`{word}` is not for people:\n{}",
            answer.err
        );
    }
    // A second is promised; the machine may be busy with other tests.
    assert!(answer.took < Duration::from_secs(5), "it took {:?}", answer.took);
}

/// Renders a loop's text that has to be refused, and asserts that each word is in the error.
#[track_caller]
fn refused_for(desk: &Desk, text: &str, words: &[&str]) {
    desk.write("loop.toml", text);
    let answer = refused(desk, &["render", "loop.toml"]);
    for word in words {
        assert!(answer.err.contains(word), "`{word}` is missing in:\n{}", answer.err);
    }
}

#[test]
fn a_loop_file_that_is_not_there() {
    let answer = refused(&desk(), &["render", "nowhere.toml"]);
    assert!(answer.err.contains("nowhere.toml"), "{}", answer.err);
}

#[test]
fn wrong_toml_is_shown_where_it_is_wrong() {
    let desk = desk();
    refused_for(&desk, "[loop]\ntempo = 120\nbars = = 2\n", &["loop.toml", ":3"]);
    refused_for(&desk, "[loop\ntempo = 120\n", &["loop.toml", ":1"]);
    refused_for(&desk, "[loop]\ntempo = \"120\nbars = 1\n", &["loop.toml", ":2"]);
    refused_for(
        &desk,
        "[loop]\ntempo = 120\ntempo = 121\nbars = 1\n",
        &["loop.toml", ":3"],
    );
    desk.write("loop.toml", [0xFF, 0xFE, 0x00, 0x41]);
    assert!(refused(&desk, &["render", "loop.toml"]).err.contains("loop.toml"));
    refused_for(&desk, "", &["loop.toml"]);
}

#[test]
fn a_groove_whose_quotes_are_not_closed_is_shown_where_it_opens() {
    let desk = desk();
    let groove = "[loop]\ntempo = 120\nbars = 2\n[tab]\n\"all\" = \"\"\"\nkick x---\n\n\"2\" = \"\"\"\nsnare -x--\n\"\"\"\n[master]\nceiling = -1\n";
    desk.write("loop.toml", groove);
    let answer = refused(&desk, &["render", "loop.toml"]);
    assert!(answer.err.contains("loop.toml:5:9"), "{}", answer.err);
    assert!(answer.err.contains("before line 8"), "{}", answer.err);
    assert_eq!(answer.err.matches("error").count(), 1, "{}", answer.err);
}

#[test]
fn an_unknown_key_is_offered_the_nearest_known_one() {
    let desk = desk();
    let text = tab("120", 1, "kick x---");
    refused_for(
        &desk,
        &text.replace("bars", "bras"),
        &["loop.toml", ":3", "bras", "bars"],
    );
    refused_for(
        &desk,
        &(text.clone() + "[[part]]\nname = \"kick\"\ngian = 3\n"),
        &["loop.toml", "gian", "gain"],
    );
    refused_for(
        &desk,
        &(text + "[master]\nceling = -1\n"),
        &["loop.toml", "celing", "ceiling"],
    );
}

#[test]
fn a_wrong_mark_and_uneven_groups_are_shown() {
    let desk = desk();
    refused_for(&desk, &tab("120", 1, "kick x--q"), &["loop.toml", ":7", "q"]);
    refused_for(&desk, &tab("120", 1, "kick x--- x-- x--- x---"), &["loop.toml", ":7"]);
    refused_for(&desk, &tab("120", 1, "kick x--{xx"), &["loop.toml", ":7"]);
}

#[test]
fn a_piece_that_the_kit_lacks_is_named() {
    let desk = desk();
    refused_for(
        &desk,
        &tab("120", 1, "kick x---\nsnar -x--"),
        &["loop.toml", "snar", "snare"],
    );
}

#[test]
fn a_bar_past_the_end() {
    let desk = desk();
    let text = tab("120", 2, "kick x---") + "\"3\" = \"kick xxxx\"\n";
    refused_for(&desk, &text, &["loop.toml", ":9", "3"]);
    desk.write("loop.toml", tab("120", 2, "kick x---"));
    refused(&desk, &["render", "loop.toml", "--bars", "2-5"]);
}

#[test]
fn tempos_and_bars_that_make_no_loop() {
    let desk = desk();
    for tempo in ["0", "-90", "1e300", "nan", "inf", "\"fast\"", "1e-300"] {
        refused_for(&desk, &tab(tempo, 1, "kick x---"), &["loop.toml", ":2", "tempo"]);
    }
    for bars in ["0", "-1", "2.5", "99999999999999999999", "true"] {
        let text = tab("120", 1, "kick x---").replace("bars = 1", &format!("bars = {bars}"));
        refused_for(&desk, &text, &["loop.toml", ":3"]);
    }
    let text = tab("120", 1, "kick x---").replace("bars = 1", "bars = 1\nmetre = \"4/0\"");
    refused_for(&desk, &text, &["loop.toml", ":4", "metre"]);
}

#[test]
fn bars_beyond_memory_are_refused_before_anything_is_made() {
    let desk = desk();
    for bars in [4_000_000u32, 4_294_967_295] {
        refused_for(&desk, &tab("60", bars, "kick x---"), &["loop.toml"]);
    }
}

#[test]
fn a_loop_that_repeats_past_memory_is_refused() {
    let desk = desk();
    desk.write("loop.toml", tab("60", 900, "kick x---"));
    refused(&desk, &["render", "loop.toml", "--repeat", "10000"]);
}

#[test]
fn an_empty_or_missing_kit() {
    let desk = desk();
    std::fs::create_dir(desk.path("empty")).expect("a folder");
    desk.write("loop.toml", tab("120", 1, "kick x---"));
    let answer = refused(&desk, &["render", "loop.toml", "--kit", "empty"]);
    assert!(answer.err.contains("empty"), "{}", answer.err);
    let answer = refused(&desk, &["render", "loop.toml", "--kit", "no-such-folder"]);
    assert!(answer.err.contains("no-such-folder"), "{}", answer.err);
    let answer = refused(&desk, &["render", "loop.toml", "--swap", "kick=no-such.wav"]);
    assert!(answer.err.contains("no-such.wav"), "{}", answer.err);
}

#[test]
fn recordings_that_are_not_what_their_name_says() {
    let whole = wav::float(48000, &[vec![0.25; 4800]]);
    let mut no_data = wav::head(1, 1, 16, 48000, 0);
    no_data.truncate(36);
    let mut lies_of_its_size = wav::head(1, 1, 16, 48000, 0xFFFF_FF00);
    lies_of_its_size.truncate(44);
    let cases: [(&str, Vec<u8>); 9] = [
        ("an empty file", Vec::new()),
        (
            "not a WAV",
            b"This is the ferry's timetable, and no sound at all. ".repeat(40),
        ),
        ("cut within its head", whole[..30].to_vec()),
        ("without a data chunk", no_data),
        ("a huge size and no data", lies_of_its_size),
        ("no channels", [wav::head(1, 0, 16, 48000, 400), vec![0; 400]].concat()),
        ("a rate of 0", [wav::head(1, 1, 16, 0, 400), vec![0; 400]].concat()),
        (
            "an unknown coding",
            [wav::head(0x55, 1, 16, 48000, 400), vec![0; 400]].concat(),
        ),
        ("no bits", [wav::head(1, 1, 0, 48000, 400), vec![0; 400]].concat()),
    ];
    for (what, bytes) in cases {
        let desk = desk();
        desk.write("kick.wav", bytes);
        desk.write("loop.toml", tab("120", 1, "kick x---"));
        let answer = refused(&desk, &["render", "loop.toml"]);
        assert!(answer.err.contains("kick.wav"), "{what}:\n{}", answer.err);
    }
}

#[test]
fn a_recording_cut_short_is_told_of() {
    // What is there is played, and a hint names the file; where no sound is left it is an error.
    let whole = wav::float(48000, &[vec![0.25; 4800]]);
    for (length, code) in [(44, 1), (45, 1), (47, 1), (1000, 0), (whole.len() - 3, 0)] {
        let desk = desk();
        desk.write("kick.wav", &whole[..length]);
        desk.write("loop.toml", tab("120", 1, "kick x---"));
        let answer = desk.run(&["render", "loop.toml", "-o", "out.wav"]);
        assert_eq!(answer.code, Some(code), "{length} bytes: {}", answer.err);
        assert_eq!(desk.path("out.wav").exists(), code == 0);
        assert!(answer.err.contains("kick.wav"), "{length} bytes: {}", answer.err);
        if code == 0 {
            assert!(
                answer.err.starts_with("warning") && answer.err.contains("cut short"),
                "{}",
                answer.err
            );
        } else {
            assert_clear(&answer);
        }
    }
}

#[test]
fn samples_that_are_no_numbers_do_not_reach_the_render() {
    let desk = desk();
    let mut samples = vec![0.25f32; 4800];
    samples[100] = f32::NAN;
    samples[200] = f32::INFINITY;
    desk.one_shot("kick.wav", &[samples]);
    desk.write("loop.toml", tab("120", 1, "kick x---"));
    let answer = desk.run(&["render", "loop.toml", "-o", "out.wav", "--depth", "float"]);
    if answer.code == Some(0) {
        assert!(desk.read("out.wav").left().iter().all(|sample| sample.is_finite()));
    } else {
        assert_eq!(answer.code, Some(1));
        assert_clear(&answer);
    }
}

#[test]
fn a_place_that_can_not_be_written() {
    let desk = desk();
    desk.write("loop.toml", tab("120", 1, "kick x---"));
    desk.write("taken", "a file where a folder should be");
    let answer = refused(&desk, &["render", "loop.toml", "-o", "taken/out.wav"]);
    assert!(answer.err.contains("taken"), "{}", answer.err);
    // A folder stands where the file should go.
    std::fs::create_dir(desk.path("folder.wav")).expect("a folder");
    let answer = refused(&desk, &["render", "loop.toml", "-o", "folder.wav"]);
    assert!(answer.err.contains("folder.wav"), "{}", answer.err);
    if std::fs::create_dir("/proc/pressroll").is_err() {
        let answer = refused(&desk, &["render", "loop.toml", "-o", "/proc/pressroll/out.wav"]);
        assert!(answer.err.contains("/proc/pressroll"), "{}", answer.err);
    }
}

#[test]
fn an_old_render_survives_a_render_that_is_refused() {
    let desk = desk();
    desk.write("loop.toml", tab("120", 1, "kick x---"));
    desk.run(&["render", "loop.toml", "-o", "out.wav"]).assert_done();
    let old = std::fs::read(desk.path("out.wav")).expect("a render");
    desk.write("loop.toml", tab("120", 1, "kick x--q"));
    refused(&desk, &["render", "loop.toml", "-o", "out.wav"]);
    assert!(std::fs::read(desk.path("out.wav")).expect("a render") == old);
}

/// A disk of 64 KiB, where the machine lets us have one; it goes with the value.
#[cfg(target_os = "linux")]
struct SmallDisk(std::path::PathBuf);

#[cfg(target_os = "linux")]
impl SmallDisk {
    fn mount(at: std::path::PathBuf) -> Option<SmallDisk> {
        std::fs::create_dir(&at).ok()?;
        let mount = std::process::Command::new("mount")
            .args(["-t", "tmpfs", "-o", "size=64k", "tmpfs"])
            .arg(&at)
            .output()
            .ok()?;
        mount.status.success().then_some(SmallDisk(at))
    }
}

#[cfg(target_os = "linux")]
impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = std::process::Command::new("umount").arg(&self.0).status();
    }
}

#[test]
#[cfg(target_os = "linux")]
fn a_full_disk_leaves_nothing_behind() {
    let desk = desk();
    desk.write("loop.toml", tab("120", 2, "kick x---"));
    let Some(disk) = SmallDisk::mount(desk.path("disk")) else {
        println!("skipped: no small disk can be mounted here");
        return;
    };
    let answer = refused(&desk, &["render", "loop.toml", "-o", "disk/out.wav"]);
    assert!(answer.err.contains("disk/out.wav"), "{}", answer.err);
    assert_eq!(desk.names("disk"), Vec::<String>::new());
    drop(disk);
}

#[test]
fn many_mistakes_are_told_at_once() {
    let desk = desk();
    let text = tab("120", 1, "kick x--q").replace("bars = 1", "bars = 1\nmeter = \"4/4\"") + "[mastr]\nceiling = -1\n";
    refused_for(&desk, &text, &["meter", "metre", "mastr", "master", "q"]);
}

#[test]
fn check_refuses_what_render_refuses() {
    let desk = desk();
    desk.write("loop.toml", tab("120", 1, "kick x--q"));
    let answer = refused(&desk, &["check", "loop.toml"]);
    assert!(answer.err.contains("loop.toml:7"), "{}", answer.err);
}
