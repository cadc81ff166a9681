//! How syncopated the drums of a loop are.
//!
//! After H. C. Longuet-Higgins and C. S. Lee, "The rhythmic interpretation of monophonic music", Music Perception 1(4), 1984
//! [memory]: where a note N is followed by a rest or a tie R that has more metrical weight than N, the two are a syncopation, and
//! R's weight less N's is its strength. M. A. G. Witek, E. F. Clarke, M. Wallentin, M. L. Kringelbach and P. Vuust, "Syncopation,
//! body-movement and pleasure in groove music", PLoS ONE 9(4), e94446, 2014 [memory] take it to drums: what other drums strike at R
//! adds to it. Kick and snare are two streams here. Taken of the paper, as far as it is remembered:
//!
//! - weights: 0 for the bar, -1 for its half, and one less for each halving;
//! - 5 is added where neither kick nor snare strikes at R, 2 for a kick against the snare, 1 for a snare against the kick. That
//!   silence counts as a hat alone does is our own.
//!
//! Our own, too: strokes on a beat are not counted, since a backbeat states the metre of the music that this is for; nor are ghost
//! notes, which are texture; and the sum is taken for a bar, so that loops of any length compare. N and R of one weight begin bars
//! both, and move nothing.

use std::collections::BTreeSet;
use std::ops::Range;

use super::strokes_between;
use crate::kit::kind;
use crate::loopfile::{Ending, Exact, Loop, Part, Stroke, Time};

/// Pieces of each stream, by how their names begin.
const STREAMS: [&[&str]; 2] = [&["kick"], &["snare", "side-stick", "rim", "clap"]];
/// What is added where the other stream strikes at R, by the stream of N.
const AGAINST: [i32; 2] = [2, 1];
/// What is added where neither does.
const ALONE: i32 = 5;
/// Of so many strokes one may lie off the sixteenths, and is left out.
const OFF: usize = 10;

/// The strengths of all syncopations of kick and snare in some bars, counted from 0, added up. The bar after the last is the
/// first of them where the loop repeats.
///
/// None where the measure does not apply: metres that don't halve down to sixteenths, strokes that mostly lie on another grid, no
/// kick and no snare.
pub(crate) fn syncopation(song: &Loop, bars: Range<u32>) -> Option<u32> {
    let metre = Metre::of(&song.time)?;
    let streams = streams(song, &metre, &bars)?;
    let length = u64::from(bars.end - bars.start) * metre.steps;
    let strikes = |stream: usize, at: u64| streams[stream].contains(&(at % length));
    let strength = |stream: usize, at: u64| {
        let next = metre.heavier_after(at)?;
        let ends = next >= length && song.ending != Ending::Repeat;
        if ends || (at + 1..=next).any(|place| strikes(stream, place)) {
            return None;
        }
        let against = if strikes(1 - stream, next) {
            AGAINST[stream]
        } else {
            ALONE
        };
        u32::try_from(metre.weight(next) - metre.weight(at) + against).ok()
    };
    let all = (0..2).flat_map(|stream| streams[stream].iter().filter_map(move |at| strength(stream, *at)));
    Some(all.sum())
}

/// Where each stream strikes, in sixteenths from the first bar.
fn streams(song: &Loop, metre: &Metre, bars: &Range<u32>) -> Option<[BTreeSet<u64>; 2]> {
    let (from, to) = (
        Exact::from_integer(bars.start.into()),
        Exact::from_integer(bars.end.into()),
    );
    let mut streams = [BTreeSet::new(), BTreeSet::new()];
    let (mut on, mut off) = (0, 0);
    for (part, _) in song.parts.iter().zip(song.heard().parts).filter(|(_, heard)| *heard) {
        for stroke in strokes_between(part, from, to) {
            let Some(stream) = stream(part, stroke) else {
                continue;
            };
            let at = (stroke.at - from) * i128::from(metre.steps);
            match u64::try_from(at.to_integer()) {
                Ok(step) if at.is_integer() => {
                    streams[stream].insert(step);
                    on += 1;
                }
                _ => off += 1,
            }
        }
    }
    (on > off * (OFF - 1)).then_some(streams)
}

/// The stream that a stroke belongs to; none for notes, ghost notes and other pieces.
fn stream(part: &Part, stroke: &Stroke) -> Option<usize> {
    if stroke.pitch.is_some() || stroke.mark == 'g' {
        return None;
    }
    let piece = kind(&part.pieces[stroke.piece].piece).0;
    STREAMS.iter().position(|names| names.contains(&piece))
}

/// A bar that halves down to sixteenths.
struct Metre {
    /// Sixteenths in a bar.
    steps: u64,
    /// Sixteenths in a beat.
    beat: u64,
}

