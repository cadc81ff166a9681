//! The boat shed: things that lie about at the slip, struck, dropped and blown.

use crate::skins::Stroke;
use crate::workshop::*;

/// Modes from a table of Hz, level and seconds, each a little off for this stroke.
fn body(chance: &mut Chance, table: &[(f64, f64, f64)]) -> Vec<Mode> {
    table
        .iter()
        .map(|(hz, level, decay)| Mode {
            hz: hz * chance.about(0.007),
            // High modes start on either side, or they would add up to a bare click.
            level: level * chance.about(0.25) * if *hz > 1000.0 && chance.even() < 0.0 { -1.0 } else { 1.0 },
            decay: decay * chance.about(0.08),
        })
        .collect()
}

/// Noise between two frequencies.
fn rub(chance: &mut Chance, attack: f64, decay: f64, seconds: f64, low: f64, high: f64) -> Line {
    level(low_pass(high_pass(burst(chance, attack, decay, seconds), low), high))
}

/// The flat of a fist on a boat's hull: planks, ribs, and the air inside.
pub fn hull_thump(room: Place, stroke: Stroke) -> Line {
    let mut chance = Chance::new("hull-thump", stroke.take);
    let seconds = 0.44;
    let modes = body(
        &mut chance,
        &[
            (66.0, 1.0, 0.34),
            (97.0, 0.5, 0.25),
            (141.0, 0.4, 0.2),
            (203.0, 0.28, 0.14),
            (318.0, 0.2, 0.1),
            (467.0, 0.12, 0.07),
        ],
    );
    let bend = Bend {
        share: 0.22 * stroke.hard,
        seconds: 0.02,
    };
    let mut all = level(ring(&contact(0.005 - 0.002 * stroke.hard), &modes, bend, seconds));
    add(&mut all, &rub(&mut chance, 0.0006, 0.03, 0.1, 350.0, 2400.0), -13.0);
    let gravel = rub(&mut chance, 0.004, 0.16, seconds, 900.0, 5200.0);
    add(&mut all, &gravel, -31.0);
    in_room(warm(all, 4.0), room, -20.0)
}

/// A paint tin with a handful of washers in it: the shed's snare.
pub fn paint_tin(room: Place, stroke: Stroke) -> Line {
    let mut chance = Chance::new("paint-tin", stroke.take);
    let seconds = 0.34;
    let modes = body(
        &mut chance,
        &[
            (238.0, 1.0, 0.13),
            (391.0, 0.7, 0.16),
            (612.0, 0.5, 0.14),
            (1040.0, 0.34, 0.12),
            (1530.0, 0.26, 0.1),
            (2470.0, 0.2, 0.08),
            (3620.0, 0.14, 0.06),
        ],
    );
    let tin = level(ring(
        &contact(0.0011),
        &modes,
        Bend {
            share: 0.06,
            seconds: 0.02,
        },
        seconds,
    ));
    let moved = follow(&tin, 0.002, 0.22);
    // Washers hop: few and far between, each a small ring of its own.
    let hops: Line = moved
        .iter()
        .map(|moved| {
            if chance.even() > 0.955 {
                chance.even() * libm::pow(*moved, 1.2)
            } else {
                0.0
            }
        })
        .collect();
    let washer = body(
        &mut chance,
        &[
            (3300.0, 0.6, 0.014),
            (5150.0, 1.0, 0.012),
            (7900.0, 0.9, 0.009),
            (11_200.0, 0.5, 0.006),
        ],
    );
    let mut all = tin;
    add_at(
        &mut all,
        &level(ring(&hops, &washer, STEADY, seconds)),
        -1.0 + 3.0 * stroke.hard,
        0.0012,
    );
    add(&mut all, &rub(&mut chance, 0.0, 0.008, 0.03, 1800.0, 9000.0), -9.0);
    in_room(warm(all, 3.0), room, -19.0)
}

/// A hammer's tap on a rivet.
pub fn rivet_tap(room: Place, stroke: Stroke) -> Line {
    let mut chance = Chance::new("rivet-tap", stroke.take);
    let seconds = 0.13;
    let modes = body(
        &mut chance,
        &[
            (2130.0, 0.25, 0.05),
            (3480.0, 0.5, 0.055),
            (4770.0, 0.7, 0.05),
            (6390.0, 1.0, 0.045),
            (8230.0, 0.9, 0.04),
            (10_350.0, 0.7, 0.03),
            (13_100.0, 0.5, 0.025),
        ],
    );
    let mut all = level(ring(&contact(0.0001), &modes, STEADY, seconds));
    add(
        &mut all,
        &rub(&mut chance, 0.0, 0.02, seconds, 4000.0, 14_000.0),
        -3.0 + 3.0 * stroke.hard,
    );
    in_room(all, room, -20.0)
}

