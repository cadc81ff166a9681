//! `pressroll kit` tells what a folder holds and what is wrong with it, and what it writes down gives the same kit.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use crate::support::{Desk, RATE, noise, wav};
use pressroll::internals::kit::Kit;
use serde_json::Value;

/// A struck tone that dies away: sound by all measures.
fn struck(hz: f64, seconds: f64) -> Vec<f32> {
    let frames = (seconds * f64::from(RATE)) as usize;
    let sample = |n: usize| {
        let time = n as f64 / f64::from(RATE);
        let fall = (-9.0 * time / seconds).exp();
        (0.5 * fall * (std::f64::consts::TAU * hz * time).sin()) as f32
    };
    (0..frames).map(sample).collect()
}

fn told(desk: &Desk, folder: &str) -> Value {
    let answer = desk.run(&["kit", folder, "--json"]);
    answer.assert_done();
    serde_json::from_str(&answer.out).unwrap_or_else(|error| panic!("{error} in {}", answer.out))
}

/// What `--json` says of a file.
fn of_file<'a>(told: &'a Value, name: &str) -> &'a Value {
    let pieces = told["pieces"].as_array().unwrap().iter();
    let mut files = pieces.flat_map(|piece| piece["files"].as_array().unwrap());
    files
        .find(|file| file["file"] == name)
        .unwrap_or_else(|| panic!("{name} in {told}"))
}

#[test]
fn each_oddity_is_told_and_a_sound_file_has_none() {
    let desk = Desk::new();
    let tone = struck(200.0, 0.6);
    let shot = |name: &str, sides: &[Vec<f32>]| desk.one_shot(&format!("shots/{name}.wav"), sides);
    shot("kick", std::slice::from_ref(&tone));
    shot("snare", &[vec![0.0; 9000]]);
    let loud = struck(90.0, 0.5).iter().map(|s| (6.0 * s).clamp(-1.0, 1.0)).collect();
    shot("crash", &[loud]);
    shot("ride", &[struck(300.0, 0.6).iter().map(|s| s + 0.02).collect()]);
    shot("clap", &[[vec![0.0; 1920], struck(500.0, 0.5)].concat()]);
    shot("claves", std::slice::from_ref(&tone));
    shot("cowbell", &[struck(250.0, 0.6), vec![0.0; 28_800]]);
    shot("splash", &[struck(350.0, 0.6)[..4000].to_vec()]);
    let whole = wav::float(RATE, &[struck(450.0, 0.6)]);
    // The last eighth is missing, where hardly anything sounds.
    desk.write("shots/china.wav", &whole[..whole.len() * 7 / 8]);
    desk.write("shots/shaker.wav", "no sound at all, but words, and enough of them");
    let told = told(&desk, "shots");
    let odd = |name: &str| of_file(&told, &format!("{name}.wav"))["odd"].to_string();
    for (name, wanted) in [
        ("kick", "[]"),
        ("snare", "[\"silent\"]"),
        ("crash", "[\"clipped\"]"),
        ("ride", "[\"DC\"]"),
        ("clap", "[\"40 ms late\"]"),
        ("cowbell", "[\"right silent\"]"),
        ("splash", "[\"breaks off\"]"),
        ("shaker", "[\"unreadable\"]"),
    ] {
        // The claves have the kick's sound, and come first.
        let wanted = if name == "kick" { "[\"twice there\"]" } else { wanted };
        assert_eq!(odd(name), wanted, "{name}");
    }
    assert_eq!(odd("claves"), "[]");
    assert!(odd("china").contains("cut short"), "{}", odd("china"));
    let problems = told["problems"].to_string();
    assert!(
        problems.contains("shaker.wav") && problems.contains("text"),
        "{problems}"
    );

    let page = desk.run(&["kit", "shots"]);
    page.assert_done();
    for sentence in [
        "shaker.wav",
        "Mended as it is played, so that nothing need be done: a late beginning (1 file, up to 40 ms) and an offset, DC (1 file).",
        "Clipped (1 file): three samples or more at full scale.",
        "kick.wav is claves.wav",
        "cowbell.wav (right silent)",
        "shots: 7 drums, 3 percussion in 10 files, by",
    ] {
        assert!(in_a_line(&page.out).contains(sentence), "{sentence}:\n{}", page.out);
    }
    assert!(page.out.lines().all(|line| line.chars().count() <= 80), "{}", page.out);
    assert!(!page.out.contains('\u{1b}') && page.err.is_empty(), "{}", page.err);
}

