//! Laws of whole pages, on sheets made by hand and by chance.

use proptest::prelude::*;

use super::ink::Kind;
use super::page::{WIDTH, html, systems};
use super::score::Score;
use super::*;
use crate::loopfile::Exact;
use crate::notation::*;

fn note(step: i32) -> WrittenNote {
    WrittenNote {
        pitch: WrittenPitch::Note {
            letter: step.rem_euclid(7) as u8,
            alter: 0,
            octave: step.div_euclid(7) as i8,
        },
        head: Head::Round,
        tied: false,
        ghost: false,
        approach: None,
        leave: None,
        degree: Some("b3".into()),
    }
}

fn event(at: Exact, length: Exact, part: u32, notes: Vec<WrittenNote>) -> Event {
    Event {
        at,
        length,
        value: Value { part, dots: 0 },
        tuplet: None,
        notes,
        graces: Vec::new(),
        beams: 0,
        signs: Vec::new(),
    }
}

fn bar(number: u32) -> SheetBar {
    SheetBar {
        number,
        heard: vec![number],
        metre: (4, 4),
        short: None,
        key: Signature {
            fifths: -2,
            minor: Some(false),
        },
        tempo: (number == 1).then_some((96.0, Exact::new(1, 4))),
        feel: None,
        swing: None,
        section: None,
        chords: Vec::new(),
        kicks: Vec::new(),
        repeat_begins: false,
        repeat_ends: None,
        ending: None,
    }
}

fn sheet(bars: Vec<SheetBar>, staves: Vec<Staff>) -> Sheet {
    Sheet {
        title: "Slack water".into(),
        kits: vec!["Harbour studio".into()],
        bars,
        staves,
    }
}

fn staff(name: &str, clef: Clef, measures: Vec<Measure>) -> Staff {
    Staff {
        name: name.into(),
        short: name.chars().take(3).collect(),
        parts: vec![name.into()],
        clef,
        hand: None,
        drums: Vec::new(),
        measures,
    }
}

/// Four quarters a bar, each bar on a line or space of its own.
fn quarters(bars: u32) -> Sheet {
    let measure = |bar: u32| Measure {
        voices: vec![
            (0..4)
                .map(|beat| event(Exact::new(beat, 4), Exact::new(1, 4), 4, vec![note(30 + bar as i32)]))
                .collect(),
        ],
    };
    let measures = (0..bars).map(measure).collect();
    sheet(
        (1..=bars).map(bar).collect(),
        vec![staff("Tune", Clef::Treble, measures)],
    )
}

#[test]
fn one_staff_of_quarters_is_a_page() {
    let page = page(&quarters(8), &Wish::default()).expect("a page");
    assert_eq!(page.matches("role=\"img\"").count(), 2);
    assert_eq!(page.matches("href=\"#s-noteheadBlack\"").count(), 32);
    assert_eq!(page.matches("id=\"s-noteheadBlack\"").count(), 1);
    assert!(
        page.contains("Bar 2: Tune: F4 quarter, F4 quarter, F4 quarter, F4 quarter."),
        "{page}"
    );
    assert!(!page.contains("<script") && !page.contains("http://") && !page.contains("https://"));
}

#[test]
fn words_of_the_sheet_are_escaped() {
    let mut sheet = quarters(1);
    sheet.title = "<script>alert(1)</script> & \u{1b}[2J".into();
    sheet.staves[0].name = "</svg><b>".into();
    sheet.bars[0].section = Some("Ü <海> & \"quoted\"".into());
    let page = page(&sheet, &Wish::default()).expect("a page");
    assert!(!page.contains("<script>") && !page.contains("</svg><b>") && !page.contains('\u{1b}'));
    assert!(page.contains("&lt;海&gt;"));
}