/// A length of chain let fall on the slip: a first clash, then link by link.
pub fn chain_drop(room: Place, stroke: Stroke) -> Line {
    let mut chance = Chance::new("chain-drop", stroke.take);
    let seconds = 0.62;
    // Three links of three sizes take turns.
    let mut blows = vec![vec![0.0; frames(seconds)]; 3];
    blows[0][0] = 1.0;
    let (mut at, mut turn) = (0.0, 0);
    while at < seconds - 0.05 {
        at += chance.between(0.003, 0.013) * (1.0 + 2.5 * at);
        turn += 1;
        if let Some(blow) = blows[turn % 3].get_mut(frames(at)) {
            *blow += 0.75 * chance.even() * libm::exp(-at / 0.13);
        }
    }
    let mut all = vec![0.0; frames(seconds)];
    for (size, blows) in [1.0, 1.085, 0.93].into_iter().zip(&blows) {
        let links: Vec<Mode> = body(
            &mut chance,
            &[
                (1270.0, 0.25, 0.06),
                (2110.0, 0.4, 0.07),
                (2890.0, 0.7, 0.08),
                (3730.0, 0.8, 0.07),
                (4610.0, 1.0, 0.07),
                (5850.0, 0.9, 0.06),
                (7240.0, 0.9, 0.05),
                (9330.0, 0.7, 0.04),
                (11_900.0, 0.5, 0.03),
            ],
        )
        .into_iter()
        .map(|mode| Mode {
            hz: mode.hz * size,
            ..mode
        })
        .collect();
        add(&mut all, &ring(blows, &links, STEADY, seconds), 0.0);
    }
    let mut all = level(all);
    add(
        &mut all,
        &rub(&mut chance, 0.001, 0.22, seconds, 3000.0, 11_000.0),
        -14.0,
    );
    in_room(all, room, -20.0)
}

/// A winch's pawl falling into the next tooth.
pub fn winch_click(room: Place, stroke: Stroke) -> Line {
    let mut chance = Chance::new("winch-click", stroke.take);
    let seconds = 0.12;
    let mut blows = vec![0.0; frames(seconds)];
    blows[0] = 0.6;
    blows[frames(0.004 * chance.about(0.2))] = 1.0;
    blows[frames(0.013 * chance.about(0.1))] = -0.25;
    let modes = body(
        &mut chance,
        &[
            (640.0, 0.3, 0.04),
            (1490.0, 0.7, 0.035),
            (2360.0, 1.0, 0.03),
            (3970.0, 0.7, 0.025),
            (6120.0, 0.5, 0.018),
        ],
    );
    let mut all = level(ring(&blows, &modes, STEADY, seconds));
    add(&mut all, &rub(&mut chance, 0.0, 0.012, 0.04, 2200.0, 9000.0), -9.0);
    in_room(all, room, -20.0)
}

/// A wet rope thrown flat on planks.
pub fn rope_slap(room: Place, stroke: Stroke) -> Line {
    let mut chance = Chance::new("rope-slap", stroke.take);
    let seconds = 0.26;
    let mut all = vec![0.0; frames(seconds)];
    // It lands along its length, so one slap is several.
    for (late, db) in [(0.0, -3.0), (0.007, -5.0), (0.0155, 0.0)] {
        let decay = if db == 0.0 { 0.12 } else { 0.022 };
        let slap = bell(rub(&mut chance, 0.0002, decay, 0.2, 500.0, 6800.0), 1350.0, 1.0, 7.0);
        add_at(&mut all, &level(slap), db, late * chance.about(0.12));
    }
    let planks = body(
        &mut chance,
        &[(152.0, 1.0, 0.09), (247.0, 0.7, 0.07), (410.0, 0.5, 0.05)],
    );
    add(&mut all, &level(ring(&contact(0.003), &planks, STEADY, seconds)), -9.0);
    in_room(all, room, -17.0)
}

/// Knuckles on a loose plank.
pub fn plank_knock(room: Place, stroke: Stroke) -> Line {
    let mut chance = Chance::new("plank-knock", stroke.take);
    let seconds = 0.22;
    // A plank is a plain bar, 1, 2.756, 5.404, with the trestle under it.
    let modes = body(
        &mut chance,
        &[
            (318.0, 1.0, 0.09),
            (471.0, 0.4, 0.07),
            (876.0, 0.6, 0.06),
            (1290.0, 0.25, 0.04),
            (1718.0, 0.3, 0.03),
            (2900.0, 0.12, 0.02),
        ],
    );
    let mut all = level(ring(&contact(0.001), &modes, STEADY, seconds));
    add(&mut all, &rub(&mut chance, 0.0, 0.01, 0.04, 900.0, 5000.0), -13.0);
    in_room(all, room, -18.0)
}

/// An oil drum struck with a mallet on its lid.
pub fn oil_drum(room: Place, stroke: Stroke) -> Line {
    let mut chance = Chance::new("oil-drum", stroke.take);
    let seconds = 0.7;
    let modes = body(
        &mut chance,
        &[
            (81.0, 0.9, 0.5),
            (126.0, 1.0, 0.55),
            (189.0, 0.55, 0.5),
            (263.0, 0.45, 0.6),
            (337.0, 0.35, 0.5),
            (452.0, 0.3, 0.5),
            (593.0, 0.22, 0.45),
            (811.0, 0.16, 0.4),
            (1130.0, 0.12, 0.3),
            (1670.0, 0.08, 0.22),
            (2410.0, 0.05, 0.16),
        ],
    );
    let mut all = level(ring(
        &contact(0.0019),
        &modes,
        Bend {
            share: 0.035,
            seconds: 0.06,
        },
        seconds,
    ));
    add(&mut all, &rub(&mut chance, 0.0003, 0.02, 0.06, 600.0, 4200.0), -15.0);
    in_room(warm(all, 3.0), room, -20.0)
}

