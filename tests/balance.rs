//! `balance` brings parts to where a table of common practice has them, measured where they play, and changes nothing else.

use std::fs;

use serde_json::Value;

use crate::support::{self, Desk, assert_near, noise, number, pluck, tone};

/// Noise that dies away in so many seconds.
fn hiss(seconds: f64, seed: u32, size: f32) -> Vec<f32> {
    let count = (seconds * 48_000.0) as usize;
    let fall = |at: usize| size * 10f64.powf(-3.0 * at as f64 / count as f64) as f32;
    let samples = noise(count, seed);
    let samples = samples.iter().enumerate();
    samples
        .map(|(at, sample)| *sample as f32 / 32_768.0 * fall(at))
        .collect()
}

/// A desk with a band's one-shots, at levels that fit nowhere.
fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("kit/kick.wav", &[pluck(60.0, 0.3, 0.9)]);
    desk.one_shot("kit/snare.wav", &[hiss(0.25, 1, 0.1)]);
    desk.one_shot("kit/hat-closed.wav", &[hiss(0.05, 2, 0.9)]);
    desk.one_shot("kit/bell_C4.wav", &[pluck(261.63, 1.2, 0.3)]);
    desk.one_shot("kit/low_E1.wav", &[pluck(41.2, 1.0, 0.8)]);
    desk.one_shot("kit/reed_C4.wav", &[tone(261.63, 2.0, 0.2)]);
    desk
}

/// A loop in a person's own layout: lines of all forms, comments, odd spaces.
const BAND: &str = r#"# The lamp song. -- gain = 3 is not a line of a part.
[loop]
kit = "kit"
tempo = 100
bars = 4
key = "C major"
[chords]
"all" = "Cmaj7 | Am7"
[tab]
"all" = """
hat-closed  x-x- x-x- x-x- x-xx
snare       ---- X--- ---- X---
"""
"4" = """
kick        X--- ---- xx-- ----
"""
[[part]]
name     = "kick"    # bar 4 alone
gain     = -1.50     # dB; rests must not count
compress = { threshold = -20, ratio = 4, makeup = 3 }
[[part]]
	name='snare'
drive = { amount = 6 }
[[part]]
name = "low"
register = "E1"
[part.degrees]
all = "1 - 5, -"
[[part]]
gain = +7    # over all
piece = "bell"
name = "tune"
double = [{ interval = 12, gain = -3 }]
[part.notes]
"1-2" = "E4 G4 = C5"
[[part]]
name = "reed"
comp = "x=== ===="
room = -12
[[mix]]
name = "other"
set = { "kick.gain" = 4, "tune.gain" = 0 }
"#;

/// A loop on the kit of lines of tablature.
fn tab(tempo: &str, bars: u32, lines: &str) -> String {
    support::tab(tempo, bars, lines).replace("[loop]\n", "[loop]\nkit = \"kit\"\n")
}

/// What `--json` tells of a loop.
fn told(desk: &Desk, arguments: &[&str]) -> Value {
    let answer = desk.run(&[&["balance", "loop.toml", "--json"], arguments].concat());
    answer.assert_done();
    assert_eq!(answer.out.trim_end().lines().count(), 1, "{}", answer.out);
    serde_json::from_str(&answer.out).expect("JSON")
}

fn part<'a>(told: &'a Value, name: &str) -> &'a Value {
    let mut parts = told["parts"].as_array().expect("parts").iter();
    parts
        .find(|part| part["name"] == name)
        .unwrap_or_else(|| panic!("no {name}"))
}

/// A part's role and why it keeps its gain.
fn verdict<'a>(told: &'a Value, name: &str) -> (Option<&'a str>, Option<&'a str>) {
    let part = part(told, name);
    (part["role"].as_str(), part["keeps"].as_str())
}

/// How loud a meter reads the sum of some parts, each through its own strip alone.
fn metered(desk: &Desk, names: &[&str]) -> f64 {
    desk.render_file("loop.toml", &["--stems", "dry"]);
    let stems: Vec<_> = names
        .iter()
        .map(|name| desk.read(&format!("out-stems/{name}.wav")))
        .collect();
    let mut channels = stems[0].channels.clone();
    for stem in &stems[1..] {
        for (own, other) in channels.iter_mut().zip(&stem.channels) {
            own.iter_mut().zip(other).for_each(|(own, other)| *own += other);
        }
    }
    desk.one_shot("sum/sum.wav", &channels);
    let answer = desk.run(&["measure", "sum/sum.wav", "--json"]);
    answer.assert_done();
    let list: Value = serde_json::from_str(&answer.out).expect("JSON");
    number(&list[0]["lufs"])
}

