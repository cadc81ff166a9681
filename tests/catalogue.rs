//! `catalogue`: previews of many loops, made once, by one process or by many, with an index of what is there.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::Value;

use crate::support::{Answer, Desk, click, tab, tone};

const LIST: &str = "[catalogue]\ntitle = \"Beds\"\nformats = [\"wav\", \"flac\"]\n[[collection]]\nname = \"Late\"\nloops = \"loops\"\n\
                    mixes = \"all\"\n[[collection]]\nname = \"Slow\"\nloops = \"loops/quay.toml\"\nkits = [\"kits/*\"]\ntempos = [70, 80.5]\n\
                    vary = { \"snare.gain\" = [-6, 0] }\n";

/// Two kits, two loops, one of them with a mix: 3 and 8 previews.
fn desk() -> Desk {
    let desk = Desk::new();
    for (kit, hz) in [("brass", 700.0), ("rope", 300.0)] {
        desk.one_shot(&format!("kits/{kit}/kick.wav"), &[click()]);
        desk.one_shot(&format!("kits/{kit}/snare.wav"), &[tone(hz, 0.1, 0.5)]);
        desk.write(&format!("kits/{kit}/kit.toml"), "[kit]\nlicence = \"CC0 1.0\"\n");
    }
    let quay = tab("96", 2, "kick  x--- ---- x--x ----\nsnare ---- x--- ---- x---");
    let quay = quay.replace(
        "bars = 2",
        "bars = 2\nkit = \"../kits/brass\"\ntitle = \"Quay\"\nkey = \"G minor\"",
    );
    desk.write(
        "loops/quay.toml",
        quay + "[[mix]]\nname = \"no kick\"\nset = { \"kick.mute\" = true }\n",
    );
    let pier = tab("120", 1, "kick x--- x--- x--- x---").replace("bars = 1", "bars = 1\nkit = \"../kits/rope\"");
    desk.write("loops/pier.toml", pier);
    desk.write("list.toml", LIST);
    desk
}

fn catalogue(desk: &Desk, options: &[&str]) -> Answer {
    desk.run(&[&["catalogue", "list.toml", "-o", "out"], options].concat())
}

fn told(answer: &Answer) -> Value {
    serde_json::from_str(&answer.out).unwrap_or_else(|error| panic!("{error}: {}\n{}", answer.out, answer.err))
}

/// Every file of a folder by its path within it.
fn files(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut files = BTreeMap::new();
    let mut folders = vec![folder.to_path_buf()];
    while let Some(next) = folders.pop() {
        for entry in fs::read_dir(next).expect("a folder").flatten() {
            match entry.path() {
                path if path.is_dir() => folders.push(path),
                path => {
                    let within = path.strip_prefix(folder).expect("it lies within").to_path_buf();
                    files.insert(within, fs::read(path).expect("a file"));
                }
            }
        }
    }
    files
}

