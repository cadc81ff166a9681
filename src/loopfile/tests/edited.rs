//! Texts with other values.

use std::sync::Arc;

use crate::loopfile::edited::{with_mix, with_values};
use crate::text::Source;

const HEAD: &str = "[loop]\ntempo = 90\nbars = 1\n[tab]\nall = \"\"\"\nkick x\nsnare x\nhat-closed x\n\"\"\"\n";

fn with_gains(source: &Arc<Source>, gains: &[(&str, f64)]) -> String {
    let values = gains
        .iter()
        .map(|(name, gain)| (format!("{name}.gain"), gain.to_string()));
    with_values(source, &values.collect::<Vec<_>>()).expect("a loop")
}

/// What a value makes of a text behind [`HEAD`].
fn set(text: &str, address: &str, value: &str) -> String {
    let source = Source::new("loop.toml", format!("{HEAD}{text}"));
    let after = with_values(&source, &[(address.into(), value.into())]).expect("a place");
    after.strip_prefix(HEAD).expect("what comes before stays").to_string()
}

/// What a text becomes behind [`HEAD`].
fn with(text: &str, gains: &[(&str, f64)]) -> String {
    let source = Source::new("loop.toml", format!("{HEAD}{text}"));
    let after = with_gains(&source, gains);
    after.strip_prefix(HEAD).expect("what comes before stays").to_string()
}

#[test]
fn a_gain_that_is_written_changes_where_it_stands() {
    for (before, after) in [
        (
            "[[part]] # a\n  name='kick'\t# low\n  gain   =   -2.0 # dB\n",
            "[[part]] # a\n  name='kick'\t# low\n  gain   =   3.5 # dB\n",
        ),
        (
            "[[part]]\n\"gain\" = 1\nname = 'kick'",
            "[[part]]\n\"gain\" = 3.5\nname = 'kick'",
        ),
    ] {
        assert_eq!(with(before, &[("kick", 3.5)]), after);
    }
    let list = "part = [{ name = 'kick', gain = +1e0 }, {name='snare'}]\n";
    let source = Source::new("loop.toml", format!("{list}{HEAD}"));
    let after = with_gains(&source, &[("kick", -0.5), ("snare", 2.0), ("hat-closed", -8.0)]);
    let wanted =
        "part = [{ name = 'kick', gain = -0.5 }, {name='snare', gain = 2}, { name = \"hat-closed\", gain = -8 }]\n";
    assert_eq!(after.strip_suffix(HEAD), Some(wanted));
}

#[test]
fn a_gain_that_is_not_written_stands_behind_the_name() {
    for (before, after) in [
        (
            "[[part]]\nname     = \"kick\"   # low\nenvelope = { decay = 9 }\n",
            "[[part]]\nname     = \"kick\"   # low\ngain     = -4\nenvelope = { decay = 9 }\n",
        ),
        ("[[part]]\nname='kick'", "[[part]]\nname='kick'\ngain=-4"),
        (
            "[[part]]\n\t'name' = 'kick'\n",
            "[[part]]\n\t'name' = 'kick'\n\tgain = -4\n",
        ),
        (
            "[[part]]\nname = 'kick'\n[part.change]\n\"1\" = { velocity = '3-9' }\n",
            "[[part]]\nname = 'kick'\ngain = -4\n[part.change]\n\"1\" = { velocity = '3-9' }\n",
        ),
    ] {
        assert_eq!(with(before, &[("kick", -4.0)]), after);
    }
}

#[test]
fn a_part_without_a_table_gets_one_at_the_end() {
    let mixes = "[[mix]]\nname = 'a'\nset = { \"kick.gain\" = 1 } # stays";
    let after = format!("{mixes}\n\n[[part]]\nname = \"kick\"\ngain = 1.5\n\n[[part]]\nname = \"snare\"\ngain = -1\n");
    assert_eq!(with(mixes, &[("kick", 1.5), ("snare", -1.0)]), after);
}

#[test]
fn lines_end_as_they_did() {
    let text = format!("{HEAD}[[part]]\nname = 'kick' # ü\n").replace('\n', "\r\n");
    let source = Source::new("loop.toml", text.clone());
    let after = with_gains(&source, &[("kick", 1.0), ("snare", 2.0)]);
    let added = "gain = 1\r\n\r\n[[part]]\r\nname = \"snare\"\r\ngain = 2\r\n";
    assert_eq!(after, text + added);
}