#[test]
fn figures_are_those_of_the_file() {
    let desk = Desk::new();
    desk.one_shot("Große Trommeln/bass A1.wav", &[struck(55.0, 1.5)]);
    desk.one_shot("Große Trommeln/hh x.wav", &[struck(3000.0, 0.1), struck(3000.0, 0.1)]);
    let told = told(&desk, "Große Trommeln");
    let bass = of_file(&told, "bass A1.wav");
    assert_eq!(bass["rate"], RATE);
    assert_eq!((&bass["bits"], &bass["channels"]), (&Value::from(32), &Value::from(1)));
    assert!((bass["seconds"].as_f64().unwrap() - 1.5).abs() < 1e-6);
    assert!((bass["root"].as_f64().unwrap() - 33.0).abs() < 0.05, "{bass}");
    assert!(bass["root_confidence"].as_f64().unwrap() > 0.8);
    // Less than the 400 ms that a meter needs, and yet it has a loudness.
    assert!(of_file(&told, "hh x.wav")["lufs"].as_f64().unwrap() < -10.0);
    let hat = told["pieces"]
        .as_array()
        .unwrap()
        .iter()
        .find(|piece| piece["words"] == serde_json::json!(["hh"]));
    let hat = hat.unwrap_or_else(|| panic!("{told}"));
    assert_eq!(hat["name"], "hat-closed");
    assert!(hat["confidence"].as_f64().unwrap() <= 1.0);
    assert_eq!(told["folder"], "Große Trommeln");
}

/// A page in one line.
fn in_a_line(page: &str) -> String {
    page.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// What there is to tell of a kit, in words that know nothing of the order in which files were met.
fn shape(folder: &Path) -> Vec<String> {
    let mut kit = Kit::open(&[folder.to_path_buf()], &[]).unwrap_or_else(|problems| panic!("{problems}"));
    let pieces: Vec<String> = kit.index().listed().iter().map(|piece| piece.name.clone()).collect();
    kit.find_roots(pieces.iter().map(String::as_str)).unwrap();
    let index = kit.index();
    let file = |take: &usize| {
        let path = kit.file(*take);
        format!(
            "{} {:?}",
            path.strip_prefix(folder).unwrap_or(path).display(),
            index.root(*take)
        )
    };
    let mut lines: BTreeSet<String> = BTreeSet::new();
    for piece in &index.pieces {
        for layer in piece.layers.iter().filter(|_| piece.name != "stand-in") {
            let takes: Vec<String> = layer.takes.iter().map(file).collect();
            // Zones are found by their pitch: their order tells nothing.
            let zones: BTreeSet<String> = layer.zones.iter().map(file).collect();
            let (name, choke, upto) = (&piece.name, &piece.choke, layer.upto);
            lines.insert(format!("{name} {choke:?} {upto} {takes:?} {zones:?}"));
        }
    }
    let names: BTreeMap<&str, usize> = index.names().collect();
    lines.extend(
        names
            .iter()
            .map(|(name, at)| format!("{name} is {}", index.pieces[*at].name)),
    );
    lines.into_iter().collect()
}

/// Copies the sounds of a folder, not its `kit.toml`.
fn copied(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        let to = to.join(path.file_name().unwrap());
        if path.is_dir() {
            copied(&path, &to);
        } else if path.extension().is_some_and(|ending| ending == "wav") {
            fs::copy(&path, &to).unwrap();
        }
    }
}

