//! MusicXML: staves and notes of loops and forms as `chart --musicxml` and `render --musicxml` write them. What other programs
//! read in it, `tests/reference/paper.py` compares with what [`what_demos_say_is_left_for_other_readers`] leaves.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use num_rational::Ratio;
use pressroll::internals::export::tablature::on_the_grid;
use pressroll::internals::kit::Kit;
use pressroll::internals::loopfile::{self, Changes, Draft, Loop, Part};
use quick_xml::Reader;
use quick_xml::events::Event;
use serde_json::{Value, json};

use crate::support::{Desk, click, tone};

type Exact = Ratio<i128>;

/// A desk with a kit of drums, and of keys that have a pitch.
fn desk() -> Desk {
    let desk = Desk::new();
    for piece in ["kick", "snare", "hat-closed", "hat-open", "hat-pedal", "shaker"] {
        desk.one_shot(&format!("{piece}.wav"), &[click()]);
    }
    desk.one_shot("keys-c4.wav", &[tone(261.63, 0.3, 0.5)]);
    desk
}

/// What `chart --musicxml` prints of a loop.
fn written(desk: &Desk, text: &str) -> String {
    desk.write("loop.toml", text);
    let answer = desk.run(&["chart", "loop.toml", "--musicxml", "-o", "-"]);
    answer.assert_done();
    assert_well_formed(&answer.out);
    answer.out
}

#[track_caller]
fn assert_well_formed(page: &str) {
    let mut reader = Reader::from_str(page);
    let mut open = 0;
    loop {
        match reader.read_event().expect("well-formed XML") {
            Event::Start(_) => open += 1,
            Event::End(_) => open -= 1,
            Event::Eof => break,
            _ => {}
        }
    }
    assert_eq!(open, 0);
}

/// How often an element, as it is written, is there.
fn count(page: &str, element: &str) -> usize {
    page.matches(element).count()
}

const HEAD: &str = "[loop]\ntitle = \"Night ferry\"\ntempo = 92\nbars = 2\nkey = \"G minor\"\n";

#[test]
fn a_file_lies_beside_the_loop_or_the_mix() {
    let desk = desk();
    desk.write(
        "loop.toml",
        format!("{HEAD}[tab]\n\"all\" = \"snare x-x- x-x- x-x- x-x-\"\n"),
    );
    let answer = desk.run(&["chart", "loop.toml", "--musicxml"]);
    answer.assert_done();
    assert_eq!(answer.out.trim(), "loop.musicxml");
    let page = std::fs::read(desk.path("loop.musicxml")).expect("a file");
    // Ours may be replaced; somebody else's may not.
    desk.run(&["chart", "loop.toml", "--musicxml"]).assert_done();
    assert_eq!(std::fs::read(desk.path("loop.musicxml")).expect("a file"), page);
    desk.write("loop.musicxml", "<?xml version=\"1.0\"?>\n<score-partwise/>\n");
    let answer = desk.run(&["chart", "loop.toml", "--musicxml"]);
    assert_eq!(answer.code, Some(1));
    assert!(answer.err.contains("does not carry pressroll's mark"), "{}", answer.err);
    desk.run(&["chart", "loop.toml", "--musicxml", "--force"]).assert_done();
    let (_, told) = desk.render_file("loop.toml", &["--musicxml"]);
    assert_eq!(told["musicxml"], "out.musicxml");
    assert_eq!(std::fs::read(desk.path("out.musicxml")).expect("a file"), page);
    let answer = desk.run(&["render", "loop.toml", "--musicxml", "-o", "out.musicxml"]);
    assert_eq!(answer.code, Some(1));
    assert!(answer.err.contains("both the mix and its MusicXML"), "{}", answer.err);
}

#[test]
fn any_title_and_name_is_well_formed() {
    let desk = desk();
    let title = r#""Quay & \u0001<b>\"'\uFFFE]]> ☂ \t é""#;
    let text = format!(
        "[loop]\ntitle = {title}\ntempo = 92\nbars = 1\n[[part]]\nname = \"R&B 'é'\"\npiece = \"shaker\"\nhits = {{ \"all\" = \"x---\" }}\n"
    );
    let page = written(&desk, &text);
    assert!(page.contains("<work-title>Quay &amp; \u{fffd}&lt;b&gt;"), "{page}");
    assert!(page.contains("<part-name>R&amp;B"), "{page}");
    assert_eq!(count(&page, "<score-part "), 1);
}

