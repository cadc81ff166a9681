//! Hits of one choke group stop one another in 5 ms; the hats are one group unless told otherwise.

use crate::support::{Desk, click, meter, tab, tone};

/// A kit of long tones and a click, so that what still sounds is easy to tell.
fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("hat-open.wav", &[tone(1000.0, 3.0, 0.5)]);
    desk.one_shot("hat-closed.wav", &[click()]);
    desk.one_shot("hat-pedal.wav", &[click()]);
    desk.one_shot("gong.wav", &[tone(500.0, 3.0, 0.5)]);
    desk.one_shot("stopper.wav", &[click()]);
    desk
}

/// What sounds from 6 ms after the second beat of a loop at 60, in dBFS; and what sounded just before the beat.
fn after_and_before(text: &str) -> (f64, f64) {
    let sound = desk().render(text);
    let level = |from: usize, to: usize| meter::db(meter::peak(&sound.left()[from..to]));
    (level(48290, 90000), level(43000, 47900))
}

#[track_caller]
fn assert_stopped(text: &str) {
    let (after, before) = after_and_before(text);
    assert!(before > -20.0, "it sounds before: {before} dBFS");
    assert!(after < -100.0, "it stops in 5 ms: {after} dBFS");
}

#[track_caller]
fn assert_rings(text: &str) {
    let (after, before) = after_and_before(text);
    assert!(
        before > -20.0 && after > before - 1.0,
        "it rings on: {after} after {before} dBFS"
    );
}

#[test]
fn closed_and_pedal_hats_stop_the_open_one() {
    assert_stopped(&tab("60", 1, "hat-open X---\nhat-closed -x--"));
    assert_stopped(&tab("60", 1, "hat-open X---\nhat-pedal -x--"));
    // Within one part as well.
    assert_stopped(&tab("60", 1, "hat-closed ox--"));
}

#[test]
fn other_pieces_ring_on_unless_they_share_a_group() {
    let lines = tab("60", 1, "gong X---\nstopper -x--");
    assert_rings(&lines);
    let group = |a: &str, b: &str| {
        format!("{lines}[[part]]\nname = \"gong\"\nchoke = \"{a}\"\n[[part]]\nname = \"stopper\"\nchoke = \"{b}\"\n")
    };
    assert_stopped(&group("stand", "stand"));
    assert_rings(&group("stand", "hand"));
}

#[test]
fn choke_off_takes_a_hat_out_of_its_group() {
    let text = tab("60", 1, "hat-open X---\nhat-closed -x--");
    assert_rings(&(text + "[[part]]\nname = \"hat-open\"\nchoke = \"off\"\n"));
}

#[test]
fn a_part_that_is_not_heard_still_chokes() {
    let text = tab("60", 1, "hat-open X---\nhat-closed -x--");
    assert_stopped(&(text.clone() + "[[part]]\nname = \"hat-closed\"\nmute = true\n"));
    let desk = desk();
    let (sound, _) = desk.render_with(&text, &["--only", "hat-open"]);
    assert!(meter::db(meter::peak(&sound.left()[48290..90000])) < -100.0);
}

#[test]
fn in_a_circle_a_hit_of_the_next_round_stops_what_rings_over_the_seam() {
    // Struck on the last beat of 4 s, it would ring for 3 s: into the loop's start, where the closed hat stops it.
    let sound = desk().render(&tab("60", 1, "hat-open ---X\nhat-closed x---"));
    let level = meter::db(meter::peak(&sound.left()[290..140_000]));
    assert!(level < -100.0, "{level} dBFS");
}
