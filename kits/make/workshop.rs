//! Tools of the instrument builder: strokes, things that ring, noise, filters, and a room to record in.
//!
//! A line of sound is plain `f64` samples at [`RATE`]. All functions come from `libm`, noise from
//! one fixed generator: the samples are the same on every machine.

use std::f64::consts::{PI, TAU};

use pressroll::internals::base::gain_of_db;
use rand_pcg::Pcg32;
use rand_pcg::rand_core::Rng;

/// Frames a second of everything made here.
pub const RATE: f64 = 48_000.0;

/// Mono samples.
pub type Line = Vec<f64>;

/// Frames in a number of seconds.
pub fn frames(seconds: f64) -> usize {
    (seconds * RATE) as usize
}

/// Where a sound's noise and its small differences come from.
pub struct Chance(Pcg32);

impl Chance {
    /// A stream of its own for each piece and take.
    pub fn new(piece: &str, take: u32) -> Chance {
        // FNV-1a turns the name into a number.
        let hash = piece.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
        });
        Chance(Pcg32::new(hash, u64::from(take)))
    }

    /// Evenly from -1 to 1.
    pub fn even(&mut self) -> f64 {
        f64::from(self.0.next_u32()) / 2_147_483_648.0 - 1.0
    }

    /// Evenly from one value to another.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * 0.5 * (self.even() + 1.0)
    }

    /// A factor that differs from 1 by up to a share.
    pub fn about(&mut self, share: f64) -> f64 {
        1.0 + share * self.even()
    }
}

/// The factor from frame to frame of something that falls 60 dB in some seconds.
fn fall(seconds: f64) -> f64 {
    libm::exp(-6.907_755 / (seconds.max(1e-4) * RATE))
}

/// Noise that rises in `attack` seconds and falls 60 dB in `decay` seconds.
pub fn burst(chance: &mut Chance, attack: f64, decay: f64, seconds: f64) -> Line {
    let rise = attack * RATE;
    let fall = fall(decay);
    let mut level = 1.0;
    (0..frames(seconds))
        .map(|frame| {
            let at = frame as f64;
            if at >= rise {
                level *= fall;
            }
            chance.even() * level * ((at + 1.0) / (rise + 1.0)).min(1.0)
        })
        .collect()
}

/// The push of a beater, stick or finger that stays on for some seconds: a raised cosine of area 1.
pub fn contact(seconds: f64) -> Line {
    let length = frames(seconds).max(2) as f64;
    (0..length as usize)
        .map(|frame| (1.0 - libm::cos(TAU * (frame as f64 + 0.5) / length)) / length)
        .collect()
}

/// One way in which a body rings.
#[derive(Debug, Clone, Copy)]
pub struct Mode {
    /// Hz.
    pub hz: f64,
    /// Amplitude after a push of area 1.
    pub level: f64,
    /// Seconds to fall 60 dB.
    pub decay: f64,
}

/// How far a skin's or string's pitch stands above its rest after a blow, and how fast it comes down.
#[derive(Debug, Clone, Copy)]
pub struct Bend {
    /// The share by which the pitch starts too high.
    pub share: f64,
    /// Seconds to 37 % of it.
    pub seconds: f64,
}

/// No bend.
pub const STEADY: Bend = Bend {
    share: 0.0,
    seconds: 1.0,
};

/// What a body sounds like when a force acts on it: each mode is a resonator that the force drives.
pub fn ring(force: &[f64], modes: &[Mode], bend: Bend, seconds: f64) -> Line {
    // Pitch moves slowly: a new step every 16 frames is enough.
    const STEP: usize = 16;
    let mut out = vec![0.0; frames(seconds)];
    for mode in modes.iter().filter(|mode| mode.hz < 0.46 * RATE) {
        let shrink = fall(mode.decay);
        let (mut re, mut im) = (0.0, 0.0);
        for (block, samples) in out.chunks_mut(STEP).enumerate() {
            let at = (block * STEP) as f64 / RATE;
            let hz = mode.hz * (1.0 + bend.share * libm::exp(-at / bend.seconds));
            let (sin, cos) = libm::sincos(TAU * hz / RATE);
            let (cos, sin) = (cos * shrink, sin * shrink);
            for (frame, sample) in samples.iter_mut().enumerate() {
                let push = force.get(block * STEP + frame).copied().unwrap_or(0.0);
                (re, im) = (re * cos - im * sin + push, re * sin + im * cos);
                *sample += mode.level * im;
            }
        }
    }
    out
}

/// A tone of a cloud of tones: metal has hundreds.
#[derive(Debug, Clone, Copy)]
pub struct Partial {
    /// How it rings.
    pub mode: Mode,
    /// Seconds to 63 % of its level: in a cymbal energy takes a while to climb to the high tones.
    pub attack: f64,
    /// Where its wave begins, in turns.
    pub phase: f64,
}

