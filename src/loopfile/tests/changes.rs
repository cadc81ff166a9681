use std::path::PathBuf;

use super::*;
use crate::loopfile::{Ending, SpaceKind, Stroke};

const TEXT: &str = "[loop]\ntempo = 90\nbars = 1\n[tab]\nall = '''\nkick x\nsnare -x\nhat-closed xxxx'''\n\
    [[part]]\nname = 'snare'\nbus = 'drums'\ndrive = { amount = 4, blend = 50 }\n[[part]]\nname = 'kick'\nbus = 'drums'\n\
    [[bus]]\nname = 'drums'\nbus = 'group'\n[[bus]]\nname = 'group'\n[rooms.hall]\n\
    [[mix]]\nname = 'bass forward'\nset = { \"kick.gain\" = 2, snare.room = -9, \"drums.compress\" = { ratio = 4 } }\n";

#[test]
fn set_reaches_every_kind_of_table() {
    let night = changed(
        TEXT,
        &set(&[
            ("snare.room", "-14"),
            ("drums.compress.ratio", "4"),
            ("hall.decay", "3"),
            ("loop.tempo", "100"),
            ("loop.metre", "6/8"),
            ("feel.swing", "66.7"),
            ("master.ceiling", "off"),
            ("snare.drive.amount", "6"),
            ("kick.hits", "xxx"),
            ("kick.sends.hall", "-6"),
            ("loop.title", "1984"),
            ("delay.time", "1/4 triplet"),
        ]),
    );
    assert_eq!(
        (night.time.tempo, night.time.counts, night.title.as_str()),
        (100.0, 6, "1984")
    );
    let [kick, snare, _] = night.parts.as_slice() else {
        panic!()
    };
    assert_eq!(kick.strokes.len(), 3);
    assert_eq!(snare.strip.sends[0].level_db, -14.0);
    assert_eq!(
        snare.strip.drive.as_ref().map(|drive| (drive.amount_db, drive.blend)),
        Some((6.0, 0.5))
    );
    assert_eq!(
        night.buses[0]
            .strip
            .compress
            .as_ref()
            .map(|compress| (compress.ratio, compress.threshold_db)),
        Some((4.0, -18.0))
    );
    assert_eq!(night.master.ceiling_db, None);
    let hall = &night.spaces[kick.strip.sends[0].to];
    let SpaceKind::Room(room) = &hall.kind else { panic!() };
    assert_eq!((hall.name.as_str(), room.decay), ("hall", 3.0));
}

#[test]
fn a_mix_is_applied_where_it_is_asked_for_and_set_goes_over_it() {
    assert_eq!(resolved(TEXT).parts[0].strip.gain_db, 0.0);
    assert_eq!(resolved(TEXT).mixes, ["bass forward"]);
    let mut changes = Changes {
        mix: Some("bass forward".into()),
        ..Changes::default()
    };
    let mixed = changed(TEXT, &changes);
    assert_eq!(
        (mixed.parts[0].strip.gain_db, mixed.parts[1].strip.sends[0].level_db),
        (2.0, -9.0)
    );
    assert_eq!(
        mixed.buses[0].strip.compress.as_ref().map(|compress| compress.ratio),
        Some(4.0)
    );
    changes.set = set(&[("kick.gain", "-5")]).set;
    assert_eq!(changed(TEXT, &changes).parts[0].strip.gain_db, -5.0);
    changes.mix = Some("base forward".into());
    assert!(wrong_with(TEXT, &changes)[0].contains("did you mean \"bass forward\"?"));
}

