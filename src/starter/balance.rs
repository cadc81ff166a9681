//! Gains by measured loudness.

use std::path::Path;

use super::set::{Chosen, Set};
use crate::project::Project;
use crate::render::Order;
use crate::text::Problems;

/// No part is brought up by more than this, in dB: what is quieter was recorded so for a reason, or is hardly there.
const MOST: f64 = 6.0;

/// A part of a first loop with its level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Level {
    /// Its gain in dB, in tenths.
    pub gain: f64,
    /// Its loudness with that gain, rendered alone, in LUFS; none for silence.
    pub lufs: Option<f64>,
}

impl Level {
    /// Left alone, and not measured.
    pub const UNTOUCHED: Level = Level { gain: 0.0, lufs: None };
}

/// The levels of a first loop's parts: each is rendered alone, and brought to where its role has it.
///
/// # Errors
/// Whatever keeps the loop from being rendered.
pub fn balanced(path: &Path, text: &str, set: &Set) -> Result<Vec<Level>, Problems> {
    let alone = |one: &Chosen| -> Result<Option<f64>, Problems> {
        let options = Project::options(path).text(text);
        Ok(options.only([&one.part]).open()?.render(&Order::default())?.lufs)
    };
    let measured = set.chosen.iter().map(alone).collect::<Result<Vec<_>, _>>()?;
    let under: Vec<f64> = set.chosen.iter().map(|one| one.role.under).collect();
    let gains = gains(&measured, &under);
    let levels = measured.iter().zip(gains);
    Ok(levels
        .map(|(lufs, gain)| Level {
            gain,
            lufs: lufs.map(|lufs| lufs + gain),
        })
        .collect())
}

/// The gains, in tenths of a dB, that bring parts of measured loudness to the same one, but for what each lies under it. The last part
/// that sounds stays as it is, unless another would have to be brought up by too much.
fn gains(measured: &[Option<f64>], under: &[f64]) -> Vec<f64> {
    let lacks: Vec<Option<f64>> = measured
        .iter()
        .zip(under)
        .map(|(lufs, under)| Some(-under - (*lufs)?))
        .collect();
    let last = lacks.iter().flatten().last().copied().unwrap_or(0.0);
    let most = lacks.iter().flatten().copied().fold(last, f64::max);
    let shift = last.max(most - MOST);
    let tenths = |gain: f64| libm::round(10.0 * gain) / 10.0;
    lacks
        .iter()
        .map(|lack| lack.map_or(0.0, |lack| tenths(lack - shift)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_kick_stays_and_hats_lie_under_it() {
        assert_eq!(
            gains(&[Some(-30.0), Some(-18.04), Some(-20.0)], &[8.0, 0.0, 0.0]),
            [2.0, -2.0, 0.0]
        );
        assert_eq!(gains(&[None, Some(-20.0)], &[8.0, 0.0]), [0.0, 0.0]);
        assert_eq!(gains(&[Some(-50.0), Some(-20.0)], &[0.0, 0.0]), [6.0, -24.0]);
    }

    proptest! {
        #[test]
        fn parts_meet_within_a_tenth(measured in prop::collection::vec(-60.0f64..0.0, 1..5), under in prop::collection::vec(0.0f64..10.0, 5)) {
            let some: Vec<Option<f64>> = measured.iter().copied().map(Some).collect();
            let gains = gains(&some, &under);
            let levels: Vec<f64> = (0..measured.len()).map(|at| measured[at] + gains[at] + under[at]).collect();
            for pair in levels.windows(2) {
                prop_assert!((pair[0] - pair[1]).abs() < 0.101);
            }
            prop_assert!(gains.iter().all(|gain| *gain <= MOST));
        }
    }
}
