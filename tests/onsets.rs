//! Hits land on their time, to the sample, however long the loop is and however it is counted.

use crate::support::{Desk, assert_near, click, tab, wav::Wav};

/// Where clicks are: frames louder than any rounding.
fn clicks(sound: &Wav) -> Vec<usize> {
    (0..sound.frames()).filter(|i| sound.left()[*i].abs() > 0.01).collect()
}

/// Asserts that there is one click for each time in seconds, each within one sample.
#[track_caller]
fn assert_clicks(sound: &Wav, seconds: &[f64]) {
    let found = clicks(sound);
    assert_eq!(
        found.len(),
        seconds.len(),
        "clicks at {:?} …",
        &found[..found.len().min(40)]
    );
    for (frame, seconds) in found.iter().zip(seconds) {
        assert_near(*frame as f64, seconds * f64::from(sound.rate), 1.0, "a click's frame");
    }
}

fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("click.wav", &[click()]);
    desk
}

#[test]
fn nothing_drifts_over_200_bars_at_an_odd_tempo() {
    let (sound, told) = desk().render_with(&tab("97.3", 200, "click X-X- X-X- X-X- X-X-"), &["--depth", "16"]);
    let eighths: Vec<f64> = (0..1600).map(|n| f64::from(n) * 30.0 / 97.3).collect();
    assert_clicks(&sound, &eighths);
    assert_eq!(told["hits"], 1600);
    assert_eq!(sound.frames() as f64, (800.0 * 60.0 / 97.3 * 48000.0f64).round());
}

#[test]
fn marks_share_the_bar_however_many_there_are() {
    let desk = desk();
    for (marks, count) in [
        ("xxxxx", 5),
        ("xxx xxx xxx xxx", 12),
        ("xxxxxxx", 7),
        ("xxxx xxxx xxxx xxxx", 16),
    ] {
        let sound = desk.render(&tab("101", 1, &format!("click {marks}")));
        let bar = 240.0 / 101.0;
        let times: Vec<f64> = (0..count).map(|n| bar * f64::from(n) / f64::from(count)).collect();
        assert_clicks(&sound, &times);
    }
}

#[test]
fn braces_fit_their_marks_into_one_group_or_one_step() {
    let desk = desk();
    let sound = desk.render(&tab("60", 1, "click x--- {xxx} x--{xx} ----"));
    let times = [0.0, 1.0, 1.0 + 1.0 / 3.0, 1.0 + 2.0 / 3.0, 2.0, 2.75, 2.875];
    assert_clicks(&sound, &times);
}

#[test]
fn swing_bends_all_that_lies_in_a_pair() {
    let desk = desk();
    for (swing, of, pair) in [("62", "1/16", 0.5), ("66.7", "1/8", 1.0), ("57.5", "1/8", 1.0)] {
        let text = tab("118", 2, "click xxxx xxxx xxxx xxxx xxxx xxxx xxxx xxxx")
            + &format!("[feel]\nswing = {swing}\nswing_of = \"{of}\"\n");
        let share = swing.parse::<f64>().expect("a percentage") / 100.0;
        // Thirty-seconds, in quarters; a pair is two of the notes that swing.
        let swung = |n: u32| {
            let at = f64::from(n) * 0.125;
            let (start, inside) = ((at / pair).floor() * pair, (at / pair).fract());
            let bent = if inside < 0.5 {
                inside * 2.0 * share
            } else {
                share + (inside - 0.5) * 2.0 * (1.0 - share)
            };
            (start + bent * pair) * 60.0 / 118.0
        };
        let times: Vec<f64> = (0..64).map(swung).collect();
        assert_clicks(&desk.render(&text), &times);
    }
}

