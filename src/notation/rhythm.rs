//! Places and lengths become note values, dots, ties, rests, tuplets and beams.

use super::metre::Grouping;
use super::sounding::Sounding;
use super::tuplets::{Region, parted, regions};
use super::value::{drawn, flags};
use super::{Event, Value};
use crate::loopfile::Exact;

/// The events of a voice from one place of a bar to another; none where nothing sounds. What sounds does not overlap and
/// is in the order of time.
pub(super) fn voice(grouping: &Grouping, (from, to): (Exact, Exact), sounding: &[Sounding]) -> Vec<Event> {
    if sounding.is_empty() {
        return Vec::new();
    }
    let mut writer = VoiceWriter {
        grouping,
        regions: regions(grouping, (from, to), sounding),
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
        let rests = self.cut(from, to, true);
        self.events.extend(rests);
    }

    /// Writes what sounds, and gives where it ends.
    fn sound(&mut self, sound: &Sounding) -> Exact {
        let mut pieces = self.cut(sound.from, sound.to, false);
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

    /// A stretch as events without notes, each with the number of its tuplet's region.
    fn cut(&self, from: Exact, to: Exact, rest: bool) -> Vec<(Event, Option<usize>)> {
        let mut events = Vec::new();
        for (from, to, region) in parted(&self.regions, from, to) {
            let (pieces, stretch) = match region.map(|region| &self.regions[region]) {
                None => (self.grouping.cut(from, to, rest), Exact::ONE),
                Some(region) => (region.cut(from, to, rest), region.stretch()),
            };
            let event = |(from, to): (Exact, Exact)| Event {
                at: from,
                length: to - from,
                value: drawn((to - from) * stretch).unwrap_or(Value { part: 1024, dots: 0 }),
                tuplet: None,
                notes: Vec::new(),
                graces: Vec::new(),
                beams: 0,
                signs: Vec::new(),
            };
            events.extend(pieces.into_iter().map(|piece| (event(piece), region)));
        }
        events
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
        // A tuplet within a beat is joined to what else the beat has; a longer one is a group of its own.
        let group = |(event, region): &(Event, Option<usize>)| {
            let beat = self.grouping.beat(event.at).0;
            let long = |region: &usize| {
                let region = &self.regions[*region];
                self.grouping.beat(region.from).1 < region.to
            };
            match region.filter(long) {
                Some(region) => (true, region),
                None => (false, beat),
            }
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

#[cfg(test)]
mod tests {
    use super::super::sounding::Struck;
    use super::super::{Head, WrittenNote, WrittenPitch};
    use super::*;
    use proptest::prelude::*;

    fn struck() -> Struck {
        Struck {
            notes: vec![WrittenNote {
                pitch: WrittenPitch::Drum(0),
                head: Head::Round,
                tied: false,
                ghost: false,
                approach: None,
                leave: None,
                degree: None,
            }],
            ..Struck::default()
        }
    }

    /// Events of a bar in which notes go from place to place, in shares of so many to a whole note.
    fn events(metre: (u32, u32), of: i128, notes: &[(i128, i128)], drums: bool) -> Vec<Event> {
        let struck = struck();
        let sounding = notes.iter().map(|(from, to)| Sounding {
            from: Exact::new(*from, of),
            to: Exact::new(*to, of),
            struck: &struck,
            before: false,
            on: false,
            short: drums,
        });
        let grouping = Grouping::of(metre);
        let sounding: Vec<Sounding> = sounding.collect();
        voice(&grouping, (Exact::ZERO, grouping.length()), &sounding)
    }

    /// A voice in short: values, `.` for a dot, `r` for a rest, `~` for a tie, `-` for each beam to the next, `[3` and `]`
    /// around a tuplet.
    fn short(events: &[Event]) -> String {
        let mut words = Vec::new();
        for event in events {
            let mut word = String::new();
            if let Some(tuplet) = event.tuplet.filter(|tuplet| tuplet.begins) {
                word += &format!("[{}:{} ", tuplet.notes, tuplet.time_of);
            }
            if event.notes.is_empty() {
                word.push('r');
            }
            word += &event.value.part.to_string();
            word += &".".repeat(event.value.dots.into());
            if event.notes.iter().any(|note| note.tied) {
                word.push('~');
            }
            word += &"-".repeat(event.beams.into());
            if event.tuplet.is_some_and(|tuplet| tuplet.ends) {
                word.push(']');
            }
            words.push(word);
        }
        words.join(" ")
    }

    #[test]
    fn beams_join_the_notes_of_a_beat() {
        let eighths: Vec<(i128, i128)> = (0..8).map(|at| (at, at + 1)).collect();
        assert_eq!(short(&events((4, 4), 8, &eighths, false)), "8- 8 8- 8 8- 8 8- 8");
        assert_eq!(short(&events((6, 8), 8, &eighths[..6], false)), "8- 8- 8 8- 8- 8");
        assert_eq!(short(&events((7, 8), 8, &eighths[..7], false)), "8- 8 8- 8 8- 8- 8");
        let mixed = [(0, 3), (3, 4), (4, 6), (6, 7), (7, 8), (8, 16)];
        assert_eq!(short(&events((4, 4), 16, &mixed, false)), "8.- 16 8- 16-- 16 2");
        assert_eq!(
            short(&events((4, 4), 16, &[(2, 4), (6, 10)], false)),
            "r8 8 r8 8~ 8 r8 r4"
        );
    }

    #[test]
    fn tuplets_fill_what_they_are_read_in() {
        // Triplets of a beat, of half a bar, of a sixteenth; six over halved triplets; five; seven over a bar.
        let triplet = [(0, 1), (1, 2), (2, 3), (3, 12)];
        assert_eq!(short(&events((4, 4), 12, &triplet, false)), "[3:2 8- 8- 8] 2.");
        let quarters = [(0, 1), (1, 2), (2, 3), (3, 6)];
        assert_eq!(short(&events((4, 4), 6, &quarters, false)), "[3:2 4 4 4] 2");
        let fast = [(0, 1), (1, 2), (2, 3), (3, 6), (6, 12)];
        assert_eq!(short(&events((1, 4), 48, &fast, false)), "[3:2 32--- 32--- 32--] 16- 8");
        let halved = [(0, 1), (1, 2), (2, 4), (4, 6)];
        assert_eq!(short(&events((1, 4), 24, &halved, false)), "[6:4 16-- 16- 8- 8]");
        let five = [(0, 1), (1, 3), (3, 5)];
        assert_eq!(short(&events((1, 4), 20, &five, false)), "[5:4 16- 8- 8]");
        let seven: Vec<(i128, i128)> = (0..7).map(|at| (at, at + 1)).collect();
        assert_eq!(short(&events((4, 4), 7, &seven, false)), "[7:4 4 4 4 4 4 4 4]");
        // What leads over a triplet's end is tied; a drum's note ends with it.
        let leading = [(0, 1), (1, 2), (2, 6), (6, 24)];
        assert_eq!(short(&events((4, 4), 24, &leading, false)), "[3:2 16-- 16-- 16~-] 8 2.");
        assert_eq!(
            short(&events((4, 4), 24, &leading[..3], true)),
            "[3:2 16-- 16-- 16] r8 r4 r2"
        );
        // Two in the time of three need none.
        assert_eq!(
            short(&events((6, 8), 16, &[(0, 3), (3, 6), (6, 12)], false)),
            "8.- 8. 4."
        );
    }

    /// One note alone, or behind another that fills the bar up to it.
    fn alone(metre: (u32, u32), of: i128, (from, to): (i128, i128), behind: bool) -> String {
        let before = Some((0, from)).filter(|_| behind);
        let notes: Vec<(i128, i128)> = before.into_iter().chain([(from, to)]).collect();
        let events = events(metre, of, &notes, false);
        short(&events).replace('-', "")
    }

    #[test]
    fn a_note_that_leads_over_the_end_of_a_tuplet_has_few_ties_and_shows_the_beats() {
        assert_eq!(alone((4, 4), 12, (1, 12), false), "[3:2 r8 4~] 2.");
        assert_eq!(alone((4, 4), 12, (7, 12), true), "2~ [3:2 8 16~] 4.");
        assert_eq!(alone((4, 4), 12, (5, 12), false), "r4 r8 [3:2 r16 8~] 2");
        assert_eq!(alone((4, 4), 12, (1, 11), false), "[3:2 r8 4~] 2~ [3:2 4 r8]");
        assert_eq!(alone((4, 4), 24, (14, 24), true), "2~ [3:2 8 16~] 4.");
        assert_eq!(alone((6, 8), 24, (1, 18), false), "[3:2 r16 8~] 4~ 4.");
    }

    /// Parts of a tuplet's region or of the bar, where a pair of tied events is in one of them.
    fn one_will_do(grouping: &Grouping, regions: &[Region], pair: &[Event]) -> bool {
        let (from, to) = (pair[0].at, pair[1].at + pair[1].length);
        let [(.., region)] = parted(regions, from, to)[..] else {
            return false;
        };
        match region.map(|region| &regions[region]) {
            None => grouping.note_fits(from, to) && drawn(to - from).is_some(),
            Some(region) => {
                let written = |at: Exact| (at - region.from) * region.stretch();
                let inside = Grouping::of_tuplet(region.notes, region.unit());
                inside.note_fits(written(from), written(to)) && drawn(written(to) - written(from)).is_some()
            }
        }
    }

    proptest! {
        #[test]
        fn no_tie_stands_where_a_dot_will_do(
            metre in prop::sample::select(vec![(4u32, 4u32), (3, 4), (2, 4), (6, 8), (7, 8), (5, 4), (12, 8), (2, 2), (5, 16)]),
            of in prop::sample::select(vec![16i128, 12, 24, 20, 40, 28, 48, 72]),
            places in prop::collection::btree_set(0i128..96, 1..8),
            lengths in prop::collection::vec(1i128..64, 8),
        ) {
            let grouping = Grouping::of(metre);
            let last = (grouping.length() * of).floor().to_integer();
            let places: Vec<i128> = places.into_iter().filter(|at| *at < last).collect();
            prop_assume!(!places.is_empty());
            let notes: Vec<(i128, i128)> = places.iter().zip(&lengths).enumerate().map(|(number, (at, length))| {
                (*at, (at + length).min(places.get(number + 1).copied().unwrap_or(last)))
            }).collect();
            let struck = struck();
            let sounding: Vec<Sounding> = notes.iter().map(|(from, to)| Sounding {
                from: Exact::new(*from, of), to: Exact::new(*to, of), struck: &struck, before: false, on: false, short: false,
            }).collect();
            let bar = (Exact::ZERO, grouping.length());
            let regions = regions(&grouping, bar, &sounding);
            let events = voice(&grouping, bar, &sounding);
            prop_assert_eq!(events.iter().map(|event| event.length).sum::<Exact>(), grouping.length());
            for pair in events.windows(2).filter(|pair| pair[0].notes.iter().any(|note| note.tied)) {
                prop_assert!(!one_will_do(&grouping, &regions, pair), "{:?}: {}", notes, short(&events));
            }
        }

        #[test]
        fn a_voice_is_full_and_begins_where_it_should(
            metre in prop::sample::select(vec![(4u32, 4u32), (3, 4), (6, 8), (7, 8), (5, 4), (12, 8), (2, 2), (5, 16)]),
            of in prop::sample::select(vec![8i128, 16, 12, 24, 20, 28, 32, 48]),
            places in prop::collection::btree_set(0i128..64, 1..12),
            lengths in prop::collection::vec(1i128..9, 12),
            drums: bool,
        ) {
            let grouping = Grouping::of(metre);
            let end = grouping.length();
            let places: Vec<i128> = places.into_iter().filter(|at| Exact::new(*at, of) < end).collect();
            prop_assume!(!places.is_empty());
            let last = (end * of).floor().to_integer();
            let notes: Vec<(i128, i128)> = places.iter().enumerate().map(|(number, at)| {
                let next = places.get(number + 1).copied().unwrap_or(last.max(at + 1));
                (*at, (at + lengths[number]).min(next))
            }).filter(|(from, to)| from < to && Exact::new(*to, of) <= end).collect();
            prop_assume!(!notes.is_empty());
            let events = events(metre, of, &notes, drums);
            let mut now = Exact::ZERO;
            for event in &events {
                prop_assert_eq!(event.at, now);
                now += event.length;
                let stretch = event.tuplet.map_or(Exact::ONE, |tuplet| Exact::new(tuplet.notes.into(), tuplet.time_of.into()));
                prop_assert_eq!(drawn(event.length * stretch), Some(event.value), "{:?}", event);
            }
            prop_assert_eq!(now, end);
            let mut begun: Vec<Exact> = Vec::new();
            let mut tied = false;
            for event in &events {
                if !event.notes.is_empty() && !tied {
                    begun.push(event.at);
                }
                tied = event.notes.iter().any(|note| note.tied);
            }
            let asked: Vec<Exact> = notes.iter().map(|(from, _)| Exact::new(*from, of)).collect();
            prop_assert_eq!(begun, asked);
        }
    }
}
