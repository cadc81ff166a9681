//! One event: its notes, or a rest, with all that belongs to them.

use super::accidentals::Accidentals;
use super::xml::Xml;
use super::{duration, parts};
use crate::notation::{Approach, Clef, Event, Hand, Head, Leave, Sign, Staff, Value, WrittenNote, WrittenPitch};

const LETTERS: [&str; 7] = ["C", "D", "E", "F", "G", "A", "B"];

/// What an event's notes depend on beside themselves.
pub(super) struct Around<'a> {
    pub part: usize,
    pub staff: &'a Staff,
    /// From 1.
    pub voice: usize,
    /// True for small notes that say how others play; the rests between them are hidden.
    pub cue: bool,
    pub stem: Option<&'static str>,
    pub divisions: i128,
    /// Beams to the event before, and to the one behind.
    pub beams: (u8, u8),
    /// The pitches that are tied to this event.
    pub tied_to: Vec<WrittenPitch>,
    /// The next event slides from this one, or is bound to it.
    pub slide_starts: bool,
    pub slur_starts: bool,
    /// This one slides from, or is bound to, the event before.
    pub comes: bool,
}

/// Writes an event.
pub(super) fn note(xml: &mut Xml, event: &Event, around: &mut Around, accidentals: &mut Accidentals) {
    for (number, grace) in event.graces.iter().enumerate() {
        for (nth, head) in grace.iter().enumerate() {
            grace_note(xml, head, event, (number, nth), around, accidentals);
        }
    }
    if event.notes.is_empty() {
        let hidden = [("print-object", "no")];
        xml.inside("note", if around.cue { &hidden } else { &[] }, |xml| {
            xml.empty("rest", &[]);
            xml.leaf("duration", duration(event.length, around.divisions));
            xml.leaf("voice", around.voice);
            value(xml, event.value);
            time_modification(xml, event);
            staff(xml, around.staff);
            notations(xml, |xml| tuplet(xml, event));
        });
        return;
    }
    for (nth, head) in event.notes.iter().enumerate() {
        let tied_to = around.tied_to.contains(&head.pitch);
        xml.inside("note", &[], |xml| {
            if around.cue {
                xml.empty("cue", &[]);
            }
            if nth > 0 {
                xml.empty("chord", &[]);
            }
            pitch(xml, &head.pitch, around.staff);
            xml.leaf("duration", duration(event.length, around.divisions));
            for (there, kind) in [(tied_to, "stop"), (head.tied, "start")] {
                if there {
                    xml.empty("tie", &[("type", kind)]);
                }
            }
            instrument(xml, &head.pitch, around);
            xml.leaf("voice", around.voice);
            value(xml, event.value);
            if let Some(accidental) = accidentals.of(&head.pitch, tied_to) {
                xml.leaf("accidental", accidental);
            }
            time_modification(xml, event);
            if let Some(stem) = around.stem {
                xml.leaf("stem", stem);
            }
            notehead(xml, head);
            staff(xml, around.staff);
            if nth == 0 {
                beams(xml, event, around.beams);
            }
            notations(xml, |xml| {
                for (there, kind) in [(tied_to, "stop"), (head.tied, "start")] {
                    if there {
                        xml.empty("tied", &[("type", kind)]);
                    }
                }
                if nth == 0 {
                    slurs(xml, event, around);
                    tuplet(xml, event);
                }
                if event.graces.is_empty() {
                    slides(xml, head, nth, around);
                } else if head.approach == Some(Approach::Slide) && nth == 0 {
                    slide(xml, "stop");
                }
                signs(xml, event, head, nth);
            });
        });
    }
}

