//! One drummer: parts of one player drift as one, no stroke of the hands passes another, and at an ensemble accent the
//! whole band plays as one.

use std::collections::BTreeMap;

use crate::support::Desk;
use pressroll::{Order, Project};

/// What each part plays: seconds, in the order of time.
type Times = BTreeMap<String, Vec<f64>>;

fn desk(text: &str) -> Desk {
    let desk = Desk::new();
    desk.write("loop.toml", text);
    desk
}

/// Everything on the stand-in, which needs no kit: what plays is asked, not how it sounds. Each part has a pitch, so the
/// drums are written as notes too.
fn times(desk: &Desk, seed: u32, sets: &[(&str, &str)]) -> Times {
    let seed = seed.to_string();
    let options = Project::options(desk.path("loop.toml")).set("loop.seed", &seed);
    let options = sets
        .iter()
        .fold(options, |options, (key, value)| options.set(key, value));
    let project = options.open().expect("the loop opens");
    let score = project.score(&Order::default()).expect("a score");
    let mut times = Times::new();
    for hit in score.hits() {
        times.entry(hit.part.to_string()).or_default().push(hit.at);
    }
    times
}

fn part(name: &str, notes: &str) -> String {
    format!("[[part]]\nname = \"{name}\"\npiece = \"stand-in\"\nlength = 20\nnotes = \"{notes}\"\n")
}

fn steps(sounding: &str, marks: &str) -> String {
    let words = marks.chars().filter(|mark| *mark != ' ');
    words
        .map(|mark| if mark == 'x' { sounding } else { "-" })
        .collect::<Vec<_>>()
        .join(" ")
}

/// A band of four with the drift of the loop that was complained of.
fn band(accents: &str) -> String {
    let head = "[loop]\ntempo = 96\nbars = 4\n[feel]\nloose = { ms = 9, together = 0.35 }\n";
    let parts = [
        part("kick", &steps("C2", "x--- --x- x-x- x---")),
        part("snare", &steps("D3", "x--- x--- x-x- x---")) + "behind = 8\n",
        part("bass", &steps("G1", "x--x --x- x-x- x-x-")) + "loose = { ms = 14 }\n",
        part("keys", &steps("Bb3", "x--- ---x x-x- x---")),
    ];
    format!("{head}{accents}\n{}", parts.concat())
}

/// How far the band is apart, at the most, at places in sixteenths of the loop.
fn apart(times: &Times, places: &[usize]) -> f64 {
    let step = 60.0 / 96.0 / 4.0;
    let widest = |place: &usize| {
        let at = *place as f64 * step;
        let nearest = |of: &Vec<f64>| {
            of.iter()
                .copied()
                .min_by(|a, b| (a - at).abs().total_cmp(&(b - at).abs()))
        };
        let struck: Vec<f64> = times.values().filter_map(nearest).collect();
        let ends = struck.iter().copied();
        ends.clone().fold(f64::MIN, f64::max) - ends.fold(f64::MAX, f64::min)
    };
    places.iter().map(widest).fold(0.0, f64::max)
}

#[test]
fn at_an_ensemble_accent_the_band_is_within_three_ms() {
    // Bar 4: its first step, its ninth and its eleventh.
    let places = [48, 56, 58];
    let accents = |more: &str| format!("[accents]\n\"4\" = {{ hits = \"X--- ---- X-X- ----\"{more} }}");
    let (plain, as_one) = (desk(&band(&accents(""))), desk(&band(&accents(", together = 1"))));
    let nearly = desk(&band(&accents(", together = 0.9")));
    let (mut without, mut with, mut most) = (0.0f64, 0.0f64, 0.0f64);
    for seed in 1..=60 {
        let [before, after] = [&plain, &as_one].map(|desk| times(desk, seed, &[]));
        without = without.max(apart(&before, &places));
        with = with.max(apart(&after, &places));
        most = most.max(apart(&times(&nearly, seed, &[]), &places) / apart(&before, &places));
        // Elsewhere everyone plays as before.
        for (name, times) in &before {
            let others = |times: &[f64]| times.iter().filter(|at| **at < 7.3).copied().collect::<Vec<_>>();
            assert_eq!(others(times), others(&after[name]), "{name}");
        }
    }
    assert!(without > 0.03, "the band was apart: {without}");
    assert!(with < 0.003, "{with}");
    assert!(most < 0.1 + 1e-6, "at 0.9 a tenth of it is left: {most}");
}

