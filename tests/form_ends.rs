//! How a form begins and ends: its pickup, its last hit, its fades, its ending, and cuts of its bars.

use crate::support::form::{C, V, at, clicks, desk, form, render};
use crate::support::{assert_near, meter, tab};

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
