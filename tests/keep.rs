//! Nothing is done twice: a version that shares with others what it does not change has the bytes that it has alone.

use std::path::PathBuf;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

use crate::support::{Desk, noise, pluck, tone};
use pressroll::internals::kit::Kit;
use pressroll::internals::loopfile::{self, Changes, Draft, Form, Given, Loop};
use pressroll::internals::render::RenderCache;
use pressroll::internals::render::{render_form_sharing, render_sharing};
use pressroll::{Order, Rendered};
use proptest::prelude::*;

/// A loop with every kind of effect on the way: buses in buses, a duck, a sweep, a room, two delays, a driven master.
const LOOP: &str = r#"[loop]
title = "Harbour lights"
tempo = 97.3
bars = 4
seed = 12
[feel]
swing = 58
loose = { ms = 4, velocity = 5 }
[tab]
"all" = """
kick       X--- --x- --xg ---x
snare      ---- X--g -g-- X{xg}xx
hat-closed xxgx xxxo xgxx x-xo
bell       x--- ---g ---- --X-
"""
[[part]]
name = "kick"
bus = "drums"
eq = [{ at = 60, gain = 3, width = 1.0 }]
[[part]]
name = "snare"
velocity = "70-110"
bus = "drums"
room = -8
vary = { tune = 0.4, gain = 2, start = 3 }
[[part]]
name = "hat-closed"
bus = "drums"
drive = 2
pan = 20
[[part]]
name = "bell"
delay = -6
room = -12
spread = 8
duck = { by = "kick", depth = 4, release = 120 }
[[bus]]
name = "drums"
bus = "band"
drive = 4
compress = { threshold = -20, ratio = 3 }
[[bus]]
name = "band"
ceiling = -3
sends = { slap = -20 }
[delays.slap]
time = "90 ms"
[room]
decay = 0.5
[master]
gain = 2
loudness = -18
[[sweep]]
key = "bell.gain"
bars = "2-3"
from = -12
to = 0
"#;

/// Settings of which each changes something else, with a value to set them to.
const CHANGES: [(&str, &str); 22] = [
    ("snare.room", "-14"),
    ("bell.delay", "-9"),
    ("kick.eq", "[{ at = 90, gain = -4, width = 1.0 }]"),
    ("drums.compress.ratio", "8"),
    ("drums.compress.release", "600"),
    ("band.gain", "-2"),
    ("band.ceiling", "-9"),
    ("bell.duck.depth", "9"),
    ("room.decay", "1.1"),
    ("delay.feedback", "60"),
    ("slap.level", "-3"),
    ("master.ceiling", "-4"),
    ("master.low_cut", "50"),
    ("master.loudness", "-14"),
    ("master.duck", "{ by = \"kick\", depth = 5 }"),
    ("hat-closed.drive", "5"),
    ("hat-closed.pan", "-35"),
    ("snare.tune", "3"),
    ("kick.mute", "true"),
    ("loop.tempo", "101"),
    ("loop.seed", "77"),
    ("loop.ending", "\"let ring\""),
];

fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("kick.wav", &[pluck(60.0, 0.5, 0.8)]);
    let hiss: Vec<f32> = noise(9600, 3).iter().map(|n| *n as f32 / 65536.0).collect();
    desk.one_shot("snare.wav", &[hiss]);
    desk.one_shot("hat-closed.wav", &[tone(7000.0, 0.05, 0.3)]);
    desk.one_shot("hat-open.wav", &[tone(6500.0, 0.6, 0.3)]);
    desk.one_shot("bell.wav", &[pluck(880.0, 2.0, 0.4), pluck(881.0, 2.0, 0.4)]);
    desk.one_shot("other.wav", &[pluck(75.0, 0.3, 0.9)]);
    desk.write("loop.toml", LOOP);
    desk
}

/// What a version asks for.
#[derive(Clone, Default, Debug)]
struct Asked {
    set: Vec<(String, String)>,
    swap: Vec<(String, PathBuf)>,
    bars: Option<(u32, u32)>,
    file: &'static str,
}

