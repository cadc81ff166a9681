//! A loop or a form becomes a sheet.

use std::collections::BTreeSet;

use super::fold::{FullBar, folded};
use super::grid::on_the_grid;
use super::hands::on_two_staves;
use super::line::Line;
use super::measures::{BarPlace, Window, measure};
use super::metre::Grouping;
use super::staves::lines;
use super::{ChordSign, Measure, Sheet, SheetBar, Staff, WrittenPitch, accents, feel, spelling};
use crate::loopfile::{Ending, Exact, Form, Loop};

/// What a sheet is to show.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Asked {
    /// These bars alone, as if nothing came before or behind them.
    pub bars: Option<(u32, u32)>,
    /// Every part on one staff: keyboards too.
    pub one_staff: bool,
}

/// A loop as written music.
pub(crate) fn of_loop(song: &Loop, asked: Asked) -> Sheet {
    let mut writer = SheetWriter::new(asked, [song].into_iter());
    writer.opens(&on_the_grid(song));
    writer.bars(1, song.bars);
    writer.sheet(&song.title)
}

/// A form as written music, section by section. A pickup goes with the first bar, a last hit with the last one.
pub(crate) fn of_form(form: &Form, asked: Asked) -> Sheet {
    let songs = form.sections.iter().map(|section| &section.plays);
    let mut writer = SheetWriter::new(asked, songs);
    for (number, section) in form.sections.iter().enumerate() {
        writer.opens(&on_the_grid(&section.plays));
        let pickup = form.pickup.filter(|_| number == 0 && form.ending != Ending::Repeat);
        if let Some(length) = pickup.filter(|_| writer.takes(1)) {
            writer.pickup(section.window.1, length);
        }
        writer.section = Some(section.name.clone());
        for _ in 0..section.times {
            writer.bars(section.window.0, section.window.1);
        }
        let closes = number + 1 == form.sections.len() && form.ending != Ending::Repeat;
        if form.last_hit && closes && writer.takes(writer.number) {
            writer.last_hit(section.window.0);
        }
    }
    writer.sheet(&form.title)
}

/// Puts bars one after another.
#[derive(Default)]
struct SheetWriter {
    song: Option<Opened>,
    asked: Asked,
    /// The parts that have two staves.
    two: BTreeSet<String>,
    /// The staves of all loops so far, without their music.
    staves: Vec<Line>,
    bars: Vec<FullBar>,
    number: u32,
    /// The section that begins with the next bar.
    section: Option<String>,
    tempo: Option<(f64, Exact)>,
    feel: Option<String>,
}

/// The loop that is being written.
struct Opened {
    song: Loop,
    lines: Vec<Line>,
    /// The number of each line's staff, and of each of its drums there.
    staves: Vec<(usize, Vec<usize>)>,
    accents: Line,
    grouping: Grouping,
}