/// One beat: parts of quarters as denominators of a whole, with beams, and a tuplet where there is one.
type Beat = (&'static [(u32, u8, u8)], Option<(u32, u32)>);

const BEATS: [Beat; 8] = [
    (&[(4, 0, 0)], None),
    (&[(8, 0, 1), (8, 0, 0)], None),
    (&[(16, 0, 2), (16, 0, 2), (16, 0, 2), (16, 0, 0)], None),
    (&[(8, 1, 1), (16, 0, 0)], None),
    (&[(16, 0, 1), (8, 0, 1), (16, 0, 0)], None),
    (&[(8, 0, 1), (8, 0, 1), (8, 0, 0)], Some((3, 2))),
    (&[(8, 0, 0), (16, 0, 2), (16, 0, 0)], None),
    (
        &[
            (32, 0, 3),
            (32, 0, 3),
            (32, 0, 3),
            (32, 0, 3),
            (32, 0, 3),
            (32, 0, 3),
            (32, 0, 3),
            (32, 0, 0),
        ],
        None,
    ),
];

/// What chance says of an event: pitches above a staff's lowest line, alteration, what is odd about it.
type Chance = (Vec<(i32, i8)>, u8);

fn voice(beats: Vec<usize>, chances: &[Chance], lowest: i32) -> Vec<Event> {
    let mut events = Vec::new();
    for (beat, kind) in beats.into_iter().enumerate() {
        let mut at = Exact::new(beat as i128, 4);
        let (values, tuplet) = BEATS[kind % BEATS.len()];
        for (place, (part, dots, beams)) in values.iter().enumerate() {
            let mut length = Exact::new(1, i128::from(*part));
            if *dots == 1 {
                length *= Exact::new(3, 2);
            }
            if let Some((notes, time_of)) = tuplet {
                length *= Exact::new(i128::from(time_of), i128::from(notes));
            }
            let (pitches, odd) = &chances[events.len() % chances.len()];
            let mut steps: Vec<i32> = pitches.iter().map(|(step, _)| lowest + step).collect();
            steps.sort_unstable();
            steps.dedup();
            let mut notes: Vec<WrittenNote> = steps.into_iter().map(note).collect();
            for (note, (_, alter)) in notes.iter_mut().zip(pitches) {
                if let WrittenPitch::Note { alter: written, .. } = &mut note.pitch {
                    *written = *alter;
                }
                note.tied = odd % 7 == 1;
                note.ghost = odd % 11 == 2;
                note.approach = (odd % 13 == 3).then_some(Approach::Slide);
                note.leave = (odd % 17 == 4).then_some(Leave::Fall);
            }
            if odd % 9 == 0 {
                notes.clear();
            }
            let mut event = event(at, length, *part, notes);
            event.value.dots = *dots;
            event.beams = *beams;
            event.tuplet = tuplet.map(|(notes, time_of)| Tuplet {
                notes,
                time_of,
                part: *part,
                begins: place == 0,
                ends: place + 1 == values.len(),
            });
            if odd % 5 == 2 {
                event
                    .signs
                    .push([Sign::Accent, Sign::Staccato, Sign::Maybe, Sign::Vibrato][usize::from(*odd) % 4]);
            }
            if odd % 10 == 7 && !event.notes.is_empty() {
                event.graces = vec![vec![note(lowest + 5)]; usize::from(odd % 3) + 1];
            }
            events.push(event);
            at += length;
        }
    }
    events
}

const SYMBOLS: [&str; 6] = ["C", "Bbmaj9(#11)", "F#7(b9,#11,b13)", "N.C.", "Am7b5/Eb", "G13sus4"];

fn any_sheet() -> impl Strategy<Value = Sheet> {
    let chance = (proptest::collection::vec((-6i32..16, -1i8..=1), 1..4), any::<u8>());
    let beats = proptest::collection::vec(0usize..BEATS.len(), 4);
    let measure = (beats, proptest::collection::vec(chance, 1..9), any::<bool>());
    let chords = proptest::collection::vec((0i128..8, 0usize..SYMBOLS.len()), 0..5);
    let about = (chords, any::<u8>());
    (1usize..7, 1usize..4).prop_flat_map(move |(bars, staves)| {
        let measures = proptest::collection::vec(proptest::collection::vec(measure.clone(), bars), staves);
        (measures, proptest::collection::vec(about.clone(), bars)).prop_map(|(staves, about)| {
            let bars = about.into_iter().enumerate().map(|(place, (mut chords, odd))| {
                let mut bar = bar(place as u32 + 1);
                chords.sort_unstable();
                chords.dedup_by_key(|chord| chord.0);
                bar.chords = chords
                    .into_iter()
                    .map(|(at, symbol)| {
                        let text = SYMBOLS[symbol].to_string();
                        let chord = crate::harmony::Chord::parse(&text).ok();
                        (Exact::new(at, 8), ChordSign { text, chord })
                    })
                    .collect();
                bar.section = (odd % 5 == 0).then(|| "a section with a long name".to_string());
                bar.feel = (odd % 7 == 0).then(|| "Swing sixteenths 58 %".to_string());
                bar.repeat_begins = odd % 6 == 1;
                bar.repeat_ends = (odd % 6 == 2).then_some(3);
                if odd % 4 == 0 {
                    let mut kick = event(Exact::new(3, 8), Exact::new(1, 8), 8, vec![note(39)]);
                    kick.signs.push(Sign::Accent);
                    bar.kicks.push(kick);
                }
                bar
            });
            let bars: Vec<SheetBar> = bars.collect();
            let clefs = [Clef::Treble, Clef::BassDown, Clef::TrebleDown];
            let staves = staves.into_iter().zip(clefs).map(|(measures, clef)| {
                let lowest = match clef {
                    Clef::BassDown => 11,
                    Clef::TrebleDown => 23,
                    _ => 30,
                };
                let measures = measures.into_iter().map(|(beats, chances, full)| Measure {
                    voices: if full {
                        vec![voice(beats, &chances, lowest)]
                    } else {
                        Vec::new()
                    },
                });
                staff("Guitar", clef, measures.collect())
            });
            let staves = staves.collect();
            sheet(bars, staves)
        })
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn everything_stands_where_it_belongs(sheet in any_sheet(), degrees in any::<bool>()) {
        let score = Score::new(&sheet, sheet.staves.iter().collect(), degrees, true);
        let systems = systems(&score, 34.0, &[0.0]);
        let bars: Vec<usize> = systems.iter().flat_map(|system| system.bars.clone()).collect();
        prop_assert_eq!(bars, (0..sheet.bars.len()).collect::<Vec<_>>());
        let mut heads = 0;
        for system in &systems {
            let kept = |kind: Kind| system.ink.kept.iter().filter(move |(of, _)| *of == kind).map(|(_, reach)| *reach);
            for head in kept(Kind::Head) {
                heads += 1;
                let inside = |place: &super::spacing::BarPlace| place.begins - 0.01 <= head.left && head.right <= place.right;
                prop_assert!(system.places.iter().any(inside), "{head:?} {:?}", system.places);
            }
            let chords: Vec<_> = kept(Kind::Chord).collect();
            for (place, chord) in chords.iter().enumerate() {
                prop_assert!(chords[place + 1..].iter().all(|other| !chord.meets(other)), "{chords:?}");
            }
            let words: Vec<_> = chords.into_iter().chain(kept(Kind::Words)).collect();
            for (place, word) in words.iter().enumerate() {
                prop_assert!(words[place + 1..].iter().all(|other| !word.meets(other)), "{words:?}");
            }
            let reach = system.ink.reach;
            prop_assert!(reach.left >= -0.01 && reach.right <= system.width + 0.01, "{reach:?} {}", system.width);
            prop_assert!(reach.top >= -0.01 && reach.bottom <= system.height + 0.01, "{reach:?} {}", system.height);
            for accidental in kept(Kind::Accidental) {
                let [left, right] = [accidental.left + 0.05, accidental.right - 0.05];
                let lies_on = |head: &super::ink::Reach| head.left < right && left < head.right
                    && (head.top + head.bottom - accidental.top - accidental.bottom).abs() < 0.5;
                prop_assert!(!kept(Kind::Head).any(|head| lies_on(&head)), "{accidental:?}");
            }
        }
        let events = sheet.staves.iter().flat_map(|staff| &staff.measures).flat_map(|measure| &measure.voices).flatten();
        let written: usize = events.map(|event| event.notes.len() + event.graces.iter().map(Vec::len).sum::<usize>()).sum();
        prop_assert_eq!(heads, written);
    }

    #[test]
    fn every_sheet_is_a_page_for_every_instrument(sheet in any_sheet(), odd in 0u8..3) {
        let wish = Wish {
            drums: Drums::Tablature,
            degrees: odd == 1,
            instrument: [None, Some(Instrument::BFlat), Some(Instrument::EFlat)][usize::from(odd)],
        };
        let first = page(&sheet, &wish).expect("a page");
        prop_assert_eq!(&first, &page(&sheet, &wish).expect("a page"));
        prop_assert!(!first.contains("NaN") && !first.contains("inf"));
    }
}

#[test]
fn a_page_is_as_wide_as_both_papers_leave_it() {
    // ISO 216: A4 is 210 mm wide; ANSI letter is 8.5 inches.
    for paper in [210.0, 8.5 * 25.4] {
        assert!(WIDTH <= paper - 2.0 * 15.0);
    }
    assert!(
        html(&quarters(1), &Wish::default())
            .expect("a page")
            .contains("@page { margin: 12mm 15mm; }")
    );
}
