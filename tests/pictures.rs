//! Pictures of a render: each hit stands where it sounds, as high as it is hard, each note as high as its pitch and as long as it is
//! held; chords are whole, sections and sweeps are named, long forms go on pages. The same loop gives the same bytes.

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
    // Half as strong as the first: 0.25 away from 0.5.
    assert!(words.contains(&"\u{2212}6.0 dB relative to version 1"), "{words:?}");
    assert!(svg.matches("></text>").count() <= 1, "no section is named: {svg}");
    // In the page it takes the page's colours, by day and by night.
    let in_page = picture.for_page();
    assert!(in_page.contains("style=\"fill:var(--accent)\"") && !in_page.contains('#'));
    assert_eq!(picture.png().unwrap(), picture.png().unwrap());
}

/// The level lines of an SVG as wide as marks are: their beginning, their end and their height.
fn levels(svg: &str, colour: &str) -> Vec<(f64, f64, f64)> {
    let number = |text: &str| text.parse::<f64>().expect("a number");
    let lines = svg.lines().filter(|line| line.contains(colour));
    let ends = lines.filter_map(|line| line.strip_prefix("<path d=\"M")?.split_once('"')?.0.split_once('L'));
    let ends = ends.filter_map(|(from, to)| Some((from.split_once(' ')?, to.split_once(' ')?)));
    let level = ends.filter(|((_, one), (_, other))| one == other);
    level
        .map(|((from, y), (to, _))| (number(from), number(to), number(y)))
        .collect()
}

/// The ink of what plays, and that of chords and sweeps.
const INK: &str = "#231d15";
const ACCENT: &str = "#8f2a1c";

#[test]
fn notes_are_as_high_as_their_pitch_and_as_long_as_they_are_held() {
    let desk = Desk::new();
    desk.one_shot("kick.wav", &[click()]);
    let song = "[loop]\ntempo = 120\nbars = 2\nkey = 'F minor'\n[[part]]\nname = 'bass'\npiece = 'stand-in'\nnotes = 'F1 = - C2 | Ab2 = = ='\n";
    desk.write("one.toml", song);
    desk.run(&["render", "one.toml", "-o", "one.wav", "--picture"])
        .assert_done();
    let svg = fs::read_to_string(desk.path("one.svg")).unwrap();
    let words = words(&svg);
    assert!(
        words.contains(&"F1") && words.contains(&"Ab2") && !words.contains(&"C2"),
        "{words:?}"
    );
    let notes = levels(&svg, INK);
    assert_eq!(notes.len(), 3, "{notes:?}");
    // F1, C2 and Ab2 are 7 and 15 semitones apart.
    let (low, fifth, high) = (notes[0].2, notes[1].2, notes[2].2);
    assert!(((low - fifth) / (low - high) - 7.0 / 15.0).abs() < 1e-3, "{notes:?}");
    // Two quarters, one, and four, each with a unit to spare.
    let lengths: Vec<f64> = notes.iter().map(|(from, to, _)| to - from + 1.0).collect();
    assert!(
        (lengths[0] / lengths[1] - 2.0).abs() < 0.01 && (lengths[2] / lengths[1] - 4.0).abs() < 0.01,
        "{notes:?}"
    );
    let told = "<desc>Parts: bass 3 notes between F1 and Ab2.</desc>";
    assert!(svg.contains(told), "{}", &svg[..600]);
}

