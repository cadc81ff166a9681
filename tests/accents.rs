//! Ensemble accents and swells: what they make of velocities, where, and in whose part.

use crate::support::{Desk, assert_near, click, wav::Wav};
use pressroll::internals::midi::{MidiNote, MidiPart, MidiSong};

fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("left.wav", &[click(), vec![0.0; 64]]);
    desk.one_shot("right.wav", &[vec![0.0; 64], click()]);
    desk
}

/// The velocities of the clicks on one side, by the law of General MIDI 2 [memory]: 40·log10(v/127) dB.
fn velocities(sound: &Wav, side: usize) -> Vec<f64> {
    let heard = sound.channels[side].iter().filter(|sample| sample.abs() > 1e-4);
    heard
        .map(|sample| 127.0 * (f64::from(sample.abs()) / 0.5).sqrt())
        .collect()
}

#[track_caller]
fn assert_velocities(sound: &Wav, side: usize, wanted: &[f64]) {
    let found = velocities(sound, side);
    assert_eq!(found.len(), wanted.len(), "{found:?}");
    for (found, wanted) in found.iter().zip(wanted) {
        assert_near(*found, *wanted, 0.02, "a velocity");
    }
}

fn song(bars: u32, left: &str, right: &str, more: &str) -> String {
    format!("[loop]\ntempo = 60\nbars = {bars}\n[tab]\nall = \"\"\"\nleft {left}\nright {right}\n\"\"\"\n{more}\n")
}

#[test]
fn whatever_plays_on_an_accents_step_is_raised_by_118_over_96() {
    let text = song(2, "xg-X", "x-b-", "[accents]\n\"2\" = \"XX-X\"");
    let sound = desk().render(&text.replace("x-b-", "x-g-"));
    assert_velocities(&sound, 0, &[96.0, 40.0, 118.0, 118.0, 40.0 * 118.0 / 96.0, 127.0]);
    assert_velocities(&sound, 1, &[96.0, 40.0, 118.0, 40.0]);
}

#[test]
fn an_accent_meets_the_very_same_place_in_any_notation() {
    // A quarter's accent, a bar of eight and triplets: one and three fall together, and the second triplet on nothing.
    let text = song(1, "xxxxxxxx", "{xxx} ---- {xxx} ----", "[accents]\nall = \"X-X-\"");
    let sound = desk().render(&text);
    let raised = 118.0;
    assert_velocities(&sound, 0, &[raised, 96.0, 96.0, 96.0, raised, 96.0, 96.0, 96.0]);
    assert_velocities(&sound, 1, &[raised, 96.0, 96.0, raised, 96.0, 96.0]);
    // Even rhythms, and what another part plays, can be accents too.
    let sound = desk().render(&song(1, "xxxxxxxx", "x--x", "[accents]\nall = \"as right\""));
    assert_velocities(&sound, 0, &[raised, 96.0, 96.0, 96.0, 96.0, 96.0, raised, 96.0]);
    let sound = desk().render(&song(1, "xxxxxxxx", "----", "[accents]\nall = \"3 in 8\""));
    assert_velocities(&sound, 0, &[raised, 96.0, 96.0, raised, 96.0, 96.0, raised, 96.0]);
    // Swing bends the step and the hit alike.
    let swung = song(
        1,
        "xxxxxxxx",
        "----",
        "[feel]\nswing = 62\nswing_of = \"1/8\"\n[accents]\nall = \"-X-- ----\"",
    );
    assert_velocities(
        &desk().render(&swung),
        0,
        &[96.0, raised, 96.0, 96.0, 96.0, 96.0, 96.0, 96.0],
    );
}

#[test]
fn accents_can_be_for_some_parts() {
    let (raised, plain) = (118.0, 96.0);
    for accents in [
        "[accents]\nparts = [\"right\"]\n\"2\" = \"X---\"",
        "[accents]\n\"2\" = { hits = \"X---\", parts = [\"right\"] }",
        "[accents]\nhits = { \"2\" = \"X---\" }\nparts = [\"right\"]",
    ] {
        let sound = desk().render(&song(2, "x-x-", "x-x-", accents));
        assert_velocities(&sound, 0, &[plain; 4]);
        assert_velocities(&sound, 1, &[plain, plain, raised, plain]);
    }
    let table = "accents = { hits = \"X---\", parts = [\"left\"] }\n".to_string();
    let sound = desk().render(&(table + &song(2, "x-x-", "x-x-", "")));
    assert_velocities(&sound, 0, &[raised, plain, raised, plain]);
    assert_velocities(&sound, 1, &[plain; 4]);
}

#[test]
fn a_later_line_of_accents_replaces_an_earlier_one_in_its_bars() {
    let accents = "[accents]\nall = \"X---\"\n\"2\" = \"--X-\"";
    assert_velocities(
        &desk().render(&song(2, "x-x-", "----", accents)),
        0,
        &[118.0, 96.0, 96.0, 118.0],
    );
}

#[test]
fn wrong_accents_are_pointed_at() {
    let desk = desk();
    for (accents, what) in [
        ("[accents]\n\"9\" = \"X---\"", "bar 9 is past the end of the loop"),
        ("[accents]\n\"1\" = \"X-q-\"", "`q` is no mark"),
        (
            "[accents]\nparts = [\"rihgt\"]\n\"1\" = \"X---\"",
            "did you mean `right`?",
        ),
        ("[accents]\n\"1\" = 3", "takes a line of marks"),
    ] {
        desk.write("loop.toml", song(2, "x-x-", "x-x-", accents));
        let answer = desk.run(&["check", "loop.toml"]);
        assert_eq!(answer.code, Some(1), "{accents}");
        assert!(answer.err.contains(what), "{}", answer.err);
    }
}

