//! Recordings that names leave open are listened to once, only where what is played depends on them, and the time is told.

use crate::support::{Desk, number, pluck};
use pressroll::internals::kit::Kit;
use serde_json::Value;

/// A kit of a kick, three toms and two hats that only their sound tells apart, and loops on it.
fn desk() -> Desk {
    let desk = Desk::new();
    for (name, hz, seconds) in [
        ("kick", 60.0, 0.3),
        ("Tom 1", 200.0, 0.4),
        ("Tom 2", 140.0, 0.4),
        ("Tom 3", 90.0, 0.4),
        ("hat ash", 7000.0, 0.1),
        ("hat oak", 7000.0, 1.5),
    ] {
        desk.one_shot(&format!("shots/{name}.wav"), &[pluck(hz, seconds, 0.5)]);
    }
    for (name, piece) in [("kick", "kick"), ("tom", "tom-high"), ("named", "Tom 1")] {
        let text = "[loop]\nkit = \"shots\"\ntempo = 100\nbars = 1\n[tab]\nall = \"\"\"\nkick x\npart x\"\"\"\n";
        desk.write(
            &format!("{name}.toml"),
            format!("{text}[[part]]\nname = \"part\"\npiece = \"{piece}\"\n"),
        );
    }
    desk
}

fn told(desk: &Desk, arguments: &[&str]) -> Value {
    let answer = desk.run(&[arguments, &["--json"]].concat());
    answer.assert_done();
    serde_json::from_str(&answer.out).expect("one JSON object")
}

#[test]
fn only_what_is_played_is_listened_to() {
    let desk = desk();
    let told_of = |name: &str| told(&desk, &["render", &format!("{name}.toml"), "--fresh"]);
    assert_eq!(told_of("kick").get("listened"), None);
    for name in ["tom", "named"] {
        let told = told_of(name);
        assert_eq!(told["listened"], 3, "the toms, and not the hats: {told}");
        let (all, listening) = (number(&told["render_seconds"]), number(&told["listening_seconds"]));
        assert!(0.0 < listening && listening < all, "{told}");
    }
    let answer = desk.run(&["render", "tom.toml", "--fresh"]);
    assert!(answer.out.contains("3 recordings were analysed"), "{}", answer.out);
    assert!(!desk.run(&["render", "kick.toml"]).out.contains("analysed"));
}

#[test]
fn versions_share_what_was_heard() {
    let desk = desk();
    let compared = told(&desk, &["compare", "tom.toml", "--vary", "kick.gain=-3,-6,-9"]);
    assert_eq!(compared["versions"].as_array().map(Vec::len), Some(4));
    assert_eq!(compared["listened"], 3);
    assert_eq!(
        told(&desk, &["render", "tom.toml", "--verify", "--fresh"])["listened"],
        3
    );
}

#[test]
fn a_piece_is_the_same_whoever_asks_for_it() {
    let desk = desk();
    let folder = [desk.path("shots")];
    let whole = Kit::open(&folder, &[]).expect("a kit");
    let files = |kit: &Kit, name: &str| -> Vec<std::path::PathBuf> {
        let piece = kit.index().find(name).unwrap_or_else(|| panic!("no {name}"));
        let layers = kit.index().pieces[piece].layers.iter();
        layers
            .flat_map(|layer| &layer.takes)
            .map(|take| kit.file(*take).to_path_buf())
            .collect()
    };
    let mut names: Vec<String> = whole.index().listed().iter().map(|piece| piece.name.clone()).collect();
    names.extend(["Tom 2".into(), "hat ash".into()]);
    assert!(
        names.contains(&"tom-mid".to_string()) && names.contains(&"hat-open".to_string()),
        "{names:?}"
    );
    for name in &names {
        let kit = Kit::open_for(&folder, &[], std::slice::from_ref(name)).expect("a kit");
        assert_eq!(files(&kit, name), files(&whole, name), "{name}");
    }
}
