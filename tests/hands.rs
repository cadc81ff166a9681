//! Settings by hand: what the page of a watched loop tries is what `render --set` gives, what it keeps changes the file by that value
//! alone, and nobody but the page can do either.

use std::fs;
use std::io::{Read, Write};
use std::net::TcpStream;

use serde_json::{Value, json};

use crate::support::watched::Watched;
use crate::support::{Desk, list, noise, pluck};

/// A loop in a person's own layout: lines of all forms, comments, odd spaces.
const LOOP: &str = r#"# The lamp song. -- room = 3 is not a line of a part.
[loop]
kit = "kit"
tempo = 120
bars = 2
seed = 3
[tab]
"all" = """
kick   X--- --x- x{xx}-- ----   # four feet
snare  ---- X-g- ---- X-f-
"""
[[part]]
	name='snare'
room     = -12.50     # dB; the stairs
drive = 4 # warm
envelope = { attack = 1, decay = 90 } # short
eq = [ { at = 200, gain = 2 } , { at = 900, gain = -1 } ]
sends = { hall = -20 }
[[part]]
name     = "kick"    # the low one
compress = "off"
[rooms.hall]
size = 30   # metres
[[bus]]
name = "low"
[[mix]]
name = "dry"
set = { "snare.room" = "off" }   # stays
"#;

fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("kit/kick.wav", &[pluck(60.0, 0.3, 0.8)]);
    let hiss = noise(9000, 1).iter().map(|n| *n as f32 / 65536.0).collect();
    desk.one_shot("kit/snare.wav", &[hiss]);
    desk.write("loop.toml", LOOP);
    desk
}

/// A watched loop with its page, as a browser sees it.
struct Page {
    watched: Watched,
    port: u16,
    token: String,
}

/// The status and the body of an answer.
type Answer = (u16, Vec<u8>);

impl Page {
    fn new(desk: &Desk, more: &[&str]) -> Page {
        Page::of(desk, "loop.toml", more)
    }

    fn of(desk: &Desk, file: &str, more: &[&str]) -> Page {
        let arguments = [&[file, "-o", "watched.wav", "--depth", "float", "--page"], more].concat();
        let mut watched = Watched::new(desk, &arguments);
        let address = watched.line();
        let port = address
            .trim_end_matches('/')
            .rsplit(':')
            .next()
            .unwrap()
            .parse()
            .unwrap();
        watched.line();
        let mut page = Page {
            watched,
            port,
            token: String::new(),
        };
        let html = String::from_utf8(page.get("/").1).unwrap();
        let token = html.split("id=\"token\">").nth(1).expect("the page has a token");
        page.token = token.split('<').next().unwrap().to_string();
        page
    }

    fn asked(&self, request: &str) -> Answer {
        let (status, _, body) = self.answered(request);
        (status, body)
    }

    /// The status, the head and the body of what is answered.
    fn answered(&self, request: &str) -> (u16, String, Vec<u8>) {
        let mut server = TcpStream::connect(("127.0.0.1", self.port)).expect("the server is there");
        server.write_all(request.as_bytes()).unwrap();
        let mut answer = Vec::new();
        server.read_to_end(&mut answer).unwrap();
        let end = answer.windows(4).position(|four| four == b"\r\n\r\n").expect("a head");
        let head = String::from_utf8(answer[..end].to_vec()).unwrap();
        assert!(!head.to_lowercase().contains("access-control"), "{head}");
        let status = head.split(' ').nth(1).unwrap().parse().unwrap();
        (status, head + "\r\n", answer[end + 4..].to_vec())
    }

    fn get(&self, path: &str) -> Answer {
        self.asked(&format!("GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\n\r\n", self.port))
    }

    /// A request with a body, with fields of the head as they are given.
    fn sent(&self, start: &str, fields: &[String], body: &str) -> Answer {
        let fields: String = fields.iter().map(|field| format!("{field}\r\n")).collect();
        let (port, length) = (self.port, body.len());
        let head = format!("{start} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n{fields}Content-Length: {length}\r\n\r\n");
        self.asked(&(head + body))
    }

