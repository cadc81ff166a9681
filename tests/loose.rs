//! `loose`: players drift as 1/f noise, as far as the file says, by themselves or together (Hennig et al., "The nature and
//! perception of fluctuations in human musical rhythms", PLoS ONE 6(10) e26457, 2011 [memory]).

use std::f64::consts::TAU;

use crate::support::{Desk, RATE, assert_near, click, wav::Wav};

const STEP: f64 = 0.125;

fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("left.wav", &[click(), vec![0.0; 64]]);
    desk.one_shot("right.wav", &[vec![0.0; 64], click()]);
    desk
}

/// 400 sixteenths at 120 on each side, with a feel.
fn text(feel: &str, right: &str) -> String {
    let tab = format!("[tab]\nall = \"\"\"\nleft xxxx xxxx xxxx xxxx\nright {right}\n\"\"\"\n");
    format!("[loop]\ntempo = 120\nbars = 25\n{tab}\n[feel]\n{feel}\n")
}

const ALL: &str = "xxxx xxxx xxxx xxxx";

/// How late, in ms, and how hard, as a velocity, each of the hits on one side is.
fn hits(sound: &Wav, side: usize, count: usize) -> (Vec<f64>, Vec<f64>) {
    let samples = &sound.channels[side];
    let step = samples.len() as f64 / count as f64;
    let mut late = vec![f64::NAN; count];
    let mut hard = vec![f64::NAN; count];
    for (frame, sample) in samples.iter().enumerate().filter(|(_, sample)| sample.abs() > 1e-3) {
        let number = (frame as f64 / step).round() as usize;
        late[number % count] = (frame as f64 - number as f64 * step) * 1000.0 / f64::from(RATE);
        // General MIDI 2 [memory]: the level is 40·log10(v/127) dB, and the click's height 0.5.
        hard[number % count] = 127.0 * (f64::from(sample.abs()) / 0.5).sqrt();
    }
    assert!(late.iter().all(|late| late.is_finite()), "a hit is missing");
    (late, hard)
}

fn mean(of: &[f64]) -> f64 {
    of.iter().sum::<f64>() / of.len() as f64
}

fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let (of_a, of_b) = (mean(a), mean(b));
    a.iter().zip(b).map(|(a, b)| (a - of_a) * (b - of_b)).sum::<f64>() / (spread(a) * spread(b) * a.len() as f64)
}

fn spread(of: &[f64]) -> f64 {
    let middle = mean(of);
    (of.iter().map(|x| (x - middle).powi(2)).sum::<f64>() / of.len() as f64).sqrt()
}

/// The slope of a periodogram in doubly logarithmic measure, by least squares.
fn slope(of: &[f64]) -> f64 {
    let count = of.len();
    let points: Vec<(f64, f64)> = (1..count / 2)
        .map(|turns| {
            let angle = |n: usize| TAU * (turns * n % count) as f64 / count as f64;
            let cos: f64 = of.iter().enumerate().map(|(n, x)| x * angle(n).cos()).sum();
            let sin: f64 = of.iter().enumerate().map(|(n, x)| x * angle(n).sin()).sum();
            ((turns as f64).ln(), (cos * cos + sin * sin).ln())
        })
        .collect();
    let x = mean(&points.iter().map(|point| point.0).collect::<Vec<_>>());
    let y = mean(&points.iter().map(|point| point.1).collect::<Vec<_>>());
    let over: f64 = points.iter().map(|point| (point.0 - x) * (point.1 - y)).sum();
    over / points.iter().map(|point| (point.0 - x).powi(2)).sum::<f64>()
}

#[test]
fn the_spread_is_what_the_file_says_and_the_spectrum_falls_at_one_over_f() {
    let desk = desk();
    for (seed, ms, velocity) in [("1", 5.0, 6.0), ("2", 12.0, 4.0), ("3", 3.0, 8.0)] {
        let text = text(&format!("loose = {{ ms = {ms}, velocity = {velocity} }}"), ALL);
        let sound = desk.render_with(&text, &["--seed", seed]).0;
        for side in [0, 1] {
            let (late, hard) = hits(&sound, side, 400);
            assert_near(spread(&late), ms, 0.15 * ms, "the spread of time");
            assert_near(spread(&hard), velocity, 0.15 * velocity, "the spread of velocity");
            assert_near(mean(&late), 0.0, 0.05 * ms, "drift is no delay");
            assert_near(mean(&hard), 96.0, 0.5, "drift is no accent");
            for of in [&late, &hard] {
                let slope = slope(of);
                assert!((-1.3..=-0.7).contains(&slope), "{slope}");
            }
            assert!(correlation(&late, &hard).abs() < 0.4, "time and velocity drift apart");
        }
    }
}

