//! No true peak passes the ceiling, in the file and in the file twice in a row.

use crate::support::{Desk, meter, noise, pluck, tab, tone, wav::Wav};

/// The limiter's tolerance: a meter that oversamples 8 times may read this much over the ceiling.
const WITHIN_DB: f64 = 0.1;

fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("kick.wav", &[pluck(55.0, 0.4, 0.99)]);
    let hiss = recorded(&noise(12000, 21));
    desk.one_shot("snare.wav", &[hiss.clone(), hiss.iter().rev().copied().collect()]);
    // A quarter of the rate at 45 degrees: its true peak lies 3 dB over its samples.
    let between: Vec<f32> = (0..9600)
        .map(|i| ((f64::from(i) / 4.0 + 0.125) * std::f64::consts::TAU).sin() as f32)
        .collect();
    desk.one_shot("between.wav", &[between.clone(), between]);
    desk.one_shot("click.wav", &[crate::support::click()]);
    desk.one_shot("high.wav", &[tone(14870.0, 0.5, 0.9)]);
    desk
}

/// White noise as a converter records it: nothing is left of it above 0.46 of the rate.
///
/// How far a signal overshoots between samples that reaches all the way to half the rate is a matter of how long a
/// meter listens: 96 and 256 taps read it 0.3 dB apart.
fn recorded(noise: &[i64]) -> Vec<f32> {
    const REACH: i64 = 64;
    let tap = |k: i64| {
        let x = k as f64 * 0.875;
        let sinc = if k == 0 {
            1.0
        } else {
            (std::f64::consts::PI * x).sin() / (std::f64::consts::PI * x)
        };
        let window = (std::f64::consts::FRAC_PI_2 * k as f64 / (REACH + 1) as f64)
            .cos()
            .powi(2);
        0.875 * sinc * window / 32768.0
    };
    let at = |frame: i64| usize::try_from(frame).ok().and_then(|frame| noise.get(frame)).copied();
    (0..noise.len() as i64)
        .map(|n| {
            (-REACH..=REACH)
                .map(|k| tap(k) * at(n - k).unwrap_or(0) as f64)
                .sum::<f64>() as f32
        })
        .collect()
}

fn groove() -> String {
    tab(
        "131",
        2,
        "kick xxx- X-xx xx-x XXXx\nsnare xxxx X-xX -xXX XxXX\nbetween X--x --X- x--- --XX\nclick xxxx xxxx xxxx xxxx\nhigh x--- x--- x--- X---",
    )
}

#[track_caller]
fn assert_kept(sound: &Wav, ceiling: f64, what: &str) {
    for side in &sound.channels {
        let twice: Vec<f32> = side.iter().chain(side).copied().collect();
        let once = meter::true_peak_db(side);
        assert!(once <= ceiling + WITHIN_DB, "{what}: {once} dBTP in the file");
        let twice = meter::true_peak_db(&twice);
        assert!(
            twice <= ceiling + WITHIN_DB,
            "{what}: {twice} dBTP in the file twice in a row"
        );
    }
}

#[test]
fn the_default_ceiling_holds_without_a_master() {
    let desk = desk();
    let (sound, told) = desk.render_with(&groove(), &[]);
    assert_kept(&sound, -1.0, "default");
    let told = crate::support::number(&told["true_peak_db"]);
    let own = meter::true_peak_db(sound.left()).max(meter::true_peak_db(sound.right()));
    assert!(
        told <= -1.0 + WITHIN_DB,
        "told as {told} dBTP, {own} by the test's own meter"
    );
    // It is a ceiling and not a fader: a loud groove comes close to it.
    assert!(meter::true_peak_db(sound.left()).max(meter::true_peak_db(sound.right())) > -1.6);
}

#[test]
fn ceilings_hold_at_any_drive() {
    let desk = desk();
    for (ceiling, gain) in [(-0.3, 12.0), (-6.0, 0.0), (-1.0, 24.0)] {
        let sound = desk.render(&(groove() + &format!("[master]\nceiling = {ceiling}\ngain = {gain}\n")));
        assert_kept(&sound, ceiling, &format!("ceiling {ceiling} at {gain} dB"));
    }
}

#[test]
fn the_ceiling_holds_in_the_file_as_it_is_written() {
    let desk = desk();
    for depth in ["16", "24"] {
        let (sound, _) = desk.render_with(&groove(), &["--depth", depth]);
        assert_kept(&sound, -1.0, depth);
    }
}

#[test]
fn the_ceiling_holds_where_the_loop_ends_otherwise_and_at_other_rates() {
    let desk = desk();
    for options in [
        ["--ending", "damp"],
        ["--ending", "let ring"],
        ["--rate", "44100"],
        ["--repeat", "2"],
    ] {
        let (sound, _) = desk.render_with(&groove(), &options);
        assert_kept(&sound, -1.0, &options.join(" "));
    }
}

#[test]
fn a_limited_hit_on_the_seam_goes_round() {
    let desk = desk();
    let text = tab("120", 1, "snare x--X") + "[[part]]\nname = \"snare\"\nbehind = -2\n[master]\ngain = 12\n";
    assert_kept(&desk.render(&text), -1.0, "across the seam");
}

#[test]
fn a_bus_keeps_its_own_ceiling() {
    let text = tab("131", 1, "snare XxXx")
        + "[[part]]\nname = \"snare\"\nbus = \"drums\"\n\
                [[bus]]\nname = \"drums\"\nceiling = -12\n[master]\nceiling = \"off\"\n";
    assert_kept(&desk().render(&text), -12.0, "bus");
}

#[test]
fn off_lets_everything_through() {
    let sound = desk().render(&(groove() + "[master]\nceiling = \"off\"\n"));
    assert!(meter::true_peak_db(sound.left()) > 0.0);
}

#[test]
fn what_stays_under_the_ceiling_is_left_alone() {
    let desk = Desk::new();
    let bell = pluck(500.0, 0.5, 0.7);
    desk.one_shot("bell.wav", &[bell.clone(), bell.clone()]);
    let sound = desk.render(&tab("120", 1, "bell -9--"));
    let difference = meter::null_db(&sound.left()[24000..48000], &bell);
    assert!(difference < -120.0, "{difference} dBFS");
}
