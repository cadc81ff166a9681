//! How notes are played: the marks behind them, and the keys that those go by.

use super::notes::with;
use super::{resolved, wrong};
use crate::loopfile::{Expression, Swerve};

/// How the strokes of the first part are played.
fn expressions(text: &str) -> Vec<Expression> {
    let song = resolved(text);
    let strokes = song.parts[0].strokes.iter();
    strokes
        .map(|stroke| stroke.expression.as_deref().cloned().unwrap_or_default())
        .collect()
}

#[test]
fn marks_behind_a_note_say_how_it_is_played() {
    let read = expressions(&with(
        "notes = \"C4 D4:slide E4:slide=1/16:7 F4:scoop:fall=7 G4:bend=A4,90ms (A4):dead B4:legato:vibrato C5:bend=-0.5\"",
    ));
    let slide = |number: usize| read[number].slide.map(|slide| (slide.from.to_string(), slide.seconds));
    assert_eq!(slide(1), Some(("C4".into(), 0.08)));
    // A sixteenth at 92 BPM.
    let (from, seconds) = slide(2).expect("a slide");
    assert!(from == "D4" && (seconds - 15.0 / 92.0).abs() < 1e-12);
    let swerve = |semitones, seconds| Some(Swerve { semitones, seconds });
    assert_eq!((read[3].scoop, read[3].fall), (swerve(1.0, 0.1), swerve(7.0, 0.25)));
    assert_eq!((read[4].bend, read[7].bend), (swerve(2.0, 0.09), swerve(-0.5, 0.12)));
    assert!(read[5].dead && read[6].legato);
    let vibrato = read[6].vibrato.expect("a vibrato");
    assert_eq!((vibrato.rate, vibrato.cents, vibrato.delay), (5.5, 25.0, 0.2));
    assert_eq!(read[0], Expression::default());
}

#[test]
fn the_keys_of_a_part_say_how_its_marks_are_played() {
    let read = expressions(&with(
        "notes = \"C4:fall:scoop D4:slide E4:dead F4\"\nfall = 3\nscoop = { time = \"1/16\" }\nslide = \"40 ms\"\n\
         vibrato = { rate = 6, every = true }\n[part.change]\n\"2\" = { vibrato = \"off\", fall = { depth = 12, time = \"1/8\" } }",
    ));
    assert_eq!(
        read[0].fall,
        Some(Swerve {
            semitones: 3.0,
            seconds: 0.25
        })
    );
    assert_eq!(read[1].slide.map(|slide| slide.seconds), Some(0.04));
    assert_eq!(read[3].vibrato.map(|vibrato| vibrato.rate), Some(6.0));
    assert!(read[2].vibrato.is_none() && read[7].vibrato.is_none());
    assert_eq!(read[4].fall.map(|fall| fall.semitones), Some(12.0));
}

#[test]
fn a_slide_comes_from_the_last_note_of_the_round_and_doubles_go_along() {
    let song = resolved(&with("notes = \"C4:slide - - D4\"\ndouble = [{ interval = 12 }]"));
    let from = |part: usize, number: usize| {
        let expression = song.parts[part].strokes[number].expression.as_ref();
        expression.and_then(|expression| Some(expression.slide?.from.to_string()))
    };
    assert_eq!((from(0, 0), from(1, 0)), (Some("D4".into()), Some("D5".into())));
    let graced = resolved(&with("notes = \"C4 - B3/C4:slide -\""));
    let expression = graced.parts[0].strokes[1].expression.clone().expect("an expression");
    assert_eq!(expression.slide.map(|slide| slide.from), Some(expression.graces[0]));
    let damped = with("notes = \"C4:slide - - D4\"").replace("bars = 2", "bars = 2\nending = \"damp\"");
    assert_eq!(
        wrong(&damped),
        [
            "8:10 there is no note before it that it could slide from; write a scoop from below, such as `:scoop=2`, or a grace note before it"
        ]
    );
}

#[test]
fn wrong_marks_behind_a_note_are_pointed_at() {
    for (word, told) in [
        (
            "C4:slid",
            "7:13 `slid` does not say how a note is played; did you mean `slide`?",
        ),
        (
            "C4:slide=80",
            "7:13 `80` is nothing that `slide` takes: it takes a time; write for instance `:slide=80ms`; times are ms or note values",
        ),
        (
            "C4:fall=99",
            "7:13 `99` is nothing that `fall` takes: it takes semitones and a time; write for instance `:fall=5,250ms`; times are ms or note values",
        ),
        (
            "C4:bend",
            "7:13 a bend says where it goes; write for instance `:bend=+2,1/16`",
        ),
        (
            "C4:vibrato=6",
            "7:13 `vibrato` takes nothing behind it; its rate, depth and delay are the part's key `vibrato`",
        ),
        (
            "C4:dead:vibrato",
            "7:18 a dead note is damped at once: it has no `vibrato`; leave `:vibrato` or `:dead` out",
        ),
        (
            "C4:slide:scoop",
            "7:19 a note begins with a slide or with a scoop, not with both; leave one of them out",
        ),
        ("C4:fall:fall=2", "7:18 `fall` stands twice; write `:fall=5,250ms` once"),
    ] {
        assert_eq!(wrong(&with(&format!("notes = \"{word}\""))), [told], "{word}");
    }
}
