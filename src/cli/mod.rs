//! The command line: one file a command, each a few calls.
//!
//! In: arguments. Out: files, text and an exit code. It knows nothing of signal processing.

mod balance;
mod buses;
mod catalogue;
mod chart;
mod check;
mod chords;
mod compare;
#[cfg(test)]
mod counts;
mod kit;
mod lesson;
mod limits;
mod manual;
mod measure;
mod messages;
mod musicxml;
mod options;
mod output;
mod paper;
mod picture;
mod play;
mod player;
mod process;
mod progress;
mod reference;
mod render;
mod replace;
mod report;
mod results;
mod start;
mod summary;
mod transcribe;
mod tryout;
mod verify;
mod versions;
mod watch;
mod waveform;

use std::borrow::Cow;
use std::process::ExitCode;

use clap::{Arg, ArgAction, CommandFactory, FromArgMatches, Parser, Subcommand};

use crate::text::{Problems, shown};

/// Turns a loop file and a folder of one-shot WAVs into a finished stereo WAV.
#[derive(Parser)]
#[command(name = "pressroll", version, max_term_width = 80)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
    /// Listen to one-shots anew, whatever was found in them before
    #[arg(long, global = true, hide = true)]
    fresh: bool,
}

#[derive(Subcommand)]
enum Command {
    /// Make the demo kits and their loops, or a first loop for a kit of your own
    #[command(after_help = "Examples:\n  pressroll start demo\n  pressroll start . --kit my-shots")]
    Start(start::Start),
    /// Render a loop or a form to a WAV
    #[command(
        after_help = "Examples:\n  pressroll render first.toml\n  pressroll render first.toml --set snare.room=-10 --stems buses"
    )]
    Render(render::Render),
    /// Render versions of a loop at matched loudness, with a listening page
    #[command(
        after_help = "Examples:\n  pressroll compare first.toml --vary drums.drive=0,3,6\n  pressroll compare first.toml --bypass drums"
    )]
    Compare(compare::Compare),
    /// Render a loop and play it, repeating, until Ctrl-C
    #[command(
        after_help = "Examples:\n  pressroll play first.toml\n  pressroll play first.toml --only snare --bars 5-8"
    )]
    Play(play::Play),
    /// Render a loop again whenever it, its kit or its MIDI is saved
    #[command(
        after_help = "Examples:\n  pressroll watch first.toml --page --show snare.room,kick.drive\n  pressroll watch first.toml --play"
    )]
    Watch(watch::Watch),
    /// Render a loop with each one-shot of a folder in a piece's place
    #[command(
        after_help = "Examples:\n  pressroll tryout first.toml snare my-snares\n  pressroll tryout first.toml kick my-kicks --by length"
    )]
    Tryout(tryout::Tryout),
    /// Render previews of many loops on many kits, with an index
    #[command(
        after_help = "Examples:\n  pressroll catalogue beds.toml --dry\n  pressroll catalogue beds.toml --shard 3/8"
    )]
    Catalogue(catalogue::CatalogueCommand),
    /// Merge what listeners answered on a listening page
    #[command(
        after_help = "Examples:\n  pressroll results ines.json tove.json\n  pressroll results *.json --picture renders/heard.svg"
    )]
    Results(results::ResultsCommand),
    /// Report what a folder of one-shots holds, piece by piece
    #[command(after_help = "Examples:\n  pressroll kit my-shots --write\n  pressroll kit my-shots --like my-snare.wav")]
    Kit(kit::KitCommand),
    /// Print the groove as a musician reads it: bars, counts, marks, chords
    #[command(after_help = "Examples:\n  pressroll chart first.toml\n  pressroll chart first.toml --page")]
    Chart(chart::Chart),
    /// List the chords of a key, name a chord, explain chord symbols
    #[command(
        after_help = "Examples:\n  pressroll chords \"G minor\"\n  pressroll chords --symbol \"Dm9 | G13 | Cmaj9\" --in \"C major\""
    )]
    Chords(chords::Chords),
    /// Find what is wrong or unlikely in a loop, and render nothing
    #[command(after_help = "Examples:\n  pressroll check first.toml\n  pressroll check first.toml --mix harder")]
    Check(check::Check),
    /// Propose gains by how loud each part is where it plays
    #[command(
        after_help = "Examples:\n  pressroll balance first.toml\n  pressroll balance first.toml --aim keys=-8 --write\n\nThe roles and their levels: see pressroll manual shaping"
    )]
    Balance(balance::BalanceCommand),
    /// Transcribe a recording of one player into lines of a loop file
    #[command(
        after_help = "Examples:\n  pressroll transcribe taps.wav --sounds \"kick snare\"\n  pressroll transcribe hummed.wav --as notes -o melody.toml"
    )]
    Transcribe(transcribe::Transcribe),
    /// Measure loudness, true peak, range, seam and mono loss of recordings
    #[command(
        after_help = "Examples:\n  pressroll measure renders/first.wav\n  pressroll measure --json renders/first.wav my-single.wav"
    )]
    Measure(measure::Measure),
    /// Print a chapter of the manual, or write all of it as an HTML page
    #[command(after_help = "Examples:\n  pressroll manual kits\n  pressroll manual --page")]
    Manual(manual::Manual),
    /// Explain a key of the loop file, a mark or a command
    #[command(after_help = "Examples:\n  pressroll reference compress.ratio\n  pressroll reference --schema loop")]
    Reference(reference::Reference),
}

/// The command line as it is parsed, helped with and documented. The help of a command fits a screen: one line an option, and
/// neither `--help` nor `--version` among them.
fn command_line() -> clap::Command {
    let flag = |name: &'static str, short, action| Arg::new(name).long(name).short(short).action(action).hide(true);
    Arguments::command().mut_subcommands(|command| {
        command
            .disable_help_flag(true)
            .disable_version_flag(true)
            .version(env!("CARGO_PKG_VERSION"))
            .arg(flag("help", 'h', ArgAction::Help))
            .arg(flag("version", 'V', ArgAction::Version))
    })
}

/// Runs the program: 0 done, 1 the input or the machine would not let it, 2 wrong usage.
pub fn run() -> ExitCode {
    let parsed = command_line().try_get_matches();
    let arguments = match parsed.and_then(|matches| Arguments::from_arg_matches(&matches)) {
        Ok(arguments) => arguments,
        Err(told) => return answered(&told),
    };
    process::prepare();
    process::remember(arguments.fresh);
    ended(match arguments.command {
        Command::Start(command) => command.run(),
        Command::Render(command) => command.run(),
        Command::Compare(command) => command.run(),
        Command::Play(command) => command.run(),
        Command::Watch(command) => command.run(),
        Command::Tryout(command) => command.run(),
        Command::Catalogue(command) => command.run(),
        Command::Results(command) => command.run(),
        Command::Kit(command) => command.run(),
        Command::Chart(command) => command.run(),
        Command::Chords(command) => command.run(),
        Command::Check(command) => command.run(),
        Command::Balance(command) => command.run(),
        Command::Transcribe(command) => command.run(),
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
            messages::report_problems(&problems);
            ExitCode::FAILURE
        }
    }
}

/// What every command answers.
type Done = Result<(), Problems>;
