//! `loose`: the drift of a player, in time and in velocity.
//!
//! People drift as 1/f noise and not as white noise (Hennig et al., "The nature and perception of fluctuations in human
//! musical rhythms", PLoS ONE 6(10) e26457, 2011 [memory]): what a hit is late by lasts for a while. A drift is a curve
//! over the whole loop that comes back to where it began, a sum of sines of all whole numbers of turns with a power of
//! one over that number and phases drawn by chance. Each hit reads it at its place.
//!
//! The band has phases of its own, from which each part's are turned by chance, evenly up to a widest angle either way:
//! none at `together` 1, half a turn at 0. The widest angle is the one over which the mean cosine is `√together`, so two
//! parts' drifts correlate by the root of the product of their `together`s, on an average of many takes, while each
//! part's own spread is always exact.
//!
//! Who plays several parts has one drift for them: one for both hands and one for both feet, which differ a little. It
//! never falls so fast that a stroke comes too close behind the one before it, or before that.

use std::f64::consts::TAU;

use super::playability::{DOUBLES, SINGLES};
use crate::base::random::Chance;
use crate::loopfile::{Loop, Loose, Part};

/// A band that drifts together has sines of fewer than so many turns in a whole note: as many as sixteenths tell apart.
const FINEST: f64 = 8.0;
/// The most sines of a curve.
const MOST_SINES: usize = 1 << 15;
/// Points of a curve for each turn of its finest sine: enough to read between them along straight lines.
const POINTS: usize = 8;

/// The correlation of a player's hands with the feet [practice].
const LIMBS: f64 = 0.9;
/// The share of the time between two strokes that drift leaves of it at the least: what is left of the closest single
/// strokes of a hand are the closest doubles.
const LEFT: f64 = DOUBLES / SINGLES;

/// What a player plays a piece with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Limb {
    Hands,
    Feet,
}

impl Limb {
    /// What plays a piece, by its name or that of its part, be it the first of its kind or the second (`kick-2`).
    pub(super) fn of(name: &str) -> Limb {
        let kind = name
            .trim_end_matches(|c: char| c.is_ascii_digit())
            .trim_end_matches('-');
        match kind {
            "kick" | "hat-pedal" => Limb::Feet,
            _ => Limb::Hands,
        }
    }

    fn name(self) -> &'static str {
        match self {
            Limb::Hands => "hands",
            Limb::Feet => "feet",
        }
    }
}

/// A part's drifts.
pub(super) struct Drift<'a> {
    part: &'a Part,
    /// The widest spreads of any bar, which the curves have.
    widest: Loose,
    /// True where the curve of time has the spreads of all bars in it, and falls no faster than strokes allow.
    paced: bool,
    time: Option<Curve>,
    velocity: Option<Curve>,
    bars: f64,
}

