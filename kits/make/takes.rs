//! Which recordings each demo kit holds.

use std::path::PathBuf;

use rayon::prelude::*;

use crate::metal::{self, Cymbal};
use crate::skins::{self, Snare, stroke};
use crate::workshop::{Line, Place, finish};
use crate::{pack, pitched, shed, small, stairwell};

/// A recording: its file's name, peak in dB of full scale, seconds of fading at its end, and how it is made.
type Take = (&'static str, f64, f64, fn() -> Line);

/// The studio: small, with curtains.
const STUDIO: Place = Place {
    name: "studio",
    wall: 0.0031,
    decay: 0.16,
    dull: 5200.0,
};
/// The shed: a larger room of planks.
const SHED: Place = Place {
    name: "shed",
    wall: 0.0055,
    decay: 0.27,
    dull: 4200.0,
};

/// The deep snare of the studio's own drums.
const SNARE: Snare = Snare {
    name: "snare",
    hz: 178.0,
    decay: 0.2,
    rattle: 0.26,
    wires: 1.0,
    shell: 925.0,
};
/// A shallow one, tuned high and dry.
const PICCOLO: Snare = Snare {
    name: "snare-2",
    hz: 262.0,
    decay: 0.13,
    rattle: 0.17,
    wires: 2.0,
    shell: 1390.0,
};

const HATS: Cymbal = Cymbal {
    name: "hats",
    tones: 240,
    range: (420.0, 17_500.0),
    centre: 10_000.0,
    slopes: (9.0, 3.5),
    decay: 0.1,
    damping: 1.0,
    climb: 0.0004,
};
const OPEN: Cymbal = Cymbal {
    decay: 1.3,
    damping: 0.9,
    climb: 0.003,
    slopes: (4.5, 5.0),
    ..HATS
};
const TRODDEN: Cymbal = Cymbal {
    decay: 0.075,
    damping: 1.02,
    climb: 0.004,
    slopes: (5.5, 4.0),
    ..HATS
};
const RIDE: Cymbal = Cymbal {
    name: "ride",
    tones: 260,
    range: (330.0, 16_500.0),
    centre: 7500.0,
    slopes: (5.0, 3.5),
    decay: 1.9,
    damping: 0.8,
    climb: 0.006,
};
const CRASH: Cymbal = Cymbal {
    name: "crash",
    tones: 420,
    range: (250.0, 17_000.0),
    centre: 5600.0,
    slopes: (4.5, 3.0),
    decay: 2.2,
    damping: 0.84,
    climb: 0.009,
};

/// Levels stand as one player would balance them. A soft layer's top, velocity 64, lies 12 dB under the hard takes,
/// where velocity's law, 40·log10(v/127), has them at 64: no step between the layers.
const STUDIO_TAKES: &[Take] = &[
    ("kick_01", -1.5, 0.1, || skins::kick(STUDIO, stroke(1, 0.9, 0.1))),
    ("kick_02", -2.3, 0.1, || skins::kick(STUDIO, stroke(2, 0.75, 0.16))),
    ("snare_01", -1.2, 0.06, || {
        skins::snare(SNARE, STUDIO, stroke(1, 0.95, 0.35))
    }),
    ("snare_02", -1.8, 0.06, || {
        skins::snare(SNARE, STUDIO, stroke(2, 0.86, 0.25))
    }),
    ("snare_03", -2.2, 0.06, || {
        skins::snare(SNARE, STUDIO, stroke(3, 0.9, 0.5))
    }),
    ("snare_soft_01", -13.0, 0.06, || {
        skins::snare(SNARE, STUDIO, stroke(4, 0.35, 0.55))
    }),
    ("snare_soft_02", -13.8, 0.06, || {
        skins::snare(SNARE, STUDIO, stroke(5, 0.28, 0.45))
    }),
    ("snare-2_01", -2.0, 0.05, || {
        skins::snare(PICCOLO, STUDIO, stroke(1, 0.9, 0.4))
    }),
    ("snare-2_02", -2.8, 0.05, || {
        skins::snare(PICCOLO, STUDIO, stroke(2, 0.8, 0.3))
    }),
    ("side-stick_01", -5.0, 0.04, || {
        skins::side_stick(STUDIO, stroke(1, 0.8, 0.9))
    }),
    ("side-stick_02", -5.6, 0.04, || {
        skins::side_stick(STUDIO, stroke(2, 0.7, 0.8))
    }),
    ("hat-closed_01", -6.5, 0.04, || {
        metal::hat(HATS, STUDIO, 0.15, -3.0, -3.0, stroke(1, 0.9, 0.5))
    }),
    ("hat-closed_02", -7.5, 0.04, || {
        metal::hat(HATS, STUDIO, 0.15, -4.0, -5.0, stroke(2, 0.7, 0.5))
    }),
    ("hat-closed_03", -7.0, 0.04, || {
        metal::hat(HATS, STUDIO, 0.15, -3.5, -4.0, stroke(3, 0.8, 0.5))
    }),
    ("hat-closed_04", -8.0, 0.04, || {
        metal::hat(HATS, STUDIO, 0.15, -4.0, -6.0, stroke(4, 0.6, 0.5))
    }),
    ("hat-open_01", -6.0, 0.3, || {
        metal::hat(OPEN, STUDIO, 0.65, -3.0, -4.0, stroke(1, 0.9, 0.5))
    }),
    ("hat-open_02", -6.8, 0.3, || {
        metal::hat(OPEN, STUDIO, 0.65, -4.0, -5.0, stroke(2, 0.75, 0.5))
    }),
    ("hat-pedal_01", -9.0, 0.05, || {
        metal::hat(TRODDEN, STUDIO, 0.15, -4.0, -14.0, stroke(1, 0.5, 0.5))
    }),
    ("hat-pedal_02", -9.6, 0.05, || {
        metal::hat(TRODDEN, STUDIO, 0.15, -4.0, -15.0, stroke(2, 0.45, 0.5))
    }),
    ("tom-floor_01", -2.0, 0.2, || {
        skins::tom("tom-floor", 76.0, 0.8, STUDIO, stroke(1, 0.85, 0.3))
    }),
    ("tom-low_01", -2.4, 0.15, || {
        skins::tom("tom-low", 104.0, 0.65, STUDIO, stroke(1, 0.85, 0.3))
    }),
    ("tom-high_01", -2.8, 0.12, || {
        skins::tom("tom-high", 148.0, 0.52, STUDIO, stroke(1, 0.85, 0.3))
    }),
    ("ride_01", -6.0, 0.6, || {
        metal::ride(RIDE, STUDIO, 1.2, 0.0, stroke(1, 0.8, 0.5))
    }),
    ("ride-bell_01", -6.0, 0.5, || {
        metal::ride(RIDE, STUDIO, 0.9, 1.0, stroke(2, 0.8, 0.1))
    }),
    ("crash_01", -3.5, 0.9, || {
        metal::crash(CRASH, STUDIO, 1.5, stroke(1, 0.95, 0.9))
    }),
    ("shaker_01", -9.0, 0.03, || {
        small::shaker(STUDIO, 0.13, stroke(1, 0.9, 0.5))
    }),
    ("shaker_02", -10.5, 0.03, || {
        small::shaker(STUDIO, 0.13, stroke(2, 0.55, 0.5))
    }),
    ("shaker_03", -9.6, 0.03, || {
        small::shaker(STUDIO, 0.13, stroke(3, 0.8, 0.5))
    }),
    ("woodblock-high_01", -6.5, 0.03, || {
        small::wood_block("woodblock-high", 1130.0, STUDIO, stroke(1, 0.8, 0.5))
    }),
    ("woodblock-low_01", -6.5, 0.03, || {
        small::wood_block("woodblock-low", 815.0, STUDIO, stroke(1, 0.8, 0.5))
    }),
    ("frame-drum_01", -3.5, 0.15, || {
        skins::frame_drum(STUDIO, stroke(1, 0.8, 0.35))
    }),
    ("frame-drum_02", -5.0, 0.12, || {
        skins::frame_drum(STUDIO, stroke(2, 0.6, 0.7))
    }),
    ("bass_E1", -3.0, 0.35, || pitched::bass(28, STUDIO, 1)),
    ("bass_D2", -3.6, 0.35, || pitched::bass(38, STUDIO, 2)),
    ("guitar_E3", -6.0, 0.35, || pitched::guitar(52, STUDIO, 1)),
    ("guitar_B3", -6.5, 0.35, || pitched::guitar(59, STUDIO, 2)),
    ("keys_C4", -6.0, 0.5, || pitched::keys(60, STUDIO, 1)),
    ("keys_C5", -7.0, 0.4, || pitched::keys(72, STUDIO, 2)),
    ("vibraphone_C4", -6.0, 0.6, || pitched::vibraphone(60, STUDIO, 1)),
    ("vibraphone_C5", -6.5, 0.5, || pitched::vibraphone(72, STUDIO, 2)),
];

const SHED_TAKES: &[Take] = &[
    ("hull-thump_01", -1.5, 0.08, || {
        shed::hull_thump(SHED, stroke(1, 0.9, 0.5))
    }),
    ("hull-thump_02", -2.6, 0.08, || {
        shed::hull_thump(SHED, stroke(2, 0.7, 0.5))
    }),
    ("paint-tin_01", -2.0, 0.06, || {
        shed::paint_tin(SHED, stroke(1, 0.9, 0.5))
    }),
    ("paint-tin_02", -3.0, 0.06, || {
        shed::paint_tin(SHED, stroke(2, 0.65, 0.5))
    }),
    ("rivet-tap_01", -7.0, 0.03, || {
        shed::rivet_tap(SHED, stroke(1, 0.9, 0.5))
    }),
    ("rivet-tap_02", -8.2, 0.03, || {
        shed::rivet_tap(SHED, stroke(2, 0.6, 0.5))
    }),
    ("rivet-tap_03", -7.6, 0.03, || {
        shed::rivet_tap(SHED, stroke(3, 0.75, 0.5))
    }),
    ("chain-drop_01", -4.0, 0.15, || {
        shed::chain_drop(SHED, stroke(1, 0.9, 0.5))
    }),
    ("winch-click_01", -8.0, 0.03, || {
        shed::winch_click(SHED, stroke(1, 0.8, 0.5))
    }),
    ("winch-click_02", -9.0, 0.03, || {
        shed::winch_click(SHED, stroke(2, 0.7, 0.5))
    }),
    ("rope-slap_01", -3.5, 0.05, || {
        shed::rope_slap(SHED, stroke(1, 0.8, 0.5))
    }),
    ("rope-slap_02", -4.5, 0.05, || {
        shed::rope_slap(SHED, stroke(2, 0.7, 0.5))
    }),
    ("plank-knock_01", -4.0, 0.04, || {
        shed::plank_knock(SHED, stroke(1, 0.8, 0.5))
    }),
    ("plank-knock_02", -4.8, 0.04, || {
        shed::plank_knock(SHED, stroke(2, 0.7, 0.5))
    }),
    ("oil-drum_01", -2.0, 0.2, || shed::oil_drum(SHED, stroke(1, 0.85, 0.5))),
    ("tarp-rustle_01", -9.0, 0.05, || {
        shed::tarp_rustle(SHED, stroke(1, 0.8, 0.5))
    }),
    ("tarp-rustle_02", -10.0, 0.05, || {
        shed::tarp_rustle(SHED, stroke(2, 0.7, 0.5))
    }),
    ("bottle_A3", -5.0, 0.3, || shed::bottle(SHED, stroke(1, 0.8, 0.5))),
    ("pipe_E4", -6.0, 0.35, || shed::pipe(SHED, stroke(1, 0.8, 0.5))),
    ("fog-horn_D3", -4.0, 0.15, || shed::fog_horn(SHED, stroke(1, 0.8, 0.5))),
];

/// Every recording as a WAV, by its path below `kits/`.
pub fn recordings() -> Vec<(PathBuf, Vec<u8>)> {
    let mut files = record("harbour-studio", STUDIO_TAKES);
    let organ = finish(pitched::organ(STUDIO, 1), -8.0, pitched::ORGAN_TAIL);
    let organ = pack::wav("organ_C4", &[organ], Some(pitched::ORGAN_ROUND));
    files.push((PathBuf::from("harbour-studio/organ_C4.wav"), organ));
    let stairs = pack::wav("stairwell", &stairwell::stairwell(), None);
    files.push((PathBuf::from("harbour-studio/loops/stairwell.wav"), stairs));
    files.extend(record("boat-shed", SHED_TAKES));
    files
}

fn record(kit: &str, takes: &[Take]) -> Vec<(PathBuf, Vec<u8>)> {
    takes
        .par_iter()
        .map(|(name, peak_db, fade, make)| {
            let line = finish(make(), *peak_db, *fade);
            (
                PathBuf::from(format!("{kit}/{name}.wav")),
                pack::wav(name, &[line], None),
            )
        })
        .collect()
}