#[test]
fn parts_come_to_the_tables_levels_and_stay_there() {
    let desk = desk();
    desk.write("loop.toml", BAND);
    let before = told(&desk, &[]);
    assert_eq!(before["reference"], "tune");
    assert_eq!(before["written"], false);
    assert_eq!(
        fs::read_to_string(desk.path("loop.toml")).unwrap(),
        BAND,
        "nothing is written unasked"
    );
    assert_eq!(told(&desk, &["--write"])["written"], true);
    let lead = metered(&desk, &["tune", "tune double 1"]);
    for (name, role, level) in [
        ("kick", "kick", -2.0),
        ("snare", "snare", -2.0),
        ("hat-closed", "time", -10.0),
        ("low", "bass", -2.0),
        ("reed", "chords", -6.0),
    ] {
        assert_eq!(part(&before, name)["role"], role, "{name}");
        assert!(
            part(&before, name)["proposed_gain_db"].is_number(),
            "{name} is far from its place: {before}"
        );
        assert_near(metered(&desk, &[name]) - lead, level, 0.5, name);
    }
    // Once more, and there is nothing to do.
    let written = fs::read(desk.path("loop.toml")).unwrap();
    let after = told(&desk, &["--write"]);
    assert_eq!(after["written"], false);
    for name in ["kick", "snare", "hat-closed", "low", "reed"] {
        assert_eq!(verdict(&after, name).1, Some("fits"), "{after}");
    }
    assert_eq!(verdict(&after, "tune"), (Some("lead"), Some("reference")));
    assert!(fs::read(desk.path("loop.toml")).unwrap() == written);
}

#[test]
fn only_gains_change_in_the_file() {
    let desk = desk();
    desk.write("loop.toml", BAND);
    let proposed = told(&desk, &["--write"]);
    let gain = |name: &str| number(&part(&proposed, name)["proposed_gain_db"]);
    let table = format!("\n[[part]]\nname = \"hat-closed\"\ngain = {}\n", gain("hat-closed"));
    let wanted = BAND
        .replace("-1.50 ", &format!("{} ", gain("kick")))
        .replace("name='snare'\n", &format!("name='snare'\n\tgain={}\n", gain("snare")))
        .replace("name = \"low\"\n", &format!("name = \"low\"\ngain = {}\n", gain("low")))
        .replace(
            "name = \"reed\"\n",
            &format!("name = \"reed\"\ngain = {}\n", gain("reed")),
        )
        + &table;
    assert_eq!(fs::read_to_string(desk.path("loop.toml")).unwrap(), wanted);
    assert_eq!(desk.names(""), ["kit", "loop.toml"]);
}

#[test]
fn where_a_part_rests_does_not_count() {
    let desk = desk();
    desk.write("loop.toml", tab("120", 8, "kick x-x-\nsnare -x-x"));
    let all = told(&desk, &[]);
    let one_bar = "[loop]\nkit = \"kit\"\ntempo = 120\nbars = 8\n[tab]\nall = \"snare -x-x\"\n\"5\" = \"kick x-x-\"\n";
    desk.write("loop.toml", one_bar);
    let one = told(&desk, &[]);
    let lufs = |told: &Value| number(&part(told, "kick")["lufs"]);
    // A bar has an end into which it dies away; an eighth as much sound would be 9 LU less.
    assert_near(lufs(&one), lufs(&all), 0.5, "one bar of eight is as loud as eight");
}

#[test]
fn the_gain_is_not_in_what_is_gated() {
    let desk = desk();
    let song =
        |gain: &str| tab("120", 1, "kick x-x-\nsnare -x-x") + &format!("[[part]]\nname = \"snare\"\ngain = {gain}\n");
    desk.write("loop.toml", song("0"));
    let plain = told(&desk, &[]);
    desk.write("loop.toml", song("-90"));
    let low = told(&desk, &[]);
    // However soft it was, it comes to the same place.
    let proposed = |told: &Value| part(told, "snare")["proposed_gain_db"].as_f64();
    assert!(proposed(&plain).is_some(), "{plain}");
    assert_eq!(proposed(&low), proposed(&plain));
    assert_near(
        number(&part(&low, "snare")["lufs"]),
        number(&part(&plain, "snare")["lufs"]) - 90.0,
        1e-6,
        "as loud as it is",
    );
}

