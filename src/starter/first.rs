//! A first loop for a kit that someone owns, with comments that say what to try.

use std::fmt::Write;
use std::path::Path;

use crate::kit::Index;
use crate::text::quoted;

/// Roles of a first groove: its marks, and the pieces that can take it, the likeliest first.
const ROLES: [(&str, &[&str]); 3] = [
    (
        "x-x- x-x- x-x- x-x-",
        &[
            "hat-closed",
            "shaker",
            "ride",
            "tambourine",
            "cabasa",
            "maracas",
            "hat-pedal",
        ],
    ),
    (
        "---- X--g ---- X---",
        &[
            "snare",
            "clap",
            "side-stick",
            "snare-2",
            "tom-high",
            "bongo-high",
            "conga-open",
        ],
    ),
    (
        "X--- --x- --x- ----",
        &["kick", "tom-floor", "tom-low", "conga-low", "bongo-low"],
    ),
];

/// The text of a loop file that plays a plain groove on a kit's own pieces.
pub fn first_loop(kit: &Path, index: &Index) -> String {
    let names: Vec<&str> = index.listed().iter().map(|piece| piece.name.as_str()).collect();
    let lines = lines(&names);
    let played: Vec<&str> = lines.iter().map(|(name, _)| *name).collect();
    let width = played.iter().map(|name| name.chars().count()).max().unwrap_or(0);
    let mut tab = String::new();
    for (name, marks) in &lines {
        let _ = writeln!(tab, "{name:width$}  {marks}");
    }
    let others: Vec<&str> = names.iter().copied().filter(|name| !played.contains(name)).collect();
    let also = if others.is_empty() {
        String::new()
    } else {
        format!("# This kit also has: {}\n", others.join(" "))
    };
    let loudest = played.last().copied().unwrap_or_default();
    format!(
        r#"# A first loop. Change anything, then: pressroll render first-loop.toml
# Start with the volume low, above all on headphones.

[loop]
title = "First loop"
kit   = {kit}
tempo = 96             # BPM
bars  = 2

[feel]
swing = 54             # 50 is straight, 66.7 is triplets

# A line a part: x a hit, X an accent, g a ghost note, - nothing, 9 to 3 softer and softer.
# However many marks a bar has, they share it evenly; spaces are for the eye.
{also}[tab]
"all" = """
{tab}"""

# A part gets a table when it wants more than marks: pressroll reference lists every key.
[[part]]
name = {first}
gain = 0               # dB
room = -16             # how much of it the room hears, dB; higher is more

[room]
size  = 8              # metres
decay = 0.6            # seconds to fall 60 dB

[master]
ceiling = -1           # dBTP: no peak goes over it
"#,
        kit = quoted(&kit.display().to_string()),
        first = quoted(loudest),
    )
}

/// Which pieces play which marks: those that suit a role, or else the first that there are.
fn lines<'a>(names: &[&'a str]) -> Vec<(&'a str, &'static str)> {
    let mut lines: Vec<(&str, &str)> = Vec::new();
    for (marks, suited) in ROLES {
        let fit = suited
            .iter()
            .find_map(|wanted| names.iter().copied().find(|name| name == wanted));
        lines.extend(fit.map(|name| (name, marks)));
    }
    if lines.is_empty() {
        lines = names
            .iter()
            .copied()
            .filter(|name| fits_a_tab(name))
            .zip(ROLES.map(|(marks, _)| marks))
            .collect();
    }
    lines
}

/// A line of a tab begins with its part's name, which a space would end.
fn fits_a_tab(name: &str) -> bool {
    !name.is_empty() && !name.chars().any(|c| c.is_whitespace() || "\"\\#".contains(c))
}
