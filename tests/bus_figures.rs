//! Figures of each bus: what is lost in mono on one bus shows, however little the whole mix loses.

use serde_json::Value;

use crate::support::{Desk, RATE, assert_near, click};

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

/// A kit of two tones a second long: a horn's at 625 Hz with its octave below, and a bass that is much louder.
fn desk() -> Desk {
    let desk = Desk::new();
    let tone = |parts: &[(f64, f32)]| -> Vec<f32> {
        (0..RATE as usize)
            .map(|n| {
                let at = |(hertz, height): &(f64, f32)| {
                    height * (std::f64::consts::TAU * hertz * n as f64 / f64::from(RATE)).sin() as f32
                };
                // Fades at both ends, so that nothing but the tones is heard.
                let fade = (n.min(RATE as usize - n) as f32 / 2400.0).min(1.0);
                fade * parts.iter().map(at).sum::<f32>()
            })
            .collect()
    };
    desk.one_shot("horn.wav", &[tone(&[(625.0, 0.1), (250.0, 0.03)])]);
    desk.one_shot("low.wav", &[tone(&[(80.0, 0.6)])]);
    desk.one_shot("click.wav", &[click()]);
    desk
}

fn song(horns: &str, more: &str) -> String {
    format!(
        "[loop]\ntempo = 60\nbars = 1\n[tab]\nall = \"\"\"\nhorn x-x-\nlow xxxx\n\"\"\"\n\
         [[part]]\nname = \"horn\"\nbus = \"horns\"\n[[part]]\nname = \"low\"\nbus = \"rhythm\"\n\
         [[bus]]\nname = \"horns\"\n{horns}\n[[bus]]\nname = \"rhythm\"\n{more}\n"
    )
}

#[test]
fn a_notch_in_one_bus_shows_where_the_mixs_figure_hides_it() {
    let desk = desk();
    // 12 ms are seven periods and a half of 625 Hz, and three of 250 Hz: in mono the first is gone, the second whole.
    let (_, told) = desk.render_with(&song("spread = 12", ""), &[]);
    let [horns, rhythm] = [0, 1].map(|bus| &told["buses"][bus]);
    assert_eq!(
        (&horns["name"], &rhythm["name"]),
        (&Value::from("horns"), &Value::from("rhythm"))
    );
    assert_eq!(number(&horns["mono_loss_octave_hz"]), 500.0);
    assert!(number(&horns["mono_loss_octave_db"]) > 15.0, "{horns}");
    assert!(number(&horns["mono_loss_db"]) > 6.0, "{horns}");
    assert_near(
        number(&rhythm["mono_loss_db"]),
        0.0,
        1e-6,
        "what is the same on both sides",
    );
    assert_eq!(rhythm["mono_loss_octave_hz"], Value::Null);
    assert_near(number(&rhythm["width_percent"]), 0.0, 1e-3, "the width of mono");
    let measured = desk.run(&["measure", "out.wav", "--json"]);
    let measured: Value = serde_json::from_str(&measured.out).expect("JSON");
    let mix = number(&measured[0]["mono_loss_db"]);
    assert!(mix < 0.3, "the mix hides it: {mix}");
    let (_, dry) = desk.render_with(&song("", ""), &[]);
    assert_near(
        number(&dry["buses"][0]["mono_loss_db"]),
        0.0,
        1e-6,
        "without the spread",
    );
}

#[test]
fn peak_and_loudness_are_the_buss_own() {
    let desk = desk();
    let (sound, told) = desk.render_with(&song("gain = -3", "gain = 2"), &["--without", "low"]);
    // The master does nothing: what the bus gives is what is written.
    let peak = sound
        .channels
        .iter()
        .flatten()
        .fold(0.0f32, |most, sample| most.max(sample.abs()));
    let horns = &told["buses"][0];
    assert_near(
        number(&horns["peak_db"]),
        20.0 * f64::from(peak).log10(),
        0.01,
        "the peak",
    );
    assert_near(number(&horns["lufs"]), number(&told["lufs"]), 0.01, "the loudness");
    let silent = &told["buses"][1];
    for figure in [
        "peak_db",
        "lufs",
        "width_percent",
        "mono_loss_db",
        "mono_loss_octave_hz",
        "mono_loss_octave_db",
    ] {
        assert_eq!(silent[figure], Value::Null, "{figure}");
    }
}

