//! Versions that are worked on at once, each on cores of its own.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};

/// Bytes that renders under way may take together, beside what they share.
const ROOM: usize = 768 << 20;
/// Signals of a render's length that one takes while it is under way.
const SIGNALS: usize = 10;

/// How many renders of audio of so many bytes are worked on at once: one a core, as memory allows.
pub(crate) fn how_many(bytes: usize) -> usize {
    let most = ROOM / (SIGNALS * bytes).max(1);
    rayon::current_num_threads().clamp(1, most.max(1))
}

/// Makes things by their numbers, so many at once, and gives them in order. Each goes by threads of its own: those of
/// one never wait for, or take on, the work of another.
pub(crate) fn make<T: Send>(count: usize, at_once: usize, make: impl Fn(usize) -> T + Sync) -> Vec<T> {
    let at_once = at_once.min(count);
    if at_once < 2 {
        return (0..count).map(make).collect();
    }
    let threads = (rayon::current_num_threads() / at_once).max(1);
    let next = AtomicUsize::new(0);
    let made: Mutex<Vec<(usize, T)>> = Mutex::default();
    let work = || {
        let numbers = std::iter::repeat_with(|| next.fetch_add(1, Ordering::Relaxed));
        for number in numbers.take_while(|number| *number < count) {
            let one = make(number);
            made.lock().unwrap_or_else(PoisonError::into_inner).push((number, one));
        }
    };
    std::thread::scope(|scope| {
        for _ in 0..at_once {
            // One may wait for what another makes, so none works on threads that are not its own.
            scope.spawn(|| {
                let own = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
                own.into_iter().for_each(|own| own.install(work));
            });
        }
    });
    // Where the system has no more threads to give, what is left is made here, one after another.
    work();
    let mut made = made.into_inner().unwrap_or_else(PoisonError::into_inner);
    made.sort_by_key(|(number, _)| *number);
    made.into_iter().map(|(_, one)| one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn things_come_in_order_however_many_are_made_at_once() {
        for at_once in [1, 2, 3, 9] {
            let squares = make(7, at_once, |number| {
                // The first take the longest.
                std::thread::sleep(std::time::Duration::from_millis(7 - number as u64));
                number * number
            });
            assert_eq!(squares, [0, 1, 4, 9, 16, 25, 36]);
        }
        assert!(make(0, 4, |number| number).is_empty());
    }

    #[test]
    fn long_renders_go_one_by_one() {
        assert_eq!(how_many(usize::MAX / 100), 1);
        assert_eq!(how_many(0), rayon::current_num_threads());
    }
}
