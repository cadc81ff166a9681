//! Small percussion of wood and seeds.

use crate::skins::Stroke;
use crate::workshop::*;

/// Shaker: each bead that hits the gourd is a tick (after Cook's "Physically informed sonic modeling", 1997); the
/// stroke throws the beads together at once and lets them trickle.
pub fn shaker(room: Place, seconds: f64, stroke: Stroke) -> Line {
    let mut chance = Chance::new("shaker", stroke.take);
    let mut ticks = vec![0.0; frames(seconds)];
    let rise = 0.011 - 0.006 * stroke.hard;
    for (frame, tick) in ticks.iter_mut().enumerate() {
        let at = frame as f64 / RATE;
        let thrown =
            (0.25 + 0.75 * at / rise).min(1.0) * libm::exp(-(at - rise).max(0.0) / (0.017 + 0.008 * stroke.hard));
        let trickle = 0.05 * libm::exp(-at / 0.035);
        if 0.5 * (chance.even() + 1.0) < 0.35 * (thrown + trickle) {
            *tick = chance.even() * (thrown + trickle);
        }
    }
    let gourd: Vec<Mode> = [
        (3150.0, 0.35),
        (5600.0, 0.9),
        (7300.0, 1.0),
        (9800.0, 0.8),
        (12_900.0, 0.45),
    ]
    .iter()
    .map(|(hz, level)| Mode {
        hz: hz * chance.about(0.03),
        level: level * chance.about(0.15),
        decay: 0.009,
    })
    .collect();
    let mut all = level(ring(&ticks, &gourd, STEADY, seconds));
    add(&mut all, &level(high_pass(ticks, 4000.0)), -5.0);
    in_room(high_pass(all, 1400.0), room, -27.0)
}

/// Modes of a plain bar: 1, 2.756, 5.404 (Fletcher and Rossing, chapter 2; recomputed by
/// `tests/reference/constants.py`); and the air in its slot.
pub fn wood_block(name: &str, hz: f64, room: Place, stroke: Stroke) -> Line {
    let mut chance = Chance::new(name, stroke.take);
    let seconds = 0.15;
    let modes: Vec<Mode> = [
        (1.0, 1.0, 0.085),
        (1.07, 0.4, 0.06),
        (1.71, 0.3, 0.05),
        (2.756, 0.8, 0.036),
        (5.404, 0.5, 0.022),
    ]
    .iter()
    .map(|(ratio, level, decay)| Mode {
        hz: hz * ratio * chance.about(0.006),
        level: level * chance.about(0.15),
        decay: *decay,
    })
    .collect();
    let mut all = level(ring(&contact(0.00025), &modes, STEADY, seconds));
    let tick = bell(
        high_pass(burst(&mut chance, 0.0, 0.006, 0.02), 1800.0),
        4200.0,
        0.9,
        4.0,
    );
    add(&mut all, &level(tick), -7.0 + 5.0 * stroke.hard);
    in_room(all, room, -21.0)
}
