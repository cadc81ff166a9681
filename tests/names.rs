//! Names of one-shots, as makers write them, are read as a person would read them.
//!
//! `names/one-shots.txt` was written before the words were tuned. Its first, third, fifth … name served for tuning, the others were
//! kept back.

use std::path::Path;

use crate::support::wav::Wav;
use crate::support::{Desk, RATE, assert_near, click, meter, pluck, tab};
use pressroll::internals::kit::{Decided, GUESS, Kit, Reading, read_name};

/// How a half of the list was read.
struct Score {
    all: usize,
    right: usize,
    /// Wrong ones that say that they are a guess.
    wrong_but_unsure: usize,
    wrong: Vec<String>,
}

/// Names and the pieces that a person would take each for; none for no percussion piece.
fn list() -> Vec<(&'static str, Vec<&'static str>)> {
    let lines = include_str!("names/one-shots.txt").lines();
    let lines = lines.filter(|line| !line.is_empty() && !line.starts_with('#'));
    let split = |line: &'static str| {
        let (name, pieces) = line.split_once(" | ").unwrap_or_else(|| panic!("no piece: {line}"));
        (name, pieces.split('/').collect())
    };
    lines.map(split).collect()
}

fn score(half: usize) -> Score {
    let mut score = Score {
        all: 0,
        right: 0,
        wrong_but_unsure: 0,
        wrong: Vec::new(),
    };
    for (name, pieces) in list().into_iter().skip(half).step_by(2) {
        let Reading {
            piece,
            confidence,
            words,
            ..
        } = read_name(Path::new(name));
        let piece = piece.unwrap_or("none");
        score.all += 1;
        if pieces.contains(&piece) {
            score.right += 1;
        } else {
            score.wrong_but_unsure += usize::from(confidence < GUESS);
            score
                .wrong
                .push(format!("{name}: {piece}, not {pieces:?}; {confidence:.2} by {words:?}"));
        }
    }
    score
}

impl Score {
    /// At least as many right as were reached, and every wrong one says that it is a guess.
    fn assert_holds(&self, reached: usize, wrong: &str) {
        let said = format!(
            "{} of {}, {} of the wrong ones unsure",
            self.right, self.all, self.wrong_but_unsure
        );
        assert!(self.right >= reached, "{said}\n{wrong}");
        assert_eq!(self.wrong_but_unsure, self.all - self.right, "{said}\n{wrong}");
    }
}

#[test]
fn names_that_were_tuned_on_are_read_right() {
    let score = score(0);
    assert_eq!(score.all, 214);
    score.assert_holds(214, &score.wrong.join("\n"));
}

/// Which ones are wrong is not told, so that nobody tunes on them.
#[test]
fn names_that_were_kept_back_are_read_right() {
    let score = score(1);
    assert_eq!(score.all, 213);
    score.assert_holds(210, "");
}

/// A bar of 4 s, its lines as given, on the folder `shots`.
fn bar(lines: &str) -> String {
    tab("60", 1, lines).replace("[loop]\n", "[loop]\nkit = \"shots\"\n")
}

/// A click of a height, by which a file is known again.
fn click_of(height: f32) -> Vec<f32> {
    click().into_iter().map(|sample| sample * 2.0 * height).collect()
}

/// The height of what sounds at a time, undone by the pan at the centre.
fn height(sound: &Wav, seconds: f64) -> f64 {
    let frame = (seconds * f64::from(RATE)).round() as usize;
    let around = &sound.left()[frame.saturating_sub(2)..(frame + 3).min(sound.frames())];
    meter::peak(around) * 2f64.sqrt()
}

#[test]
fn a_deep_folder_of_anyones_one_shots_just_plays() {
    let desk = Desk::new();
    // Each file of a height of its own, at which its piece is heard.
    let files = [
        ("kick", "Saltbox Vol 1/Drums/Kicks/SBX 04 (Dry).wav", 0.10),
        ("snare", "Saltbox Vol 1/Drums/Snares/deep 01.wav", 0.15),
        ("hat-closed", "Saltbox Vol 1/Drums/Hats/closed/03.wav", 0.20),
        ("hat-open", "Saltbox Vol 1/Drums/Hats/Open/03.wav", 0.25),
        ("tom-floor", "Quay Kit/Tom 16in.WAV", 0.30),
        ("tom-high", "Quay Kit/Tom 10in.WAV", 0.35),
        ("woodblock-low", "Quay Kit/wd block lo.wav", 0.40),
        ("чайка", "Берег/чайка.wav", 0.45),
        ("霧笛", "港/霧笛.wav", 0.50),
    ];
    for (_, file, height) in files {
        desk.one_shot(&format!("shots/{file}"), &[click_of(height)]);
    }
    for file in [
        ".DS_Store",
        "__MACOSX/Quay Kit/._Tom 16in.WAV",
        "__MACOSX/kick.wav",
        "Quay Kit/._kick.wav",
        "Thumbs.db",
        "Quay Kit/desktop.ini",
    ] {
        desk.write(&format!("shots/{file}"), "not a sound");
    }
    for (piece, file, wanted) in files {
        let sound = desk.render(&bar(&format!("{piece} 9---")));
        assert_near(
            height(&sound, 0.0),
            f64::from(wanted),
            1e-4,
            format!("{piece} of {file}"),
        );
    }
}

#[test]
fn a_loop_or_a_phrase_is_no_piece() {
    let desk = Desk::new();
    for file in ["kick loop 92bpm.wav", "Snare Fill 2.wav", "Drum Loop 92bpm.wav"] {
        desk.one_shot(&format!("shots/{file}"), &[click()]);
    }
    desk.write("loop.toml", bar("kick x---\nsnare x---"));
    let answer = desk.run(&["check", "loop.toml"]);
    assert_eq!(answer.code, Some(1), "{}", answer.out);
    for piece in ["`kick`", "`snare`"] {
        assert!(answer.err.contains(piece), "{}", answer.err);
    }
    // By their own names they play.
    desk.render(&bar("snare-fill-2 x---"));
}

