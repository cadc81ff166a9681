//! Pictures of a render: each hit stands where it sounds, as high as it is hard, and the same loop gives the same bytes.

use std::fs;

use crate::support::{Desk, click, tab};
use pressroll::Audio;
use pressroll::internals::export::picture::{Version, Versions};
use pressroll::internals::export::{Bar, Bars};

/// The straight upright lines of an SVG, from the left: x, the lower end's y, and the height.
fn uprights(svg: &str) -> Vec<(f64, f64, f64)> {
    let number = |text: &str| text.parse::<f64>().expect("a number");
    let lines = svg
        .lines()
        .filter_map(|line| line.strip_prefix("<path d=\"M")?.split_once('"'));
    let ends = lines
        .filter_map(|(data, _)| data.split_once('L'))
        .filter_map(|(from, to)| {
            let (from, to) = (from.split_once(' ')?, to.split_once(' ')?);
            (!to.1.contains('L')).then(|| [number(from.0), number(from.1), number(to.0), number(to.1)])
        });
    let mut uprights: Vec<_> = ends
        .filter(|[x, _, other, _]| x == other)
        .map(|[x, top, _, foot]| (x, foot, foot - top))
        .collect();
    uprights.sort_by(|a, b| a.partial_cmp(b).expect("numbers"));
    uprights
}

fn words(svg: &str) -> Vec<&str> {
    let texts = svg.split("<text ").skip(1);
    texts
        .filter_map(|text| text.split_once('>')?.1.split_once("</text>"))
        .map(|(words, _)| words)
        .collect()
}

#[test]
fn hits_stand_where_they_sound_as_high_as_they_are_hard() {
    let desk = Desk::new();
    desk.one_shot("kick.wav", &[click()]);
    desk.one_shot("snare.wav", &[click()]);
    desk.write(
        "one.toml",
        tab("120", 2, "snare ---- ---- X--- ---- | ---- ---- ---- g---\nkick 9---"),
    );
    let answer = desk.run(&["render", "one.toml", "-o", "one.wav", "--picture"]);
    answer.assert_done();
    assert!(
        answer.out.contains("one.svg") && answer.out.contains("one.png"),
        "{}",
        answer.out
    );
    let svg = fs::read_to_string(desk.path("one.svg")).unwrap();
    let lines = uprights(&svg);
    // Bars are the tallest lines: two of them, and the repeat sign's two.
    let tallest = lines.iter().map(|(_, _, height)| *height).fold(0.0, f64::max);
    let bars: Vec<f64> = lines
        .iter()
        .filter(|(.., height)| *height == tallest)
        .map(|(x, ..)| *x)
        .collect();
    assert_eq!(bars.len(), 4);
    let at = |bar: f64| bars[0] + (bars[1] - bars[0]) * bar;
    // Hits by row: their height is their share of velocity 127.
    let hit = |bar: f64, velocity: f64| {
        let near =
            |line: &&(f64, f64, f64)| (line.0 - at(bar)).abs() < 0.6 && (line.2 - 19.0 * velocity / 127.0).abs() < 0.02;
        assert!(
            lines.iter().any(|line| near(&line)),
            "no hit at bar {bar} with velocity {velocity} in {lines:?}"
        );
    };
    hit(0.0, 127.0);
    hit(1.0, 127.0);
    hit(0.5, 118.0);
    hit(1.75, 40.0);
    let words = words(&svg);
    for word in ["snare", "kick", "120 BPM · 4/4", "1", "2", "4"] {
        assert!(words.contains(&word), "{word} is not in {words:?}");
    }
}

