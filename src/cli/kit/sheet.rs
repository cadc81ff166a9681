//! The kit as pictures.

use super::groups::{Group, Line};
use super::problems::RecordingProblem;
use super::report::{OfPiece, Report};
use super::shot::Shot;
use crate::export::picture::{OneShot, OneShots};
use crate::kit::Kit;
use crate::kit::audio::pitch::note_name;
use crate::kit::find::{brightness, chain};
use crate::kit::findings::distance::distance;
use crate::measure::SPECTRUM_RANGE;

/// More on one page is more than a screen or a printer takes.
pub(crate) const MOST: usize = 2000;

/// So many one-shots are compared with each other for their order.
const COMPARED: usize = 250;

/// How many one-shots there are to draw: one that is in two pieces is drawn twice.
pub(super) fn drawn(kit: &Kit) -> usize {
    let layers = kit.index().listed().iter().flat_map(|piece| &piece.layers);
    layers.map(|layer| layer.zones.len()).sum()
}

/// On how many pages a kit is drawn.
pub(super) fn pages(kit: &Kit) -> usize {
    drawn(kit).div_ceil(MOST).max(1)
}

/// A piece's name with some of its one-shots.
type Run<'a> = (&'a str, Vec<&'a Shot>);

impl Report<'_> {
    /// Hands on the pages one after another. Their one-shots are in the order in which they are drawn: groups as on the page for people,
    /// pieces of a kind together, and what sounds alike beside one another.
    ///
    /// # Errors
    /// What `each` fails by.
    pub(super) fn each_sheet<E>(&self, mut each: impl FnMut(OneShots) -> Result<(), E>) -> Result<(), E> {
        let pieces = self.pieces();
        let runs = Group::ALL.iter().flat_map(|group| self.runs(*group, &pieces));
        let pages = paged(runs);
        let about = vec![
            format!("{} pieces", pieces.len()),
            format!("{} files", self.shots.len()),
            "each as long and as high as its frame, its spectrum 60 dB deep with lines at 100, 1000 and 10,000 Hz"
                .into(),
        ];
        for (number, runs) in pages.iter().enumerate() {
            let runs = runs.iter().map(|(piece, shots)| {
                let shots = shots.iter().map(|shot| self.drawn(shot));
                (piece.to_string(), shots.collect())
            });
            each(OneShots {
                title: match pages.len() {
                    1 => self.title(),
                    count => format!("{}, page {} of {count}", self.title(), number + 1),
                },
                about: about.clone(),
                range: SPECTRUM_RANGE,
                pieces: runs.collect(),
            })?;
        }
        Ok(())
    }

    /// The one-shots of a group in the order of the sheet.
    fn runs<'a>(&self, group: Group, pieces: &'a [OfPiece<'a>]) -> Vec<Run<'a>> {
        let mut lines = self.lines(group, pieces, false);
        if group == Group::Unknown && lines.len() > 1 && drawn(self.kit) > super::groups::ROOM {
            lines = vec![Line(lines.into_iter().flat_map(|line| line.0).collect())];
        }
        lines.iter().flat_map(|line| near(line)).collect()
    }

    fn drawn(&self, shot: &Shot) -> OneShot {
        let found = shot.found.as_ref().ok();
        let drawn = found.and_then(|found| found.drawn.as_ref());
        let mut about = Vec::new();
        if let Some(found) = found {
            about.push(format!("{:.2} s", found.facts.seconds));
            about.extend(found.facts.peak_db.map(|peak| format!("{peak:.1} dBFS")));
            about.extend(self.root(shot).0.map(note_name));
        }
        OneShot {
            name: self.file(shot),
            about: about.join(" · ").replace('-', "\u{2212}"),
            odd: shot
                .odd
                .iter()
                .map(RecordingProblem::short)
                .collect::<Vec<_>>()
                .join(", "),
            wave: drawn.map_or_else(|| vec![(0.0, 0.0)], |drawn| drawn.wave.clone()),
            spectrum: drawn.map_or_else(Vec::new, |drawn| drawn.spectrum.clone()),
        }
    }
}

/// The one-shots of a line, those that sound alike beside one another, as runs of one piece each.
fn near<'a>(line: &Line<'a>) -> Vec<Run<'a>> {
    let pieces = line.0.iter();
    let mut shots: Vec<Run> = pieces
        .flat_map(|of| of.shots.iter().map(|shot| (of.piece.name.as_str(), vec![*shot])))
        .collect();
    // Of many only those that are about as bright are compared, each with each.
    if shots.len() > COMPARED {
        let bright = |(_, shots): &Run| shots[0].like().map_or(0.0, brightness);
        let mut order: Vec<(f64, Run)> = shots.into_iter().map(|run| (bright(&run), run)).collect();
        order.sort_by(|a, b| a.0.total_cmp(&b.0));
        shots = order.into_iter().map(|(_, run)| run).collect();
    }
    let order = shots.chunks(COMPARED).flat_map(|part| {
        let order = chain(part.len(), |a, b| apart(part[a].1[0], part[b].1[0]));
        order.into_iter().map(|at| part[at].clone())
    });
    let mut runs: Vec<Run> = Vec::new();
    for (piece, shots) in order {
        match runs.last_mut() {
            Some((last, run)) if *last == piece => run.extend(shots),
            _ => runs.push((piece, shots)),
        }
    }
    runs
}

/// How far two one-shots sound apart. What can't be read or is silent is far from all else.
fn apart(one: &Shot, other: &Shot) -> f64 {
    match (one.like(), other.like()) {
        (Some(one), Some(other)) => distance(one, other),
        _ => f64::MAX,
    }
}

/// Runs on pages of as many one-shots as one holds.
fn paged<'a>(runs: impl Iterator<Item = Run<'a>>) -> Vec<Vec<Run<'a>>> {
    let mut pages: Vec<Vec<Run>> = Vec::new();
    let mut room = 0;
    for (piece, shots) in runs {
        let mut rest = shots.as_slice();
        while !rest.is_empty() {
            if room == 0 {
                pages.push(Vec::new());
                room = MOST;
            }
            let (now, later) = rest.split_at(rest.len().min(room));
            pages
                .last_mut()
                .into_iter()
                .for_each(|page| page.push((piece, now.to_vec())));
            room -= now.len();
            rest = later;
        }
    }
    pages
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::Problem;

    #[test]
    fn pages_hold_their_most_and_a_piece_goes_on_over_the_edge() {
        let shot = Shot {
            take: 0,
            path: "kick.wav".into(),
            right: None,
            found: Err(Problem::new("")),
            odd: Vec::new(),
        };
        let runs = [("kick", 1500), ("snare", 2500), ("clap", 1), ("ride", 0)];
        let pages = paged(runs.into_iter().map(|(piece, count)| (piece, vec![&shot; count])));
        let lengths: Vec<Vec<(&str, usize)>> = pages
            .iter()
            .map(|page| page.iter().map(|(piece, shots)| (*piece, shots.len())).collect())
            .collect();
        assert_eq!(
            lengths,
            [
                vec![("kick", 1500), ("snare", 500)],
                vec![("snare", 2000)],
                vec![("clap", 1)]
            ]
        );
    }
}
