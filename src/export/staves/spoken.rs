//! Bars in words, for those who hear a page.

use super::above::tempo_text;
use super::score::plays;
use crate::loopfile::Exact;
use crate::notation::{Approach, Event, Hand, Leave, Sheet, SheetBar, Sign, Staff, Value, WrittenNote, WrittenPitch};
use crate::text::in_a_row;

/// What a system of some staves holds, bar by bar.
pub(super) fn bars(sheet: &Sheet, staves: &[&Staff], bars: std::ops::Range<usize>) -> String {
    let heard = |staff: &&&Staff| !staff.parts.is_empty() && plays(staff, bars.clone());
    let staves: Vec<&&Staff> = staves.iter().filter(heard).collect();
    let said: Vec<String> = bars
        .clone()
        .map(|bar| {
            let mut said = about(&sheet.bars[bar]);
            for staff in &staves {
                let hand = match staff.hand {
                    Some(Hand::Right) => ", right hand",
                    Some(Hand::Left) => ", left hand",
                    None => "",
                };
                said.push_str(&format!(" {}{hand}: {}.", staff.name, measure(staff, bar)));
            }
            said
        })
        .collect();
    said.join("\n")
}

/// The bars of a system by their numbers.
pub(super) fn numbers(sheet: &Sheet, bars: std::ops::Range<usize>) -> String {
    let (first, last) = (sheet.bars[bars.start].number, sheet.bars[bars.end - 1].number);
    match first == last {
        true => format!("Bar {first}"),
        false => format!("Bars {first} to {last}"),
    }
}

fn about(bar: &SheetBar) -> String {
    let mut said = match (bar.number, bar.heard.as_slice()) {
        (0, _) => "Pickup".to_string(),
        (number, [_, also @ ..]) if !also.is_empty() => {
            let also: Vec<String> = also.iter().map(u32::to_string).collect();
            format!("Bar {number}, also played as bar {}", in_a_row(&also))
        }
        (number, _) => format!("Bar {number}"),
    };
    if let Some(section) = &bar.section {
        said.push_str(&format!(", {section} begins"));
    }
    if bar.repeat_begins {
        said.push_str(", repeat begins");
    }
    if let Some(times) = &bar.ending {
        let times: Vec<String> = times.iter().map(u32::to_string).collect();
        said.push_str(&format!(", ending {}", in_a_row(&times)));
    }
    if let Some(times) = bar.repeat_ends {
        said.push_str(&format!(", repeat ends, played {times} times"));
    }
    if let Some((bpm, unit)) = bar.tempo {
        said.push_str(&format!(
            ", {}",
            tempo_text(bpm, unit).replace('♩', "quarter").replace('♪', "eighth")
        ));
    }
    if let Some(feel) = &bar.feel {
        said.push_str(&format!(", {feel}"));
    }
    said.push(':');
    let chords: Vec<String> = bar
        .chords
        .iter()
        .map(|(at, sign)| match count(bar, *at) {
            count if count == "1" => sign.text.clone(),
            count => format!("{} on {count}", sign.text),
        })
        .collect();
    if !chords.is_empty() {
        said.push_str(&format!(" {}.", chords.join(", ")));
    }
    let kicks: Vec<String> = bar.accents().map(|event| count(bar, event.at)).collect();
    if !kicks.is_empty() {
        said.push_str(&format!(" Accents of the whole band on {}.", in_a_row(&kicks)));
    }
    said
}

/// A time as a count: 1 at the bar's beginning, "2 and a half" between two counts.
fn count(bar: &SheetBar, at: Exact) -> String {
    let counts = at * Exact::from_integer(i128::from(bar.metre.1));
    let (whole, part) = (counts.trunc(), counts.fract());
    let whole = whole.numer() + 1;
    match (*part.numer(), *part.denom()) {
        (0, _) => whole.to_string(),
        (1, 2) => format!("{whole} and a half"),
        (part, of) => format!("{whole} and {part}/{of}"),
    }
}

fn measure(staff: &Staff, bar: usize) -> String {
    let voices = &staff.measures[bar].voices;
    let played = |events: &Vec<Event>| events.iter().any(|event| !event.notes.is_empty());
    let said: Vec<String> = voices
        .iter()
        .filter(|events| played(events))
        .map(|events| {
            let events: Vec<String> = events.iter().map(|event| spoken(staff, event)).collect();
            events.join(", ")
        })
        .collect();
    match said.is_empty() {
        true => "rest".to_string(),
        false => said.join("; below: "),
    }
}

fn spoken(staff: &Staff, event: &Event) -> String {
    let mut value = value_name(event.value);
    if let Some(tuplet) = event.tuplet {
        value.push_str(&format!(" of {} in the time of {}", tuplet.notes, tuplet.time_of));
    }
    if event.notes.is_empty() {
        return format!("{value} rest");
    }
    let notes: Vec<String> = event.notes.iter().map(|note| note_name(staff, note)).collect();
    let mut said = format!("{} {value}", notes.join(" and "));
    let signs = event.signs.iter().filter_map(|sign| sign_name(*sign));
    signs.for_each(|name| said.push_str(&format!(" {name}")));
    match event.graces.len() {
        0 => {}
        1 => said.push_str(" after a grace note"),
        count => said.push_str(&format!(" after {count} grace notes")),
    }
    said
}

fn note_name(staff: &Staff, note: &WrittenNote) -> String {
    let mut name = match &note.pitch {
        WrittenPitch::Note { letter, alter, octave } => {
            let letter = char::from(b"CDEFGAB"[usize::from(*letter).min(6)]);
            let alter = match alter {
                ..=-2 => " double flat ",
                -1 => " flat ",
                0 => "",
                1 => " sharp ",
                2.. => " double sharp ",
            };
            format!("{letter}{alter}{octave}")
        }
        WrittenPitch::Drum(place) => staff.drums.get(*place).map_or("drum", |drum| &drum.name).to_string(),
    };
    if note.ghost {
        name.insert_str(0, "ghost ");
    }
    match note.approach {
        Some(Approach::Slide) => name.push_str(" by a slide"),
        Some(Approach::Scoop) => name.push_str(" by a scoop"),
        None => {}
    }
    match note.leave {
        Some(Leave::Fall) => name.push_str(" falling off"),
        Some(Leave::Bend(_)) => name.push_str(" bent"),
        None => {}
    }
    if note.tied {
        name.push_str(" tied");
    }
    name
}

fn value_name(value: Value) -> String {
    let name = match value.part {
        0 => "double whole".to_string(),
        1 => "whole".to_string(),
        2 => "half".to_string(),
        4 => "quarter".to_string(),
        8 => "eighth".to_string(),
        16 => "sixteenth".to_string(),
        32 => "32nd".to_string(),
        part => format!("{part}th"),
    };
    match value.dots {
        0 => name,
        1 => format!("dotted {name}"),
        _ => format!("double dotted {name}"),
    }
}

fn sign_name(sign: Sign) -> Option<&'static str> {
    Some(match sign {
        Sign::Accent => "accented",
        Sign::Staccato => "short",
        Sign::Tremolo(_) => "rolled",
        Sign::Buzz => "as a buzz roll",
        Sign::Vibrato => "with vibrato",
        Sign::DownStroke => "down",
        Sign::UpStroke => "up",
        Sign::Maybe => "if you like",
        Sign::Legato => "slurred to it",
    })
}