#[test]
fn a_picture_is_the_same_whatever_the_threads_and_a_png_of_its_size() {
    let desk = Desk::new();
    desk.one_shot("kick.wav", &[click()]);
    let loop_file = tab("96", 1, "kick x-x-");
    desk.write(
        "one.toml",
        loop_file.replace("tempo", "title = \"Quay <3> & \\\"pier\\\" ♭é\"\ntempo"),
    );
    let mut pictures = Vec::new();
    for threads in ["1", "4"] {
        let folder = desk.path("");
        let arguments = ["render", "one.toml", "-o", "one.wav", "--picture"];
        desk.run_in(&folder, &[("RAYON_NUM_THREADS", threads)], &arguments)
            .assert_done();
        pictures.push(["one.svg", "one.png"].map(|name| fs::read(desk.path(name)).unwrap()));
    }
    assert!(pictures[0] == pictures[1]);
    let [svg, png] = &pictures[0];
    let svg = String::from_utf8(svg.clone()).unwrap();
    assert!(svg.contains("Quay &lt;3&gt; &amp; &quot;pier&quot; ♭é"));
    let height: f64 = svg
        .split("height=\"")
        .nth(1)
        .unwrap()
        .split('"')
        .next()
        .unwrap()
        .parse()
        .unwrap();
    assert_eq!(&png[..8], b"\x89PNG\r\n\x1a\n");
    let long = |at: usize| u32::from_be_bytes(png[at..at + 4].try_into().unwrap());
    assert_eq!((long(16), long(20)), (2400, (height * 2.0).ceil() as u32));
}

#[test]
fn sections_and_chords_stand_over_the_bars_of_a_form() {
    let desk = Desk::new();
    desk.one_shot("kick.wav", &[click()]);
    let chords = "\n[chords]\n\"1\" = \"Gm9\"\n\"2\" = \"Cm7 / F13 /\"\n";
    desk.write("one.toml", tab("120", 2, "kick x---") + chords);
    desk.write(
        "two.toml",
        tab("100", 1, "kick x-x-")
            .replace("tempo", "metre = \"3/4\"\ntempo")
            .replace("x-x-", "x-x-x-"),
    );
    let form = "[form]\ntitle = \"Show\"\n[[section]]\nname = \"verse\"\nloop = \"one.toml\"\ntimes = 2\n[[section]]\nname = \"tag\"\nloop = \"two.toml\"\n";
    desk.write("show.toml", form);
    desk.run(&["render", "show.toml", "-o", "show.wav", "--picture"])
        .assert_done();
    let svg = fs::read_to_string(desk.path("show.svg")).unwrap();
    let words = words(&svg);
    for word in ["Show", "verse", "tag", "120 BPM · 100 BPM · 4/4 · 3/4", "5"] {
        assert!(words.contains(&word), "{word} is not in {words:?}");
    }
    assert_eq!(words.iter().filter(|word| **word == "Gm9").count(), 2);
    assert_eq!(words.iter().filter(|word| **word == "F13").count(), 2);
}

#[test]
fn json_tells_the_pictures_and_nothing_is_written_over() {
    let desk = Desk::new();
    desk.one_shot("kick.wav", &[click()]);
    desk.write("one.toml", tab("120", 1, "kick x---"));
    let (_, told) = desk.render_file("one.toml", &["--picture"]);
    assert_eq!(told["pictures"], serde_json::json!(["out.svg", "out.png"]));
    let answer = desk.run(&["render", "one.toml", "-o", "one.svg", "--picture"]);
    assert_eq!(answer.code, Some(1));
    assert!(answer.err.contains("both the mix and its picture"), "{}", answer.err);
    assert!(!desk.path("one.svg").exists());
}

#[test]
fn versions_show_how_they_differ_from_the_first() {
    let steady = |level: f32| Audio {
        channels: vec![vec![level; 4800]; 2],
        rate: 48_000,
    };
    let (first, same, half) = (steady(0.5), steady(0.5), steady(0.25));
    let version = |name: &str, audio| Version {
        name: name.into(),
        audio,
    };
    let bar = Bar {
        start: 0,
        number: 1,
        counts: 4,
        section: None,
    };
    let picture = Versions {
        title: "Night ferry".into(),
        about: vec![],
        bars: Bars {
            bars: vec![bar],
            end: 4800,
        },
        versions: vec![version("a", &first), version("b", &same), version("c", &half)],
    };
    let picture = picture.picture();
    let svg = picture.svg();
    let words = words(&svg);
    assert_eq!(words.iter().filter(|word| **word == "difference from 1").count(), 2);
    assert!(words.contains(&"none"), "{words:?}");
    // As strong as the version itself: 0.25 away from 0.25.
    assert!(words.contains(&"+0.0 dB relative to version 1"), "{words:?}");
    // In the page it takes the page's colours, by day and by night.
    let in_page = picture.for_page();
    assert!(in_page.contains("style=\"fill:var(--accent)\"") && !in_page.contains('#'));
    assert_eq!(picture.png().unwrap(), picture.png().unwrap());
}
