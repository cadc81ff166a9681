//! A form strings loops together: to the sample, through changes of tempo, with what rings ringing on.

use crate::support::form::{C, V, at, clicks, desk, form, render};
use crate::support::{RATE, assert_near, meter, tab};

#[test]
fn sections_follow_one_another_to_the_sample_through_tempos_and_metres() {
    let sound = render(
        "ending = 'damp'",
        &["loop = 'verse.toml'\nbars = '1'\ntimes = 2", C, V],
        &[],
    );
    let third = 2.0 / 3.0;
    let verse = [0.0, 0.5, 1.5, 2.0, 2.5, 3.5];
    let chorus = [4.0, 4.0 + third, 4.0 + 2.0 * third];
    let again = [6.0, 6.5, 7.5, 8.0, 8.5, 9.5];
    assert_eq!(clicks(&sound), at(&[&verse[..], &chorus, &again].concat()));
    assert_eq!(sound.left().len(), 10 * RATE as usize);
}

#[test]
fn odd_tempos_never_drift() {
    let desk = desk();
    desk.write("odd.toml", "[loop]\ntempo = 97.3\nbars = 3\n[tab]\nall = 'kick x---'\n");
    desk.write(
        "form.toml",
        form(
            "ending = 'damp'",
            &["loop = 'odd.toml'\ntimes = 9", C, "loop = 'odd.toml'"],
        ),
    );
    let (sound, _) = desk.render_file("form.toml", &[]);
    let bar = 240.0 / 97.3;
    let mut wanted: Vec<f64> = (0..27).map(|count| f64::from(count) * bar).collect();
    wanted.extend((0..3).map(|count| 27.0 * bar + f64::from(count) * 2.0 / 3.0));
    wanted.extend((0..3).map(|count| 27.0 * bar + 2.0 + f64::from(count) * bar));
    assert_eq!(clicks(&sound), at(&wanted));
    assert_eq!(sound.left().len(), at(&[30.0 * bar + 2.0])[0]);
}

#[test]
fn what_rings_at_a_sections_end_rings_on_whatever_its_loop_does() {
    let desk = desk();
    desk.write(
        "gong.toml",
        "[loop]\ntempo = 120\nbars = 1\nending = 'damp'\n[tab]\nall = 'gong ---x'\n",
    );
    desk.write(
        "form.toml",
        form(
            "",
            &["loop = 'gong.toml'", "loop = 'verse.toml'\nonly = 'snare'\nbars = '1'"],
        ),
    );
    let (sound, _) = desk.render_file("form.toml", &[]);
    // Struck at 1.5 s, the gong rings 3 s: over the barline at 2 s and past the last bar at 4 s.
    let level = |from: f64, to: f64| meter::db(meter::peak(&sound.left()[at(&[from])[0]..at(&[to])[0]]));
    assert_near(
        level(2.1, 3.9),
        level(1.6, 1.9),
        0.1,
        "it rings through the next section",
    );
    assert_near(level(4.1, 4.4), level(1.6, 1.9), 0.1, "and out after the last bar");
    assert_near(
        sound.left().len() as f64 / f64::from(RATE),
        4.6,
        0.01,
        "let ring ends 100 ms after the sound",
    );
}

#[test]
fn a_hit_of_the_next_section_stops_one_of_its_choke_group() {
    let desk = desk();
    let part = |name: &str| format!("[[part]]\nname = '{name}'\nchoke = 'stand'\n");
    desk.write("gong.toml", tab("120", 1, "gong ---x") + &part("gong"));
    desk.write("stop.toml", tab("120", 1, "stopper -x--") + &part("stopper"));
    desk.write("form.toml", form("", &["loop = 'gong.toml'", "loop = 'stop.toml'"]));
    let (sound, _) = desk.render_file("form.toml", &[]);
    let level = |from: f64, to: f64| meter::db(meter::peak(&sound.left()[at(&[from])[0]..at(&[to])[0]]));
    assert!(level(2.1, 2.49) > -20.0, "it rings over the barline");
    assert!(level(2.506, 2.6) < -100.0, "until the second beat");
}

#[test]
fn hits_ahead_of_a_sections_first_bar_sound_in_the_section_before() {
    let desk = desk();
    desk.write(
        "early.toml",
        "[loop]\ntempo = 120\nbars = 1\n[tab]\nall = 'snare x---'\n[[part]]\nname = 'snare'\nbehind = -10\n",
    );
    desk.write(
        "form.toml",
        form("", &["loop = 'early.toml'", "loop = 'early.toml'\ntimes = 2"]),
    );
    let (sound, _) = desk.render_file("form.toml", &[]);
    assert_eq!(
        clicks(&sound),
        at(&[0.0, 1.99, 3.99]),
        "the very first sounds at the first sample"
    );
    desk.write("form.toml", form("pickup = '1/2'", &["loop = 'early.toml'"]));
    let (sound, _) = desk.render_file("form.toml", &[]);
    assert_eq!(clicks(&sound), at(&[0.99]), "or in the pickup");
}

#[test]
fn chance_is_the_same_take_each_time_round_and_three_times_round_is_the_circle() {
    let desk = desk();
    let text = "[loop]\ntempo = 120\nbars = 2\n[tab]\nall = 'kick xxxx xxxx'\n[[part]]\nname = 'kick'\nvelocity = '30-120'\nroom = -10\n[master]\nceiling = 'off'\n";
    desk.write("verse.toml", text);
    desk.write(
        "form.toml",
        form("ending = 'damp'", &["loop = 'verse.toml'\ntimes = 3"]),
    );
    let (three, _) = desk.render_file("form.toml", &[]);
    let round = at(&[4.0])[0];
    let off = |a: &[f32], b: &[f32]| a.iter().zip(b).fold(0f32, |most, (a, b)| most.max((a - b).abs()));
    let (circle, _) = desk.render_file("verse.toml", &["--ending", "repeat"]);
    let apart = off(&three.left()[round..2 * round], circle.left());
    assert!(apart < 1e-5, "{apart}");
    let (other, _) = desk.render_file("form.toml", &["--seed", "5"]);
    assert!(off(three.left(), other.left()) > 0.01, "--seed reaches the sections");
}
