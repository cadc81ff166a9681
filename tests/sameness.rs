//! Same input, same bytes: whatever the threads, the folder and the time.

mod support;

use support::{Desk, noise, pluck, tone};

/// A loop in which much is left to chance, with every kind of effect on the way.
fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("kick_01.wav", &[pluck(60.0, 0.5, 0.8)]);
    desk.one_shot("kick_02.wav", &[pluck(62.0, 0.5, 0.8)]);
    let hiss: Vec<f32> = noise(9600, 3).iter().map(|n| *n as f32 / 65536.0).collect();
    desk.one_shot("snare.wav", &[hiss]);
    desk.one_shot("hat-closed.wav", &[tone(7000.0, 0.05, 0.3)]);
    desk.one_shot("hat-open.wav", &[tone(6500.0, 0.6, 0.3)]);
    desk.one_shot("bell.wav", &[pluck(880.0, 2.0, 0.4), pluck(881.0, 2.0, 0.4)]);
    desk.write(
        "loop.toml",
        "[loop]\ntitle = \"Harbour lights\"\ntempo = 97.3\nbars = 6\nseed = 12\n[feel]\nswing = 58\n\
         [tab]\n\"all\" = \"\"\"\nkick X--- --x- --xg ---x\nsnare ---- X--g -g-- X{xg}xx\nhat-closed xxgx xxxo xgxx x-xo\n\
         bell x--- ---g ---- --X-\n\"\"\"\n\
         [[part]]\nname = \"kick\"\nbus = \"drums\"\n[[part]]\nname = \"snare\"\nvelocity = \"70-110\"\nbus = \"drums\"\nroom = -8\nvary = { tune = 0.4, gain = 2, start = 3 }\n\
         [[part]]\nname = \"bell\"\ndelay = -6\nroom = -12\nspread = 8\n\
         [[bus]]\nname = \"drums\"\ndrive = 4\ncompress = { threshold = -20, ratio = 3 }\n[master]\ngain = 4\n",
    );
    desk
}

/// The bytes of a render on so many threads.
fn bytes(desk: &Desk, threads: &str, more: &[&str]) -> Vec<u8> {
    let arguments = [&["render", "loop.toml", "-o", "out.wav"], more].concat();
    desk.run_in(&desk.path(""), &[("RAYON_NUM_THREADS", threads)], &arguments)
        .assert_done();
    std::fs::read(desk.path("out.wav")).expect("a render")
}

#[test]
fn threads_change_no_byte() {
    let desk = desk();
    let one = bytes(&desk, "1", &[]);
    for threads in ["2", "3", "8"] {
        assert!(bytes(&desk, threads, &[]) == one, "{threads} threads");
    }
}

#[test]
fn the_folder_one_stands_in_changes_no_byte() {
    let desk = desk();
    let here = bytes(&desk, "2", &[]);
    let elsewhere = Desk::new();
    let (file, out) = (desk.path("loop.toml"), elsewhere.path("there.wav"));
    let arguments = ["render", &file.to_string_lossy(), "-o", &out.to_string_lossy()];
    elsewhere.run(&arguments).assert_done();
    assert!(std::fs::read(out).expect("a render") == here);
}

#[test]
fn a_copy_of_the_kit_in_another_order_changes_no_byte() {
    let desk = desk();
    let here = bytes(&desk, "2", &[]);
    let copy = Desk::new();
    let mut names = desk.names("");
    names.reverse();
    for name in names.iter().filter(|name| *name != "out.wav") {
        std::fs::copy(desk.path(name), copy.path(name)).expect("a copy");
    }
    assert!(bytes(&copy, "2", &[]) == here);
}

#[test]
fn what_is_told_is_the_same_but_for_the_time_it_took() {
    let desk = desk();
    let told = || {
        let (_, mut told) = desk.render_file("loop.toml", &[]);
        told["render_seconds"].take();
        told
    };
    assert_eq!(told(), told());
}

#[test]
fn another_seed_is_another_performance() {
    let desk = desk();
    let eleven = bytes(&desk, "2", &["--seed", "11"]);
    assert!(eleven == bytes(&desk, "1", &["--seed", "11"]));
    assert!(eleven != bytes(&desk, "2", &["--seed", "12"]));
    assert!(
        bytes(&desk, "2", &["--seed", "12"]) == bytes(&desk, "2", &[]),
        "the file's own seed"
    );
}