#[test]
fn the_compressor_tells_what_is_heard_after_blend_and_the_ceiling_by_itself() {
    let desk = desk();
    let reductions = |strip: &str| {
        let (_, told) = desk.render_with(&song("", strip), &[]);
        let bus = told["buses"][1].clone();
        ["gain_reduction_db", "compressor_reduction_db", "ceiling_reduction_db"].map(|field| number(&bus[field]))
    };
    let squeeze =
        |blend: u32| format!("compress = {{ threshold = -30, ratio = 8, attack = 1, makeup = 6, blend = {blend} }}");
    let [whole, heard, ceiling] = reductions(&squeeze(100));
    assert_near(whole, heard, 1e-9, "nothing is blended in");
    assert!(whole > 10.0 && ceiling == 0.0, "{whole} {ceiling}");
    let [deep, heard, _] = reductions(&squeeze(50));
    assert_near(deep, whole, 1e-9, "the detector does not hear the blend");
    // Half plain, half squeezed and 6 dB up: (1 + m) over (1 + m·g) for amplitudes.
    let (makeup, gain) = (10f64.powf(6.0 / 20.0), 10f64.powf(-deep / 20.0));
    assert_near(
        heard,
        20.0 * ((1.0 + makeup) / (1.0 + makeup * gain)).log10(),
        0.01,
        "what is heard",
    );
    let [whole, heard, ceiling] = reductions("gain = 10\nceiling = -6");
    assert!(
        ceiling > 3.0 && heard == 0.0 && whole == ceiling,
        "{whole} {heard} {ceiling}"
    );
}

#[test]
fn mixes_have_figures_of_their_own_and_a_form_has_each_sections() {
    let desk = desk();
    desk.write(
        "loop.toml",
        song("", "") + "[[mix]]\nname = \"wide\"\nset = { \"horns.spread\" = 12 }\n",
    );
    let answer = desk.run(&["render", "loop.toml", "-o", "out.wav", "--json", "--mixes"]);
    let told: Value = serde_json::from_str(&answer.out).expect("JSON");
    assert_near(number(&told["buses"][0]["mono_loss_db"]), 0.0, 1e-6, "as written");
    assert!(number(&told["mixes"][0]["buses"][0]["mono_loss_db"]) > 6.0);
    desk.write(
        "form.toml",
        "[form]\n[[section]]\nname = \"a\"\nloop = \"loop.toml\"\ntimes = 2\n[[section]]\nname = \"b\"\nloop = \"loop.toml\"\nset = { \"horns.spread\" = 12 }\n",
    );
    let (_, told) = desk.render_file("form.toml", &[]);
    let buses = told["buses"].as_array().expect("buses");
    let loss = |name: &str| number(&buses.iter().find(|bus| bus["name"] == *name).expect(name)["mono_loss_db"]);
    assert_near(loss("a: horns"), 0.0, 1e-6, "the first section");
    assert!(loss("b: horns") > 6.0);
}

#[test]
fn a_line_a_bus_tells_its_peak_unasked() {
    let desk = desk();
    desk.write(
        "loop.toml",
        song("gain = -3", "") + "[[mix]]\nname = \"low\"\nset = { \"horns.gain\" = -9 }\n",
    );
    let (_, told) = desk.render_file("loop.toml", &[]);
    let plain = desk.run(&["render", "loop.toml", "-o", "out.wav", "--without", "low"]);
    let of = |name: &str| {
        let lines = plain
            .out
            .lines()
            .map(|line| line.split_whitespace().collect::<Vec<_>>().join(" "));
        let found = lines.into_iter().find(|line| line.starts_with(&format!("{name} bus")));
        found.unwrap_or_else(|| panic!("{name}: {}", plain.out))
    };
    let peak = number(&told["buses"][0]["peak_db"]);
    assert_eq!(of("horns"), format!("horns bus peak {peak:.1} dB"));
    assert_eq!(of("rhythm"), "rhythm bus silent");
    // Versions that share what they make tell each its own.
    let both = desk.run(&["render", "loop.toml", "-o", "out.wav", "--mixes", "--without", "low"]);
    for peak in [peak, peak - 6.0] {
        let line = format!("peak {peak:6.1} dB");
        assert!(both.out.contains(&line), "{line}: {}", both.out);
    }
}

#[test]
fn a_table_for_people_is_asked_for_and_fits_80_columns() {
    let desk = desk();
    let compress = "compress = { threshold = -30, ratio = 8, attack = 1 }";
    desk.write("loop.toml", song("spread = 12", compress));
    let plain = desk.run(&["render", "loop.toml", "-o", "out.wav"]);
    assert!(
        plain.out.contains("compressor up to") && !plain.out.contains("LUFS  "),
        "{}",
        plain.out
    );
    let asked = desk.run(&["render", "loop.toml", "-o", "out.wav", "--figures"]);
    assert_eq!(asked.code, Some(0), "{}", asked.err);
    let row = |name: &str| {
        asked
            .out
            .lines()
            .find(|line| line.trim_start().starts_with(name))
            .map(str::to_string)
    };
    let horns = row("horns").expect("a row");
    assert!(horns.contains(" at 500 Hz"), "{}", asked.out);
    assert!(
        row("bus").is_some_and(|heads| heads.contains("compr") && heads.contains("mono")),
        "{}",
        asked.out
    );
    assert!(
        asked.out.lines().all(|line| line.chars().count() <= 80),
        "{}",
        asked.out
    );
    // The audio is the same, whoever measures.
    let first = std::fs::read(desk.path("out.wav")).expect("a WAV");
    desk.run(&["render", "loop.toml", "-o", "out.wav"]);
    assert!(first == std::fs::read(desk.path("out.wav")).expect("a WAV"));
}