#[test]
fn hands_and_feet_are_two_voices_of_one_staff() {
    let desk = desk();
    let page = written(
        &desk,
        &format!(
            "{HEAD}[tab]\n\"all\" = \"\"\"\nhat-closed x-x- xgXo x-x- x-x-\nsnare ---- f--- ---- d---\nkick x--- ---- x--- ----\n\
             hat-pedal ---- m--- ---- r-b-\n\"\"\"\n[[part]]\nname = \"shaker\"\nhits = {{ \"all\" = \"x-x-\" }}\n"
        ),
    );
    assert_eq!(count(&page, "<score-part "), 2, "a set and a shaker");
    assert_eq!(count(&page, "<sign>percussion</sign>"), 2);
    assert!(page.contains("<stem>up</stem>") && page.contains("<stem>down</stem>"));
    // The bars are alike, but no repeat is worth a sign.
    assert_eq!(count(&page, "<repeat "), 0);
    // A flam has one grace note, a drag two; ghosts stand in parentheses.
    assert_eq!(count(&page, "<grace"), 2 * 3);
    assert_eq!(count(&page, "parentheses=\"yes\""), 2);
    assert_eq!(count(&page, "<accent/>"), 2);
    assert_eq!(count(&page, "<tremolo type=\"single\">1</tremolo>"), 2);
    assert_eq!(count(&page, "<tremolo type=\"unmeasured\">0</tremolo>"), 2);
    assert_eq!(count(&page, "ad lib."), 2);
    // General MIDI: 42 is the closed hat, counted from 1 in the format.
    assert!(page.contains("<midi-unpitched>43</midi-unpitched>"), "{page}");
}

#[test]
fn melodies_say_how_they_are_played() {
    let desk = desk();
    let page = written(
        &desk,
        &format!(
            "chords = \"Gm7 / C7b9#11 / | N.C.\"\n{HEAD}[feel]\nswing = 62\nswing_of = \"1/8\"\n[[part]]\nname = \"keys\"\ndouble = [{{ interval = 0, gain = -6 }}]\n\
             [part.notes]\n\"1\" = \"- C4 = D4:slide E4:scoop F4:fall {{G4 A4 G4}} G4+Bb4\"\n\"2\" = \"= = B3/C4:vibrato D4:legato E4:bend=+1 (F4) G4^ A4:dead\"\n\
             [[part]]\nname = \"silent\"\npiece = \"keys\"\nmute = true\n[part.notes]\n\"all\" = \"C4\"\n"
        ),
    );
    assert_eq!(count(&page, "<score-part "), 1, "neither the double nor what is muted");
    for element in [
        "<slide line-type=\"solid\" number=\"1\" type=\"start\"/>",
        "<slide line-type=\"solid\" number=\"1\" type=\"stop\"/>",
        "<scoop/>",
        "<falloff/>",
        "<grace slash=\"yes\"/>",
        "<wavy-line number=\"1\" type=\"start\"/>",
        "<slur number=\"1\" type=\"start\"/>",
        "<bend-alter>1</bend-alter>",
        "<notehead parentheses=\"yes\">normal</notehead>",
        "<notehead>x</notehead>",
        "<accent/>",
        "<chord/>",
        "<tied type=\"start\"/>",
        "<actual-notes>3</actual-notes>",
        "<kind text=\"m7\">minor-seventh</kind>",
        // Alterations are printed as degrees, and not said twice.
        "<kind text=\"7\">dominant</kind>",
        "<degree-value>11</degree-value>",
        "<degree-type text=\"\">add</degree-type>",
        "<kind text=\"N.C.\">none</kind>",
        "<fifths>-2</fifths>",
        "<mode>minor</mode>",
        "<per-minute>92</per-minute>",
        "<words>Swing eighths 62 %</words>",
        "<first>31</first>",
        "<second>19</second>",
        "<swing-type>eighth</swing-type>",
    ] {
        assert!(page.contains(element), "{element} is missing\n{page}");
    }
}

