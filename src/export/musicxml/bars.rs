//! A part's measures, and what stands in them for all parts: metre, key, tempo, sections, repeats.

use super::direction::direction;
use super::harmony::harmony;
use super::parts;
use super::voices::{VoiceWriter, back, part_voices};
use super::xml::{Attributes, Xml};
use crate::loopfile::{Exact, Swing};
use crate::notation::{Clef, Hand, Sheet, SheetBar, Staff};

/// Writes a part, of both hands where it begins with a right one's staff; the first part has what all share.
pub(super) fn part(xml: &mut Xml, sheet: &Sheet, number: usize, divisions: i128) {
    let staff = &sheet.staves[number];
    let left = sheet.staves.get(number + 1).filter(|_| staff.hand == Some(Hand::Right));
    xml.inside("part", &[("id", &parts::id(number))], |xml| {
        let mut writer = VoiceWriter::new(sheet, number, divisions);
        let mut left = left.map(|_| VoiceWriter::new(sheet, number + 1, divisions));
        for (place, bar) in sheet.bars.iter().enumerate() {
            let name = match (bar.short, bar.number) {
                (Some(_), number) if number > 0 => format!("X{number}"),
                (_, number) => number.to_string(),
            };
            let mut attributes = vec![("number", name.as_str())];
            if bar.short.is_some() {
                attributes.push(("implicit", "yes"));
            }
            xml.inside("measure", &attributes, |xml| {
                begins(xml, sheet, staff, place, divisions);
                if number == 0 {
                    directions(xml, bar);
                }
                let chords = if number == 0 { &bar.chords[..] } else { &[] };
                let chord = |xml: &mut Xml, from: Exact, to: Exact| {
                    for (at, sign) in chords.iter().filter(|(at, _)| from <= *at && *at < to) {
                        harmony(xml, sign, *at - from, divisions);
                    }
                };
                part_voices(xml, &mut writer, place, &chord);
                if let Some(left) = &mut left {
                    back(xml, bar, divisions);
                    part_voices(xml, left, place, &|_, _, _| {});
                }
                ends(xml, sheet, place);
            });
        }
    });
}

/// The attributes that are new in a bar, behind its left barline.
fn begins(xml: &mut Xml, sheet: &Sheet, staff: &Staff, place: usize, divisions: i128) {
    let bar = &sheet.bars[place];
    let before = place.checked_sub(1).map(|before| &sheet.bars[before]);
    let opens = bar.ending.is_some() && before.is_none_or(|before| before.ending != bar.ending);
    if bar.repeat_begins || opens {
        xml.inside("barline", &[("location", "left")], |xml| {
            if bar.repeat_begins {
                xml.leaf("bar-style", "heavy-light");
            }
            if opens {
                let numbers = numbers(bar);
                xml.empty("ending", &[("number", &numbers), ("type", "start")]);
            }
            if bar.repeat_begins {
                xml.empty("repeat", &[("direction", "forward")]);
            }
        });
    }
    let key = before.is_none_or(|before| before.key != bar.key);
    let time = before.is_none_or(|before| before.metre != bar.metre);
    if !key && !time {
        return;
    }
    xml.inside("attributes", &[], |xml| {
        if before.is_none() {
            xml.leaf("divisions", divisions);
        }
        if key {
            xml.inside("key", &[], |xml| {
                let pitched = staff.clef != Clef::Percussion;
                xml.leaf("fifths", if pitched { bar.key.fifths } else { 0 });
                if let Some(minor) = bar.key.minor.filter(|_| pitched) {
                    xml.leaf("mode", if minor { "minor" } else { "major" });
                }
            });
        }
        if time {
            xml.inside("time", &[], |xml| {
                xml.leaf("beats", bar.metre.0);
                xml.leaf("beat-type", bar.metre.1);
            });
        }
        if before.is_none() {
            match staff.hand {
                None => clef(xml, staff.clef, &[]),
                Some(_) => {
                    xml.leaf("staves", 2);
                    clef(xml, Clef::Treble, &[("number", "1")]);
                    clef(xml, Clef::Bass, &[("number", "2")]);
                }
            }
        }
    });
}

fn clef(xml: &mut Xml, clef: Clef, attributes: Attributes) {
    let (sign, line, lower) = match clef {
        Clef::Treble => ("G", "2", false),
        Clef::TrebleDown => ("G", "2", true),
        Clef::Bass => ("F", "4", false),
        Clef::BassDown => ("F", "4", true),
        Clef::Percussion => ("percussion", "", false),
    };
    xml.inside("clef", attributes, |xml| {
        xml.leaf("sign", sign);
        if !line.is_empty() {
            xml.leaf("line", line);
        }
        if lower {
            xml.leaf("clef-octave-change", "-1");
        }
    });
}

