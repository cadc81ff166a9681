//! What a disk, an interruption or a change behind our back does: nothing is lost, nothing is left, and it is told in words.
//!
//! `tests/faults/run` does the same on disks and under limits that only root can set up.

use std::ffi::OsStr;
use std::fs;
use std::io::{BufRead, BufReader};
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use crate::support::{Desk, click, noise, pluck, tab};

/// Moments at which a render is killed.
const MOMENTS: u32 = 100;

fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("kit/kick.wav", &[pluck(60.0, 0.4, 0.8)]);
    desk.one_shot("kit/snare.wav", &[pluck(190.0, 0.3, 0.6)]);
    desk.write("loop.toml", beat(100, 2));
    desk
}

fn beat(tempo: u32, bars: u32) -> String {
    tab(&tempo.to_string(), bars, "kick x-x- x-x-\nsnare --x- --xg").replace("[loop]\n", "[loop]\nkit = \"kit\"\n")
        + "[[part]]\nname = \"snare\"\nroom = -10\n"
}

/// Begins a render and does not wait for it.
fn begin(desk: &Desk, arguments: &[&str]) -> Child {
    Command::new(env!("CARGO_BIN_EXE_pressroll"))
        .args(arguments)
        .current_dir(desk.path(""))
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("the binary runs")
}

