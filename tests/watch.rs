//! A watched loop is rendered again after every save, to the bytes that `render` writes; a broken save loses nothing.

use std::fs;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::Duration;

use crate::support::watched::Watched;
use crate::support::{Desk, click, noise, pluck, tab};

/// A desk with a kit beside its loops and a recorded room.
fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("kit/kick.wav", &[pluck(60.0, 0.3, 0.8)]);
    desk.one_shot("kit/snare.wav", &[pluck(190.0, 0.2, 0.6)]);
    let hiss = |seed: u32| noise(2000, seed).iter().map(|n| *n as f32 / 65536.0).collect();
    desk.one_shot("stairwell.wav", &[hiss(1), hiss(2)]);
    desk.write("loop.toml", text("kick X--- --x-\nsnare ---- X---", -12));
    desk
}

fn text(lines: &str, room: i32) -> String {
    let own = tab("120", 2, lines).replace("[loop]\n", "[loop]\nkit = \"kit\"\nseed = 3\n");
    format!("{own}[[part]]\nname = \"snare\"\nroom = {room}\n[room]\nimpulse = \"stairwell.wav\"\n")
}

/// The bytes that `render` writes of a file now.
#[track_caller]
fn rendered(desk: &Desk, file: &str) -> Vec<u8> {
    desk.run(&["render", file, "-o", "by-render.wav"]).assert_done();
    fs::read(desk.path("by-render.wav")).unwrap()
}

/// Waits for a line, which has to name what was saved, and compares the WAV to what `render` makes.
#[track_caller]
fn holds(desk: &Desk, watched: &mut Watched, file: &str, saved: &str) -> String {
    let line = watched.line();
    assert!(line.starts_with(saved), "{line}");
    assert!(line.contains(" s · ") && line.ends_with(" LUFS"), "{line}");
    assert!(
        fs::read(desk.path("out.wav")).unwrap() == rendered(desk, file),
        "other bytes than `render` writes: {line}"
    );
    line
}

#[test]
fn every_way_of_saving_is_rendered_to_the_bytes_that_render_writes() {
    let desk = desk();
    let mut watched = Watched::new(&desk, &["loop.toml", "-o", "out.wav"]);
    holds(&desk, &mut watched, "loop.toml", "out.wav · ");
    desk.write("loop.toml", text("kick X--- --x-\nsnare ---- X---", -6));
    holds(&desk, &mut watched, "loop.toml", "loop.toml: snare · ");
    desk.save_by_rename("loop.toml", text("kick X-x- --x-\nsnare ---- X---", -6));
    holds(&desk, &mut watched, "loop.toml", "loop.toml: kick · ");
    desk.save_by_backup("loop.toml", text("kick X-x- xxx-\nsnare ---- X-g-", -6).as_bytes());
    holds(&desk, &mut watched, "loop.toml", "loop.toml: every part · ");
    desk.write(
        "loop.toml",
        text("kick X-x- xxx-\nsnare ---- X-g-\n# a word", -6).replace("\n# a word", ""),
    );
    holds(&desk, &mut watched, "loop.toml", "loop.toml: sounds as before · ");
    // One save is one render, and what is none of the loop's is none.
    assert_eq!(watched.says_within(Duration::from_millis(400)), [""; 0]);
    desk.write("notes.txt", "call the harbour master");
    desk.write("kit/notes.txt", "the snare is from the ferry");
    desk.one_shot("other.wav", &[click()]);
    assert_eq!(watched.says_within(Duration::from_millis(1500)), [""; 0]);
}

#[test]
fn one_shots_rooms_and_manifests_are_part_of_it() {
    let desk = desk();
    let mut watched = Watched::new(&desk, &["loop.toml", "-o", "out.wav"]);
    holds(&desk, &mut watched, "loop.toml", "out.wav · ");
    desk.one_shot("kit/snare.wav", &[pluck(210.0, 0.2, 0.6)]);
    holds(&desk, &mut watched, "loop.toml", "snare.wav: snare · ");
    // As long and as old as the one before it, and another all the same.
    let old = fs::metadata(desk.path("kit/snare.wav")).unwrap().modified().unwrap();
    let beside = desk.one_shot("beside.wav", &[pluck(170.0, 0.2, 0.6)]);
    fs::File::options()
        .write(true)
        .open(&beside)
        .unwrap()
        .set_modified(old)
        .unwrap();
    fs::rename(beside, desk.path("kit/snare.wav")).unwrap();
    holds(&desk, &mut watched, "loop.toml", "snare.wav: snare · ");
    desk.write(
        "kit/kit.toml",
        "[[piece]]\nname = \"kick\"\nenvelope = { decay = 90 }\n",
    );
    holds(&desk, &mut watched, "loop.toml", "kit.toml: kick · ");
    desk.one_shot("kit/more/snare_2.wav", &[pluck(230.0, 0.2, 0.6)]);
    holds(&desk, &mut watched, "loop.toml", "snare_2.wav: ");
    desk.one_shot("kit/more/snare_2.wav", &[pluck(250.0, 0.2, 0.6)]);
    holds(&desk, &mut watched, "loop.toml", "snare_2.wav: ");
    desk.one_shot("stairwell.wav", &[click()]);
    holds(&desk, &mut watched, "loop.toml", "stairwell.wav: room · ");
    fs::remove_file(desk.path("kit/kit.toml")).unwrap();
    holds(&desk, &mut watched, "loop.toml", "kit.toml: kick · ");
}