#[test]
fn a_key_between_dots_changes_one_value_and_a_table_in_braces_all_of_it() {
    let with = |set: &str| {
        let mix = format!("[[mix]]\nname = 'm'\nset = {set}\n");
        let text = format!("{TEXT}{mix}").replace("[rooms.hall]", "compress = { threshold = -30 }\n[rooms.hall]");
        let night = changed(
            &text,
            &Changes {
                mix: Some("m".into()),
                ..Changes::default()
            },
        );
        night.buses[1]
            .strip
            .compress
            .as_ref()
            .map(|compress| (compress.threshold_db, compress.ratio))
            .expect("a compressor")
    };
    assert_eq!(with("{ \"group.compress.ratio\" = 4 }"), (-30.0, 4.0));
    assert_eq!(with("{ group.compress.ratio = 4 }"), (-30.0, 4.0));
    assert_eq!(with("{ group.compress = { ratio = 4 } }"), (-18.0, 4.0));
    assert_eq!(with("{ group = { \"compress.ratio\" = 4 } }"), (-30.0, 4.0));
}

/// Tables that may be a number in their place: `drive` of a strip, `strum` of a part and of some bars of it.
const TABLES: &str = "[loop]\ntempo = 90\nbars = 2\n[chords]\nall = 'C'\n\
    [[part]]\nname = 'keys'\npiece = 'stand-in'\ncomp = 'x'\nbus = 'band'\nstrum = { ms = 40, order = 'down' }\n\
    [part.change]\n'2' = { strum = 20 }\n\
    [[bus]]\nname = 'band'\ndrive = { amount = 4, blend = 40, high_cut = 9000 }\n\
    [[mix]]\nname = 'harder'\nset = { \"band.drive\" = 6, keys.strum = 10 }\n\
    [[mix]]\nname = 'clean'\nset = { band.drive = 'off', keys = { strum = 'off' } }\n";

/// The drive of the bus; of each bar's chord by how much its last note is late, and which it is.
type Shaped = (Option<(f64, f64, Option<f64>)>, Vec<(f64, Option<i32>)>);

fn shaped(night: &Loop) -> Shaped {
    let drive = night.buses[0].strip.drive.as_ref();
    let last = |chord: &[Stroke]| {
        let last = chord.iter().max_by(|a, b| a.shift.total_cmp(&b.shift));
        last.map(|note| (note.shift, note.pitch)).expect("a note")
    };
    let chords = night.parts[0].strokes.chunks(3).map(last);
    let drive = drive.map(|drive| (drive.amount_db, drive.blend, drive.high_cut));
    (drive, chords.collect())
}

#[test]
fn a_bare_number_changes_the_main_value_of_a_table_and_leaves_the_rest() {
    let driven = |amount| Some((amount, 0.4, Some(9000.0)));
    let (drive, as_written) = shaped(&resolved(TABLES));
    assert_eq!(drive, driven(4.0));
    // Both bars go down from the same note, the second in half the time.
    assert_eq!(as_written[0].1, as_written[1].1);
    assert!((as_written[0].0 - 2.0 * as_written[1].0).abs() < 1e-9, "{as_written:?}");
    let by_set = set(&[("band.drive", "6"), ("keys.strum", "10")]);
    let by_mix = Changes {
        mix: Some("harder".into()),
        ..Changes::default()
    };
    for changes in [by_set, by_mix] {
        let (drive, chords) = shaped(&changed(TABLES, &changes));
        assert_eq!(drive, driven(6.0));
        let quarter = [(as_written[0].0 / 4.0, as_written[0].1), as_written[1]];
        assert!(
            chords
                .iter()
                .zip(quarter)
                .all(|(own, asked)| own.1 == asked.1 && (own.0 - asked.0).abs() < 1e-9)
        );
    }
    let (_, chords) = shaped(&changed(TABLES, &set(&[("keys.change.2.strum", "40")])));
    assert_eq!(chords[1], as_written[0]);
    // A table is all that there is of it, and off is off.
    assert_eq!(
        shaped(&changed(TABLES, &set(&[("band.drive", "{ amount = 6 }")]))).0,
        Some((6.0, 1.0, None))
    );
    let by_mix = Changes {
        mix: Some("clean".into()),
        ..Changes::default()
    };
    for changes in [set(&[("band.drive", "off"), ("keys.strum", "off")]), by_mix] {
        let (drive, chords) = shaped(&changed(TABLES, &changes));
        assert_eq!((drive, chords[0].0), (None, 0.0));
    }
    assert_eq!(shaped(&changed(TABLES, &set(&[("band.drive", "0")]))).0, None);
}