    /// What the page itself sends.
    fn fields(&self) -> Vec<String> {
        vec![
            format!("Origin: http://127.0.0.1:{}", self.port),
            "Sec-Fetch-Site: same-origin".into(),
            "Content-Type: application/json".into(),
            format!("Pressroll-Token: {}", self.token),
        ]
    }

    fn post(&self, path: &str, body: &Value) -> Answer {
        self.sent(&format!("POST {path}"), &self.fields(), &body.to_string())
    }

    fn settings(&self) -> Value {
        let (status, body) = self.get("/settings");
        assert_eq!(status, 200, "{}", String::from_utf8_lossy(&body));
        serde_json::from_slice(&body).unwrap()
    }

    /// A change of the file as it is now.
    fn change(&self, set: &[(&str, &str)], marks: &[(usize, char)]) -> Value {
        json!({ "file": self.settings()["file"], "set": set, "marks": marks })
    }

    #[track_caller]
    fn keep(&mut self, change: &Value) {
        let (status, body) = self.post("/keep", change);
        assert_eq!(status, 200, "{}", String::from_utf8_lossy(&body));
    }
}

fn row(settings: &Value, key: &str) -> Value {
    let rows = list(settings, "rows");
    let found = rows.iter().find(|row| row["key"] == key);
    found
        .unwrap_or_else(|| panic!("no {key} among {} rows", rows.len()))
        .clone()
}

#[test]
fn the_settings_are_those_of_the_file_with_their_units_and_ranges() {
    let desk = desk();
    let page = Page::new(&desk, &["--show", "snare.envelope.decay,snare.room"]);
    let settings = page.settings();
    assert_eq!(settings["show"], json!(["snare.envelope.decay", "snare.room"]));
    let room = row(&settings, "snare.room");
    assert_eq!(
        (
            &room["kind"],
            &room["unit"],
            &room["range"],
            &room["value"],
            &room["written"],
            &room["off"]
        ),
        (
            &json!("number"),
            &json!("dB"),
            &json!([-120.0, 40.0]),
            &json!("-12.5"),
            &json!(true),
            &json!(true)
        )
    );
    for (key, value, written) in [
        ("loop.tempo", json!("120"), true),
        ("snare.drive.amount", json!("4"), true),
        ("snare.envelope.decay", json!("90"), true),
        ("snare.eq.2.gain", json!("-1"), true),
        ("snare.sends.hall", json!("-20"), true),
        ("low.sends.hall", json!("off"), false),
        ("kick.gain", json!("0"), false),
        ("kick.compress.ratio", json!("2"), false),
        ("rooms.hall.size", json!("30"), true),
        ("room.decay", json!("0.6"), false),
        ("delay.time", json!("1/8 dotted"), false),
        ("feel.swing", json!("50"), false),
        ("master.ceiling", json!("-1"), false),
        ("master.loudness", json!("off"), false),
    ] {
        let row = row(&settings, key);
        assert_eq!((&row["value"], &row["written"]), (&value, &json!(written)), "{key}");
    }
    // What says how much there is to play is none of them.
    for key in ["loop.bars", "loop.ending", "loop.seed"] {
        assert!(list(&settings, "rows").iter().all(|row| row["key"] != key), "{key}");
    }
    assert_eq!(row(&settings, "kick.compress.ratio")["idle"], true);
    assert_eq!(row(&settings, "snare.drive.blend")["idle"], false);
    // A key that is not there is told before anything is served.
    let refused = desk.run(&["watch", "loop.toml", "-o", "out.wav", "--page", "--show", "snare.rom"]);
    assert_eq!(refused.code, Some(1));
    assert!(refused.err.contains("did you mean `snare.room`?"), "{}", refused.err);
}

