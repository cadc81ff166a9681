//! The promises that pressroll makes, one file a promise, in one program: linking it once takes a fraction of the time that
//! a program for each takes. What asks how much memory its own process takes stands alone: `midi_damage`.

mod support;

mod accents;
#[cfg(target_os = "linux")]
mod allocator;
mod at_hand;
mod awkward;
mod bad_input;
mod balance;
#[cfg(unix)]
mod bounds;
mod bus_figures;
mod care;
mod catalogue;
mod ceiling;
mod chart;
mod check;
mod choke;
mod chords;
mod circle;
mod compare;
mod credits;
mod decay;
mod demo_band;
mod ears;
mod echoes;
mod effort;
mod expression;
#[cfg(unix)]
mod faults;
mod find;
mod form;
mod form_ends;
mod form_sections;
mod form_stems;
mod form_sweeps;
mod form_words;
mod fuzz_replay;
#[cfg(unix)]
mod hands;
mod harmony;
mod hashes;
mod headroom;
mod held_loops;
mod hints;
mod keep;
mod kit;
mod layer_crossfade;
mod lend;
mod lesson;
mod licences;
mod like;
#[cfg(unix)]
mod links;
mod listened;
mod loose;
#[cfg(unix)]
mod manual;
mod master_duck;
mod measure;
mod midi;
mod midi_back;
mod midi_in;
mod midi_out;
mod midi_pitched;
mod musicxml;
mod names;
mod notes;
mod one_drummer;
mod onsets;
mod output;
mod page;
mod pan;
mod part_change;
#[cfg(unix)]
mod paths;
mod phrases;
mod pictures;
mod pitch;
#[cfg(unix)]
mod readme;
mod reference_dynamics;
mod reference_filters;
mod reference_formats;
mod reference_loudness;
mod reference_resample;
mod reference_room;
#[cfg(unix)]
mod replace;
mod results;
mod rolls;
mod rudiments;
mod sameness;
#[cfg(unix)]
mod shown;
mod sides;
mod start;
mod starter;
mod staves;
mod stems;
mod strip_laws;
mod strums;
mod suggestions;
mod swap;
mod sweeps;
mod transcribe;
mod transcribe_kit;
mod transcribe_notes;
mod tryout;
mod tutti;
mod velocity;
mod versions;
#[cfg(unix)]
mod watch;
mod wav_dialects;
mod written_notes;
mod written_zones;
mod wrong_usage;
