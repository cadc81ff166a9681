//! A file that is allowed has a bounded cost, whatever stands in it: random loops at the edges of all ranges are held to a bound on the
//! work that they make. Work is counted and not timed, so the answer is the same on every machine.
//!
//! Each kind of work is a [`Bound`]: what was done, by [`Effort`], and the most that a loop may ask for. What makes the loops is [`text`], which
//! takes the keys of a part, of a bus and of the master from the `*_keys` below: a further key at its edges is a line there.

use crate::support::{Desk, click, pluck};
use pressroll::internals::kit::Kit;
use pressroll::internals::loopfile::{self, Changes, Draft, Loop, Part};
use pressroll::internals::mix::{Effort, LONGEST_RUN_IN};
use pressroll::internals::render::render;
use pressroll::{Order, Rendered};
use proptest::prelude::*;

/// Low, so that a minute of run-in is soon done. What is bounded in seconds is bounded so at every rate.
const RATE: u32 = 8000;

/// Frames of the longest one-shot.
const LONGEST_SHOT: u64 = 14_400;

/// The most frames that strips begin before their run-in: it is rounded up to blocks, and they look ahead.
const BEFORE: u64 = 5 * 16_384;

/// One kind of work, and the most of it.
struct Bound {
    what: &'static str,
    done: fn(&Effort) -> u64,
    most: fn(&Loop, &Rendered) -> u64,
}

const BOUNDS: [Bound; 2] = [STRIPS, SOUNDS];

const STRIPS: Bound = Bound {
    what: "frames that strips run",
    done: |effort| effort.strip_frames,
    most: |song, rendered| {
        // Each once, with the longest run-in; parts that are ducked under once more for each release; the master.
        let ducks = song.parts.iter().filter(|part| part.strip.duck.is_some()).count();
        let strips = song.parts.len() + song.buses.len() + ducks + 1;
        let run_in = (LONGEST_RUN_IN * f64::from(RATE)) as u64;
        strips as u64 * (rendered.audio.frames() as u64 + run_in + BEFORE)
    },
};

/// Sounds of a part are varied in so many steps, and played four octaves down at the lowest.
const STEPS: u64 = 16;
const SLOWEST: u64 = 16;

const SOUNDS: Bound = Bound {
    what: "frames of sounds",
    done: |effort| effort.sound_frames,
    most: |song, _| {
        let of_part = |part: &Part| {
            let sound = &part.pieces[0].sound;
            let whole = SLOWEST * LONGEST_SHOT * u64::from(RATE) / 48_000;
            // An envelope ends a hit within its time and a fade; what is made is rounded up, by an eighth at the most.
            let spent = sound.envelope.as_ref().map_or(whole, |envelope| {
                let seconds = envelope.attack + envelope.hold + envelope.decay.unwrap_or(60.0) + sound.start + 0.006;
                2 * (seconds * f64::from(RATE)) as u64 + 2
            });
            STEPS * spent.min(whole)
        };
        song.parts.iter().map(of_part).sum()
    },
};

fn rendered(desk: &Desk, text: &str) -> (Loop, Rendered) {
    let path = desk.write("loop.toml", text);
    let Draft::Loop(draft) =
        loopfile::read(&path, &Changes::default()).unwrap_or_else(|problems| panic!("{problems}\n{text}"))
    else {
        panic!("a loop")
    };
    let kit = Kit::open(draft.kits(), &[]).expect("the kit opens");
    let song = draft.resolve(kit.defaults());
    let order = Order {
        rate: RATE,
        rounds: 1,
        ..Order::default()
    };
    let rendered = render(&song, &kit, &order, &|_| ()).unwrap_or_else(|problems| panic!("{problems}\n{text}"));
    (song, rendered)
}

fn desk() -> Desk {
    let desk = Desk::new();
    desk.one_shot("kick.wav", &[pluck(60.0, 0.3, 0.8)]);
    desk.one_shot("snare.wav", &[click(), click()]);
    desk
}

/// A number at one edge of its range, at the other, or between.
fn edgy(low: f64, high: f64) -> impl Strategy<Value = f64> {
    prop_oneof![Just(low), Just(high), low..=high]
}

/// Keys of a strip, at the edges of their ranges.
fn strip_keys() -> impl Strategy<Value = String> {
    let bell = || {
        let numbers = (edgy(10.0, 3600.0), edgy(-40.0, 40.0), edgy(0.05, 10.0));
        numbers.prop_map(|(at, gain, width)| format!("{{ at = {at}, gain = {gain}, width = {width} }}"))
    };
    let bells = prop_oneof![
        Just(Vec::new()),
        prop::collection::vec(bell(), 1..4),
        bell().prop_map(|bell| vec![bell; 32]),
    ];
    let cut = || prop::option::of(edgy(10.0, 24_000.0));
    let compress = (edgy(-100.0, 0.0), edgy(1.0, 100.0), edgy(0.0, 100.0));
    let drive = prop::option::of((edgy(0.0, 40.0), edgy(10.0, 24_000.0)));
    (cut(), cut(), bells, prop::option::of(compress), drive).prop_map(|(low, high, bells, compress, drive)| {
        let mut keys = format!("eq = [{}]\n", bells.join(", "));
        keys += &low.map_or(String::new(), |hz| format!("low_cut = {hz}\n"));
        keys += &high.map_or(String::new(), |hz| format!("high_cut = {hz}\n"));
        keys += &compress.map_or(String::new(), |(threshold, ratio, blend)| {
            format!("compress = {{ threshold = {threshold}, ratio = {ratio}, blend = {blend} }}\n")
        });
        keys + &drive.map_or(String::new(), |(amount, cut)| {
            format!("drive = {{ amount = {amount}, high_cut = {cut} }}\n")
        })
    })
}

