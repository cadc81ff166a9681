//! A form's sections mute, single out, set and sweep, and options reach them.

use crate::support::form::{C, V, at, clicks, desk, form};
use crate::support::{assert_near, meter};

#[test]
fn sections_mute_single_out_and_set() {
    let peaks = |section: &str| -> Vec<f64> {
        let desk = desk();
        desk.write("form.toml", form("", &[section]));
        let (sound, told) = desk.render_file("form.toml", &[]);
        assert_eq!(told["parts"].as_array().map(Vec::len), Some(3));
        let left = sound.left();
        // Kick on the one, hat on two, snare on the last four of bar 2 with the hat.
        [0.0, 0.5, 3.5]
            .iter()
            .map(|moment| f64::from(left[at(&[*moment])[0]].abs()))
            .collect()
    };
    let plain = peaks(V);
    assert!(plain.iter().all(|peak| *peak > 0.05));
    let muted = peaks("loop = 'verse.toml'\nmute = ['kick', 'tops']");
    assert_eq!((muted[0], muted[1]), (0.0, 0.0));
    assert!(muted[2] > 0.05 && muted[2] < plain[2]);
    let only = peaks("loop = 'verse.toml'\nonly = 'tops'");
    assert_eq!((only[0], only[1]), (0.0, plain[1]));
    let set = peaks("loop = 'verse.toml'\nset = { 'kick.gain' = -6, tops.gain = 3 }");
    assert_near(meter::db(set[0]) - meter::db(plain[0]), -6.0, 0.01, "kick");
    assert_near(meter::db(set[1]) - meter::db(plain[1]), 3.0, 0.01, "hat, by its bus");
}

#[test]
fn a_sweep_goes_with_the_loops_bars_in_each_round_and_behind_a_pickup() {
    let desk = desk();
    let text = "[loop]\ntempo = 120\nbars = 2\n[tab]\nall = 'gong x---'\n[[part]]\nname = 'gong'\nchoke = 'stand'\n[[sweep]]\nkey = 'gong.gain'\nbars = '1-2'\nfrom = -20\nto = 0\n";
    desk.write("swell.toml", text);
    let levels = |keys: &str, sections: &str, lead: f64| -> Vec<f64> {
        desk.write("form.toml", form(keys, &[sections]));
        let (sound, _) = desk.render_file("form.toml", &[]);
        let level = |bar: f64| {
            let from = at(&[lead + 2.0 * bar + 0.1])[0];
            meter::db(meter::peak(&sound.left()[from..from + 200]))
        };
        [0.0, 1.0, 2.0, 3.0].map(level).to_vec()
    };
    let plain = levels("", "loop = 'swell.toml'\ntimes = 2", 0.0);
    assert_near(plain[1] - plain[0], 10.0, 0.1, "half way up in bar 2");
    assert_near(plain[2] - plain[0], 0.0, 0.1, "the second round begins anew");
    let led = levels("pickup = '1/4'", "loop = 'swell.toml'\ntimes = 2", 0.5);
    let second = levels("", "loop = 'swell.toml'\nbars = '2'\ntimes = 4", 0.0);
    for bar in 0..4 {
        assert_near(led[bar] - plain[bar], 0.0, 0.1, "a pickup moves it");
        assert_near(
            second[bar] - plain[1],
            0.0,
            0.1,
            "bar 2 alone is as loud as in the loop",
        );
    }
}

#[test]
fn options_reach_the_sections() {
    let desk = desk();
    desk.write("form.toml", form("ending = 'damp'", &[V, C]));
    let clicks_with = |options: &[&str]| clicks(&desk.render_file("form.toml", options).0);
    let third = 2.0 / 3.0;
    let chorus = at(&[4.0, 4.0 + third, 4.0 + 2.0 * third]);
    assert_eq!(clicks_with(&["--only", "clap"]), chorus);
    assert_eq!(clicks_with(&["--only", "tops"]), at(&[0.5, 1.5, 2.5, 3.5]));
    assert_eq!(clicks_with(&["--without", "clap,tops,snare"]), at(&[0.0, 2.0]));
    assert_eq!(clicks_with(&["--only", "snare", "--mix", "no snare"]), at(&[]));
    assert_eq!(
        clicks_with(&["--only", "kick", "--set", "loop.tempo=60"]),
        at(&[0.0, 4.0])
    );
    assert_eq!(
        desk.render_file("form.toml", &["--set", "form.pickup=1/1"])
            .0
            .left()
            .len(),
        at(&[8.0])[0]
    );
}