#[test]
fn sparse_parts_and_dense_ones_drift_alike() {
    // Quarters, and sixty-fourths, 400 hits each.
    for (marks, bars) in [("xxxx", 100), (&"x".repeat(32) as &str, 13)] {
        let text = format!(
            "[loop]\ntempo = 60\nbars = {bars}\n[tab]\nall = \"\"\"\nleft {marks}\n\"\"\"\n[feel]\nloose = {{ ms = 5 }}\n"
        );
        let (late, _) = hits(&desk().render(&text), 0, marks.len() * bars);
        assert_near(spread(&late), 5.0, 0.75, "the spread of time");
        let slope = slope(&late);
        assert!((-1.3..=-0.7).contains(&slope), "{slope}");
    }
}

#[test]
fn parts_drift_as_much_together_as_the_file_says() {
    let desk = desk();
    for (together, allowed) in [(0.0, 0.12), (0.5, 0.12), (0.8, 0.1), (1.0, 0.001)] {
        let of_seed = |seed: u32| {
            let text = text(
                &format!("loose = {{ ms = 8, velocity = 6, together = {together} }}"),
                ALL,
            );
            let sound = desk.render_with(&text, &["--seed", &seed.to_string()]).0;
            let (a, b) = (hits(&sound, 0, 400), hits(&sound, 1, 400));
            assert_near(spread(&a.0), 8.0, 1.2, "the spread stays");
            (correlation(&a.0, &b.0) + correlation(&a.1, &b.1)) / 2.0
        };
        // Slow noise of one take correlates by chance; the mean of sixteen drifts does so a quarter as much.
        let found = mean(&(1..=8).map(of_seed).collect::<Vec<_>>());
        assert_near(found, together, allowed, format!("together {together}"));
    }
}

#[test]
fn the_same_seed_plays_the_same_and_no_part_moves_another() {
    let desk = desk();
    let feel = "loose = { ms = 8, velocity = 6, together = 0.4 }";
    let one = desk.render(&text(feel, ALL));
    assert!(one.channels == desk.render(&text(feel, ALL)).channels);
    let other = desk.render(&text(feel, "x--- ---- X--- --f-"));
    assert!(
        one.channels[0] == other.channels[0],
        "a part that changes moves another"
    );
    let seeded = desk.render_with(&text(feel, ALL), &["--seed", "2"]).0;
    assert!(one.channels[0] != seeded.channels[0]);
}

#[test]
fn a_part_can_be_looser_than_the_others_and_cuts_play_what_the_whole_plays() {
    let desk = desk();
    let text = text("loose = { ms = 4, velocity = 5 }", ALL) + "[[part]]\nname = \"right\"\nloose = { ms = 10 }\n";
    let whole = desk.render(&text);
    let (left, right) = (hits(&whole, 0, 400), hits(&whole, 1, 400));
    assert_near(spread(&left.0), 4.0, 0.6, "the feel's spread");
    assert_near(spread(&right.0), 10.0, 1.5, "the part's own spread");
    assert_near(spread(&right.1), 5.0, 0.75, "what the part does not say is the feel's");
    let cut = desk.render_with(&text, &["--bars", "9-12"]).0;
    let (late, hard) = hits(&cut, 0, 64);
    for n in 0..64 {
        assert_near(late[n], left.0[128 + n], 0.05, "a cut hit's time");
        assert_near(hard[n], left.1[128 + n], 0.01, "a cut hit's velocity");
    }
    let off = text.replace("loose = { ms = 10 }", "loose = \"off\"");
    assert_near(spread(&hits(&desk.render(&off), 1, 400).0), 0.0, 0.02, "off is off");
    assert_near(
        STEP * 400.0,
        whole.frames() as f64 / f64::from(RATE),
        1e-6,
        "the loop's length",
    );
}