#[test]
fn every_preview_is_what_render_makes_and_the_index_tells_of_it() {
    let desk = desk();
    let answer = catalogue(&desk, &["--json"]);
    answer.assert_done();
    let run = told(&answer);
    assert_eq!(
        (&run["made"], &run["up_to_date"], &run["previews"]),
        (&11.into(), &0.into(), &11.into())
    );
    let index: Value = serde_json::from_slice(&fs::read(desk.path("out/index.json")).expect("an index")).expect("JSON");
    let entries = index["entries"].as_array().expect("a list");
    let names: Vec<&str> = entries
        .iter()
        .map(|entry| entry["file"].as_str().expect("a name"))
        .collect();
    assert_eq!(
        names,
        [
            "previews/Late/pier.wav",
            "previews/Late/quay.wav",
            "previews/Late/quay no kick.wav",
            "previews/Slow/quay brass 70 snare.gain=-6.wav",
            "previews/Slow/quay brass 70 snare.gain=0.wav",
            "previews/Slow/quay brass 80.5 snare.gain=-6.wav",
            "previews/Slow/quay brass 80.5 snare.gain=0.wav",
            "previews/Slow/quay rope 70 snare.gain=-6.wav",
            "previews/Slow/quay rope 70 snare.gain=0.wav",
            "previews/Slow/quay rope 80.5 snare.gain=-6.wav",
            "previews/Slow/quay rope 80.5 snare.gain=0.wav",
        ]
    );
    for (number, options) in [
        (2, &["--mix", "no kick"][..]),
        (
            9,
            &[
                "--kit",
                "kits/rope",
                "--set",
                "loop.tempo=80.5",
                "--set",
                "snare.gain=-6",
            ],
        ),
    ] {
        let render = ["render", "loops/quay.toml", "-o", "one.wav", "--depth", "16"];
        desk.run(&[&render[..], options].concat()).assert_done();
        let entry = &entries[number];
        let preview = fs::read(desk.path("out").join(names[number])).expect("a preview");
        assert!(
            preview == fs::read(desk.path("one.wav")).expect("a render"),
            "{}",
            names[number]
        );
        let sum = desk.run(&["measure", "--json", "one.wav"]);
        let measured: Value = serde_json::from_str(&sum.out).expect("JSON");
        let (lufs, meter) = (
            entry["lufs"].as_f64().expect("a loudness"),
            measured[0]["lufs"].as_f64().expect("one"),
        );
        assert!((lufs - meter).abs() < 0.01, "{lufs} {meter}");
    }
    let last = &entries[10];
    assert_eq!(
        (&last["loop"], &last["kit"]),
        (&"loops/quay.toml".into(), &"kits/rope".into())
    );
    assert_eq!(
        (&last["tempo"], &last["key"], &last["metre"]),
        (&80.5.into(), &"G minor".into(), &"4/4".into())
    );
    assert_eq!(
        (&last["title"], &last["mix"], &last["bars"]),
        (&"Quay".into(), &Value::Null, &2.into())
    );
    // Three kicks and two snares a bar.
    assert_eq!(
        (&last["density"], &last["licences"][0]),
        (&1.25.into(), &"CC0 1.0".into())
    );
    // The sixteenth before the snare on 4, from -4 to -2 against a snare: 2 and 2. Without the kick there is none.
    assert_eq!(
        (&last["syncopation"], &entries[2]["syncopation"]),
        (&4.0.into(), &0.0.into())
    );
    assert_eq!(entries[2]["parts"], serde_json::json!(["snare"]));
    let table = fs::read_to_string(desk.path("out/index.csv")).expect("a table");
    assert_eq!(table.lines().count(), 12);
    assert!(table.starts_with("file,title,collection,loop,kit,mix,vary,tempo,key,metre,bars,seconds,lufs,"));
}

#[test]
fn what_is_up_to_date_is_not_made_again() {
    let desk = desk();
    catalogue(&desk, &[]).assert_done();
    let counts = |options: &[&str]| {
        let run = told(&catalogue(&desk, &[&["--json"], options].concat()));
        (
            run["made"].as_u64().expect("a number"),
            run["up_to_date"].as_u64().expect("a number"),
        )
    };
    assert_eq!(counts(&[]), (0, 11));
    // A loop that is written anew with the same bytes is the same.
    let quay = fs::read(desk.path("loops/quay.toml")).expect("a loop");
    desk.write("loops/quay.toml", &quay);
    assert_eq!(counts(&[]), (0, 11));
    desk.write(
        "loops/pier.toml",
        tab("110", 1, "kick x--- x---").replace("bars = 1", "bars = 1\nkit = \"../kits/rope\""),
    );
    assert_eq!(counts(&[]), (1, 10));
    desk.one_shot("kits/rope/snare.wav", &[tone(320.0, 0.1, 0.5)]);
    assert_eq!(counts(&[]), (4, 7));
    fs::remove_file(desk.path("out/previews/Late/quay.flac")).expect("it is there");
    assert_eq!(counts(&[]), (1, 10));
    // Another rate is another sound.
    desk.write("list.toml", LIST.replace("formats", "rate = 44100\nformats"));
    assert_eq!(counts(&[]), (11, 0));
}

#[test]
fn shards_in_any_order_and_twice_come_to_the_same_bytes() {
    let (one, many) = (desk(), desk());
    catalogue(&one, &[]).assert_done();
    // As an array's task sees its index, from 0.
    let shard = |text: &str| {
        let arguments = [
            "catalogue",
            "list.toml",
            "-o",
            "out",
            "--shard",
            "TASK_INDEX/3",
            "--base",
            "0",
        ];
        many.run_in(&many.path("."), &[("TASK_INDEX", text)], &arguments)
    };
    shard("2").assert_done();
    let early = catalogue(&many, &["--finish"]);
    assert_eq!(early.code, Some(1));
    assert!(early.err.contains("previews are not made: "), "{}", early.err);
    for index in ["0", "2", "1"] {
        shard(index).assert_done();
    }
    assert_eq!(shard("3").code, Some(1));
    catalogue(&many, &["--finish"]).assert_done();
    let (one, many) = (files(&one.path("out")), files(&many.path("out")));
    assert_eq!(one.keys().collect::<Vec<_>>(), many.keys().collect::<Vec<_>>());
    for (path, bytes) in &one {
        assert!(*bytes == many[path], "{}", path.display());
    }
}