#[test]
fn a_person_says_what_a_part_is() {
    let desk = desk();
    desk.one_shot("kit/gravel.wav", &[hiss(0.2, 4, 0.4)]);
    let song = tab("120", 2, "kick x-x-\nsnare -x-x\ngravel xxxx")
        + "[[part]]\nname = \"high\"\npiece = \"bell\"\nnotes = \"C5 D5 - -\"\n\
           [[part]]\nname = \"higher\"\npiece = \"bell\"\nnotes = \"- - C5 E5\"\n";
    desk.write("loop.toml", &song);
    let plain = told(&desk, &[]);
    // Of two melodies none is the lead, unless somebody says so.
    assert_eq!(plain["reference"], "kick");
    assert_eq!(
        (verdict(&plain, "high").0, verdict(&plain, "higher").0),
        (Some("line"), Some("line"))
    );
    assert_eq!(verdict(&plain, "gravel"), (None, Some("no role")));
    let aims = ["--aim", "higher=lead", "--aim", "gravel=-9.5", "--aim", "snare=keep"];
    let aimed = told(&desk, &aims);
    assert_eq!(aimed["reference"], "higher");
    assert_eq!(verdict(&aimed, "snare").1, Some("kept"));
    assert_eq!(
        (verdict(&aimed, "high").0, &part(&aimed, "gravel")["aim_lu"]),
        (Some("line"), &Value::from(-9.5))
    );
    desk.run(&[&["balance", "loop.toml", "--write"], &aims[..]].concat())
        .assert_done();
    let after = told(&desk, &aims);
    assert_near(
        number(&part(&after, "gravel")["relative_lu"]),
        -9.5,
        0.5,
        "the level that was given",
    );
    for (aim, words) in [
        ("gravle=lead", "did you mean `gravel`?"),
        ("gravel=leed", "did you mean `lead`?"),
        ("gravel=loud as the sea", "percussion"),
        ("gravel=90", "from -60 to 20 LU"),
        ("gravel", "--aim tune=lead"),
    ] {
        let answer = desk.run(&["balance", "loop.toml", "--aim", aim]);
        assert_eq!(answer.code, Some(1), "{aim}");
        assert!(
            answer.err.contains(words) && answer.out.is_empty(),
            "{aim}: {}",
            answer.err
        );
    }
}

#[test]
fn roles_come_from_instruments_notes_and_names() {
    let desk = desk();
    desk.one_shot("kit/ride.wav", &[hiss(0.4, 5, 0.4)]);
    desk.one_shot("kit/side-stick.wav", &[hiss(0.05, 6, 0.4)]);
    desk.one_shot("kit/conga-open.wav", &[pluck(200.0, 0.2, 0.4)]);
    let song = "[loop]\nkit = \"kit\"\ntempo = 120\nbars = 1\n[chords]\nall = \"Am7\"\n\
        [tab]\nall = \"\"\"\nride xxxx\nside-stick -x-x\nconga-open x--x\n\"\"\"\n\
        [[part]]\nname = \"depth\"\npiece = \"low\"\nnotes = \"A1 - E2 -\"\n\
        [[part]]\nname = \"two hands\"\npiece = \"bell\"\nnotes = \"C4+E4 - C4+G4 -\"\n\
        [[part]]\nname = \"choir\"\npiece = \"reed\"\ncomp = \"x===\"\n\
        [[part]]\nname = \"high bass\"\npiece = \"bell\"\nnotes = \"C5 - - -\"\n\
        [[part]]\nname = \"only one\"\npiece = \"bell\"\nnotes = \"C5 E5 - -\"\n";
    desk.write("loop.toml", song);
    let told = told(&desk, &[]);
    let roles: Vec<&str> = told["parts"]
        .as_array()
        .unwrap()
        .iter()
        .map(|part| part["role"].as_str().unwrap())
        .collect();
    let wanted = ["time", "stick", "percussion", "bass", "chords", "pad", "bass", "lead"];
    assert_eq!(roles, wanted);
    assert_eq!(told["reference"], "only one");
}

#[test]
fn what_cannot_be_balanced_keeps_its_gain_and_says_why() {
    let desk = desk();
    let song = tab("120", 4, "kick x-x-\nsnare -x-x\nhat-closed xxxx")
        + "[[part]]\nname = \"hat-closed\"\n[[part]]\nname = \"snare\"\nmute = true\n\
           [[part]]\nname = \"still\"\npiece = \"bell\"\nnotes = { all = \"-\" }\n\
           [[part]]\nname = \"away\"\npiece = \"bell\"\ngain = \"off\"\nnotes = \"C5 D5 - -\"\n\
           [[sweep]]\nkey = \"hat-closed.gain\"\nbars = \"1-2\"\nfrom = 3\nto = 8\n";
    desk.write("loop.toml", &song);
    let plain = told(&desk, &["--write"]);
    assert_eq!(plain["written"], false);
    for (name, keeps) in [
        ("kick", "reference"),
        ("snare", "silenced"),
        ("hat-closed", "swept"),
        ("still", "silent"),
        ("away", "silent"),
    ] {
        assert_eq!(verdict(&plain, name).1, Some(keeps), "{plain}");
    }
    assert_eq!(part(&plain, "away")["gain_db"], Value::Null);
    let answer = desk.run(&["balance", "loop.toml", "--write"]);
    assert!(
        answer.out.contains("A sweep sets the gain of `hat-closed`"),
        "{}",
        answer.out
    );
    assert!(answer.out.contains("loop.toml stays as it is."), "{}", answer.out);
    assert_eq!(fs::read_to_string(desk.path("loop.toml")).unwrap(), song);
    // The sweep so many dB lower, and it fits.
    let by: f64 = answer
        .out
        .split("`to` ")
        .nth(1)
        .and_then(|rest| rest.split(' ').next())
        .unwrap()
        .parse()
        .unwrap();
    let lower = |db: f64| (db - by).to_string();
    desk.write(
        "loop.toml",
        song.replace("from = 3", &format!("from = {}", lower(3.0)))
            .replace("to = 8", &format!("to = {}", lower(8.0))),
    );
    assert_eq!(verdict(&told(&desk, &[]), "hat-closed").1, Some("fits"));
    // What is silenced for this once keeps its gain, too.
    assert_eq!(
        verdict(&told(&desk, &["--without", "hat-closed"]), "hat-closed").1,
        Some("silenced")
    );
    for (lines, told) in [
        ("kick x-x-", "`kick` is the only part with an aim"),
        ("bell x-x-", "No part that plays has a role"),
    ] {
        desk.write("loop.toml", tab("120", 1, lines));
        let answer = desk.run(&["balance", "loop.toml"]);
        answer.assert_done();
        assert!(
            answer.out.contains(told) && answer.out.contains("no gain to propose"),
            "{}",
            answer.out
        );
    }
}

