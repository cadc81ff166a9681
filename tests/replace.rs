//! What is written over: a file that carries pressroll's mark, others with `--force`, and what loops and kits are made of
//! never.

use std::fs;
use std::os::unix::fs::{PermissionsExt, symlink};

use crate::support::{Answer, Desk, click, pluck, tab};

/// A kit of which the loop plays the kick alone, and outputs that lie elsewhere.
fn desk() -> Desk {
    let desk = Desk::new();
    for shot in ["kick", "snare", "Cymbals/ride"] {
        desk.one_shot(&format!("kit/{shot}.wav"), &[pluck(90.0, 0.1, 0.5)]);
    }
    desk.one_shot("shots/tick.wav", &[click()]);
    desk.write("kit/kit.toml", "[kit]\ntitle = \"Pier\"\n");
    desk.write("loop.toml", on_kit("bars = 1", "kick x---"));
    desk.write("other.toml", on_kit("bars = 1", "snare x---"));
    desk
}

fn on_kit(bars: &str, lines: &str) -> String {
    tab("120", 1, lines)
        .replace("[loop]\n", "[loop]\nkit = \"kit\"\n")
        .replace("bars = 1", bars)
}

/// Runs a command that has to be refused, and sees that it has left a file as it was.
#[track_caller]
fn refused(desk: &Desk, file: &str, arguments: &[&str], words: &[&str]) {
    let before = fs::read(desk.path(file)).expect("a file");
    let answer = desk.run(arguments);
    assert_eq!(answer.code, Some(1), "{arguments:?}\n{}", answer.err);
    for word in words.iter().chain(&[file]) {
        assert!(
            answer.err.contains(word),
            "{arguments:?}: no `{word}` in {}",
            answer.err
        );
    }
    assert!(
        fs::read(desk.path(file)).expect("a file") == before,
        "{arguments:?}: {file} is another"
    );
}

#[track_caller]
fn done(desk: &Desk, arguments: &[&str]) -> Answer {
    let answer = desk.run(arguments);
    assert_eq!(answer.code, Some(0), "{arguments:?}\n{}", answer.err);
    answer
}

/// Every command that writes, and a file that it writes, by a name that a person's own file may have.
const WRITES: [(&[&str], &str); 13] = [
    (&["render", "loop.toml"], "renders/loop.wav"),
    (&["render", "loop.toml", "-o", "mix.wav"], "mix.wav"),
    (&["render", "loop.toml", "-o", "mix.wav", "--midi"], "mix.mid"),
    (&["render", "loop.toml", "-o", "mix.wav", "--picture"], "mix.svg"),
    (&["render", "loop.toml", "-o", "mix.wav", "--picture"], "mix.png"),
    (
        &["render", "loop.toml", "-o", "mix.wav", "--credits"],
        "mix.credits.txt",
    ),
    (
        &["render", "loop.toml", "-o", "mix.wav", "--stems"],
        "mix-stems/kick.wav",
    ),
    (&["render", "mixed.toml", "-o", "mix.wav", "--mixes"], "mix-loud.wav"),
    (
        &["compare", "loop.toml", "--vary", "kick.gain=0", "-o", "site"],
        "site/index.html",
    ),
    (
        &["compare", "loop.toml", "--vary", "kick.gain=0", "-o", "site"],
        "site/02-kick.gain=0.wav",
    ),
    (
        &["tryout", "loop.toml", "kick", "shots", "-o", "site"],
        "site/index.html",
    ),
    (&["tryout", "loop.toml", "kick", "shots", "-o", "site"], "site/tick.wav"),
    (&["kit", "kit", "--picture", "-o", "sheet.png"], "sheet.svg"),
];

#[test]
fn every_command_may_be_run_again_and_replaces_a_persons_file_by_force_alone() {
    for (arguments, file) in WRITES {
        let desk = desk();
        let mixed = on_kit("bars = 1", "kick x---") + "[[mix]]\nname = \"loud\"\nset = { \"kick.gain\" = 3 }\n";
        desk.write("mixed.toml", mixed);
        let mine = desk.write(file, "a person's own");
        refused(&desk, file, arguments, &["is there already", "mark", "--force"]);
        let beside: Vec<String> = desk
            .names("")
            .into_iter()
            .filter(|name| name.starts_with("mix."))
            .collect();
        assert!(
            beside.iter().all(|name| name == file),
            "{arguments:?}: nothing is made where anything is refused"
        );
        done(&desk, &[arguments, &["--force"]].concat());
        let made = fs::read(&mine).expect("a file");
        assert!(made != b"a person's own", "{arguments:?}");
        done(&desk, arguments);
        assert!(fs::read(&mine).expect("a file") == made, "the same again: {file}");
    }
}

