//! A form's own sweeps move its master over the bars of the whole form.

use crate::support::{Desk, RATE, assert_near, click, meter, tone};

/// Bars of 2 s with a click each quarter, then one bar of 3/4 with the same time between clicks.
const EVEN: &str = "[loop]\ntempo = 120\nbars = 2\n[tab]\nall = 'tick xxxx'\n";
const WALTZ: &str = "[loop]\ntempo = 90\nmetre = '3/4'\nbars = 1\n[tab]\nall = 'tick xxx'\n";
const SWEEP: &str = "[[sweep]]\nkey = 'master.gain'\nbars = '2-3'\nfrom = -24\nto = 0\n";

/// A form of bars 1 and 2 (2 s each), 3 (3/4, 2 s) and 4, 5.
fn desk(keys: &str, rest: &str) -> Desk {
    let desk = Desk::new();
    desk.one_shot("tick.wav", &[click()]);
    desk.one_shot("drone.wav", &[tone(500.0, 10.0, 0.5)]);
    desk.write("even.toml", EVEN);
    desk.write("waltz.toml", WALTZ);
    let section = |name: &str| format!("[[section]]\nloop = '{name}.toml'\n");
    let sections = [section("even"), section("waltz"), section("even")].concat();
    desk.write("form.toml", format!("[form]\n{keys}\n{sections}{rest}"));
    desk
}

/// The level of the click at a moment, in dB over that of one at full gain.
fn level(desk: &Desk, options: &[&str]) -> impl Fn(f64) -> f64 + use<> {
    let (sound, _) = desk.render_file("form.toml", options);
    move |seconds: f64| {
        let frame = (seconds * f64::from(RATE)).round() as usize;
        let plain = 0.5 * 10f64.powf(40.0 * (96.0 / 127.0_f64).log10() / 20.0) * 0.5_f64.sqrt();
        meter::db(f64::from(sound.left()[frame].abs()) / plain)
    }
}

const OFF: &str = "[master]\nceiling = 'off'\n";

#[test]
fn it_moves_over_the_forms_bars_through_a_change_of_metre() {
    let at = level(&desk("ending = 'damp'", &format!("{OFF}{SWEEP}")), &[]);
    // It holds before bar 2; half way it is at the barline; a bar of 3/4 takes as long here, in fewer counts.
    for (seconds, gain) in [
        (0.5, -24.0),
        (3.0, -18.0),
        (4.0 + 2.0 / 3.0, -8.0),
        (6.0, 0.0),
        (9.5, 0.0),
    ] {
        // The running mean that spreads jumps lags by 2.5 ms, which is 0.015 dB of this slope.
        assert_near(at(seconds), gain, 0.05, format!("at {seconds} s"));
    }
}

#[test]
fn pickups_rounds_cuts_and_circles_keep_the_bars() {
    let rest = format!("{OFF}{SWEEP}");
    let led = level(&desk("pickup = '1/2'\nending = 'damp'", &rest), &["--repeat", "2"]);
    for (seconds, gain) in [(0.5, -24.0), (4.0, -18.0), (11.5, -24.0), (14.0, -18.0), (20.5, 0.0)] {
        assert_near(led(seconds), gain, 0.05, format!("behind a pickup, at {seconds} s"));
    }
    let cut = level(&desk("ending = 'damp'", &rest), &["--bars", "2-4"]);
    assert_near(cut(1.0), -18.0, 0.05, "half way through bar 2");
    assert_near(cut(4.5), 0.0, 0.05, "in bar 4");
    let circle = level(&desk("ending = 'repeat'", &rest), &["--repeat", "2"]);
    assert_near(circle(0.5), -24.0, 0.05, "round a circle");
    assert_near(circle(9.5), 0.0, 0.05, "round a circle");
    assert_near(circle(13.0), -18.0, 0.05, "and round again");
}