fn writes_the_same(desk: &Desk, folder: &str) -> String {
    let path = desk.path(folder);
    let before = shape(&path);
    desk.run(&["kit", folder, "--write"]).assert_done();
    let text = fs::read_to_string(path.join("kit.toml")).unwrap();
    let after = shape(&path);
    for (before, after) in before.iter().zip(&after) {
        assert_eq!(before, after, "{text}");
    }
    assert_eq!(before.len(), after.len(), "{text}");
    text
}

#[test]
fn what_is_written_gives_the_demo_kits_again() {
    let kits = Path::new(env!("CARGO_MANIFEST_DIR")).join("kits");
    let folders = fs::read_dir(&kits).unwrap().map(|entry| entry.unwrap().path());
    let folders: Vec<PathBuf> = folders.filter(|path| path.join("kit.toml").is_file()).collect();
    assert!(!folders.is_empty());
    for folder in folders {
        let desk = Desk::new();
        let name = folder.file_name().unwrap().to_string_lossy().into_owned();
        copied(&folder, &desk.path(&name));
        let text = writes_the_same(&desk, &name);
        assert!(text.contains(&format!("title = \"{name}\"")), "{text}");
        assert!(
            text.contains("# maker = \"\"") && text.contains("# licence = \"\""),
            "{text}"
        );
    }
}

#[test]
fn any_names_are_written_so_that_they_are_read_again() {
    let desk = Desk::new();
    let shots = [
        "Snare deep_01",
        "Snare deep_02",
        "Snare tight",
        "snare soft",
        "snare v100",
        "Hats/closed/01",
        "Hats/closed/02 it's",
        "große Trommel",
        "太鼓 1",
        "太鼓 2",
        "keys_C3_soft",
        "keys_C3_hard",
        "keys_C4_soft",
        "keys_C4_hard",
        "pad_048",
        "pad_060",
        "bell F#4",
        "tom 1",
        "tom 2",
        "tom 3",
        "kick a1",
        "hh",
        "!!!",
    ];
    for (number, name) in shots.iter().enumerate() {
        desk.one_shot(
            &format!("my \"kit\"/{name}.wav"),
            &[struck(100.0 + 20.0 * number as f64, 0.4)],
        );
    }
    let text = writes_the_same(&desk, "my \"kit\"");
    assert!(text.contains("title = \"my \\\"kit\\\"\""), "{text}");
    assert!(
        text.contains("\"Hats/closed/01.wav\"") && text.contains("0.40 s"),
        "{text}"
    );
    assert!(
        text.contains("also = ["),
        "what files are called goes on naming them: {text}"
    );
}

#[test]
fn nothing_is_overwritten_without_force_and_nothing_is_lost_with_it() {
    let desk = Desk::new();
    for name in ["kick_1", "kick_2", "snare"] {
        desk.one_shot(&format!("shots/{name}.wav"), &[struck(80.0, 0.4)]);
    }
    let own = "[kit]\ntitle = \"Pier\"\nmaker = \"Me\"\nkeys = { 36 = \"kick\" }\n\n[[piece]]\nname = \"kick\"\nfiles = [\"kick_1.wav\"]\ndark = 20\n\
               envelope = { hold = 30, decay = 220 }\n";
    desk.write("shots/kit.toml", own);
    let refused = desk.run(&["kit", "shots", "--write"]);
    assert_eq!(refused.code, Some(1));
    assert!(refused.err.contains("--force"), "{}", refused.err);
    assert_eq!(fs::read_to_string(desk.path("shots/kit.toml")).unwrap(), own);
    assert!(desk.run(&["kit", "shots"]).out.contains("kit.toml"));

    let before = shape(&desk.path("shots"));
    desk.run(&["kit", "shots", "--write", "--force"]).assert_done();
    assert_eq!(shape(&desk.path("shots")), before);
    let text = fs::read_to_string(desk.path("shots/kit.toml")).unwrap();
    for kept in [
        "title = \"Pier\"",
        "maker = \"Me\"",
        "36 = \"kick\"",
        "dark = 20",
        "envelope = { hold = 30, decay = 220 }",
    ] {
        assert!(text.contains(kept), "{kept} in {text}");
    }
    // What can't be taken over is refused, and the file stays.
    let under_a_header = format!("{own}\n[piece.duck]\nby = \"kick\"\n");
    desk.write("shots/kit.toml", &under_a_header);
    let refused = desk.run(&["kit", "shots", "--write", "--force"]);
    assert_eq!(refused.code, Some(1), "{}", refused.out);
    assert_eq!(fs::read_to_string(desk.path("shots/kit.toml")).unwrap(), under_a_header);
    assert_eq!(desk.names("shots").len(), 4, "nothing half-written is left");
}