/// A song of one note a beat.
fn performance(key: u8) -> Vec<u8> {
    let mut track = Vec::new();
    for _ in 0..4 {
        track.extend([0, 0x99, key, 100, 96, 0x89, key, 0]);
    }
    track.extend([0, 0xff, 0x2f, 0]);
    let head = [b"MThd".as_slice(), &6u32.to_be_bytes(), &[0, 0, 0, 1, 0, 96]].concat();
    [
        head,
        b"MTrk".to_vec(),
        (track.len() as u32).to_be_bytes().to_vec(),
        track,
    ]
    .concat()
}

#[test]
fn performances_and_the_loops_of_a_form_are_part_of_it() {
    let desk = desk();
    desk.write("night/take.mid", performance(36));
    desk.write(
        "night/played.toml",
        "[loop]\nkit = \"../kit\"\ntempo = 120\nbars = 1\n[[part]]\nname = \"drums\"\nmidi = \"take.mid\"\n",
    );
    let form = "[form]\ntitle = \"The late show\"\n[[section]]\nloop = \"loop.toml\"\n[[section]]\nloop = \"night/played.toml\"\n";
    desk.write("form.toml", form);
    let mut watched = Watched::new(&desk, &["form.toml", "-o", "out.wav"]);
    holds(&desk, &mut watched, "form.toml", "out.wav · ");
    desk.save_by_rename("night/take.mid", performance(38));
    holds(&desk, &mut watched, "form.toml", "take.mid: played: drums · ");
    desk.write("loop.toml", text("kick Xx-- --x-\nsnare ---- X---", -12));
    holds(&desk, &mut watched, "form.toml", "loop.toml: loop: kick · ");
    desk.write(
        "form.toml",
        format!("{form}[[section]]\nloop = \"loop.toml\"\nset = {{ \"kick.gain\" = -3 }}\n"),
    );
    holds(&desk, &mut watched, "form.toml", "form.toml: the sections · ");
}

#[test]
fn a_broken_save_is_told_and_the_last_good_render_stays() {
    let desk = desk();
    let mut watched = Watched::new(&desk, &["loop.toml", "-o", "out.wav"]);
    watched.line();
    let good = fs::read(desk.path("out.wav")).unwrap();
    desk.save_by_rename(
        "loop.toml",
        text("kick X--- --x-\nsnare ---- X---", -12).replace("tempo", "tmepo"),
    );
    let said = watched.wrong("did you mean `tempo`?");
    assert!(said.contains("loop.toml:4:1"), "{said}");
    assert!(fs::read(desk.path("out.wav")).unwrap() == good);
    // It is told once, however often it is tried again.
    let more = watched.says_within(Duration::from_millis(2500)).join("\n");
    assert!(!more.contains("tempo"), "{more}");
    desk.write("loop.toml", text("kick X--- --x-\nsnare ---- X-x-", -12));
    holds(&desk, &mut watched, "loop.toml", "loop.toml: snare · ");
    // A performance that is missing and comes later, from where nobody could have known that it would.
    desk.write(
        "loop.toml",
        "[loop]\nkit = \"kit\"\ntempo = 120\nbars = 1\n[[part]]\nname = \"drums\"\nmidi = \"far/take.mid\"\n",
    );
    watched.wrong("take.mid");
    desk.write("far/take.mid", performance(36));
    holds(&desk, &mut watched, "loop.toml", "loop.toml");
    // A one-shot that is no sound, and is one again.
    desk.write("kit/kick.wav", "a list of things to buy");
    watched.wrong("not a sound");
    desk.one_shot("kit/kick.wav", &[pluck(70.0, 0.3, 0.8)]);
    holds(&desk, &mut watched, "loop.toml", "kick.wav");
}

#[test]
fn a_file_that_is_empty_while_it_is_saved_is_not_rendered() {
    let desk = desk();
    let mut watched = Watched::new(&desk, &["loop.toml", "-o", "out.wav"]);
    holds(&desk, &mut watched, "loop.toml", "out.wav · ");
    desk.write("loop.toml", "");
    std::thread::sleep(Duration::from_millis(150));
    desk.write("loop.toml", text("kick X--- --x-\nsnare ---- X-x-", -12));
    holds(&desk, &mut watched, "loop.toml", "loop.toml: snare · ");
    assert_eq!(watched.says_within(Duration::from_millis(400)), [""; 0]);
    // One that stays empty is told of.
    desk.write("loop.toml", "");
    watched.wrong("loop.toml");
}

