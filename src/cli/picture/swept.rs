//! What sweeps move, as lines over the bars.

use crate::export::bars::Bars;
use crate::export::picture::{Piece, SweptRow};
use crate::loopfile::{Field, Form, Loop, SpaceKind, Strip, Sweep, Target};
use crate::project::Passage;

/// The settings that are swept, those of one name in one row.
pub(super) struct Swept {
    rate: f64,
    rows: Vec<SweptRow>,
    /// How a value of each row is told.
    told: Vec<fn(f64) -> String>,
}

impl Swept {
    /// None yet, of audio of a rate in Hz.
    pub(super) fn new(rate: f64) -> Swept {
        Swept {
            rate,
            rows: Vec::new(),
            told: Vec::new(),
        }
    }

    /// Adds what a loop's own sweeps move while it plays. A double moves with its part.
    pub(super) fn add(&mut self, passage: &Passage) {
        let (song, cycle) = (passage.song, &passage.cycle);
        let bar = cycle.seconds / f64::from(cycle.bars);
        let doubled = |target: Target| matches!(target, Target::Part(part) if song.parts[part].double);
        for sweep in song.sweeps.iter().filter(|sweep| !doubled(sweep.target)) {
            let row = self.row(name(sweep, song), sweep);
            for number in 0..cycle.bars * cycle.times {
                let begins = cycle.begins + f64::from(number) * bar;
                if begins > passage.begins - bar && begins < passage.ends {
                    let first = f64::from(cycle.first + number % cycle.bars);
                    let times = (passage.begins.max(begins), passage.ends.min(begins + bar));
                    let within = times.0 < times.1 - 1e-9;
                    let bars = (first + (times.0 - begins) / bar, first + (times.1 - begins) / bar);
                    let frames = (times.0 * self.rate, times.1 * self.rate);
                    self.rows[row]
                        .pieces
                        .extend(within.then(|| pieces(sweep, bars, frames)).into_iter().flatten());
                }
            }
        }
    }

    /// Adds what a form's sweeps move in its master, over all of its bars.
    pub(super) fn add_form(&mut self, form: &Form, bars: &Bars) {
        for sweep in &form.sweeps {
            let row = self.row(format!("master.{}", setting(sweep.field, &form.master, &[])), sweep);
            let ends = bars.bars.iter().skip(1).map(|bar| bar.start).chain([bars.end]);
            for (bar, end) in bars.bars.iter().zip(ends) {
                let first = f64::from(bar.number - 1);
                let pieces = pieces(sweep, (first, first + 1.0), (bar.start as f64, end as f64));
                self.rows[row].pieces.extend(pieces);
            }
        }
    }

    /// The row of a setting.
    fn row(&mut self, name: String, sweep: &Sweep) -> usize {
        let place = self.rows.iter().position(|row| row.name == name);
        let place = place.unwrap_or_else(|| {
            self.rows.push(SweptRow {
                name,
                pieces: Vec::new(),
                range: Default::default(),
                ends: Vec::new(),
            });
            self.told.push(told(sweep.field));
            self.rows.len() - 1
        });
        for stretch in &sweep.stretches {
            let told = self.told[place];
            let ends = format!("from {} to {}", told(stretch.from), told(stretch.to));
            if !self.rows[place].ends.contains(&ends) {
                self.rows[place].ends.push(ends);
            }
        }
        place
    }

    /// The rows, each with its least and greatest value.
    pub(super) fn rows(mut self) -> Vec<SweptRow> {
        for (row, told) in self.rows.iter_mut().zip(&self.told) {
            let values = || row.pieces.iter().flat_map(|piece| [piece.from.1, piece.to.1]);
            let ends = [
                values().fold(f64::INFINITY, f64::min),
                values().fold(f64::NEG_INFINITY, f64::max),
            ];
            row.range = ends.map(told);
        }
        self.rows.retain(|row| !row.pieces.is_empty());
        self.rows
    }
}

