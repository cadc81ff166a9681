//! Cymbals: hundreds of tones that no simple ratio ties together, and the hiss between them.

use crate::skins::Stroke;
use crate::workshop::*;

/// How a cymbal is built.
#[derive(Debug, Clone, Copy)]
pub struct Cymbal {
    /// What its tones are drawn from: all takes of one cymbal share them.
    pub name: &'static str,
    /// How many tones.
    pub tones: u32,
    /// The lowest and the highest, Hz.
    pub range: (f64, f64),
    /// Where it is strongest, Hz.
    pub centre: f64,
    /// dB an octave below and above the centre.
    pub slopes: (f64, f64),
    /// Seconds that the tones at 1 kHz ring.
    pub decay: f64,
    /// The share of that which is left an octave higher.
    pub damping: f64,
    /// Seconds that energy takes to climb to 8 kHz.
    pub climb: f64,
}

/// The level that a cymbal has at a frequency.
fn colour(cymbal: &Cymbal, hz: f64) -> f64 {
    let octaves = libm::log2(hz / cymbal.centre);
    let slope = if octaves < 0.0 {
        cymbal.slopes.0
    } else {
        cymbal.slopes.1
    };
    libm::exp10(-slope * octaves.abs() / 20.0)
}

/// The tones of a cymbal as one stroke wakes them.
fn tones(cymbal: &Cymbal, chance: &mut Chance, hard: f64) -> Vec<Partial> {
    let mut made = Chance::new(cymbal.name, 0);
    let (low, high) = cymbal.range;
    (0..cymbal.tones)
        .map(|_| {
            // Modes of a plate lie evenly in frequency, not in octaves: draw between the two.
            let place = libm::pow(made.between(0.0, 1.0), 1.5);
            let hz = low * libm::pow(high / low, libm::pow(place, 0.55)) * made.about(0.02);
            let octaves = libm::log2(hz / 1000.0);
            let soft = libm::exp10(-(1.0 - hard) * 3.0 * octaves.max(0.0) / 20.0);
            Partial {
                mode: Mode {
                    hz,
                    level: colour(cymbal, hz) * soft * made.between(0.2, 1.0) * chance.about(0.45),
                    decay: cymbal.decay * libm::pow(cymbal.damping, octaves) * made.about(0.35),
                },
                attack: cymbal.climb * (hz / 8000.0).min(1.5),
                phase: chance.between(0.0, 1.0),
            }
        })
        .collect()
}

/// The hiss of a cymbal's countless weak tones: noise in the same colour, falling a little faster.
fn wash(cymbal: &Cymbal, chance: &mut Chance, seconds: f64) -> Line {
    let mut all = vec![0.0; frames(seconds)];
    for centre in [2600.0, 5200.0, 10_400.0] {
        let octaves = libm::log2(centre / 1000.0);
        let decay = 0.8 * cymbal.decay * libm::pow(cymbal.damping, octaves);
        let noise = burst(chance, cymbal.climb, decay, seconds);
        let noise = low_pass(high_pass(noise, centre * 0.72), centre * 1.4);
        add(&mut all, &noise, 20.0 * libm::log10(colour(cymbal, centre)));
    }
    all
}

/// The closed, open or trodden pair of hats.
pub fn hat(cymbal: Cymbal, room: Place, seconds: f64, hiss: f64, stick: f64, stroke: Stroke) -> Line {
    let mut chance = Chance::new(cymbal.name, stroke.take);
    let cymbal = Cymbal {
        decay: cymbal.decay * chance.about(0.09),
        ..cymbal
    };
    let mut all = level(cloud(&tones(&cymbal, &mut chance, stroke.hard), seconds));
    add(&mut all, &level(wash(&cymbal, &mut chance, seconds)), hiss);
    let tip = bell(
        high_pass(burst(&mut chance, 0.0, 0.006, 0.03), 3000.0),
        7600.0,
        0.8,
        5.0,
    );
    add(&mut all, &level(tip), stick - 8.0 + 8.0 * stroke.hard);
    in_room(high_pass(all, 260.0), room, -26.0)
}

/// A ride cymbal: the clear tick of the tip, then its hum. `bell` of 1 plays on the bell, 0 on the bow.
pub fn ride(cymbal: Cymbal, room: Place, seconds: f64, on_bell: f64, stroke: Stroke) -> Line {
    let mut chance = Chance::new(cymbal.name, stroke.take);
    let mut all = level(cloud(&tones(&cymbal, &mut chance, stroke.hard), seconds));
    add(
        &mut all,
        &level(wash(&cymbal, &mut chance, seconds)),
        -13.0 - 5.0 * on_bell,
    );
    let clear: Vec<Partial> = [
        (523.0, 0.3),
        (871.0, 0.7),
        (1407.0, 1.0),
        (2215.0, 1.0),
        (3190.0, 1.3),
        (4430.0, 1.4),
        (5880.0, 1.2),
        (7440.0, 0.9),
    ]
    .iter()
    .map(|(hz, level)| Partial {
        mode: Mode {
            hz: hz * (1.0 + 0.03 * on_bell) * chance.about(0.001),
            level: level * chance.about(0.3),
            decay: 1.7 * libm::pow(hz / 1000.0, -0.35),
        },
        attack: 0.0002,
        phase: chance.between(0.0, 1.0),
    })
    .collect();
    add(&mut all, &level(cloud(&clear, seconds)), -13.0 + 16.0 * on_bell);
    let tick = burst(&mut chance, 0.0, 0.016, 0.06);
    let tick = bell(high_pass(tick, 2400.0), 5600.0 * chance.about(0.06), 0.9, 8.0);
    add(&mut all, &level(tick), 3.0 + 3.0 * stroke.hard - 6.0 * on_bell);
    in_room(high_pass(all, 240.0), room, -27.0)
}

/// A crash: all at once, then the high tones bloom and fall.
pub fn crash(cymbal: Cymbal, room: Place, seconds: f64, stroke: Stroke) -> Line {
    let mut chance = Chance::new(cymbal.name, stroke.take);
    let mut all = level(cloud(&tones(&cymbal, &mut chance, stroke.hard), seconds));
    add(&mut all, &level(wash(&cymbal, &mut chance, seconds)), -3.0);
    let edge = bell(high_pass(burst(&mut chance, 0.0, 0.025, 0.08), 700.0), 2600.0, 0.7, 4.0);
    add(&mut all, &level(edge), -3.0);
    in_room(high_pass(all, 200.0), room, -26.0)
}
