//! What plays notes: a bass, a guitar, an electric piano, a reed organ, a vibraphone. Pitches by equal temperament from
//! A4 = 440 Hz (ISO 16); keys are MIDI numbers.

use std::f64::consts::PI;

use crate::workshop::*;

/// Hz of a key.
fn pitch(key: i32) -> f64 {
    440.0 * libm::exp2(f64::from(key - 69) / 12.0)
}

/// Upright bass, plucked with the finger: a stiff string over a body of wood.
pub fn bass(key: i32, room: Place, take: u32) -> Line {
    let mut chance = Chance::new("bass", take);
    let lowest = pitch(key);
    let seconds = 1.5 * libm::sqrt(libm::sqrt(pitch(28) / lowest));
    // A string's tones stand a little wide of whole multiples; where it is plucked some are missing.
    let (stiff, plucked) = (0.000_12, 0.19);
    let mut tones = Vec::new();
    for number in 1..=44 {
        let n = f64::from(number);
        let hz = lowest * n * libm::sqrt(1.0 + stiff * n * n);
        let shape = libm::sin(PI * n * plucked).abs() + 0.06;
        let body = 1.0 + 0.9 * near(hz, 98.0, 0.35) + 1.6 * near(hz, 215.0, 0.5) + 1.4 * near(hz, 640.0, 0.5);
        // The body hardly radiates the lowest tone.
        let body = body * (hz * hz) / (hz * hz + 52.0 * 52.0);
        let amplitude = shape * body * libm::pow(n, -0.8) * libm::exp(-hz / 1700.0);
        let decay = 3.4 / (1.0 + 0.16 * n + 0.006 * n * n);
        for (share, detune, slower) in [(0.75, 0.0, 1.0), (0.25, 0.0011, 1.5)] {
            tones.push(Partial {
                mode: Mode {
                    hz: hz * (1.0 + detune),
                    level: amplitude * share * chance.about(0.1),
                    decay: decay * slower * chance.about(0.12),
                },
                attack: 0.004 / (1.0 + 0.25 * n),
                phase: 0.0,
            });
        }
    }
    let mut all = level(cloud(&tones, seconds));
    let thump = [
        Mode {
            hz: 74.0,
            level: 1.0,
            decay: 0.12,
        },
        Mode {
            hz: 118.0,
            level: 0.8,
            decay: 0.1,
        },
        Mode {
            hz: 233.0,
            level: 0.5,
            decay: 0.07,
        },
    ];
    add(&mut all, &level(ring(&contact(0.004), &thump, STEADY, seconds)), -13.0);
    let finger = low_pass(high_pass(burst(&mut chance, 0.001, 0.03, 0.1), 500.0), 2600.0);
    add(&mut all, &level(finger), -17.0);
    in_room(warm(all, 3.0), room, -30.0)
}

/// How near two frequencies are: 1 at the same, falling over `width` octaves.
fn near(hz: f64, to: f64, width: f64) -> f64 {
    let octaves = libm::log2(hz / to) / width;
    libm::exp(-octaves * octaves)
}

/// Guitar of steel strings, struck with a pick over a body of wood.
pub fn guitar(key: i32, room: Place, take: u32) -> Line {
    let mut chance = Chance::new("guitar", take);
    let lowest = pitch(key);
    let seconds = 1.2;
    let (stiff, picked) = (0.000_05, 0.14);
    let mut tones = Vec::new();
    for number in 1..=40 {
        let n = f64::from(number);
        let hz = lowest * n * libm::sqrt(1.0 + stiff * n * n);
        let shape = libm::sin(PI * n * picked).abs() + 0.04;
        // Air and top of the body, and the bridge's rise around 2.5 kHz.
        let body = 1.0 + 0.8 * near(hz, 110.0, 0.3) + 1.2 * near(hz, 205.0, 0.35) + 0.9 * near(hz, 400.0, 0.5);
        let body = body + 0.8 * near(hz, 2500.0, 0.7);
        let amplitude = shape * body * libm::pow(n, -0.9) * libm::exp(-hz / 3800.0);
        let decay = 4.2 / (1.0 + 0.11 * n + 0.005 * n * n);
        // A string swings in two planes; the one along the top lasts longer.
        for (share, detune, slower) in [(0.72, 0.0, 0.7), (0.28, 0.0006, 1.6)] {
            tones.push(Partial {
                mode: Mode {
                    hz: hz * (1.0 + detune),
                    level: amplitude * share * chance.about(0.12),
                    decay: decay * slower * chance.about(0.1),
                },
                attack: 0.0012 / (1.0 + 0.2 * n),
                phase: 0.0,
            });
        }
    }
    let mut all = level(cloud(&tones, seconds));
    let wood = [(108.0, 0.5, 0.09), (207.0, 0.8, 0.07), (392.0, 0.6, 0.05)].map(|(hz, level, decay)| Mode {
        hz,
        level,
        decay,
    });
    add(&mut all, &level(ring(&contact(0.0015), &wood, STEADY, seconds)), -17.0);
    let pick = low_pass(high_pass(burst(&mut chance, 0.0002, 0.016, 0.06), 1800.0), 6500.0);
    add(&mut all, &level(pick), -19.0);
    in_room(all, room, -30.0)
}

