//! One-shots at other rates sound as soxr's best would have them: flat to 20 kHz, nothing beside the tone.

use std::f64::consts::TAU;

use crate::support::{Desk, assert_near, list, meter, number, reference, tab, wav};

#[test]
fn sines_from_44100_to_48000_are_soxrs() {
    let desk = Desk::new();
    let values = reference("resample");
    let from = number(&values["from"]) as u32;
    assert_eq!(list(&values, "sines").len(), 12);
    for row in list(&values, "sines") {
        let hz = number(&row["hz"]);
        // Cosines: the first sample is the loudest, so there is no doubt where the sound begins.
        let turn = |i: u32| (0.5 * (TAU * hz * f64::from(i) / f64::from(from)).cos()) as f32;
        let side: Vec<f32> = (0..2 * from).map(turn).collect();
        desk.write("tone.wav", wav::float(from, &[side.clone(), side]));
        let sound = desk.render(&tab("120", 1, "tone 9---"));
        // One second in the middle: whole periods of every frequency.
        let (size, rest_db) = meter::sine(&sound.left()[24000..72000], hz, 48000.0);
        // Flat within 0.1 dB to 20 kHz, images 100 dB down.
        assert_near(
            meter::db(size / 0.5),
            number(&row["db"]),
            0.1,
            format!("level at {hz} Hz"),
        );
        assert!(rest_db < -100.0, "beside {hz} Hz there is {rest_db} dB");
    }
}

#[test]
fn what_would_fold_back_is_taken_out() {
    let desk = Desk::new();
    // 30 kHz exists at 96 kHz and not at 48: it would fold to 18 kHz.
    let side: Vec<f32> = (0..192_000)
        .map(|i| (0.5 * (TAU * 30000.0 * f64::from(i) / 96000.0).cos()) as f32)
        .collect();
    desk.write("tone.wav", wav::float(96000, &[side.clone(), side]));
    let sound = desk.render(&tab("120", 1, "tone 9---"));
    let middle = meter::peak(&sound.left()[24000..72000]);
    assert!(meter::db(middle / 0.5) < -100.0, "{} dB", meter::db(middle / 0.5));
}

#[test]
fn a_tuned_one_shot_has_the_pitch_it_was_given() {
    let desk = Desk::new();
    desk.one_shot(
        "tone.wav",
        &[
            crate::support::tone(440.0, 2.0, 0.5),
            crate::support::tone(440.0, 2.0, 0.5),
        ],
    );
    // Equal temperament: an octave doubles, seven semitones multiply by 2^(7/12).
    for (tune, hz) in [(12.0, 880.0), (-12.0, 220.0), (7.0, 440.0 * 2f64.powf(7.0 / 12.0))] {
        let text = tab("240", 1, "tone 9---") + &format!("[[part]]\nname = \"tone\"\ntune = {tune}\n");
        let sound = desk.render(&text);
        let stretch = &sound.left()[4800..43200];
        let crossings: Vec<f64> = (1..stretch.len())
            .filter(|i| stretch[i - 1] < 0.0 && stretch[*i] >= 0.0)
            .map(|i| i as f64 - f64::from(stretch[i]) / f64::from(stretch[i] - stretch[i - 1]))
            .collect();
        let periods = (crossings.len() - 1) as f64;
        let is = 48000.0 * periods / (crossings[crossings.len() - 1] - crossings[0]);
        assert_near(1200.0 * (is / hz).log2(), 0.0, 1.0, format!("cents from {hz} Hz"));
    }
}