/// A sweep between two places in bars, which lie at two frames: cut where it begins, ends or begins again.
fn pieces(sweep: &Sweep, (from, to): (f64, f64), frames: (f64, f64)) -> Vec<Piece> {
    /// The most times that a sweep begins again within a bar that are drawn.
    const MOST_AGAIN: f64 = 64.0;
    let mut cuts = vec![from, to];
    for stretch in &sweep.stretches {
        cuts.extend([stretch.start, stretch.end]);
        if let Some(every) = stretch.every.filter(|every| (to - from) / every <= MOST_AGAIN) {
            let first = ((from - stretch.start) / every).floor().max(0.0);
            let again = (0..=MOST_AGAIN as u32).map(|number| stretch.start + (first + f64::from(number)) * every);
            cuts.extend(again.take_while(|cut| *cut < to.min(stretch.end)));
        }
    }
    cuts.retain(|cut| (from..=to).contains(cut));
    cuts.sort_by(f64::total_cmp);
    cuts.dedup();
    let frame = |bars: f64| frames.0 + (frames.1 - frames.0) * (bars - from) / (to - from);
    let piece = |pair: &[f64]| {
        // Just before its end: what begins again there is no part of it.
        let before = pair[1] - (pair[1] - pair[0]) * 1e-9;
        Piece {
            from: (frame(pair[0]), sweep.at(pair[0])),
            to: (frame(pair[1]), sweep.at(before)),
        }
    };
    cuts.windows(2).map(piece).collect()
}

/// What a loop's sweep moves, as it is addressed: `organ.gain`.
fn name(sweep: &Sweep, song: &Loop) -> String {
    let spaces: Vec<(&str, bool)> = song
        .spaces
        .iter()
        .map(|space| (space.name.as_str(), matches!(space.kind, SpaceKind::Delay(_))))
        .collect();
    let strip = sweep.target.strip(song);
    let own = strip.map_or("level".to_string(), |strip| setting(sweep.field, strip, &spaces));
    let whose = match sweep.target {
        Target::Part(part) => song.parts[part].name.clone(),
        Target::Bus(bus) => song.buses[bus].name.clone(),
        Target::Master => "master".into(),
        Target::Space(space) => match spaces[space] {
            (name @ ("room" | "delay"), _) => name.to_string(),
            (name, true) => format!("delays.{name}"),
            (name, false) => format!("rooms.{name}"),
        },
    };
    format!("{whose}.{own}")
}

/// A number of a strip, as it is addressed in it.
fn setting(field: Field, strip: &Strip, spaces: &[(&str, bool)]) -> String {
    let plain = match field {
        Field::LowCut => "low_cut",
        Field::HighCut => "high_cut",
        Field::Threshold => "compress.threshold",
        Field::Ratio => "compress.ratio",
        Field::Attack => "compress.attack",
        Field::Release => "compress.release",
        Field::Knee => "compress.knee",
        Field::Makeup => "compress.makeup",
        Field::Squeezed => "compress.blend",
        Field::Drive => "drive.amount",
        Field::Driven => "drive.blend",
        Field::DriveCut => "drive.high_cut",
        Field::Duck => "duck.depth",
        Field::Spread => "spread",
        Field::Width => "width",
        Field::Gain => "gain",
        Field::Pan => "pan",
        Field::Ceiling => "ceiling",
        Field::Level => "level",
        Field::BellAt(bell) => return format!("eq.{}.at", bell + 1),
        Field::BellGain(bell) => return format!("eq.{}.gain", bell + 1),
        Field::BellWidth(bell) => return format!("eq.{}.width", bell + 1),
        Field::Send(send) => {
            let to = strip.sends.get(send).and_then(|send| spaces.get(send.to));
            return match to {
                Some((name @ ("room" | "delay"), _)) => name.to_string(),
                Some((name, _)) => format!("sends.{name}"),
                None => "sends".into(),
            };
        }
    };
    plain.into()
}

/// How a moving value of a number is told: in the unit in which it is written.
fn told(field: Field) -> fn(f64) -> String {
    match field {
        Field::LowCut | Field::HighCut | Field::BellAt(_) | Field::DriveCut => {
            |value| format!("{:.0} Hz", libm::exp2(value))
        }
        Field::Ratio => |value| format!("{} to 1", short(value)),
        Field::BellWidth(_) => |value| format!("{} oct.", short(value)),
        Field::Attack | Field::Release | Field::Spread => |value| format!("{} ms", short(value * 1000.0)),
        Field::Squeezed | Field::Driven | Field::Width => |value| format!("{} %", short(value * 100.0)),
        Field::Pan => |value| short(value * 100.0),
        _ => |value| format!("{} dB", short(value)),
    }
}

/// A number with one digit behind the point at most, and the sign of less that is printed.
fn short(value: f64) -> String {
    let rounded = libm::round(value * 10.0) / 10.0;
    // No minus before nothing.
    format!("{}", rounded + 0.0).replace('-', "\u{2212}")
}
