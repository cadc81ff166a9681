//! `[master] duck`: everything makes way while a part plays, as it would in a bus of all.

use crate::support::{Desk, pluck, tone};

const LOOP: &str =
    "[loop]\ntempo = 120\nbars = 1\n[tab]\n\"all\" = \"\"\"\nkick x---x---x---x---\nbell x-x-x-x-x-x-x-x-\n\"\"\"\n";

fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("kick.wav", &[pluck(60.0, 0.3, 0.3)]);
    desk.one_shot("bell.wav", &[tone(900.0, 0.6, 0.2)]);
    desk
}

/// The largest difference between two loops' audio.
fn apart(desk: &Desk, one: &str, other: &str) -> f32 {
    let ((one, _), (other, _)) = (desk.render_file(one, &[]), desk.render_file(other, &[]));
    let pairs = one.left().iter().zip(other.left());
    pairs.fold(0.0, |most, (a, b)| f32::max(most, (a - b).abs()))
}

#[test]
fn the_master_ducks_as_a_bus_of_all_does() {
    let desk = desk();
    let duck = "duck = { by = \"kick\", depth = 12, release = 90 }\n";
    desk.write("plain.toml", format!("{LOOP}[master]\nceiling = \"off\"\n"));
    desk.write("master.toml", format!("{LOOP}[master]\nceiling = \"off\"\n{duck}"));
    let bus =
        "[[part]]\nname = \"kick\"\nbus = \"all\"\n[[part]]\nname = \"bell\"\nbus = \"all\"\n[[bus]]\nname = \"all\"\n";
    desk.write("bus.toml", format!("{LOOP}{bus}{duck}[master]\nceiling = \"off\"\n"));
    assert!(apart(&desk, "master.toml", "plain.toml") > 0.05, "it does something");
    assert!(apart(&desk, "master.toml", "bus.toml") < 1e-6);
}

#[test]
fn whom_it_ducks_under_must_be_there() {
    let desk = desk();
    desk.write("loop.toml", format!("{LOOP}[master]\nduck = {{ by = \"kik\" }}\n"));
    let answer = desk.run(&["check", "loop.toml"]);
    assert_eq!(answer.code, Some(1));
    assert!(answer.err.contains("did you mean `kick`?"), "{}", answer.err);
}

#[test]
fn a_form_says_that_its_master_has_nothing_to_duck_under() {
    let desk = desk();
    desk.write("loop.toml", format!("{LOOP}[master]\nduck = {{ by = \"kick\" }}\n"));
    let section = "[[section]]\nname = \"a\"\nloop = \"loop.toml\"\n";
    for master in ["", "[master]\nduck = { by = \"kick\" }\n"] {
        desk.write("form.toml", format!("[form]\n{section}{master}"));
        let answer = desk.run(&["check", "form.toml"]);
        assert_eq!(answer.code, Some(1), "{master}");
        assert!(
            answer.err.contains("no parts for its master to duck under"),
            "{}",
            answer.err
        );
    }
    desk.write("form.toml", format!("[form]\n{section}[master]\nceiling = -1\n"));
    desk.run(&["check", "form.toml"]).assert_done();
}
