//! What stands on a staff, cut into bars.

use std::ops::Bound::{Excluded, Included};

use super::Measure;
use super::line::{Line, Played};
use super::metre::Grouping;
use super::rhythm::voice;
use super::sounding::Sounding;
use crate::loopfile::Exact;

/// A stretch of a loop, in whole notes from its beginning: what began before it is not heard in it, and what sounds on behind
/// it ends with it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Window {
    pub from: Exact,
    pub to: Exact,
}

/// One bar of a staff: from where to where it goes within the window, and where its barline would be, in whole notes from the
/// loop's beginning.
#[derive(Debug, Clone, Copy)]
pub(super) struct BarPlace {
    pub barline: Exact,
    pub from: Exact,
    pub to: Exact,
}

/// The bar of a staff.
pub(super) fn measure(line: &Line, grouping: &Grouping, window: Window, bar: BarPlace) -> Measure {
    let voices = line.voices.iter().map(|played| {
        let begins = bar.from.max(window.from);
        let here = played.range((Included(begins), Excluded(bar.to)));
        // What began in an earlier bar is the last thing before this one: it ends where the next begins.
        let earlier = played.range((Included(window.from), Excluded(begins))).next_back();
        let earlier = earlier.filter(|(_, played)| played.end.is_some_and(|end| end > bar.from));
        let earlier = earlier.filter(|_| line.drums.is_empty());
        let all: Vec<(&Exact, &Played)> = earlier.into_iter().chain(here).collect();
        let sounding = all.iter().enumerate().map(|(number, (at, played))| {
            let next = all.get(number + 1).map(|(next, _)| **next);
            let from = (**at).max(bar.from);
            let end = match (played.end, line.drums.is_empty()) {
                (Some(end), _) => end,
                (None, true) => bar.to,
                (None, false) => bar.barline + grouping.beat(from - bar.barline).1,
            };
            let end = next.map_or(end, |next| end.min(next));
            Sounding {
                from: from - bar.barline,
                to: end.min(bar.to) - bar.barline,
                struck: &played.struck,
                before: **at < bar.from,
                on: end > bar.to && bar.to < window.to && line.drums.is_empty(),
                short: !line.drums.is_empty(),
            }
        });
        let mut sounding: Vec<Sounding> = sounding.collect();
        if !line.drums.is_empty() {
            lengthen(grouping, &mut sounding, bar.to - bar.barline);
        }
        voice(grouping, (bar.from - bar.barline, bar.to - bar.barline), &sounding)
    });
    Measure {
        voices: voices.collect(),
    }
}

/// Lets a drum's note that lies beside a tuplet's last as far as the next one begins, where a beat's end would cut it: a
/// triplet of quarters is one.
fn lengthen(grouping: &Grouping, sounding: &mut [Sounding], end: Exact) {
    for number in 0..sounding.len() {
        let next = sounding.get(number + 1).map_or(end, |next| next.from);
        let sound = &sounding[number];
        let uneven = |at: Exact| super::tuplets::odd(at) > 1;
        let beat = grouping.beat(sound.from);
        let length = beat.1 - grouping.beat_places()[beat.0 - 1];
        if sound.to == beat.1 && next > beat.1 && (uneven(sound.from) || uneven(next)) && next - sound.from < length {
            sounding[number].to = next;
        }
    }
}