#[test]
fn a_swell_goes_from_its_first_velocity_to_its_last_over_its_bars() {
    let desk = desk();
    let hits = |lines: &str| format!("[loop]\ntempo = 60\nbars = 4\n[[part]]\nname = \"left\"\nhits = {lines}\n");
    let sound = desk.render(&hits("{ \"1\" = { swell = \"50-118\", play = \"xxxx\" } }"));
    assert_velocities(&sound, 0, &[50.0, 67.0, 84.0, 101.0]);
    // All other marks are scaled as a plain hit is.
    let sound = desk.render(&hits("{ \"1\" = { swell = \"48-96\", play = \"gXxx\" } }"));
    assert_velocities(&sound, 0, &[20.0, 118.0 * 60.0 / 96.0, 72.0, 84.0]);
    // Over several bars, and down.
    let sound = desk.render(&hits("{ \"1-2\" = { swell = \"100-60\", play = \"x-x-\" } }"));
    assert_velocities(&sound, 0, &[100.0, 90.0, 80.0, 70.0]);
    // Runs of bars swell anew.
    let sound = desk.render(&hits("{ \"every 2 bars\" = { swell = \"60-100\", play = \"x-x-\" } }"));
    assert_velocities(&sound, 0, &[60.0, 80.0, 60.0, 80.0]);
    let sound = desk.render(&hits("{ swell = \"40-120\", play = \"x---\" }"));
    assert_velocities(&sound, 0, &[40.0, 60.0, 80.0, 100.0]);
}

#[test]
fn what_borrows_a_swelling_line_swells_with_it_and_a_list_can_swell() {
    let text = "[loop]\ntempo = 60\nbars = 1\n[[part]]\nname = \"left\"\nhits = { swell = \"50-118\", play = [\"1 x\", \"3 x\"] }\n[[part]]\nname = \"right\"\nhits = \"as left\"\n";
    let sound = desk().render(text);
    assert_velocities(&sound, 0, &[50.0, 84.0]);
    assert_velocities(&sound, 1, &[50.0, 84.0]);
}

#[test]
fn wrong_swells_are_pointed_at() {
    let desk = desk();
    for (line, what) in [
        ("{ swell = \"50-118\" }", "lacks `play`"),
        ("{ swell = \"0-118\", play = \"x\" }", "two velocities from 1 to 127"),
        (
            "{ swell = \"50-118\", play = \"x\", paly = \"x\" }",
            "did you mean `play`?",
        ),
    ] {
        desk.write(
            "loop.toml",
            format!("[loop]\ntempo = 60\nbars = 1\n[[part]]\nname = \"left\"\nhits = {line}\n"),
        );
        let answer = desk.run(&["check", "loop.toml"]);
        assert_eq!(answer.code, Some(1), "{line}");
        assert!(answer.err.contains(what), "{}", answer.err);
    }
}

#[test]
fn a_played_hit_takes_the_accent_of_the_step_that_it_is_nearest_to() {
    // 960 ticks a quarter; a sixteenth has 240. Early, late, half-way to the next sixteenth, on another, before the
    // barline and before the loop comes round.
    let at = |swing: &str, starts: &[u64], accents: &str| {
        let notes = starts.iter().map(|start| MidiNote {
            start: *start,
            length: 60,
            key: 36,
            velocity: 96,
        });
        let take = MidiSong {
            parts: vec![MidiPart {
                name: "take".into(),
                percussion: true,
                notes: notes.collect(),
                ..MidiPart::default()
            }],
            ..MidiSong::default()
        };
        let mut bytes = Vec::new();
        pressroll::internals::midi::write(&take, &mut bytes).expect("MIDI");
        let desk = desk();
        desk.write("take.mid", bytes);
        let text = format!(
            "[loop]\ntempo = 60\nbars = 2\n[feel]\nswing = {swing}\n[accents]\n{accents}\n[[part]]\nname = \"p\"\nmidi = \"take.mid\"\nkeys = {{ 36 = \"left\" }}\n"
        );
        velocities(&desk.render(&text), 0)
            .into_iter()
            .map(|velocity| velocity > 100.0)
            .collect::<Vec<_>>()
    };
    let (yes, no) = (true, false);
    let starts = [0, 119, 120, 850, 1079, 1080, 3730, 3850, 7570];
    assert_eq!(
        at("50", &starts, "all = \"XX--\""),
        [yes, yes, no, yes, yes, no, yes, yes, yes]
    );
    // A finer line has a narrower step: 1/64 here.
    let finer = format!("\"1\" = \"X{}\"", "-".repeat(63));
    assert_eq!(at("50", &[0, 29, 31, 119], &finer), [yes, yes, no, no]);
    // The second eighth swings to 2/3 of its quarter, 640 ticks.
    let swung = "\"1\" = \"-X------\"\n";
    assert_eq!(
        at("66.66667\nswing_of = \"1/8\"", &[400, 640, 700], swung),
        [no, yes, yes]
    );
}