/// Electric piano: a hammer on a tine beside a pickup, which bends the wave to one side and makes it bark.
pub fn keys(key: i32, room: Place, take: u32) -> Line {
    let mut chance = Chance::new("keys", take);
    let lowest = pitch(key);
    // Shorter tines die sooner.
    let lasts = libm::sqrt(pitch(60) / lowest);
    let seconds = 1.5 * lasts;
    let tine = [
        Mode {
            hz: lowest,
            level: 1.0,
            decay: 3.6 * lasts,
        },
        Mode {
            hz: lowest * 1.0016,
            level: 0.22,
            decay: 5.0 * lasts,
        },
        Mode {
            hz: lowest * 6.27,
            level: 0.22,
            decay: 0.42,
        },
        Mode {
            hz: lowest * 17.55,
            level: 0.035,
            decay: 0.11,
        },
    ];
    let swing = level(ring(&contact(0.0011), &tine, STEADY, seconds));
    // Flux through a pickup falls with the distance of the tine, which swings to and from it.
    let mut all: Line = swing.iter().map(|x| 1.0 / (1.12 + 0.62 * x)).collect();
    all = high_pass(level(all), 70.0);
    let hammer = low_pass(high_pass(burst(&mut chance, 0.0004, 0.03, 0.1), 250.0), 1900.0);
    add(&mut all, &level(hammer), -27.0);
    in_room(low_pass(all, 6500.0), room, -30.0)
}

/// Frames of an organ's turn: 262 waves of C4, so that all rows of reeds come round to where they were.
const TURN: usize = 48_069;
/// Seconds after which bellows, knock and room are steady.
const STEADY_FROM: f64 = 0.3;
/// The first and the last frame of what goes round while an organ's key is held.
pub const ORGAN_ROUND: (u32, u32) = (14_400, 14_400 + TURN as u32 - 1);
/// Seconds in which the organ fades at the end of its recording, behind what goes round.
pub const ORGAN_TAIL: f64 = 0.12;

/// Reed organ: two rows of reeds a little apart and one an octave below, the bellows' breath, and the key's knock. What
/// sounds while the key is held repeats every [`TURN`].
pub fn organ(room: Place, take: u32) -> Line {
    let mut chance = Chance::new("organ", take);
    let seconds = STEADY_FROM + TURN as f64 / RATE + ORGAN_TAIL + 0.02;
    let mut tones = Vec::new();
    // Waves a turn: whole numbers.
    for (waves, strength) in [(131.0, 0.28), (262.0, 1.0), (263.0, 0.8)] {
        for number in 1..=40 {
            let n = f64::from(number);
            let hz = waves * n * RATE / TURN as f64;
            let mouth = 1.0 + 0.9 * near(hz, 900.0, 0.6) + 1.3 * near(hz, 2300.0, 0.6);
            tones.push(Partial {
                mode: Mode {
                    hz,
                    level: strength * mouth * libm::pow(n, -1.05) * libm::exp(-hz / 4200.0) * chance.about(0.2),
                    // Bellows do not tire.
                    decay: f64::INFINITY,
                },
                attack: 0.012 + 0.012 / n,
                phase: chance.between(0.0, 1.0),
            });
        }
    }
    let mut all = level(cloud(&tones, seconds));
    let turn: Line = (0..TURN).map(|_| chance.even()).collect();
    let blown = turn.iter().cycle().take(all.len()).enumerate();
    let blown = blown
        .map(|(frame, air)| air * (frame as f64 / (0.03 * RATE)).min(1.0))
        .collect();
    let breath = low_pass(high_pass(blown, 500.0), 3400.0);
    add(&mut all, &level(breath), -37.0);
    let knock = [(310.0, 1.0, 0.05), (720.0, 0.7, 0.035)].map(|(hz, level, decay)| Mode { hz, level, decay });
    add(&mut all, &level(ring(&contact(0.0012), &knock, STEADY, seconds)), -24.0);
    in_room(all, room, -27.0)
}

/// Vibraphone: an aluminium bar, cut away below so that its tones stand at 1, 4 and about 10 (Fletcher and Rossing,
/// chapter 19) [memory]; its pipe holds the lowest, fans open and close it.
pub fn vibraphone(key: i32, room: Place, take: u32) -> Line {
    let mut chance = Chance::new("vibraphone", take);
    let lowest = pitch(key);
    // Shorter bars die sooner.
    let lasts = libm::sqrt(pitch(60) / lowest);
    let seconds = 1.7 * lasts;
    let bar = [
        Mode {
            hz: lowest,
            level: 1.0,
            decay: 4.2 * lasts,
        },
        Mode {
            hz: lowest * 4.0,
            level: 0.34,
            decay: 1.1 * lasts,
        },
        Mode {
            hz: lowest * 9.86,
            level: 0.4,
            decay: 0.22,
        },
        Mode {
            hz: lowest * 17.3,
            level: 0.03,
            decay: 0.08,
        },
    ];
    let mut all = level(ring(&contact(0.001), &bar, STEADY, seconds));
    for (frame, sample) in all.iter_mut().enumerate() {
        let turn = libm::sin(2.0 * PI * 4.6 * frame as f64 / RATE);
        *sample *= 1.0 - 0.16 * (1.0 - turn) * (frame as f64 / RATE * 4.0).min(1.0);
    }
    let mallet = low_pass(high_pass(burst(&mut chance, 0.0003, 0.014, 0.06), 500.0), 2800.0);
    add(&mut all, &level(mallet), -18.0);
    in_room(all, room, -29.0)
}