#[test]
fn a_section_lays_a_bare_number_over_a_table_too() {
    let files = Files::new(&[
        ("keys.toml", TABLES),
        (
            "form.toml",
            "[form]\n[[section]]\nloop = 'keys.toml'\nset = { \"band.drive\" = 6 }\n",
        ),
    ]);
    let read = read(&files.path("form.toml"), &Changes::default()).expect("a form");
    let Draft::Form(draft) = read else { panic!() };
    let form = draft.resolve(|_| KitDefaults::new());
    assert_eq!(shaped(&form.sections[0].plays).0, Some((6.0, 0.4, Some(9000.0))));
}

#[test]
fn what_is_wrong_with_set_points_into_it() {
    let wrong = |key, value| wrong_with(TEXT, &set(&[(key, value)])).join("\n");
    assert_eq!(
        wrong("snare.gain", "loud"),
        "--set 1:12 `gain` is a number from -120 to 40 dB, or \"off\", not the text \"loud\""
    );
    assert_eq!(
        wrong("snare.gain", "400"),
        "--set 1:12 `gain` is 400, but goes from -120 to 40 dB"
    );
    assert_eq!(
        wrong("snare.gian", "4"),
        "--set 1:1 `[[part]]` has no key `gian`; did you mean `gain`?"
    );
    assert_eq!(
        wrong("snar.gain", "4"),
        "--set 1:1 there is no part, bus or table called `snar`; did you mean `snare.gain`?"
    );
    assert_eq!(
        wrong("tempo", "4"),
        "--set 1:1 there is no key `tempo`; write `loop.tempo`"
    );
    assert!(wrong("snare.name", "a").contains("a name can't be changed"));
    assert!(wrong("snare.bus", "drum").contains("did you mean `drums`?"));
    assert!(wrong("snare.duck.depth", "3").contains("`duck` lacks `by`"));
    assert!(wrong("snare.gain.x", "3").contains("has no keys of its own"));
    assert!(wrong("group.bus", "drums").contains("feeds itself"));
}

#[test]
fn only_and_without_silence_parts_and_whatever_goes_through_a_bus() {
    let heard = |only: &[&str], without: &[&str]| -> Vec<String> {
        let owned = |names: &[&str]| names.iter().map(|name| name.to_string()).collect();
        let night = changed(
            TEXT,
            &Changes {
                only: owned(only),
                without: owned(without),
                ..Changes::default()
            },
        );
        night
            .parts
            .iter()
            .filter(|part| !part.silenced)
            .map(|part| part.name.clone())
            .collect()
    };
    assert_eq!(heard(&["snare"], &[]), ["snare"]);
    assert_eq!(heard(&["group"], &[]), ["kick", "snare"]);
    assert_eq!(heard(&[], &["drums"]), ["hat-closed"]);
    assert_eq!(heard(&["drums", "hat-closed"], &["kick"]), ["snare", "hat-closed"]);
    let unknown = wrong_with(
        TEXT,
        &Changes {
            only: vec!["snar".into()],
            ..Changes::default()
        },
    );
    assert_eq!(
        unknown,
        ["--only 1:1 there is no part or bus called `snar`; did you mean `snare`?"]
    );
}

#[test]
fn kit_seed_and_ending_take_the_files_place() {
    let changes = Changes {
        kit: Some(PathBuf::from("other")),
        seed: Some(9),
        ending: Some(Ending::Damp),
        ..Changes::default()
    };
    let night = changed(TEXT, &changes);
    assert_eq!(
        (night.kits, night.seed, night.ending),
        (vec![PathBuf::from("other")], 9, Ending::Damp)
    );
}

