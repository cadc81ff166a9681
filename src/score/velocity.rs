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

/// How a hit between two layers sounds as both.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Crossfade {
    /// The number of the layer that sounds beside the velocity's own.
    pub neighbour: usize,
    /// The level of the own layer in dB.
    pub own_db: f64,
    /// The level of the neighbour in dB.
    pub neighbour_db: f64,
}

/// How a velocity sounds where one layer of a piece turns into the next over so many velocities, half of them on either side
/// of the edge; none where its layer plays alone.
///
/// No half reaches beyond the middle of a layer, so that never more than two play.
///
/// The law is equal power (a quarter of a sine and of a cosine) [practice]: recordings of two strokes are not coherent, so
/// their powers add up. Equal gain would leave a dip of 3 dB half-way.
pub(super) fn crossfade(piece: &Piece, velocity: f64, over: f64) -> Option<Crossfade> {
    let mut below = 0.0;
    for (lower, pair) in piece.layers.windows(2).enumerate() {
        let (edge, end) = (pair[0].upto, pair[1].upto);
        let width = over.min(edge - below).min(end - edge);
        let into = (velocity - edge) / width + 0.5;
        if width > 0.0 && into > 0.0 && into < 1.0 {
            let angle = std::f64::consts::FRAC_PI_2 * into;
            let db = |gain: f64| 20.0 * libm::log10(gain);
            let (lower_db, upper_db) = (db(libm::cos(angle)), db(libm::sin(angle)));
            return Some(match velocity <= edge {
                true => Crossfade {
                    neighbour: lower + 1,
                    own_db: lower_db,
                    neighbour_db: upper_db,
                },
                false => Crossfade {
                    neighbour: lower,
                    own_db: upper_db,
                    neighbour_db: lower_db,
                },
            });
        }
        below = edge;
    }
    None
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
    fn layers_turn_into_one_another_at_equal_power_and_never_three_at_once() {
        let piece = Piece {
            name: "snare".into(),
            layers: [40.0, 60.0, 127.0].map(|upto| Layer::new(upto, vec![0])).into(),
            choke: None,
        };
        let power = |db: f64| libm::pow(10.0, db / 10.0);
        for over in [8.0, 20.0, 126.0] {
            let reach = f64::min(over, 20.0) / 2.0;
            let mut before: Option<[f64; 3]> = None;
            for velocity in (4..=508).map(|quarter| f64::from(quarter) / 4.0) {
                let mut powers = [0.0; 3];
                let own = layer(&piece, velocity);
                let found = crossfade(&piece, velocity, over);
                let near = [40.0, 60.0].iter().any(|edge| (velocity - edge).abs() < reach);
                assert_eq!(found.is_some(), near, "{velocity} over {over}");
                powers[own] = found.as_ref().map_or(1.0, |found| power(found.own_db));
                if let Some(found) = found {
                    powers[found.neighbour] = power(found.neighbour_db);
                }
                assert!(
                    (powers.iter().sum::<f64>() - 1.0).abs() < 1e-9,
                    "{velocity} over {over}"
                );
                // No layer comes or goes by more than the crossfade's steepest: half a period of a sine over it.
                let most = std::f64::consts::FRAC_PI_2 / (2.0 * reach) * 0.25 + 1e-9;
                for (now, before) in powers.iter().zip(before.unwrap_or(powers)) {
                    assert!((now - before).abs() <= most, "{velocity} over {over}");
                }
                before = Some(powers);
            }
        }
        assert_eq!(crossfade(&piece, 40.0, 0.0), None);
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