fn bytes(desk: &Desk, name: &str) -> Vec<u8> {
    fs::read(desk.path(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
}

fn render(desk: &Desk, file: &str) -> Vec<u8> {
    desk.run(&["render", file, "-o", "out/mix.wav"]).assert_done();
    bytes(desk, "out/mix.wav")
}

/// A render that has to be refused in words that name something, and that leaves an old render as it was.
#[track_caller]
fn refused(desk: &Desk, arguments: &[&str], words: &[&str]) {
    let answer = desk.run(arguments);
    assert_eq!(answer.code, Some(1), "{arguments:?}\n{}{}", answer.out, answer.err);
    assert!(answer.err.starts_with("error"), "{}", answer.err);
    for word in words {
        assert!(answer.err.contains(word), "`{word}` is missing in:\n{}", answer.err);
    }
    for word in ["panicked", "os error", "Os {"] {
        assert!(
            !answer.err.contains(word),
            "`{word}` is not for people:\n{}",
            answer.err
        );
    }
}

#[test]
fn killed_at_any_moment_the_old_render_or_the_new_one_is_whole() {
    let desk = desk();
    desk.write("other.toml", beat(140, 12));
    // Depth float and many rounds: writing takes a good share of the time.
    let new = [
        "render",
        "other.toml",
        "-o",
        "out/mix.wav",
        "--repeat",
        "8",
        "--depth",
        "float",
    ];
    let begun = Instant::now();
    desk.run(&new).assert_done();
    let (whole, new_bytes) = (begun.elapsed(), bytes(&desk, "out/mix.wav"));
    let old = render(&desk, "loop.toml");
    let (mut left, mut swapped, mut cleared) = (0, 0, 0);
    // Moments by chance, the same ones each time: from the start to a little past the end.
    for moment in noise(MOMENTS as usize, 7) {
        let share = (moment + 32768) as f64 / 65536.0;
        let mut child = begin(&desk, &new);
        std::thread::sleep(Duration::from_secs_f64(whole.as_secs_f64() * 1.1 * share));
        child.kill().expect("it is killed, or gone");
        child.wait().expect("it is gone");
        let is = bytes(&desk, "out/mix.wav");
        assert!(
            is == old || is == new_bytes,
            "a file of {} bytes that is neither",
            is.len()
        );
        swapped += u32::from(is == new_bytes);
        let before = litter(&desk);
        left += u32::from(before > 0);
        // The next run clears what this one could not, and nothing else.
        assert!(render(&desk, "loop.toml") == old);
        assert_eq!(desk.names("out"), ["mix.wav"]);
        cleared += before;
    }
    println!(
        "of {MOMENTS} kills {left} left something unfinished, which the next run cleared; after {swapped} the new render was there"
    );
    assert_eq!(cleared, left, "one unfinished file a kill at most");
}

/// Files beside the render.
fn litter(desk: &Desk) -> u32 {
    desk.names("out").iter().filter(|name| *name != "mix.wav").count() as u32
}

#[test]
fn what_a_killed_run_left_is_cleared_and_what_another_is_writing_is_not() {
    let desk = desk();
    let left = desk.write("out/.pressroll-Ab3dE9.part", "half a render");
    let living = desk.write("out/.pressroll-living.part", "of a run that goes on");
    let held = fs::File::open(living).expect("it is there");
    held.lock().expect("it can be held");
    render(&desk, "loop.toml");
    assert!(!left.exists());
    assert_eq!(desk.names("out"), [".pressroll-living.part", "mix.wav"]);
    drop(held);
    render(&desk, "loop.toml");
    assert_eq!(desk.names("out"), ["mix.wav"]);
}

#[test]
fn a_finished_file_has_the_rights_of_any_new_one_or_of_the_one_before_it() {
    let desk = desk();
    render(&desk, "loop.toml");
    let mode = |name: &str| fs::metadata(desk.path(name)).expect("it is there").permissions().mode() & 0o777;
    desk.write("plain", "");
    assert_eq!(mode("out/mix.wav"), mode("plain"));
    fs::set_permissions(desk.path("out/mix.wav"), fs::Permissions::from_mode(0o600)).expect("rights are set");
    render(&desk, "loop.toml");
    assert_eq!(mode("out/mix.wav"), 0o600);
}

#[test]
fn nothing_but_files_is_written_over() {
    let desk = desk();
    let made = Command::new("mkfifo").arg(desk.path("pipe.wav")).status();
    assert!(made.expect("mkfifo runs").success());
    symlink("/dev/null", desk.path("null.wav")).expect("a link");
    refused(
        &desk,
        &["render", "loop.toml", "-o", "pipe.wav"],
        &["pipe.wav", "is a pipe"],
    );
    refused(
        &desk,
        &["render", "loop.toml", "-o", "null.wav"],
        &["null.wav", "is a device"],
    );
    refused(
        &desk,
        &["render", "loop.toml", "-o", "/dev/null"],
        &["/dev/null", "is a device"],
    );
    assert!(
        fs::symlink_metadata(desk.path("null.wav"))
            .expect("a link")
            .is_symlink()
    );
}

#[test]
fn a_folder_that_can_not_be_made() {
    let desk = desk();
    desk.write("taken", "a file");
    for place in ["taken/mix.wav", "taken/deeper/mix.wav"] {
        refused(
            &desk,
            &["render", "loop.toml", "-o", place],
            &[place, "can't be written"],
        );
    }
    assert_eq!(bytes(&desk, "taken"), b"a file");
}

#[test]
fn a_file_that_is_gone_or_another_by_the_time_it_is_decoded() {
    let desk = desk();
    let old = render(&desk, "loop.toml");
    // The scan sees names; what lies behind them is met when it is decoded. A link to nowhere is a name with nothing behind it.
    fs::remove_file(desk.path("kit/snare.wav")).expect("it was there");
    symlink("gone.wav", desk.path("kit/snare.wav")).expect("a link");
    refused(&desk, &["render", "loop.toml", "-o", "out/mix.wav"], &["snare"]);
    fs::remove_file(desk.path("kit/snare.wav")).expect("it was there");
    desk.write("kit/snare.wav", "RIFF");
    refused(&desk, &["render", "loop.toml", "-o", "out/mix.wav"], &["snare.wav"]);
    assert!(bytes(&desk, "out/mix.wav") == old);
    assert_eq!(desk.names("out"), ["mix.wav"]);
}

#[test]
fn a_kit_that_changes_while_it_is_rendered() {
    let desk = desk();
    let kit = desk.path("kit");
    let whole = bytes(&desk, "kit/snare.wav");
    let known = render(&desk, "loop.toml");
    let stop = std::sync::atomic::AtomicBool::new(false);
    let still = || !stop.load(std::sync::atomic::Ordering::Relaxed);
    let (mut done, mut told) = (0, 0);
    std::thread::scope(|scope| {
        // Somebody copies the one-shot again and again, takes it away, puts another kit.toml there.
        scope.spawn(|| {
            let mut turn = 0u32;
            while still() {
                turn += 1;
                let snare = kit.join("snare.wav");
                let cut = whole.len() * (turn as usize % 7) / 7;
                let _ = match turn % 4 {
                    0 => fs::write(&snare, &whole),
                    1 => fs::write(&snare, &whole[..cut]),
                    2 => fs::remove_file(&snare),
                    _ => fs::write(
                        kit.join("kit.toml"),
                        &b"[kit]\ntitle = \"Pier\"\n"[..turn as usize % 22],
                    ),
                };
                std::thread::sleep(Duration::from_micros(u64::from(turn * 997 % 3000)));
            }
        });
        for _ in 0..40 {
            let answer = desk.run(&["render", "loop.toml", "-o", "out/mix.wav", "--verify"]);
            match answer.code {
                Some(0) => done += 1,
                Some(1) => told += 1,
                code => panic!("{code:?}: {}", answer.err),
            }
            assert!(!answer.err.contains("panicked"), "{}", answer.err);
            assert_eq!(desk.names("out"), ["mix.wav"]);
            crate::support::wav::Wav::parse(&bytes(&desk, "out/mix.wav"));
        }
        stop.store(true, std::sync::atomic::Ordering::Relaxed);
    });
    println!("of 40 renders {done} were done and {told} refused");
    fs::write(kit.join("snare.wav"), &whole).expect("it is whole again");
    let _ = fs::remove_file(kit.join("kit.toml"));
    assert!(render(&desk, "loop.toml") == known, "it plays as before");
}

#[test]
#[cfg(target_os = "linux")]
fn paths_that_are_not_utf8() {
    let odd = |text: &[u8]| OsStr::from_bytes(text).to_owned();
    let desk = Desk::new();
    let folder = desk.path("").join(odd(b"pier\xFF"));
    fs::create_dir_all(folder.join("kit")).expect("a folder");
    let kick = crate::support::wav::float(crate::support::RATE, &[click()]);
    fs::write(folder.join("kit/kick.wav"), &kick).expect("a file");
    // A one-shot whose name is no text: a piece of the kit under what can be read of it.
    fs::write(folder.join(odd(b"kit/b\xE6ll.wav")), &kick).expect("a file");
    let file = folder.join(odd(b"loop\xFE.toml"));
    fs::write(
        &file,
        beat(120, 1)
            .replace("snare --x- --xg\n", "")
            .split("[[part]]")
            .next()
            .expect("text"),
    )
    .expect("a file");
    let run = |arguments: &[&OsStr]| {
        let done = Command::new(env!("CARGO_BIN_EXE_pressroll"))
            .args(arguments)
            .current_dir(desk.path(""))
            .output()
            .expect("the binary runs");
        let err = String::from_utf8_lossy(&done.stderr).into_owned();
        assert!(!err.contains("panicked"), "{err}");
        (done.status.code(), err)
    };
    let out = folder.join(odd(b"out\xFD.wav"));
    let (code, err) = run(&["render".as_ref(), file.as_ref(), "-o".as_ref(), out.as_ref()]);
    assert_eq!(code, Some(0), "{err}");
    let plain = desk.path("plain.wav");
    let (code, err) = run(&["render".as_ref(), file.as_ref(), "-o".as_ref(), plain.as_ref()]);
    assert_eq!(code, Some(0), "{err}");
    assert!(fs::read(&out).expect("a render") == fs::read(plain).expect("a render"));
    for command in ["check", "chart"] {
        let (code, err) = run(&[command.as_ref(), file.as_ref()]);
        assert_eq!(code, Some(0), "{err}");
    }
    let (code, err) = run(&["kit".as_ref(), folder.join("kit").as_ref()]);
    assert_eq!(code, Some(0), "{err}");
    // One that is not there is named as far as it can be read.
    let gone = folder.join(odd(b"gone\xFC.toml"));
    let (code, err) = run(&["render".as_ref(), gone.as_ref()]);
    assert_eq!(code, Some(1), "{err}");
    assert!(err.contains("gone"), "{err}");
    let swap = odd(&[b"kick=".as_ref(), out.as_os_str().as_bytes()].concat());
    let swapped = folder.join(odd(b"swapped\xFB.wav"));
    // A one-shot that is swapped in is never written over, be its name readable or not.
    for (to, expected) in [(&swapped, Some(0)), (&out, Some(1))] {
        let args = [
            "render".as_ref(),
            file.as_ref(),
            "--swap".as_ref(),
            swap.as_ref(),
            "-o".as_ref(),
        ];
        let (code, err) = run(&[&args[..], &[to.as_ref()]].concat());
        assert_eq!(code, expected, "{err}");
    }
}

#[test]
fn nobody_reads_what_is_told() {
    let desk = desk();
    let known = render(&desk, "loop.toml");
    for json in [&[][..], &["--json"]] {
        fs::remove_file(desk.path("out/mix.wav")).expect("it was there");
        let arguments = [&["render", "loop.toml", "-o", "out/mix.wav"], json].concat();
        let mut child = Command::new(env!("CARGO_BIN_EXE_pressroll"))
            .args(arguments)
            .current_dir(desk.path(""))
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the binary runs");
        drop(child.stdout.take());
        drop(child.stderr.take());
        assert_eq!(child.wait().expect("it ends").code(), Some(0));
        assert!(bytes(&desk, "out/mix.wav") == known);
    }
    // As `| head -1` does it: one line is read, then nobody listens any more.
    for command in [
        &["reference"][..],
        &["reference", "--man"],
        &["chart", "loop.toml"],
        &["reference", "--schema", "loop"],
    ] {
        let mut child = Command::new(env!("CARGO_BIN_EXE_pressroll"))
            .args(command)
            .current_dir(desk.path(""))
            .stdout(Stdio::piped())
            .spawn()
            .expect("the binary runs");
        let mut lines = BufReader::new(child.stdout.take().expect("its output")).lines();
        assert!(lines.next().expect("a line").is_ok());
        drop(lines);
        assert_eq!(child.wait().expect("it ends").code(), Some(0), "{command:?}");
    }
}

#[test]
#[cfg(target_os = "linux")]
fn standard_output_on_a_full_disk_is_an_error() {
    let desk = desk();
    let known = render(&desk, "loop.toml");
    for arguments in [
        &["--help"][..],
        &["--version"],
        &["chart", "--help"],
        &["chart", "loop.toml"],
        &["check", "loop.toml"],
        &["chords", "G", "minor"],
        &["manual"],
        &["manual", "kits"],
        &["manual", "--page"],
        &["measure", "out/mix.wav"],
        &["measure", "out/mix.wav", "--json"],
        &["kit", "kit"],
        &["kit", "kit", "--json"],
        &["reference"],
        &["reference", "limits"],
        &["reference", "--man"],
        &["reference", "--schema", "loop"],
        &["reference", "--shell", "bash"],
        &["render", "loop.toml", "-o", "out/mix.wav"],
        &["render", "loop.toml", "-o", "out/mix.wav", "--json"],
        &["compare", "loop.toml", "--vary", "snare.gain=0,-3", "-o", "versions"],
        &["tryout", "loop.toml", "snare", "kit", "-o", "tried", "--json"],
        &["start", "shelf"],
    ] {
        let full = fs::File::options().write(true).open("/dev/full").expect("a full disk");
        let done = Command::new(env!("CARGO_BIN_EXE_pressroll"))
            .args(arguments)
            .current_dir(desk.path(""))
            .stdin(Stdio::null())
            .stdout(full)
            .output()
            .expect("the binary runs");
        let err = String::from_utf8_lossy(&done.stderr).into_owned();
        assert_eq!(done.status.code(), Some(1), "{arguments:?}: {err}");
        assert!(
            err.starts_with("error: standard output can't be written: no space left"),
            "{arguments:?}: {err}"
        );
    }
    assert!(bytes(&desk, "out/mix.wav") == known, "what was finished is whole");
}

#[test]
fn a_limit_on_the_length_of_files_is_told_and_leaves_nothing() {
    let desk = desk();
    let old = render(&desk, "loop.toml");
    let limited = "ulimit -f 64; exec \"$0\" render loop.toml -o out/mix.wav";
    let done = Command::new("bash")
        .args(["-c", limited, env!("CARGO_BIN_EXE_pressroll")])
        .current_dir(desk.path(""))
        .output()
        .expect("bash runs");
    let err = String::from_utf8_lossy(&done.stderr).into_owned();
    assert_eq!(done.status.code(), Some(1), "{err}");
    assert!(
        err.starts_with("error: out/mix.wav can't be written: file too large"),
        "{err}"
    );
    assert!(bytes(&desk, "out/mix.wav") == old);
    assert_eq!(desk.names("out"), ["mix.wav"]);
}

#[test]
fn more_threads_than_are_of_use_are_not_begun() {
    let desk = desk();
    let known = render(&desk, "loop.toml");
    for name in ["RAYON_NUM_THREADS", "RAYON_RS_NUM_CPUS"] {
        let variables = [(name, "20000")];
        desk.run_in(
            &desk.path(""),
            &variables,
            &["render", "loop.toml", "-o", "out/mix.wav"],
        )
        .assert_done();
        assert!(bytes(&desk, "out/mix.wav") == known);
    }
}

#[test]
fn a_home_without_temporary_folder_or_environment() {
    let desk = desk();
    let known = render(&desk, "loop.toml");
    let done = Command::new(env!("CARGO_BIN_EXE_pressroll"))
        .args(["render", "loop.toml", "-o", "out/mix.wav"])
        .env_clear()
        .env("TMPDIR", Path::new("/nowhere"))
        .current_dir(desk.path(""))
        .output()
        .expect("the binary runs");
    assert_eq!(done.status.code(), Some(0), "{}", String::from_utf8_lossy(&done.stderr));
    assert!(bytes(&desk, "out/mix.wav") == known);
}
