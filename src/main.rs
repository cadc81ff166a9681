//! The `pressroll` command.

use std::process::ExitCode;

fn main() -> ExitCode {
    pressroll::cli::run()
}
