//! What comes of asking: a thing, a wait for one, a place for one, or nothing.

use std::any::Any;
use std::marker::PhantomData;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};

use super::{CacheKey, Store};

/// Where a thing is, or will be.
pub(crate) struct Slot {
    state: Mutex<State>,
    changed: Condvar,
    /// The stage of the render that makes it.
    by: u64,
}

enum State {
    Empty,
    Full(Arc<dyn Any + Send + Sync>),
    /// Whoever was to fill it is gone.
    GivenUp,
}

impl Slot {
    pub(crate) fn by(stage: u64) -> Slot {
        Slot {
            state: Mutex::new(State::Empty),
            changed: Condvar::new(),
            by: stage,
        }
    }

    fn set(&self, state: State) {
        *self.state() = state;
        self.changed.notify_all();
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// A thing that is kept, or that an earlier turn's render is making.
pub struct Promise<T> {
    slot: Arc<Slot>,
    of: PhantomData<fn() -> T>,
}

impl<T: Any + Send + Sync> Promise<T> {
    /// What a stage may wait for: none where it would wait for itself.
    pub(crate) fn of(slot: Arc<Slot>, stage: u64) -> Option<Promise<T>> {
        let own = slot.by == stage && matches!(*slot.state(), State::Empty);
        (!own).then_some(Promise { slot, of: PhantomData })
    }

    /// The thing, once it is made; none where its render broke off.
    pub fn get(&self) -> Option<Arc<T>> {
        let mut state = self.slot.state();
        while let State::Empty = *state {
            state = self.slot.changed.wait(state).unwrap_or_else(PoisonError::into_inner);
        }
        match &*state {
            State::Full(what) => what.clone().downcast().ok(),
            _ => None,
        }
    }
}

/// A place for a thing, taken by the render that makes it. One that is dropped unfilled is given back.
pub struct Place<T> {
    pub(crate) slot: Arc<Slot>,
    pub(super) store: Arc<Store>,
    pub(crate) name: CacheKey,
    pub(crate) of: PhantomData<fn(T)>,
}

impl<T: Any + Send + Sync> Place<T> {
    /// Puts the thing there.
    pub fn fill(self, what: &Arc<T>) {
        self.slot.set(State::Full(what.clone()));
    }
}

impl<T> Drop for Place<T> {
    fn drop(&mut self) {
        if matches!(*self.slot.state(), State::Full(_)) {
            return;
        }
        let mut line = self.store.line();
        // What was longest unused may have given way, and its name stand for another slot by now.
        if line.shelf.holds(self.name, |slot| Arc::ptr_eq(slot, &self.slot)) {
            line.shelf.remove(self.name);
        }
        drop(line);
        self.slot.set(State::GivenUp);
    }
}

/// What comes of asking for a thing.
pub enum CacheEntry<T> {
    /// It is there, or another render is making it.
    There(Promise<T>),
    /// It is yet to be made, and there is a place for it.
    Place(Place<T>),
    /// It is yet to be made and will not be kept.
    NoRoom,
}

impl<T: Any + Send + Sync> CacheEntry<T> {
    /// True where it is there, or another render is making it.
    pub fn is_there(&self) -> bool {
        matches!(self, CacheEntry::There(_))
    }

    /// The thing where it is there, or once another render has made it.
    ///
    /// # Panics
    /// Where that render has: what was to be made of the thing can't be had any more.
    pub fn found(&self) -> Option<Arc<T>> {
        match self {
            CacheEntry::There(promise) => Some(promise.get().expect("the render that makes it has not panicked")),
            _ => None,
        }
    }

    /// Puts the thing into its place, where there is one.
    pub fn fill(self, what: &Arc<T>) {
        if let CacheEntry::Place(place) = self {
            place.fill(what);
        }
    }

    /// The thing that is there, else one that is made now and put into its place.
    ///
    /// # Panics
    /// As [`CacheEntry::found`].
    pub fn get_or(self, make: impl FnOnce() -> T) -> Arc<T> {
        self.found().unwrap_or_else(|| {
            let made = Arc::new(make());
            self.fill(&made);
            made
        })
    }
}
