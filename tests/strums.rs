//! Strumming as a guitarist does: strokes over strings whose times and levels differ, and scratches that are short and bright.

use crate::support::wav::Wav;
use crate::support::{Desk, RATE, assert_near};
use pressroll::{Order, Project};

fn song(comp: &str, strum: &str) -> String {
    format!(
        "[loop]\ntempo = 120\nbars = 2\nending = \"let ring\"\n[chords]\nall = \"C7\"\n[[part]]\nname = \"guitar\"\npiece = \"stand-in\"\n\
         register = \"A3\"\nvoicing = \"drop 2\"\nstrum = {strum}\ncomp = \"{comp}\"\n"
    )
}

/// What is struck on each beat of two bars: seconds after the beat, velocity and pitch of each note, in the order of time.
fn strokes(text: &str, seed: u64) -> Vec<Vec<(f64, f64, i32)>> {
    let desk = Desk::new();
    desk.write("loop.toml", text);
    let project = Project::options(desk.path("loop.toml")).set("loop.seed", &seed.to_string());
    let project = project.open().expect("the loop opens");
    let score = project.score(&Order::default()).expect("a score");
    let mut strokes = vec![Vec::new(); 8];
    for hit in score.hits() {
        let beat = (hit.at / 0.5 + 0.1) as usize;
        strokes[beat].push((hit.at - beat as f64 * 0.5, hit.velocity, hit.pitch.expect("a pitch")));
    }
    strokes
}

fn db(velocity: f64, of: f64) -> f64 {
    40.0 * (velocity / of).log10()
}

#[test]
fn a_guitarists_strokes_down_and_up_differ_in_strings_times_and_levels() {
    let text = song("dudu", "{ ms = 30, hand = \"guitar\" }");
    let mut ends = [0.0, 0.0];
    for seed in 1..=20 {
        let strokes = strokes(&text, seed);
        for (number, stroke) in strokes.iter().enumerate() {
            let up = number % 2 == 1;
            assert_eq!(
                stroke.len(),
                if up { 3 } else { 4 },
                "all strings down, the highest ones up"
            );
            assert_near(stroke[0].0, 0.0, 1e-9, "the first string is on the beat");
            let pitches: Vec<i32> = stroke.iter().map(|note| note.2).collect();
            assert!(
                pitches.is_sorted_by(|a, b| if up { a > b } else { a < b }),
                "{pitches:?}"
            );
            let last = stroke.last().expect("a note");
            ends[usize::from(up)] += last.0 / 80.0;
            // From the first string to the last 3 dB, give or take 0.7 at either end.
            assert!((db(stroke[0].1, last.1) - 3.0).abs() < 1.41, "{stroke:?}");
        }
        assert_ne!(strokes[0], strokes[2], "no stroke is like another");
        let loudness = |number: usize| strokes[number][0].1;
        assert!((db(loudness(0), loudness(1)) - 2.0).abs() < 1.41);
    }
    assert_near(ends[0], 0.030, 0.001, "down");
    assert_near(ends[1], 0.030 * 0.75, 0.001, "up");
    // The same seed plays the same.
    assert_eq!(strokes(&text, 7), strokes(&text, 7));
}

#[test]
fn an_even_hand_plays_as_before() {
    for strum in ["30", "{ ms = 30 }", "{ ms = 30, hand = \"even\" }"] {
        for (number, stroke) in strokes(&song("du--", strum), 1).iter().enumerate().take(2) {
            assert_eq!(stroke.len(), 4);
            for (nth, (at, velocity, _)) in stroke.iter().enumerate() {
                assert_near(
                    *at,
                    0.010 * nth as f64,
                    1e-9,
                    format!("string {nth} of stroke {number}"),
                );
                assert_eq!(*velocity, 96.0);
            }
        }
    }
}

/// A string at C3 that is plucked: forty partials, each dying away the sooner the higher it is.
fn string() -> Vec<f32> {
    let sample = |n: usize| {
        let time = n as f64 / f64::from(RATE);
        let partial = |k: i32| {
            let k = f64::from(k);
            (std::f64::consts::TAU * 130.8 * k * time).sin() / k * (-time * (1.0 + 0.4 * k)).exp()
        };
        (0.2 * (1..=40).map(partial).sum::<f64>()) as f32
    };
    (0..2 * RATE as usize).map(sample).collect()
}

/// Seconds up to the last sample within 40 dB of the highest, and the power's mean frequency in Hz, by a plain transform.
fn heard(sound: &Wav) -> (f64, f64) {
    let samples = &sound.channels[0][..RATE as usize / 2];
    let highest = samples.iter().fold(0.0f32, |most, sample| most.max(sample.abs()));
    let last = samples
        .iter()
        .rposition(|sample| sample.abs() > highest / 100.0)
        .expect("a sound");
    let (mut power, mut weighted) = (0.0, 0.0);
    for step in 2..250 {
        let hertz = 20.0 * f64::from(step);
        let turn = std::f64::consts::TAU * hertz / f64::from(RATE);
        let (cos, sin) = samples.iter().enumerate().fold((0.0, 0.0), |(cos, sin), (n, sample)| {
            let angle = turn * n as f64;
            (
                cos + f64::from(*sample) * angle.cos(),
                sin + f64::from(*sample) * angle.sin(),
            )
        });
        let own = cos * cos + sin * sin;
        (power, weighted) = (power + own, weighted + own * hertz);
    }
    (last as f64 / f64::from(RATE), weighted / power)
}

#[test]
fn a_scratch_is_short_and_bright_and_no_thump() {
    let desk = Desk::new();
    desk.one_shot("guitar_C3.wav", &[string()]);
    let text = |mark: &str| {
        song(&format!("{mark}---"), "25")
            .replace("stand-in", "guitar")
            .replace("bars = 2", "bars = 1")
    };
    let (chord, bright) = heard(&desk.render(&text("d")));
    let (scratch, brighter) = heard(&desk.render(&text("k")));
    assert!(chord > 0.4, "an open chord goes on: {chord}");
    assert!(scratch < 0.055, "a scratch does not: {scratch}");
    assert!(brighter > 2.0 * bright, "{brighter} {bright}");
    let strokes = strokes(&song("k---", "25"), 1);
    assert_eq!(strokes[0].len(), 3, "the highest strings");
    assert!(strokes[0].iter().all(|note| note.0 <= 0.0125 + 1e-9), "{strokes:?}");
}

#[test]
fn a_chord_is_held_or_damped_as_it_is_written() {
    let desk = Desk::new();
    let lengths = |comp: &str| -> Vec<f64> {
        desk.write("loop.toml", song(comp, "{ ms = 30, hand = \"guitar\" }"));
        let project = Project::open(desk.path("loop.toml")).expect("the loop opens");
        let score = project.score(&Order::default()).expect("a score");
        score.hits().map(|hit| hit.length.expect("a length")).collect()
    };
    assert!(lengths("d===").iter().all(|length| (length - 2.0).abs() < 0.04));
    assert!(lengths("d---").iter().all(|length| (length - 0.5).abs() < 0.04));
}
