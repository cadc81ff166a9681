//! `pressroll reference limits`: how much of everything there may be, in one place.

use std::fmt::Display;

use super::{compare, kit, messages, tryout, watch};
use crate::base::audio::{LOUDEST, db_of_gain};
use crate::export::page as listening;
use crate::files::{LONGEST, LONGEST_TEXT, size};
use crate::kit::MOST_SHOTS;
use crate::loopfile::HIGHEST_CENTRE;
use crate::loopfile::limits as song;
use crate::mix::LONGEST_RUN_IN;
use crate::mix::spaces::delay;
use crate::watch::LONGEST_CHANGE;
use crate::{catalogue, midi, project, render, transcription};

/// The word that asks for them.
pub(super) const WORD: &str = "limits";

/// Every limit, under the headings of what it is a limit of.
pub(super) fn page() -> String {
    let minutes = |seconds: f64| format!("{:.0} minutes", seconds / 60.0);
    let mut page = String::from(
        "What is past a limit is refused before memory is taken for it, with an error that names the limit.\n",
    );
    let mut heading = |title: &str, lines: &[(&str, &dyn Display)]| {
        page += &format!("\n{title}\n");
        for (what, most) in lines {
            page += &format!("  {what:<44}  {most}\n");
        }
    };
    heading(
        "a loop, form or kit file",
        &[
            ("its text", &size(LONGEST_TEXT)),
            ("lines and values, strings counted as one", &song::MOST_VALUES),
            ("lists within lists", &"80"),
            ("problems reported one by one", &messages::MOST),
        ],
    );
    heading(
        "a loop",
        &[
            ("bars", &song::MOST_BARS),
            ("its length", &minutes(song::LONGEST)),
            ("parts, doubles counted", &song::MOST_PARTS),
            ("marks, words or steps of a bar", &song::MOST_MARKS),
            ("strokes in all", &song::MOST_STROKES),
            ("buses", &song::MOST_BUSES),
            ("buses on a way to the master", &song::DEEPEST),
            ("bells of a strip", &song::MOST_BELLS),
            ("rooms and delays", &song::MOST_SPACES),
            ("a recorded impulse response", &format!("{} s", song::LONGEST_IMPULSE)),
            ("mixes", &song::MOST_MIXES),
            ("sweeps", &song::MOST_SWEEPS),
            ("letters of a name", &song::LONGEST_NAME),
        ],
    );
    heading(
        "a form",
        &[
            ("sections", &song::MOST_SECTIONS),
            ("repeats of a section", &"1000"),
            ("its length", &minutes(song::LONGEST)),
        ],
    );
    heading(
        "a catalogue",
        &[
            ("previews", &catalogue::MOST_ENTRIES),
            ("combinations of values of a collection", &catalogue::MOST_VARIED),
            ("shards", &catalogue::MOST_SHARDS),
        ],
    );
    heading(
        "a performance",
        &[
            ("its MIDI file", &size(midi::MOST_BYTES)),
            ("events", &midi::MOST_EVENTS),
            ("notes", &midi::MOST_NOTES),
        ],
    );
    heading(
        "a kit",
        &[
            ("one-shots in its folders", &MOST_SHOTS),
            ("a one-shot's or an impulse's file", &size(LONGEST)),
            ("its channels", &"2"),
            ("its rate", &"8000 to 192000 Hz"),
            ("its samples", &format!("+{:.0} dBFS", db_of_gain(LOUDEST.into()))),
        ],
    );
    heading(
        "a render",
        &[
            ("audio in one go", &minutes(render::LONGEST)),
            ("repeats (--repeat)", &"10000"),
            ("its rate (--rate)", &"8000 to 192000 Hz"),
            ("a bell's centre", &format!("{HIGHEST_CENTRE} of its rate")),
            (
                "run-in of a strip in a repeating loop",
                &format!("{LONGEST_RUN_IN:.0} seconds"),
            ),
            ("run-in of a delay in a repeating loop", &minutes(delay::LONGEST_RUN_IN)),
            ("tail after the last bar", &minutes(song::LONGEST_RING)),
            ("a WAV", &"4 GiB"),
            ("threads (RAYON_NUM_THREADS)", &"4 a core"),
        ],
    );
    heading(
        "a recording that is transcribed",
        &[
            ("its length", &minutes(transcription::LONGEST)),
            ("its file", &size(LONGEST)),
        ],
    );
    heading(
        "versions",
        &[
            ("compared at a time", &compare::MOST),
            ("their length together", &minutes(project::compare::LONGEST)),
            ("one-shots tried at a time", &tryout::MOST),
            ("on a listening page", &listening::MOST),
            ("a listening page's length", &minutes(listening::LONGEST)),
            (
                "a loop whose settings are moved by hand",
                &minutes(watch::LONGEST_BY_HAND),
            ),
            ("the text of such a change", &size(LONGEST_CHANGE)),
            ("rounds of a blind test", &listening::MOST_ROUNDS),
            ("one-shots on a page of a kit's picture", &kit::sheet::MOST),
        ],
    );
    page
}