#[test]
fn what_is_tried_is_what_render_gives_and_nothing_is_written() {
    let desk = desk();
    let page = Page::new(&desk, &[]);
    let before = fs::read(desk.path("watched.wav")).unwrap();
    let at = LOOP.find("X-g-").unwrap();
    let other = LOOP.replace("X-g-", "X-xg");
    desk.write("other/loop.toml", other.replace("\"kit\"", "\"../kit\""));
    for (change, arguments) in [
        (
            page.change(&[("snare.room", "-3"), ("kick.compress.ratio", "8")], &[]),
            ["loop.toml", "--set", "snare.room=-3", "--set", "kick.compress.ratio=8"],
        ),
        (
            page.change(
                &[("delay.time", "1/16"), ("snare.delay", "-6")],
                &[(at + 2, 'x'), (at + 3, 'g')],
            ),
            ["other/loop.toml", "--set", "delay.time=1/16", "--set", "snare.delay=-6"],
        ),
    ] {
        let (status, body) = page.post("/try", &change);
        assert_eq!(status, 200, "{}", String::from_utf8_lossy(&body));
        let (wav, told) = desk.render_file(arguments[0], &arguments[1..]);
        let head = body.iter().position(|byte| *byte == b'\n').unwrap() + 1;
        assert_eq!(head % 4, 0);
        let about: Value = serde_json::from_slice(&body[..head]).unwrap();
        assert_eq!(about["frames"], wav.frames());
        assert_eq!(about["starts"], json!([0, 96_000]));
        let meter = |lufs: &Value| (lufs.as_f64().unwrap() * 10.0).round();
        assert_eq!(meter(&about["lufs"]), meter(&told["lufs"]));
        let samples: Vec<f32> = body[head..]
            .chunks(4)
            .map(|four| f32::from_le_bytes(four.try_into().unwrap()))
            .collect();
        let (from, first) = (
            about["from"].as_u64().unwrap() as usize,
            about["first"].as_u64().unwrap() as usize,
        );
        let sides = [wav.left(), wav.right()];
        let stretch = sides.map(|side| &side[from..from + first]).concat();
        assert!(
            samples == [stretch, sides.concat()].concat(),
            "other samples than `render` gives"
        );
        // From the place that plays on, two seconds come first; at the end what there is.
        for (place, from, first) in [
            (0.5, 48_000, 96_000),
            (1.5, 144_000, 48_000),
            (-1.0, 0, 96_000),
            (9.0, 192_000, 0),
        ] {
            let mut change = change.clone();
            change["place"] = json!(place);
            let (_, body) = page.post("/try", &change);
            let head = body.iter().position(|byte| *byte == b'\n').unwrap();
            let about: Value = serde_json::from_slice(&body[..head]).unwrap();
            assert_eq!(
                (&about["from"], &about["first"]),
                (&json!(from), &json!(first)),
                "{place}"
            );
        }
    }
    assert_eq!(fs::read_to_string(desk.path("loop.toml")).unwrap(), LOOP);
    assert!(fs::read(desk.path("watched.wav")).unwrap() == before);
    // What can't be is said in the words that `--set` has for it.
    let (status, body) = page.post("/try", &page.change(&[("snare.rom", "-3")], &[]));
    assert!(
        status == 422 && String::from_utf8_lossy(&body).contains("did you mean"),
        "{status}"
    );
    let (status, _) = page.post("/try", &page.change(&[("snare.room", "900")], &[]));
    assert_eq!(status, 422);
}

/// What is told of a trial, and its samples behind the stretch that comes first.
fn trial((status, body): Answer) -> (Value, Vec<f32>) {
    assert_eq!(status, 200, "{}", String::from_utf8_lossy(&body));
    let head = body.iter().position(|byte| *byte == b'\n').unwrap() + 1;
    let about: Value = serde_json::from_slice(&body[..head]).unwrap();
    let first = 8 * about["first"].as_u64().unwrap() as usize;
    let samples = body[head + first..].chunks(4);
    (
        about,
        samples
            .map(|four| f32::from_le_bytes(four.try_into().unwrap()))
            .collect(),
    )
}