impl Metre {
    fn of(time: &Time) -> Option<Metre> {
        let halves = time.counts.is_power_of_two() && matches!(time.unit, 2 | 4);
        let beat = 16 / u64::from(time.unit);
        halves.then(|| Metre {
            steps: beat * u64::from(time.counts),
            beat,
        })
    }

    /// 0 for the beginning of a bar, one less for each halving that it takes to come to a place.
    fn weight(&self, at: u64) -> i32 {
        match at % self.steps {
            0 => 0,
            place => place.trailing_zeros() as i32 - self.steps.trailing_zeros() as i32,
        }
    }

    /// The first place behind one between beats that has more weight.
    fn heavier_after(&self, at: u64) -> Option<u64> {
        let between = !at.is_multiple_of(self.beat);
        between.then(|| at + (1 << at.trailing_zeros()))
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::loopfile::{Changes, Draft, read_text};

    /// The syncopation of bars of tablature.
    fn of(metre: &str, bars: u32, lines: &str) -> Option<u32> {
        let text = format!(
            "[loop]\nkit = \"k\"\ntempo = 96\nbars = {bars}\nmetre = \"{metre}\"\n[tab]\n\"1-{bars}\" = \"\"\"\n{lines}\n\"\"\"\n"
        );
        let draft = read_text(Path::new("loop.toml"), text, &Changes::default()).expect("a loop");
        let Draft::Loop(draft) = draft else {
            panic!("it is a loop");
        };
        syncopation(&draft.resolve(&Default::default()), 0..bars)
    }

    #[test]
    fn patterns_worked_by_hand() {
        for (lines, strength) in [
            // What states the metre.
            ("kick x--- ---- x--- ----\nsnare ---- x--- ---- x---", 0),
            ("kick x--- x--- x--- x---\nhat-closed x-xx x-xx x-xx x-xx", 0),
            // A kick on the "and" of 2, -3, without one on 3, -1: 2, and 5 where no snare is there either, or 2 where one is.
            ("kick x--- --x- ---- ----", 7),
            ("kick x--- --x- ---- ----\nsnare ---- ---- x--- ----", 4),
            // With a kick on 3 it leads there.
            ("kick x--- --x- x--- ----", 0),
            // A snare on the "and" of 3, -3, against the kick on 4, -2: 1 and 1.
            ("kick ---- ---- ---- x---\nsnare ---- ---- --x- ----", 2),
            // The last sixteenth, -4, before a bar, 0, that the kick leaves to nobody: 4 and 5.
            ("kick ---- x--- ---- ---x", 9),
            // One sixteenth on the "e" of 1, -4, before the "and", -3: 1 and 5; a second one there leads to 2, -2, which is empty: 1 and 5.
            ("kick xx-- ---- ---- ----", 6),
            ("kick xxx- ---- ---- ----", 6),
            // Ghost notes and toms are none of it.
            (
                "kick x--- ---- ---- ----\nsnare -g-g ---- ---- -g-g\ntom-low ---x ---x ---- ----",
                0,
            ),
        ] {
            assert_eq!(of("4/4", 1, lines), Some(strength), "{lines}");
        }
    }

    #[test]
    fn bars_add_up_and_a_loop_is_a_circle() {
        // On the "and" of 4, -3, before the bar, 0: 3 and 5; at the end of the loop its first bar comes again, with a kick.
        let line = "kick ---- ---- ---- --x- | x--- ---- ---- ----";
        assert_eq!(of("4/4", 2, line), Some(0));
        assert_eq!(of("4/4", 2, "kick x--- ---- ---- ---- | ---- ---- ---- --x-"), Some(0));
        assert_eq!(of("4/4", 2, "kick ---- x--- ---- ---- | ---- ---- ---- --x-"), Some(8));
        // In 2/4 the half of a bar is a quarter: the "and" of 1 weighs -2, beat 2 -1.
        assert_eq!(of("2/4", 1, "kick x-x- ----"), Some(6));
    }

    #[test]
    fn where_it_does_not_apply_there_is_none() {
        assert_eq!(of("3/4", 1, "kick x--- --x- ----"), None);
        assert_eq!(of("6/8", 1, "kick x-- --x"), None);
        assert_eq!(of("5/4", 1, "kick x--- ---- ---- ---- --x-"), None);
        assert_eq!(of("4/4", 1, "kick x-x x-x x-x x-x"), None, "triplets");
        assert_eq!(
            of("4/4", 1, "hat-closed x-x- x-x- x-x- x-x-"),
            None,
            "neither kick nor snare"
        );
        // One stroke of many off the grid is left out.
        let line = "kick xxxx xxxx xxxx ----\nsnare ---- x--- ---- {xx}---";
        assert!(of("4/4", 1, line).is_some());
    }
}
