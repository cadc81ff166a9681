//! `render --mixes` and `--name`: every version as its own file, under names that say what it is.

use crate::support::{Answer, Desk, click};

const MIXES: &str = "[[mix]]\nname = \"kick forward\"\nset = { \"kick.gain\" = 6 }\n\
                     [[mix]]\nname = \"fast\"\nset = { \"loop.tempo\" = 140.5 }\n";

fn desk(title: &str, rest: &str) -> Desk {
    let desk = Desk::new();
    desk.one_shot("kick.wav", &[click().iter().map(|sample| sample / 4.0).collect()]);
    desk.write(
        "quay.toml",
        format!(
            "[loop]\ntitle = \"{title}\"\ntempo = 120\nbars = 1\nkey = \"G minor\"\n[tab]\n\"all\" = \"kick x---\"\n{rest}"
        ),
    );
    desk
}

fn render(desk: &Desk, options: &[&str]) -> Answer {
    desk.run(&[&["render", "quay.toml", "--depth", "float"], options].concat())
}

#[test]
fn every_mix_is_a_file_of_its_own_with_its_level_untouched() {
    let desk = desk("Quay", MIXES);
    render(&desk, &["--mixes", "--midi"]).assert_done();
    assert_eq!(
        desk.names("renders"),
        [
            "quay-fast.mid",
            "quay-fast.wav",
            "quay-kick-forward.mid",
            "quay-kick-forward.wav",
            "quay.mid",
            "quay.wav"
        ]
    );
    for (mix, file) in [("kick forward", "quay-kick-forward.wav"), ("fast", "quay-fast.wav")] {
        render(&desk, &["--mix", mix, "-o", "alone.wav"]).assert_done();
        assert!(
            desk.read("alone.wav").channels == desk.read(&format!("renders/{file}")).channels,
            "{mix}"
        );
    }
    let peak = |name: &str| {
        desk.read(name)
            .left()
            .iter()
            .fold(0f32, |peak, sample| peak.max(sample.abs()))
    };
    let gain = peak("renders/quay-kick-forward.wav") / peak("renders/quay.wav");
    crate::support::assert_near(20.0 * f64::from(gain).log10(), 6.0, 0.01, "6 dB more of the kick");
}

#[test]
fn json_tells_all_versions_in_one_object() {
    let desk = desk("Quay", MIXES);
    let answer = render(&desk, &["--mixes", "--json", "-o", "out/take.wav"]);
    answer.assert_done();
    let told: serde_json::Value = serde_json::from_str(&answer.out).unwrap();
    assert_eq!(told["file"], "out/take.wav");
    assert_eq!(told["mixes"][0]["mix"], "kick forward");
    assert_eq!(told["mixes"][1]["file"], "out/take-fast.wav");
    // Without --mixes there is no such list.
    let alone = render(&desk, &["--json"]).out;
    assert!(!alone.contains("mixes"), "{alone}");
}

#[test]
fn names_by_a_template() {
    let desk = desk("Quay / pier", MIXES);
    render(&desk, &["--mixes", "--name", "{title} {tempo} {key} {mix}"]).assert_done();
    assert_eq!(
        desk.names("renders"),
        [
            "Quay - pier 120 G minor kick forward.wav",
            "Quay - pier 120 G minor.wav",
            "Quay - pier 140.5 G minor fast.wav"
        ]
    );
    render(&desk, &["--mix", "fast", "--name", "../{mix}", "--stems", "--midi"]).assert_done();
    assert_eq!(desk.names("renders")[3..], ["fast-stems", "fast.mid", "fast.wav"]);
}

#[test]
fn names_that_do_not_tell_versions_apart_and_unknown_placeholders() {
    let desk = desk("Quay", MIXES);
    let answer = render(&desk, &["--mixes", "--name", "{title}"]);
    assert_eq!(answer.code, Some(1));
    assert!(
        answer.err.contains("would both be written to") && answer.err.contains("put {mix}"),
        "{}",
        answer.err
    );
    assert_eq!(
        desk.names("renders").len(),
        0,
        "nothing is written before all names are known"
    );
    let answer = render(&desk, &["--name", "{titel}"]);
    assert_eq!(answer.code, Some(2));
    assert!(answer.err.contains("did you mean {title}?"), "{}", answer.err);
    assert_eq!(render(&desk, &["--name", "{title}", "-o", "x.wav"]).code, Some(2));
    assert_eq!(render(&desk, &["--mixes", "--mix", "fast"]).code, Some(2));
}

#[test]
fn a_file_without_mixes_says_so() {
    let answer = render(&desk("Quay", ""), &["--mixes"]);
    assert_eq!(answer.code, Some(1));
    assert!(answer.err.contains("quay.toml has no mixes"), "{}", answer.err);
}