#[test]
fn another_tempo_is_tried_with_its_own_bars() {
    let desk = desk();
    let mut page = Page::new(&desk, &[]);
    let mut change = page.change(&[("loop.tempo", "90")], &[]);
    change["place"] = json!(1.5);
    let (about, samples) = trial(page.post("/try", &change));
    let (wav, _) = desk.render_file("loop.toml", &["--set", "loop.tempo=90"]);
    // Two bars of four beats: a beat of 90 BPM lasts two thirds of a second.
    assert_eq!((about["frames"].as_u64(), wav.frames()), (Some(256_000), 256_000));
    assert_eq!(
        (&about["starts"], &about["end"]),
        (&json!([0, 128_000]), &json!(256_000))
    );
    assert_eq!(
        (&about["from"], &about["first"]),
        (&json!(192_000), &json!(64_000)),
        "half way through bar 2"
    );
    assert!(
        samples == [wav.left(), wav.right()].concat(),
        "other samples than `render` gives"
    );
    page.keep(&change);
    let kept = fs::read_to_string(desk.path("loop.toml")).unwrap();
    assert_eq!(kept, LOOP.replace("tempo = 120", "tempo = 90"));
}

/// A form of that loop in the same layout: changes of all forms.
const FORM: &str = r#"# The late show.
[form]
fade = { out = 1 }     # to nothing
[[section]]
loop = "loop.toml"
bars = "1"
[[section]]
name = "stairs"
loop = "loop.toml"
set = { "snare.room" = -20, 'kick.gain' = -3, "snare.drive" = 2 }   # further away
[[section]]
loop = "loop.toml"
set.snare.envelope = { decay = 60 } # dry
[master]
low_cut = 30 # Hz
"#;

#[test]
fn of_a_form_its_own_settings_and_those_of_its_sections_are_at_hand() {
    let desk = desk();
    desk.write("show.toml", FORM);
    let mut page = Page::of(&desk, "show.toml", &["--show", "section.2,master.low_cut"]);
    let settings = page.settings();
    assert_eq!((&settings["form"], &settings["lines"]), (&json!(true), &json!([])));
    for (key, value, written) in [
        ("form.ending", "let ring", false),
        ("form.fade.out", "1", true),
        ("section.2.snare.room", "-20", true),
        ("section.2.kick.gain", "-3", true),
        ("section.2.snare.drive.amount", "2", true),
        ("section.3.snare.envelope.decay", "60", true),
        ("master.low_cut", "30", true),
    ] {
        let row = row(&settings, key);
        assert_eq!(
            (&row["value"], &row["written"]),
            (&json!(value), &json!(written)),
            "{key}"
        );
    }
    assert_eq!(row(&settings, "section.2.snare.room")["called"], "stairs");
    assert_eq!(row(&settings, "section.2.snare.room")["range"], json!([-120.0, 40.0]));
    let rest = |row: &Value| {
        ["section.1.", "snare.", "loop."]
            .iter()
            .any(|begins| row["key"].as_str().unwrap().starts_with(begins))
    };
    assert!(
        !list(&settings, "rows").iter().any(rest),
        "all others stand in the loop"
    );
    // What is tried of one section changes that alone: as if its line said so.
    let other = FORM.replace("-20", "-6").replace("out = 1", "out = 0.5");
    desk.write("other.toml", &other);
    let set = [("section.2.snare.room", "-6"), ("form.fade.out", "0.5")];
    let (_, samples) = trial(page.post("/try", &page.change(&set, &[])));
    let (wav, _) = desk.render_file("other.toml", &[]);
    assert!(
        samples == [wav.left(), wav.right()].concat(),
        "other samples than `render` gives"
    );
    let options = set.map(|(key, value)| format!("{key}={value}"));
    let (by_options, _) = desk.render_file("show.toml", &["--set", &options[0], "--set", &options[1]]);
    assert!(by_options.channels == wav.channels);
    // What is kept changes at its value.
    let mut wanted = FORM.to_string();
    for (key, value, before, after) in [
        ("section.2.snare.room", "-6.5", "-20,", "-6.5,"),
        ("section.2.kick.gain", "-1", "'kick.gain' = -3", "'kick.gain' = -1"),
        (
            "section.2.snare.drive.amount",
            "5",
            "\"snare.drive\" = 2 }",
            "\"snare.drive\" = 2, \"snare.drive.amount\" = 5 }",
        ),
        ("section.2.snare.drive.amount", "7", "amount\" = 5 }", "amount\" = 7 }"),
        ("section.3.snare.envelope.decay", "45", "decay = 60", "decay = 45"),
        ("form.fade.in", "2", "{ out = 1 }", "{ out = 1, in = 2 }"),
        ("master.low_cut", "80", "low_cut = 30 #", "low_cut = 80 #"),
    ] {
        let change = page.change(&[(key, value)], &[]);
        page.keep(&change);
        assert_eq!(wanted.matches(before).count(), 1, "{before}");
        wanted = wanted.replace(before, after);
        assert_eq!(fs::read_to_string(desk.path("show.toml")).unwrap(), wanted, "{key}");
        page.watched.line();
    }
    assert_eq!(fs::read_to_string(desk.path("loop.toml")).unwrap(), LOOP);
    let mut mix = page.change(&[("section.2.snare.room", "-3")], &[]);
    mix["mix"] = json!("near");
    let (status, body) = page.post("/keep", &mix);
    assert!(status == 422 && String::from_utf8_lossy(&body).contains("forms have no mixes"));
    let answer = desk.run(&["render", "show.toml", "--set", "section.4.snare.room=-6"]);
    assert_eq!(answer.code, Some(1));
    assert!(
        answer.err.contains("the form has no section number `4`"),
        "{}",
        answer.err
    );
}

