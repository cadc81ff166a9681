//! A buzz roll (the multiple-bounce roll of the Percussive Arts Society's International Drum Rudiments) is sustained from
//! press to press [practice], closes up and fades within each, and is no machine's buzz.

use crate::support::{Desk, RATE, click, meter::db, tab, wav::Wav};

/// A click of some width, which a change of pitch or of treble leaves one click.
fn desk() -> Desk {
    let desk = Desk::new();
    let mut wide = vec![0.0; 64];
    (0..24).for_each(|n| wide[n] = 0.4 * (std::f32::consts::PI * (n as f32 + 0.5) / 24.0).sin());
    desk.one_shot("click.wav", &[wide]);
    desk.one_shot("dot.wav", &[click()]);
    desk
}

/// Bounces as seconds and dB: the highest sample of each stretch that is loud.
fn bounces(sound: &Wav) -> Vec<(f64, f64)> {
    let left = sound.left();
    let mut found: Vec<(usize, f32)> = Vec::new();
    for (frame, sample) in left.iter().enumerate().filter(|(_, sample)| sample.abs() > 0.01) {
        match found.last_mut() {
            Some((at, highest)) if frame - *at < 96 => {
                if sample.abs() > *highest {
                    (*at, *highest) = (frame, sample.abs());
                }
            }
            _ => found.push((frame, sample.abs())),
        }
    }
    found
        .into_iter()
        .map(|(at, peak)| (at as f64 / f64::from(RATE), db(f64::from(peak))))
        .collect()
}

fn gaps(bounces: &[(f64, f64)]) -> Vec<f64> {
    bounces.windows(2).map(|pair| pair[1].0 - pair[0].0).collect()
}

/// Two bars of presses at 100 BPM: sixteenths of 150 ms.
fn roll(seed: &str) -> Vec<(f64, f64)> {
    let text = tab("100", 2, "click bbbb bbbb bbbb bbbb");
    bounces(&desk().render_with(&text, &["--seed", seed]).0)
}

#[test]
fn a_press_bounces_as_often_as_its_step_has_room() {
    // 4 s of bounces 23 to 30 ms apart, in presses of a whole number each.
    for (tempo, beats) in [("100", 8.0), ("80", 8.0), ("140", 8.0)] {
        let seconds = beats * 60.0 / tempo.parse::<f64>().expect("a tempo");
        let found = bounces(&desk().render(&tab(tempo, 2, "click bbbb bbbb bbbb bbbb"))).len() as f64;
        assert!(
            found > seconds / 0.034 && found < seconds / 0.02,
            "{found} in {seconds} s"
        );
    }
    let press = bounces(&desk().render(&tab("100", 1, "click ---- b--- ---- ----")));
    assert!((5..=7).contains(&press.len()), "{press:?}");
    assert!((press[0].0 - 0.6).abs() < 0.001);
    assert!(press.last().expect("bounces").0 < 0.75);
}

#[test]
fn a_press_fades_and_closes_up() {
    let presses: Vec<Vec<(f64, f64)>> = (1..=12)
        .map(|seed| {
            bounces(
                &desk()
                    .render_with(
                        &tab("100", 1, "click ---- b--- ---- ----"),
                        &["--seed", &seed.to_string()],
                    )
                    .0,
            )
        })
        .collect();
    for press in &presses {
        let (first, last) = (press[0].1, press[press.len() - 1].1);
        assert!((-14.0..=-3.0).contains(&(last - first)), "{press:?}");
        assert!(press[1..].iter().all(|bounce| bounce.1 < first), "{press:?}");
    }
    let mean = |pick: &dyn Fn(&[f64]) -> f64| presses.iter().map(|press| pick(&gaps(press))).sum::<f64>() / 12.0;
    assert!(mean(&|gaps| gaps[0]) > 1.1 * mean(&|gaps| gaps[gaps.len() - 1]));
}

#[test]
fn a_roll_is_sustained_from_press_to_press() {
    for seed in ["1", "2", "3"] {
        let roll = roll(seed);
        let within: Vec<f64> = roll
            .windows(2)
            .filter(|pair| (pair[0].0 / 0.15 + 0.01).floor() == (pair[1].0 / 0.15 + 0.01).floor())
            .map(|pair| pair[1].0 - pair[0].0)
            .collect();
        let widest = within.iter().copied().fold(0.0, f64::max);
        assert!(widest < 0.045);
        for (gap, pair) in gaps(&roll).iter().zip(roll.windows(2)) {
            assert!(*gap <= widest + 0.0005, "{gap} s at {} s", pair[0].0);
        }
        // Round the loop's end as well.
        let last = 4.8 - roll[roll.len() - 1].0 + roll[0].0;
        assert!(last <= widest + 0.0005, "{last}");
    }
}