#[test]
fn velocities_in_names_are_layers_that_keep_their_own_loudness() {
    let law = |velocity: f64, top: f64| (velocity / top).powi(2);
    for (soft, hard, top) in [
        ("snare vel 60.wav", "snare vel 127.wav", 60.0),
        ("snare_p.wav", "snare_ff.wav", 64.0),
        ("Soft Snare.wav", "Snare Hard.wav", 64.0),
        ("SN-L1-R1.wav", "SN-L2-R1.wav", 64.0),
    ] {
        let desk = Desk::new();
        desk.one_shot(&format!("shots/{soft}"), &[click_of(0.25)]);
        desk.one_shot(&format!("shots/{hard}"), &[click_of(0.5)]);
        let sound = desk.render(&bar("snare gXx9"));
        // A ghost note is 40, a hit 96, an accent 118.
        let wanted = [
            0.25 * law(40.0, top),
            0.5 * law(118.0, 127.0),
            0.5 * law(96.0, 127.0),
            0.5,
        ];
        for (at, wanted) in wanted.into_iter().enumerate() {
            assert_near(
                height(&sound, at as f64),
                wanted,
                0.001 * wanted,
                format!("{soft} at {at} s"),
            );
        }
    }
}

#[test]
fn turns_in_names_are_taken_in_order_and_the_seed_chooses_the_first() {
    for names in [
        ["clap_01", "clap_02", "clap_03"],
        ["Clap rr1", "Clap rr2", "Clap rr10"],
        ["clap a", "clap b", "clap c"],
    ] {
        let desk = Desk::new();
        for (name, height) in names.iter().zip([0.1, 0.2, 0.3]) {
            desk.one_shot(&format!("shots/{name}.wav"), &[click_of(height)]);
        }
        let mut firsts = Vec::new();
        for seed in 1..12 {
            let text = bar("clap 99999999").replace("tempo", &format!("seed = {seed}\ntempo"));
            let sound = desk.render(&text);
            let turns: Vec<i64> = (0..8)
                .map(|n| (10.0 * height(&sound, f64::from(n) * 0.5)).round() as i64)
                .collect();
            for pair in turns.windows(2) {
                assert_eq!(pair[1], pair[0] % 3 + 1, "{names:?}: {turns:?}");
            }
            firsts.push(turns[0]);
        }
        assert!((1..=3).all(|turn| firsts.contains(&turn)), "{names:?}: {firsts:?}");
    }
}

#[test]
fn what_names_leave_open_is_heard() {
    let desk = Desk::new();
    desk.one_shot("shots/hats/amber.wav", &[pluck(7_000.0, 1.5, 0.2)]);
    desk.one_shot("shots/hats/brine.wav", &[pluck(7_000.0, 0.1, 0.3)]);
    desk.one_shot("shots/Tom 1.wav", &[pluck(180.0, 0.5, 0.1)]);
    desk.one_shot("shots/Tom 2.wav", &[pluck(130.0, 0.5, 0.15)]);
    desk.one_shot("shots/Tom 3.wav", &[pluck(90.0, 0.5, 0.25)]);
    desk.one_shot("shots/layer/kick snare.wav", &[pluck(60.0, 0.4, 0.4)]);
    for (piece, wanted) in [
        ("hat-open", 0.2),
        ("hat-closed", 0.3),
        ("tom-high", 0.1),
        ("tom-mid", 0.15),
        ("tom-low", 0.25),
        ("kick", 0.4),
    ] {
        let sound = desk.render(&bar(&format!("{piece} 9---")));
        assert_near(height(&sound, 0.0), wanted, 0.002, piece);
    }
    // Turns that sound alike stay turns.
    for turn in 1..=3 {
        desk.one_shot(&format!("shots/Tom {turn}.wav"), &[pluck(130.0, 0.5, 0.15)]);
    }
    desk.write("loop.toml", bar("tom-high x---"));
    assert_eq!(desk.run(&["check", "loop.toml"]).code, Some(1));
}

#[test]
fn a_kit_tells_how_surely_it_reads_each_piece() {
    let desk = Desk::new();
    for file in [
        "Snare Tight.wav",
        "Kicks/deep.wav",
        "CB.wav",
        "foghorn.wav",
        "hats/OHH_soft.wav",
        "hats/OHH_hard.wav",
    ] {
        desk.one_shot(&format!("shots/{file}"), &[click()]);
    }
    let kit = Kit::open(&[desk.path("shots")], &[]).unwrap_or_else(|problems| panic!("{problems}"));
    let told = |name: &str| {
        let at = kit.index().find(name).unwrap_or_else(|| panic!("no {name}"));
        kit.reading(at).unwrap_or_else(|| panic!("nothing is told of {name}"))
    };
    let words = |name: &str| told(name).words.join(" ");
    assert_eq!(
        (words("snare").as_str(), told("snare").decided),
        ("snare", Decided::Name)
    );
    assert_eq!(
        (words("kick").as_str(), told("kick").decided),
        ("kicks", Decided::Folder)
    );
    assert_eq!(words("hat-open"), "ohh");
    assert!(told("snare").confidence > told("kick").confidence);
    assert!(told("kick").confidence >= GUESS && told("hat-open").confidence >= GUESS);
    assert_eq!(told("foghorn").decided, Decided::Nothing);
    for guess in ["foghorn", "cowbell"] {
        assert!(told(guess).confidence < GUESS, "{guess}");
    }
}
