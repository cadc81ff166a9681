//! The one place where text leaves the program: standard output and standard error.

use std::io::{self, ErrorKind, Write};

use crate::files::plainly;
use crate::text::Problem;

/// Prints text and the end of its line on standard output. A reader that has gone away is no reason to fail.
///
/// # Errors
/// A disk without room, and whatever else keeps the text from where it is sent.
pub fn to_stdout(text: &str) -> Result<(), Problem> {
    send(&mut anstream::stdout().lock(), text).map_err(|error| {
        let what = format!("standard output can't be written: {}", plainly(&error));
        Problem::new(what).help("send it elsewhere; files that were finished before are whole")
    })
}

/// Prints text and the end of its line on standard error. Where that fails, there is nowhere left to report it.
pub fn to_stderr(text: &str) {
    let _ = send(&mut anstream::stderr().lock(), text);
}

fn send(out: &mut impl Write, text: &str) -> io::Result<()> {
    // What is still in a buffer when the program ends is lost without a word.
    let sent = writeln!(out, "{text}").and_then(|()| out.flush());
    sent.or_else(|error| match error.kind() {
        ErrorKind::BrokenPipe => Ok(()),
        _ => Err(error),
    })
}