fn asked(set: &[(&str, &str)]) -> Asked {
    let own = |(key, value): &(&str, &str)| (key.to_string(), value.to_string());
    Asked {
        set: set.iter().map(own).collect(),
        file: "loop.toml",
        ..Asked::default()
    }
}

// There is one a render: its size is no matter.
#[allow(clippy::large_enum_variant)]
enum Work {
    Loop(Box<Loop>, Kit),
    Form(Box<Form>, Vec<Kit>),
}

fn open(desk: &Desk, asked: &Asked) -> Work {
    let changes = Changes {
        set: asked.set.iter().map(|(key, value)| Given::set(key, value)).collect(),
        ..Changes::default()
    };
    match loopfile::read(&desk.path(asked.file), &changes).expect("the file reads") {
        Draft::Loop(draft) => {
            let kit = Kit::open(draft.kits(), &asked.swap).expect("the kit opens");
            Work::Loop(Box::new(draft.resolve(kit.defaults())), kit)
        }
        Draft::Form(draft) => {
            let kits: Vec<Kit> = draft
                .loops()
                .map(|draft| Kit::open(draft.kits(), &asked.swap).expect("the kit opens"))
                .collect();
            let mut defaults = kits.iter().map(|kit| kit.defaults().clone());
            let form = draft.resolve(|_| defaults.next().unwrap_or_default());
            drop(defaults);
            Work::Form(Box::new(form), kits)
        }
    }
}

fn render(desk: &Desk, asked: &Asked, keep: Option<&RenderCache>) -> Rendered {
    let order = Order {
        rate: 24_000,
        rounds: 1,
        bars: asked.bars,
        ..Order::default()
    };
    let rendered = match open(desk, asked) {
        Work::Loop(song, kit) => render_sharing(&song, &kit, &order, keep, &|_| ()),
        Work::Form(form, kits) => render_form_sharing(&form, &kits, &order, keep, &|_| ()),
    };
    rendered.unwrap_or_else(|problems| panic!("{asked:?}: {problems:?}"))
}

/// The bits of every sample, which tell -0 from 0.
fn bits(rendered: &Rendered) -> Vec<Vec<u32>> {
    let side = |side: &Vec<f32>| side.iter().map(|sample| sample.to_bits()).collect();
    rendered.audio.channels.iter().map(side).collect()
}

#[track_caller]
fn assert_same(desk: &Desk, asked: &Asked, keep: &RenderCache) {
    let (shared, alone) = (render(desk, asked, Some(keep)), render(desk, asked, None));
    assert!(bits(&shared) == bits(&alone), "{asked:?}");
    let told = |rendered: &Rendered| {
        let parts = rendered
            .parts
            .iter()
            .map(|part| (part.name.clone(), part.hits, part.peak, part.silenced));
        parts.collect::<Vec<_>>()
    };
    assert_eq!(told(&shared), told(&alone), "{asked:?}");
    assert_eq!(shared.buses, alone.buses, "{asked:?}");
    assert_eq!(
        (shared.lufs, shared.true_peak_db),
        (alone.lufs, alone.true_peak_db),
        "{asked:?}"
    );
}

#[test]
fn each_change_sounds_as_it_does_alone() {
    let desk = desk();
    // With room for everything, with room for a few things, and with none.
    for room in [1 << 30, 3 << 20, 0] {
        let keep = RenderCache::new(room);
        assert_same(&desk, &asked(&[]), &keep);
        for change in CHANGES {
            assert_same(&desk, &asked(&[change]), &keep);
        }
        assert_same(&desk, &asked(&[]), &keep);
    }
}

#[test]
fn swaps_and_bars_sound_as_they_do_alone() {
    let desk = desk();
    let keep = RenderCache::default();
    assert_same(&desk, &asked(&[]), &keep);
    let swapped = Asked {
        swap: vec![("kick".into(), desk.path("other.wav"))],
        ..asked(&[])
    };
    assert_same(&desk, &swapped, &keep);
    let cut = Asked {
        bars: Some((2, 3)),
        ..asked(&[])
    };
    assert_same(&desk, &cut, &keep);
    // A one-shot that is written anew is another one.
    desk.one_shot("kick.wav", &[pluck(50.0, 0.4, 0.7)]);
    assert_same(&desk, &asked(&[]), &keep);
}

