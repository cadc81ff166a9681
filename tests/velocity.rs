//! Velocity v sounds at 40·log10(v/127) dB, mark by mark, and `touch` says how far that reaches.

use crate::support::{Desk, assert_near, click, list, meter, number, reference, tab, wav::Wav};

/// The click's height at a time, in dB over what velocity 127 gives: half of full scale, 3.01 dB down a side.
fn level(sound: &Wav, seconds: f64) -> f64 {
    let frame = (seconds * 48000.0).round() as usize;
    let around = &sound.left()[frame.saturating_sub(2)..(frame + 3).min(sound.frames())];
    meter::db(meter::peak(around) / 0.5) + 10.0 * 2f64.log10()
}

/// The recommended law of DLS and General MIDI 2 [memory].
fn law(velocity: f64) -> f64 {
    40.0 * (velocity / 127.0).log10()
}

fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("click.wav", &[click()]);
    desk.one_shot("hat-closed.wav", &[click()]);
    desk.one_shot("hat-open.wav", &[click()]);
    desk.one_shot("hat-pedal.wav", &[click()]);
    desk
}

#[test]
fn the_law_is_the_published_one() {
    let values = reference("laws");
    for row in list(&values, "velocity") {
        let velocity = number(&row["velocity"]);
        assert_near(law(velocity), number(&row["db"]), 1e-4, velocity);
        // `velocity` as a range of one value sets a plain hit to it.
        let text = tab("120", 1, "click -x--")
            + &format!("[[part]]\nname = \"click\"\nvelocity = \"{velocity}-{velocity}\"\n");
        let sound = desk().render(&text);
        assert_near(
            level(&sound, 0.5),
            number(&row["db"]),
            0.1,
            format!("velocity {velocity}"),
        );
    }
}

#[test]
fn every_mark_has_its_velocity() {
    let sound = desk().render(&tab("60", 2, "click xXg- 9876 | 543- ----"));
    let steps = [("x", 96.0), ("X", 118.0), ("g", 40.0), ("-", 0.0), ("9", 127.0)];
    for (n, (mark, velocity)) in steps.iter().enumerate() {
        assert_near(
            level(&sound, n as f64 * 0.5).max(-200.0),
            law(*velocity).max(-200.0),
            0.1,
            mark,
        );
    }
    for (n, at) in [2.0, 2.5, 3.0, 3.5, 4.0, 4.5, 5.0].iter().enumerate() {
        assert_near(level(&sound, *at), -3.0 * n as f64, 0.1, format!("mark {}", 9 - n));
    }
}

#[test]
fn marks_of_a_parts_own_are_plain_hits() {
    let sound = desk().render(&tab("60", 1, "hat-closed xop-"));
    for at in [0.0, 1.0, 2.0] {
        assert_near(level(&sound, at), law(96.0), 0.1, format!("at {at}"));
    }
    let text = tab("60", 1, "click -z--") + "[[part]]\nname = \"click\"\nmarks = { z = \"hat-open\" }\n";
    assert_near(level(&desk().render(&text), 1.0), law(96.0), 0.1, "z");
}

#[test]
fn touch_is_the_share_of_the_law() {
    for touch in [0.0, 0.25, 0.5, 1.0] {
        let text = tab("60", 1, "click g-X-") + &format!("[[part]]\nname = \"click\"\ntouch = {touch}\n");
        let sound = desk().render(&text);
        assert_near(
            level(&sound, 0.0),
            touch * law(40.0),
            0.1,
            format!("g at touch {touch}"),
        );
        assert_near(
            level(&sound, 2.0),
            touch * law(118.0),
            0.1,
            format!("X at touch {touch}"),
        );
    }
}

#[test]
fn a_recorded_layer_counts_from_its_top() {
    let desk = desk();
    desk.one_shot("soft.wav", &[click()]);
    desk.one_shot("hard.wav", &[click()]);
    desk.write(
        "kit.toml",
        "[[piece]]\nname = \"drum\"\nlayers = [{ upto = 60, files = [\"soft.wav\"] }, { upto = 127, files = [\"hard.wav\"] }]\n",
    );
    let sound = desk.render(&tab("60", 1, "drum gXx9"));
    assert_near(
        level(&sound, 0.0),
        40.0 * (40.0f64 / 60.0).log10(),
        0.1,
        "g in the layer up to 60",
    );
    for (at, velocity) in [(1.0, 118.0), (2.0, 96.0), (3.0, 127.0)] {
        assert_near(level(&sound, at), law(velocity), 0.1, velocity);
    }
}