#[test]
fn a_lead_sheet_has_slashes_and_the_accents_of_the_band() {
    let desk = desk();
    let song = format!(
        "chords = \"Gm7 | C7 / F /\"\n{HEAD}[accents]\n\"2\" = \"X--- ---- ---X X---\"\n\
         [tab]\n\"all\" = \"snare x-x- x-x- x-x- x-x-\"\n"
    );
    let page = written(&desk, &song);
    assert_eq!(count(&page, "<score-part "), 2, "the lead sheet and the drums");
    assert!(page.contains("<part-name>Chords</part-name>"), "{page}");
    // A slash for each of eight beats, and three accents over them, with hidden rests between.
    assert_eq!(count(&page, "<stem>none</stem>"), 8);
    assert_eq!(count(&page, "<cue/>"), 3);
    assert_eq!(count(&page, "<notehead filled=\"yes\">slash</notehead>"), 8 + 3);
    assert!(count(&page, "<note print-object=\"no\">") > 0);
    // One part alone needs no slashes: its chords stand over it.
    let alone = written(&desk, &song.replace("[accents]\n\"2\" = \"X--- ---- ---X X---\"\n", ""));
    assert_eq!(count(&alone, "<score-part "), 1);
    assert_eq!(count(&alone, "<harmony>"), 3);
}

#[test]
fn keyboards_have_two_staves_where_they_go_below_and_above_middle_c() {
    let desk = desk();
    let song = |notes: &str| format!("{HEAD}[[part]]\nname = \"keys\"\n[part.notes]\n\"1\" = \"{notes}\"\n");
    let page = written(&desk, &song("G2+C4+Eb4 - Bb3 D5"));
    assert_eq!(count(&page, "<score-part "), 1);
    assert_eq!(count(&page, "<staves>2</staves>"), 1);
    assert!(page.contains("<clef number=\"1\">") && page.contains("<clef number=\"2\">"));
    // Each note with its staff: C4 is the right hand's, B flat 3 the left one's. Rests fill both hands.
    let notes: Vec<&str> = page.split("<note>").skip(1).collect();
    let on = |step: &str, octave: u8| {
        let found = notes.iter().find(|note| {
            note.contains(&format!("<step>{step}</step>")) && note.contains(&format!("<octave>{octave}</octave>"))
        });
        let note = found.expect("the note is there");
        (note.contains("<staff>1</staff>"), note.contains("<staff>2</staff>"))
    };
    assert_eq!([on("C", 4), on("E", 4), on("D", 5)], [(true, false); 3]);
    assert_eq!([on("G", 2), on("B", 3)], [(false, true); 2]);
    assert_eq!(count(&page, "<voice>5</voice>"), count(&page, "<staff>2</staff>"));
    for alone in ["C4+Eb4 - D5 -", "G2 - Bb3 -"] {
        let page = written(&desk, &song(alone));
        assert_eq!(count(&page, "<staves>"), 0, "{alone}");
    }
}

#[test]
fn some_bars_alone_are_written_as_if_there_were_no_others() {
    let desk = desk();
    let song = "[loop]\ntempo = 92\nbars = 4\n[tab]\n\"1\" = \"snare x---\"\n\"2\" = \"snare xx--\"\n\"3\" = \"snare xxx-\"\n\"4\" = \"snare x-x-\"\n";
    desk.write("loop.toml", song);
    let some = |bars: &str| desk.run(&["chart", "loop.toml", "--musicxml", "-o", "-", "--bars", bars]);
    let answer = some("2-3");
    answer.assert_done();
    assert_well_formed(&answer.out);
    assert_eq!(count(&answer.out, "<measure "), 2);
    assert!(answer.out.contains("<measure number=\"2\">") && answer.out.contains("<measure number=\"3\">"));
    assert!(answer.out.contains("<per-minute>92</per-minute>"));
    assert_eq!(count(&answer.out, "<unpitched>"), 2 + 3);
    let answer = some("3-9");
    assert_eq!(answer.code, Some(1));
    assert!(
        answer.err.contains("bars 3-9 are not in this file, which has bars 1-4"),
        "{}",
        answer.err
    );
    // What a render of some bars says is what it plays.
    let (_, told) = desk.render_file("loop.toml", &["--musicxml", "--bars", "4-4"]);
    let page = std::fs::read_to_string(desk.path(told["musicxml"].as_str().expect("a file"))).expect("a file");
    assert_eq!(count(&page, "<measure "), 1);
    // The sections of a form that no asked bar lies in leave nothing behind.
    desk.write("form.toml", "[form]\ntitle = 'Ebb'\n[[section]]\nname = 'rise'\nloop = 'loop.toml'\n[[section]]\nname = 'fall'\nloop = 'loop.toml'\ntimes = 2\n");
    let answer = desk.run(&["chart", "form.toml", "--musicxml", "-o", "-", "--bars", "6-9"]);
    answer.assert_done();
    assert!(
        !answer.out.contains("<rehearsal>rise") && answer.out.contains("<rehearsal>fall"),
        "{}",
        answer.out
    );
    assert_eq!(count(&answer.out, "<measure "), 4);
}