#[test]
fn what_carries_no_mark_is_a_persons_whatever_it_is() {
    let desk = desk();
    desk.one_shot("mix.wav", &[click()]);
    refused(
        &desk,
        "mix.wav",
        &["render", "loop.toml", "-o", "mix.wav"],
        &["--force"],
    );
    done(&desk, &["render", "loop.toml", "-o", "mix.wav", "--force"]);
    let said = desk.read("mix.wav").info();
    assert!(
        said.iter()
            .any(|(code, text)| code == "ISFT" && text.starts_with("pressroll ")),
        "{said:?}"
    );
    // A recording beside the versions leaves a WAV with the mark, too.
    desk.one_shot("single.wav", &[pluck(300.0, 0.3, 0.5)]);
    let compare = [
        "compare",
        "loop.toml",
        "--vary",
        "kick.gain=0",
        "--beside",
        "single.wav",
        "-o",
        "site",
    ];
    done(&desk, &compare);
    done(&desk, &compare);
}

#[test]
fn what_kits_and_loops_are_made_of_is_never_replaced() {
    let desk = desk();
    desk.write("form.toml", "[form]\n[[section]]\nname = \"a\"\nloop = \"loop.toml\"\n");
    desk.write("half.TOML", "[loop\n");
    // Another loop's performance and room, which this one knows nothing of.
    desk.write("take.mid", "MThd");
    desk.one_shot("stairwell.wav", &[click()]);
    desk.write(
        "third.toml",
        "[loop]\ntempo = 90\nbars = 1\n[[part]]\nname = \"drums\"\nmidi = \"take.mid\"\n[rooms.hall]\nimpulse = \"stairwell.wav\"\n",
    );
    desk.one_shot("box/bell.wav", &[click()]);
    desk.write("box/kit.toml", "");
    let never: [(&str, &[&str]); 10] = [
        ("kit/kick.wav", &["which this loop is made of"]),
        ("kit/snare.wav", &["one-shot of a kit"]),
        ("kit/Cymbals/ride.wav", &["one-shot of a kit"]),
        ("kit/kit.toml", &[]),
        ("loop.toml", &["which this loop is made of"]),
        ("other.toml", &["a loop, a form or a kit.toml"]),
        ("form.toml", &["a loop, a form or a kit.toml"]),
        ("half.TOML", &["a loop, a form or a kit.toml"]),
        ("stairwell.wav", &["a part of", "third.toml"]),
        ("box/bell.wav", &["one-shot of a kit"]),
    ];
    for (file, words) in never {
        for force in [&[][..], &["--force"]] {
            refused(
                &desk,
                file,
                &[&["render", "loop.toml", "-o", file], force].concat(),
                words,
            );
        }
    }
    let midi = ["render", "loop.toml", "-o", "take.wav", "--midi", "--force"];
    refused(&desk, "take.mid", &midi, &["a part of", "third.toml"]);
    assert!(!desk.path("take.wav").exists());
    // A form keeps what its loops are made of.
    refused(
        &desk,
        "kit/kick.wav",
        &["render", "form.toml", "-o", "kit/kick.wav", "--force"],
        &["made of"],
    );
}

#[test]
fn what_kit_toml_names_stays_even_where_pressroll_made_it() {
    let desk = desk();
    done(&desk, &["render", "loop.toml", "-o", "kit/thump.wav"]);
    // An earlier render that lies in the kit's folder is one that may be replaced.
    done(&desk, &["render", "loop.toml", "-o", "kit/thump.wav"]);
    desk.write("kit/kit.toml", "[[piece]]\nname = \"thump\"\nfiles = [\"thump.wav\"]\n");
    let again = ["render", "loop.toml", "-o", "kit/thump.wav", "--force"];
    refused(&desk, "kit/thump.wav", &again, &["would be overwritten"]);
}

#[test]
fn versions_are_not_written_into_a_kit() {
    let desk = desk();
    desk.one_shot("box/bell.wav", &[click()]);
    desk.write("box/kit.toml", "");
    for place in ["kit", "kit/Cymbals", "kit/new", "./kit/../kit", "shots", "box/new"] {
        let compare = ["compare", "loop.toml", "--vary", "kick.gain=0", "-o", place, "--force"];
        let tryout = ["tryout", "loop.toml", "kick", "shots", "-o", place, "--force"];
        let commands: [&[&str]; 2] = [&compare, &tryout];
        for arguments in &commands[usize::from(place == "shots")..] {
            let answer = desk.run(arguments);
            assert_eq!(answer.code, Some(1), "{arguments:?}");
            let words = if place == "shots" {
                "shots/tick.wav would be overwritten"
            } else {
                "lies in a kit"
            };
            assert!(answer.err.contains(words), "{}", answer.err);
        }
    }
    assert_eq!(desk.names("kit"), ["Cymbals", "kick.wav", "kit.toml", "snare.wav"]);
    // Where a kit is not looked for, they may lie.
    done(
        &desk,
        &[
            "compare",
            "loop.toml",
            "--vary",
            "kick.gain=0",
            "-o",
            "kit/renders/versions",
        ],
    );
}

