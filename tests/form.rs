//! A form strings loops together: to the sample, through changes of tempo, with what rings ringing on.

mod support;

use support::wav::Wav;
use support::{Desk, RATE, assert_near, click, meter, tab, tone};

/// Verse: 2 bars of 4/4 at 120 (2 s each); its kick on the one and its hat on two and four; bar 2 has a snare on four.
const VERSE: &str = "[loop]\nkit = '.'\ntempo = 120\nbars = 2\n[tab]\nall = '''\nkick X---\nhat -x-x\n'''\n'2' = 'snare ---X'\n[[part]]\nname = 'hat'\nbus = 'tops'\n[[bus]]\nname = 'tops'\n[[mix]]\nname = 'no snare'\nset = { 'snare.gain' = -120 }\n";
/// Chorus: 1 bar of 3/4 at 90 (2 s), a clap on each.
const CHORUS: &str = "[loop]\nkit = '.'\ntempo = 90\nmetre = '3/4'\nbars = 1\n[tab]\nall = 'clap xxx'\n";

fn desk() -> Desk {
    let desk = Desk::new();
    for piece in ["kick", "snare", "hat", "clap"] {
        desk.one_shot(&format!("{piece}.wav"), &[click()]);
    }
    desk.one_shot("gong.wav", &[tone(500.0, 3.0, 0.4)]);
    desk.one_shot("stopper.wav", &[click()]);
    desk.write("verse.toml", VERSE);
    desk.write("chorus.toml", CHORUS);
    desk
}

/// A form's text: the keys of `[form]`, then its sections' tables.
fn form(keys: &str, sections: &[&str]) -> String {
    let sections: String = sections
        .iter()
        .map(|section| format!("[[section]]\n{section}\n"))
        .collect();
    format!("[form]\n{keys}\n{sections}[master]\nceiling = 'off'\n")
}

fn render(keys: &str, sections: &[&str], options: &[&str]) -> Wav {
    let desk = desk();
    desk.write("form.toml", form(keys, sections));
    desk.render_file("form.toml", options).0
}

/// The frames at which clicks stand.
fn clicks(sound: &Wav) -> Vec<usize> {
    let left = sound.left();
    (0..left.len()).filter(|frame| left[*frame].abs() > 1e-3).collect()
}

/// Frames of seconds.
fn at(seconds: &[f64]) -> Vec<usize> {
    seconds
        .iter()
        .map(|second| (second * f64::from(RATE)).round() as usize)
        .collect()
}

const V: &str = "loop = 'verse.toml'";
const C: &str = "loop = 'chorus.toml'";

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
fn a_pickup_leads_in_and_a_last_hit_ends_it() {
    // A quarter of lead-in: the snare and hat of bar 2's last beat; then 2 bars; then the one of bar 1, the kick alone.
    let sound = render("pickup = '1/4'\nend = 'hit'", &[V], &[]);
    assert_eq!(clicks(&sound), at(&[0.0, 0.5, 1.0, 2.0, 2.5, 3.0, 4.0, 4.5]));
    assert!(
        meter::peak(&sound.left()[..1]) > meter::peak(&sound.left()[at(&[2.0])[0]..at(&[2.0])[0] + 1]),
        "the pickup has the snare"
    );
    // Damped, the last hit's beat is the end: half a second.
    let damped = render("pickup = '1/4'\nend = 'hit'\nending = 'damp'", &[V], &[]);
    assert_eq!(damped.left().len(), at(&[5.0])[0]);
    // A last hit of a section that begins at bar 2 is what stands on bar 2's one.
    let second = render("end = 'hit'", &[C, "loop = 'verse.toml'\nbars = '2'"], &[]);
    assert_eq!(clicks(&second).last(), Some(&at(&[4.0])[0]));
    // In rounds, the pickup comes before the first and the hit after the last.
    let rounds = render("pickup = '1/4'\nend = 'hit'\nending = 'damp'", &[V], &["--repeat", "3"]);
    assert_eq!(rounds.left().len(), at(&[13.0])[0]);
}