#[test]
fn threads_and_memory_change_no_byte() {
    let desk = desk();
    let made = |name: &str, threads: &str, memory: &str| {
        let arguments = ["catalogue", "list.toml", "-o", name, "--memory", memory];
        desk.run_in(&desk.path("."), &[("RAYON_NUM_THREADS", threads)], &arguments)
            .assert_done();
        files(&desk.path(name))
    };
    let one = made("one", "1", "1000");
    for (threads, memory) in [("2", "1000"), ("8", "2000"), ("8", "256")] {
        let name = format!("{threads}-{memory}");
        assert!(made(&name, threads, memory) == one, "{name}");
    }
}

#[test]
fn a_broken_loop_stops_nothing_and_is_told_with_its_line() {
    let desk = desk();
    desk.write("loops/adrift.toml", "[loop]\ntempo = 90\nbars = \"two\"\n");
    desk.write(
        "loops/bell.toml",
        tab("96", 1, "bell x---").replace("bars = 1", "bars = 1\nkit = \"../kits/rope\""),
    );
    let answer = catalogue(&desk, &["--json"]);
    assert_eq!(answer.code, Some(1));
    let run = told(&answer);
    assert_eq!(
        (&run["made"], &run["unread"], &run["failed"][0]["name"]),
        (&11.into(), &1.into(), &"Late/bell".into())
    );
    for part in ["loops/adrift.toml:3:8", "Late/bell: ", "loops/bell.toml:"] {
        assert!(answer.err.contains(part), "{part} in {}", answer.err);
    }
    assert_eq!(catalogue(&desk, &["--remove"]).code, Some(1));
}

#[test]
fn what_the_list_no_longer_names_is_told_and_removed_when_asked() {
    let desk = desk();
    catalogue(&desk, &[]).assert_done();
    desk.write("list.toml", LIST.replace("tempos = [70, 80.5]", "tempos = [70]"));
    let answer = catalogue(&desk, &[]);
    answer.assert_done();
    assert!(
        answer
            .err
            .contains("4 previews are there that the list no longer names"),
        "{}",
        answer.err
    );
    assert_eq!(desk.names("out/previews/Slow").len(), 16);
    // What a person changed stays.
    desk.write("out/previews/Slow/quay rope 80.5 snare.gain=0.wav", "mine");
    let answer = catalogue(&desk, &["--remove"]);
    answer.assert_done();
    assert!(answer.out.contains("4 removed"), "{}", answer.out);
    assert_eq!(desk.names("out/previews/Slow").len(), 9);
    assert!(
        answer
            .err
            .contains("these stay: previews/Slow/quay rope 80.5 snare.gain=0.wav"),
        "{}",
        answer.err
    );
}

#[test]
fn what_is_damaged_is_found_at_the_end() {
    let desk = desk();
    catalogue(&desk, &[]).assert_done();
    let path = desk.path("out/previews/Late/pier.wav");
    let mut bytes = fs::read(&path).expect("a preview");
    *bytes.last_mut().expect("it has bytes") ^= 1;
    fs::write(&path, bytes).expect("it can be written");
    let answer = catalogue(&desk, &["--finish"]);
    assert_eq!(answer.code, Some(1));
    assert!(
        answer.err.contains("not as written: previews/Late/pier.wav"),
        "{}",
        answer.err
    );
    fs::remove_file(&path).expect("it is there");
    catalogue(&desk, &[]).assert_done();
    catalogue(&desk, &["--finish"]).assert_done();
}