#[test]
fn what_is_kept_changes_its_value_alone() {
    for ends in ["\n", "\r\n"] {
        let desk = desk();
        let text = LOOP.replace('\n', ends);
        desk.write("loop.toml", &text);
        let mut page = Page::new(&desk, &[]);
        let mut wanted = text.clone();
        let hit = text.find("---- X-g-").unwrap();
        for (set, marks, before, after) in [
            (vec![("snare.room", "-3.25")], vec![], "-12.50 ", "-3.25 "),
            (vec![("snare.drive.amount", "6")], vec![], "drive = 4 ", "drive = 6 "),
            (
                vec![("snare.envelope.decay", "60")],
                vec![],
                "decay = 90 }",
                "decay = 60 }",
            ),
            (
                vec![("snare.envelope.hold", "5")],
                vec![],
                "decay = 60 }",
                "decay = 60, hold = 5 }",
            ),
            (vec![("snare.eq.2.gain", "3")], vec![], "gain = -1 }", "gain = 3 }"),
            (vec![("rooms.hall.size", "41.5")], vec![], "30   # m", "41.5   # m"),
            (
                vec![("kick.compress.ratio", "8")],
                vec![],
                "\"off\"\u{21b5}[rooms",
                "{ ratio = 8 }\u{21b5}[rooms",
            ),
            (
                vec![("low.gain", "-2")],
                vec![],
                "name = \"low\"\u{21b5}",
                "name = \"low\"\u{21b5}gain = -2\u{21b5}",
            ),
            (vec![], vec![(hit, 'x'), (hit + 5, '-')], "---- X-g-", "x--- --g-"),
        ] {
            let change = page.change(&set, &marks);
            page.keep(&change);
            let [before, after] = [before, after].map(|text| text.replace('\u{21b5}', ends));
            assert_eq!(wanted.matches(&before).count(), 1, "{before}");
            wanted = wanted.replace(&before, &after);
            assert_eq!(fs::read_to_string(desk.path("loop.toml")).unwrap(), wanted, "{set:?}");
            assert!(
                page.watched.line().starts_with("loop.toml"),
                "the watch renders what was kept"
            );
        }
        // As a mix it stands behind all else.
        let mut change = page.change(&[("snare.room", "off"), ("delay.time", "1/4")], &[]);
        change["mix"] = json!("late \"two\"");
        page.keep(&change);
        wanted += &format!(
            "{ends}[[mix]]{ends}name = \"late \\\"two\\\"\"{ends}set = {{ \"snare.room\" = \"off\", \"delay.time\" = \"1/4\" }}{ends}"
        );
        assert_eq!(fs::read_to_string(desk.path("loop.toml")).unwrap(), wanted);
        let both = ["--mix", "late \"two\"", "-o", "mixed.wav"];
        desk.run(&[&["render", "loop.toml"], both.as_slice()].concat())
            .assert_done();
        assert_eq!(
            desk.names(".").iter().filter(|name| name.contains("part")).count(),
            0,
            "no litter"
        );
    }
}