#[test]
fn bars_count_over_the_whole_form_without_its_pickup() {
    let sections = ["loop = 'verse.toml'\ntimes = 2", C, V];
    // Bar 4 is the verse's second bar, bar 5 the chorus, bar 6 the verse again.
    let cut = render(
        "pickup = '1/4'\nend = 'hit'",
        &sections,
        &["--bars", "4-6", "--ending", "damp"],
    );
    let third = 2.0 / 3.0;
    assert_eq!(
        clicks(&cut),
        at(&[0.0, 0.5, 1.5, 2.0, 2.0 + third, 2.0 + 2.0 * third, 4.0, 4.5, 5.5])
    );
    assert_eq!(cut.left().len(), at(&[6.0])[0]);
    let desk = desk();
    desk.write("form.toml", form("", &sections));
    let wrong = desk.run(&["render", "form.toml", "--bars", "7-8"]);
    assert_eq!(wrong.code, Some(1));
    assert!(
        wrong.err.contains("bars 7-8 are not in this form, which has bars 1-7"),
        "{}",
        wrong.err
    );
}

#[test]
fn it_fades_in_and_out_over_bars_by_the_square_of_the_time() {
    let desk = desk();
    let eighths = "kick xxxxxxxx";
    desk.write("even.toml", tab("120", 2, eighths));
    desk.write(
        "form.toml",
        form("fade = { in = 1, out = 2 }", &["loop = 'even.toml'\ntimes = 2"]),
    );
    let (sound, _) = desk.render_file("form.toml", &[]);
    let left = sound.left();
    assert_eq!(left.len(), at(&[8.0])[0], "nothing rings out of a fade");
    let full = f64::from(left[at(&[3.0])[0]]);
    for eighth in 0..32 {
        let moment = f64::from(eighth) / 4.0;
        let (up, down) = ((moment / 2.0).min(1.0), ((8.0 - moment) / 4.0).min(1.0));
        let peak = f64::from(left[at(&[moment])[0]]);
        assert_near(peak, full * up * up * down * down, 1e-6, format!("at {moment} s"));
    }
    // A cut fades as the whole form does there.
    let (cut, _) = desk.render_file("form.toml", &["--bars", "4"]);
    assert_near(f64::from(cut.left()[0]), full * 0.25, 1e-6, "half way down");
}