#[test]
fn renders_that_are_under_way_at_once_make_what_they_would_one_after_another() {
    let desk = desk();
    let versions: Vec<Asked> = CHANGES.iter().map(|change| asked(&[*change])).collect();
    for room in [1 << 30, 12 << 20] {
        let all = |at_once: usize| {
            let (keep, next) = (RenderCache::new(room), AtomicUsize::new(0));
            let rendered = Mutex::new(vec![Vec::new(); versions.len()]);
            let work = || {
                let numbers = std::iter::repeat_with(|| next.fetch_add(1, Ordering::Relaxed));
                for number in numbers.take_while(|number| *number < versions.len()) {
                    let keep = keep.queued(number);
                    let bits = bits(&render(&desk, &versions[number], Some(&keep)));
                    rendered.lock().expect("no render panics")[number] = bits;
                }
            };
            thread::scope(|scope| {
                for _ in 0..at_once {
                    let own = rayon::ThreadPoolBuilder::new().num_threads(2).build();
                    let work = &work;
                    scope.spawn(move || own.expect("threads can be had").install(work));
                }
            });
            (rendered.into_inner().expect("no render panics"), keep.made())
        };
        let (one_by_one, made) = all(1);
        for _ in 0..2 {
            let (at_once, also_made) = all(6);
            assert!(at_once == one_by_one);
            assert_eq!(also_made, made);
        }
    }
}

#[test]
fn forms_share_too() {
    let desk = desk();
    desk.write(
        "form.toml",
        "[form]\ntitle = \"Evening\"\n[[section]]\nname = \"a\"\nloop = \"loop.toml\"\nbars = \"1-2\"\n\
         [[section]]\nname = \"b\"\nloop = \"loop.toml\"\nset = { \"snare.room\" = -20 }\n\
         [[section]]\nname = \"c\"\nloop = \"loop.toml\"\nbars = \"1-2\"\nmute = [\"bell\"]\n",
    );
    let keep = RenderCache::default();
    for set in [&[][..], &CHANGES[..1], &CHANGES[8..9], &CHANGES[11..12], &[]] {
        assert_same(
            &desk,
            &Asked {
                file: "form.toml",
                ..asked(set)
            },
            &keep,
        );
    }
}

#[test]
fn mixes_are_the_files_that_they_are_alone() {
    let desk = desk();
    let mix = |(key, value): &(&str, &str)| format!("[[mix]]\nname = \"{key}\"\nset = {{ \"{key}\" = {value} }}\n");
    desk.write(
        "mixes.toml",
        LOOP.to_string() + &CHANGES[..4].iter().map(mix).collect::<String>(),
    );
    desk.run(&["render", "mixes.toml", "--mixes", "-o", "all/take.wav"])
        .assert_done();
    let bytes = |name: &str| std::fs::read(desk.path(name)).expect("a render");
    desk.run(&["render", "mixes.toml", "-o", "alone.wav"]).assert_done();
    assert!(bytes("alone.wav") == bytes("all/take.wav"));
    for (key, _) in &CHANGES[..4] {
        desk.run(&["render", "mixes.toml", "--mix", key, "-o", "alone.wav"])
            .assert_done();
        assert!(bytes("alone.wav") == bytes(&format!("all/take-{key}.wav")), "{key}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 4, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_changes_in_any_order_sound_as_they_do_alone(
        versions in prop::collection::vec(prop::sample::subsequence(CHANGES.to_vec(), 0..4), 3..6),
        room in prop::sample::select(vec![1_usize << 30, 6 << 20]),
    ) {
        let desk = desk();
        let keep = RenderCache::new(room);
        for set in versions {
            assert_same(&desk, &asked(&set), &keep);
        }
    }
}
