//! What is thrown at pressroll: bytes as every kind of file that it reads, and whole renders of small loops made of them.
//!
//! Each function takes bytes and must come back. A panic, a hang or a promise that does not hold is a find. The same
//! functions replay the kept cases in `cargo test`.

mod loops;

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use pressroll::Order;
use pressroll::internals::chart;
use pressroll::internals::export::{notes, tablature};
use pressroll::internals::kit::{Kit, load_file};
use pressroll::internals::loopfile::{self, Casting, Changes, Draft, LoopDraft};
use pressroll::internals::render::render;
use pressroll::internals::{harmony, midi as smf, score};

/// Renders at this rate: low, so that there are many of them.
const RATE: u32 = 16_000;

/// Bytes as a loop file that stands beside a kit: read, resolved, charted, written as a score.
pub fn loop_file(bytes: &[u8]) {
    let path = put("loop.toml", bytes);
    read_and_score(&path);
}

/// Bytes as a form file that stands beside a loop.
pub fn form_file(bytes: &[u8]) {
    put("part.toml", loops::PART.as_bytes());
    let path = put("form.toml", bytes);
    read_and_score(&path);
}

/// Bytes as the `kit.toml` of a folder with three one-shots.
pub fn kit_file(bytes: &[u8]) {
    let folder = desk().join("kit");
    if fs::create_dir_all(&folder).is_ok() {
        one_shots(&folder);
        let _ = fs::write(folder.join("kit.toml"), bytes);
        if let Ok(kit) = Kit::open(&[folder], &[]) {
            let all: Vec<(usize, bool)> = (0..kit.takes().min(8)).map(|take| (take, true)).collect();
            let _ = kit.load(&all, RATE);
        }
    }
}

/// Bytes as a one-shot, whatever container they are. What is read has finite samples and one channel or two.
pub fn recording(bytes: &[u8]) {
    let Ok(recording) = load_file(&put("one-shot.wav", bytes), RATE) else {
        return;
    };
    let channels = &recording.audio.channels;
    assert!(matches!(channels.len(), 1 | 2));
    assert!(channels.iter().flatten().all(|sample| sample.is_finite()));
    assert!(recording.audio.frames() > 0);
}

/// Bytes as a Standard MIDI File; what is read holds notes that MIDI can say.
pub fn midi(bytes: &[u8]) {
    if let Ok(performance) = smf::from_bytes(bytes) {
        for (_, note) in performance.notes() {
            assert!(note.key < 128 && (1..=127).contains(&note.velocity) && note.channel < 16);
        }
    }
}

/// Bytes as words of harmony: chords, notes, keys, degrees, and notes that want a name.
pub fn words(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    let _ = harmony::name_chord(&text);
    // A few words say what many do, sooner.
    for word in text.split_whitespace().take(4) {
        if let Ok(chord) = harmony::Chord::parse(word) {
            for voicing in ["close", "open", "drop 2", "rootless", "shell"]
                .into_iter()
                .filter_map(harmony::Voicing::named)
            {
                let register = harmony::Note::parse("C4").expect("a note");
                harmony::voicings(&chord, voicing, register);
            }
        }
        let _ = (
            harmony::Note::parse(word),
            harmony::Spelling::parse(word),
            harmony::Key::parse(word),
        );
        let _ = harmony::DegreeWord::parse(word);
    }
}

/// A small loop made of bytes, rendered: finite, within its ceiling, as long as it says, and the same again.
pub fn whole(bytes: &[u8]) {
    let path = put("whole.toml", loops::text(bytes).as_bytes());
    let Ok(Draft::Loop(draft)) = loopfile::read(&path, &Changes::default()) else {
        return;
    };
    let Some((song, kit)) = resolved(draft) else { return };
    let order = Order {
        rate: RATE,
        rounds: 1,
        ..Order::default()
    };
    let Ok(first) = render(&song, &kit, &order, &|_| ()) else {
        return;
    };
    assert!(first.audio.channels.iter().flatten().all(|sample| sample.is_finite()));
    // The ceiling of -1 dBTP holds for peaks between samples, so it does for samples.
    assert!(
        first
            .audio
            .channels
            .iter()
            .flatten()
            .all(|sample| sample.abs() <= 0.8914)
    );
    let again = render(&song, &kit, &order, &|_| ()).expect("it could be rendered once");
    assert!(first.audio == again.audio, "a second render differs");
}

