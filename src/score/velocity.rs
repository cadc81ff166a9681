//! How hard: velocity ranges, layers, and the law from velocity to level.

use crate::kit::{Layer, Piece};
use crate::loopfile::PLAIN;

/// The velocity of a stroke whose part spreads over a range, for a draw from 0 to 1.
///
/// A plain stroke lands in the range evenly; other marks keep their distance to it.
pub(super) fn spread(written: f64, plain: bool, (low, high): (f64, f64), draw: f64) -> f64 {
    let drawn = low + (high - low) * draw;
    let velocity = if plain { drawn } else { drawn + written - PLAIN };
    velocity.clamp(1.0, 127.0)
}

/// The layer of a piece for a velocity, by its number: the first that reaches it.
pub(super) fn layer(piece: &Piece, velocity: f64) -> usize {
    let reaches = |layer: &Layer| velocity <= layer.upto;
    piece
        .layers
        .iter()
        .position(reaches)
        .unwrap_or(piece.layers.len().saturating_sub(1))
}

/// The level in dB of a velocity against the velocity `top` at which a take sounds as recorded:
/// 40·log10(velocity/top), the law recommended with DLS and General MIDI 2 [memory].
pub(crate) fn level_db(velocity: f64, top: f64) -> f64 {
    40.0 * libm::log10(velocity / top)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_law_of_velocity() {
        // General MIDI 2 and DLS [memory].
        for (velocity, db) in [(64.0, -11.9), (32.0, -23.9), (1.0, -84.2), (127.0, 0.0)] {
            assert!((level_db(velocity, 127.0) - db).abs() < 0.06, "{velocity}");
        }
    }

    #[test]
    fn ranges_move_plain_strokes_and_carry_the_others() {
        assert_eq!(spread(96.0, true, (70.0, 110.0), 0.5), 90.0);
        assert_eq!(spread(40.0, false, (70.0, 110.0), 0.5), 34.0);
        assert_eq!(spread(118.0, false, (110.0, 127.0), 1.0), 127.0);
    }

    #[test]
    fn the_softest_layer_that_reaches_a_velocity_plays_it() {
        let layer_to = |upto| Layer::new(upto, vec![0]);
        let piece = Piece {
            name: "snare".into(),
            layers: vec![layer_to(60.0), layer_to(127.0)],
            choke: None,
        };
        assert_eq!(
            [layer(&piece, 60.0), layer(&piece, 60.5), layer(&piece, 127.0)],
            [0, 1, 1]
        );
    }
}