impl<'a> Drift<'a> {
    /// The drifts of a part, of what some limb plays in it where its player has other parts too. What does not drift costs
    /// nothing.
    pub(super) fn new(song: &Loop, part: &'a Part, limb: Limb) -> Drift<'a> {
        let mut widest = part.playing.loose;
        for playing in part.changed_playing.values() {
            widest.time = widest.time.max(playing.loose.time);
            widest.velocity = widest.velocity.max(playing.loose.velocity);
        }
        let player = part.player.map(|player| (song.players[player].as_str(), limb));
        let curve = |kind: &str, spread: f64| (spread > 0.0).then(|| curve_of(song, part, player, (kind, spread)));
        let mut drift = Drift {
            time: curve("loose time", widest.time),
            velocity: curve("loose velocity", widest.velocity),
            part,
            widest,
            paced: player.is_some(),
            bars: f64::from(song.bars),
        };
        if let Some(mut curve) = drift.time.take_if(|_| drift.paced) {
            let size = curve.points.len() as f64;
            for (number, point) in curve.points.iter_mut().enumerate() {
                *point *= drift.loose(number as f64 / size * drift.bars).time / widest.time;
            }
            let apart = song.time.bar_seconds() * drift.bars / size;
            pace(&mut curve.points, (1.0 - LEFT) * apart);
            drift.time = Some(curve);
        }
        drift
    }

    /// Seconds that a hit at a place in bars is late.
    pub(super) fn seconds(&self, bars: f64) -> f64 {
        let share = match self.paced {
            true => 1.0,
            false => self.loose(bars).time / self.widest.time,
        };
        self.time
            .as_ref()
            .map_or(0.0, |curve| share * curve.at(bars / self.bars))
    }

    /// What a hit at a place in bars has on top of its velocity.
    pub(super) fn velocity(&self, bars: f64) -> f64 {
        let share = self.loose(bars).velocity / self.widest.velocity;
        self.velocity
            .as_ref()
            .map_or(0.0, |curve| share * curve.at(bars / self.bars))
    }

    /// How loosely the part plays at a place in bars.
    fn loose(&self, bars: f64) -> &Loose {
        let bar = bars.floor().rem_euclid(self.bars) as u32;
        let playing = self.part.changed_playing.get(&bar);
        &playing.unwrap_or(&self.part.playing).loose
    }
}

/// The band's own drift in time at some places in bars, in seconds: what all share where they play as one.
pub(super) fn band_seconds(song: &Loop) -> impl Fn(f64) -> f64 {
    let curve = (song.loose.time > 0.0).then(|| {
        let mut band = band(song, "loose time");
        Curve::new(shared_sines(song), song.loose.time, || TAU * band.share())
    });
    let round = f64::from(song.bars);
    move |bars| curve.as_ref().map_or(0.0, |curve| curve.at(bars / round))
}

/// The band's stream of chance. No part can be without a name, so the nameless one is the band.
fn band(song: &Loop, kind: &str) -> Chance {
    Chance::new(song.seed, "", kind, 0)
}

/// A part's curve, spread as far as asked; that of its player's limb where it has one.
fn curve_of(song: &Loop, part: &Part, player: Option<(&str, Limb)>, (kind, spread): (&str, f64)) -> Curve {
    let together = part.playing.loose.together;
    let sines = if together > 0.0 || player.is_some() {
        shared_sines(song)
    } else {
        own_sines(song, part)
    };
    let widest = widest_turn(together.sqrt());
    let mut band = band(song, kind);
    let Some((player, limb)) = player else {
        let mut own = Chance::new(song.seed, &part.name, kind, 0);
        return Curve::new(sines, spread, || TAU * band.share() + widest * own.either_way());
    };
    let mut own = Chance::new(song.seed, player, &format!("{kind} of a player"), 0);
    let mut of_limb = Chance::new(song.seed, player, &format!("{kind} of {}", limb.name()), 0);
    let apart = widest_turn(LIMBS.sqrt());
    Curve::new(sines, spread, || {
        TAU * band.share() + widest * own.either_way() + apart * of_limb.either_way()
    })
}

/// Lets a curve round a circle fall by so much at the most from one point to the next: the mean of what never lies under
/// it, lifted behind each height, and of what never lies over it, lowered before each depth. So it comes neither later nor
/// earlier on the whole.
fn pace(points: &mut [f64], fall: f64) {
    let size = points.len();
    let (mut lifted, mut lowered) = (points.to_vec(), points.to_vec());
    // What falls over the seam is met on the second way round.
    for number in 0..2 * size {
        let (here, next) = (number % size, (number + 1) % size);
        lifted[next] = lifted[next].max(lifted[here] - fall);
        let (here, before) = (size - 1 - here, (2 * size - 2 - here) % size);
        lowered[before] = lowered[before].min(lowered[here] + fall);
    }
    for (point, (lifted, lowered)) in points.iter_mut().zip(lifted.into_iter().zip(lowered)) {
        *point = (lifted + lowered) / 2.0;
    }
}

/// The angle up to which, either way, cosines have a mean of so much: where sin(a)/a comes down to it.
fn widest_turn(mean: f64) -> f64 {
    let (mut low, mut high) = (0.0, std::f64::consts::PI);
    if mean >= 1.0 {
        return low;
    }
    for _ in 0..60 {
        let angle = (low + high) / 2.0;
        if libm::sin(angle) > mean * angle {
            low = angle;
        } else {
            high = angle;
        }
    }
    high
}

/// The sines of a band that drifts together, the same for every part whatever it plays.
fn shared_sines(song: &Loop) -> usize {
    let bar = song.time.bar();
    let notes = f64::from(song.bars) * *bar.numer() as f64 / *bar.denom() as f64;
    (libm::ceil(notes * FINEST) as usize).saturating_sub(1)
}

/// The sines that a part's own curve has: as many as its strokes, as far apart as they mostly are, can tell apart.
fn own_sines(song: &Loop, part: &Part) -> usize {
    let mut gaps: Vec<_> = part.strokes.windows(2).map(|pair| pair[1].at - pair[0].at).collect();
    gaps.retain(|gap| *gap.numer() > 0);
    gaps.sort_unstable();
    let Some(gap) = gaps.get(gaps.len() / 2) else { return 1 };
    let strokes = f64::from(song.bars) * *gap.denom() as f64 / *gap.numer() as f64;
    libm::ceil(strokes / 2.0) as usize - 1
}

/// A curve round a circle.
struct Curve {
    points: Vec<f64>,
}

impl Curve {
    /// A sum of so many sines, with a standard deviation and phases as they are drawn.
    fn new(sines: usize, spread: f64, mut phase: impl FnMut() -> f64) -> Curve {
        let sines = sines.clamp(1, MOST_SINES);
        let mut wave = vec![(0.0, 0.0); (sines * POINTS).next_power_of_two()];
        // A sine of height a has a variance of a²/2.
        let power: f64 = (1..=sines).map(|turns| 0.5 / turns as f64).sum();
        for (turns, point) in wave.iter_mut().enumerate().skip(1).take(sines) {
            let height = spread / (power * turns as f64).sqrt();
            let phase = phase();
            *point = (height * libm::cos(phase), height * libm::sin(phase));
        }
        transform(&mut wave);
        Curve {
            points: wave.into_iter().map(|(real, _)| real).collect(),
        }
    }

