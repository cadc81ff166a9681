//! Places and lengths become note values, dots, ties, rests, tuplets and beams.

use super::metre::Grouping;
use super::tuplets::{Region, regions};
use super::{Event, Sign, Value, WrittenNote};
use crate::loopfile::Exact;

/// What is played at one place of a voice, before it has a value.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Struck {
    /// Its notes.
    pub notes: Vec<WrittenNote>,
    /// The grace notes before it.
    pub graces: Vec<Vec<WrittenNote>>,
    /// Signs above it.
    pub signs: Vec<Sign>,
}

/// Something that sounds in a bar, from where to where, in whole notes from the barline.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sounding<'a> {
    pub from: Exact,
    pub to: Exact,
    pub struck: &'a Struck,
    /// True where it began in an earlier bar.
    pub before: bool,
    /// True where it goes on in the next bar.
    pub on: bool,
    /// True where it is written only as far as it goes without a tie: drums.
    pub short: bool,
}

/// The value of a length; none where it takes a tie.
pub(super) fn value(length: Exact) -> Option<Value> {
    let plain = |length: Exact, dots| match (*length.numer(), *length.denom()) {
        (1, part) if part > 0 && (part & (part - 1)) == 0 => u32::try_from(part).ok().map(|part| Value { part, dots }),
        (2, 1) => Some(Value { part: 0, dots }),
        _ => None,
    };
    plain(length, 0).or_else(|| plain(length * Exact::new(2, 3), 1))
}

/// Flags that a note of a value has: one for an eighth.
fn flags(value: Value) -> u8 {
    value.part.max(4).ilog2() as u8 - 2
}

/// The events of a voice from one place of a bar to another; none where nothing sounds. What sounds does not overlap and
/// is in the order of time.
pub(super) fn voice(grouping: &Grouping, (from, to): (Exact, Exact), sounding: &[Sounding]) -> Vec<Event> {
    if sounding.is_empty() {
        return Vec::new();
    }
    let mut writer = VoiceWriter {
        grouping,
        regions: regions(grouping, sounding),
        events: Vec::new(),
    };
    let mut now = from;
    for sound in sounding {
        writer.rest(now, sound.from);
        now = writer.sound(sound);
    }
    writer.rest(now, to);
    writer.bracket();
    writer.beam();
    let mut events: Vec<Event> = writer.events.into_iter().map(|(event, _)| event).collect();
    events.iter_mut().for_each(|event| event.at -= from);
    events
}

struct VoiceWriter<'a> {
    grouping: &'a Grouping,
    regions: Vec<Region>,
    /// Each with the number of its tuplet's region.
    events: Vec<(Event, Option<usize>)>,
}

impl VoiceWriter<'_> {
    fn rest(&mut self, from: Exact, to: Exact) {
        for (from, to, region) in self.stretches(from, to) {
            for event in self.cut(from, to, region, true) {
                self.events.push((event, region));
            }
        }
    }

    /// Writes what sounds, and gives where it ends.
    fn sound(&mut self, sound: &Sounding) -> Exact {
        let mut pieces = Vec::new();
        for (from, to, region) in self.stretches(sound.from, sound.to) {
            let cut = self.cut(from, to, region, false);
            pieces.extend(cut.into_iter().map(|event| (event, region)));
        }
        if sound.short {
            pieces.truncate(1);
        }
        let last = pieces.len().saturating_sub(1);
        for (nth, (mut event, region)) in pieces.into_iter().enumerate() {
            let begins = nth == 0 && !sound.before;
            event.notes.clone_from(&sound.struck.notes);
            for note in &mut event.notes {
                note.tied = nth < last || sound.on;
                if !begins {
                    note.approach = None;
                }
                if note.tied {
                    note.leave = None;
                }
            }
            if begins {
                event.graces.clone_from(&sound.struck.graces);
                event.signs.clone_from(&sound.struck.signs);
            }
            self.events.push((event, region));
        }
        self.events
            .last()
            .map_or(sound.to, |(event, _)| event.at + event.length)
    }

    /// A stretch, parted where tuplets begin and end.
    fn stretches(&self, from: Exact, to: Exact) -> Vec<(Exact, Exact, Option<usize>)> {
        let mut parts = Vec::new();
        let mut now = from;
        while now < to {
            let inside = self
                .regions
                .iter()
                .position(|region| region.from <= now && now < region.to);
            let next = self.regions.iter().map(|region| region.from).filter(|edge| *edge > now);
            let end = match inside {
                Some(region) => self.regions[region].to,
                None => next.min().unwrap_or(to),
            };
            parts.push((now, end.min(to), inside));
            now = end;
        }
        parts
    }

    fn cut(&self, from: Exact, to: Exact, region: Option<usize>, rest: bool) -> Vec<Event> {
        let event = |at, length, drawn| Event {
            at,
            length,
            value: value(drawn).unwrap_or(Value { part: 1024, dots: 0 }),
            tuplet: None,
            notes: Vec::new(),
            graces: Vec::new(),
            beams: 0,
            signs: Vec::new(),
        };
        match region.map(|region| &self.regions[region]) {
            None => {
                let pieces = self.grouping.cut(from, to, rest).into_iter();
                pieces.map(|(from, to)| event(from, to - from, to - from)).collect()
            }
            Some(region) => {
                let grouping = Grouping::of_tuplet(region.notes, region.unit());
                let stretch = region.stretch();
                let drawn = |at: Exact| (at - region.from) * stretch;
                let pieces = grouping.cut(drawn(from), drawn(to), rest).into_iter();
                let piece =
                    |(from, to): (Exact, Exact)| event(region.from + from / stretch, (to - from) / stretch, to - from);
                pieces.map(piece).collect()
            }
        }
    }

    /// Gives each event of a tuplet its bracket.
    fn bracket(&mut self) {
        for (number, region) in self.regions.iter().enumerate() {
            let mut inside: Vec<&mut Event> = self
                .events
                .iter_mut()
                .filter(|(_, of)| *of == Some(number))
                .map(|(event, _)| event)
                .collect();
            let finest = inside.iter().map(|event| event.value.part).max().unwrap_or(0);
            let tuplet = region.bracket(finest);
            let last = inside.len().saturating_sub(1);
            for (nth, event) in inside.iter_mut().enumerate() {
                event.tuplet = Some(super::Tuplet {
                    begins: nth == 0,
                    ends: nth == last,
                    ..tuplet
                });
            }
        }
    }

    /// Joins the notes of a beat, or of a tuplet, with beams.
    fn beam(&mut self) {
        let group = |(event, region): &(Event, Option<usize>)| {
            let beat = self.grouping.beat(event.at).0;
            (*region, if region.is_some() { 0 } else { beat })
        };
        let joined = |pair: &[(Event, Option<usize>)]| {
            let [one, other] = pair else { return 0 };
            let sound = !one.0.notes.is_empty() && !other.0.notes.is_empty();
            match sound && group(one) == group(other) {
                true => flags(one.0.value).min(flags(other.0.value)),
                false => 0,
            }
        };
        let beams: Vec<u8> = self.events.windows(2).map(joined).collect();
        for ((event, _), beams) in self.events.iter_mut().zip(beams) {
            event.beams = beams;
        }
    }
}
