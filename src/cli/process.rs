//! What the process does about limits that are set on it, and about more threads than are of use.

use std::env;
use std::thread::available_parallelism;

use etcetera::{BaseStrategy, choose_base_strategy};

use super::progress::show_listening;
use crate::base::memory;
use crate::kit::findings;

/// So many threads a core are taken at the most: more only wait for one another.
const A_CORE: usize = 4;

/// Prepares the process before anything is done in it.
pub(super) fn prepare() {
    outlive_long_files();
    fit_threads();
}

/// Keeps what is found in one-shots in the user's cache folder, for all later commands; where it is to be found anew, what was
/// kept before is not asked. Where the user has no such folder, nothing is kept.
pub(super) fn remember(fresh: bool) {
    if fresh {
        findings::ignore_kept();
    }
    if let Ok(own) = choose_base_strategy() {
        findings::keep_in(own.cache_dir().join("pressroll"));
    }
    show_listening();
}

/// A limit on the length of files (`ulimit -f`) comes as a signal that ends the process without a word. Where it is taken, the
/// write fails instead, and that is reported like a full disk.
fn outlive_long_files() {
    #[cfg(unix)]
    {
        // Nobody asks whether it came; where it can't be taken, it goes on as before.
        let came = std::sync::Arc::new(std::sync::atomic::AtomicBool::new(false));
        let _ = signal_hook::flag::register(signal_hook::consts::SIGXFSZ, came);
    }
}

/// Takes no more threads than are of use, and than a limit on the process's addresses has room for. How many there are changes
/// no sound.
fn fit_threads() {
    let cores = available_parallelism().map_or(1, usize::from);
    // Where rayon looks how many it is to take.
    let names = ["RAYON_NUM_THREADS", "RAYON_RS_NUM_CPUS"];
    let number = |name| env::var(name).ok()?.parse().ok().filter(|number| *number > 0);
    let asked = names.into_iter().find_map(number);
    if let Some(most) = fewer(asked.unwrap_or(cores), cores, memory::threads()) {
        // There are threads already where this fails, and then they are what there is.
        let _ = rayon::ThreadPoolBuilder::new().num_threads(most).build_global();
    }
}

/// How many threads there are to be instead of those that are wanted, where those are too many.
fn fewer(wanted: usize, cores: usize, room: Option<usize>) -> Option<usize> {
    let most = room.unwrap_or(usize::MAX).min(A_CORE * cores);
    (wanted > most).then_some(most)
}

#[cfg(test)]
mod tests {
    use super::fewer;

    #[test]
    fn threads_are_four_a_core_at_the_most_and_fewer_where_memory_is_short() {
        assert_eq!(fewer(2, 2, None), None);
        assert_eq!(fewer(8, 2, None), None);
        assert_eq!(fewer(9, 2, None), Some(8));
        assert_eq!(fewer(20_000, 16, None), Some(64));
        assert_eq!(fewer(2, 2, Some(1)), Some(1));
        assert_eq!(fewer(20_000, 2, Some(3)), Some(3));
        assert_eq!(fewer(20_000, 2, Some(3_000)), Some(8));
    }
}
