//! The promise that `midi = ` plays what `render --midi` wrote: every hit, on its piece, at its pitch, as hard, to a tick.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use crate::support::{Desk, click, pluck};
use pressroll::internals::midi::{self, Performance};
use pressroll::{Order, Project};

/// Ticks of each piece, pitch and velocity, in order.
type Hits = BTreeMap<(String, Option<i32>, i64), Vec<i64>>;

/// How a loop counts: BPM in quarter notes, quarter notes of it all, and whether it repeats.
struct Time {
    tempo: f64,
    quarters: f64,
    repeats: bool,
}

impl Time {
    fn ticks(&self) -> i64 {
        (self.quarters * 960.0).round() as i64
    }

    /// A tick of the loop; of one that repeats the last is as near to the first as the second is.
    fn tick(&self, seconds: f64) -> i64 {
        let tick = (seconds * self.tempo / 60.0 * 960.0).round() as i64;
        if !self.repeats {
            // On a line nothing sounds before its first sample.
            return tick.max(0);
        }
        let tick = tick.rem_euclid(self.ticks());
        if tick > self.ticks() - 4 {
            tick - self.ticks()
        } else {
            tick
        }
    }
}

fn hits(project: &Project, time: &Time) -> Hits {
    let mut hits = Hits::new();
    let score = project.score(&Order::default()).expect("a score");
    for hit in score.hits() {
        // What plays a pitch keeps its name; what is struck goes by the kit's.
        let kind = (
            hit.piece.to_string(),
            hit.pitch,
            hit.velocity.round().clamp(1.0, 127.0) as i64,
        );
        hits.entry(kind).or_default().push(time.tick(hit.at));
    }
    hits.values_mut().for_each(|ticks| ticks.sort());
    hits
}

#[track_caller]
fn assert_same(written: &Hits, read: &Hits, what: &str) {
    let kinds: BTreeSet<_> = written.keys().chain(read.keys()).collect();
    for kind in kinds {
        let (written, read) = (written.get(kind), read.get(kind));
        let near = |(written, read): (&Vec<i64>, &Vec<i64>)| {
            written.len() == read.len() && written.iter().zip(read).all(|(a, b)| (a - b).abs() <= 1)
        };
        assert!(
            written.zip(read).is_some_and(near),
            "{what}: {kind:?} was written at {written:?}, read at {read:?}"
        );
    }
}

/// The parts that play a file again: one for all percussion, one for each track of notes.
fn parts(performance: &Performance, pieces: &BTreeMap<String, String>) -> String {
    let mut text = "[[part]]\nname = \"struck\"\nmidi = \"take.mid\"\n".to_string();
    for (number, track) in performance.tracks.iter().enumerate() {
        let channels: BTreeSet<u8> = track.notes.iter().map(|note| note.channel).collect();
        for channel in channels.iter().filter(|channel| **channel != midi::PERCUSSION_CHANNEL) {
            let name = &track.name;
            let piece = &pieces[name];
            text += &format!(
                "[[part]]\nname = \"notes {number}\"\nmidi = \"take.mid\"\ntrack = '{name}'\nchannel = {}\npiece = '{piece}'\n",
                channel + 1
            );
        }
    }
    text
}

/// The piece of each part that plays notes.
fn pieces(project: &Project) -> BTreeMap<String, String> {
    let score = project.score(&Order::default()).expect("a score");
    let notes = score.hits().filter(|hit| hit.pitch.is_some());
    notes.map(|hit| (hit.part.to_string(), hit.piece.to_string())).collect()
}

/// What a file's notes play, by the pieces that it names.
fn told(performance: &Performance, pieces: &BTreeMap<String, String>) -> Hits {
    let mut hits = Hits::new();
    let names = performance.pieces.as_ref().expect("the file names its pieces");
    for (track, note) in performance.notes() {
        let (piece, pitch) = match note.channel {
            midi::PERCUSSION_CHANNEL => (names[&note.key].clone(), None),
            _ => (pieces[&performance.tracks[track].name].clone(), Some(note.key.into())),
        };
        let kind = (piece, pitch, note.velocity.into());
        hits.entry(kind).or_default().push(note.start as i64);
    }
    hits.values_mut().for_each(|ticks| ticks.sort());
    hits
}

