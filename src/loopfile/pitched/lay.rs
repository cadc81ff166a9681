//! Lines laid over the bars of a loop.

use crate::loopfile::rhythm::{self, Swells};
use crate::schema::Pattern;
use crate::text::Problem;

/// Which measure of which line a bar plays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Laid {
    /// The line, by its number.
    pub line: usize,
    /// The bar is the nth of those that the line is given, counted from 0.
    pub nth: usize,
}

/// Lays lines over bars in the order of the file, a later one in place of an earlier one; none where no line names a bar.
/// Gives their swells too.
pub(super) fn lay(lines: &[Pattern], bars: u32, problems: &mut Vec<Problem>) -> (Vec<Option<Laid>>, Swells) {
    let (mut laid, mut swells) = (vec![None; bars as usize], Swells::default());
    for (line, written) in lines.iter().enumerate() {
        let given = rhythm::read_bars(&written.bars, bars, problems).unwrap_or_default();
        swells.lay(0, &given, written.swell);
        for (nth, bar) in given.into_iter().enumerate() {
            laid[bar as usize] = Some(Laid { line, nth });
        }
    }
    (laid, swells)
}

/// The numbers, from 1, of the bars that no line names.
pub(super) fn unnamed(laid: &[Option<Laid>]) -> Vec<u32> {
    let bars = laid.iter().zip(1u32..);
    bars.filter(|(laid, _)| laid.is_none()).map(|(_, bar)| bar).collect()
}