#[test]
fn a_note_whose_pitch_moves_is_drawn_as_it_moves() {
    let desk = Desk::new();
    desk.one_shot("kick.wav", &[click()]);
    let song = |marks: [&str; 3]| {
        let [slide, fall, bend] = marks;
        format!(
            "[loop]\ntempo = 120\nbars = 2\n[[part]]\nname = 'lead'\npiece = 'stand-in'\n\
             notes = 'C4 = G4{slide} = | E4{fall} = D4{bend} ='\n"
        )
    };
    let drawn = |text: &str| {
        desk.write("one.toml", text);
        desk.run(&["render", "one.toml", "-o", "one.wav", "--picture", "--force"])
            .assert_done();
        fs::read_to_string(desk.path("one.svg")).unwrap()
    };
    // Ends of lines in the ink of what plays: x and y each. Uprights mark onsets.
    let lines = |svg: &str| -> Vec<((f64, f64), (f64, f64))> {
        let point = |text: &str| {
            let (x, y) = text.split_once(' ')?;
            Some((x.parse::<f64>().ok()?, y.parse::<f64>().ok()?))
        };
        let lines = svg.lines().filter(|line| line.contains(INK));
        let ends = lines.filter_map(|line| line.strip_prefix("<path d=\"M")?.split_once('"')?.0.split_once('L'));
        let ends = ends.filter_map(|(from, to)| Some((point(from)?, point(to)?)));
        ends.filter(|((x, _), (other, _))| x != other).collect()
    };
    let still = drawn(&song(["", "", ""]));
    let levels = lines(&still);
    assert_eq!(levels.len(), 4, "{levels:?}");
    let (low, high) = (levels[0].0.1, levels[1].0.1);
    let semitone = (low - high) / 7.0;
    let moving = drawn(&song([":slide=200ms", ":fall=4,300ms", ":bend=+2,100ms"]));
    // The lines of a note go on from one another.
    let mut notes: Vec<Vec<(f64, f64)>> = Vec::new();
    for (from, to) in lines(&moving) {
        match notes.last_mut().filter(|note| note.last() == Some(&from)) {
            Some(note) => note.push(to),
            None => notes.push(vec![from, to]),
        }
    }
    assert_eq!(notes.len(), 4, "{notes:?}");
    let heights = |note: usize| notes[note].iter().map(|(_, y)| *y).collect::<Vec<f64>>();
    let close = |one: f64, other: f64| (one - other).abs() < 0.02 + semitone * 0.02;
    // It slides up from the note before, and stays.
    let slid = heights(1);
    assert!(close(slid[0], low) && close(slid[slid.len() - 1], high), "{slid:?}");
    // E4 falls to C4, the lowest of the band.
    let fell = heights(2);
    assert!(
        close(fell[0], low - 4.0 * semitone) && close(fell[fell.len() - 1], low),
        "{fell:?}"
    );
    // D4 is bent up by a tone, and comes back.
    let bent = heights(3);
    let top = bent.iter().copied().fold(f64::INFINITY, f64::min);
    assert!(
        close(bent[0], low - 2.0 * semitone) && close(top, low - 4.0 * semitone),
        "{bent:?}"
    );
    assert!(close(bent[bent.len() - 1], low - 2.0 * semitone), "{bent:?}");
}

#[test]
fn chords_are_never_cut() {
    let desk = Desk::new();
    desk.one_shot("kick.wav", &[click()]);
    let symbols = [
        "Ebmaj7(#11)",
        "C#m7b5",
        "D7(b9,#9,b13)",
        "Bbmaj7(#11)/F",
        "G13sus4",
        "F#m11",
        "Abmaj9(#11)",
        "Dbmaj7",
    ];
    let chords = format!("[chords]\nall = '{}'\n", symbols.join(" "));
    for bars in [1, 8, 12] {
        desk.write("one.toml", tab("120", bars, "kick x---") + &chords);
        desk.run(&["render", "one.toml", "-o", "one.wav", "--picture"])
            .assert_done();
        let svg = fs::read_to_string(desk.path("one.svg")).unwrap();
        let words = words(&svg);
        for symbol in symbols {
            let times = words.iter().filter(|word| **word == symbol).count();
            assert_eq!(times, bars as usize, "{symbol} in {words:?}");
        }
        assert!(!svg.contains('…'));
    }
}

#[test]
fn a_sweep_is_a_line_with_its_name_and_its_values() {
    let desk = Desk::new();
    desk.one_shot("kick.wav", &[click()]);
    let sweep = "[[sweep]]\nkey = 'kick.gain'\nbars = '2-3'\nfrom = -18\nto = -3\n";
    desk.write("one.toml", tab("120", 4, "kick x---") + sweep);
    desk.run(&["render", "one.toml", "-o", "one.wav", "--picture"])
        .assert_done();
    let svg = fs::read_to_string(desk.path("one.svg")).unwrap();
    let words = words(&svg);
    for word in ["kick.gain", "\u{2212}18 dB", "\u{2212}3 dB"] {
        assert!(words.contains(&word), "{word} is not in {words:?}");
    }
    assert!(
        svg.contains("Sweeps: kick.gain from \u{2212}18 dB to \u{2212}3 dB."),
        "{}",
        &svg[..600]
    );
    // It holds in bar 1 and in bar 4, and rises evenly between.
    let held = levels(&svg, ACCENT);
    let held: Vec<_> = held.iter().filter(|(from, to, _)| to - from > 20.0).collect();
    let [(first, second, low), (fourth, end, high)] = held[..] else {
        panic!("{held:?}")
    };
    assert!(
        high < low && (fourth - second - 2.0 * (second - first)).abs() < 0.1,
        "{held:?}"
    );
    assert!((end - fourth - (second - first)).abs() < 0.1, "{held:?}");
    // A form has that of its master, which runs through its sections.
    let form = "[form]\ntitle = 'Show'\n[[section]]\nname = 'a'\nloop = 'one.toml'\n[[section]]\nname = 'b'\nloop = 'one.toml'\n[[sweep]]\nkey = 'master.gain'\nbars = '1-8'\nfrom = -6\nto = 0\n";
    desk.write("show.toml", form);
    desk.run(&["render", "show.toml", "-o", "show.wav", "--picture"])
        .assert_done();
    let svg = fs::read_to_string(desk.path("show.svg")).unwrap();
    assert!(
        svg.contains("kick.gain from") && svg.contains("master.gain from \u{2212}6 dB to 0 dB"),
        "{}",
        &svg[..800]
    );
}