/// Exports a loop, reads it back on the same kit, and compares; gives how many hits there were.
#[track_caller]
fn assert_comes_back(desk: &Desk, file: &str, kit: &Path, metre: (u32, u32), time: &Time) -> usize {
    desk.run(&["render", file, "-o", "take.wav", "--midi", "--force"])
        .assert_done();
    let project = Project::open(desk.path(file)).unwrap_or_else(|problems| panic!("{problems}"));
    let written = hits(&project, time);
    let performance = midi::read(desk.path("take.mid")).expect("a Standard MIDI File");
    let bars = time.quarters * f64::from(metre.1) / 4.0 / f64::from(metre.0);
    let text = format!(
        "[loop]\nkit = '{}'\ntempo = {}\nbeat = \"1/4\"\nbars = {}\nmetre = \"{}/{}\"\nending = \"{}\"\n{}",
        kit.display(),
        time.tempo,
        bars.ceil(),
        metre.0,
        metre.1,
        if time.repeats { "repeat" } else { "let ring" },
        parts(&performance, &pieces(&project))
    );
    desk.write("back.toml", &text);
    let back = Project::open(desk.path("back.toml")).unwrap_or_else(|problems| panic!("{file}: {problems}"));
    assert_same(&written, &hits(&back, time), file);
    written.values().map(Vec::len).sum()
}

fn demo(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("kits").join(name)
}

#[test]
fn every_demo_loop_comes_back() {
    let desk = Desk::new();
    // Kit, loop, quarter notes a minute, bars, metre, whether it repeats.
    for (kit, name, tempo, bars, metre, repeats) in [
        ("boat-shed", "barometer", 87.0, 8, (9, 8), true),
        ("boat-shed", "mooring-lines", 126.0, 8, (3, 4), true),
        ("boat-shed", "slipway", 104.0, 4, (5, 4), true),
        ("harbour-studio", "eight-bells", 92.0, 3, (5, 4), false),
        ("harbour-studio", "first-boat", 184.0, 16, (2, 2), true),
        ("harbour-studio", "high-water", 104.0, 8, (4, 4), true),
        ("harbour-studio", "last-lamp", 84.0, 8, (6, 8), false),
        ("harbour-studio", "low-tide", 104.0, 8, (4, 4), true),
        ("harbour-studio", "night-ferry", 84.0, 8, (4, 4), true),
        ("harbour-studio", "weather-sting", 132.0, 4, (7, 8), false),
    ] {
        let file = demo(kit).join(format!("loops/{name}.toml"));
        let quarters = f64::from(bars * 4 * metre.0) / f64::from(metre.1);
        let time = Time {
            tempo,
            quarters,
            repeats,
        };
        let count = assert_comes_back(&desk, file.to_str().unwrap(), &demo(kit), metre, &time);
        assert!(count > 40, "{name} has {count} hits");
        leave(&desk.path("take.mid"), name);
    }
}

#[test]
fn every_demo_form_comes_back() {
    let desk = Desk::new();
    for name in ["late-show", "tide-tables"] {
        let file = demo("harbour-studio").join(format!("loops/{name}.toml"));
        desk.run(&["render", file.to_str().unwrap(), "-o", "take.wav", "--midi", "--force"])
            .assert_done();
        let project = Project::open(&file).unwrap_or_else(|problems| panic!("{problems}"));
        let (performance, pieces) = (midi::read(desk.path("take.mid")).unwrap(), pieces(&project));
        let written = told(&performance, &pieces);
        // Its sections have tempos of their own: its quarter notes are the loop's.
        let quarters = (performance.end() as f64 / 960.0).ceil();
        let text = format!(
            "[loop]\nkit = '{}'\ntempo = 100\nbars = {quarters}\nmetre = \"1/4\"\nending = \"let ring\"\n{}",
            demo("harbour-studio").display(),
            parts(&performance, &pieces)
        );
        desk.write("back.toml", &text);
        let back = Project::open(desk.path("back.toml")).unwrap_or_else(|problems| panic!("{name}: {problems}"));
        let time = Time {
            tempo: 100.0,
            quarters,
            repeats: false,
        };
        assert_same(&written, &hits(&back, &time), name);
        let score = project.score(&Order::default()).unwrap();
        let graces = score.hits().filter(|hit| hit.at < 0.0).count();
        let count: usize = written.values().map(Vec::len).sum();
        assert!(count + graces >= score.hits().count() && count > 200, "{name}: {count}");
        leave(&desk.path("take.mid"), name);
    }
}