fn grace_note(
    xml: &mut Xml,
    head: &WrittenNote,
    event: &Event,
    (number, nth): (usize, usize),
    around: &Around,
    accidentals: &mut Accidentals,
) {
    let many = event.graces.len() > 1;
    let last = number + 1 == event.graces.len();
    xml.inside("note", &[], |xml| {
        // One alone is struck through; more are beamed.
        xml.empty("grace", if many { &[] } else { &[("slash", "yes")] });
        if nth > 0 {
            xml.empty("chord", &[]);
        }
        pitch(xml, &head.pitch, around.staff);
        instrument(xml, &head.pitch, around);
        xml.leaf("voice", around.voice);
        xml.leaf("type", if many { "16th" } else { "eighth" });
        if let Some(accidental) = accidentals.of(&head.pitch, false) {
            xml.leaf("accidental", accidental);
        }
        if let Some(stem) = around.stem {
            xml.leaf("stem", stem);
        }
        notehead(xml, head);
        staff(xml, around.staff);
        if many && nth == 0 {
            let kind = match number {
                0 => "begin",
                _ if last => "end",
                _ => "continue",
            };
            xml.leaf_with("beam", &[("number", "1")], kind);
            xml.leaf_with("beam", &[("number", "2")], kind);
        }
        notations(xml, |xml| {
            if nth == 0 && number == 0 {
                xml.empty("slur", &[("number", "2"), ("type", "start")]);
            }
            let slides = event.notes.iter().any(|note| note.approach == Some(Approach::Slide));
            if nth == 0 && last && slides {
                slide(xml, "start");
            }
        });
    });
}

fn pitch(xml: &mut Xml, pitch: &WrittenPitch, staff: &Staff) {
    match *pitch {
        WrittenPitch::Note { letter, alter, octave } => xml.inside("pitch", &[], |xml| {
            xml.leaf("step", LETTERS[usize::from(letter) % 7]);
            if alter != 0 {
                xml.leaf("alter", alter);
            }
            xml.leaf("octave", octave);
        }),
        WrittenPitch::Drum(drum) => xml.inside("unpitched", &[], |xml| {
            let step = staff.drums[drum].step;
            xml.leaf("display-step", LETTERS[step.rem_euclid(7) as usize]);
            xml.leaf("display-octave", step.div_euclid(7));
        }),
    }
}

fn instrument(xml: &mut Xml, pitch: &WrittenPitch, around: &Around) {
    if let (WrittenPitch::Drum(drum), Clef::Percussion) = (pitch, around.staff.clef) {
        xml.empty("instrument", &[("id", &parts::instrument(around.part, *drum))]);
    }
}

/// Which of a keyboard's two staves it is.
pub(super) fn staff(xml: &mut Xml, staff: &Staff) {
    match staff.hand {
        Some(Hand::Right) => xml.leaf("staff", 1),
        Some(Hand::Left) => xml.leaf("staff", 2),
        None => {}
    }
}

/// Type and dots.
pub(super) fn value(xml: &mut Xml, value: Value) {
    xml.leaf("type", kind(value.part));
    for _ in 0..value.dots {
        xml.empty("dot", &[]);
    }
}

/// What a value of so many to a whole note is called.
fn kind(part: u32) -> &'static str {
    match part {
        0 => "breve",
        1 => "whole",
        2 => "half",
        4 => "quarter",
        8 => "eighth",
        16 => "16th",
        32 => "32nd",
        64 => "64th",
        128 => "128th",
        256 => "256th",
        512 => "512th",
        _ => "1024th",
    }
}

fn time_modification(xml: &mut Xml, event: &Event) {
    if let Some(tuplet) = event.tuplet {
        xml.inside("time-modification", &[], |xml| {
            xml.leaf("actual-notes", tuplet.notes);
            xml.leaf("normal-notes", tuplet.time_of);
            xml.leaf("normal-type", kind(tuplet.part));
        });
    }
}

fn tuplet(xml: &mut Xml, event: &Event) {
    let Some(tuplet) = event.tuplet else { return };
    if tuplet.begins {
        let attributes = [("number", "1"), ("type", "start"), ("bracket", "yes")];
        xml.inside("tuplet", &attributes, |xml| {
            for (name, number) in [("tuplet-actual", tuplet.notes), ("tuplet-normal", tuplet.time_of)] {
                xml.inside(name, &[], |xml| {
                    xml.leaf("tuplet-number", number);
                    xml.leaf("tuplet-type", kind(tuplet.part));
                });
            }
        });
    }
    if tuplet.ends {
        xml.empty("tuplet", &[("number", "1"), ("type", "stop")]);
    }
}

