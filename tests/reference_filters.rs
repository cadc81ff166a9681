//! Cuts and bells are their analogue prototypes, as scipy computes them, from 20 Hz to 0.4 of the rate: Butterworth cuts, and the bell of
//! Bristow-Johnson's audio EQ formulas. `mix::filter` holds them to that over all settings and rates.

use crate::support::{Desk, RATE, assert_near, list, meter, number, reference, tab};

/// Below this only the rounding of a float is measured.
const FLOOR_DB: f64 = -90.0;

#[test]
fn the_curves_of_cuts_and_bells_are_those_of_their_prototypes() {
    let desk = Desk::new();
    let mut click = vec![0.0; 64];
    click[0] = 0.25;
    // Two equal sides: a balance leaves both at 0 dB.
    desk.one_shot("click.wav", &[click.clone(), click]);
    let values = reference("filters");
    let frequencies: Vec<f64> = list(&values, "frequencies").iter().map(number).collect();
    assert_eq!(list(&values, "curves").len(), 17);
    let mut worst = 0.0_f64;
    for curve in list(&values, "curves") {
        let keys = curve["keys"].as_str().expect("keys");
        let text = tab("120", 1, "click 9---") + "[[part]]\nname = \"click\"\n" + keys + "\n";
        let sound = desk.render(&text);
        for (hz, wanted) in frequencies.iter().zip(list(curve, "db")) {
            let wanted = number(wanted);
            let is = meter::db(meter::response(sound.left(), *hz, f64::from(RATE)) / 0.25);
            // What is far down is measured beside a float's rounding.
            let within = if wanted > -60.0 { 0.06 } else { 0.2 };
            if wanted < FLOOR_DB {
                continue;
            }
            assert_near(is, wanted, within, format!("{keys} at {hz} Hz"));
            worst = worst.max(if wanted > -60.0 { (is - wanted).abs() } else { 0.0 });
        }
    }
    println!("within {worst:.4} dB");
}

#[test]
fn a_butterworth_cut_is_3_db_down_at_its_frequency_and_falls_12_db_an_octave() {
    let desk = Desk::new();
    let mut click = vec![0.0; 64];
    click[0] = 0.25;
    desk.one_shot("click.wav", &[click.clone(), click]);
    let sound = desk.render(&(tab("60", 1, "click 9---") + "[[part]]\nname = \"click\"\nlow_cut = 400\n"));
    let level = |hz| meter::db(meter::response(sound.left(), hz, f64::from(RATE)) / 0.25);
    // Bristow-Johnson, audio EQ formulas: a Q of 1/sqrt(2) is 20·log10(1/sqrt(2)) at its frequency.
    assert_near(level(400.0), -3.01, 0.01, "at the cut");
    assert_near(level(50.0) - level(25.0), 12.04, 0.05, "an octave far below it");
}

#[track_caller]
fn refused(desk: &Desk, arguments: &[&str], words: &[&str]) {
    let answer = desk.run(arguments);
    assert_eq!(answer.code, Some(1), "{arguments:?}\n{}", answer.err);
    for word in words {
        assert!(answer.err.contains(word), "`{word}` is missing in:\n{}", answer.err);
    }
}

#[test]
fn a_bell_too_high_for_the_rate_is_refused_with_the_rate_and_the_place() {
    let desk = Desk::new();
    desk.one_shot("click.wav", &[vec![0.25; 64]]);
    let bell = |at: &str| format!("[[part]]\nname = \"click\"\neq = [{{ at = {at}, gain = 3 }}]\n");
    let head = tab("120", 1, "click 9---");
    desk.write("loop.toml", head.clone() + &bell("21600"));
    desk.run(&["render", "loop.toml"]).assert_done();
    for arguments in [
        &["render", "loop.toml", "--rate", "44100"][..],
        &["render", "loop.toml", "--rate", "8000", "--stems", "dry"],
        &["compare", "loop.toml", "--vary", "click.gain=0,3", "--rate", "44100"],
    ] {
        let rate = arguments[arguments.iter().position(|word| *word == "--rate").expect("a rate") + 1];
        refused(
            &desk,
            arguments,
            &["21600 Hz", &format!("{rate} Hz"), "loop.toml:", "--rate"],
        );
    }
    // Whatever brings such a bell in: the file, the command line, a mix, a sweep, the master, a form.
    let set = ["render", "loop.toml", "--set", "click.eq=[{ at = 23000, gain = 1 }]"];
    refused(&desk, &set, &["23000 Hz", "48000 Hz", "--set"]);
    let mix = "[[mix]]\nname = \"high\"\nset = { \"click.eq\" = [{ at = 22000, gain = 3 }] }\n";
    desk.write("mix.toml", head.clone() + &bell("1000") + mix);
    desk.run(&["render", "mix.toml"]).assert_done();
    refused(
        &desk,
        &["render", "mix.toml", "--mix", "high"],
        &["22000 Hz", "mix.toml:"],
    );
    refused(&desk, &["render", "mix.toml", "--mixes"], &["22000 Hz", "mix.toml:"]);
    let sweep = "[[sweep]]\nkey = \"click.eq.1.at\"\nbars = \"1\"\nfrom = 1000\nto = 22500\n";
    desk.write("sweep.toml", head.clone() + &bell("1000") + sweep);
    refused(&desk, &["render", "sweep.toml"], &["22500 Hz", "sweep.toml:"]);
    desk.write("master.toml", head + "[master]\neq = [{ at = 24000, gain = -3 }]\n");
    for command in ["render", "check"] {
        refused(&desk, &[command, "master.toml"], &["24000 Hz", "master.toml:"]);
    }
    desk.write(
        "form.toml",
        "[form]\ntitle = \"Tides\"\n[[section]]\nname = \"one\"\nloop = \"master.toml\"\n",
    );
    refused(&desk, &["render", "form.toml"], &["24000 Hz", "master.toml:"]);
    desk.run(&["render", "master.toml", "--rate", "96000"]).assert_done();
}
