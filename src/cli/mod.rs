//! The command line: one file a command, each a few calls into the rooms.

mod chart;
mod check;
mod chords;
mod compare;
#[cfg(test)]
mod counts;
mod kit;
mod limits;
mod manual;
mod measure;
mod options;
mod output;
mod picture;
mod play;
mod player;
mod process;
mod progress;
mod reference;
mod render;
mod replace;
mod start;
mod strip;
mod summary;
mod telling;
mod tryout;
mod verify;
mod versions;
mod watch;

use std::borrow::Cow;
use std::process::ExitCode;

use clap::{Parser, Subcommand};

use crate::text::{Problems, shown};

/// Turns a loop file and a folder of one-shot WAVs into a finished stereo WAV.
#[derive(Parser)]
#[command(name = "pressroll", version, max_term_width = 100, propagate_version = true)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Make the demo kits and their loops in a folder, or a first loop for a kit of your own
    Start(start::Start),
    /// Render a loop or a form to a WAV
    Render(render::Render),
    /// Render a loop and its mixes, or a setting at several values, at matched loudness
    Compare(compare::Compare),
    /// Render a loop and play it round and round through the system's player
    Play(play::Play),
    /// Render a loop again whenever it, its kit or its MIDI is saved
    Watch(watch::Watch),
    /// Render a loop once with each one-shot of a folder in a piece's place, at matched loudness
    Tryout(tryout::Tryout),
    /// Tell what a folder of one-shots holds, piece by piece, with what is wrong with it
    Kit(kit::KitCommand),
    /// Print the groove as a musician reads it: bars, counts, marks
    Chart(chart::Chart),
    /// List the chords of a key with their tones, or name a chord from its notes
    Chords(chords::Chords),
    /// Find what is wrong or unlikely in a loop, and render nothing
    Check(check::Check),
    /// Loudness, true peak, range, seam and mono loss of WAVs, AIFFs or FLACs
    Measure(measure::Measure),
    /// Print a chapter of the manual, or write all of it as an HTML page
    Manual(manual::Manual),
    /// Explain a key of the loop file, a mark, or a command
    Reference(reference::Reference),
}

/// Runs the program: 0 done, 1 the input or the machine would not let it, 2 wrong usage.
pub fn run() -> ExitCode {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(told) => return answered(&told),
    };
    process::prepare();
    ended(match arguments.command {
        Command::Start(command) => command.run(),
        Command::Render(command) => command.run(),
        Command::Compare(command) => command.run(),
        Command::Play(command) => command.run(),
        Command::Watch(command) => command.run(),
        Command::Tryout(command) => command.run(),
        Command::Kit(command) => command.run(),
        Command::Chart(command) => command.run(),
        Command::Chords(command) => command.run(),
        Command::Check(command) => command.run(),
        Command::Measure(command) => command.run(),
        Command::Manual(command) => command.run(),
        Command::Reference(command) => command.run(),
    })
}

/// Prints help or the version, where they were asked for, else what is wrong with the usage.
fn answered(told: &clap::Error) -> ExitCode {
    // What was typed stands in it: where that steers, nothing is styled.
    let page = match shown(&told.render().to_string()) {
        Cow::Borrowed(_) => told.render().ansi().to_string(),
        Cow::Owned(plain) => plain,
    };
    if told.use_stderr() {
        output::to_stderr(page.trim_end());
        return ExitCode::from(2);
    }
    ended(output::styled_to_stdout(page.trim_end()).map_err(Problems::from))
}

/// Reports what kept a command from being done; how the process ends.
fn ended(done: Done) -> ExitCode {
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(problems) => {
            telling::tell_problems(&problems);
            ExitCode::FAILURE
        }
    }
}

/// What every command answers.
type Done = Result<(), Problems>;
