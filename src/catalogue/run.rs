//! Making previews on all cores.

use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, PoisonError};

use super::content::Sums;
use super::list::List;
use super::make::{Desk, Kits, Unmade};
use super::plan::{Entry, Plan};
use super::store::Store;
use crate::project::{KnownCredits, side_by_side};
use crate::render_cache::{RenderCache, Versions};
use crate::text::{Problem, Problems};

/// Signals of a preview's length that are there while one is rendered, in bytes a frame of stereo.
const BYTES_A_FRAME: f64 = 10.0 * 8.0;
/// What a render takes beside those and its cache: recordings that are decoded, its kit.
const BESIDE: u64 = 48 << 20;
/// The least and the most that the cache holds for each preview that is made at once.
const CACHE: (u64, u64) = (16 << 20, 384 << 20);
/// So many stretches of work are handed out for each core, so that none waits long for the last.
const STRETCHES_A_CORE: usize = 8;

/// Previews to be made.
pub(crate) struct Running<'a> {
    /// The list, and the folder that it lies in.
    pub list: (&'a List, &'a Path),
    /// What it comes to.
    pub plan: &'a Plan,
    /// The numbers of those to be made, in the order of the plan.
    pub numbers: &'a [usize],
    /// Where to.
    pub store: &'a Store,
    /// True to write what goes with each preview, too.
    pub packs: bool,
    /// Bytes that all of it may take.
    pub memory: u64,
    /// Is told which share of the work is done, from 0 to 1.
    pub progress: &'a (dyn Fn(f64) + Sync),
}

/// What came of it.
#[derive(Debug, Default)]
pub(crate) struct Outcome {
    /// How many were made.
    pub made: usize,
    /// How many were up to date.
    pub up_to_date: usize,
    /// Those that could not be made, in the order of the plan.
    pub failed: Vec<Failed>,
    /// What ended the run before its time: a disk that is full, a folder that can't be written.
    pub broken_off: Option<Problem>,
}

/// A preview that could not be made.
#[derive(Debug)]
pub(crate) struct Failed {
    /// Its number in the plan.
    pub number: usize,
    /// What is wrong.
    pub problems: Problems,
}

impl Running<'_> {
    /// Makes them. One that fails stops no other; a machine that fails stops all.
    pub(crate) fn run(&self) -> Outcome {
        let desk = Desk {
            list: self.list,
            store: self.store,
            sums: Sums::default(),
            credits: KnownCredits::default(),
            kits: Kits::default(),
            packs: self.packs,
        };
        let entries = || self.numbers.iter().map(|number| &self.plan.entries[*number]);
        let longest = entries().map(|entry| entry.seconds).fold(0.0, f64::max);
        let (at_once, cache) = shares(
            self.memory,
            longest * f64::from(self.list.0.rate),
            rayon::current_num_threads(),
        );
        // What previews of different loops share is asked for again and again; what is one preview's alone would only take its room.
        let cache = RenderCache::of(cache, Some(Versions::OfMany));
        let (stop, broken_off) = (AtomicBool::new(false), Mutex::new(None));
        let done = Done::of(entries());
        let stretches = self.stretches(at_once);
        let work = |stretch: usize| {
            let mut outcome = Outcome::default();
            let versions = stretches[stretch];
            for (nth, number) in versions.iter().enumerate() {
                if stop.load(Ordering::Relaxed) {
                    break;
                }
                let entry = &self.plan.entries[*number];
                let made = match nth == 0 && versions.len() > 1 {
                    true => desk.make(entry, &cache.leading()),
                    false => desk.make(entry, &cache),
                };
                match made {
                    Ok(true) => outcome.made += 1,
                    Ok(false) => outcome.up_to_date += 1,
                    Err(Unmade::Entry(problems)) => outcome.failed.push(Failed {
                        number: *number,
                        problems,
                    }),
                    Err(Unmade::Machine(problem)) => {
                        stop.store(true, Ordering::Relaxed);
                        lock(&broken_off).get_or_insert(problem);
                    }
                }
                (self.progress)(done.with(entry));
            }
            outcome
        };
        let outcomes = side_by_side::make(stretches.len(), at_once, work);
        let mut all = Outcome::default();
        for outcome in outcomes {
            all.made += outcome.made;
            all.up_to_date += outcome.up_to_date;
            all.failed.extend(outcome.failed);
        }
        let broken_off = broken_off.into_inner().unwrap_or_else(PoisonError::into_inner);
        all.broken_off = broken_off.map(|problem| Problem {
            help: problem.help.or(Some(
                "what is made stays; put that right and run pressroll catalogue once more".into(),
            )),
            ..problem
        });
        all
    }

    /// The numbers in stretches: as far as may be, each of all versions of a loop on a kit at a tempo, which share their parts.
    fn stretches(&self, at_once: usize) -> Vec<&[usize]> {
        let same = |one: &usize, other: &usize| {
            let (one, other) = (&self.plan.entries[*one], &self.plan.entries[*other]);
            one.file == other.file && one.kit == other.kit && one.tempo == other.tempo
        };
        let longest = self.numbers.len().div_ceil(at_once * STRETCHES_A_CORE).max(1);
        let versions = self.numbers.chunk_by(same);
        versions
            .flat_map(|numbers| numbers.chunks(longest.max(MOST_SHARED)))
            .collect()
    }
}

/// Versions of one loop that are not parted.
const MOST_SHARED: usize = 4;

fn lock<T>(what: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    what.lock().unwrap_or_else(PoisonError::into_inner)
}

/// How many previews of at most so many frames are made at once, and the bytes of the cache that they share.
fn shares(memory: u64, frames: f64, cores: usize) -> (usize, usize) {
    let each = BESIDE + (frames * BYTES_A_FRAME) as u64;
    let at_once = (memory / (each + CACHE.0)).clamp(1, cores as u64);
    let cache = at_once * (memory / at_once).saturating_sub(each).clamp(CACHE.0, CACHE.1);
    (at_once as usize, usize::try_from(cache).unwrap_or(usize::MAX))
}

/// How much of the work is done.
struct Done {
    all: f64,
    done: Mutex<f64>,
}

impl Done {
    fn of<'a>(entries: impl Iterator<Item = &'a Entry>) -> Done {
        Done {
            all: entries.map(|entry| entry.work).sum::<f64>().max(f64::MIN_POSITIVE),
            done: Mutex::new(0.0),
        }
    }

    /// The share with one more.
    fn with(&self, entry: &Entry) -> f64 {
        let mut done = lock(&self.done);
        *done += entry.work;
        (*done / self.all).min(1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn memory_bounds_how_many_are_made_at_once() {
        let ten_minutes = 600.0 * 48_000.0;
        assert_eq!(shares(64 << 30, 480_000.0, 8).0, 8);
        assert_eq!(shares(1 << 30, ten_minutes, 8).0, 1);
        assert_eq!(shares(8 << 30, ten_minutes, 8).0, 3);
        for (memory, frames) in [(1 << 30, 480_000.0), (4 << 30, ten_minutes), (2 << 30, 96_000.0)] {
            let (at_once, cache) = shares(memory, frames, 64);
            let taken = at_once as u64 * (BESIDE + (frames * BYTES_A_FRAME) as u64) + cache as u64;
            assert!(at_once == 1 || taken <= memory, "{taken} of {memory}");
        }
    }
}
