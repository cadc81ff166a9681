//! Flams, drags and single-stroke rolls are those of the Percussive Arts Society's International Drum Rudiments: so many
//! strokes, so far apart, so soft.

use crate::support::{Desk, RATE, assert_near, click, meter::db, tab, wav::Wav};

fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("click.wav", &[click()]);
    desk
}

/// Clicks as milliseconds and dB against the plain hit of velocity 96 that the loop's first click is.
fn clicks(sound: &Wav) -> Vec<(f64, f64)> {
    let left = sound.left();
    let found: Vec<usize> = (0..left.len()).filter(|i| left[*i].abs() > 1e-4).collect();
    let plain = f64::from(left[found[0]].abs());
    let told = |frame: usize| {
        (
            frame as f64 * 1000.0 / f64::from(RATE),
            db(f64::from(left[frame].abs()) / plain),
        )
    };
    found.into_iter().map(told).collect()
}

/// A bar of four seconds: a plain hit on 1, and a mark on 3, which is at 2000 ms.
fn on_three(mark: &str) -> Vec<(f64, f64)> {
    let sound = desk().render(&tab("60", 1, &format!("click x--- ---- {mark}--- ----")));
    clicks(&sound).split_off(1)
}

/// The law of velocity, DLS and General MIDI 2 [memory]: 40·log10(v/127) dB.
fn against_plain(velocity: f64) -> f64 {
    40.0 * (velocity / 96.0).log10()
}

#[test]
fn a_flam_has_one_soft_grace_note_20_to_35_ms_ahead() {
    // International Drum Rudiments; the distance is [practice].
    for (mark, velocity) in [("f", 96.0), ("F", 118.0)] {
        let blows = on_three(mark);
        assert_eq!(blows.len(), 2, "{blows:?}");
        let [(grace_at, grace), (main_at, main)] = blows[..] else {
            unreachable!()
        };
        assert_near(main_at, 2000.0, 0.03, "the main note's time");
        assert_near(main, against_plain(velocity), 0.01, "the main note's level");
        assert!((20.0..=35.0).contains(&(main_at - grace_at)), "{blows:?}");
        assert!((-20.0..=-8.0).contains(&(grace - main)), "{blows:?}");
    }
}

#[test]
fn a_drag_has_two_soft_grace_notes_about_35_ms_apart() {
    // The drag, of old called ruff: International Drum Rudiments; the distance is [practice].
    for (mark, velocity) in [("d", 96.0), ("D", 118.0)] {
        let blows = on_three(mark);
        assert_eq!(blows.len(), 3, "{blows:?}");
        assert_near(blows[2].0, 2000.0, 0.03, "the main note's time");
        assert_near(blows[2].1, against_plain(velocity), 0.01, "the main note's level");
        for pair in blows.windows(2) {
            assert_near(pair[1].0 - pair[0].0, 35.0, 5.0, "from blow to blow");
        }
        assert!(
            blows[..2]
                .iter()
                .all(|(_, level)| (-20.0..=-8.0).contains(&(level - blows[2].1)))
        );
    }
}

#[test]
fn two_even_strokes_share_a_step_and_follow_on_evenly() {
    let desk = desk();
    let sound = desk.render(&tab("60", 1, "click x--- rrrr ---- R---"));
    let blows = clicks(&sound);
    // Sixteenths at 60 last 250 ms, so a single-stroke roll of `r` goes in 125 ms.
    let times: Vec<f64> = blows.iter().map(|(at, _)| *at).collect();
    let wanted = [
        0.0, 1000.0, 1125.0, 1250.0, 1375.0, 1500.0, 1625.0, 1750.0, 1875.0, 3000.0, 3125.0,
    ];
    assert_eq!(times.len(), wanted.len(), "{times:?}");
    for (at, wanted) in times.iter().zip(wanted) {
        assert_near(*at, wanted, 0.03, "a stroke's time");
    }
    for (number, velocity) in [(1, 80.0), (2, 80.0), (8, 80.0), (9, 104.0), (10, 104.0)] {
        assert_near(
            blows[number].1,
            against_plain(velocity),
            0.01,
            format!("stroke {number}"),
        );
    }
}

#[test]
fn the_second_of_two_strokes_bends_with_swing() {
    let text = tab("60", 1, "click x--- r--- ---- ----") + "[feel]\nswing = 60\nswing_of = \"1/32\"\n";
    let blows = clicks(&desk().render(&text));
    assert_near(blows[2].0, 1150.0, 0.03, "the swung second stroke");
}

#[test]
fn grace_notes_before_the_first_bar_sound_at_the_loops_end_or_are_left_out() {
    let desk = desk();
    let text = tab("60", 1, "click d--- ---- x--- ----");
    let at = |options: &[&str]| -> Vec<f64> {
        let sound = desk.render_with(&text, options).0;
        let left = sound.left();
        let found = (0..left.len()).filter(|i| left[*i].abs() > 1e-4);
        found.map(|frame| frame as f64 * 1000.0 / f64::from(RATE)).collect()
    };
    let round = at(&[]);
    assert_eq!(round.len(), 4);
    assert_near(round[0], 0.0, 0.03, "the main note");
    assert!(round[2] > 3900.0 && round[3] > 3900.0, "{round:?}");
    for ending in ["let ring", "damp"] {
        assert_eq!(at(&["--ending", ending]), [0.0, 2000.0]);
        // The second time round they have a place to sound.
        assert_eq!(at(&["--ending", ending, "--repeat", "2"]).len(), 6);
    }
}

