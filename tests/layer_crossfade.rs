//! `layer_crossfade`: between two layers of recordings a hit plays both, so that a crescendo has no step; nothing else moves.

use crate::support::{Desk, meter, noise, tab, wav::Wav};

/// A tenth of a second of noise.
fn burst(seed: u32) -> Vec<f32> {
    let noise = noise(4_800, seed);
    noise.iter().map(|sample| *sample as f32 / 65_536.0).collect()
}

/// A snare of three layers whose recordings are equally loud, with more settings.
fn desk(settings: &str) -> Desk {
    let desk = Desk::new();
    for (name, seed) in [("soft", 1), ("middle-1", 2), ("middle-2", 3), ("hard", 4)] {
        desk.one_shot(&format!("{name}.wav"), &[burst(seed)]);
    }
    let layers = "layers = [{ upto = 50, files = [\"soft.wav\"] }, \
                  { upto = 90, files = [\"middle-1.wav\", \"middle-2.wav\"] }, { files = [\"hard.wav\"] }]";
    desk.write(
        "kit.toml",
        format!("[[piece]]\nname = \"snare\"\n{layers}\n{settings}\n"),
    );
    desk
}

/// Sixteenths from velocity 1 to nearly 127, an eighth of a second each.
fn crescendo() -> String {
    "[loop]\ntempo = 120\nbars = 8\n[[part]]\nname = \"snare\"\n\
     hits = { \"all\" = { swell = \"1-127\", play = \"xxxx xxxx xxxx xxxx\" } }\n"
        .into()
}

/// Velocities and levels of the crescendo's strokes, in dB of their power.
fn levels(sound: &Wav) -> Vec<(f64, f64)> {
    let stroke = |number: usize| {
        let from = number * 6_000;
        let power = sound.left()[from..from + 4_800]
            .iter()
            .map(|sample| f64::from(*sample).powi(2));
        let velocity = 1.0 + 126.0 * number as f64 / 128.0;
        (velocity, meter::db((power.sum::<f64>() / 4_800.0).sqrt()))
    };
    (0..128).map(stroke).collect()
}

/// The largest step down from a stroke to the next, in dB.
fn step_down(sound: &Wav) -> f64 {
    let levels = levels(sound);
    levels.windows(2).map(|pair| pair[0].1 - pair[1].1).fold(0.0, f64::max)
}

#[test]
fn a_crescendo_has_no_step_where_one_layer_turns_into_the_next() {
    // At 50 the upper layer sounds 40·log10(50/90) dB above its own level: 10.2 dB below the lower one.
    let hard_edges = step_down(&desk("").render(&crescendo()));
    assert!((9.0..11.0).contains(&hard_edges), "{hard_edges} dB");
    let crossfaded = step_down(&desk("layer_crossfade = 36").render(&crescendo()));
    assert!(crossfaded < 1.2, "{crossfaded} dB");
}

#[test]
fn layers_cross_at_equal_power() {
    // Without what velocity does to level, layers that are equally loud stay as loud while they cross.
    let alone = levels(&desk("touch = 0").render(&crescendo()))[0].1;
    for (velocity, level) in levels(&desk("touch = 0\nlayer_crossfade = 36").render(&crescendo())) {
        assert!((level - alone).abs() < 0.5, "{} dB at {velocity}", level - alone);
    }
}

#[test]
fn a_hit_away_from_an_edge_stays_as_it_is_and_off_is_off() {
    let plain = desk("").render(&crescendo());
    assert_eq!(
        desk("layer_crossfade = \"off\"").render(&crescendo()).left(),
        plain.left()
    );
    let crossfaded = desk("layer_crossfade = 10").render(&crescendo());
    for (number, (velocity, _)) in levels(&plain).iter().enumerate() {
        let stroke = |sound: &Wav| sound.left()[number * 6_000..(number + 1) * 6_000].to_vec();
        let near = [50.0, 90.0].iter().any(|edge| (velocity - edge).abs() < 5.0);
        // The middle layer's takes alternate; those between it and another have had their turn.
        let middle = (45.0..=95.0).contains(velocity);
        if !middle {
            assert_eq!(stroke(&plain), stroke(&crossfaded), "velocity {velocity}");
        } else if near {
            assert_ne!(stroke(&plain), stroke(&crossfaded), "velocity {velocity}");
        }
    }
}

#[test]
fn each_layer_takes_its_turns_and_all_that_sounds_is_credited() {
    // Velocity 96 lies between the middle layer and the hard one.
    let desk = desk("layer_crossfade = 20");
    desk.render_with(&tab("60", 1, "snare x-x- x-x-"), &["--credits"]);
    let credits = std::fs::read_to_string(desk.path("out.credits.txt")).expect("credits");
    let hits = |file: &str| {
        let (_, block) = credits.split_once(&format!("  {file}\n    plays    snare, "))?;
        block.split(' ').next()?.parse::<u32>().ok()
    };
    let all = ["middle-1.wav", "middle-2.wav", "hard.wav"].map(hits);
    assert_eq!(all, [Some(2), Some(2), Some(4)], "{credits}");
    assert!(!credits.contains("soft.wav"), "{credits}");
}

#[test]
fn a_part_says_it_for_itself_and_midi_and_figures_stay_as_they_are() {
    let desk = desk("");
    let midi = |more: &str| {
        let (sound, told) = desk.render_with(&(crescendo() + more), &["--midi"]);
        let file = std::fs::read(desk.path("out.mid")).expect("a file");
        (sound, told["hits"].as_u64(), file)
    };
    let (plain, hits, file) = midi("");
    let (crossfaded, hits_crossfaded, file_crossfaded) = midi("layer_crossfade = 36\n");
    assert!(step_down(&crossfaded) < step_down(&plain) - 5.0);
    assert_eq!((hits, file), (hits_crossfaded, file_crossfaded));
}