const BAND: &str = "[loop]\ntempo = 90\nbars = 4\n[chords]\n'1-4' = 'Cm | Fm | G7 | Cm'\n[tab]\nall = 'kick x-x-'\n\
    [[part]]\nname = 'bass'\ndegrees = '1'\n[[part]]\nname = 'keys'\ncomp = 'x'\n[part.change]\n\"4\" = { voicing = 'open' }\n";

#[test]
fn set_reaches_into_bars() {
    let plays = |part: usize, pairs: &[(&str, &str)]| -> Vec<(i128, Option<i32>)> {
        let song = changed(BAND, &set(pairs));
        let strokes = song.parts[part].strokes.iter();
        strokes
            .map(|stroke| ((stroke.at * 4).to_integer(), stroke.pitch))
            .collect()
    };
    let (kick, bass, keys) = (0, 1, 2);
    let roots = |pairs| {
        plays(bass, pairs)
            .iter()
            .map(|(_, pitch)| pitch.unwrap())
            .collect::<Vec<_>>()
    };
    // MIDI: C2 36, Eb2 39, F2 41, G2 43, Ab2 44, Bb2 46.
    assert_eq!(roots(&[]), [36, 41, 43, 36]);
    assert_eq!(roots(&[("chords.3", "Abmaj7")]), [36, 41, 44, 36]);
    assert_eq!(roots(&[("chords.2-3", "Eb | Bb7")]), [36, 39, 46, 36]);
    assert_eq!(roots(&[("chords", "Fm")]), [41; 4]);
    assert_eq!(roots(&[("bass.degrees.every 2 bars", "5")]), [36, 48, 43, 43]);
    assert_eq!(plays(kick, &[("kick.hits.4", "xxxx")]).len(), 2 * 3 + 4);
    assert_eq!(plays(kick, &[("kick.hits", "x")]).len(), 4);
    let voices = |pairs: &[(&str, &str)], bar: i128| plays(keys, pairs).iter().filter(|(at, _)| *at == 4 * bar).count();
    assert_eq!(
        (voices(&[], 3), voices(&[("keys.change.4.voicing", "rootless")], 3)),
        (3, 2)
    );
    assert_eq!(voices(&[("keys.change.2", "{ voicing = 'rootless' }")], 1), 2);
    assert_eq!(voices(&[("keys.change.4.mute", "true")], 3), 0);
    let mix = format!(
        "{BAND}[[mix]]\nname = 'm'\nset = {{ \"chords.3\" = 'Abmaj7', \"keys.change.1\" = {{ mute = true }} }}\n"
    );
    let changes = Changes {
        mix: Some("m".into()),
        ..Changes::default()
    };
    let mixed = changed(&mix, &changes);
    assert_eq!(mixed.parts[bass].strokes[2].pitch, Some(44));
    assert!(mixed.parts[keys].strokes[0].at >= crate::loopfile::Exact::from_integer(1));
}

#[test]
fn what_is_wrong_with_bars_points_into_the_address() {
    let wrong = |key, value| wrong_with(BAND, &set(&[(key, value)])).join("\n");
    assert!(
        wrong("chords.3", "Hm7").starts_with("--set 1:10"),
        "{}",
        wrong("chords.3", "Hm7")
    );
    assert!(wrong("chords.9", "Cm7").contains("9"), "{}", wrong("chords.9", "Cm7"));
    assert!(
        wrong("chords.3.x", "Cm7").contains("chords.3 or chords.1-4"),
        "{}",
        wrong("chords.3.x", "Cm7")
    );
    assert!(wrong("keys.change.4.voice", "open").contains("did you mean `voicing`?"));
    assert!(wrong("keys.change.4", "open").contains("change.4.voicing"));
    assert!(wrong("part.change.4.voicing", "open").contains("begin with the name of the part"));
    assert!(wrong("tab.4", "x").contains("kick.hits.4"));
    assert!(wrong("accents.4", "x").contains("change it in the file itself"));
}