#[test]
fn a_folder_belongs_to_one_catalogue() {
    let desk = desk();
    catalogue(&desk, &[]).assert_done();
    desk.write("list.toml", LIST.replace("\"Beds\"", "\"Stings\""));
    let answer = catalogue(&desk, &[]);
    assert_eq!(answer.code, Some(1));
    assert!(
        answer.err.contains("holds the catalogue \"Beds\", not \"Stings\""),
        "{}",
        answer.err
    );
    desk.write("mine/notes.txt", "mine");
    let answer = desk.run(&["catalogue", "list.toml", "-o", "mine"]);
    assert!(
        answer.err.contains("mine holds files, and no catalogue"),
        "{}",
        answer.err
    );
    assert_eq!(desk.names("mine"), ["notes.txt"]);
    // A file that is not pressroll's is never replaced.
    desk.write("list.toml", LIST);
    fs::remove_file(desk.path("out/records/Late/pier.json")).expect("it is there");
    desk.write("out/previews/Late/pier.wav", "mine");
    let answer = catalogue(&desk, &[]);
    assert!(answer.err.contains("pier.wav is there already"), "{}", answer.err);
    assert_eq!(
        fs::read(desk.path("out/previews/Late/pier.wav")).expect("a file"),
        b"mine"
    );
}

#[test]
fn a_list_says_what_is_wrong_with_it() {
    let desk = desk();
    for (from, to, told) in [
        ("\"wav\", \"flac\"", "\"wave\"", "did you mean \"wav\"?"),
        ("kits/*", "kit/*", "`kit/*` names no folder"),
        ("\"loops\"", "\"lops\"", "there is no file and no folder `lops`"),
        (
            "[70, 80.5]",
            "[70, 2000]",
            "`tempos` is 2000, but goes from 5 to 999 BPM",
        ),
        ("tempos", "tempoz", "did you mean `tempos`?"),
        ("\"Slow\"", "\"late\"", "two collections would lie in one folder"),
        (
            "\"Beds\"",
            "\"Beds\"\nname = \"{title}\"",
            "two previews would both be called `Late/Quay`",
        ),
        ("\"Beds\"", "\"Beds\"\nname = \"{tempi}\"", "did you mean {tempo}?"),
        ("[-6, 0]", "[]", "`snare.gain` takes no value"),
        (
            LIST,
            "[loop]\ntempo = 90\nbars = 1\n",
            "this is a loop file, not a list of a catalogue",
        ),
    ] {
        desk.write("list.toml", LIST.replace(from, to));
        let answer = catalogue(&desk, &[]);
        assert_eq!(answer.code, Some(1), "{to}");
        assert!(answer.err.contains(told), "{told} in {}", answer.err);
        assert!(answer.err.contains("list.toml:"), "{}", answer.err);
    }
}

#[test]
fn a_run_that_is_killed_goes_on_where_it_was() {
    let desk = desk();
    let bars = "kick x-x- x-x- x-x- x-x-\nsnare x-x- x-x- x-x- x-x-";
    for number in 0..12 {
        let text = tab("60", 8, bars).replace("bars = 8", "bars = 8\nkit = \"../kits/rope\"");
        desk.write(&format!("loops/long-{number:02}.toml"), text);
    }
    desk.write(
        "list.toml",
        "[catalogue]\ntitle = \"Beds\"\n[[collection]]\nname = \"Late\"\nloops = \"loops\"\n",
    );
    let mut child = Command::new(env!("CARGO_BIN_EXE_pressroll"))
        .args(["catalogue", "list.toml", "-o", "out"])
        .env("XDG_CACHE_HOME", desk.cache())
        .current_dir(desk.path("."))
        .stdout(Stdio::null())
        .spawn()
        .expect("the binary runs");
    let begun = Instant::now();
    let records = || {
        desk.names("out/records/Late")
            .iter()
            .filter(|name| !name.starts_with('.'))
            .count()
    };
    while records() < 2 && begun.elapsed() < Duration::from_secs(60) {
        std::thread::sleep(Duration::from_millis(1));
    }
    child.kill().expect("it runs");
    child.wait().expect("it ends");
    let run = told(&catalogue(&desk, &["--json"]));
    let (made, kept) = (
        run["made"].as_u64().expect("a number"),
        run["up_to_date"].as_u64().expect("a number"),
    );
    assert!(kept >= 2 && made + kept == 14, "{made} made, {kept} kept");
    catalogue(&desk, &["--finish"]).assert_done();
    let left: Vec<PathBuf> = files(&desk.path("out"))
        .into_keys()
        .filter(|path| path.to_string_lossy().contains(".part"))
        .collect();
    assert!(left.is_empty(), "{left:?}");
}