/// Keys of a part that change its sounds, at the edges of their ranges.
fn sound_keys() -> impl Strategy<Value = String> {
    let envelope = prop::option::of((edgy(0.0, 50.0), edgy(1.0, 200.0)));
    let keys = (
        edgy(-48.0, 48.0),
        edgy(0.0, 24.0),
        envelope,
        any::<bool>(),
        edgy(0.0, 100.0),
    );
    keys.prop_map(|(tune, vary, envelope, reverse, dark)| {
        let envelope = envelope.map_or(String::new(), |(hold, decay)| {
            format!("envelope = {{ hold = {hold}, decay = {decay} }}\n")
        });
        format!("tune = {tune}\nvary = {{ tune = {vary} }}\nreverse = {reverse}\ndark = {dark}\n{envelope}")
    })
}

/// A loop of one part with dense hits, or few.
fn sounds() -> impl Strategy<Value = String> {
    let hits = prop_oneof![Just("x---"), Just("xxxxxxxxxxxxxxxx")];
    let metre = prop_oneof![Just("1/16"), Just("4/4")];
    (edgy(5.0, 400.0), metre, hits, sound_keys()).prop_map(|(tempo, metre, hits, keys)| {
        format!(
            "[loop]\ntempo = {tempo}\nmetre = \"{metre}\"\nbars = 1\n[tab]\nall = \"kick {hits}\"\n\
             [[part]]\nname = \"kick\"\n{keys}"
        )
    })
}

/// A loop of two parts through a bus. Parts may have nothing to play.
fn text() -> impl Strategy<Value = String> {
    let hits = || prop_oneof![Just("x---"), Just("----")];
    let strips = [strip_keys(), strip_keys(), strip_keys(), strip_keys()];
    (edgy(5.0, 400.0), hits(), hits(), any::<bool>(), strips).prop_map(|(tempo, kick, snare, duck, strips)| {
        let [of_kick, of_snare, of_bus, of_master] = strips;
        let duck = if duck { "duck = { by = \"kick\", depth = 6 }\n" } else { "" };
        format!(
            "[loop]\ntempo = {tempo}\nbars = 1\n[tab]\nall = '''\nkick {kick}\nsnare {snare}\n'''\n\
             [[part]]\nname = \"kick\"\nbus = \"all\"\n{of_kick}[[part]]\nname = \"snare\"\nbus = \"all\"\n{duck}{of_snare}\
             [[bus]]\nname = \"all\"\n{of_bus}[master]\n{of_master}"
        )
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, max_shrink_iters: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn whatever_is_allowed_has_a_bounded_cost(text in prop_oneof![text(), sounds()]) {
        let (song, rendered) = rendered(&desk(), &text);
        for Bound { what, done, most } in BOUNDS {
            let (done, most) = (done(&rendered.effort), most(&song, &rendered));
            prop_assert!(done <= most, "{}: {} where {} are the most\n{}", what, done, most, text);
        }
        prop_assert!(rendered.audio.channels.iter().flatten().all(|sample| sample.is_finite()));
    }
}

const PLAIN: &str = "[loop]\ntempo = 120\nbars = 1\n[tab]\nall = \"kick x-x-\"\n";

/// Bells that ring for minutes.
fn ringing(count: usize) -> String {
    format!("eq = [{}]\n", "{ at = 10, gain = 40, width = 0.05 }, ".repeat(count))
}

#[test]
fn a_strip_that_plays_nothing_costs_nothing() {
    let desk = desk();
    let (_, plain) = rendered(&desk, PLAIN);
    // A bar has 16,000 frames; between its hits the strip rests.
    assert!((1..16_000).contains(&plain.effort.strip_frames), "{:?}", plain.effort);
    let idle = |hits: &str| {
        format!(
            "{PLAIN}[[part]]\nname = \"snare\"\nhits = \"{hits}\"\nbus = \"idle\"\n{}\
             [[bus]]\nname = \"idle\"\nbus = \"outer\"\n{}[[bus]]\nname = \"outer\"\n{}",
            ringing(8),
            ringing(8),
            ringing(8)
        )
    };
    let (_, silent) = rendered(&desk, &idle("----"));
    assert_eq!(silent.effort, plain.effort);
    assert!(silent.audio == plain.audio);
    // The same strips with one hit do cost something, so the count counts.
    let (_, playing) = rendered(&desk, &idle("x---"));
    assert!(playing.effort.strip_frames > 3 * plain.effort.strip_frames);
    // What ducks under a part that plays nothing does not follow it.
    let ducked = |by: &str| {
        format!(
            "{}[[part]]\nname = \"kick\"\nduck = {{ by = \"{by}\", depth = 6 }}\n",
            idle("----")
        )
    };
    assert_eq!(rendered(&desk, &ducked("snare")).1.effort, plain.effort);
}

#[test]
fn bells_that_die_soon_are_not_run_in_for_long() {
    let desk = desk();
    let (song, plain) = rendered(&desk, PLAIN);
    assert_eq!(song.parts.len(), 1);
    for bells in [
        "{ at = 3600, gain = 3 }, ",
        "{ at = 3600, gain = 40, width = 0.5 }, ",
        "{ at = 500, gain = 0, width = 0.05 }, ",
    ] {
        let (_, rung) = rendered(
            &desk,
            &format!("{PLAIN}[[part]]\nname = \"kick\"\neq = [{}]\n", bells.repeat(8)),
        );
        // One block at the most.
        assert!(
            rung.effort.strip_frames <= plain.effort.strip_frames + 16_384,
            "{bells}: {:?}",
            rung.effort
        );
    }
}
