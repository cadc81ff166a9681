//! `measure` tells what a meter reads, as a table of 80 columns and under the design's names in JSON.

use crate::support::{Desk, assert_near, number, tone};

#[test]
fn json_lists_every_figure_of_every_file() {
    let desk = Desk::new();
    // BS.1770-5: a 997 Hz sine at full scale in one front channel reads -3.01 LKFS.
    desk.one_shot("one.wav", &[tone(997.0, 5.0, 1.0)]);
    desk.one_shot("two.wav", &[tone(997.0, 5.0, 0.5), tone(997.0, 5.0, -0.5)]);
    let answer = desk.run(&["measure", "--json", "one.wav", "two.wav"]);
    answer.assert_done();
    let told: serde_json::Value = serde_json::from_str(&answer.out).expect("JSON");
    let names = [
        "file",
        "seconds",
        "rate",
        "channels",
        "lufs",
        "true_peak_db",
        "lra",
        "sample_peak_db",
        "crest_db",
        "dc",
        "correlation",
        "mono_loss_db",
        "seam_db",
    ];
    for one in told.as_array().expect("a list") {
        let one = one.as_object().expect("an object");
        assert_eq!(one.len(), names.len());
        assert!(names.iter().all(|name| one.contains_key(*name)), "{one:?}");
    }
    assert_near(number(&told[0]["lufs"]), -3.01, 0.1, "one channel at full scale");
    assert_near(number(&told[0]["crest_db"]), 3.01, 0.02, "a sine's crest");
    assert_near(number(&told[1]["sample_peak_db"]), -6.02, 0.02, "half of full scale");
    assert_near(
        number(&told[1]["correlation"]),
        -1.0,
        1e-6,
        "sides turned against one another",
    );
    assert!(
        number(&told[1]["mono_loss_db"]) > 90.0,
        "nothing is left of them in mono"
    );
}

#[test]
fn the_table_fits_a_page_and_says_what_a_short_range_is_worth() {
    let desk = Desk::new();
    desk.one_shot(
        "a rather long name of a file for any table.wav",
        &[tone(440.0, 5.0, 0.5)],
    );
    let answer = desk.run(&["measure", "a rather long name of a file for any table.wav"]);
    answer.assert_done();
    assert!(
        answer.out.lines().all(|line| line.chars().count() <= 80),
        "{}",
        answer.out
    );
    assert!(answer.out.contains("unreliable under 60 s"), "{}", answer.out);
}

#[test]
fn a_seam_that_clicks_stands_out() {
    let desk = Desk::new();
    // 440 rounds in a second: the end meets the beginning. Half a round more, and it jumps.
    desk.one_shot("smooth.wav", &[tone(440.0, 1.0, 0.5)]);
    desk.one_shot("jump.wav", &[tone(440.5, 1.0, 0.5)]);
    let answer = desk.run(&["measure", "--json", "smooth.wav", "jump.wav"]);
    let told: serde_json::Value = serde_json::from_str(&answer.out).expect("JSON");
    assert!(
        number(&told[0]["seam_db"]) < 3.0 && number(&told[1]["seam_db"]) > 25.0,
        "{told}"
    );
}

#[test]
fn what_is_no_wav_is_named_and_the_rest_is_measured() {
    let desk = Desk::new();
    desk.one_shot("good.wav", &[tone(440.0, 1.0, 0.5)]);
    desk.write("bad.wav", "no sound at all");
    let answer = desk.run(&["measure", "bad.wav", "good.wav"]);
    assert_eq!(answer.code, Some(1));
    assert!(
        answer.err.contains("bad.wav") && answer.out.contains("good.wav"),
        "{}{}",
        answer.out,
        answer.err
    );
}
