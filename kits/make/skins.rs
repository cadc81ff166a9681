//! Drums with skins, and sticks on their rims.

use crate::workshop::*;

/// One stroke of a player.
#[derive(Debug, Clone, Copy)]
pub struct Stroke {
    /// Which take: what chance draws from.
    pub take: u32,
    /// How hard, 0 to 1: a harder blow is shorter and brighter.
    pub hard: f64,
    /// Where: 0 in the middle, 1 at the edge.
    pub place: f64,
}

/// A stroke.
pub const fn stroke(take: u32, hard: f64, place: f64) -> Stroke {
    Stroke { take, hard, place }
}

/// Modes of an ideal round skin: the ratio to the lowest and the number of lines across that stand still
/// (Fletcher and Rossing, The Physics of Musical Instruments, chapter 3), within 0.6 % of the zeros of Bessel functions
/// (recomputed by `tests/reference/constants.py`).
const SKIN: [(f64, f64); 12] = [
    (1.0, 0.0),
    (1.594, 1.0),
    (2.136, 2.0),
    (2.296, 0.0),
    (2.653, 3.0),
    (2.918, 1.0),
    (3.156, 4.0),
    (3.501, 2.0),
    (3.600, 0.0),
    (3.652, 5.0),
    (4.060, 3.0),
    (4.154, 6.0),
];

/// The modes of a skin that a stroke wakes. Round modes answer in the middle, the others towards the edge; `slope` dB
/// an octave and a shorter decay make the high ones quieter.
fn skin(chance: &mut Chance, hz: f64, decay: f64, slope: f64, stroke: Stroke) -> Vec<Mode> {
    SKIN.iter()
        .map(|(ratio, lines)| {
            let reached = if *lines == 0.0 {
                1.0 - 0.45 * stroke.place
            } else {
                libm::pow(0.15 + 0.85 * stroke.place, 0.5 * lines + 0.2)
            };
            let octaves = libm::log2(*ratio);
            Mode {
                hz: hz * ratio * chance.about(0.006),
                level: reached * libm::exp10(-slope * octaves / 20.0) * chance.about(0.2),
                decay: decay * libm::pow(*ratio, -0.9) * chance.about(0.08),
            }
        })
        .collect()
}

/// Bass drum with a felt beater.
pub fn kick(room: Place, stroke: Stroke) -> Line {
    let mut chance = Chance::new("kick", stroke.take);
    let length = 0.5;
    let tuned = 61.0 * chance.about(0.004);
    let mut modes = skin(&mut chance, tuned, 0.4, 6.5, stroke);
    // The air between both skins couples them: a second low mode (Fletcher and Rossing, chapter 18) [memory].
    modes.push(Mode {
        hz: 94.0,
        level: 0.55,
        decay: 0.17,
    });
    let bend = Bend {
        share: 0.5 + 0.5 * stroke.hard,
        seconds: 0.013,
    };
    let push = contact(0.0042 - 0.0018 * stroke.hard);
    let mut drum = level(ring(&push, &modes, bend, length));
    let felt = burst(&mut chance, 0.0004, 0.022, length);
    let felt = level(bell(low_pass(high_pass(felt, 900.0), 5200.0), 2900.0, 1.2, 6.0));
    add(&mut drum, &felt, -8.0 + 6.0 * stroke.hard);
    let air = burst(&mut chance, 0.001, 0.09, length);
    add(&mut drum, &level(low_pass(high_pass(air, 120.0), 700.0)), -14.0);
    let buzz = buzz(&mut chance, &drum);
    add(&mut drum, &buzz, -36.0);
    in_room(warm(drum, 5.0), room, -27.0)
}

/// The snare drum across the room answers every other drum: its wires buzz along, far below.
fn buzz(chance: &mut Chance, drum: &[f64]) -> Line {
    let moved = low_pass(follow(drum, 0.012, 0.4), 60.0);
    let wires = moved.iter().map(|moved| chance.even() * moved).collect();
    level(bell(high_pass(wires, 1100.0), 3600.0, 0.8, 5.0))
}

/// How a snare drum is built.
#[derive(Debug, Clone, Copy)]
pub struct Snare {
    /// What chance draws from.
    pub name: &'static str,
    /// The top skin's lowest mode, Hz.
    pub hz: f64,
    /// Seconds that the skin rings.
    pub decay: f64,
    /// Seconds that the wires rattle.
    pub rattle: f64,
    /// Wires against the skin, dB.
    pub wires: f64,
    /// A ring of the rim or shell, Hz.
    pub shell: f64,
}