#[test]
fn endings_damp_repeat_and_let_ring() {
    let desk = desk();
    desk.write("gong.toml", tab("120", 1, "gong ---x"));
    desk.write(
        "form.toml",
        form("pickup = '1/4'\nend = 'hit'", &[V, "loop = 'gong.toml'"]),
    );
    let (ring, _) = desk.render_file("form.toml", &["--repeat", "2"]);
    let (damp, _) = desk.render_file("form.toml", &["--ending", "damp"]);
    let (circle, _) = desk.render_file("form.toml", &["--ending", "repeat"]);
    assert_eq!(damp.left().len(), at(&[7.0])[0]);
    // Round a circle there is neither pickup nor last hit, and the gong rings on at the beginning.
    assert_eq!(circle.left().len(), at(&[6.0])[0]);
    assert!(meter::db(meter::peak(&circle.left()[at(&[0.1])[0]..at(&[0.4])[0]])) > -20.0);
    assert!(circle.chunk(b"smpl").is_some(), "it carries its loop points");
    let (twice, _) = desk.render_file("form.toml", &["--ending", "repeat", "--repeat", "2"]);
    assert_eq!(twice.left(), [circle.left(), circle.left()].concat());
    // The second round of a line: its first bar has the gong of the first round over it, and is what the circle has.
    let (from, to) = (at(&[6.6])[0], at(&[12.4])[0]);
    let off = ring.left()[from..to]
        .iter()
        .zip(&circle.left()[at(&[0.1])[0]..])
        .fold(0f32, |most, (a, b)| most.max((a - b).abs()));
    assert!(off < 1e-6, "{off}");
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

#[test]
fn errors_point_at_the_word() {
    let desk = desk();
    let wrong = |keys: &str, sections: &[&str], what: &str, line: &str| {
        desk.write("form.toml", form(keys, sections));
        let answer = desk.run(&["render", "form.toml"]);
        assert_eq!(answer.code, Some(1), "{what}");
        assert!(answer.err.contains(what) && answer.err.contains(line), "{}", answer.err);
        assert_eq!(desk.names("renders"), Vec::<String>::new());
    };
    wrong("", &["loop = 'vers.toml'"], "vers.toml can't be read", "form.toml:4:9");
    wrong(
        "",
        &["loop = 'verse.toml'\nbars = '2-3'"],
        "bars 2-3 are not in this section's loop, which has bars 1-2",
        "form.toml:5:9",
    );
    wrong(
        "",
        &["loop = 'verse.toml'\nbars = '2-1'"],
        "bars 2-1 run backwards",
        "form.toml:5:9",
    );
    wrong(
        "",
        &["loop = 'verse.toml'\nbars = 'all of it'"],
        "`all of it` names no bars",
        "form.toml:5:9",
    );
    wrong(
        "",
        &["loop = 'verse.toml'\nmute = ['kick', 'snar']"],
        "verse has no part or bus called `snar`",
        "form.toml:5:18",
    );
    wrong(
        "",
        &["loop = 'verse.toml'\nonly = 'clap'"],
        "verse has no part or bus called `clap`",
        "form.toml:5:9",
    );
    wrong(
        "",
        &["loop = 'verse.toml'\nset = { 'bass.gain' = 1 }"],
        "there is no part, bus or table called `bass`",
        "form.toml:5:10",
    );
    wrong(
        "pickup = '64/1'",
        &[V],
        "the pickup is longer than what the first section plays",
        "form.toml:2:10",
    );
    wrong(
        "fade = { out = 3 }",
        &[V],
        "the form fades out over 3 bars, but has only 2",
        "form.toml:2:8",
    );
    wrong(
        "end = 'hit'\nfade = { out = 1 }",
        &[V],
        "a form that fades out has no last hit",
        "form.toml:3:8",
    );
    wrong("end = 'bang'", &[V], "`end` is one of \"hit\"", "form.toml:2:7");
}

#[test]
fn check_tells_what_a_form_may_not_mean() {
    let desk = desk();
    desk.write(
        "gap.toml",
        "[loop]\ntempo = 120\nbars = 4\n[tab]\n'1,3-4' = 'kick -xxx'\n",
    );
    let hints = |keys: &str, sections: &[&str]| {
        desk.write("form.toml", form(keys, sections));
        let answer = desk.run(&["check", "form.toml"]);
        answer.assert_done();
        answer.err
    };
    assert!(hints("", &["name = 'A'\nloop = 'gap.toml'"]).contains("nothing of `A` plays in bar 2 of its loop"));
    assert!(hints("", &["name = 'A'\nloop = 'gap.toml'\nbars = '2'"]).contains("nothing is heard in `A`"));
    assert!(
        hints(
            "",
            &["name = 'A'\nloop = 'verse.toml'\nmute = ['kick', 'tops', 'snare']"]
        )
        .contains("nothing is heard in `A`")
    );
    assert!(
        hints("end = 'hit'", &["name = 'A'\nloop = 'gap.toml'"])
            .contains("nothing of `A` stands on the one of its first bar")
    );
    assert!(
        hints("pickup = '1/4'", &["name = 'A'\nloop = 'gap.toml'\nbars = '1-2'"]).contains("`A` ends with silence")
    );
    assert!(hints("pickup = '1/4'\nending = 'repeat'", &[V]).contains("it is played without its pickup"));
    let twice = hints("", &["loop = 'gap.toml'\nbars = '3'", "loop = 'gap.toml'\nbars = '4'"]);
    assert_eq!(twice.matches("which none of its lines names").count(), 1, "{twice}");
    assert_eq!(hints("", &[C, C]), "");
}

#[test]
fn check_says_that_a_form_leaves_out_what_moves_in_a_loops_master() {
    let desk = desk();
    let sweep = "[[sweep]]\nkey = 'master.gain'\nbars = '1-2'\nfrom = -6\nto = 0\n";
    desk.write("verse.toml", format!("{VERSE}{sweep}"));
    desk.write(
        "form.toml",
        form("title = 'Moving'", &["name = 'A'\nloop = 'verse.toml'"]),
    );
    let answer = desk.run(&["check", "form.toml"]);
    assert_eq!(answer.code, Some(0), "{}", answer.err);
    assert!(
        answer.err.contains("sweeps of the master of `A` are left out"),
        "{}",
        answer.err
    );
}