#[test]
fn a_file_that_was_saved_meanwhile_stays() {
    let desk = desk();
    let mut page = Page::new(&desk, &[]);
    let change = page.change(&[("snare.room", "-3")], &[]);
    let theirs = LOOP.replace("tempo = 120", "tempo = 100 # slower");
    desk.save_by_rename("loop.toml", &theirs);
    for path in ["/keep", "/try"] {
        let (status, body) = page.post(path, &change);
        let told: Value = serde_json::from_slice(&body).unwrap();
        assert_eq!((status, &told["saved"]), (409, &json!(true)), "{told}");
    }
    assert_eq!(fs::read_to_string(desk.path("loop.toml")).unwrap(), theirs);
    page.watched.line();
    // The same value on the text as it is now.
    let change = page.change(&[("snare.room", "-3")], &[]);
    page.keep(&change);
    assert_eq!(
        fs::read_to_string(desk.path("loop.toml")).unwrap(),
        theirs.replace("-12.50", "-3")
    );
    // A file that can't be read is left alone as well, and so is one that says otherwise than what is heard.
    desk.write("loop.toml", "[loop]\n");
    assert_eq!(page.get("/settings").0, 422);
    assert_eq!(page.post("/keep", &change).0, 409);
    assert_eq!(fs::read_to_string(desk.path("loop.toml")).unwrap(), "[loop]\n");
    desk.write("loop.toml", LOOP);
    let page = Page::new(&desk, &["--mix", "dry"]);
    let (status, body) = page.post("/keep", &page.change(&[("snare.room", "-3")], &[]));
    assert!(
        status == 422 && String::from_utf8_lossy(&body).contains("--mix"),
        "{status}"
    );
    assert_eq!(fs::read_to_string(desk.path("loop.toml")).unwrap(), LOOP);
}

#[test]
fn nobody_but_the_page_can_try_or_keep() {
    let desk = desk();
    let page = Page::new(&desk, &[]);
    let change = page.change(&[("snare.room", "-3")], &[]).to_string();
    let without = |name: &str| -> Vec<String> {
        let fields = page.fields().into_iter();
        fields.filter(|field| !field.starts_with(name)).collect()
    };
    let with = |name: &str, field: &str| [without(name), vec![field.to_string()]].concat();
    let wrong = "0".repeat(page.token.len());
    for path in ["/try", "/keep"] {
        let start = format!("POST {path}");
        for (status, fields) in [
            (403, without("Pressroll-Token")),
            (403, with("Pressroll-Token", &format!("Pressroll-Token: {wrong}"))),
            (403, with("Pressroll-Token", "Pressroll-Token:")),
            (403, without("Origin")),
            (403, with("Origin", "Origin: http://harbour.example")),
            (403, with("Origin", "Origin: null")),
            (403, with("Origin", &format!("Origin: https://127.0.0.1:{}", page.port))),
            (403, with("Sec-Fetch-Site", "Sec-Fetch-Site: cross-site")),
            (403, with("Sec-Fetch-Site", "Sec-Fetch-Site: same-site")),
            (421, page.fields()),
        ] {
            if status == 421 {
                let head = fields.join("\r\n");
                let request =
                    format!("{start} HTTP/1.1\r\nHost: harbour.example\r\n{head}\r\nContent-Length: 2\r\n\r\n{{}}");
                assert_eq!(page.asked(&request).0, 421, "{path}");
                continue;
            }
            assert_eq!(page.sent(&start, &fields, &change).0, status, "{path} {fields:?}");
        }
        assert_eq!(page.sent(&start, &page.fields(), &" ".repeat(70_000)).0, 413, "{path}");
        assert_eq!(page.sent(&start, &page.fields(), "good evening").0, 422, "{path}");
        // There is one way of changing, and whoever tries another is told of it.
        for method in ["GET", "HEAD", "PUT", "DELETE", "PATCH"] {
            let request = format!(
                "{method} {path} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\n{}\r\n\r\n",
                page.port,
                page.fields().join("\r\n")
            );
            let (status, head, _) = page.answered(&request);
            assert!(
                status == 405 && head.contains("\r\nAllow: POST\r\n"),
                "{method} {path}: {head}"
            );
        }
    }
    // What is only read says so in its turn.
    let (status, head, _) = page.answered(&format!("POST / HTTP/1.1\r\n{}\r\n\r\n", {
        let host = format!("Host: 127.0.0.1:{}", page.port);
        [vec![host], page.fields()].concat().join("\r\n")
    }));
    assert!(status == 405 && head.contains("\r\nAllow: GET, HEAD\r\n"), "{head}");
    assert_eq!(fs::read_to_string(desk.path("loop.toml")).unwrap(), LOOP);
}