#[test]
fn a_picture_is_drawn_where_it_is_asked_for() {
    let desk = Desk::new();
    for name in ["kick", "Große snare"] {
        desk.one_shot(&format!("Pier 3/{name}.wav"), &[struck(80.0, 0.4)]);
    }
    desk.run(&["kit", "Pier 3", "--picture"]).assert_done();
    assert_eq!(desk.names("renders"), ["Pier 3-kit.png", "Pier 3-kit.svg"]);
    let svg = fs::read_to_string(desk.path("renders/Pier 3-kit.svg")).unwrap();
    assert!(svg.contains(">kick.wav<") && svg.contains("Große snare.wav"));
    assert!(
        fs::read(desk.path("renders/Pier 3-kit.png"))
            .unwrap()
            .starts_with(b"\x89PNG")
    );
    desk.run(&["kit", "Pier 3", "--picture", "-o", "v1.2/sheet.png"])
        .assert_done();
    assert_eq!(desk.names("v1.2"), ["sheet.png", "sheet.svg"]);
}

#[test]
fn a_folder_that_holds_nothing_is_told_and_is_no_success() {
    let desk = Desk::new();
    fs::create_dir(desk.path("empty")).unwrap();
    for folder in ["empty", "nowhere"] {
        let answer = desk.run(&["kit", folder, "--json"]);
        assert_eq!((answer.code, answer.out.as_str()), (Some(1), ""), "{folder}");
        assert!(answer.err.contains(folder), "{}", answer.err);
    }
}

#[test]
fn the_heading_counts_files_once_and_says_what_tells_the_pieces() {
    let desk = Desk::new();
    for (name, hz) in [("knock_01", 200.0), ("knock_02", 200.5), ("horn", 380.0)] {
        desk.one_shot(&format!("shed/{name}.wav"), &[struck(hz, 0.4)]);
    }
    let heading = || {
        desk.run(&["kit", "shed"])
            .out
            .lines()
            .take(2)
            .collect::<Vec<_>>()
            .join(" ")
    };
    assert_eq!(
        heading().trim(),
        "shed: 2 instruments in 3 files, by names and sounds; it has no kit.toml"
    );
    desk.write("shed/kit.toml", "[kit]\ntitle = \"Boat shed\"\n");
    assert_eq!(
        heading().trim(),
        "Boat shed: 2 instruments in 3 files, by names and sounds; its kit.toml lists no pieces"
    );
    let piece = |name: &str, files: &str| format!("[[piece]]\nname = \"{name}\"\nfiles = [{files}]\n");
    let knocks = "\"knock_01.wav\", \"knock_02.wav\"";
    desk.write("shed/kit.toml", piece("snare", knocks));
    assert_eq!(
        heading().trim(),
        "shed: 1 drum, 1 instrument in 3 files, by its kit.toml and, for the rest, names and sounds"
    );
    let all = piece("snare", knocks) + &piece("clap", "\"knock_02.wav\"") + &piece("horn", "\"horn.wav\"");
    desk.write("shed/kit.toml", all);
    assert_eq!(
        heading().trim(),
        "shed: 2 drums, 1 percussion in 3 files (1 of which is in more than one piece), as its kit.toml says"
    );
}