/// Leaves a file for others to read: `tests/reference/midi.py check target/tmp/midi`.
fn leave(file: &Path, name: &str) {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("midi");
    fs::create_dir_all(&folder).unwrap();
    fs::copy(file, folder.join(format!("demo-{name}.mid"))).unwrap();
    let performance = midi::read(file).unwrap();
    let told = super::midi::told(&performance);
    fs::write(folder.join(format!("demo-{name}.json")), told.to_string()).unwrap();
}

/// A kit with pieces that General MIDI knows, some that it doesn't, and some that play both hits and notes.
const KIT: &str = r#"
[[piece]]
name = "kick"
files = "kick.wav"
root = "C2"
[[piece]]
name = "snare"
files = "snare.wav"
[[piece]]
name = "snare-2"
files = "snare.wav"
[[piece]]
name = "hat-closed"
files = "hat.wav"
[[piece]]
name = "hat-open"
files = "hat.wav"
[[piece]]
name = "foghorn"
files = "kick.wav"
root = "C3"
[[piece]]
name = "läutwerk"
files = "snare.wav"
[[piece]]
name = "shaker"
files = "hat.wav"
[kit]
title = "Quay"
keys = { 36 = "foghorn", 38 = "shaker" }
"#;

fn desk() -> Desk {
    let desk = Desk::new();
    for piece in ["snare", "hat"] {
        desk.one_shot(&format!("{piece}.wav"), &[click()]);
    }
    desk.one_shot("kick.wav", &[pluck(65.4, 0.2, 0.5)]);
    desk.write("kit.toml", KIT);
    desk
}

/// Draws numbers: a linear congruence (Knuth, TAOCP 2, 3.3.4, its multiplier for 64 bits).
struct Dice(u64);

impl Dice {
    fn below(&mut self, most: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % most
    }

    fn of<'a>(&mut self, words: &[&'a str]) -> &'a str {
        words[self.below(words.len() as u64) as usize]
    }

    /// Words of a tune: what holds nothing rests.
    fn tune(&mut self, words: &[&str], steps: u64, between: &str) -> String {
        let mut steps: Vec<&str> = (0..steps).map(|_| self.of(words)).collect();
        for at in 0..steps.len() {
            if steps[at] == "=" && (at == 0 || steps[at - 1] == "-") {
                steps[at] = "-";
            }
        }
        steps.join(between)
    }

    fn line(&mut self, words: &[&str], steps: u64, between: &str) -> String {
        let steps: Vec<&str> = (0..steps).map(|_| self.of(words)).collect();
        steps.join(between)
    }
}

const STRUCK: [&str; 8] = [
    "kick",
    "snare",
    "snare-2",
    "hat-closed",
    "hat-open",
    "foghorn",
    "läutwerk",
    "shaker",
];

/// A loop of drums and tunes; it begins with two empty steps, so that no grace note would come before the first sample.
fn random_loop(dice: &mut Dice) -> (String, (u32, u32), Time) {
    let metre = [(4, 4), (3, 4), (6, 8), (5, 4), (7, 8)][dice.below(5) as usize];
    let bars = 1 + dice.below(3);
    let tempo = 60.0 + dice.below(1200) as f64 / 10.0;
    let ending = dice.of(&["repeat", "let ring"]);
    let mut text = format!(
        "chords = \"Gm9 Cm7 | F13\"\n[loop]\ntempo = {tempo}\nbeat = \"1/4\"\nmetre = \"{}/{}\"\nbars = {bars}\nending = \"{ending}\"\nkey = \"G minor\"\nseed = {}\n\
         [feel]\nswing = {}\nloose = {{ ms = {}, velocity = {} }}\n",
        metre.0,
        metre.1,
        dice.below(99),
        50 + dice.below(17),
        dice.below(12),
        dice.below(9),
    );
    let steps = u64::from(metre.0) * dice.below(4).max(1) - 2;
    for number in 0..1 + dice.below(5) {
        // Two parts may play one piece at one time.
        let piece = dice.of(&STRUCK);
        let line = dice.line(&["-", "-", "x", "X", "g", "3", "9", "f", "d", "r", "b", "m"], steps, "");
        let behind = dice.below(61) as i64 - 30;
        text += &format!(
            "[[part]]\nname = \"drum {number}\"\npiece = \"{piece}\"\nbehind = {behind}\nhits = \"--{line}\"\n"
        );
    }
    for number in 0..dice.below(4) {
        let piece = dice.of(&["kick", "foghorn", "stand-in"]);
        let plays = match dice.below(3) {
            0 => format!(
                "notes = \"- - {}\"",
                dice.tune(&["-", "=", "G2", "Bb2^", "(D3)", "C3+Eb3", "G2:7", "F2/G2"], steps, " ")
            ),
            1 => format!(
                "degrees = \"- - {}\"",
                dice.tune(&["-", "=", "1", "5", "8^", "<1"], steps, " ")
            ),
            _ => format!(
                "comp = \"--{}\"\nstrum = {{ ms = 25 }}",
                dice.tune(&["-", "=", "x", "g"], steps, "")
            ),
        };
        text += &format!("[[part]]\nname = \"tune {number}\"\npiece = \"{piece}\"\nregister = \"C3\"\n{plays}\n");
    }
    let quarters = f64::from(metre.0) * 4.0 / f64::from(metre.1) * bars as f64;
    let repeats = ending == "repeat";
    (
        text,
        metre,
        Time {
            tempo,
            quarters,
            repeats,
        },
    )
}