impl SheetWriter {
    fn new<'a>(asked: Asked, songs: impl Iterator<Item = &'a Loop>) -> SheetWriter {
        SheetWriter {
            asked,
            two: match asked.one_staff {
                true => BTreeSet::new(),
                false => on_two_staves(songs),
            },
            ..SheetWriter::default()
        }
    }

    fn takes(&self, number: u32) -> bool {
        self.asked
            .bars
            .is_none_or(|(first, last)| (first..=last).contains(&number))
    }

    /// Takes up a loop; staves of one name go on from loop to loop.
    fn opens(&mut self, song: &Loop) {
        let lines = lines(song, &self.two);
        let staves = lines.iter().map(|line| self.staff(line)).collect();
        let time = &song.time;
        self.song = Some(Opened {
            song: song.clone(),
            accents: accents::of(song),
            staves,
            lines,
            grouping: Grouping::of((time.counts, time.unit)),
        });
    }

    fn staff(&mut self, line: &Line) -> (usize, Vec<usize>) {
        let same = |known: &Line| {
            known.name == line.name && known.is_percussion() == line.is_percussion() && known.hand == line.hand
        };
        let number = self.staves.iter().position(same).unwrap_or_else(|| {
            self.staves.push(Line {
                hand: line.hand,
                ..Line::new(&line.name, line.kind)
            });
            self.staves.len() - 1
        });
        let staff = &mut self.staves[number];
        staff.join(line);
        (number, line.drums.iter().map(|drum| staff.drum(drum.clone())).collect())
    }

    /// Writes bars of the loop, from one to another, as if nothing came before or behind them.
    fn bars(&mut self, first: u32, last: u32) {
        let Some(opened) = &self.song else { return };
        let bar = opened.song.time.bar();
        let barline = |number: u32| bar * i128::from(number);
        let wanted: Vec<u32> = (first..=last)
            .filter(|number| self.takes(self.number + 1 + number - first))
            .collect();
        let (before, all) = (self.number, last + 1 - first);
        let (Some(&first_wanted), Some(&last_wanted)) = (wanted.first(), wanted.last()) else {
            self.number += all;
            return;
        };
        let window = Window {
            from: barline(first_wanted - 1),
            to: barline(last_wanted),
        };
        for number in wanted {
            self.number = before + 1 + number - first;
            let place = BarPlace {
                barline: barline(number - 1),
                from: barline(number - 1),
                to: barline(number),
            };
            self.write(window, place, None);
        }
        self.number = before + all;
    }

    /// Writes the end of the loop's bars up to one as a bar of its own.
    fn pickup(&mut self, last: u32, length: Exact) {
        let Some(opened) = &self.song else { return };
        let bar = opened.song.time.bar();
        let to = bar * i128::from(last);
        let from = to - length.min(to);
        // Longer pickups than a bar begin with a short bar before full ones.
        let mut barline = (from / bar).floor() * bar;
        while barline < to {
            let place = BarPlace {
                barline,
                from: from.max(barline),
                to: barline + bar,
            };
            let length = place.to - place.from;
            self.write(Window { from, to }, place, (length < bar).then_some(length));
            barline += bar;
        }
    }

    /// Writes what is struck on the one of a bar as a beat of its own.
    fn last_hit(&mut self, bar: u32) {
        let Some(opened) = &self.song else { return };
        let time = &opened.song.time;
        let barline = time.bar() * i128::from(bar - 1);
        let length = time.beat.min(time.bar());
        let place = BarPlace {
            barline,
            from: barline,
            to: barline + length,
        };
        // Nothing is struck behind the one.
        let window = Window {
            from: barline,
            to: barline + length,
        };
        self.number += 1;
        if let Some(opened) = &mut self.song {
            let lines = opened.lines.iter_mut().chain([&mut opened.accents]);
            for voice in lines.flat_map(|line| &mut line.voices) {
                voice.retain(|at, _| *at <= barline);
            }
        }
        self.write(window, place, Some(length));
    }

    fn write(&mut self, window: Window, place: BarPlace, short: Option<Exact>) {
        let Some(opened) = &self.song else { return };
        let Opened {
            song,
            lines,
            staves,
            accents,
            grouping,
        } = opened;
        let mut measures: Vec<Measure> = Vec::new();
        for (line, (staff, drums)) in lines.iter().zip(staves) {
            let mut own = measure(line, grouping, window, place);
            renumber(&mut own, drums);
            if measures.len() <= *staff {
                measures.resize(staff + 1, Measure::default());
            }
            measures[*staff] = own;
        }
        let time = &song.time;
        let key = song.tonality();
        let tempo = (time.tempo, time.beat);
        let (feel, swing) = feel::of(song);
        let told = match (&self.feel, &feel) {
            (None, None) => None,
            (before, now) if before == now => None,
            (_, now) => Some(now.clone().unwrap_or_else(|| "Straight".into())),
        };
        let bar = SheetBar {
            number: self.number,
            heard: vec![self.number],
            metre: (time.counts, time.unit),
            short,
            key: spelling::signature(key.as_ref()),
            tempo: (self.tempo != Some(tempo)).then_some(tempo),
            swing: told.is_some().then_some(swing),
            feel: told,
            section: self.section.take(),
            chords: chords(song, place),
            kicks: measure(accents, grouping, window, place).voices.swap_remove(0),
            repeat_begins: false,
            repeat_ends: None,
            ending: None,
        };
        (self.tempo, self.feel) = (Some(tempo), feel);
        self.bars.push(FullBar { bar, measures });
    }

    fn sheet(self, title: &str) -> Sheet {
        let mut bars = self.bars;
        // Staves that came up later are silent before.
        for bar in &mut bars {
            bar.measures.resize(self.staves.len(), Measure::default());
        }
        let mut bars = folded(&bars);
        leave_out_same_chords(&mut bars);
        let mut staves: Vec<(usize, Line)> = self.staves.into_iter().enumerate().collect();
        staves.sort_by_key(|(_, line)| line.place());
        let staves = staves.into_iter().map(|(number, line)| Staff {
            clef: line.clef(),
            hand: line.hand,
            short: short(&line.name),
            name: line.name,
            parts: line.parts,
            drums: line.drums,
            measures: bars
                .iter_mut()
                .map(|bar| std::mem::take(&mut bar.measures[number]))
                .collect(),
        });
        let staves = staves.collect();
        Sheet {
            title: title.into(),
            kits: Vec::new(),
            bars: bars.into_iter().map(|bar| bar.bar).collect(),
            staves,
        }
    }
}