    /// Its height at a share of the way round, along straight lines between its points.
    fn at(&self, round: f64) -> f64 {
        let size = self.points.len();
        let place = (round - round.floor()) * size as f64;
        let (before, share) = (place as usize, place - place.floor());
        let (a, b) = (self.points[before % size], self.points[(before + 1) % size]);
        a + (b - a) * share
    }
}

/// Turns complex heights of sines into the points of their sum, in place: the fast Fourier transform of Cooley and Tukey
/// (Mathematics of Computation 19, 1965), for a power of two.
///
/// It is written out here, since the libraries' transforms differ in their last bits from processor to processor and a
/// score may not.
fn transform(wave: &mut [(f64, f64)]) {
    let size = wave.len();
    let shift = usize::BITS - size.trailing_zeros();
    for n in 0..size {
        let mirrored = if size > 1 { n.reverse_bits() >> shift } else { n };
        if n < mirrored {
            wave.swap(n, mirrored);
        }
    }
    let turn = |n: usize| {
        let angle = TAU * n as f64 / size as f64;
        (libm::cos(angle), libm::sin(angle))
    };
    let turns: Vec<(f64, f64)> = (0..size / 2).map(turn).collect();
    let mut half = 1;
    while half < size {
        for pair in wave.chunks_exact_mut(2 * half) {
            let (low, high) = pair.split_at_mut(half);
            for (n, (low, high)) in low.iter_mut().zip(high).enumerate() {
                let (cos, sin) = turns[n * (size / (2 * half))];
                let turned = (high.0 * cos - high.1 * sin, high.0 * sin + high.1 * cos);
                *high = (low.0 - turned.0, low.1 - turned.1);
                *low = (low.0 + turned.0, low.1 + turned.1);
            }
        }
        half *= 2;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_transform_is_the_plain_sum() {
        let size = 32;
        let mut wave = vec![(0.0, 0.0); size];
        wave[1] = (1.0, 0.5);
        wave[5] = (-0.25, 2.0);
        let given = wave.clone();
        transform(&mut wave);
        for (n, (real, _)) in wave.iter().enumerate() {
            let angle = |k: usize| std::f64::consts::TAU * (k * n) as f64 / size as f64;
            let plain: f64 = (0..size)
                .map(|k| given[k].0 * angle(k).cos() - given[k].1 * angle(k).sin())
                .sum();
            assert!((real - plain).abs() < 1e-12, "{n}: {real} {plain}");
        }
    }

    #[test]
    fn turns_are_as_wide_as_their_mean_cosine_says() {
        assert_eq!(widest_turn(1.0), 0.0);
        assert!((widest_turn(0.0) - std::f64::consts::PI).abs() < 1e-12);
        // Over a right angle either way the cosine's mean is 2/π.
        let right = std::f64::consts::FRAC_PI_2;
        assert!((widest_turn(std::f64::consts::FRAC_2_PI) - right).abs() < 1e-9);
    }

    #[test]
    fn a_paced_curve_falls_no_faster_and_stays_where_it_falls_slowly() {
        let mut chance = Chance::new(7, "drums", "loose time", 0);
        for fall in [0.0001, 0.001, 0.01] {
            let curve = Curve::new(60, 0.02, || TAU * chance.share());
            let mut points = curve.points.clone();
            pace(&mut points, fall);
            for (number, point) in points.iter().enumerate() {
                let next = points[(number + 1) % points.len()];
                assert!(next >= point - fall - 1e-12, "{number}: {point} {next}");
            }
            let (before, after): (f64, f64) = (curve.points.iter().sum(), points.iter().sum());
            assert!(
                (before - after).abs() / (points.len() as f64) < 0.01,
                "it lies where it lay"
            );
        }
        let gentle: Vec<f64> = (0..64).map(|n| (TAU * f64::from(n) / 64.0).sin()).collect();
        let mut paced = gentle.clone();
        pace(&mut paced, 0.1);
        assert_eq!(paced, gentle);
    }

    #[test]
    fn kick_and_pedal_are_for_the_feet() {
        for foot in ["kick", "kick-2", "hat-pedal"] {
            assert_eq!(Limb::of(foot), Limb::Feet, "{foot}");
        }
        for hand in ["snare", "hat-open", "kicker", "tom-2", ""] {
            assert_eq!(Limb::of(hand), Limb::Hands, "{hand}");
        }
    }

    #[test]
    fn a_curve_is_a_circle_with_the_spread_asked_for() {
        let mut chance = Chance::new(4, "hat", "loose time", 0);
        let curve = Curve::new(200, 0.005, || TAU * chance.share());
        let points: Vec<f64> = (0..4000).map(|n| curve.at(f64::from(n) / 4000.0)).collect();
        let mean = points.iter().sum::<f64>() / 4000.0;
        let variance = points.iter().map(|point| (point - mean).powi(2)).sum::<f64>() / 4000.0;
        assert!((variance.sqrt() - 0.005).abs() < 0.0001 && mean.abs() < 1e-5);
        assert_eq!(curve.at(0.0), curve.at(1.0));
        assert_eq!(curve.at(0.25), curve.at(-0.75));
    }
}