/// Snare drum: a stick on the skin, and wires under it that its motion throws about.
pub fn snare(drum: Snare, room: Place, stroke: Stroke) -> Line {
    let mut chance = Chance::new(drum.name, stroke.take);
    let length = drum.rattle + 0.12;
    let tuned = drum.hz * chance.about(0.006);
    let mut modes = skin(&mut chance, tuned, drum.decay, 5.0, stroke);
    modes.push(Mode {
        hz: tuned * 1.78,
        level: 0.55,
        decay: drum.decay * 0.7,
    });
    modes.push(Mode {
        hz: drum.shell * chance.about(0.01),
        level: 0.05 + 0.09 * stroke.hard,
        decay: drum.decay * 1.1,
    });
    let push = contact(0.0024 - 0.0016 * stroke.hard);
    let bend = Bend {
        share: 0.03 + 0.09 * stroke.hard,
        seconds: 0.016,
    };
    let head = level(ring(&push, &modes, bend, length));

    // The wires lie still until the wave through the drum throws them off, then fall back and chatter.
    let moved = follow(&head, 0.0015, drum.rattle);
    let beat = low_pass(burst(&mut chance, 0.0, 60.0, length), 140.0);
    let rattle: Line = moved
        .iter()
        .zip(level(beat))
        .map(|(moved, beat)| chance.even() * libm::pow(*moved, 1.15) * (1.0 + 0.7 * beat))
        .collect();
    let rattle = bell(high_pass(rattle, 900.0), 4300.0 * chance.about(0.08), 0.7, 6.0);
    let rattle = high_shelf(rattle, 8000.0, -7.0 + 5.0 * stroke.hard);

    let mut all = head;
    add_at(&mut all, &level(rattle), drum.wires - 11.0 + 5.0 * stroke.hard, 0.0008);
    let stick = burst(&mut chance, 0.0, 0.007, 0.02);
    let stick = level(bell(high_pass(stick, 1200.0), 5200.0, 0.9, 5.0));
    add(&mut all, &stick, -22.0 + 16.0 * stroke.hard);
    in_room(warm(all, 1.0 + 4.0 * stroke.hard), room, -25.0)
}

/// Stick laid across the snare drum's rim.
pub fn side_stick(room: Place, stroke: Stroke) -> Line {
    let mut chance = Chance::new("side-stick", stroke.take);
    let length = 0.2;
    let wood: Vec<Mode> = [
        (860.0, 0.18, 0.05),
        (1730.0, 0.6, 0.045),
        (2540.0, 1.0, 0.036),
        (3890.0, 0.8, 0.03),
        (5600.0, 0.6, 0.022),
    ]
    .iter()
    .map(|(hz, level, decay)| Mode {
        hz: hz * chance.about(0.012),
        level: level * chance.about(0.25),
        decay: decay * chance.about(0.1) * 1.6,
    })
    .collect();
    let push = contact(0.00015);
    let mut all = level(ring(&push, &wood, STEADY, length));
    let shell = [
        Mode {
            hz: 196.0 * chance.about(0.01),
            level: 1.0,
            decay: 0.12,
        },
        Mode {
            hz: 371.0 * chance.about(0.01),
            level: 0.7,
            decay: 0.09,
        },
    ];
    add(&mut all, &level(ring(&contact(0.0012), &shell, STEADY, length)), -17.0);
    add(
        &mut all,
        &level(high_pass(burst(&mut chance, 0.0, 0.009, 0.03), 2600.0)),
        -1.0,
    );
    let wires = bell(
        high_pass(burst(&mut chance, 0.003, 0.09, length), 1800.0),
        4500.0,
        0.8,
        5.0,
    );
    add(&mut all, &level(wires), -27.0);
    in_room(all, room, -23.0)
}

/// Tom: two skins without wires, tuned to `hz`.
pub fn tom(name: &str, hz: f64, decay: f64, room: Place, stroke: Stroke) -> Line {
    let mut chance = Chance::new(name, stroke.take);
    let length = decay * 0.85;
    let modes = skin(&mut chance, hz, decay, 5.5, stroke);
    let bend = Bend {
        share: 0.07 + 0.09 * stroke.hard,
        seconds: 0.045,
    };
    let mut all = level(ring(&contact(0.0028 - 0.0014 * stroke.hard), &modes, bend, length));
    let skin = burst(&mut chance, 0.0005, 0.05, length);
    add(&mut all, &level(low_pass(high_pass(skin, 300.0), 1800.0)), -12.0);
    let stick = bell(high_pass(burst(&mut chance, 0.0, 0.008, 0.02), 900.0), 3300.0, 0.9, 5.0);
    add(&mut all, &level(stick), -8.0 + 6.0 * stroke.hard);
    let buzz = buzz(&mut chance, &all);
    add(&mut all, &buzz, -34.0);
    in_room(warm(all, 3.0), room, -25.0)
}

/// Frame drum played with the fingers: one skin, no shell to speak of.
pub fn frame_drum(room: Place, stroke: Stroke) -> Line {
    let mut chance = Chance::new("frame-drum", stroke.take);
    let length = 0.5;
    let modes = skin(&mut chance, 92.0, 0.55, 3.0, stroke);
    let bend = Bend {
        share: 0.05,
        seconds: 0.05,
    };
    let mut all = level(ring(&contact(0.0034 - 0.002 * stroke.hard), &modes, bend, length));
    let nail = bell(
        high_pass(burst(&mut chance, 0.0003, 0.014, 0.05), 700.0),
        2100.0,
        1.0,
        5.0,
    );
    add(&mut all, &level(nail), -16.0 + 9.0 * stroke.hard);
    let rustle = low_pass(high_pass(burst(&mut chance, 0.002, 0.14, length), 400.0), 3000.0);
    add(&mut all, &level(rustle), -26.0);
    in_room(warm(all, 2.0), room, -23.0)
}
