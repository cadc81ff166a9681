//! The `pressroll` command.

use std::process::ExitCode;

/// Takes memory in pages as large as the system has, so that a render need not ask for each 4 KiB of its signals, and keeps
/// what was given back for the next signal.
#[cfg(target_os = "linux")]
#[global_allocator]
static ALLOCATOR: tikv_jemallocator::Jemalloc = tikv_jemallocator::Jemalloc;

fn main() -> ExitCode {
    pressroll::run()
}
