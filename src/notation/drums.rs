//! Where drums and cymbals stand on their staff.
//!
//! Places and heads after N. Weinberg, "Guide to Standardized Drumset Notation" (Percussive Arts Society, 1998) [memory]: drums
//! have round heads, cymbals crosses; what is struck by hand stands in the upper voice, what a foot plays in the lower.

use super::{Drum, Head};
use crate::kit::kind;
use crate::midi::key_for;

/// Steps above C0 of the lowest line of the staff, E4 in the treble clef.
const LOWEST_LINE: i32 = 30;

/// Who plays a piece of a drum set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Limb {
    Hand,
    Foot,
}

/// Pieces of a drum set: how their names begin, steps above the lowest line, head, limb. The first that fits counts.
const SET: [(&str, i32, Head, Limb); 22] = [
    ("kick-2", 0, Head::Round, Limb::Foot),
    ("kick", 1, Head::Round, Limb::Foot),
    ("snare", 5, Head::Round, Limb::Hand),
    ("side-stick", 5, Head::Cross, Limb::Hand),
    ("rim", 5, Head::Triangle, Limb::Hand),
    ("clap", 5, Head::Triangle, Limb::Hand),
    ("hat-pedal", -1, Head::Cross, Limb::Foot),
    ("hat-open", 9, Head::CircledCross, Limb::Hand),
    ("hat", 9, Head::Cross, Limb::Hand),
    ("ride-bell", 8, Head::Diamond, Limb::Hand),
    ("ride-2", 8, Head::CircledCross, Limb::Hand),
    ("ride", 8, Head::Cross, Limb::Hand),
    ("crash-2", 11, Head::Cross, Limb::Hand),
    ("crash", 10, Head::Cross, Limb::Hand),
    ("splash", 12, Head::Cross, Limb::Hand),
    ("china", 12, Head::CircledCross, Limb::Hand),
    ("cowbell", 7, Head::Triangle, Limb::Hand),
    ("tom-high", 7, Head::Round, Limb::Hand),
    ("tom-mid", 6, Head::Round, Limb::Hand),
    ("tom-low", 4, Head::Round, Limb::Hand),
    ("tom-floor", 3, Head::Round, Limb::Hand),
    ("tom", 6, Head::Round, Limb::Hand),
];

/// Percussion that is struck on skin; what else there is has a cross.
const SKINS: [&str; 6] = ["bongo", "conga", "timbale", "drum", "cajon", "surdo"];

/// A piece of a drum set and who plays it; none for other percussion, which has a staff of its own.
pub(super) fn of_set(piece: &str) -> Option<(Drum, Limb)> {
    let plain = kind(piece).0;
    let begins = |name: &str, with: &str| {
        name.strip_prefix(with)
            .is_some_and(|rest| rest.is_empty() || rest.starts_with('-'))
    };
    let (_, step, head, limb) = SET.iter().find(|(name, ..)| *name == piece || begins(plain, name))?;
    let drum = Drum {
        name: piece.into(),
        step: LOWEST_LINE + step,
        head: *head,
        key: key_for(piece).or(key_for(plain)),
    };
    Some((drum, *limb))
}

/// A piece of other percussion on a staff of its own: on the middle line, the high one of a pair above it and the low one
/// below.
pub(super) fn percussion(piece: &str) -> Drum {
    let plain = kind(piece).0;
    let step = match plain.rsplit_once('-') {
        Some((_, "high" | "mute" | "short")) => 5,
        Some((_, "low" | "open" | "long")) => 3,
        _ => 4,
    };
    let skin = SKINS.iter().any(|skin| plain.contains(skin));
    Drum {
        name: piece.into(),
        step: LOWEST_LINE + step,
        head: if skin { Head::Round } else { Head::Cross },
        key: key_for(piece).or(key_for(plain)),
    }
}

/// What counts the beats of a lead sheet: on the middle line.
pub(super) fn slash() -> Drum {
    Drum {
        name: "beat".into(),
        step: LOWEST_LINE + 4,
        head: Head::Slash,
        key: None,
    }
}

/// An accent of the band: over the slashes, above the highest line.
pub(super) fn accent() -> Drum {
    Drum {
        name: "accent".into(),
        step: LOWEST_LINE + 9,
        head: Head::Slash,
        key: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_stand_where_drummers_look_for_them() {
        // N. Weinberg (1998) [memory]: bass drum in the first space, snare in the third, hats over the top line, the pedal below
        // the staff.
        let place = |piece| of_set(piece).map(|(drum, limb)| (drum.step - LOWEST_LINE, drum.head, limb));
        assert_eq!(place("kick"), Some((1, Head::Round, Limb::Foot)));
        assert_eq!(place("snare"), Some((5, Head::Round, Limb::Hand)));
        assert_eq!(place("snare-3"), Some((5, Head::Round, Limb::Hand)));
        assert_eq!(place("hat-closed"), Some((9, Head::Cross, Limb::Hand)));
        assert_eq!(place("hat-pedal"), Some((-1, Head::Cross, Limb::Foot)));
        assert_eq!(place("side-stick"), Some((5, Head::Cross, Limb::Hand)));
        assert_eq!(place("shaker"), None);
        assert_eq!(place("tombak"), None);
        assert_eq!(percussion("woodblock-high").step, LOWEST_LINE + 5);
        assert_eq!(percussion("frame-drum").head, Head::Round);
    }
}
