//! Echo k comes after k times the delay's time, at feedback^(k-1) of the first.

use crate::support::{Desk, assert_near, meter, tab, wav::Wav};

fn desk() -> Desk {
    let desk = Desk::new();
    // Soft edges: what lies between samples can be placed to a hundredth of one.
    let bump: Vec<f32> = (0..65)
        .map(|n| (0.25 * (1.0 - (std::f64::consts::TAU * f64::from(n) / 64.0).cos())) as f32)
        .collect();
    desk.one_shot("bump.wav", &[bump]);
    desk
}

fn render(desk: &Desk, tempo: &str, keys: &str, delay: &str) -> Wav {
    let text = tab(tempo, 2, "bump 9--- ---- ---- ---- | ---- ---- ---- ----");
    desk.render(&format!(
        "{text}[[part]]\nname = \"bump\"\ndelay = 0\n{keys}\n[delay]\nlow_cut = \"off\"\nhigh_cut = \"off\"\n{delay}\n"
    ))
}

/// What lies within 100 frames of a time: its sum, and its centre in frames.
fn lump(side: &[f32], seconds: f64) -> (f64, f64) {
    let middle = (seconds * 48000.0) as usize + 32;
    let (mut sum, mut turned) = (0.0, 0.0);
    for (frame, sample) in side
        .iter()
        .enumerate()
        .take(middle + 100)
        .skip(middle.saturating_sub(100))
    {
        sum += f64::from(*sample);
        turned += f64::from(*sample) * frame as f64;
    }
    (sum, turned / sum)
}

#[test]
fn echoes_keep_time_and_level() {
    let desk = desk();
    // At 97.3 BPM an eighth lasts 14799.59 frames: echoes fall between samples.
    for (tempo, time, seconds) in [
        ("97.3", "1/8", 30.0 / 97.3),
        ("120", "1/8 dotted", 0.375),
        ("97.3", "1/8 triplet", 20.0 / 97.3),
        ("120", "180 ms", 0.18),
    ] {
        let sound = render(&desk, tempo, "", &format!("time = \"{time}\"\nfeedback = 60"));
        let (dry, start) = lump(sound.left(), 0.0);
        let mut first = 0.0;
        for k in 1..=8i32 {
            let (sum, centre) = lump(sound.left(), seconds * f64::from(k));
            if k == 1 {
                first = sum;
                assert_near(
                    sum / dry,
                    1.0,
                    0.01,
                    format!("the first echo of {time} and the dry sound"),
                );
            }
            assert_near(
                centre - start,
                seconds * 48000.0 * f64::from(k),
                0.5,
                format!("echo {k} of {time}"),
            );
            let level = meter::db(sum / first);
            assert_near(
                level,
                f64::from(k - 1) * meter::db(0.6),
                0.1,
                format!("echo {k} of {time}"),
            );
        }
    }
}

#[test]
fn level_is_what_comes_back() {
    let desk = desk();
    let sound = render(&desk, "120", "", "time = \"1/4\"\nfeedback = 0\nlevel = -6");
    let ratio = lump(sound.left(), 0.5).0 / lump(sound.left(), 0.0).0;
    assert_near(meter::db(ratio), -6.0, 0.05, "level -6");
    // Feedback 0 is one echo.
    assert!(meter::db(meter::peak(&sound.left()[47000..95000])) < -100.0);
}

#[test]
fn cross_changes_sides_with_every_echo() {
    let desk = desk();
    let sound = render(
        &desk,
        "120",
        "pan = -100",
        "time = \"1/4\"\nfeedback = 50\ncross = true",
    );
    let sides: Vec<bool> = (1..=6)
        .map(|k| {
            let left = lump(sound.left(), 0.5 * f64::from(k)).0.abs();
            let right = lump(sound.right(), 0.5 * f64::from(k)).0.abs();
            assert!(
                meter::db(left.min(right) / left.max(right)) < -40.0,
                "echo {k}: {left} left, {right} right"
            );
            left > right
        })
        .collect();
    assert!(sides.windows(2).all(|pair| pair[0] != pair[1]), "left: {sides:?}");
}

#[test]
fn without_cross_echoes_stay_on_their_side() {
    let desk = desk();
    let sound = render(&desk, "120", "pan = -100", "time = \"1/4\"\nfeedback = 50");
    assert!(lump(sound.left(), 0.5).0 > 1.0);
    assert!(meter::db(meter::peak(sound.right())) < -100.0);
}

#[test]
fn the_cuts_lie_in_the_loop_so_each_echo_is_duller_than_the_one_before() {
    let desk = desk();
    let hiss: Vec<f32> = crate::support::noise(4800, 3)
        .iter()
        .map(|n| *n as f32 / 131_072.0)
        .collect();
    desk.one_shot("hiss.wav", &[hiss]);
    let text = tab("60", 1, "hiss 9---")
        + "[[part]]\nname = \"hiss\"\ndelay = 0\n[delay]\ntime = \"1/8\"\n\
                feedback = 80\nlow_cut = \"off\"\nhigh_cut = 3000\n";
    let sound = desk.render(&text);
    let bright = |k: usize| {
        let echo = &sound.left()[k * 24000..k * 24000 + 4800];
        let difference: Vec<f32> = echo.windows(2).map(|pair| pair[1] - pair[0]).collect();
        meter::db(meter::rms(&difference) / meter::rms(echo))
    };
    let levels: Vec<f64> = (1..6).map(bright).collect();
    assert!(levels.windows(2).all(|pair| pair[1] < pair[0]), "{levels:?}");
}

#[test]
fn in_a_loop_that_repeats_echoes_go_on_round_its_seam() {
    let desk = desk();
    let text = tab("120", 1, "bump ---9")
        + "[[part]]\nname = \"bump\"\ndelay = 0\n[delay]\ntime = \"1/4\"\n\
                feedback = 50\nlow_cut = \"off\"\nhigh_cut = \"off\"\n";
    let sound = desk.render(&text);
    // Struck at 1.5 s of a loop of 2 s: echoes at 0, 0.5, 1 and 1.5 s, and again on each later round.
    let dry = 0.25 * 64.0 / 2f64.sqrt();
    let rounds = 1.0 / (1.0 - 0.0625);
    for (n, at) in [0.5, 1.0].iter().enumerate() {
        let wanted = dry * 0.5f64.powi(n as i32 + 1) * rounds;
        assert_near(
            meter::db(lump(sound.left(), *at).0 / wanted),
            0.0,
            0.05,
            format!("at {at} s"),
        );
    }
}