#[test]
fn metres_count_what_they_say() {
    let desk = desk();
    let render = |head: &str, marks: &str, bars: u32| {
        desk.render(&format!(
            "[loop]\nbars = {bars}\n{head}\n[tab]\n\"all\" = \"click {marks}\"\n"
        ))
    };
    // Seven eighths: three and a half quarters a bar.
    let sound = render("tempo = 133\nmetre = \"7/8\"", "x------", 8);
    let times: Vec<f64> = (0..8).map(|n| f64::from(n) * 3.5 * 60.0 / 133.0).collect();
    assert_clicks(&sound, &times);
    assert_eq!(sound.frames() as f64, (28.0 * 60.0 / 133.0 * 48000.0f64).round());
    // A felt 6/8: the tempo counts dotted quarters, two a bar.
    let sound = render("tempo = 56\nmetre = \"6/8\"\nbeat = \"1/4 dotted\"", "x--x-x", 3);
    let beat = 60.0 / 56.0;
    let bar = [0.0, 1.0, 5.0 / 3.0];
    let times: Vec<f64> = (0..3)
        .flat_map(|n| bar.map(|at| (2.0 * f64::from(n) + at) * beat))
        .collect();
    assert_clicks(&sound, &times);
}

#[test]
fn bars_cut_the_score() {
    let desk = desk();
    let text = "[loop]\ntempo = 90\nbars = 6\n[tab]\n\"all\" = \"click x---\"\n\"3\" = \"click xx--\"\n\"4\" = \"click --x-\"\n";
    let (sound, told) = desk.render_with(text, &["--bars", "3-5"]);
    let beat = 60.0 / 90.0;
    assert_clicks(&sound, &[0.0, beat, 6.0 * beat, 8.0 * beat]);
    assert_eq!(told["hits"], 4);
    assert_eq!(sound.frames(), 384_000);
}

#[test]
fn behind_moves_a_part_and_written_shifts_a_hit() {
    let desk = desk();
    let sound = desk.render(&(tab("120", 1, "click -x--") + "[[part]]\nname = \"click\"\nbehind = 15\n"));
    assert_clicks(&sound, &[0.515]);
    let text = "[loop]\ntempo = 120\nbars = 1\n[[part]]\nname = \"click\"\n\
                hits = [\"1 X\", \"2& x +12ms\", \"4a g -8ms\"]\n";
    let sound = desk.render(text);
    assert_clicks(&sound, &[0.0, 0.762, 1.867]);
    // In a loop that repeats, what comes ahead of the first beat sounds at the loop's end.
    let sound = desk.render(&(tab("120", 1, "click x---") + "[[part]]\nname = \"click\"\nbehind = -20\n"));
    assert_clicks(&sound, &[1.98]);
}

#[test]
fn the_longest_gaps_of_an_even_spread_come_last() {
    let desk = desk();
    // Toussaint, BRIDGES 2005 [memory]; rotated as the design asks: a hit first, the longest gaps last.
    for (spread, steps, marks) in [
        ("3 in 8", 8, "x--x--x-"),
        ("5 in 8", 8, "x-xx-xx-"),
        ("7 in 12", 12, "x-xx-x-xx-x-"),
        ("5 in 16", 16, "x--x--x--x--x---"),
        ("4 in 9", 9, "x-x-x-x--"),
    ] {
        let text = format!("[loop]\ntempo = 120\nbars = 1\n[[part]]\nname = \"click\"\nhits = \"{spread}\"\n");
        let times: Vec<f64> = (0..steps)
            .filter(|n| marks.as_bytes()[*n] == b'x')
            .map(|n| 2.0 * n as f64 / steps as f64)
            .collect();
        assert_clicks(&desk.render(&text), &times);
    }
}

#[test]
fn a_form_begins_at_its_first_frame_and_its_rounds_do_not_drift() {
    let desk = desk();
    // A bar of 118,396.71 frames: rounds begin between samples.
    desk.write("loop.toml", tab("97.3", 1, "click x-x-"));
    desk.write(
        "form.toml",
        "[form]\n[[section]]\nname = \"a\"\nloop = \"loop.toml\"\ntimes = 3\n\
         [[section]]\nname = \"b\"\nloop = \"loop.toml\"\ntimes = 20\n",
    );
    let (sound, _) = desk.render_file("form.toml", &[]);
    let times: Vec<f64> = (0..46).map(|n| f64::from(n) * 120.0 / 97.3).collect();
    assert_clicks(&sound, &times);
    assert_eq!(clicks(&sound)[0], 0);
}