/// A tarpaulin shaken once.
pub fn tarp_rustle(room: Place, stroke: Stroke) -> Line {
    let mut chance = Chance::new("tarp-rustle", stroke.take);
    let seconds = 0.2;
    let folds = low_pass(burst(&mut chance, 0.0, 9.0, seconds), 90.0);
    let cloth = rub(&mut chance, 0.009, 0.15, seconds, 1300.0, 7800.0);
    let all: Line = cloth
        .iter()
        .zip(level(folds))
        .map(|(cloth, fold)| cloth * (0.35 + fold.abs()))
        .collect();
    let mut all = level(all);
    add(&mut all, &rub(&mut chance, 0.003, 0.06, seconds, 220.0, 900.0), -15.0);
    in_room(all, room, -20.0)
}

/// Breath across a bottle's neck, A3: the air in it swings with a chiff at the start.
pub fn bottle(room: Place, stroke: Stroke) -> Line {
    let mut chance = Chance::new("bottle", stroke.take);
    let seconds = 0.6;
    let breath = burst(&mut chance, 0.03, 2.4, seconds);
    let air = [
        Mode {
            hz: 220.0,
            level: 1.0,
            decay: 0.16,
        },
        Mode {
            hz: 221.2,
            level: 0.6,
            decay: 0.3,
        },
        Mode {
            hz: 663.0,
            level: 0.05,
            decay: 0.08,
        },
    ];
    let mut all = level(ring(&breath, &air, STEADY, seconds));
    let tone: Vec<Partial> = [(220.0, 1.0), (440.0, 0.09), (660.0, 0.07)]
        .iter()
        .map(|(hz, level)| Partial {
            mode: Mode {
                hz: *hz,
                level: *level,
                decay: 2.6,
            },
            attack: 0.022,
            phase: 0.0,
        })
        .collect();
    add(&mut all, &level(cloud(&tone, seconds)), 2.0);
    add(&mut all, &level(low_pass(high_pass(breath, 600.0), 4200.0)), -23.0);
    add(&mut all, &rub(&mut chance, 0.002, 0.05, 0.1, 500.0, 3600.0), -15.0);
    in_room(all, room, -22.0)
}

/// A steel pipe hung on a line and struck with a hammer, E4. Bending modes of a free bar: 1, 2.756, 5.404, 8.933.
pub fn pipe(room: Place, stroke: Stroke) -> Line {
    let mut chance = Chance::new("pipe", stroke.take);
    let seconds = 0.9;
    let e4 = 329.627_556_913;
    let modes: Vec<Mode> = [
        (1.0, 0.8, 1.5),
        (1.004, 0.3, 1.8),
        (2.756, 1.0, 1.1),
        (5.404, 0.7, 0.7),
        (5.43, 0.3, 0.6),
        (8.933, 0.4, 0.4),
        (13.34, 0.25, 0.2),
    ]
    .iter()
    .map(|(ratio, level, decay)| Mode {
        hz: e4 * ratio,
        level: level * chance.about(0.1),
        decay: *decay,
    })
    .collect();
    let mut all = level(ring(&contact(0.00025), &modes, STEADY, seconds));
    add(&mut all, &rub(&mut chance, 0.0, 0.009, 0.03, 2000.0, 9000.0), -13.0);
    in_room(all, room, -21.0)
}

/// The shed's small fog horn, a short blast on D3.
pub fn fog_horn(room: Place, stroke: Stroke) -> Line {
    let mut chance = Chance::new("fog-horn", stroke.take);
    let seconds = 0.85;
    let d3 = 146.832_383_959;
    let tones: Vec<Partial> = (1..=22)
        .map(|number| {
            let n = f64::from(number);
            Partial {
                mode: Mode {
                    hz: d3 * n * chance.about(0.0012),
                    level: libm::pow(n, -0.75) * libm::exp(-n / 7.0) * chance.about(0.2),
                    decay: 6.0,
                },
                // The reed speaks at once, its brightness follows as the horn fills.
                attack: 0.012 + 0.006 * n,
                phase: 0.0,
            }
        })
        .collect();
    let mut all = warm(cloud(&tones, seconds), 5.0);
    let closing = frames(seconds - 0.34);
    for (frame, sample) in all.iter_mut().enumerate() {
        let past = frame.saturating_sub(closing) as f64 / RATE;
        *sample *= libm::exp(-past / 0.055);
    }
    add(
        &mut all,
        &rub(&mut chance, 0.02, 1.6, seconds - 0.3, 300.0, 2600.0),
        -29.0,
    );
    in_room(all, room, -17.0)
}