#[test]
fn together_can_stand_for_all_accents_or_for_a_bars() {
    let places = [48, 56];
    for accents in [
        "[accents]\ntogether = 1\n\"4\" = \"X--- ---- X--- ----\"",
        "[accents]\nhits = { \"4\" = \"X--- ---- X--- ----\" }\ntogether = 1",
        "[accents]\ntogether = 0.2\n\"4\" = { hits = \"X--- ---- X--- ----\", together = 1 }",
    ] {
        assert!(
            apart(&times(&desk(&band(accents)), 5, &[]), &places) < 1e-9,
            "{accents}"
        );
    }
    // Who does not play the accents does not come nearer.
    let some = "[accents]\ntogether = 1\nparts = [\"kick\", \"snare\"]\n\"4\" = \"X--- ---- X--- ----\"";
    let mut found = times(&desk(&band(some)), 5, &[]);
    assert!(apart(&found, &places) > 0.003);
    found.retain(|name, _| name == "kick" || name == "snare");
    assert!(apart(&found, &places) < 1e-9);
}

#[test]
fn a_double_keeps_its_distance_at_an_accent() {
    let accents = "[accents]\nall = { hits = \"X---\", together = 1 }";
    let text = band(accents).replace(
        "length = 20\nnotes = \"G1",
        "length = 20\ndouble = [{ interval = 12, behind = 15 }]\nnotes = \"G1",
    );
    let found = times(&desk(&text), 3, &[]);
    assert!((found["bass double 1"][0] - found["bass"][0] - 0.015).abs() < 1e-9);
}

/// A drummer with fast hands and a pianist, at a drift in ms.
fn drummer(feel: &str) -> String {
    let parts = [
        part("kick", &steps("C2", "x--x --x- x-x- x---")),
        part("snare", &steps("D3", "xxxx x-xx x-xx xxxx")),
        part("ride", &steps("F5", "xxxx xxxx xxxx xxxx")) + "swing = 70\n",
        part("tom-low", &steps("F2", "---- ---- ---- xx-x")),
        part("hat-pedal", &steps("G4", "--x- --x- --x- --x-")),
        part("keys", &steps("Bb3", "xxxx xxxx xxxx xxxx")),
    ];
    format!("[loop]\ntempo = 138\nbars = 8\n[feel]\n{feel}\n{}", parts.concat())
}

const DRUMS: &str = "players = { drums = [\"kick\", \"snare\", \"ride\", \"tom-*\", \"hat-pedal\"] }";

/// The hits of some parts by where they are written, in seconds: written and played.
fn played(straight: &Times, drifted: &Times, parts: &[&str]) -> Vec<(f64, f64)> {
    let both = parts
        .iter()
        .flat_map(|part| straight[*part].iter().zip(&drifted[*part]));
    let mut both: Vec<(f64, f64)> = both.map(|(written, played)| (*written, *played)).collect();
    both.sort_by(|a, b| a.0.total_cmp(&b.0));
    both
}

#[test]
fn no_stroke_of_the_hands_passes_another_however_far_they_drift() {
    let hands = ["snare", "ride", "tom-low"];
    let (mut passed, mut nearest) = (0, f64::MAX);
    for ms in [5, 20, 60, 100] {
        let one = desk(&drummer(&format!("{DRUMS}\nloose = {{ ms = {ms}, together = 0.3 }}")));
        let many = desk(&drummer(&format!("loose = {{ ms = {ms}, together = 0.3 }}")));
        for seed in 1..=15 {
            let straight = times(&one, seed, &[("feel.loose", "off")]);
            for limbs in [&hands[..], &["kick", "hat-pedal"]] {
                for pair in played(&straight, &times(&one, seed, &[]), limbs).windows(2) {
                    let (written, gap) = (pair[1].0 - pair[0].0, pair[1].1 - pair[0].1);
                    // As close as a hand's doubles are to its singles: 45 ms to 65 [practice].
                    assert!(
                        gap > written * 45.0 / 65.0 - 1e-6,
                        "{ms} ms, seed {seed}: {written} {gap}"
                    );
                    nearest = nearest.min(if written > 1e-6 { gap / written } else { 1.0 });
                }
            }
            let strangers = played(&straight, &times(&many, seed, &[]), &hands);
            passed += strangers.windows(2).filter(|pair| pair[1].1 < pair[0].1 - 1e-6).count();
        }
    }
    assert!(passed > 100, "strangers do pass one another: {passed}");
    assert!(nearest < 0.75, "the limit was reached: {nearest}");
}