#[test]
fn sounds_that_are_not_read_are_named_as_such() {
    let desk = Desk::new();
    desk.one_shot("shots/kick.wav", &[struck(60.0, 0.4)]);
    desk.write("shots/read me.txt", "Synthesised in the shed.");
    assert_eq!(told(&desk, "shots")["problems"], serde_json::json!([]));
    for name in ["clap.mp3", "deep/snare.MP3", "ride.ogg"] {
        desk.write(&format!("shots/{name}"), [0; 64]);
    }
    let page = desk.run(&["kit", "shots"]).out;
    assert!(page.contains("2 .mp3 files and 1 .ogg file are left out"), "{page}");
    assert!(page.contains("convert them to WAV, AIFF or FLAC"), "{page}");
    assert!(told(&desk, "shots")["problems"].to_string().contains(".ogg"));
}

#[cfg(unix)]
#[test]
fn a_name_that_would_steer_a_terminal_does_not() {
    let desk = Desk::new();
    desk.one_shot("shots/kick.wav", &[struck(60.0, 0.4)]);
    desk.one_shot("shots/red \u{1b}[31mhot.wav", &[struck(60.0, 0.4)]);
    let page = desk.run(&["kit", "shots"]);
    assert!(page.out.contains("red \u{fffd}[31mhot.wav"), "{}", page.out);
    assert!(!page.out.contains('\u{1b}'), "{}", page.out);
}

#[test]
fn figures_stand_in_columns_whatever_alphabet_names_are_in() {
    let desk = Desk::new();
    for name in ["太鼓", "Ударник", "plank"] {
        desk.one_shot(&format!("shots/{name}.wav"), &[struck(300.0, 0.4)]);
    }
    let page = desk.run(&["kit", "shots"]).out;
    // Each of the two signs takes two columns.
    let column = |name: &str, wide: usize| {
        let line = page.lines().find(|line| line.starts_with(name)).expect("a line");
        line.chars().position(|letter| letter == '1').expect("a take") + wide
    };
    assert_eq!(column("  太鼓", 2), column("  plank", 0), "{page}");
    assert_eq!(column("  ударник", 0), column("  plank", 0), "{page}");
}

#[test]
fn pieces_stand_in_groups_and_drums_in_the_order_of_a_kit() {
    let desk = Desk::new();
    let hiss: Vec<f32> = noise(9000, 5).iter().map(|s| *s as f32 / 65_536.0).collect();
    for name in ["Tambourine", "Snare", "gravel", "Kick 1", "Crash"] {
        desk.one_shot(&format!("shots/{name}.wav"), std::slice::from_ref(&hiss));
    }
    desk.one_shot("shots/keys C4.wav", &[struck(261.63, 0.6)]);
    let page = desk.run(&["kit", "shots"]).out;
    let first: Vec<&str> = page
        .lines()
        .skip(5)
        .map(|line| line.split("  ").find(|word| !word.is_empty()).unwrap_or(""))
        .collect();
    assert_eq!(
        first[..10],
        [
            "drums",
            "kick",
            "snare",
            "crash",
            "percussion",
            "tambourine",
            "instruments",
            "keys",
            "unknown",
            "gravel"
        ],
        "{page}"
    );
    assert!(
        page.starts_with("shots: 3 drums, 1 percussion, 1 instrument, 1 unknown in 6 files,"),
        "{page}"
    );
    let told = told(&desk, "shots");
    let groups: BTreeMap<&str, &str> = told["pieces"]
        .as_array()
        .unwrap()
        .iter()
        .map(|piece| (piece["name"].as_str().unwrap(), piece["group"].as_str().unwrap()))
        .collect();
    assert_eq!(
        (groups["keys"], groups["gravel"], groups["crash"]),
        ("instruments", "unknown", "drums")
    );
}