#[test]
fn bars_that_are_alike_are_folded() {
    let desk = desk();
    let song = |bars: &str| {
        let lines: Vec<&str> = bars.split(' ').collect();
        let text: String = lines
            .iter()
            .enumerate()
            .map(|(number, line)| format!("\"{}\" = \"snare {line}\"\n", number + 1))
            .collect();
        format!("[loop]\ntempo = 92\nbars = {}\n[tab]\n{text}", lines.len())
    };
    let page = written(&desk, &song("x--- xx-- x--- xxx- x--- xx-- x--- xxx-"));
    assert_eq!(count(&page, "<measure "), 4);
    assert_eq!(count(&page, "<repeat direction=\"backward\"/>"), 1);
    // A second ending, and more times than two.
    let page = written(&desk, &song("x--- xx-- xxx- x-x- x--- xx-- xxx- x--x"));
    assert_eq!(count(&page, "<measure "), 5);
    assert_eq!(count(&page, "<ending number=\"1\" type=\"start\"/>"), 1);
    assert_eq!(count(&page, "<ending number=\"2\" type=\"start\"/>"), 1);
    let page = written(&desk, &song("x--- xx-- x--- xx-- x--- xx-- x---"));
    assert_eq!(count(&page, "<measure "), 3);
    assert_eq!(count(&page, "<repeat direction=\"backward\" times=\"3\"/>"), 1);
    assert!(page.contains("<words>3 times</words>"));
}

/// A stretch of a loop: the loop, its bars from and to, and where it begins on paper, in whole notes.
type Stretch = (Loop, (Exact, Exact), Exact);

/// The stretches that a file plays, on the kits that it names.
fn stretches(file: &Path) -> Vec<Stretch> {
    let open = |draft: &loopfile::LoopDraft| Kit::open(draft.kits(), &[]).expect("the kit opens");
    let whole = |number: u32| Exact::from_integer(number.into());
    match loopfile::read(file, &Changes::default()).expect("the file reads") {
        Draft::Loop(draft) => {
            let kit = open(&draft);
            let song = draft.resolve(kit.defaults());
            let bars = (whole(0), whole(song.bars));
            vec![(song, bars, whole(0))]
        }
        Draft::Form(draft) => {
            let kits: Vec<Kit> = draft.loops().map(open).collect();
            let mut defaults = kits.iter().map(|kit| kit.defaults().clone());
            let form = draft.resolve(|_| defaults.next().unwrap_or_default());
            let mut now = whole(0);
            let mut all = Vec::new();
            let line = form.ending != pressroll::Ending::Repeat;
            for (number, section) in form.sections.iter().enumerate() {
                let bar = section.plays.time.bar();
                let (first, last) = (whole(section.window.0 - 1), whole(section.window.1));
                if let Some(length) = form.pickup.filter(|_| line && number == 0) {
                    all.push((section.plays.clone(), (last - length / bar, last), now));
                    now += length;
                }
                for _ in 0..section.times {
                    all.push((section.plays.clone(), (first, last), now));
                    now += (last - first) * bar;
                }
                if form.last_hit && line && number + 1 == form.sections.len() {
                    let beat = section.plays.time.beat / bar;
                    all.push((section.plays.clone(), (first, first + beat), now));
                }
            }
            let last = all.len() - 1;
            if form.last_hit && line {
                // Only what stands on the one.
                let (song, (first, _), _) = &mut all[last];
                for part in &mut song.parts {
                    part.strokes.retain(|stroke| stroke.at <= *first);
                }
            }
            all
        }
    }
}

fn heard(song: &Loop, part: &Part) -> bool {
    let plays = |part: &Part| {
        part.strokes
            .iter()
            .map(|stroke| (stroke.at, stroke.pitch))
            .collect::<Vec<_>>()
    };
    let along = |other: &Part| !other.double && plays(other) == plays(part);
    let repeats = part.double && song.parts.iter().any(along);
    !(part.silenced || repeats)
}