#[test]
fn links_are_followed_and_stay() {
    let desk = desk();
    fs::create_dir(desk.path("elsewhere")).expect("a folder");
    symlink("elsewhere/mix.wav", desk.path("mix.wav")).expect("a link");
    let render = ["render", "loop.toml", "-o", "mix.wav"];
    // It leads nowhere yet.
    done(&desk, &render);
    done(&desk, &render);
    let is_link = |name: &str| fs::symlink_metadata(desk.path(name)).expect("it is there").is_symlink();
    assert!(is_link("mix.wav") && !is_link("elsewhere/mix.wav"));
    assert_eq!(desk.names("elsewhere"), ["mix.wav"]);
    // And to a person's own file.
    desk.write("elsewhere/mix.wav", "a person's own");
    refused(&desk, "mix.wav", &render, &["--force"]);
    done(&desk, &["render", "loop.toml", "-o", "mix.wav", "--force"]);
    assert!(is_link("mix.wav"));
    assert_eq!(&fs::read(desk.path("elsewhere/mix.wav")).expect("a file")[..4], b"RIFF");
}

#[test]
fn a_link_to_what_a_kit_is_made_of_is_refused() {
    let desk = desk();
    symlink("kit/snare.wav", desk.path("mix.wav")).expect("a link");
    let before = fs::read(desk.path("kit/snare.wav")).expect("a file");
    for force in [&[][..], &["--force"]] {
        refused(
            &desk,
            "mix.wav",
            &[&["render", "loop.toml", "-o", "mix.wav"], force].concat(),
            &["one-shot of a kit"],
        );
    }
    assert!(fs::read(desk.path("kit/snare.wav")).expect("a file") == before);
    // A kit may be made of links: to what lies in its folder, and to what its kit.toml names.
    desk.one_shot("kit/.store/tick.wav", &[click()]);
    symlink(".store/tick.wav", desk.path("kit/tick.wav")).expect("a link");
    let onto = ["render", "loop.toml", "-o", "kit/.store/tick.wav", "--force"];
    refused(&desk, "kit/.store/tick.wav", &onto, &["one-shot of a kit"]);
    desk.one_shot("far/clap.wav", &[click()]);
    symlink("../far/clap.wav", desk.path("kit/clap.wav")).expect("a link");
    desk.write("kit/kit.toml", "[[piece]]\nname = \"clap\"\nfiles = [\"clap.wav\"]\n");
    let onto = ["render", "loop.toml", "-o", "far/clap.wav", "--force"];
    refused(&desk, "far/clap.wav", &onto, &["made of"]);
    // Links in a circle lead nowhere.
    symlink("b.wav", desk.path("a.wav")).expect("a link");
    symlink("a.wav", desk.path("b.wav")).expect("a link");
    assert_eq!(desk.run(&["render", "loop.toml", "-o", "a.wav"]).code, Some(1));
}

#[test]
fn a_protected_file_stays() {
    let desk = desk();
    let render = ["render", "loop.toml", "-o", "mix.wav"];
    done(&desk, &render);
    let protect = |name: &str, mode| {
        fs::set_permissions(desk.path(name), fs::Permissions::from_mode(mode)).expect("rights are set");
    };
    protect("mix.wav", 0o444);
    for force in [&[][..], &["--force"]] {
        refused(&desk, "mix.wav", &[&render, force].concat(), &["write-protected"]);
    }
    protect("mix.wav", 0o644);
    done(&desk, &render);
    protect("kit/kit.toml", 0o444);
    refused(
        &desk,
        "kit/kit.toml",
        &["kit", "kit", "--write", "--force"],
        &["write-protected"],
    );
}

#[test]
fn hits_that_were_written_and_edited_are_the_persons() {
    let desk = desk();
    desk.write(
        "follows.toml",
        "[loop]\ntempo = 90\nbars = 1\n[chords]\n\"1\" = \"Gm\"\n[[part]]\nname = \"keys\"\npiece = \"stand-in\"\ncomp = \"x-x-\"\n",
    );
    let write = ["chart", "follows.toml", "--write"];
    done(&desk, &write);
    done(&desk, &write);
    let text = fs::read_to_string(desk.path("follows-hits.toml")).expect("text");
    assert!(text.starts_with("# pressroll "), "{text}");
    desk.write("follows-hits.toml", text.replace("keys", "horn"));
    refused(&desk, "follows-hits.toml", &write, &["edited", "--force"]);
    done(&desk, &["chart", "follows.toml", "--force", "--write"]);
    assert_eq!(fs::read_to_string(desk.path("follows-hits.toml")).expect("text"), text);
    // Another loop is no page of hits.
    refused(
        &desk,
        "other.toml",
        &["chart", "follows.toml", "--force", "--write", "other.toml"],
        &["a loop"],
    );
}
