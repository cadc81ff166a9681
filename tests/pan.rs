//! Pan is equal-power: -3 dB a side at the centre for mono, a balance for stereo.

use crate::support::{Desk, assert_near, list, meter, number, reference, tab, wav::Wav};

fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("mono.wav", &[vec![0.5; 4800]]);
    desk.one_shot("stereo.wav", &[vec![0.5; 4800], vec![0.25; 4800]]);
    desk
}

fn panned(desk: &Desk, piece: &str, keys: &str) -> Wav {
    desk.render(&(tab("120", 1, &format!("{piece} 9---")) + &format!("[[part]]\nname = \"{piece}\"\n{keys}\n")))
}

/// Both sides in the middle of the sound, of the recording's half of full scale.
fn sides(sound: &Wav) -> (f64, f64) {
    (
        f64::from(sound.left()[2400]) / 0.5,
        f64::from(sound.right()[2400]) / 0.5,
    )
}

#[test]
fn power_is_constant_across_the_arc() {
    let desk = desk();
    let values = reference("laws");
    assert_eq!(list(&values, "pan").len(), 21);
    for row in list(&values, "pan") {
        let (left, right) = sides(&panned(&desk, "mono", &format!("pan = {}", row["pan"])));
        assert_near(left, number(&row["left"]), 1e-4, format!("left at {}", row["pan"]));
        assert_near(right, number(&row["right"]), 1e-4, format!("right at {}", row["pan"]));
        // Common practice: power constant within 0.01 dB.
        assert_near(
            10.0 * (left * left + right * right).log10(),
            0.0,
            0.01,
            format!("power at {}", row["pan"]),
        );
    }
}

#[test]
fn a_mono_recording_is_3_db_down_a_side_at_the_centre() {
    let (left, right) = sides(&panned(&desk(), "mono", ""));
    assert_near(meter::db(left), -3.01, 0.01, "left");
    assert_eq!(left, right);
}

#[test]
fn a_stereo_recording_is_balanced() {
    let desk = desk();
    assert_eq!(sides(&panned(&desk, "stereo", "")), (1.0, 0.5));
    let (left, right) = sides(&panned(&desk, "stereo", "pan = 40"));
    assert_near(right, 0.5, 1e-6, "the near side stays");
    assert!(left < 0.999 && left > 0.1, "the far side is lowered: {left}");
    let (left, right) = sides(&panned(&desk, "stereo", "pan = -100"));
    assert_near(left, 1.0, 1e-6, "the near side stays");
    assert_near(right, 0.0, 1e-6, "nothing is left of the far side");
}

#[test]
fn a_mono_part_on_a_bus_keeps_its_level_a_side() {
    let desk = desk();
    let text = tab("120", 1, "mono 9---") + "[[part]]\nname = \"mono\"\nbus = \"all\"\n[[bus]]\nname = \"all\"\n";
    let (left, right) = sides(&desk.render(&text));
    assert_near(meter::db(left), -3.01, 0.01, "left");
    assert_near(meter::db(right), -3.01, 0.01, "right");
}