#[test]
fn what_drift_puts_before_the_first_sample_sounds_at_it() {
    let text = tab("60", 1, "click x--- ---- ---- ----") + "[[part]]\nname = \"click\"\nbehind = -40\n";
    let desk = desk();
    let sound = desk.render_with(&text, &["--ending", "damp"]).0;
    assert!(sound.left()[0] > 0.01);
}

#[test]
fn grace_notes_choose_softer_layers() {
    let desk = Desk::new();
    desk.one_shot("hard.wav", &[click()]);
    desk.one_shot("soft.wav", &[click().iter().map(|sample| -sample).collect()]);
    let kit = "[[piece]]\nname = \"click\"\nlayers = [{ upto = 60, files = [\"soft.wav\"] }, { upto = 127, files = [\"hard.wav\"] }]\n";
    desk.write("kit.toml", kit);
    let sound = desk.render(&tab("60", 1, "click ---- ---- d--- ----"));
    let signs: Vec<bool> = sound
        .left()
        .iter()
        .filter(|s| s.abs() > 1e-4)
        .map(|s| *s > 0.0)
        .collect();
    assert_eq!(signs, [false, false, true]);
}

#[test]
fn takes_turn_on_for_every_sounding_stroke() {
    let desk = Desk::new();
    desk.one_shot("click_01.wav", &[click()]);
    desk.one_shot("click_02.wav", &[click().iter().map(|sample| -sample).collect()]);
    let sound = desk.render(&tab("60", 1, "click x--- r--- f--- d---"));
    let signs: Vec<bool> = sound
        .left()
        .iter()
        .filter(|s| s.abs() > 1e-4)
        .map(|s| *s > 0.0)
        .collect();
    assert_eq!(signs.len(), 8);
    assert!(signs.windows(2).all(|pair| pair[0] != pair[1]), "{signs:?}");
}

#[test]
fn hits_that_may_be_come_as_often_as_the_odds_say() {
    let desk = desk();
    let count = |odds: &str, bars: u32, seed: &str| {
        let text = tab("240", bars, "click mmmm mmmm mmmm mmmm") + &format!("[[part]]\nname = \"click\"\n{odds}\n");
        let (sound, _) = desk.render_with(&text, &["--seed", seed]);
        sound.left().iter().filter(|sample| sample.abs() > 1e-4).count()
    };
    assert_eq!(count("odds = 0", 2, "1"), 0);
    assert_eq!(count("odds = 100", 2, "1"), 32);
    // Of 800 draws at 1/2 the standard deviation is 14, at 1/5 it is 11: four of them either way.
    assert_near(count("", 50, "3") as f64, 400.0, 56.0, "the standard odds");
    assert_near(count("odds = 20", 50, "3") as f64, 160.0, 45.0, "one in five");
    assert_eq!(count("", 50, "4"), count("", 50, "4"));
}

#[test]
fn the_trades_marks_cannot_be_told_anew() {
    let desk = desk();
    desk.write(
        "loop.toml",
        tab("60", 1, "click x") + "[[part]]\nname = \"click\"\nmarks = { f = \"click\" }\n",
    );
    let answer = desk.run(&["check", "loop.toml"]);
    assert_eq!(answer.code, Some(1));
    assert!(
        answer.err.contains("`f` cannot play a piece: it is a flam"),
        "{}",
        answer.err
    );
}

#[test]
fn check_tells_what_hands_would_strain_at() {
    let desk = desk();
    let told = |tempo: &str, marks: &str| {
        desk.write("loop.toml", tab(tempo, 1, &format!("click {marks}")));
        let answer = desk.run(&["check", "loop.toml"]);
        answer.assert_done();
        answer.err + &answer.out
    };
    // [practice] Single strokes strain closer than 65 ms, doubles closer than 45 ms. Thirty-seconds at 120 last 62.5 ms.
    assert!(told("120", "rrrr ---- ---- ----").contains("ms apart"));
    assert!(!told("110", "rrrr ---- ---- ----").contains("ms apart"));
    assert!(!told("120", "r--- r--- ---- ----").contains("ms apart"));
    assert!(told("180", "r--- r--- ---- ----").contains("ms apart"));
    assert!(!told("120", "bbbb bbbb d--f f---").contains("ms apart"));
    let both = tab("100", 1, "click x---\nother --x- x---") + "[[part]]\nname = \"other\"\npiece = \"click\"\n";
    desk.write("loop.toml", both.replace("other --x- x---", "other x-x-"));
    let answer = desk.run(&["check", "loop.toml"]);
    assert!((answer.err + &answer.out).contains("both strike `click`"));
}
