//! What the parts of a first loop do.

use crate::project::balance::Role as Balanced;

/// What a part does in a first groove.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Role {
    /// Its marks.
    pub marks: &'static str,
    /// The pieces that can take it, the likeliest first.
    pub pieces: &'static [&'static str],
    /// By how many LU it lies below kick and snare.
    pub under: f64,
}

/// Roles of a first groove from the top of the tablature down. They stand to one another as `pressroll balance` has them: kick
/// and snare are equally loud, and what keeps time lies below them.
pub(super) const ROLES: [Role; 3] = [
    Role {
        marks: "x-x- x-x- x-x- x-x-",
        pieces: &[
            "hat-closed",
            "shaker",
            "ride",
            "tambourine",
            "cabasa",
            "maracas",
            "hat-pedal",
        ],
        under: Balanced::Kick.row().level - Balanced::Time.row().level,
    },
    Role {
        marks: "---- X--g ---- X---",
        pieces: &["snare", "clap", "side-stick", "tom-high", "bongo-high", "conga-open"],
        under: Balanced::Kick.row().level - Balanced::Snare.row().level,
    },
    Role {
        marks: "X--- --x- --x- ----",
        pieces: &["kick", "tom-floor", "tom-low", "conga-low", "bongo-low"],
        under: 0.0,
    },
];

/// A line of a tab begins with its part's name, which a space would end.
pub(super) fn fits_a_tab(name: &str) -> bool {
    !name.is_empty()
        && !name
            .chars()
            .any(|c| c.is_whitespace() || c.is_control() || "\"\\#".contains(c))
}