/// What a lead sheet says, in whole notes: each chord with where it begins, its root, its tones and its bass as pitch classes,
/// none of those where there is no chord; and the accents of the whole band.
fn lead(file: &Path) -> (Vec<Value>, BTreeSet<Exact>) {
    let mut chords: Vec<Value> = Vec::new();
    let mut accents = BTreeSet::new();
    for (song, (from, to), now) in stretches(file) {
        let bar = song.time.bar();
        let begins = song
            .chords
            .partition_point(|change| change.at <= from)
            .saturating_sub(1);
        for change in song.chords[begins..].iter().filter(|change| change.at < to) {
            let at = (now + (change.at.max(from) - from) * bar).to_string();
            match &change.chord {
                Some(chord) => {
                    let tones: BTreeSet<i32> = chord.tones.iter().map(|tone| tone.spelling.pitch_class()).collect();
                    let bass = chord.bass.unwrap_or(chord.root);
                    chords.push(json!([at, chord.root.pitch_class(), tones, bass.pitch_class()]));
                }
                None if change.silence => chords.push(json!([at, null, [], null])),
                None => {}
            }
        }
        let places = song.accents.iter().filter(|line| line.parts.is_none());
        let places = places.flat_map(|line| &line.places);
        accents.extend(
            places
                .filter(|at| from <= **at && **at < to)
                .map(|at| now + (at - from) * bar),
        );
    }
    (chords, accents)
}

/// What a file says, in whole notes: notes of each part, onsets of each part on each piece, chords, accents of the band.
fn said(file: &Path) -> Value {
    let mut notes: BTreeMap<String, Vec<Value>> = BTreeMap::new();
    let mut drums: BTreeMap<String, BTreeSet<Exact>> = BTreeMap::new();
    for (song, (from, to), now) in stretches(file) {
        let song = on_the_grid(&song);
        let bar = song.time.bar();
        for part in song.parts.iter().filter(|part| heard(&song, part)) {
            let inside = part.strokes.iter().filter(|stroke| from <= stroke.at && stroke.at < to);
            let mut events: BTreeMap<Exact, (Exact, BTreeSet<i32>)> = BTreeMap::new();
            for stroke in inside {
                match stroke.pitch {
                    None => {
                        let piece = part.pieces[stroke.piece].piece.clone();
                        let place = format!("{} on {piece}", part.name);
                        drums.entry(place).or_default().insert(now + (stroke.at - from) * bar);
                    }
                    Some(pitch) => {
                        let event = events.entry(stroke.at).or_insert((stroke.at, BTreeSet::new()));
                        event.0 = event.0.max(stroke.at + stroke.held());
                        event.1.insert(pitch);
                    }
                }
            }
            let places: Vec<Exact> = events.keys().copied().collect();
            for (number, (at, (end, keys))) in events.into_iter().enumerate() {
                let end = end.min(places.get(number + 1).copied().unwrap_or(to)).min(to);
                let event = json!([
                    (now + (at - from) * bar).to_string(),
                    ((end - at) * bar).to_string(),
                    keys
                ]);
                notes.entry(part.name.clone()).or_default().push(event);
            }
        }
    }
    let drums: BTreeMap<String, Vec<String>> = drums
        .into_iter()
        .map(|(piece, places)| (piece, places.iter().map(Exact::to_string).collect()))
        .collect();
    let (chords, accents) = lead(file);
    let accents: Vec<String> = accents.iter().map(Exact::to_string).collect();
    json!({ "notes": notes, "drums": drums, "chords": chords, "accents": accents })
}

/// Leaves files for the libraries to read: `tests/reference/paper.py BINARY target/tmp/musicxml`.
#[test]
fn what_demos_say_is_left_for_other_readers() {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("musicxml");
    std::fs::create_dir_all(&folder).expect("a folder");
    let kits = Path::new(env!("CARGO_MANIFEST_DIR")).join("kits");
    let loops = ["harbour-studio", "boat-shed"].map(|kit| kits.join(kit).join("loops"));
    let files = loops
        .iter()
        .flat_map(|folder| std::fs::read_dir(folder).expect("loops"));
    let mut files: Vec<PathBuf> = files.map(|entry| entry.expect("a file").path()).collect();
    files.retain(|file| file.extension().is_some_and(|ending| ending == "toml"));
    files.sort();
    assert!(files.len() >= 9);
    let desk = Desk::new();
    for file in files {
        let place = folder
            .join(file.file_name().expect("a name"))
            .with_extension("musicxml");
        let (file, place) = (file.to_str().expect("a path"), place.to_str().expect("a path"));
        desk.run(&["chart", file, "--musicxml", "-o", place, "--force"])
            .assert_done();
        let page = std::fs::read_to_string(place).expect("a file");
        assert_well_formed(&page);
        let told = said(Path::new(file));
        std::fs::write(Path::new(place).with_extension("json"), told.to_string()).expect("a file");
        // As many notes, chords and grace notes aside, as are told: others are tied, or come from a repeat.
        assert!(page.contains("<measure number="), "{file}");
    }
}