/// The sum of many tones.
pub fn cloud(partials: &[Partial], seconds: f64) -> Line {
    let mut out = vec![0.0; frames(seconds)];
    for Partial { mode, attack, phase } in partials.iter().filter(|partial| partial.mode.hz < 0.46 * RATE) {
        let (sin, cos) = libm::sincos(TAU * mode.hz / RATE);
        let (mut im, mut re) = libm::sincos(TAU * phase);
        let fall = fall(mode.decay);
        let wait = libm::exp(-1.0 / (attack.max(1e-5) * RATE));
        let (mut level, mut missing) = (mode.level, 1.0);
        for sample in &mut out {
            (re, im) = (re * cos - im * sin, re * sin + im * cos);
            missing *= wait;
            level *= fall;
            *sample += level * (1.0 - missing) * im;
        }
    }
    out
}

/// Adds a line to another from its start, at a level in dB; what is longer is cut.
pub fn add(to: &mut [f64], line: &[f64], db: f64) {
    add_at(to, line, db, 0.0);
}

/// Adds a line some seconds after the start of another.
pub fn add_at(to: &mut [f64], line: &[f64], db: f64, seconds: f64) {
    let gain = gain_of_db(db);
    for (sample, more) in to.iter_mut().skip(frames(seconds)).zip(line) {
        *sample += gain * more;
    }
}

/// Brings a line's peak to 1, so that layers can be balanced in dB.
pub fn level(mut line: Line) -> Line {
    let peak = line.iter().fold(1e-12_f64, |most, sample| most.max(sample.abs()));
    for sample in &mut line {
        *sample /= peak;
    }
    line
}

/// A state variable filter by Andrew Simper's "Linear Trapezoidal Integrated State Variable Filter With Low Noise
/// Optimisation" (2013); `mix` says how much of the input, the band pass and the low pass come out.
fn filter(mut line: Line, g: f64, k: f64, mix: [f64; 3]) -> Line {
    let a1 = 1.0 / (1.0 + g * (g + k));
    let a2 = g * a1;
    let a3 = g * a2;
    let [m0, m1, m2] = mix;
    let (mut first, mut second) = (0.0, 0.0);
    for sample in &mut line {
        let v3 = *sample - second;
        let v1 = a1 * first + a2 * v3;
        let v2 = second + a2 * first + a3 * v3;
        first = 2.0 * v1 - first;
        second = 2.0 * v2 - second;
        *sample = m0 * *sample + m1 * v1 + m2 * v2;
    }
    line
}

/// A filter's frequency, bent as the trapezoidal rule asks for.
fn warped(hz: f64) -> f64 {
    libm::tan(PI * hz / RATE)
}

/// The damping 1/q at which a filter of 12 dB an octave is flattest.
const FLATTEST: f64 = 1.0 / std::f64::consts::FRAC_1_SQRT_2;

/// Takes away what lies above a frequency, 12 dB an octave.
pub fn low_pass(line: Line, hz: f64) -> Line {
    filter(line, warped(hz), FLATTEST, [0.0, 0.0, 1.0])
}

/// Takes away what lies below a frequency, 12 dB an octave.
pub fn high_pass(line: Line, hz: f64) -> Line {
    filter(line, warped(hz), FLATTEST, [1.0, -FLATTEST, -1.0])
}

/// Lifts or lowers a region by some dB; `q` is how narrow it is.
pub fn bell(line: Line, hz: f64, q: f64, db: f64) -> Line {
    let a = gain_of_db(db).sqrt();
    let k = 1.0 / (q * a);
    filter(line, warped(hz), k, [1.0, k * (a * a - 1.0), 0.0])
}

/// Lifts or lowers all above a frequency by some dB.
pub fn high_shelf(line: Line, hz: f64, db: f64) -> Line {
    let a = gain_of_db(db).sqrt();
    let k = 1.0 / 0.7;
    filter(line, warped(hz) * a.sqrt(), k, [a * a, k * (1.0 - a) * a, 1.0 - a * a])
}

/// The slow shape of a line's loudness: up in `attack` seconds to 63 %, down 60 dB in `decay`.
pub fn follow(line: &[f64], attack: f64, decay: f64) -> Line {
    let up = 1.0 - libm::exp(-1.0 / (attack * RATE));
    let down = fall(decay);
    let mut held = 0.0;
    line.iter()
        .map(|sample| {
            let now = sample.abs();
            held = if now > held {
                held + up * (now - held)
            } else {
                held * down
            };
            held
        })
        .collect()
}