fn notehead(xml: &mut Xml, note: &WrittenNote) {
    let head = match note.head {
        Head::Round => "normal",
        Head::Cross => "x",
        Head::CircledCross => "circle-x",
        Head::Diamond => "diamond",
        Head::Triangle => "triangle",
        Head::Slash => "slash",
    };
    if note.ghost {
        xml.leaf_with("notehead", &[("parentheses", "yes")], head);
    } else if note.head == Head::Slash {
        // Slashes that count beats are black, however long a beat is.
        xml.leaf_with("notehead", &[("filled", "yes")], head);
    } else if note.head != Head::Round {
        xml.leaf("notehead", head);
    }
}

/// The beams of an event that is joined to the one before by some, and to the one behind by others.
fn beams(xml: &mut Xml, event: &Event, (before, behind): (u8, u8)) {
    if before == 0 && behind == 0 {
        return;
    }
    let flags = event.value.part.max(4).ilog2() as u8 - 2;
    for level in 1..=flags.min(8) {
        let kind = match (level <= before, level <= behind) {
            (true, true) => "continue",
            (false, true) => "begin",
            (true, false) => "end",
            (false, false) if before == 0 => "forward hook",
            (false, false) => "backward hook",
        };
        xml.leaf_with("beam", &[("number", &level.to_string())], kind);
    }
}

fn slide(xml: &mut Xml, kind: &str) {
    xml.empty("slide", &[("line-type", "solid"), ("number", "1"), ("type", kind)]);
}

fn slides(xml: &mut Xml, head: &WrittenNote, nth: usize, around: &Around) {
    if nth != 0 {
        return;
    }
    if around.comes && head.approach == Some(Approach::Slide) {
        slide(xml, "stop");
    }
    if around.slide_starts {
        slide(xml, "start");
    }
}

fn slurs(xml: &mut Xml, event: &Event, around: &Around) {
    if !event.graces.is_empty() {
        xml.empty("slur", &[("number", "2"), ("type", "stop")]);
    }
    if around.comes && event.signs.contains(&Sign::Legato) {
        xml.empty("slur", &[("number", "1"), ("type", "stop")]);
    }
    if around.slur_starts {
        xml.empty("slur", &[("number", "1"), ("type", "start")]);
    }
}

/// Writes notations, where there are any.
fn notations(xml: &mut Xml, write: impl FnOnce(&mut Xml)) {
    xml.inside_if_any("notations", write);
}

fn signs(xml: &mut Xml, event: &Event, head: &WrittenNote, nth: usize) {
    let signs: &[Sign] = if nth == 0 { &event.signs } else { &[] };
    xml.inside_if_any("ornaments", |xml| {
        for sign in signs {
            match sign {
                Sign::Tremolo(strokes) => xml.leaf_with("tremolo", &[("type", "single")], strokes),
                Sign::Buzz => xml.leaf_with("tremolo", &[("type", "unmeasured")], 0),
                Sign::Vibrato => {
                    xml.empty("wavy-line", &[("number", "1"), ("type", "start")]);
                    xml.empty("wavy-line", &[("number", "1"), ("type", "stop")]);
                }
                _ => {}
            }
        }
    });
    xml.inside_if_any("technical", |xml| {
        for sign in signs {
            match sign {
                Sign::DownStroke => xml.empty("down-bow", &[]),
                Sign::UpStroke => xml.empty("up-bow", &[]),
                _ => {}
            }
        }
        if let Some(Leave::Bend(cents)) = head.leave {
            xml.inside("bend", &[], |xml| {
                xml.leaf("bend-alter", f64::from(cents) / 100.0);
            });
        }
    });
    xml.inside_if_any("articulations", |xml| {
        for sign in signs {
            match sign {
                // The band's accents stand over the slashes.
                Sign::Accent if head.head == Head::Slash => xml.empty("accent", &[("placement", "above")]),
                Sign::Accent => xml.empty("accent", &[]),
                Sign::Staccato => xml.empty("staccato", &[]),
                _ => {}
            }
        }
        if head.approach == Some(Approach::Scoop) {
            xml.empty("scoop", &[]);
        }
        if head.leave == Some(Leave::Fall) {
            xml.empty("falloff", &[]);
        }
    });
}
