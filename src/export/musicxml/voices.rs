//! The voices of a part, bar by bar.

use std::collections::BTreeSet;

use super::accidentals::Accidentals;
use super::direction::words;
use super::duration;
use super::note::{Around, note, staff, value};
use super::xml::Xml;
use crate::loopfile::Exact;
use crate::notation::{Approach, Clef, Event, Hand, Sheet, SheetBar, Sign, Staff, WrittenPitch, drawn};

/// Writes a part's voices, and remembers what goes on from bar to bar.
pub(super) struct VoiceWriter<'a> {
    sheet: &'a Sheet,
    part: usize,
    staff: &'a Staff,
    divisions: i128,
    /// For each voice the pitches that its last event is tied on from.
    open: Vec<Vec<WrittenPitch>>,
    /// Events, by bar, voice and number, from which the next one slides; and from which it goes on in one bow.
    slides: BTreeSet<(usize, usize, usize)>,
    slurs: BTreeSet<(usize, usize, usize)>,
    /// Events that come from one of those.
    comes: BTreeSet<(usize, usize, usize)>,
}

impl<'a> VoiceWriter<'a> {
    pub(super) fn new(sheet: &'a Sheet, part: usize, divisions: i128) -> VoiceWriter<'a> {
        let staff = &sheet.staves[part];
        let mut writer = VoiceWriter {
            sheet,
            part,
            staff,
            divisions,
            open: Vec::new(),
            slides: BTreeSet::new(),
            slurs: BTreeSet::new(),
            comes: BTreeSet::new(),
        };
        let voices = staff.measures.iter().map(|measure| measure.voices.len()).max();
        (0..voices.unwrap_or(0)).for_each(|voice| writer.join(voice));
        writer.open.resize(voices.unwrap_or(1), Vec::new());
        writer
    }

    /// Finds the events of a voice that lead to the next one.
    fn join(&mut self, voice: usize) {
        let mut before: Option<(usize, usize, usize)> = None;
        for (bar, measure) in self.staff.measures.iter().enumerate() {
            if self.sheet.bars[bar].repeat_begins {
                // What is played before a repeat is not always what stands before it.
                before = None;
            }
            for (number, event) in measure.voices.get(voice).into_iter().flatten().enumerate() {
                if event.notes.is_empty() {
                    continue;
                }
                let here = (bar, voice, number);
                let slides = event.notes.iter().any(|note| note.approach == Some(Approach::Slide));
                let bound = event.signs.contains(&Sign::Legato);
                if let Some(before) = before.filter(|_| event.graces.is_empty()) {
                    if slides {
                        self.slides.insert(before);
                        self.comes.insert(here);
                    }
                    if bound {
                        self.slurs.insert(before);
                        self.comes.insert(here);
                    }
                }
                before = Some(here);
            }
        }
    }
}

/// Writes the voices of a bar. `chord` writes the chord symbols that stand between two places of the bar.
pub(super) fn part_voices(xml: &mut Xml, writer: &mut VoiceWriter, bar: usize, chord: &dyn Fn(&mut Xml, Exact, Exact)) {
    let sheet_bar = &writer.sheet.bars[bar];
    let whole = sheet_bar.length();
    let voices = &writer.staff.measures[bar].voices;
    let mut accidentals = Accidentals::bar(sheet_bar.key);
    let empty = voices.first().is_none_or(Vec::is_empty);
    if empty {
        chord(xml, Exact::ZERO, whole);
        bar_rest(xml, sheet_bar, writer);
        if let Some(open) = writer.open.first_mut() {
            open.clear();
        }
    }
    for (number, voice) in voices.iter().enumerate() {
        if voice.is_empty() {
            continue;
        }
        if number > 0 {
            back(xml, sheet_bar, writer.divisions);
        }
        let place = VoicePlace {
            bar,
            voice: number,
            stem: stem(writer.staff, number, voices.len()),
        };
        for (at, event) in voice.iter().enumerate() {
            if number == 0 {
                let next = voice.get(at + 1).map_or(whole, |next| next.at);
                chord(xml, event.at, next);
            }
            writer.event(xml, place, voice, at, &mut accidentals);
        }
    }
}

/// Goes back to a bar's beginning.
pub(super) fn back(xml: &mut Xml, bar: &SheetBar, divisions: i128) {
    xml.inside("backup", &[], |xml| {
        xml.leaf("duration", duration(bar.length(), divisions));
    });
}

/// Hands' stems go up and feet's down where a staff has both. A lead sheet's slashes have none, and its accents stand above.
fn stem(staff: &Staff, voice: usize, voices: usize) -> Option<&'static str> {
    match (staff.is_lead(), voice) {
        (true, 0) => Some("none"),
        (true, _) => Some("up"),
        (false, 0) => (staff.clef == Clef::Percussion && voices > 1).then_some("up"),
        (false, _) => (staff.clef == Clef::Percussion).then_some("down"),
    }
}

#[derive(Clone, Copy)]
struct VoicePlace {
    bar: usize,
    voice: usize,
    stem: Option<&'static str>,
}

impl VoiceWriter<'_> {
    /// The number of the staff's first voice: four are kept for each staff of a keyboard [practice].
    fn first_voice(&self) -> usize {
        if self.staff.hand == Some(Hand::Left) { 5 } else { 1 }
    }

    fn event(&mut self, xml: &mut Xml, place: VoicePlace, voice: &[Event], at: usize, accidentals: &mut Accidentals) {
        let event = &voice[at];
        if event.signs.contains(&Sign::Maybe) {
            words(xml, "ad lib.");
        }
        let here = (place.bar, place.voice, at);
        let before = at.checked_sub(1).map_or(0, |before| voice[before].beams);
        let mut around = Around {
            part: self.part,
            staff: self.staff,
            voice: self.first_voice() + place.voice,
            cue: self.staff.is_lead() && place.voice > 0,
            stem: place.stem,
            divisions: self.divisions,
            beams: (before, event.beams),
            tied_to: std::mem::take(&mut self.open[place.voice]),
            slide_starts: self.slides.contains(&here),
            slur_starts: self.slurs.contains(&here),
            comes: self.comes.contains(&here),
        };
        note(xml, event, &mut around, accidentals);
        let tied = event.notes.iter().filter(|note| note.tied);
        self.open[place.voice] = tied.map(|note| note.pitch.clone()).collect();
    }
}

/// A part's bar of rest. That of a short bar is a rest like others: a rest of the whole bar is taken for one of its metre.
fn bar_rest(xml: &mut Xml, bar: &SheetBar, writer: &VoiceWriter) {
    let drawn = bar.short.and_then(drawn);
    xml.inside("note", &[], |xml| {
        xml.empty("rest", if drawn.is_some() { &[] } else { &[("measure", "yes")] });
        xml.leaf("duration", duration(bar.length(), writer.divisions));
        xml.leaf("voice", writer.first_voice());
        if let Some(drawn) = drawn {
            value(xml, drawn);
        }
        staff(xml, writer.staff);
    });
}
