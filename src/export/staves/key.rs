//! A short key to a page's signs: those that occur on it, each with what it says.

use std::collections::BTreeSet;

use serde::Serialize;

use super::curves::{Line, Placed};
use super::ink::{Ink, Used, short, width};
use super::{bar, beams, heads};
use crate::loopfile::Exact;
use crate::notation::{
    Approach, Clef, Drum, Event, Head, Leave, Measure, Sheet, Sign, Signature, Staff, Value, WrittenNote, WrittenPitch,
};
use crate::text::in_a_row;

/// A staff space of the key in mm.
const SPACE: f64 = 1.0;
/// Size of its letters, and the space behind each sign, in mm.
const LETTERS: f64 = 3.0;
const BETWEEN: f64 = 5.0;
/// Height of a row of it in mm.
const ROW: f64 = 7.0;

/// A sign with what it says.
#[derive(Debug, Serialize)]
pub(super) struct Entry {
    /// The drawing, its view box, its size in mm.
    svg: String,
    view: String,
    width: String,
    height: String,
    /// A mark of a table, where it is no drawing.
    mark: String,
    says: String,
    #[serde(skip)]
    wide: f64,
}

/// A sign that is looked for, and what shows it: an example is a note on the middle line, changed.
struct Known {
    says: &'static str,
    occurs: fn(&Staff, &Event) -> bool,
    example: fn(&mut Vec<Event>),
}

const KNOWN: [Known; 17] = [
    Known {
        says: "accent",
        occurs: |_, event| event.signs.contains(&Sign::Accent),
        example: |events| events[0].signs.push(Sign::Accent),
    },
    Known {
        says: "ghost note",
        occurs: |_, event| event.notes.iter().any(|note| note.ghost),
        example: |events| events[0].notes[0].ghost = true,
    },
    Known {
        says: "cut short",
        occurs: |_, event| event.signs.contains(&Sign::Staccato),
        example: |events| events[0].signs.push(Sign::Staccato),
    },
    Known {
        says: "flam: a soft stroke just before",
        occurs: |staff, event| staff.clef == Clef::Percussion && event.graces.len() == 1,
        example: |events| events[0].graces = vec![vec![note()]],
    },
    Known {
        says: "drag: two soft strokes just before",
        occurs: |staff, event| staff.clef == Clef::Percussion && event.graces.len() > 1,
        example: |events| events[0].graces = vec![vec![note()], vec![note()]],
    },
    Known {
        says: "grace note",
        occurs: |staff, event| staff.clef != Clef::Percussion && !event.graces.is_empty(),
        example: |events| events[0].graces = vec![vec![note()]],
    },
    Known {
        says: "two even strokes",
        occurs: |_, event| event.signs.iter().any(|sign| matches!(sign, Sign::Tremolo(_))),
        example: |events| events[0].signs.push(Sign::Tremolo(1)),
    },
    Known {
        says: "press roll",
        occurs: |_, event| event.signs.contains(&Sign::Buzz),
        example: |events| events[0].signs.push(Sign::Buzz),
    },
    Known {
        says: "may be left out",
        occurs: |_, event| event.signs.contains(&Sign::Maybe),
        example: |events| events[0].signs.push(Sign::Maybe),
    },
    Known {
        says: "dead note",
        occurs: |staff, event| {
            staff.clef != Clef::Percussion && event.notes.iter().any(|note| note.head == Head::Cross)
        },
        example: |events| events[0].notes[0].head = Head::Cross,
    },
    Known {
        says: "slide from the note before",
        occurs: |_, event| event.notes.iter().any(|note| note.approach == Some(Approach::Slide)),
        example: |events| {
            events.push(Event {
                at: Exact::new(1, 4),
                ..events[0].clone()
            });
            events[1].notes[0].approach = Some(Approach::Slide);
        },
    },
    Known {
        says: "scoop: comes up from below",
        occurs: |_, event| event.notes.iter().any(|note| note.approach == Some(Approach::Scoop)),
        example: |events| events[0].notes[0].approach = Some(Approach::Scoop),
    },
    Known {
        says: "fall",
        occurs: |_, event| event.notes.iter().any(|note| note.leave == Some(Leave::Fall)),
        example: |events| events[0].notes[0].leave = Some(Leave::Fall),
    },
    Known {
        says: "bend, and back",
        occurs: |_, event| {
            event
                .notes
                .iter()
                .any(|note| matches!(note.leave, Some(Leave::Bend(_))))
        },
        example: |events| events[0].notes[0].leave = Some(Leave::Bend(100)),
    },
    Known {
        says: "vibrato",
        occurs: |_, event| event.signs.contains(&Sign::Vibrato),
        example: |events| events[0].signs.push(Sign::Vibrato),
    },
    Known {
        says: "stroke down",
        occurs: |_, event| event.signs.contains(&Sign::DownStroke),
        example: |events| events[0].signs.push(Sign::DownStroke),
    },
    Known {
        says: "stroke up",
        occurs: |_, event| event.signs.contains(&Sign::UpStroke),
        example: |events| events[0].signs.push(Sign::UpStroke),
    },
];

/// What the marks of tables say.
const MARKS: [(char, &str); 10] = [
    ('x', "hit"),
    ('X', "accent"),
    ('g', "ghost note"),
    ('o', "open"),
    ('f', "flam"),
    ('d', "drag"),
    ('r', "roll"),
    ('?', "may be left out"),
    ('-', "nothing"),
    ('{', "evenly in the time of one step, or of the beat"),
];

