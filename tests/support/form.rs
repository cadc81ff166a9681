//! What the promises of forms share: two loops, and forms of them.

use super::wav::Wav;
use super::{Desk, RATE, click, tone};

/// Verse: 2 bars of 4/4 at 120 (2 s each); its kick on the one and its hat on two and four; bar 2 has a snare on four.
pub const VERSE: &str = "[loop]\nkit = '.'\ntempo = 120\nbars = 2\n[tab]\nall = '''\nkick X---\nhat -x-x\n'''\n'2' = 'snare ---X'\n[[part]]\nname = 'hat'\nbus = 'tops'\n[[bus]]\nname = 'tops'\n[[mix]]\nname = 'no snare'\nset = { 'snare.gain' = -120 }\n";
/// Chorus: 1 bar of 3/4 at 90 (2 s), a clap on each.
pub const CHORUS: &str = "[loop]\nkit = '.'\ntempo = 90\nmetre = '3/4'\nbars = 1\n[tab]\nall = 'clap xxx'\n";

/// A desk with both loops and their one-shots.
pub fn desk() -> Desk {
    let desk = Desk::new();
    for piece in ["kick", "snare", "hat", "clap"] {
        desk.one_shot(&format!("{piece}.wav"), &[click()]);
    }
    desk.one_shot("gong.wav", &[tone(500.0, 3.0, 0.4)]);
    desk.one_shot("stopper.wav", &[click()]);
    desk.write("verse.toml", VERSE);
    desk.write("chorus.toml", CHORUS);
    desk
}

/// A form's text: the keys of `[form]`, then its sections' tables.
pub fn form(keys: &str, sections: &[&str]) -> String {
    let sections: String = sections
        .iter()
        .map(|section| format!("[[section]]\n{section}\n"))
        .collect();
    format!("[form]\n{keys}\n{sections}[master]\nceiling = 'off'\n")
}

/// Renders a form.
pub fn render(keys: &str, sections: &[&str], options: &[&str]) -> Wav {
    let desk = desk();
    desk.write("form.toml", form(keys, sections));
    desk.render_file("form.toml", options).0
}

/// The frames at which clicks stand.
pub fn clicks(sound: &Wav) -> Vec<usize> {
    let left = sound.left();
    (0..left.len()).filter(|frame| left[*frame].abs() > 1e-3).collect()
}

/// Frames of seconds.
pub fn at(seconds: &[f64]) -> Vec<usize> {
    seconds
        .iter()
        .map(|second| (second * f64::from(RATE)).round() as usize)
        .collect()
}

/// A section that plays the verse.
pub const V: &str = "loop = 'verse.toml'";
/// A section that plays the chorus.
pub const C: &str = "loop = 'chorus.toml'";
