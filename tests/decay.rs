//! A decay of D ms falls 60 dB in D ms, after attack and hold.

use crate::support::{Desk, assert_near, meter, tab, tone, wav::Wav};

/// Level of a 1 kHz tone of half of full scale around a time, over 4 ms, in dB under its full level a side.
fn level(sound: &Wav, seconds: f64) -> f64 {
    let middle = (seconds * 48000.0) as usize;
    let stretch = &sound.left()[middle - 96..middle + 96];
    meter::db(meter::rms(stretch) * 2f64.sqrt() / 0.5)
}

fn render(keys: &str) -> Wav {
    let desk = Desk::new();
    desk.one_shot("tone.wav", &[tone(1000.0, 3.0, 0.5), tone(1000.0, 3.0, 0.5)]);
    desk.render(&(tab("60", 1, "tone 9---") + "[[part]]\nname = \"tone\"\n" + keys + "\n"))
}

#[test]
fn decays_fall_sixty_db_in_their_time() {
    for decay in [120.0, 400.0, 1500.0] {
        let sound = render(&format!("envelope = {{ decay = {decay} }}"));
        for share in [0.1, 0.25, 0.5, 0.75, 0.9] {
            let at = decay / 1000.0 * share;
            assert_near(level(&sound, at), -60.0 * share, 0.5, format!("{share} of {decay} ms"));
        }
        // Fallen 60 dB, it fades out within 5 ms.
        let gone = (decay / 1000.0 * 48000.0 + 0.006 * 48000.0) as usize;
        assert_eq!(meter::peak(&sound.left()[gone..]), 0.0, "after {decay} ms");
    }
}

#[test]
fn hold_keeps_full_level_before_the_decay() {
    let sound = render("envelope = { hold = 300, decay = 600 }");
    assert_near(level(&sound, 0.15), 0.0, 0.1, "held");
    assert_near(level(&sound, 0.28), 0.0, 0.1, "still held");
    assert_near(level(&sound, 0.6), -30.0, 0.5, "half of the decay");
}

#[test]
fn attack_rises_from_silence_to_full_level() {
    let sound = render("envelope = { attack = 200 }");
    let levels: Vec<f64> = (1..10).map(|n| level(&sound, 0.02 * f64::from(n))).collect();
    assert!(levels.is_sorted(), "{levels:?}");
    assert!(levels[0] < -6.0, "{levels:?}");
    assert_near(level(&sound, 0.25), 0.0, 0.1, "after the attack");
    assert_near(level(&sound, 2.5), 0.0, 0.1, "no decay was given");
}

#[test]
fn reverse_plays_the_recording_backwards() {
    let desk = Desk::new();
    let rising: Vec<f32> = (0..4800).map(|n| n as f32 / 9600.0).collect();
    desk.one_shot("ramp.wav", &[rising.clone(), rising]);
    let sound = desk.render(&(tab("60", 1, "ramp -9--") + "[[part]]\nname = \"ramp\"\nreverse = true\n"));
    assert_near(f64::from(sound.left()[48100]), 4699.0 / 9600.0, 0.001, "100 frames in");
    assert_near(f64::from(sound.left()[52000]), 799.0 / 9600.0, 0.001, "4,000 frames in");
}