/// The key to what stands on some staves, and how high it is in mm. What its drawings use is added.
pub(super) fn of_staves(sheet: &Sheet, staves: &[&Staff], used: &mut Used) -> Vec<Entry> {
    let events = |staff: &&Staff| -> Vec<Event> {
        let voices = staff.measures.iter().flat_map(|measure| &measure.voices);
        voices.flatten().cloned().collect()
    };
    let all: Vec<(&Staff, Vec<Event>)> = staves.iter().map(|staff| (*staff, events(staff))).collect();
    let mut entries = Vec::new();
    for known in &KNOWN {
        let occurs = |(staff, events): &(&Staff, Vec<Event>)| events.iter().any(|event| (known.occurs)(staff, event));
        if all.iter().any(occurs) {
            entries.push(drawn(known.says, known.example, used));
        }
    }
    if sheet.bars.iter().any(|bar| bar.accents().next().is_some()) {
        let example = |events: &mut Vec<Event>| {
            events[0].notes[0].head = Head::Slash;
            events[0].signs.push(Sign::Accent);
        };
        entries.push(drawn("accent of the whole band", example, used));
    }
    for head in [Head::Cross, Head::CircledCross, Head::Diamond, Head::Triangle] {
        let drums = staves.iter().filter(|staff| staff.clef == Clef::Percussion);
        let named: BTreeSet<&str> = drums
            .flat_map(|staff| &staff.drums)
            .filter(|drum| drum.head == head)
            .map(|drum| drum.name.as_str())
            .collect();
        if !named.is_empty() {
            let names: Vec<String> = named.into_iter().map(str::to_string).collect();
            entries.push(drawn(&in_a_row(&names), |events| events[0].notes[0].head = head, used));
        }
    }
    entries
}

/// The key to the marks of tables.
pub(super) fn of_marks(marks: &BTreeSet<char>) -> Vec<Entry> {
    let known = MARKS.iter().filter(|(mark, _)| marks.contains(mark));
    let entry = |(mark, says): &(char, &str)| Entry {
        svg: String::new(),
        view: String::new(),
        width: String::new(),
        height: String::new(),
        mark: if *mark == '{' { "{ }".into() } else { mark.to_string() },
        says: (*says).into(),
        wide: width(says, LETTERS) + LETTERS + BETWEEN,
    };
    known.map(entry).collect()
}

/// How high a key is, in mm.
pub(super) fn height(entries: &[Entry], page: f64) -> f64 {
    let mut rows = 0.0;
    let mut left = 0.0;
    for entry in entries {
        if entry.wide > left {
            rows += 1.0;
            left = page;
        }
        left -= entry.wide;
    }
    rows * ROW
}

fn note() -> WrittenNote {
    WrittenNote {
        // B4, on the middle line.
        pitch: WrittenPitch::Note {
            letter: 6,
            alter: 0,
            octave: 4,
        },
        head: Head::Round,
        tied: false,
        ghost: false,
        approach: None,
        leave: None,
        degree: None,
    }
}

/// An example drawn without a staff's lines.
fn drawn(says: &str, change: impl Fn(&mut Vec<Event>), used: &mut Used) -> Entry {
    let mut events = vec![Event {
        at: Exact::ZERO,
        length: Exact::new(1, 4),
        value: Value { part: 4, dots: 0 },
        tuplet: None,
        notes: vec![note()],
        graces: Vec::new(),
        beams: 0,
        signs: Vec::new(),
    }];
    change(&mut events);
    let staff = Staff {
        name: String::new(),
        short: String::new(),
        parts: vec![String::new()],
        clef: Clef::Treble,
        hand: None,
        drums: Vec::<Drum>::new(),
        measures: vec![Measure { voices: vec![events] }],
    };
    let key = Signature { fifths: 0, minor: None };
    let shapes = bar::shapes(&staff, 0, key, false);
    let columns: Vec<f64> = (0..shapes.voices[0].len()).map(|place| 3.0 * place as f64).collect();
    let mut ink = Ink::new();
    let tips = beams::draw(&mut ink, &shapes.voices[0], &columns, staff.clef);
    let placed = shapes.voices[0].iter().zip(columns.iter().zip(tips));
    let placed: Vec<Placed> = placed
        .map(|(shape, (x, tip))| Placed {
            shape: shape.clone(),
            x: *x,
            tip,
        })
        .collect();
    for one in &placed {
        heads::draw(&mut ink, one, &staff, (0.0, 0.0));
    }
    let line = Line {
        placed,
        before: None,
        edges: (f64::NEG_INFINITY, f64::INFINITY),
    };
    line.draw(&mut ink);
    used.signs.extend(&ink.used.signs);
    used.letters.extend(&ink.used.letters);
    let reach = ink.reach;
    let (wide, tall) = (reach.right - reach.left + 0.4, reach.bottom - reach.top + 0.4);
    Entry {
        svg: ink.svg,
        view: [reach.left - 0.2, reach.top - 0.2, wide, tall].map(short).join(" "),
        width: short(wide * SPACE),
        height: short(tall * SPACE),
        mark: String::new(),
        says: says.into(),
        wide: wide * SPACE + 1.0 + width(says, LETTERS) + BETWEEN,
    }
}