#[test]
fn a_page_of_many_pieces_stays_short_and_names_few_files() {
    let desk = Desk::new();
    // Words before them keep these from being takes of one piece.
    let words = ["dry", "big", "old", "new", "wet", "low", "far", "raw", "hot", "wide"];
    let seed = (0..).step_by(7);
    let names = words
        .iter()
        .flat_map(|a| words.iter().map(move |b| (a, b)))
        .filter(|(a, b)| a != b);
    for ((a, b), seed) in names.zip(seed) {
        // Each breaks off at full scale.
        let hiss: Vec<f32> = noise(900, seed)
            .iter()
            .map(|s| (*s as f32 / 16_384.0).clamp(-1.0, 1.0))
            .collect();
        desk.one_shot(&format!("lib/{a} {b} kick.wav"), std::slice::from_ref(&hiss));
        desk.one_shot(&format!("lib/{a} {b} gravel from behind the breakwater.wav"), &[hiss]);
    }
    let page = desk.run(&["kit", "lib"]).out;
    let line = page
        .lines()
        .find(|line| line.contains("kick to kick-90"))
        .unwrap_or_else(|| panic!("{page}"));
    assert!(line.contains("   90 "), "{line}");
    assert!(page.lines().count() < 75, "{page}");
    assert!(page.lines().all(|line| line.chars().count() <= 80), "{page}");
    assert!(in_a_line(&page).contains("Clipped (180 files)"), "{page}");
    assert!(page.contains("and 175 more"), "{page}");
    // A name is cut to no other's stump, and with --all none is left out.
    let all = desk.run(&["kit", "lib", "--all"]).out;
    let rows: BTreeSet<&str> = all
        .lines()
        .filter(|line| line.starts_with("  "))
        .filter_map(|line| line.get(..30))
        .collect();
    assert!(
        all.lines().filter(|line| line.starts_with("  ")).count() >= 180 && rows.len() >= 180,
        "{all}"
    );
}

/// The files of a sheet, in the order in which they are drawn.
fn drawn(desk: &Desk, sheet: &str) -> Vec<String> {
    let svg = fs::read_to_string(desk.path(sheet)).unwrap();
    let labels = svg.split('>').filter_map(|part| part.split('<').next());
    labels
        .filter(|label| label.ends_with(".wav"))
        .map(str::to_string)
        .collect()
}

#[test]
fn a_sheet_has_what_sounds_alike_side_by_side() {
    let desk = Desk::new();
    for (name, hz) in [("a", 90.0), ("b", 2000.0), ("c", 95.0), ("d", 1900.0)] {
        desk.one_shot(&format!("shed/{name}.wav"), &[struck(hz, 0.4)]);
    }
    let files = "files = [\"a.wav\", \"b.wav\", \"c.wav\", \"d.wav\"]";
    desk.write("shed/kit.toml", format!("[[piece]]\nname = \"knock\"\n{files}\n"));
    desk.run(&["kit", "shed", "--picture"]).assert_done();
    assert_eq!(
        drawn(&desk, "renders/shed-kit.svg"),
        ["a.wav", "c.wav", "d.wav", "b.wav"]
    );
}

#[test]
fn a_large_kit_is_drawn_on_pages() {
    let desk = Desk::new();
    let hiss: Vec<f32> = noise(64, 5).iter().map(|s| *s as f32 / 65_536.0).collect();
    for number in 0..2001u32 {
        // Words, as numbers would make them takes of one piece.
        let word: String = [number / 256, number / 16, number]
            .map(|part| char::from(b'a' + (part % 16) as u8))
            .iter()
            .collect();
        desk.one_shot(&format!("lib/gravel{word}.wav"), std::slice::from_ref(&hiss));
    }
    desk.run(&["kit", "lib", "--picture", "-o", "sheets/lib.png"])
        .assert_done();
    assert_eq!(
        desk.names("sheets"),
        ["lib-1.png", "lib-1.svg", "lib-2.png", "lib-2.svg"]
    );
    assert_eq!(drawn(&desk, "sheets/lib-1.svg").len(), 2000);
    assert_eq!(drawn(&desk, "sheets/lib-2.svg").len(), 1);
    // Width and height of a PNG are the 32-bit numbers from byte 16 on.
    let png = fs::read(desk.path("sheets/lib-1.png")).unwrap();
    let number = |at: usize| u32::from_be_bytes(png[at..at + 4].try_into().unwrap());
    assert!(
        number(16) >= 1200 && number(20) < 1 << 15,
        "{} x {}",
        number(16),
        number(20)
    );
}