#[test]
fn a_sweep_and_a_fade_both_count_and_the_ceiling_comes_last() {
    let at = level(
        &desk("fade = { in = 4 }\nending = 'damp'", &format!("{OFF}{SWEEP}")),
        &[],
    );
    // Half of the four bars up: -12 dB, and the gain half way.
    assert_near(at(4.0), -12.04 - 12.0, 0.05, "fade and sweep");
    let ceiling = "[master]\n[[sweep]]\nkey = 'master.ceiling'\nbars = '5'\nfrom = -20\nto = -40\n";
    let desk = desk("fade = { in = 1 }\nending = 'damp'", ceiling);
    let (sound, _) = desk.render_file("form.toml", &[]);
    let peak = |from: f64, to: f64| {
        let frame = |seconds: f64| (seconds * f64::from(RATE)) as usize;
        meter::db(meter::peak(&sound.left()[frame(from)..frame(to)]))
    };
    assert!(peak(2.0, 8.0) <= -19.9 && peak(2.0, 8.0) > -24.0, "{}", peak(2.0, 8.0));
    assert!(peak(9.4, 9.6) < -34.0, "{}", peak(9.4, 9.6));
}

#[test]
fn without_a_master_of_its_own_it_moves_the_first_sections() {
    let desk = desk("ending = 'damp'", SWEEP);
    let own = "[master]\nceiling = 'off'\ngain = -3\n";
    desk.write("even.toml", format!("{EVEN}{own}"));
    assert_near(
        level(&desk, &[])(3.0),
        -18.0,
        0.05,
        "the sweep has the last word on its key",
    );
    // What a loop's sweep switches on in its own master stays off in the form, which leaves that sweep out.
    let plain = desk.render_file("form.toml", &[]).0;
    let moving = "[[sweep]]\nkey = 'master.drive'\nbars = 'all'\nfrom = 0\nto = 12\n[[sweep]]\nkey = 'master.low_cut'\nbars = 'all'\nfrom = 200\nto = 900\n";
    desk.write("even.toml", format!("{EVEN}{own}{moving}"));
    assert_eq!(desk.render_file("form.toml", &[]).0.left(), plain.left());
    let told = desk.run(&["check", "form.toml"]).err;
    assert!(
        told.contains("write a [[sweep]] of the master in the form file"),
        "{told}"
    );
}

#[test]
fn a_filter_of_the_master_can_open_over_a_form() {
    let rest = format!("{OFF}[[sweep]]\nkey = 'master.high_cut'\nbars = '1-4'\nfrom = 100\nto = 8000\n");
    let desk = desk("ending = 'damp'", &rest);
    desk.write("even.toml", EVEN.replace("tick xxxx", "drone x"));
    let (sound, _) = desk.render_file("form.toml", &[]);
    let peak = |from: f64| {
        let frame = (from * f64::from(RATE)) as usize;
        meter::db(meter::peak(&sound.left()[frame..frame + 960]))
    };
    assert!(peak(7.9) - peak(0.5) > 15.0, "{} to {} dB", peak(0.5), peak(7.9));
}

#[test]
fn errors_say_what_a_forms_sweep_can_move() {
    let wrong = |sweep: &str, what: &str, line: &str| {
        let desk = desk(
            "",
            &format!("[master]\ngain = 0\n[[sweep]]\n{sweep}\nfrom = -6\nto = 0\n"),
        );
        let answer = desk.run(&["check", "form.toml"]);
        assert_eq!(answer.code, Some(1), "{what}");
        assert!(answer.err.contains(what) && answer.err.contains(line), "{}", answer.err);
    };
    wrong(
        "key = 'tick.gain'\nbars = '1-2'",
        "a form's sweeps move its master",
        "form.toml:12:8",
    );
    wrong(
        "key = 'master'\nbars = '1-2'",
        "`master` is a table, not a key",
        "form.toml:12:8",
    );
    wrong("key = 'master.gian'\nbars = '1-2'", "`gain`", "form.toml:12:8");
    wrong(
        "key = 'master.loudness'\nbars = '1-2'",
        "can't be swept",
        "form.toml:12:8",
    );
    wrong(
        "key = 'master.gain'\nbars = '4-6'",
        "goes past the end of the form, which has 5 bars",
        "form.toml:13:9",
    );
    wrong(
        "key = 'master.gain'\nbars = '3:4-4:1'",
        "`3:4` is no bar and no count of a bar",
        "form.toml:13:9",
    );
    wrong(
        "key = 'master.gain'\nbars = '2-3'\nevery = '1/4'",
        "`every` can't count through a change of metre",
        "form.toml:14:9",
    );
    wrong(
        "key = 'master.gain'\nbars = '1-2'\nfrom = 0\nto = 1\n[[sweep]]\nkey = 'master.gain'\nbars = '2'",
        "two sweeps of `master.gain` overlap",
        "form.toml:17:8",
    );
}
