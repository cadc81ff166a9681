//! Options that several commands share.

use std::ffi::{OsStr, OsString};
use std::path::PathBuf;

use clap::builder::{OsStringValueParser, TypedValueParser};
use clap::{Args, ValueEnum};

use crate::loopfile::Ending;
use crate::project::{self, Project};
use crate::render::{Order, STANDARD_RATE};
use crate::wav::Coding;

/// What to take, and what to change in it for this once.
#[derive(Args, Clone)]
#[command(next_help_heading = "The loop")]
pub(super) struct LoopOptions {
    /// A loop file or a form file
    #[arg(value_name = "LOOP")]
    pub file: PathBuf,
    /// Play the one-shots of this folder as its kit
    #[arg(long, value_name = "FOLDER")]
    pub kit: Option<PathBuf>,
    /// Play this one-shot as that piece; repeatable
    #[arg(long, value_name = "PIECE=FILE", value_parser = OsStringValueParser::new().try_map(swap))]
    pub swap: Vec<(String, PathBuf)>,
    /// For missing percussion, substitute the closest piece
    #[arg(long)]
    pub lend: bool,
    /// Change a key, as in snare.room=-10; repeatable
    #[arg(long, value_name = "KEY=VALUE", value_parser = pair)]
    pub set: Vec<(String, String)>,
    /// Render this mix
    #[arg(long, value_name = "NAME")]
    pub mix: Option<String>,
    /// Play these parts or buses alone, as in kick,snare
    #[arg(long, value_name = "PARTS", value_delimiter = ',')]
    pub only: Vec<String>,
    /// Silence these parts or buses
    #[arg(long, value_name = "PARTS", value_delimiter = ',')]
    pub without: Vec<String>,
    /// Take these bars alone, as in 5-8
    #[arg(long, value_name = "A-B", value_parser = bars)]
    pub bars: Option<(u32, u32)>,
    /// Random seed, in place of the file's
    #[arg(long, value_name = "N")]
    pub seed: Option<u64>,
}

impl LoopOptions {
    /// The file, with the changes that these options ask for.
    pub(super) fn project(&self, ending: Option<EndingName>) -> project::Options {
        let mut options = Project::options(&self.file)
            .substitute(self.lend)
            .only(&self.only)
            .without(&self.without);
        options = self.set.iter().fold(options, |all, (key, value)| all.set(key, value));
        options = self
            .swap
            .iter()
            .fold(options, |all, (piece, file)| all.swap(piece, file));
        if let Some(name) = &self.mix {
            options = options.mix(name);
        }
        if let Some(folder) = &self.kit {
            options = options.kit(folder);
        }
        if let Some(seed) = self.seed {
            options = options.seed(seed);
        }
        match ending {
            Some(ending) => options.ending(ending.ending()),
            None => options,
        }
    }
}

/// How audio is written.
#[derive(Args, Clone)]
#[command(next_help_heading = "The sound")]
pub(super) struct AudioOptions {
    /// How many times the loop repeats
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=10_000))]
    pub repeat: u32,
    /// What its tail does: repeat, "let ring" or damp
    #[arg(long, value_name = "ENDING", hide_possible_values = true)]
    pub ending: Option<EndingName>,
    /// Sample rate
    #[arg(long, value_name = "HZ", default_value_t = STANDARD_RATE, value_parser = clap::value_parser!(u32).range(8_000..=192_000))]
    pub rate: u32,
    /// Bit depth: 16, 24 or float
    #[arg(long, value_name = "DEPTH", default_value = "24", hide_possible_values = true)]
    pub depth: Depth,
}

impl AudioOptions {
    /// What to render.
    pub(super) fn order(&self, options: &LoopOptions) -> Order {
        Order {
            rate: self.rate,
            rounds: self.repeat,
            bars: options.bars,
            ..Order::default()
        }
    }
}

/// What may be written over.
#[derive(Args)]
#[command(next_help_heading = "Output")]
pub(super) struct OutputOptions {
    /// Also replace files that pressroll did not write
    #[arg(long)]
    pub force: bool,
}

/// How samples are stored.
#[derive(Clone, Copy, ValueEnum)]
pub(super) enum Depth {
    /// 16-bit integers, dithered
    #[value(name = "16")]
    Sixteen,
    /// 24-bit integers, dithered
    #[value(name = "24")]
    TwentyFour,
    /// 32-bit floats
    #[value(name = "float")]
    Float,
}

impl Depth {
    /// The same for the writer.
    pub(super) fn coding(self) -> Coding {
        match self {
            Depth::Sixteen => Coding::Int16,
            Depth::TwentyFour => Coding::Int24,
            Depth::Float => Coding::Float32,
        }
    }
}

/// An ending, by its name on the command line.
#[derive(Clone, Copy, ValueEnum)]
pub(super) enum EndingName {
    /// It sounds at the first bar, as when the loop repeats
    Repeat,
    /// It rings out after the last bar
    #[value(name = "let ring", alias = "let-ring")]
    LetRing,
    /// It ends with the last bar
    Damp,
}

impl EndingName {
    fn ending(self) -> Ending {
        match self {
            EndingName::Repeat => Ending::Repeat,
            EndingName::LetRing => Ending::LetRing,
            EndingName::Damp => Ending::Damp,
        }
    }
}

fn pair(text: &str) -> Result<(String, String), String> {
    match text.split_once('=') {
        Some((key, value)) if !key.trim().is_empty() => Ok((key.trim().to_string(), value.trim().to_string())),
        _ => Err("expected a name, `=` and a value".to_string()),
    }
}

/// A piece and the file in its place, whose name need not be text.
fn swap(text: OsString) -> Result<(String, PathBuf), String> {
    let bytes = text.as_encoded_bytes();
    let Some(at) = bytes.iter().position(|byte| *byte == b'=') else {
        return Err("expected a piece, `=` and a file".to_string());
    };
    let Ok(piece) = std::str::from_utf8(&bytes[..at]) else {
        return Err("the name of a piece is text".to_string());
    };
    let piece = piece.trim();
    let file = match text.to_str() {
        Some(text) => PathBuf::from(text[at + 1..].trim()),
        None => behind(&text, at + 1),
    };
    if piece.is_empty() {
        return Err("expected a piece, `=` and a file".to_string());
    }
    Ok((piece.to_string(), file))
}

/// What stands from a byte on in what is no text.
#[cfg(unix)]
fn behind(text: &OsStr, at: usize) -> PathBuf {
    use std::os::unix::ffi::OsStrExt;
    PathBuf::from(OsStr::from_bytes(&text.as_bytes()[at..]))
}

/// Elsewhere the bytes of such names are nobody's to cut: what can be read of it will not be found, and be named.
#[cfg(not(unix))]
fn behind(text: &OsStr, at: usize) -> PathBuf {
    PathBuf::from(String::from_utf8_lossy(&text.as_encoded_bytes()[at..]).into_owned())
}

fn bars(text: &str) -> Result<(u32, u32), String> {
    let (first, last) = text.split_once('-').unwrap_or((text, text));
    match (first.trim().parse(), last.trim().parse()) {
        (Ok(first), Ok(last)) if 1 <= first && first <= last => Ok((first, last)),
        _ => Err("expected two bars, for instance 5-8, or one".to_string()),
    }
}