fn read_and_score(path: &Path) {
    match loopfile::read(path, &Changes::default()) {
        Ok(Draft::Loop(draft)) => {
            if let Some((song, kit)) = resolved(draft) {
                // Long loops are read in whole and played in part.
                let bars = (song.bars > 16).then_some((1, 16));
                let _ = score::write(&song, kit.index(), bars);
                if song.bars <= 16 {
                    print(&song);
                }
            }
        }
        Ok(Draft::Form(draft)) => {
            let form = draft.resolve(|_| Default::default());
            if let Ok(kit) = Kit::open(&[desk()], &[]) {
                let kits = vec![kit.index(); form.sections.len()];
                let _ = score::write_form(&form, &kits, (form.bars() > 16).then_some((1, 16)), 1);
            }
        }
        Err(problems) => assert!(!problems.0.is_empty(), "refused without a word"),
    }
}

/// The chart of a loop, and its pitched parts as notes, which must be readable again.
fn print(song: &loopfile::Loop) {
    let besides = chart::Besides {
        scores: None,
        tones: true,
    };
    let page = chart::song(&tablature::on_the_grid(song), (1, song.bars), besides);
    assert!(!page.is_empty(), "a loop without a page");
    for part in song
        .parts
        .iter()
        .filter(|part| part.strokes.iter().any(|stroke| stroke.pitch.is_some()))
    {
        let page = notes::written(song, part);
        let text = format!("[loop]\ntempo = 100\nbars = {}\n{page}", song.bars);
        let path = put("written.toml", text.as_bytes());
        if let Err(problems) = loopfile::read(&path, &Changes::default()) {
            panic!("{problems}\n{text}");
        }
    }
}

fn resolved(mut draft: LoopDraft) -> Option<(loopfile::Loop, Kit)> {
    let mut kit = Kit::open(&[desk()], &[]).ok()?;
    draft.cast(&Casting {
        piece: &|name| kit.index().find(name).map(|at| kit.index().pieces[at].name.clone()),
        keys: kit.keys(),
        plays: &|name, key| {
            let piece = &kit.index().pieces[kit.index().find(name)?];
            Some(kit.index().reach(piece, key.into())? <= score::FARTHEST)
        },
    });
    let song = draft.resolve(kit.defaults());
    kit.find_roots(score::pitched(&song)).ok()?;
    Some((song, kit))
}

/// A folder of this process's own, with one-shots.
fn desk() -> PathBuf {
    static DESK: OnceLock<PathBuf> = OnceLock::new();
    let make = || {
        let folder = std::env::temp_dir().join(format!("pressroll-fuzz-{}", std::process::id()));
        fs::create_dir_all(&folder).expect("a folder to work in");
        one_shots(&folder);
        folder
    };
    DESK.get_or_init(make).clone()
}

fn put(name: &str, bytes: &[u8]) -> PathBuf {
    let path = desk().join(name);
    fs::write(&path, bytes).expect("a file to read");
    path
}

/// Three short one-shots: two struck ones and a pitched one.
fn one_shots(folder: &Path) {
    for (name, hertz, decay) in [
        ("kick.wav", 60.0, 40.0),
        ("snare.wav", 190.0, 90.0),
        ("bass_A1.wav", 55.0, 6.0),
    ] {
        let path = folder.join(name);
        if path.exists() {
            continue;
        }
        let sample = |n: usize| {
            let at = n as f64 / f64::from(RATE);
            ((std::f64::consts::TAU * hertz * at).sin() * (-at * decay).exp() * 30_000.0) as i16
        };
        let data: Vec<u8> = (0..4000).flat_map(|n| sample(n).to_le_bytes()).collect();
        let mut bytes = b"RIFF".to_vec();
        bytes.extend((36 + data.len() as u32).to_le_bytes());
        bytes.extend(b"WAVEfmt \x10\0\0\0\x01\0\x01\0");
        bytes.extend(RATE.to_le_bytes());
        bytes.extend((RATE * 2).to_le_bytes());
        bytes.extend([2, 0, 16, 0]);
        bytes.extend(b"data");
        bytes.extend((data.len() as u32).to_le_bytes());
        bytes.extend(data);
        fs::write(path, bytes).expect("a one-shot");
    }
}
