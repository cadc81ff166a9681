//! The impulse response of the radio house's stairwell.

use crate::workshop::*;

/// Left and right: the clap itself is left out, what answers it is stone: early bounces between the flights, then a
/// tail whose high tones die first.
pub fn stairwell() -> Vec<Line> {
    let mut sides = ["left", "right"].map(one_side);
    // One factor for both, or the stairs would lean to one side.
    let peak = sides
        .iter()
        .flatten()
        .fold(1e-12_f64, |most, sample| most.max(sample.abs()));
    for sample in sides.iter_mut().flatten() {
        *sample *= 0.7 / peak;
    }
    sides.into()
}

fn one_side(side: &str) -> Line {
    let mut chance = Chance::new(side, 0);
    let seconds = 0.45;
    let mut heard = vec![0.0; frames(seconds)];
    for (centre, decay) in [(350.0, 0.85), (1100.0, 0.75), (3200.0, 0.5), (8000.0, 0.25)] {
        let tail = burst(&mut chance, 0.02, decay, seconds);
        let tail = low_pass(high_pass(tail, centre * 0.55), centre * 1.8);
        add(&mut heard, &tail, -14.0);
    }
    // Flights of stairs stand one above the other: the bounces keep an even time, a little apart on both sides.
    for bounce in 1..12 {
        let at = f64::from(bounce) * 0.0087 * chance.about(0.06);
        let knock = vec![chance.even().signum() * (0.5 + 0.3 * chance.even()); 2];
        add_at(
            &mut heard,
            &low_pass([knock, vec![0.0; 60]].concat(), 5500.0),
            -2.2 * f64::from(bounce),
            at,
        );
    }
    fade_out(high_pass(heard, 60.0), 0.25)
}
