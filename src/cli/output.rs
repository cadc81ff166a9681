//! The one place where text leaves the program: standard output and standard error.

use std::io::{self, ErrorKind, Write};

use crate::files::plainly;
use crate::text::{Problem, shown};

/// Prints text and the end of its line on standard output. A reader that has gone away is no reason to fail.
///
/// # Errors
/// A disk without room, and whatever else keeps the text from where it is sent.
pub(super) fn to_stdout(text: &str) -> Result<(), Problem> {
    to_stdout_as_is(&shown(text))
}

/// The same for text that has styles of our own.
///
/// # Errors
/// As [`to_stdout`].
pub(super) fn styled_to_stdout(text: &str) -> Result<(), Problem> {
    to_stdout_as_is(&styled(text))
}

fn to_stdout_as_is(text: &str) -> Result<(), Problem> {
    send(&mut anstream::stdout().lock(), text).map_err(|error| {
        let what = format!("standard output can't be written: {}", plainly(&error));
        Problem::new(what).help("send it elsewhere; files that were finished before are whole")
    })
}

/// Prints text, which may have styles of our own, and the end of its line on standard error. Where that fails, there is nowhere left to report it.
pub(super) fn to_stderr(text: &str) {
    let _ = send(&mut anstream::stderr().lock(), &styled(text));
}

/// Text as it may be shown, with the sequences that set colours and weights (SGR of ECMA-48). What comes from outside has
/// none any more when it is styled.
fn styled(text: &str) -> String {
    /// What opens a sequence.
    const OPENS: &str = "\u{1b}[";
    let mut pieces = text.split(OPENS);
    let mut out = shown(pieces.next().unwrap_or("")).into_owned();
    for piece in pieces {
        let digits = piece.find(|letter: char| !(letter.is_ascii_digit() || letter == ';'));
        let (sets, rest) = piece.split_at(digits.unwrap_or(piece.len()));
        match rest.strip_prefix('m') {
            Some(rest) => out.extend([OPENS, sets, "m", &shown(rest)]),
            None => out.extend([&*shown(OPENS), &shown(piece)]),
        }
    }
    out
}

fn send(out: &mut impl Write, text: &str) -> io::Result<()> {
    // What is still in a buffer when the program ends is lost without a word.
    let sent = writeln!(out, "{text}").and_then(|()| out.flush());
    sent.or_else(|error| match error.kind() {
        ErrorKind::BrokenPipe => Ok(()),
        _ => Err(error),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn styles_stay_and_nothing_else_steers() {
        assert_eq!(
            styled("\u{1b}[1;31merror\u{1b}[0m: a\u{1b}]0;b\u{7}\u{9b}2J\u{1b}[2Jc\n"),
            "\u{1b}[1;31merror\u{1b}[0m: a�]0;b��2J�[2Jc\n"
        );
    }
}