#[test]
fn a_roll_goes_on_over_swing_and_long_steps() {
    let swung = tab("100", 1, "click bbbb bbbb bbbb bbbb") + "[feel]\nswing = 66.7\n";
    for text in [swung, tab("100", 1, "click bbbb"), tab("60", 1, "click b")] {
        let found = bounces(&desk().render(&text));
        let widest = gaps(&found).into_iter().fold(0.0, f64::max);
        assert!(widest < 0.05, "{widest} in\n{text}");
    }
}

#[test]
fn no_roll_buzzes_at_a_machines_pitch() {
    let roll = roll("5");
    let gaps = gaps(&roll);
    let mean = gaps.iter().sum::<f64>() / gaps.len() as f64;
    let spread = (gaps.iter().map(|gap| (gap - mean).powi(2)).sum::<f64>() / gaps.len() as f64).sqrt();
    assert!(spread > 0.06 * mean, "distances spread by {spread} s about {mean} s");
    // A machine's bounces would line up along one turn of some pitch; these never do: over all rates at which they could
    // come, the part of them that keeps in step stays small.
    let lined_up = |hz: f64| {
        let turn = |at: f64| std::f64::consts::TAU * hz * at;
        let (x, y) = roll
            .iter()
            .fold((0.0, 0.0), |(x, y), (at, _)| (x + turn(*at).cos(), y + turn(*at).sin()));
        (x * x + y * y).sqrt() / roll.len() as f64
    };
    let most = (0..2000)
        .map(|n| 20.0 + f64::from(n) * 0.02)
        .map(lined_up)
        .fold(0.0, f64::max);
    assert!(most < 0.75, "{most}");
    let firsts: Vec<Vec<(f64, f64)>> = roll
        .chunk_by(|a, b| (a.0 / 0.15 + 0.01).floor() == (b.0 / 0.15 + 0.01).floor())
        .map(<[_]>::to_vec)
        .collect();
    assert_eq!(firsts.len(), 32);
    let second = |press: &Vec<(f64, f64)>| ((press[1].0 - press[0].0) * 1e4) as i64;
    let mut distances: Vec<i64> = firsts.iter().map(second).collect();
    distances.sort_unstable();
    distances.dedup();
    assert!(distances.len() > 20, "presses bounce alike: {distances:?}");
}

#[test]
fn bounces_differ_in_pitch_and_tone_on_few_steps() {
    use pressroll::internals::{kit::Kit, loopfile, score};
    let desk = desk();
    let file = desk.write("loop.toml", tab("100", 2, "click bbbb bbbb bbbb bbbb"));
    let loopfile::Draft::Loop(draft) = loopfile::read(&file, &Default::default()).expect("a loop") else {
        panic!("a loop is no form")
    };
    let kit = Kit::open(draft.kits(), &[]).expect("a kit");
    let score = score::write(&draft.resolve(kit.defaults()), kit.index(), None).expect("a score");
    let mut pitches: Vec<i64> = score.parts[0].iter().map(|hit| (hit.tune * 1e6) as i64).collect();
    pitches.sort_unstable();
    pitches.dedup();
    assert!((8..=16).contains(&pitches.len()), "{pitches:?}");
    assert!(pitches.iter().all(|pitch| pitch.abs() <= 400_000));
    let dull: Vec<f64> = score.parts[0].iter().map(|hit| hit.dull).collect();
    assert!(dull.iter().all(|octaves| (0.0..=0.6).contains(octaves)) && dull.windows(2).any(|pair| pair[0] != pair[1]));
}

#[test]
fn an_accented_press_is_louder_by_the_law_of_velocity() {
    let text = tab("100", 2, "click bBbB BbBb bBBb BbbB");
    let found = bounces(&desk().render(&text));
    let at = |step: f64| {
        let near = found.iter().find(|bounce| (bounce.0 - step * 0.15).abs() < 0.002);
        near.expect("a press").1
    };
    let mean = |steps: &[f64]| steps.iter().map(|step| at(*step)).sum::<f64>() / steps.len() as f64;
    let louder =
        mean(&[1.0, 3.0, 4.0, 6.0, 9.0, 10.0, 12.0, 15.0]) - mean(&[0.0, 2.0, 5.0, 7.0, 8.0, 11.0, 13.0, 14.0]);
    // General MIDI 2: 40·log10(104/80) = 4.56 dB [memory].
    assert!((louder - 4.56).abs() < 0.5, "{louder} dB");
}