/// Soft saturation of a microphone and its tape, some dB into it; the peak stays where it was.
pub fn warm(line: Line, db: f64) -> Line {
    let into = gain_of_db(db);
    let full = libm::tanh(into);
    level(line)
        .into_iter()
        .map(|sample| libm::tanh(sample * into) / full)
        .collect()
}

/// The room that all of a kit was recorded in.
#[derive(Debug, Clone, Copy)]
pub struct Place {
    /// What its echoes are drawn from.
    pub name: &'static str,
    /// Seconds to the first wall and back.
    pub wall: f64,
    /// Seconds to fall 60 dB.
    pub decay: f64,
    /// Hz above which its walls swallow.
    pub dull: f64,
}

/// Adds a little of the room: sparse echoes of either sign ("velvet noise", Karjalainen and Järveläinen 2007),
/// the loudest `db` against the direct sound.
pub fn in_room(line: Line, place: Place, db: f64) -> Line {
    let mut chance = Chance::new(place.name, 0);
    let mut heard = vec![0.0; line.len()];
    let mut at = place.wall;
    while at < place.decay {
        let gain = db - 60.0 * at / place.decay;
        let turned = if chance.even() < 0.0 { -1.0 } else { 1.0 };
        let turned: Line = line.iter().map(|sample| sample * turned).collect();
        add_at(&mut heard, &turned, gain, at);
        at += chance.between(0.0006, 0.0042);
    }
    let heard = low_pass(high_pass(heard, 180.0), place.dull);
    let mut line = line;
    add(&mut line, &heard, 0.0);
    line
}

/// Makes a file's sound of a line: no DC, the onset at the first sample, a silent end after `fade` seconds of fading,
/// the peak at some dB of full scale.
pub fn finish(line: Line, peak_db: f64, fade: f64) -> Line {
    let line = level(high_pass(line, 18.0));
    let onset = line.iter().position(|sample| sample.abs() > 0.004).unwrap_or(0);
    let gain = gain_of_db(peak_db);
    let line = line[onset..].iter().map(|sample| gain * sample).collect();
    fade_out(line, fade)
}

/// Lets a line's last seconds sink to silence along half a cosine.
pub fn fade_out(mut line: Line, seconds: f64) -> Line {
    let (length, fade) = (line.len(), frames(seconds));
    for (frame, sample) in line.iter_mut().enumerate() {
        let left = ((length - 1 - frame) as f64 / fade as f64).min(1.0);
        *sample *= 0.5 - 0.5 * libm::cos(PI * left);
    }
    line
}

#[cfg(test)]
mod tests {
    use super::*;

    fn db(line: &[f64]) -> f64 {
        10.0 * libm::log10(line.iter().map(|sample| sample * sample).sum::<f64>() / line.len() as f64)
    }

    #[test]
    fn a_mode_falls_sixty_decibels_in_its_decay() {
        let mode = Mode {
            hz: 500.0,
            level: 1.0,
            decay: 0.5,
        };
        let heard = ring(&[1.0], &[mode], STEADY, 0.6);
        let (early, late) = (db(&heard[..2400]), db(&heard[24_000..26_400]));
        assert!((early - late - 60.0).abs() < 0.1, "{early} {late}");
    }

    #[test]
    fn a_bend_comes_down_to_the_rest() {
        let mode = Mode {
            hz: 100.0,
            level: 1.0,
            decay: 50.0,
        };
        let bend = Bend {
            share: 0.5,
            seconds: 0.05,
        };
        let heard = ring(&[1.0], &[mode], bend, 1.0);
        let turns = |line: &[f64]| line.windows(2).filter(|pair| pair[0] < 0.0 && pair[1] >= 0.0).count();
        // The phase gained on the way down is share · seconds · hz = 2.5 turns, all of it in the first half.
        assert_eq!(turns(&heard[24_000..]), 50);
        assert!((52..=53).contains(&turns(&heard[..24_000])));
    }

    #[test]
    fn chance_belongs_to_a_piece_and_a_take() {
        let draw = |piece, take| Chance::new(piece, take).even();
        assert_eq!(draw("kick", 1), draw("kick", 1));
        assert_ne!(draw("kick", 1), draw("kick", 2));
        assert_ne!(draw("kick", 1), draw("snare", 1));
    }

    #[test]
    fn a_finished_line_starts_at_once_and_ends_in_silence() {
        let mut line = vec![0.0; 500];
        line.extend(burst(&mut Chance::new("test", 1), 0.0, 0.3, 0.2));
        let heard = finish(line, -6.0, 0.05);
        let peak = heard.iter().fold(0.0_f64, |most, sample| most.max(sample.abs()));
        assert!((20.0 * libm::log10(peak) + 6.0).abs() < 0.01);
        assert!(heard[0].abs() > 0.001);
        assert!(heard[heard.len() - 1] == 0.0);
    }
}