/// A form of 200 bars: ten times a verse of 16 and a tag of 4.
fn long_form(desk: &Desk) {
    desk.one_shot("kick.wav", &[click()]);
    desk.write("one.toml", tab("240", 16, "kick x-x-") + "[chords]\nall = 'Gm7 C7'\n");
    desk.write(
        "two.toml",
        tab("240", 4, "kick xxxx") + "[[part]]\nname = 'tune'\npiece = 'stand-in'\nnotes = 'C4 G4'\n",
    );
    let sections = |number: u32| {
        format!(
            "[[section]]\nname = 'verse {number}'\nloop = 'one.toml'\n[[section]]\nname = 'tag {number}'\nloop = 'two.toml'\n"
        )
    };
    let sections: String = (1..=10).map(sections).collect();
    desk.write("show.toml", format!("[form]\ntitle = 'Show'\n{sections}"));
}

#[test]
fn a_long_form_goes_on_pages_that_print_whole() {
    let desk = Desk::new();
    long_form(&desk);
    let render = ["render", "show.toml", "-o", "show.wav", "--picture", "--json"];
    let answer = desk.run(&render);
    answer.assert_done();
    let told: serde_json::Value = serde_json::from_str(&answer.out).expect("JSON");
    let files: Vec<String> = serde_json::from_value(told["pictures"].clone()).expect("names");
    let pages = files.len() / 2;
    assert!(pages >= 3, "{files:?}");
    let expected = (1..=pages).flat_map(|page| [format!("show-{page}.svg"), format!("show-{page}.png")]);
    assert_eq!(files, expected.collect::<Vec<_>>());
    assert!(!desk.path("show.svg").exists());
    let svgs: Vec<String> = files
        .iter()
        .step_by(2)
        .map(|file| fs::read_to_string(desk.path(file)).unwrap())
        .collect();
    let mut bars = Vec::new();
    for (page, svg) in svgs.iter().enumerate() {
        let size = |name: &str| {
            svg.split(&format!(" {name}=\""))
                .nth(1)
                .and_then(|text| text.split('"').next()?.parse().ok())
        };
        let (width, height): (f64, f64) = (size("width").unwrap(), size("height").unwrap());
        // Letter is 8.5 by 11 inches, A4 is narrower still against its height (ISO 216).
        assert!(height <= width * 11.0 / 8.5 + 0.1, "page {page}: {width} by {height}");
        let words = words(svg);
        let title = format!("Show, page {} of {pages}", page + 1);
        assert!(words.contains(&title.as_str()), "{words:?}");
        // Numbers of bars stand in the size of theirs; counts are smaller.
        let numbers = svg
            .split("<text ")
            .skip(1)
            .filter(|text| text.contains("font-size=\"12\"") && text.contains(INK));
        bars.extend(numbers.filter_map(|text| text.split_once('>')?.1.split_once('<')?.0.parse::<u32>().ok()));
    }
    assert_eq!(bars, (1..=200).collect::<Vec<_>>());
    let all: Vec<&str> = svgs.iter().flat_map(|svg| words(svg)).collect();
    // The tags have no chords, so none is said again where they begin.
    assert_eq!(all.iter().filter(|word| **word == "C7").count(), 160);
    for section in ["verse 1", "tag 1", "verse 10", "tag 10"] {
        assert!(all.contains(&section), "{section}");
    }
    // What is there already is somebody's: nothing is written, not even the mix.
    fs::remove_file(desk.path("show.wav")).unwrap();
    fs::write(desk.path("show-2.png"), "a holiday").unwrap();
    let refused = desk.run(&render);
    assert_eq!(refused.code, Some(1));
    assert!(refused.err.contains("show-2.png is there already"), "{}", refused.err);
    assert!(!desk.path("show.wav").exists());
    assert_eq!(fs::read(desk.path("show-2.png")).unwrap(), b"a holiday");
    // A shorter one leaves pages behind, and says so.
    fs::remove_file(desk.path("show-2.png")).unwrap();
    let shorter = desk.run(&[&render[..], &["--bars", "1-8"]].concat());
    shorter.assert_done();
    assert!(desk.path("show.svg").exists());
    assert!(
        shorter.err.contains("show-1.svg is a picture of an earlier render"),
        "{}",
        shorter.err
    );
}