/// Gives drums the numbers that they have on the sheet's staff.
fn renumber(measure: &mut Measure, drums: &[usize]) {
    let events = measure.voices.iter_mut().flatten();
    let notes = events.flat_map(|event| event.notes.iter_mut().chain(event.graces.iter_mut().flatten()));
    for note in notes {
        if let WrittenPitch::Drum(drum) = &mut note.pitch {
            *drum = drums[*drum];
        }
    }
}

/// The chords of a bar: the one that it begins with, be it new or not, and each change.
fn chords(song: &Loop, place: BarPlace) -> Vec<(Exact, ChordSign)> {
    let bar = song.time.bar();
    let begins = place.from / bar;
    let next = song.chords.partition_point(|change| change.at <= begins);
    let within = song.chords[next..]
        .iter()
        .take_while(|change| change.at < place.to / bar);
    let mut signs = Vec::new();
    for change in song.change_at(begins).into_iter().chain(within) {
        let at = (change.at * bar).max(place.from) - place.from;
        let sign = match &change.chord {
            Some(chord) => ChordSign {
                text: chord.symbol.clone(),
                chord: Some(chord.clone()),
            },
            None if change.silence => ChordSign {
                text: "N.C.".into(),
                chord: None,
            },
            None => continue,
        };
        signs.push((at, sign));
    }
    signs
}

/// Leaves out the chord at a bar's beginning where it goes on from the bar before, but where the eye jumps to.
fn leave_out_same_chords(bars: &mut [FullBar]) {
    let mut sounding: Option<ChordSign> = None;
    let mut jumped = true;
    for FullBar { bar, .. } in bars {
        let jumps = jumped || bar.repeat_begins || bar.ending.is_some() || bar.section.is_some();
        let last = bar.chords.last().map(|(_, sign)| sign.clone());
        if let Some((at, sign)) = bar.chords.first()
            && !jumps
            && *at == Exact::ZERO
            && Some(sign) == sounding.as_ref()
        {
            bar.chords.remove(0);
        }
        sounding = last;
        jumped = bar.repeat_ends.is_some();
    }
}

/// A name for the systems after the first: the beginnings of its words.
fn short(name: &str) -> String {
    let words: Vec<&str> = name
        .split(|letter: char| !letter.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .collect();
    let from = |word: &str, letters: usize| word.chars().take(letters).collect::<String>();
    match words[..] {
        [] => from(name, 3),
        [word] if word.chars().count() <= 4 => word.into(),
        [word] => from(word, 3) + ".",
        [first, second, ..] => from(first, 2) + "." + &from(second, 1) + ".",
    }
}