#[test]
fn a_pack_has_everything_and_the_same_bytes_each_time() {
    let (desk, other) = (desk(), desk());
    catalogue(&desk, &["--pack"]).assert_done();
    for shard in ["2/2", "1/2"] {
        catalogue(&other, &["--pack", "--shard", shard]).assert_done();
    }
    catalogue(&other, &["--pack", "--finish"]).assert_done();
    let bytes = fs::read(desk.path("out.zip")).expect("a ZIP");
    assert!(bytes == fs::read(other.path("out.zip")).expect("a ZIP"));
    let mut zip = zip::ZipArchive::new(std::io::Cursor::new(bytes)).expect("a ZIP");
    let names: Vec<String> = zip
        .file_names()
        .map(|name| name.expect("a name").into_owned())
        .collect();
    for name in [
        "about.txt",
        "licences.txt",
        "index.html",
        "index.json",
        "previews/Late/pier.wav",
        "previews/Late/pier.flac",
        "hand-over/Late/quay/quay.mid",
        "hand-over/Late/quay/quay.musicxml",
        "hand-over/Late/quay/quay.html",
        "hand-over/Late/quay/quay.credits.txt",
        "hand-over/Late/quay/stems/snare.wav",
    ] {
        assert!(names.iter().any(|own| own == name), "{name} in {names:?}");
    }
    let mut sums = String::new();
    std::io::Read::read_to_string(&mut zip.by_name("sums.txt").expect("sums"), &mut sums).expect("text");
    assert_eq!(sums.lines().count(), names.len() - 3);
    let index: Value = serde_json::from_slice(&fs::read(desk.path("out/index.json")).expect("an index")).expect("JSON");
    let own = index["entries"][0]["sha256_audio"].as_str().expect("a sum");
    assert!(sums.contains(&format!("{own}  previews/Late/pier.wav")), "{sums}");
    // A file of that name that is a person's stays.
    desk.write("out.zip", "mine");
    let answer = catalogue(&desk, &["--pack"]);
    assert!(answer.err.contains("out.zip is there already"), "{}", answer.err);
    assert_eq!(fs::read(desk.path("out.zip")).expect("a file"), b"mine");
}

/// Tags of files, by programs that know nothing of pressroll: what stands in the bytes.
#[test]
fn a_preview_says_its_title_tempo_key_and_loop_points() {
    let desk = desk();
    catalogue(&desk, &[]).assert_done();
    let wav = fs::read(desk.path("out/previews/Late/quay.wav")).expect("a preview");
    let flac = fs::read(desk.path("out/previews/Late/quay.flac")).expect("a preview");
    let holds = |bytes: &[u8], text: &str| bytes.windows(text.len()).any(|some| some == text.as_bytes());
    for text in ["INAM", "Quay", "tempo 96, metre 4/4, key G minor", "smpl"] {
        assert!(holds(&wav, text), "{text}");
    }
    // Two bars at 96 BPM are 240,000 frames.
    for text in [
        "TITLE=Quay",
        "COMMENT=tempo 96, metre 4/4, key G minor",
        "LOOPSTART=0",
        "LOOPLENGTH=240000",
    ] {
        assert!(holds(&flac, text), "{text}");
    }
}

/// The demo's own list: all twelve loops, and a small part of them for real.
#[test]
fn the_demo_list_is_a_catalogue_of_twelve_loops() {
    let desk = Desk::new();
    desk.run(&["start", "demo"]).assert_done();
    let dry = told(&desk.run(&["catalogue", "demo/late-night.toml", "--dry", "--json"]));
    assert_eq!((&dry["previews"], &dry["unread"]), (&12.into(), &0.into()));
    let shard = [
        "catalogue",
        "demo/late-night.toml",
        "-o",
        "out",
        "--shard",
        "1/8",
        "--json",
    ];
    let made = told(&desk.run(&shard))["made"].as_u64().expect("a number");
    assert!((1..=4).contains(&made), "{made}");
    let records = files(&desk.path("out/records"));
    let records: Vec<Value> = records
        .values()
        .map(|bytes| serde_json::from_slice(bytes).expect("JSON"))
        .filter(|record: &Value| record["told"].is_object())
        .collect();
    assert_eq!(records.len() as u64, made);
    for record in records {
        let told = &record["told"];
        let (lufs, peak) = (
            told["lufs"].as_f64().expect("it sounds"),
            told["true_peak_db"].as_f64().expect("it sounds"),
        );
        assert!((-18.5..=-13.5).contains(&lufs) && peak <= -0.9, "{told}");
        assert_eq!(told["licences"], serde_json::json!(["CC0 1.0"]), "{told}");
    }
}