/// Section, tempo and feel.
fn directions(xml: &mut Xml, bar: &SheetBar) {
    if let Some(section) = &bar.section {
        direction(xml, |xml| xml.leaf("rehearsal", section));
    }
    tempo_and_feel(xml, bar);
    if let Some(times) = times(bar).filter(|times| *times > 2) {
        direction(xml, |xml| xml.leaf("words", format!("{times} times")));
    }
}

/// Tempo and feel stand side by side.
fn tempo_and_feel(xml: &mut Xml, bar: &SheetBar) {
    if bar.tempo.is_none() && bar.feel.is_none() {
        return;
    }
    xml.inside("direction", &[("placement", "above")], |xml| {
        if let Some((tempo, beat)) = bar.tempo {
            xml.inside("direction-type", &[], |xml| match beat_unit(beat) {
                Some((unit, dotted)) => xml.inside("metronome", &[], |xml| {
                    xml.leaf("beat-unit", unit);
                    if dotted {
                        xml.empty("beat-unit-dot", &[]);
                    }
                    xml.leaf("per-minute", tempo);
                }),
                None => xml.leaf("words", format!("{beat} = {tempo}")),
            });
        }
        if let Some(feel) = &bar.feel {
            xml.inside("direction-type", &[], |xml| xml.leaf("words", feel));
        }
        let quarters = |(tempo, beat): (f64, Exact)| tempo * *beat.numer() as f64 * 4.0 / *beat.denom() as f64;
        let tempo = bar.tempo.map(quarters).map(rounded);
        let attributes: Vec<(&str, &str)> = tempo.iter().map(|tempo| ("tempo", tempo.as_str())).collect();
        match &bar.swing {
            Some(figures) if figures_fit(figures) => xml.inside("sound", &attributes, |xml| swing(xml, figures)),
            _ if !attributes.is_empty() => xml.empty("sound", &attributes),
            _ => {}
        }
    });
}

/// How often a repeat that begins with a bar is played.
fn times(bar: &SheetBar) -> Option<usize> {
    bar.repeat_begins.then_some(bar.heard.len())
}

fn beat_unit(beat: Exact) -> Option<(&'static str, bool)> {
    let unit = |part: i128| match part {
        1 => Some("whole"),
        2 => Some("half"),
        4 => Some("quarter"),
        8 => Some("eighth"),
        16 => Some("16th"),
        32 => Some("32nd"),
        _ => None,
    };
    match *beat.numer() {
        1 => Some((unit(*beat.denom())?, false)),
        3 => Some((unit(*beat.denom() / 2)?, true)),
        _ => None,
    }
}

/// True for swing that the format knows: of eighths and of sixteenths.
fn figures_fit(swing: &Swing) -> bool {
    matches!((*swing.of.numer(), *swing.of.denom()), (1, 8 | 16))
}

fn swing(xml: &mut Xml, swing: &Swing) {
    let (first, all) = (*swing.share.numer(), *swing.share.denom());
    xml.inside("swing", &[], |xml| {
        if first * 2 == all {
            return xml.empty("straight", &[]);
        }
        xml.leaf("first", first);
        xml.leaf("second", all - first);
        xml.leaf("swing-type", if *swing.of.denom() == 8 { "eighth" } else { "16th" });
    });
}

/// The right barline: ends of endings, of repeats, of sections, of the whole.
fn ends(xml: &mut Xml, sheet: &Sheet, place: usize) {
    let bar = &sheet.bars[place];
    let next = sheet.bars.get(place + 1);
    let closes = bar.ending.is_some() && next.is_none_or(|next| next.ending != bar.ending);
    let section = next.is_some_and(|next| next.section.is_some());
    let style = match next {
        _ if bar.repeat_ends.is_some() => Some("light-heavy"),
        None => Some("light-heavy"),
        Some(next) if section && !next.repeat_begins => Some("light-light"),
        _ => None,
    };
    if style.is_none() && !closes {
        return;
    }
    xml.inside("barline", &[("location", "right")], |xml| {
        if let Some(style) = style {
            xml.leaf("bar-style", style);
        }
        if closes {
            let numbers = numbers(bar);
            let kind = if bar.repeat_ends.is_some() {
                "stop"
            } else {
                "discontinue"
            };
            xml.empty("ending", &[("number", &numbers), ("type", kind)]);
        }
        if let Some(times) = bar.repeat_ends {
            let times = times.to_string();
            // Twice is what a repeat sign means.
            let mut attributes = vec![("direction", "backward")];
            if times != "2" {
                attributes.push(("times", &times));
            }
            xml.empty("repeat", &attributes);
        }
    });
}

fn numbers(bar: &SheetBar) -> String {
    let times = bar.ending.iter().flatten().map(u32::to_string);
    times.collect::<Vec<_>>().join(",")
}

fn rounded(number: f64) -> String {
    (libm::round(number * 1000.0) / 1000.0).to_string()
}
