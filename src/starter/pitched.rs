//! What plays notes: a bass, an electric piano, a reed organ, a vibraphone. Pitches by equal temperament from
//! A4 = 440 Hz (ISO 16).

use std::f64::consts::PI;

use super::workshop::*;

/// E1, MIDI note 28.
const E1: f64 = 41.203_444_614;
/// C4, MIDI note 60.
const C4: f64 = 261.625_565_301;

/// Upright bass, plucked with the finger: a stiff string over a body of wood.
pub fn bass(room: Place, take: u32) -> Line {
    let mut chance = Chance::new("bass", take);
    let seconds = 1.5;
    // A string's tones stand a little wide of whole multiples; where it is plucked some are missing.
    let (stiff, plucked) = (0.000_12, 0.19);
    let mut tones = Vec::new();
    for number in 1..=44 {
        let n = f64::from(number);
        let hz = E1 * n * libm::sqrt(1.0 + stiff * n * n);
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

/// Electric piano: a hammer on a tine beside a pickup, which bends the wave to one side and makes it bark.
pub fn keys(room: Place, take: u32) -> Line {
    let mut chance = Chance::new("keys", take);
    let seconds = 1.5;
    let tine = [
        Mode {
            hz: C4,
            level: 1.0,
            decay: 3.6,
        },
        Mode {
            hz: C4 * 1.0016,
            level: 0.22,
            decay: 5.0,
        },
        Mode {
            hz: C4 * 6.27,
            level: 0.22,
            decay: 0.42,
        },
        Mode {
            hz: C4 * 17.55,
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

/// Reed organ: two rows of reeds a little apart, the bellows' breath, and the key's knock.
pub fn organ(room: Place, take: u32) -> Line {
    let mut chance = Chance::new("organ", take);
    let seconds = 1.2;
    let mut tones = Vec::new();
    for (row, detune, strength) in [(0.5, 0.0, 0.28), (1.0, -0.0016, 1.0), (1.0, 0.0021, 0.8)] {
        for number in 1..=40 {
            let n = f64::from(number);
            let hz = C4 * row * (1.0 + detune) * n;
            let mouth = 1.0 + 0.9 * near(hz, 900.0, 0.6) + 1.3 * near(hz, 2300.0, 0.6);
            tones.push(Partial {
                mode: Mode {
                    hz,
                    level: strength * mouth * libm::pow(n, -1.05) * libm::exp(-hz / 4200.0) * chance.about(0.2),
                    decay: 9.0,
                },
                attack: 0.012 + 0.012 / n,
                phase: chance.between(0.0, 1.0),
            });
        }
    }
    let mut all = level(cloud(&tones, seconds));
    let breath = low_pass(high_pass(burst(&mut chance, 0.03, 20.0, seconds), 500.0), 3400.0);
    add(&mut all, &level(breath), -37.0);
    let knock = [
        Mode {
            hz: 310.0,
            level: 1.0,
            decay: 0.05,
        },
        Mode {
            hz: 720.0,
            level: 0.7,
            decay: 0.035,
        },
    ];
    add(&mut all, &level(ring(&contact(0.0012), &knock, STEADY, seconds)), -24.0);
    in_room(all, room, -27.0)
}

/// Vibraphone: an aluminium bar, cut away below so that its tones stand at 1, 4 and about 10 (Fletcher and Rossing,
/// chapter 19) [memory]; its pipe holds the lowest, fans open and close it.
pub fn vibraphone(room: Place, take: u32) -> Line {
    let mut chance = Chance::new("vibraphone", take);
    let seconds = 1.7;
    let bar = [
        Mode {
            hz: C4,
            level: 1.0,
            decay: 4.2,
        },
        Mode {
            hz: C4 * 4.0,
            level: 0.34,
            decay: 1.1,
        },
        Mode {
            hz: C4 * 9.86,
            level: 0.4,
            decay: 0.22,
        },
        Mode {
            hz: C4 * 17.3,
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