#[test]
fn it_ends_by_the_persons_signal_and_leaves_no_litter() {
    for signal in ["INT", "TERM"] {
        let desk = desk();
        let mut watched = Watched::new(&desk, &["loop.toml", "-o", "out/night.wav"]);
        watched.line();
        // In the middle of what a save sets off.
        desk.write("loop.toml", text("kick X--- --x-\nsnare ---- X-x-", -12));
        std::thread::sleep(Duration::from_millis(12));
        assert_eq!(watched.end(signal), Some(0), "{signal}");
        assert_eq!(desk.names("out"), ["night.wav"]);
        crate::support::wav::Wav::parse(&fs::read(desk.path("out/night.wav")).unwrap());
    }
    let desk = desk();
    let answer = desk.run(&["watch", "missing.toml"]);
    assert_eq!(answer.code, Some(1), "{}", answer.err);
    assert!(
        answer.err.contains("missing.toml can't be read: there is no such file"),
        "{}",
        answer.err
    );
    // What it is made of is never written over.
    let mut watched = Watched::new(&desk, &["loop.toml", "-o", "stairwell.wav"]);
    watched.wrong("would be overwritten");
}

/// What the page's server answers to a request: the status, the head, the body.
fn asked(port: u16, request: &str) -> (u16, String, Vec<u8>) {
    let mut server = TcpStream::connect(("127.0.0.1", port)).expect("the server is there");
    server.write_all(request.replace('\n', "\r\n").as_bytes()).unwrap();
    let mut answer = Vec::new();
    server.read_to_end(&mut answer).unwrap();
    let end = answer.windows(4).position(|four| four == b"\r\n\r\n").expect("a head");
    let head = String::from_utf8(answer[..end].to_vec()).unwrap();
    let status = head.split(' ').nth(1).unwrap().parse().unwrap();
    (status, head, answer[end + 4..].to_vec())
}

#[test]
fn the_page_is_for_its_own_host_alone() {
    let desk = desk();
    let mut watched = Watched::new(&desk, &["loop.toml", "-o", "out.wav", "--page"]);
    let address = watched.line();
    let port: u16 = address
        .strip_prefix("http://127.0.0.1:")
        .and_then(|rest| rest.strip_suffix('/'))
        .unwrap()
        .parse()
        .unwrap();
    watched.line();
    let get = |path: &str| asked(port, &format!("GET {path} HTTP/1.1\nHost: localhost:{port}\n\n"));
    let newest = || serde_json::from_slice::<serde_json::Value>(&get("/newest").2).unwrap();
    let first = newest();
    let (status, head, page) = get("/");
    let page = String::from_utf8(page).unwrap();
    assert_eq!(status, 200, "{head}");
    for field in [
        "Content-Type: text/html; charset=utf-8",
        "Cache-Control: no-store",
        "Cross-Origin-Resource-Policy: same-origin",
        "X-Content-Type-Options: nosniff",
        "Content-Security-Policy: default-src 'none'; script-src 'self';",
        &format!("Content-Length: {}", page.len()),
    ] {
        assert!(head.contains(field), "{field} in {head}");
    }
    assert!(!head.to_lowercase().contains("access-control"), "{head}");
    // It starts soft and says why, holds no code, and its sound is the WAV.
    assert!(
        page.contains("<strong>Mind your ears.</strong>") && page.contains("value=\"-30\""),
        "{page}"
    );
    assert!(!page.contains("<style>") && !page.contains("<script>") && page.contains("<script src=\"script.js\">"));
    let (status, head, sound) = get(&format!("/sound/{}", first["number"]));
    assert!(status == 200 && head.contains("Content-Type: audio/wav"), "{head}");
    assert!(sound == fs::read(desk.path("out.wav")).unwrap());
    assert!(get("/style.css").1.contains("text/css") && get("/script.js").1.contains("text/javascript"));
    // A newer render, and then a broken one.
    desk.write("loop.toml", text("kick X--- --xx\nsnare ---- X---", -12));
    watched.line();
    let second = newest();
    assert!(second["number"].as_u64() > first["number"].as_u64(), "{second}");
    assert!(get(&format!("/sound/{}", second["number"])).2 == fs::read(desk.path("out.wav")).unwrap());
    desk.write("loop.toml", "[loop]\nbars = 2\n");
    watched.wrong("tempo");
    assert!(newest()["wrong"].as_str().unwrap().contains("tempo") && newest()["number"] == second["number"]);
    // Nothing of the disk, nobody else, nothing that writes.
    for path in [
        "/loop.toml",
        "/../loop.toml",
        "/out.wav",
        "/sound/",
        "/sound/99",
        "/newest?x",
        "//",
    ] {
        assert_eq!(get(path).0, 404, "{path}");
    }
    let refused = |status: u16, request: String| {
        let (is, head, body) = asked(port, &request);
        assert_eq!(is, status, "{request:?}: {head}");
        assert!(
            !head.to_lowercase().contains("access-control") && body.len() < 100,
            "{head}"
        );
    };
    for host in [
        "harbour.example",
        "127.0.0.1",
        &format!("harbour.example:{port}"),
        &format!("0.0.0.0:{port}"),
    ] {
        refused(421, format!("GET / HTTP/1.1\nHost: {host}\n\n"));
    }
    let own = format!("Host: 127.0.0.1:{port}");
    for field in [
        "Origin: http://harbour.example",
        "Origin: null",
        "Sec-Fetch-Site: cross-site",
        "Sec-Fetch-Site: same-site",
    ] {
        refused(403, format!("GET /newest HTTP/1.1\n{own}\n{field}\n\n"));
    }
    for method in ["POST", "PUT", "DELETE", "OPTIONS"] {
        refused(405, format!("{method} / HTTP/1.1\n{own}\n\n"));
    }
    refused(400, format!("POST / HTTP/1.1\n{own}\nContent-Length: 2\n\nhi"));
    refused(400, "good evening\n\n".to_string());
    refused(431, format!("GET / HTTP/1.1\n{own}\nX-Long: {}\n\n", "x".repeat(9000)));
    // Clients that say nothing keep nobody else waiting.
    let _silent: Vec<TcpStream> = (0..8)
        .map(|_| TcpStream::connect(("127.0.0.1", port)).unwrap())
        .collect();
    assert_eq!(get("/").0, 200);
    assert_eq!(watched.end("INT"), Some(0));
}

