//! A first loop for a kit that someone owns, with comments that say what to try.

use std::fmt::Write;
use std::path::Path;

use super::balance::Level;
use super::set::Set;
use crate::text::{one_line, quoted};

/// The letters that names of other pieces may take: a line of a file.
const LISTED: usize = 100;

/// The text of a loop file that plays a plain groove on some pieces of a kit, each at its level. `others` are the kit's other pieces.
pub fn first_loop(kit: &Path, set: &Set, levels: &[Level], others: &[&str]) -> String {
    let width = set.chosen.iter().map(|one| one.part.chars().count()).max().unwrap_or(0);
    let backbeat = set.chosen.iter().find(|one| one.role.under == 0.0).map(|one| &one.part);
    let mut tab = String::new();
    let mut parts = String::new();
    for (one, level) in set.chosen.iter().zip(levels) {
        let _ = writeln!(tab, "{:width$}  {}", one.part, one.role.marks);
        let _ = write!(parts, "\n[[part]]\nname = {}\n", quoted(&one.part));
        if one.piece != one.part {
            let _ = writeln!(parts, "piece = {}", quoted(&one.piece));
        }
        let alone = level
            .lufs
            .map_or(String::new(), |lufs| format!("; {lufs:.1} LUFS by itself"));
        let _ = writeln!(parts, "gain = {:<15} # dB{alone}", level.gain);
        // A backbeat in a room and a dry kick [practice].
        if backbeat == Some(&one.part) {
            let _ = writeln!(
                parts,
                "room = -16             # how much of it the room hears, dB; higher is more"
            );
        }
    }
    let names: Vec<String> = set.chosen.iter().map(|one| quoted(&one.part)).collect();
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
loose = {{ ms = 3, velocity = 3 }}    # how far a player drifts
players = {{ drums = [{drums}] }}     # one player's parts drift as one

# A line a part: x a hit, X an accent, g a ghost note, - nothing, 9 to 3 softer and softer.
# However many marks a bar has, they share it evenly; spaces are for the eye.
{also}[tab]
"all" = """
{tab}"""

# A table a part: its level was measured. `pressroll reference` lists every setting.{parts}
[room]
size  = 8              # metres
decay = 0.6            # seconds to fall 60 dB

[master]
ceiling = -1           # dBTP: no peak goes over it
"#,
        kit = quoted(&kit.display().to_string()),
        drums = names.join(", "),
        also = also(others),
    )
}

/// What else a kit has, in a line.
fn also(others: &[&str]) -> String {
    let mut line = String::new();
    for (at, name) in others.iter().enumerate() {
        let name = one_line(name);
        if line.chars().count() + name.chars().count() > LISTED {
            line.push_str(&format!(" and {} more", others.len() - at));
            break;
        }
        line.push_str(&format!(" {name}"));
    }
    if line.is_empty() {
        line
    } else {
        format!("# This kit also has:{line}\n")
    }
}
