//! Same input, same bytes: whatever the threads, the folder and the time.

use crate::support::{Desk, noise, pluck, tone};

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
fn the_order_in_which_a_folder_was_filled_changes_no_byte() {
    // A new folder lists files in an order of its own; so do folders that were filled in several orders.
    let known = bytes(&desk(), "2", &[]);
    let names = desk().names("");
    for turn in [1, 2, 3, 5] {
        let (from, copy) = (desk(), Desk::new());
        for n in 0..names.len() {
            let name = &names[n * turn % names.len()];
            std::fs::copy(from.path(name), copy.path(name)).expect("a copy");
        }
        // Every name once, as the turn has no factor in common with how many there are.
        assert_eq!(copy.names(""), names);
        assert!(bytes(&copy, "2", &[]) == known, "filled in steps of {turn}");
    }
}

/// What is told, without the time that it took. What was listened to once is known from then on.
fn timeless(mut told: serde_json::Value) -> serde_json::Value {
    for key in ["render_seconds", "listening_seconds", "listened"] {
        told.as_object_mut().expect("an object").remove(key);
    }
    told
}

#[test]
fn locale_time_zone_terminal_and_home_change_no_byte() {
    let desk = desk();
    let here = bytes(&desk, "2", &[]);
    let told = |variables: &[(&str, &str)]| {
        let answer = desk.run_in(
            &desk.path(""),
            variables,
            &["render", "loop.toml", "-o", "out.wav", "--json"],
        );
        answer.assert_done();
        let told = timeless(serde_json::from_str(&answer.out).expect("JSON"));
        (std::fs::read(desk.path("out.wav")).expect("a render"), told)
    };
    let (plain, said) = told(&[]);
    assert!(plain == here);
    for variables in [
        &[
            ("LC_ALL", "de_DE.UTF-8"),
            ("LANG", "de_DE.UTF-8"),
            ("LC_NUMERIC", "de_DE.UTF-8"),
        ][..],
        &[("LC_ALL", "tr_TR.UTF-8")],
        &[("LC_ALL", "C"), ("LANG", "C")],
        &[("TZ", "Pacific/Kiritimati")],
        &[("TZ", "America/St_Johns"), ("SOURCE_DATE_EPOCH", "0")],
        &[("TERM", "dumb"), ("COLUMNS", "20")],
        &[("HOME", "/nowhere"), ("USER", "")],
    ] {
        let (bytes, words) = told(variables);
        assert!(bytes == here, "{variables:?}");
        assert_eq!(words, said, "{variables:?}");
    }
}

#[test]
fn files_of_another_age_change_no_byte() {
    let desk = desk();
    let here = bytes(&desk, "2", &[]);
    for name in desk.names("") {
        let file = std::fs::File::options()
            .write(true)
            .open(desk.path(&name))
            .expect("a file");
        file.set_modified(std::time::UNIX_EPOCH + std::time::Duration::from_secs(86_400))
            .expect("its age is set");
    }
    assert!(bytes(&desk, "2", &[]) == here);
}

#[test]
fn stems_midi_pictures_and_credits_are_the_same_on_any_number_of_threads() {
    let desk = desk();
    let all = |threads: &str, place: &str| {
        let out = format!("{place}/mix.wav");
        let arguments = [
            "render",
            "loop.toml",
            "-o",
            &out,
            "--stems",
            "--midi",
            "--picture",
            "--credits",
        ];
        desk.run_in(&desk.path(""), &[("RAYON_NUM_THREADS", threads)], &arguments)
            .assert_done();
        let read = |name: String| std::fs::read(desk.path(&name)).expect("a file");
        let beside = desk.names(place).into_iter().filter(|name| name.contains('.'));
        let mut files: Vec<_> = beside
            .map(|name| (name.clone(), read(format!("{place}/{name}"))))
            .collect();
        let stems = format!("{place}/mix-stems");
        files.extend(
            desk.names(&stems)
                .into_iter()
                .map(|name| (name.clone(), read(format!("{stems}/{name}")))),
        );
        files
    };
    let (one, many) = (all("1", "renders/one"), all("5", "renders/many"));
    assert!(one.len() >= 8, "{} files", one.len());
    for ((name, bytes), (other, others)) in one.iter().zip(&many) {
        assert_eq!(name, other);
        assert!(bytes == others, "{name}");
    }
    assert_eq!(one.len(), many.len());
}

#[test]
fn a_render_that_is_verified_says_so_and_is_the_same() {
    let desk = desk();
    let here = bytes(&desk, "2", &[]);
    let sums = |threads: &str, more: &[&str]| {
        let arguments = [&["render", "loop.toml", "-o", "out.wav", "--verify", "--json"], more].concat();
        let answer = desk.run_in(&desk.path(""), &[("RAYON_NUM_THREADS", threads)], &arguments);
        answer.assert_done();
        let told: serde_json::Value = serde_json::from_str(&answer.out).expect("JSON");
        assert_eq!(told["verified"]["score"].as_str().map(str::len), Some(64));
        told["verified"].clone()
    };
    let known = sums("1", &[]);
    assert!(std::fs::read(desk.path("out.wav")).expect("a render") == here);
    assert_eq!(sums("2", &[]), known);
    // How samples are packed is not how it sounds; another seed is.
    assert_eq!(sums("2", &["--depth", "16"]), known);
    let other = sums("2", &["--seed", "13"]);
    assert!(other["score"] != known["score"] && other["audio"] != known["audio"]);
    // The same hits, louder.
    let louder = sums("2", &["--set", "kick.gain=-3"]);
    assert!(louder["score"] == known["score"] && louder["audio"] != known["audio"]);
    let answer = desk.run(&["render", "loop.toml", "-o", "out.wav", "--verify"]);
    answer.assert_done();
    assert!(answer.out.contains("the same to the bit"), "{}", answer.out);
    assert!(
        answer.out.contains(known["audio"].as_str().expect("a sum")),
        "{}",
        answer.out
    );
}

#[test]
fn what_is_told_is_the_same_but_for_the_time_it_took() {
    let desk = desk();
    let told = || timeless(desk.render_file("loop.toml", &[]).1);
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
