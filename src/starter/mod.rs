//! What `pressroll start` writes: two demo kits with loops that play them, and a first loop for any kit.
//!
//! The demo kits are the folders under `kits/`; `kits/make/` made their recordings.

mod balance;
mod first;
mod roles;
mod set;

pub use balance::{Level, balanced};
pub use first::first_loop;
pub use roles::Role;
pub use set::{Chosen, Set};

/// A demo kit with its loops.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Demo {
    /// The name of its folder.
    pub name: &'static str,
    /// Its files: paths relative to the folder, and what is in them.
    pub files: &'static [(&'static str, &'static [u8])],
}

/// The demo kit in a folder under `kits/`, with its files embedded.
macro_rules! demo {
    ($name:literal: $($path:literal)*) => {
        Demo {
            name: $name,
            files: &[$((
                $path,
                include_bytes!(concat!(env!("CARGO_MANIFEST_DIR"), "/kits/", $name, "/", $path)),
            )),*],
        }
    };
}

/// The list of a catalogue of all their loops: a file beside their folders, and what is in it.
pub const CATALOGUE: (&str, &[u8]) = (
    "late-night.toml",
    include_bytes!(concat!(env!("CARGO_MANIFEST_DIR"), "/kits/late-night.toml")),
);

/// The demo kits with their loops.
pub const DEMOS: [Demo; 2] = [
    demo! { "harbour-studio":
        "kick_01.wav" "kick_02.wav" "snare_01.wav" "snare_02.wav" "snare_03.wav" "snare_soft_01.wav"
        "snare_soft_02.wav" "snare-2_01.wav" "snare-2_02.wav" "side-stick_01.wav" "side-stick_02.wav"
        "hat-closed_01.wav" "hat-closed_02.wav" "hat-closed_03.wav" "hat-closed_04.wav" "hat-open_01.wav"
        "hat-open_02.wav" "hat-pedal_01.wav" "hat-pedal_02.wav" "tom-floor_01.wav" "tom-low_01.wav" "tom-high_01.wav"
        "ride_01.wav" "ride-bell_01.wav" "crash_01.wav" "shaker_01.wav" "shaker_02.wav" "shaker_03.wav"
        "woodblock-high_01.wav" "woodblock-low_01.wav" "frame-drum_01.wav" "frame-drum_02.wav" "bass_E1.wav"
        "bass_D2.wav" "guitar_E3.wav" "guitar_B3.wav" "keys_C4.wav" "keys_C5.wav" "vibraphone_C4.wav"
        "vibraphone_C5.wav" "organ_C4.wav" "loops/stairwell.wav" "kit.toml" "loops/night-ferry.toml"
        "loops/weather-sting.toml" "loops/last-lamp.toml" "loops/late-show.toml" "loops/low-tide.toml"
        "loops/high-water.toml" "loops/tide-tables.toml" "loops/eight-bells.toml" "loops/first-boat.toml"
    },
    demo! { "boat-shed":
        "hull-thump_01.wav" "hull-thump_02.wav" "paint-tin_01.wav" "paint-tin_02.wav" "rivet-tap_01.wav"
        "rivet-tap_02.wav" "rivet-tap_03.wav" "chain-drop_01.wav" "winch-click_01.wav" "winch-click_02.wav"
        "rope-slap_01.wav" "rope-slap_02.wav" "plank-knock_01.wav" "plank-knock_02.wav" "oil-drum_01.wav"
        "tarp-rustle_01.wav" "tarp-rustle_02.wav" "bottle_A3.wav" "pipe_E4.wav" "fog-horn_D3.wav" "kit.toml"
        "loops/slipway.toml" "loops/mooring-lines.toml" "loops/barometer.toml"
    },
];
