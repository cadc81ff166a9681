//! Cuts and bells follow Bristow-Johnson's formulas as scipy computes them, from 20 Hz to 20 kHz.

mod support;

use support::{Desk, RATE, assert_near, list, meter, number, reference, tab};

/// Below this only the rounding of a float is measured.
const FLOOR_DB: f64 = -90.0;

#[test]
fn the_curves_of_cuts_and_bells_are_scipys() {
    let desk = Desk::new();
    let mut click = vec![0.0; 64];
    click[0] = 0.25;
    // Two equal sides: a balance leaves both at 0 dB.
    desk.one_shot("click.wav", &[click.clone(), click]);
    let values = reference("filters");
    let frequencies: Vec<f64> = list(&values, "frequencies").iter().map(number).collect();
    assert_eq!(list(&values, "curves").len(), 11);
    for curve in list(&values, "curves") {
        let keys = curve["keys"].as_str().expect("keys");
        let text = tab("120", 1, "click 9---") + "[[part]]\nname = \"click\"\n" + keys + "\n";
        let sound = desk.render(&text);
        for (hz, wanted) in frequencies.iter().zip(list(curve, "db")) {
            let wanted = number(wanted);
            let is = meter::db(meter::response(sound.left(), *hz, f64::from(RATE)) / 0.25);
            let within = if wanted > -60.0 { 0.02 } else { 0.2 };
            if wanted < FLOOR_DB {
                continue;
            }
            assert_near(is, wanted, within, format!("{keys} at {hz} Hz"));
        }
    }
}

#[test]
fn a_butterworth_cut_is_3_db_down_at_its_frequency_and_falls_12_db_an_octave() {
    let desk = Desk::new();
    let mut click = vec![0.0; 64];
    click[0] = 0.25;
    desk.one_shot("click.wav", &[click.clone(), click]);
    let sound = desk.render(&(tab("60", 1, "click 9---") + "[[part]]\nname = \"click\"\nlow_cut = 400\n"));
    let level = |hz| meter::db(meter::response(sound.left(), hz, f64::from(RATE)) / 0.25);
    // Bristow-Johnson, audio EQ formulas: a Q of 1/sqrt(2) is 20·log10(1/sqrt(2)) at its frequency.
    assert_near(level(400.0), -3.01, 0.01, "at the cut");
    assert_near(level(50.0) - level(25.0), 12.04, 0.05, "an octave far below it");
}
