//! The render cache: results that several renders share.
//!
//! A stage of a render has a *cache key*: all the values that its result depends on, by their SHA-256 ([`CacheKey`]). Later keys hold
//! the keys of what feeds them. A result is stored under its key while there is room; what is made again under a key has the
//! same bits. Nothing here knows what the results are.
//!
//! What a render finds must not depend on how fast others are. So each asks for everything that it shares in a [`Turn`] of its
//! own, and turns follow one another. What it asks for is there; or another render makes it, and this one waits; or it gets a
//! [`Place`] to fill; or there is no room, and it makes the result for itself.

use std::any::Any;
use std::collections::{BTreeMap, BTreeSet};
use std::marker::PhantomData;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};

mod asked;
mod name;
mod shelf;

use asked::Slot;
pub(crate) use asked::{CacheEntry, Place, Promise};
pub(crate) use name::CacheKey;
use shelf::Shelf;

/// Bytes that a render cache holds unless told otherwise.
pub(crate) const ROOM: usize = 384 << 20;

/// A store that several renders share, from one thread or many.
///
/// Renders that are under way at once wait for one another, so each needs threads of its own.
pub struct RenderCache {
    store: Arc<Store>,
    /// Where in the queue the render stands that this is for; none where it takes any turn.
    number: Option<usize>,
    /// True for a render after which others will ask for what it asks for.
    leads: bool,
}

struct Store {
    line: Mutex<CacheLine>,
    moved: Condvar,
    tally: Tally,
}

struct CacheLine {
    shelf: Shelf<Arc<Slot>>,
    /// True while somebody has a turn.
    taken: bool,
    /// The first number in the queue that has not had its turn yet, and those behind it that won't take theirs.
    next: usize,
    passed: BTreeSet<usize>,
}

/// How versions differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Versions {
    /// All from the first in one and the same thing: what the second does not ask for, none does.
    OfOneThing,
    /// Each in its own way.
    OfMany,
}

impl Default for RenderCache {
    fn default() -> RenderCache {
        RenderCache::new(ROOM)
    }
}

impl RenderCache {
    /// An empty keep with room for so many bytes.
    pub fn new(room: usize) -> RenderCache {
        RenderCache::of(room, None)
    }

    /// One for versions of which each is rendered once: it keeps nothing that is as quickly made as read and, after the first render,
    /// only what is asked for a second time. What one version alone has would never be asked for again.
    pub fn sparing(versions: Versions) -> RenderCache {
        RenderCache::of(ROOM, Some(versions))
    }

    /// An empty keep with room for so many bytes, sparing where it is for versions.
    pub(crate) fn of(room: usize, sparing: Option<Versions>) -> RenderCache {
        let line = CacheLine {
            shelf: Shelf::new(room, sparing),
            taken: false,
            next: 0,
            passed: BTreeSet::new(),
        };
        let store = Store {
            line: Mutex::new(line),
            moved: Condvar::new(),
            tally: Tally::default(),
        };
        RenderCache {
            store: Arc::new(store),
            number: None,
            leads: false,
        }
    }

    /// The same for the render of a number in a queue, of which each has its turn after all before it: numbers go from 0 and leave none
    /// out, so that turns come in one order whoever is quickest. Who drops this without a turn lets the next one pass.
    pub fn queued(&self, number: usize) -> RenderCache {
        RenderCache {
            store: self.store.clone(),
            number: Some(number),
            leads: self.leads,
        }
    }

    /// The same for the first of several versions: a sparing cache keeps all that it asks for, since the others will ask for it too.
    pub(crate) fn leading(&self) -> RenderCache {
        RenderCache {
            store: self.store.clone(),
            number: self.number,
            leads: true,
        }
    }

    /// Begins a render's turn, once nobody else has one and all before it in the queue have had theirs.
    pub fn turn(&self) -> Turn {
        let mut line = self.store.line();
        while line.taken || self.number.is_some_and(|number| line.next != number) {
            line = self.store.moved.wait(line).unwrap_or_else(PoisonError::into_inner);
        }
        line.taken = true;
        line.shelf.begin(self.leads);
        Turn {
            store: self.store.clone(),
            number: self.number,
            stage: AtomicU64::new(STAGES.fetch_add(1, Ordering::Relaxed)),
            sparing: line.shelf.is_sparing(),
            ended: false,
        }
    }

    /// How much of what there is to count renders have made themselves, by what it is.
    pub fn made(&self) -> BTreeMap<&'static str, usize> {
        self.store.tally.made().clone()
    }
}

impl Drop for RenderCache {
    fn drop(&mut self) {
        if let Some(number) = self.number {
            self.store.line().pass(number);
            self.store.moved.notify_all();
        }
    }
}

impl Store {
    fn line(&self) -> MutexGuard<'_, CacheLine> {
        // What a thread that panicked left behind is still whole: every change is made in one go.
        self.line.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl CacheLine {
    fn pass(&mut self, number: usize) {
        if number >= self.next {
            self.passed.insert(number);
        }
        while self.passed.remove(&self.next) {
            self.next += 1;
        }
    }
}

/// A render's turn to ask for what it shares.
pub struct Turn {
    store: Arc<Store>,
    number: Option<usize>,
    stage: AtomicU64,
    sparing: bool,
    ended: bool,
}

/// Numbers the stages of all renders.
static STAGES: AtomicU64 = AtomicU64::new(1);

impl Turn {
    /// True where what is as quickly made as read is not to be kept.
    pub fn is_sparing(&self) -> bool {
        self.sparing
    }

