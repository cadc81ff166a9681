//! A loop is a circle: the repeating render is what three times round as a form plays in the middle.

use crate::support::{Desk, meter, noise, pluck};

/// A bar of 96,000 samples; drums and a bell that ring over the seam, into a room and a delay, but all of it for less
/// than one round of two bars, so the middle of three rounds is the steady state.
fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("kick.wav", &[pluck(60.0, 0.7, 0.8)]);
    desk.one_shot("bell.wav", &[pluck(880.0, 1.5, 0.4), pluck(884.0, 1.5, 0.4)]);
    let hiss: Vec<f32> = noise(9600, 9)
        .iter()
        .enumerate()
        .map(|(i, n)| *n as f32 / 65536.0 * (1.0 - i as f32 / 9600.0))
        .collect();
    desk.one_shot("snare.wav", &[hiss]);
    desk
}

const DRUMS: &str = "[[bus]]\nname = \"drums\"\n";

fn text(more: &str) -> String {
    "[loop]\ntempo = 120\nbars = 2\nseed = 7\n[feel]\nswing = 57\nloose = { ms = 4, velocity = 5 }\n[tab]\n\"all\" = \"\"\"\n\
     kick   X--- --x- --x- ---x\nsnare  ---- X--g -g-- X-mb\nbell   x--- ---- ---- --X-\n\"\"\"\n\
     [[part]]\nname = \"kick\"\nbus = \"drums\"\n[[part]]\nname = \"snare\"\nbus = \"drums\"\nroom = -8\nvary = { tune = 0.3, gain = 2 }\n\
     [[part]]\nname = \"bell\"\nroom = -10\ndelay = -9\npan = 30\nlow_cut = 120\n\
     [room]\ndecay = 0.8\n[delay]\ntime = \"1/8 dotted\"\nfeedback = 25\n"
        .to_owned()
        + more
}

/// The difference between the repeating render and the middle round of three, in dBFS, the louder side.
fn null(more: &str) -> f64 {
    let desk = desk();
    let once = desk.render(&text(more));
    let frames = once.frames();
    assert_eq!(frames, 192_000);
    let form = "[form]\ntitle = \"Three times\"\n[[section]]\nname = \"a\"\nloop = \"loop.toml\"\ntimes = 3\n";
    desk.write("form.toml", form);
    let (thrice, _) = desk.render_file("form.toml", &[]);
    assert!(thrice.frames() >= 3 * frames, "{} frames", thrice.frames());
    let side = |n: usize| meter::null_db(&once.channels[n], &thrice.channels[n][frames..2 * frames]);
    assert!(meter::rms(once.left()) > 0.01, "there is something to hear");
    side(0).max(side(1))
}

#[test]
fn linear_effects_alone_null_below_90_db() {
    let difference = null("[[bus]]\nname = \"drums\"\nhigh_cut = 9000\ngain = -6\n[master]\nceiling = \"off\"\n");
    assert!(difference < -90.0, "{difference} dBFS");
}

#[test]
fn with_compressor_and_ceiling_it_nulls_below_60_db() {
    let difference = null(
        "[[bus]]\nname = \"drums\"\ncompress = { threshold = -24, ratio = 4, attack = 10, release = 160 }\ngain = 4\n\
         [master]\ngain = 6\nceiling = -1\n",
    );
    assert!(difference < -60.0, "{difference} dBFS");
}

#[test]
fn repeat_writes_the_same_round_again_and_again() {
    let desk = desk();
    let once = desk.render(&text(DRUMS));
    let (thrice, _) = desk.render_with(&text(DRUMS), &["--repeat", "3"]);
    assert_eq!(thrice.frames(), 3 * once.frames());
    for round in 0..3 {
        let from = round * once.frames();
        let same = thrice.left()[from..from + once.frames()] == *once.left();
        assert!(same, "round {round}");
    }
}

#[test]
fn what_rings_over_the_seam_is_not_cut() {
    // Struck on the last beat of 2 s, it rings for 1.5 s: most of that lies at the loop's start.
    let desk = Desk::new();
    let bell = pluck(700.0, 1.5, 0.5);
    desk.one_shot("bell.wav", &[bell.clone(), bell.clone()]);
    let sound = desk.render(&crate::support::tab("120", 1, "bell ---9"));
    assert!(meter::null_db(&sound.left()[..48000], &bell[24000..]) < -100.0);
    assert!(meter::null_db(&sound.left()[72000..], &bell[..24000]) < -100.0);
}
