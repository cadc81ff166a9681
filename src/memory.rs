//! How much memory there is to be had: what a limit on the process leaves, and what the machine has.
//!
//! Asked before a long render, so that one which can't fit is refused in words and not ended by the system half-way. What
//! can't be told is taken as enough.

use std::fs;

/// What the program takes before any audio is there: its code, its stacks, a kit's recordings.
const OWN: u64 = 64 << 20;
/// What a thread takes of addresses beside its stack: what its share of the heap is given beforehand (64 MiB in glibc [memory]).
const OF_THREAD: u64 = 66 << 20;

/// Bytes that audio may take: within the limit on the process's addresses, and within the machine's memory.
pub fn room() -> Option<u64> {
    let most = match (addresses(), machine()) {
        (Some(one), Some(other)) => one.min(other),
        (one, other) => one.or(other)?,
    };
    Some(most.saturating_sub(OWN))
}

/// The number of threads for which a limit on addresses has room besides 150 MiB for the work; none where there is no limit.
pub fn threads() -> Option<usize> {
    let left = addresses()?.saturating_sub(OWN + (86 << 20));
    Some(usize::try_from(left / OF_THREAD).unwrap_or(usize::MAX).max(1))
}

/// The limit on the process's addresses, as `ulimit -v` sets it.
fn addresses() -> Option<u64> {
    limit(&fs::read_to_string("/proc/self/limits").ok()?)
}

/// The machine's memory.
fn machine() -> Option<u64> {
    total(&fs::read_to_string("/proc/meminfo").ok()?)
}

/// Finds the limit in a text as Linux gives it (proc_pid_limits(5)).
fn limit(text: &str) -> Option<u64> {
    let line = text.lines().find_map(|line| line.strip_prefix("Max address space"))?;
    line.split_whitespace().next()?.parse().ok()
}

/// Finds the memory in a text as Linux gives it (proc_meminfo(5)), in bytes.
fn total(text: &str) -> Option<u64> {
    let line = text.lines().find_map(|line| line.strip_prefix("MemTotal:"))?;
    let kib: u64 = line.split_whitespace().next()?.parse().ok()?;
    kib.checked_mul(1 << 10)
}

#[cfg(test)]
mod tests {
    use super::{limit, total};

    #[test]
    fn limits_are_found_where_there_are_any() {
        let text = "Limit                     Soft Limit           Hard Limit           Units     \n\
                    Max stack size            8388608              unlimited            bytes     \n\
                    Max address space         307200000            unlimited            bytes     \n";
        assert_eq!(limit(text), Some(307_200_000));
        assert_eq!(limit(&text.replace("307200000", "unlimited")), None);
        assert_eq!(limit(""), None);
        assert_eq!(
            total("MemFree: 3 kB\nMemTotal:       24683356 kB\n"),
            Some(24_683_356 * 1024)
        );
        assert_eq!(total("MemTotal: lots\n"), None);
    }
}