/// A player that notes what it was handed and plays it for a minute.
fn player(desk: &Desk) -> String {
    use std::os::unix::fs::PermissionsExt;
    let noted = desk.path("played.txt");
    let script = format!("#!/bin/sh\necho \"$$ $1\" >> '{}'\nexec sleep 60\n", noted.display());
    let path = desk.write("player", script);
    fs::set_permissions(&path, fs::Permissions::from_mode(0o755)).unwrap();
    path.display().to_string()
}

/// The process and the file of each time that the player was started, once there are so many.
fn played(desk: &Desk, times: usize) -> Vec<(String, String)> {
    for _ in 0..3000 {
        let noted = fs::read_to_string(desk.path("played.txt")).unwrap_or_default();
        let lines: Vec<&str> = noted.lines().collect();
        if lines.len() >= times && noted.ends_with('\n') {
            let pair = |line: &&str| {
                line.split_once(' ')
                    .map(|(id, file)| (id.to_string(), file.to_string()))
                    .unwrap()
            };
            return lines.iter().map(pair).collect();
        }
        std::thread::sleep(Duration::from_millis(20));
    }
    panic!("the player was not started {times} times");
}

fn runs(process: &str) -> bool {
    let asked = std::process::Command::new("kill")
        .args(["-0", process])
        .stderr(std::process::Stdio::null())
        .status();
    asked.unwrap().success()
}

#[test]
fn it_plays_on_with_the_newest_render() {
    let desk = desk();
    let player = player(&desk);
    let mut watched = Watched::new(&desk, &["loop.toml", "-o", "out.wav", "--play", "--player", &player]);
    watched.line();
    let first = played(&desk, 1)[0].clone();
    assert!(
        fs::metadata(&first.1).unwrap().len() > 120 * 48_000 * 6,
        "enough rounds that the player seldom starts again"
    );
    desk.write("loop.toml", text("kick X-x- --x-\nsnare ---- X---", -12));
    watched.line();
    let second = played(&desk, 2)[1].clone();
    assert_ne!(first.1, second.1);
    assert!(runs(&second.0));
    // A broken save stops nothing.
    desk.write("loop.toml", "[loop]\n");
    watched.wrong("tempo");
    assert!(runs(&second.0));
    assert_eq!(watched.end("INT"), Some(0));
    assert!(!runs(&first.0) && !runs(&second.0), "no player is left behind");
    assert!(!std::path::Path::new(&second.1).exists(), "nor what it played");
}

#[test]
fn a_player_that_fails_is_told_of_and_the_renders_go_on() {
    let desk = desk();
    let mut watched = Watched::new(&desk, &["loop.toml", "-o", "out.wav", "--play", "--player", "false"]);
    watched.line();
    watched.wrong("false could not play the loop");
    desk.write("loop.toml", text("kick X-x- --x-\nsnare ---- X---", -12));
    holds(&desk, &mut watched, "loop.toml", "loop.toml: kick · ");
}