    /// Goes on to the render's next stage, which is made after the last: it may wait for what that one has a place for, but never for what it has
    /// a place for itself.
    pub fn next_stage(&self) {
        self.stage
            .store(STAGES.fetch_add(1, Ordering::Relaxed), Ordering::Relaxed);
    }

    /// What is kept under a name, or is being made.
    pub fn find<T: Any + Send + Sync>(&self, name: CacheKey) -> Option<Promise<T>> {
        let slot = self.store.line().shelf.find(name)?;
        Promise::of(slot, self.stage.load(Ordering::Relaxed))
    }

    /// Takes a place for a thing of so many bytes that is yet to be made; none where there is no room, or where it is there already.
    pub fn reserve<T: Any + Send + Sync>(&self, name: CacheKey, bytes: usize) -> Option<Place<T>> {
        let slot = Arc::new(Slot::by(self.stage.load(Ordering::Relaxed)));
        let taken = self.store.line().shelf.reserve(name, bytes, slot.clone());
        taken.then(|| Place {
            slot,
            store: self.store.clone(),
            name,
            of: PhantomData,
        })
    }

    /// Finds what is under a name, else takes a place for so many bytes if there is one.
    pub fn ask<T: Any + Send + Sync>(&self, name: CacheKey, bytes: usize) -> CacheEntry<T> {
        if let Some(promise) = self.find(name) {
            return CacheEntry::There(promise);
        }
        self.reserve(name, bytes).map_or(CacheEntry::NoRoom, CacheEntry::Place)
    }

    /// Keeps what is made already, of so many bytes, if there is room.
    pub fn put<T: Any + Send + Sync>(&self, name: CacheKey, what: &Arc<T>, bytes: usize) {
        if let Some(place) = self.reserve(name, bytes) {
            place.fill(what);
        }
    }

    /// Where what the render makes is counted.
    pub fn tally(&self) -> Tally {
        self.store.tally.clone()
    }

    /// Ends the turn: all is asked for. One that is dropped instead has broken off.
    pub fn end(mut self) {
        self.ended = true;
    }
}

impl Drop for Turn {
    fn drop(&mut self) {
        let mut line = self.store.line();
        line.taken = false;
        if self.ended {
            line.shelf.end();
        }
        self.number.into_iter().for_each(|number| line.pass(number));
        drop(line);
        self.store.moved.notify_all();
    }
}

/// Counts what renders make.
#[derive(Clone, Default)]
pub struct Tally(Arc<Mutex<BTreeMap<&'static str, usize>>>);

impl Tally {
    /// Counts so many more of what is called so.
    pub fn add(&self, what: &'static str, count: usize) {
        *self.made().entry(what).or_default() += count;
    }

    fn made(&self) -> MutexGuard<'_, BTreeMap<&'static str, usize>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::thread;
    use std::time::Duration;

    fn name() -> CacheKey {
        CacheKey::of(&"a thing")
    }

    #[test]
    fn who_asks_while_a_thing_is_made_waits_for_it() {
        let keep = RenderCache::new(10_000);
        let first = keep.turn();
        let CacheEntry::Place(place) = first.ask::<u8>(name(), 1) else {
            panic!("there is room");
        };
        first.end();
        let second = keep.turn();
        let asked = second.ask::<u8>(name(), 1);
        second.end();
        thread::scope(|scope| {
            let waits = scope.spawn(|| *asked.get_or(|| panic!("it is made already")));
            thread::sleep(Duration::from_millis(5));
            place.fill(&Arc::new(7));
            assert_eq!(waits.join().expect("it is filled"), 7);
        });
    }

    #[test]
    fn a_place_that_is_never_filled_is_given_back() {
        let keep = RenderCache::new(10_000);
        let turn = keep.turn();
        let place = turn.reserve::<u8>(name(), 6_000).expect("there is room");
        let other = CacheKey::of(&"another");
        assert!(turn.reserve::<u8>(other, 6_000).is_none());
        drop(place);
        assert!(turn.find::<u8>(name()).is_none() && turn.reserve::<u8>(other, 6_000).is_some());
    }

    #[test]
    fn who_waits_for_a_place_that_is_given_back_waits_no_longer() {
        let keep = RenderCache::new(10_000);
        let first = keep.turn();
        let place = first.reserve::<u8>(name(), 1);
        first.end();
        let promise = keep.turn().find::<u8>(name()).expect("it is being made");
        drop(place);
        assert!(promise.get().is_none());
    }

    #[test]
    fn a_stage_never_waits_for_itself_but_for_an_earlier_one_of_its_render() {
        let keep = RenderCache::new(10_000);
        let turn = keep.turn();
        turn.next_stage();
        let place = turn.reserve::<u8>(name(), 1).expect("there is room");
        assert!(matches!(turn.ask::<u8>(name(), 1), CacheEntry::NoRoom));
        turn.next_stage();
        assert!(matches!(turn.ask::<u8>(name(), 1), CacheEntry::There(_)));
        place.fill(&Arc::new(1));
    }

    #[test]
    fn turns_come_in_the_order_of_the_queue() {
        let keep = RenderCache::new(10_000);
        let order = Mutex::new(Vec::new());
        thread::scope(|scope| {
            for number in (0..6).rev() {
                let (keep, order) = (keep.queued(number), &order);
                scope.spawn(move || {
                    // One fails before its turn, one in it; the last come first.
                    if number == 2 {
                        return;
                    }
                    let turn = keep.turn();
                    order.lock().expect("no test panics").push(number);
                    if number != 3 {
                        turn.end();
                    }
                });
                thread::sleep(Duration::from_millis(1));
            }
        });
        assert_eq!(order.into_inner().expect("no test panics"), [0, 1, 3, 4, 5]);
    }
}