#[test]
fn a_players_hands_drift_as_one_and_the_feet_nearly_with_them() {
    let text = drummer(&format!("{DRUMS}\nloose = {{ ms = 5 }}"));
    let desk = desk(&text);
    let (mut feet, mut keys, mut spread, mut count) = (0.0, 0.0, 0.0, 0.0);
    for seed in 1..=40 {
        let (straight, found) = (times(&desk, seed, &[("feel.loose", "off")]), times(&desk, seed, &[]));
        let late = |part: &str| -> BTreeMap<i64, f64> {
            let both = straight[part].iter().zip(&found[part]);
            both.map(|(written, at)| ((written * 1e6).round() as i64, at - written))
                .collect()
        };
        let ride = late("ride");
        for (place, late) in late("snare")
            .iter()
            .filter_map(|(place, late)| Some((ride.get(place)?, late)))
        {
            assert!((place - late).abs() < 1e-9, "one hand and the other");
        }
        let mean = |part: &str| {
            let own = late(part);
            let pairs: Vec<(f64, f64)> = own
                .iter()
                .filter_map(|(at, late)| Some((*late, *ride.get(at)?)))
                .collect();
            pairs.iter().map(|(a, b)| a * b).sum::<f64>() / pairs.len() as f64
        };
        (feet, keys) = (feet + mean("kick"), keys + mean("keys"));
        spread += ride.values().map(|late| late * late).sum::<f64>() / ride.len() as f64;
        count += 1.0;
    }
    assert!(
        (spread / count).sqrt() > 0.0045,
        "the spread stays: {}",
        (spread / count).sqrt()
    );
    let (feet, keys) = (feet / spread, keys / spread);
    assert!((0.8..0.98).contains(&feet), "the feet: {feet}");
    assert!(keys.abs() < 0.2, "somebody else: {keys}");
}

#[test]
fn a_part_that_changes_moves_no_other_part_of_its_player() {
    let text = drummer(&format!("{DRUMS}\nloose = {{ ms = 40, together = 0.2 }}"));
    let changed = text.replace("tom-low", "tom-high").replace("x D3", "x");
    let (before, after) = (times(&desk(&text), 2, &[]), times(&desk(&changed), 2, &[]));
    assert_eq!((&before["ride"], &before["kick"]), (&after["ride"], &after["kick"]));
}

#[test]
fn wrong_players_are_pointed_at() {
    let loose = "\n[[part]]\nname = \"snare\"\npiece = \"stand-in\"\nloose = { ms = 9 }\nnotes = \"D3\"\n";
    let changed = "\n[[part]]\nname = \"snare\"\npiece = \"stand-in\"\nnotes = \"D3\"\nchange = { \"2\" = { loose = { ms = 9 } } }\n";
    let plain = "\n[[part]]\nname = \"snare\"\npiece = \"stand-in\"\nnotes = \"D3\"\n";
    for (players, snare, what) in [
        ("{ drums = [\"kick\", \"snrae\"] }", plain, "did you mean `snare`?"),
        (
            "{ drums = [\"tom-*\"] }",
            plain,
            "no part has a name that begins with `tom-`",
        ),
        (
            "{ a = \"kick\", b = [\"k*\"] }",
            plain,
            "`kick` is played by `a` and by `b`",
        ),
        (
            "{ drums = [\"kick\", \"snare\"] }",
            loose,
            "`kick` and `snare` differ in `loose`, but `drums` plays both",
        ),
        (
            "{ drums = [\"kick\", \"snare\"] }",
            changed,
            "`kick` and `snare` differ in `loose`, but `drums` plays both",
        ),
        ("[\"kick\"]", plain, "lists of parts by a name of your own"),
        ("{ drums = 3 }", plain, "lists of parts by a name of your own"),
    ] {
        let text = format!(
            "[loop]\ntempo = 90\nbars = 2\n[feel]\nloose = {{ ms = 3 }}\nplayers = {players}\n{}{snare}",
            part("kick", "C2")
        );
        let answer = desk(&text).run(&["check", "loop.toml"]);
        assert_eq!(answer.code, Some(1), "{players}");
        assert!(answer.err.contains(what), "{}", answer.err);
    }
}