#[test]
fn any_setting_changes_where_it_stands() {
    let part = "[[part]]\nname = 'snare'   # bright\n";
    for (before, address, value, after) in [
        (
            "envelope = { attack = 1, decay = 90 } # short\n",
            "snare.envelope.decay",
            "60",
            "envelope = { attack = 1, decay = 60 } # short\n",
        ),
        (
            "envelope = { attack = 1 }\n",
            "snare.envelope.decay",
            "60",
            "envelope = { attack = 1, decay = 60 }\n",
        ),
        (
            "envelope.attack = 1\n",
            "snare.envelope.attack",
            "2.5",
            "envelope.attack = 2.5\n",
        ),
        ("drive = 4 # warm\n", "snare.drive.amount", "6", "drive = 6 # warm\n"),
        (
            "drive = 4\n",
            "snare.drive.blend",
            "40",
            "drive = { amount = 4, blend = 40 }\n",
        ),
        (
            "compress = \"off\"\n",
            "snare.compress.ratio",
            "3",
            "compress = { ratio = 3 }\n",
        ),
        (
            "eq = [{ at = 200, gain = 2 }, { at = 900, gain = 1 }]\n",
            "snare.eq.2.gain",
            "-3",
            "eq = [{ at = 200, gain = 2 }, { at = 900, gain = -3 }]\n",
        ),
        (
            "sends = { hall = -20 }\n",
            "snare.sends.slap",
            "-9",
            "sends = { hall = -20, slap = -9 }\n",
        ),
        (
            "envelope.attack = 1\n",
            "snare.envelope.decay",
            "60",
            "envelope.attack = 1\nenvelope.decay  = 60\n",
        ),
        (
            "[part.envelope]\ndecay = 9\n",
            "snare.envelope.decay",
            "8",
            "[part.envelope]\ndecay = 8\n",
        ),
        (
            "[part.envelope]\n  decay = 9 # ms\n",
            "snare.envelope.attack",
            "8",
            "[part.envelope]\n  decay = 9 # ms\n  attack = 8\n",
        ),
    ] {
        assert_eq!(
            set(&format!("{part}{before}"), address, value),
            format!("{part}{after}"),
            "{address}"
        );
    }
    let after = "[[part]]\nname = 'snare'   # bright\nenvelope = { decay = 60 }\n";
    assert_eq!(set(part, "snare.envelope.decay", "60"), after);
}

#[test]
fn tables_of_the_loop_get_their_lines_and_those_that_lack_come_at_the_end() {
    let rooms = "[room]\nsize    = 7   # metres\n[rooms.hall]\nsize = 30\n[master]\n[[bus]]\nname = 'low'\n";
    for (address, value, line, becomes) in [
        (
            "room.decay",
            "1.2",
            "size    = 7   # metres\n",
            "size    = 7   # metres\ndecay   = 1.2\n",
        ),
        ("hall.size", "40", "size = 30", "size = 40"),
        ("rooms.hall.damping", "0.5", "size = 30\n", "size = 30\ndamping = 0.5\n"),
        ("master.ceiling", "-2", "[master]\n", "[master]\nceiling = -2\n"),
        ("low.gain", "-2", "'low'\n", "'low'\ngain = -2\n"),
    ] {
        assert_eq!(set(rooms, address, value), rooms.replace(line, becomes), "{address}");
    }
    assert_eq!(set("", "delay.time", "\"1/8\""), "\n[delay]\ntime = \"1/8\"\n");
    assert_eq!(
        set("", "kick.drive.amount", "3"),
        "\n[[part]]\nname = \"kick\"\ndrive = { amount = 3 }\n"
    );
    let dotted = Source::new("loop.toml", "loop.tempo = 90");
    let both = [("loop.tempo".into(), "91".into()), ("loop.seed".into(), "3".into())];
    assert_eq!(
        with_values(&dotted, &both).as_deref(),
        Some("loop.tempo = 91\nloop.seed  = 3")
    );
    // Where there is no line to add, nothing is guessed.
    let header = Source::new("loop.toml", "[[part]]\nname = 'a'\neq = [{ at = 9 }]");
    assert_eq!(with_values(&header, &[("a.eq.2.gain".into(), "3".into())]), None);
    assert_eq!(with_values(&header, &[("a.loudness".into(), "3".into())]), None);
}

#[test]
fn a_mix_comes_at_the_end_or_into_its_list() {
    let values = [
        ("snare.room".to_string(), "-6".to_string()),
        ("kick.gain".into(), "\"off\"".into()),
    ];
    let with = |text: &str| with_mix(&Source::new("loop.toml", text), "late \"two\"", &values).expect("a text");
    let set = "{ \"snare.room\" = -6, \"kick.gain\" = \"off\" }";
    assert_eq!(
        with("a = 1 # end"),
        format!("a = 1 # end\n\n[[mix]]\nname = \"late \\\"two\\\"\"\nset = {set}\n")
    );
    let one = "{ name = 'a', set = {} }";
    assert_eq!(
        with(&format!("mix = [{one}]")),
        format!("mix = [{one}, {{ name = \"late \\\"two\\\"\", set = {set} }}]")
    );
}
