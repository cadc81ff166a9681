//! Playing like a drummer: a recording's mean timing and touch of each sixteenth, laid on the strokes.

use crate::loopfile::{Exact, GrooveTemplate, Playing, Time, swung};

/// How far a stroke of a piece goes the way of the drummer: in bars, and in velocities.
///
/// On a sixteenth that the drummer plays, all the way means their mean place, which is in place of the loop's swing and
/// not on top of it. Between two sixteenths a stroke goes as their neighbours do, by its distance to each; a sixteenth
/// that nobody plays stays where it is.
pub(super) fn way(at: Exact, piece: &str, playing: &Playing, time: &Time) -> (f64, f64) {
    let Some((likeness, amount)) = &playing.like else {
        return (0.0, 0.0);
    };
    let bar = at.floor();
    let place = (at - bar) * likeness.sixteenths;
    let below = place.floor();
    let above = (below + 1).min(likeness.sixteenths);
    let share = float((place - below) / (above - below));
    let way = |sixteenth| of_sixteenth(sixteenth, piece, likeness, playing, time);
    let (near, far) = (way(below), if share > 0.0 { way(above) } else { (0.0, 0.0) });
    let between = |near: f64, far: f64| (near + (far - near) * share) * amount;
    (between(near.0, far.0), between(near.1, far.1))
}

/// The way of one sixteenth, counted from the barline; past the last one is the next bar's first.
fn of_sixteenth(
    sixteenth: Exact,
    piece: &str,
    likeness: &GrooveTemplate,
    playing: &Playing,
    time: &Time,
) -> (f64, f64) {
    let wraps = sixteenth == likeness.sixteenths;
    let sixteenth = if wraps { Exact::ZERO } else { sixteenth };
    match likeness.habit(piece, sixteenth.to_integer() as usize) {
        Some(habit) => {
            let here = swung(sixteenth / likeness.sixteenths, &playing.swing, time);
            (habit.at - float(here), habit.velocity)
        }
        None => (0.0, 0.0),
    }
}

fn float(exact: Exact) -> f64 {
    *exact.numer() as f64 / *exact.denom() as f64
}