#[test]
fn what_may_not_be_written_stays() {
    let desk = desk();
    let song = tab("120", 1, "kick x-x-\nsnare -x-x");
    let path = desk.write("loop.toml", &song);
    let refused = |arguments: &[&str], code: i32, words: &[&str]| {
        let answer = desk.run(&[&["balance"], arguments].concat());
        assert_eq!(answer.code, Some(code), "{arguments:?}: {}", answer.out);
        for word in words {
            assert!(answer.err.contains(word), "{arguments:?}: no {word} in {}", answer.err);
        }
        assert!(answer.out.is_empty(), "{}", answer.out);
        assert_eq!(fs::read_to_string(&path).unwrap(), song);
    };
    // The file would not hold what was measured.
    for option in [
        ["--set", "kick.gain=3"],
        ["--mix", "loud"],
        ["--kit", "."],
        ["--swap", "kick=kit/snare.wav"],
        ["--seed", "2"],
    ] {
        refused(
            &[&["loop.toml", "--write"], &option[..]].concat(),
            2,
            &["--write", option[0]],
        );
    }
    desk.write("show.toml", "[form]\n[[section]]\nname = \"a\"\nloop = \"loop.toml\"\n");
    refused(
        &["show.toml", "--write"],
        1,
        &["show.toml is a form", "each of the loops"],
    );
    refused(&["gone.toml"], 1, &["gone.toml", "no such file"]);
    let rights = |readonly| {
        let mut rights = fs::metadata(&path).unwrap().permissions();
        rights.set_readonly(readonly);
        fs::set_permissions(&path, rights).unwrap();
    };
    rights(true);
    refused(&["loop.toml", "--write"], 1, &["write-protected"]);
    desk.run(&["balance", "loop.toml"]).assert_done();
    rights(false);
    desk.run(&["balance", "loop.toml", "--write"]).assert_done();
    assert_ne!(fs::read_to_string(&path).unwrap(), song);
    assert!(
        desk.names("").iter().all(|name| !name.starts_with('.')),
        "{:?}",
        desk.names("")
    );
}

#[test]
fn a_page_says_what_to_write_and_fits_a_terminal() {
    let desk = desk();
    let long = "a part with quite a long name of its own for the lamp song";
    desk.write(
        "loop.toml",
        BAND.replace("\"reed\"", &format!("\"{long}\"\npiece = \"reed\"")),
    );
    let answer = desk.run(&["balance", "loop.toml"]);
    answer.assert_done();
    assert!(!answer.out.contains('\u{1b}'));
    assert!(
        answer.out.lines().all(|line| line.chars().count() <= 80),
        "{}",
        answer.out
    );
    let proposed = told(&desk, &[]);
    for name in ["kick", "snare", "hat-closed", "low"] {
        let gain = number(&part(&proposed, name)["proposed_gain_db"]);
        let line = answer
            .out
            .lines()
            .find(|line| line.trim_start().starts_with(name))
            .expect(name);
        assert!(line.ends_with(&format!(" gain = {gain}")), "{line}");
    }
    assert!(answer.out.contains("`tune` keeps its gain"), "{}", answer.out);
    // With changes for this once, what they make is measured.
    let louder = told(&desk, &["--set", "tune.gain=10"]);
    let gain = |told: &Value| number(&part(told, "kick")["proposed_gain_db"]);
    assert_near(gain(&louder) - gain(&proposed), 3.0, 1e-9, "all come to the lead");
}