#[test]
fn random_loops_come_back() {
    let desk = desk();
    let mut all = 0;
    for seed in 0..40 {
        let (text, metre, time) = random_loop(&mut Dice(seed));
        desk.write("loop.toml", &text);
        all += assert_comes_back(&desk, "loop.toml", desk.path("").as_path(), metre, &time);
    }
    assert!(all > 2000, "{all}");
}

#[test]
fn more_parts_than_channels_come_back_by_their_tracks() {
    let desk = desk();
    let mut text = "[loop]\ntempo = 120\nbars = 1\n".to_string();
    for number in 0..20 {
        text += &format!(
            "[[part]]\nname = \"voice {number}\"\npiece = \"stand-in\"\nnotes = \"C{} - E4 {}\"\n",
            1 + number % 7,
            if number % 3 == 0 { "G4" } else { "-" }
        );
    }
    desk.write("loop.toml", &text);
    let time = Time {
        tempo: 120.0,
        quarters: 4.0,
        repeats: true,
    };
    let count = assert_comes_back(&desk, "loop.toml", &desk.path(""), (4, 4), &time);
    assert_eq!(count, 47);
    let performance = midi::read(desk.path("take.mid")).unwrap();
    // The fifteen channels that are no percussion are shared, and a part takes its own track's notes alone.
    let first = &performance.tracks[1].notes[0];
    let shared = performance.tracks[2..]
        .iter()
        .filter(|track| track.notes[0].channel == first.channel);
    assert_eq!(shared.count(), 1);
}

#[test]
fn a_track_that_is_not_there_is_told() {
    let desk = desk();
    desk.write(
        "loop.toml",
        "[loop]\ntempo = 120\nbars = 1\n[tab]\nall = \"kick x---\"\n",
    );
    desk.run(&["render", "loop.toml", "-o", "take.wav", "--midi"])
        .assert_done();
    let part = "[loop]\ntempo = 120\nbars = 1\n[[part]]\nname = \"feet\"\n";
    for (wrong, help) in [
        ("midi = \"take.mid\"\ntrack = \"kik\"", "did you mean `kick`?"),
        ("midi = \"take.mid\"\ntrack = \"zither\"", "its tracks are kick"),
        ("hits = \"x\"\ntrack = \"kick\"", "leave out `track`"),
    ] {
        desk.write("back.toml", format!("{part}{wrong}\n"));
        let answer = desk.run(&["check", "back.toml"]);
        assert_eq!(answer.code, Some(1));
        assert!(answer.err.contains(help), "{}", answer.err);
    }
}

#[test]
fn names_hold_over_the_kits_own_map_and_a_parts_keys_over_names() {
    let desk = desk();
    // The kit has the foghorn on 36 and the shaker on 38; the file says what was played.
    desk.write(
        "loop.toml",
        "[loop]\ntempo = 120\nbars = 1\n[tab]\nall = \"\"\"\nkick x---\nsnare -x--\n\"\"\"\n",
    );
    desk.run(&["render", "loop.toml", "-o", "take.wav", "--midi"])
        .assert_done();
    let played = |keys: &str| {
        let part = format!("[loop]\ntempo = 120\nbars = 1\n[[part]]\nname = \"p\"\nmidi = \"take.mid\"\n{keys}\n");
        desk.write("back.toml", part);
        let project = Project::open(desk.path("back.toml")).unwrap();
        let score = project.score(&Order::default()).unwrap();
        score.hits().map(|hit| hit.piece.to_string()).collect::<Vec<_>>()
    };
    assert_eq!(played(""), ["kick", "snare"]);
    assert_eq!(played("keys = { 36 = \"hat-open\" }"), ["hat-open", "snare"]);
}