/// A number from 0 to 1 that looks like chance.
fn chance(state: &mut u64) -> f64 {
    *state = state
        .wrapping_mul(6_364_136_223_846_793_005)
        .wrapping_add(1_442_695_040_888_963_407);
    (*state >> 11) as f64 / (1u64 << 53) as f64
}

#[test]
fn whatever_number_is_kept_the_text_changes_at_that_value_alone() {
    let desk = desk();
    let page = Page::new(&desk, &[]);
    let settings = page.settings();
    let numbers: Vec<&Value> = list(&settings, "rows")
        .iter()
        .filter(|row| row["kind"] == "number")
        .collect();
    assert!(numbers.len() > 100, "{} numbers", numbers.len());
    let (mut state, mut kept) = (20_261_129, 0);
    for _ in 0..40 {
        let row = numbers[(chance(&mut state) * numbers.len() as f64) as usize];
        let (key, range) = (row["key"].as_str().unwrap(), &row["range"]);
        let (from, to) = (range[0].as_f64().unwrap(), range[1].as_f64().unwrap());
        let value = ((from + (to - from) * chance(&mut state)) * 100.0).round() / 100.0;
        let value = value.clamp(from, to).to_string();
        desk.write("loop.toml", LOOP);
        let (status, body) = page.post("/keep", &page.change(&[(key, &value)], &[]));
        let after = fs::read_to_string(desk.path("loop.toml")).unwrap();
        if status != 200 {
            // A few keys mean nothing without another one: then it says so, and writes nothing.
            let said = String::from_utf8_lossy(&body);
            assert!(
                status == 422 && after == LOOP && said.contains('`'),
                "{key} {value}: {status} {said}"
            );
            continue;
        }
        kept += 1;
        let same = LOOP.bytes().zip(after.bytes()).take_while(|(a, b)| a == b).count();
        let rest = LOOP
            .bytes()
            .rev()
            .zip(after.bytes().rev())
            .take_while(|(a, b)| a == b)
            .count();
        let rest = rest.min(LOOP.len() - same).min(after.len() - same);
        let (old, new) = (&LOOP[same..LOOP.len() - rest], &after[same..after.len() - rest]);
        // Either digits gave way to digits, or a number to its table, or nothing to a line or a table.
        let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit() || b".-".contains(&byte));
        assert!(
            digits(old) || old == "\"off\"",
            "{key} {value}: {old:?} gave way to {new:?}"
        );
        assert!(!old.contains('\n') && new.lines().count() <= 4, "{key}: {new:?}");
        assert_eq!(self::row(&page.settings(), key)["value"], value, "{key}");
    }
    assert!(kept >= 35, "{kept} of 40 were kept");
}
