//! The keep: what renders share that they do not change.
//!
//! A stage of a render gives the keep a *key*: the values that determine what the stage makes, all of them. Keys are
//! compared by value and stand for a [`Name`], so a later stage's key need only hold the names of what feeds it. Under
//! its name a thing is kept for as long as there is room; a name outlives its thing, and what is made again under it has
//! the same bits. Nothing here knows what the things are.

use std::any::{Any, TypeId};
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Bytes that a keep holds unless told otherwise.
pub const ROOM: usize = 384 << 20;
/// So many keys are remembered; past them everything is forgotten at the next render, as keys take room too.
const MOST_KEYS: usize = 20_000;

/// Stands for everything that determines a thing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Name(u64);

/// A store that several renders share, from one thread or many.
pub struct Keep {
    room: usize,
    sparing: Option<Versions>,
    shelf: Mutex<Shelf>,
}

/// A key and the name that it stands for.
type Key = (Box<dyn Any + Send>, Name);

#[derive(Default)]
struct Shelf {
    keys: HashMap<TypeId, Vec<Key>>,
    named: u64,
    things: BTreeMap<Name, Thing>,
    bytes: usize,
    /// Counts renders.
    turn: u64,
    /// How many of them are under way at once.
    at_once: u64,
    /// Of a sparing keep: what had no place when it was first asked for.
    missed: BTreeSet<Name>,
}

struct Thing {
    what: Option<Arc<dyn Any + Send + Sync>>,
    bytes: usize,
    /// The last render that used it.
    turn: u64,
}

/// How versions differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Versions {
    /// All from the first in one and the same thing: what the second does not ask for, none does.
    OfOneThing,
    /// Each in its own way.
    OfMany,
}

impl Default for Keep {
    fn default() -> Keep {
        Keep::new(ROOM)
    }
}

impl Keep {
    /// An empty keep with room for so many bytes of things.
    pub fn new(room: usize) -> Keep {
        Keep {
            room,
            sparing: None,
            shelf: Mutex::default(),
        }
    }

    /// One for versions of which each is rendered once: it keeps nothing that is as quickly made as read and, after the first render,
    /// only what is asked for a second time. What one version alone has would never be asked for again.
    pub fn sparing(versions: Versions) -> Keep {
        Keep {
            sparing: Some(versions),
            ..Keep::default()
        }
    }

    /// True where what is as quickly made as read is not to be kept.
    pub fn is_sparing(&self) -> bool {
        self.sparing.is_some()
    }

    /// Begins a render: what the last two have not used may now give way.
    pub fn turn(&self) {
        let mut shelf = self.shelf();
        shelf.turn += 1;
        if shelf.keys.values().map(Vec::len).sum::<usize>() > MOST_KEYS {
            shelf.keys.clear();
            shelf.things.clear();
            shelf.bytes = 0;
        }
        // The second render, or the third beside it, is through: it has asked for all that the others will.
        if self.sparing == Some(Versions::OfOneThing) && shelf.turn == 4 {
            let shelf = &mut *shelf;
            let bytes = &mut shelf.bytes;
            shelf.things.retain(|_, thing| {
                let stays = thing.turn > 1;
                if !stays {
                    *bytes -= thing.bytes;
                }
                stays
            });
        }
        // Places that were taken and never filled, as where a render broke off: none of those under way has taken them.
        let shelf = &mut *shelf;
        let (bytes, turn, at_once) = (&mut shelf.bytes, shelf.turn, shelf.at_once);
        shelf.things.retain(|_, thing| {
            let stays = thing.what.is_some() || thing.turn + 2 * at_once > turn;
            if !stays {
                *bytes -= thing.bytes;
            }
            stays
        });
    }

    /// Says that from now on so many renders are under way at once: what each of them has before it stays twice as long.
    pub fn at_once(&self, renders: usize) {
        self.shelf().at_once = if renders > 1 { renders as u64 } else { 0 };
    }

    /// The name that a key stands for: the same for an equal key of the same type, and for no other.
    pub fn name<K: PartialEq + Any + Send>(&self, key: K) -> Name {
        let mut shelf = self.shelf();
        let next = Name(shelf.named);
        let keys = shelf.keys.entry(TypeId::of::<K>()).or_default();
        let equal = |(known, _): &&Key| known.downcast_ref::<K>() == Some(&key);
        if let Some((_, name)) = keys.iter().find(equal) {
            return *name;
        }
        keys.push((Box::new(key), next));
        shelf.named += 1;
        next
    }

    /// What is kept under a name.
    pub fn find<T: Any + Send + Sync>(&self, name: Name) -> Option<Arc<T>> {
        let mut shelf = self.shelf();
        let turn = shelf.turn;
        let thing = shelf.things.get_mut(&name)?;
        let what = thing.what.clone()?.downcast().ok()?;
        thing.turn = turn;
        Some(what)
    }

    /// Takes a place for a thing of so many bytes that is yet to be made; false where there is none.
    ///
    /// What the present render and the one before it have used stays; of the rest the longest unused gives way first.
    pub fn reserve(&self, name: Name, bytes: usize) -> bool {
        let mut shelf = self.shelf();
        if shelf.things.contains_key(&name) {
            return false;
        }
        if self.is_sparing() && bytes > 0 && shelf.turn > 1 && shelf.missed.insert(name) {
            return false;
        }
        while shelf.bytes + bytes > self.room {
            let (turn, recent) = (shelf.turn, 1 + 2 * shelf.at_once);
            let stale = shelf
                .things
                .iter()
                .filter(|(_, thing)| thing.turn + recent < turn && thing.bytes > 0);
            let Some((oldest, _)) = stale.min_by_key(|(name, thing)| (thing.turn, **name)) else {
                return false;
            };
            let oldest = *oldest;
            let gone = shelf.things.remove(&oldest).map_or(0, |thing| thing.bytes);
            shelf.bytes -= gone;
        }
        let turn = shelf.turn;
        let thing = Thing {
            what: None,
            bytes,
            turn,
        };
        shelf.things.insert(name, thing);
        shelf.bytes += bytes;
        true
    }

    /// Puts a thing into its reserved place; without one it is not kept.
    pub fn fill<T: Any + Send + Sync>(&self, name: Name, what: &Arc<T>) {
        if let Some(thing) = self.shelf().things.get_mut(&name) {
            thing.what = Some(what.clone());
        }
    }

    /// Keeps a thing of so many bytes if there is room.
    pub fn put<T: Any + Send + Sync>(&self, name: Name, what: &Arc<T>, bytes: usize) {
        if self.reserve(name, bytes) {
            self.fill(name, what);
        }
    }

    /// Finds what is kept under a name, or makes it and keeps it if there is room for its bytes.
    ///
    /// # Errors
    /// Whatever `make` finds wrong; then nothing is kept.
    pub fn find_or<T: Any + Send + Sync, E>(
        &self,
        name: Name,
        bytes: impl FnOnce(&T) -> usize,
        make: impl FnOnce() -> Result<T, E>,
    ) -> Result<Arc<T>, E> {
        if let Some(found) = self.find(name) {
            return Ok(found);
        }
        let made = Arc::new(make()?);
        self.put(name, &made, bytes(&made));
        Ok(made)
    }

    fn shelf(&self) -> MutexGuard<'_, Shelf> {
        // What a thread that panicked left behind is still whole: every change is made in one go.
        self.shelf.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_keys_have_one_name_and_others_another() {
        let keep = Keep::new(100);
        let name = keep.name((1.5_f64, vec![2]));
        assert_eq!(keep.name((1.5_f64, vec![2])), name);
        assert_ne!(keep.name((1.5_f64, vec![3])), name);
        #[derive(PartialEq)]
        struct Other(f64, Vec<i32>);
        assert_ne!(keep.name(Other(1.5, vec![2])), name, "another type is another key");
    }

    #[test]
    fn keeps_to_its_room_and_drops_what_was_longest_unused() {
        let keep = Keep::new(100);
        let names: Vec<Name> = (0..4).map(|number| keep.name(number)).collect();
        let kept = || {
            names
                .iter()
                .map(|name| keep.find::<u8>(*name).is_some())
                .collect::<Vec<_>>()
        };
        keep.turn();
        keep.put(names[0], &Arc::new(0_u8), 50);
        keep.put(names[1], &Arc::new(1_u8), 50);
        // Nothing of this render or the one before it gives way.
        keep.put(names[2], &Arc::new(2_u8), 50);
        keep.turn();
        keep.put(names[2], &Arc::new(2_u8), 50);
        assert_eq!(kept(), [true, true, false, false]);
        keep.turn();
        assert!(keep.find::<u8>(names[1]).is_some());
        keep.turn();
        keep.put(names[2], &Arc::new(2_u8), 40);
        assert_eq!(kept(), [false, true, true, false]);
        keep.put(names[3], &Arc::new(3_u8), 11);
        assert_eq!(kept(), [false, true, true, false], "there is no room for it");
    }

    #[test]
    fn a_sparing_one_keeps_all_of_the_first_render_and_then_what_is_asked_for_twice() {
        let keep = Keep::sparing(Versions::OfMany);
        let names: Vec<Name> = (0..3).map(|number| keep.name(number)).collect();
        keep.turn();
        assert!(keep.reserve(names[0], 10));
        keep.turn();
        assert!(!keep.reserve(names[1], 10) && keep.reserve(names[1], 10));
        assert!(keep.reserve(names[2], 0), "figures take no room");
    }

    #[test]
    fn of_versions_of_one_thing_it_lets_go_what_the_second_did_not_ask_for() {
        for (versions, stays) in [(Versions::OfOneThing, false), (Versions::OfMany, true)] {
            let keep = Keep::sparing(versions);
            let (one, other) = (keep.name(1), keep.name(2));
            keep.turn();
            keep.put(one, &Arc::new(1_u8), 10);
            keep.put(other, &Arc::new(2_u8), 10);
            keep.turn();
            assert!(keep.find::<u8>(one).is_some());
            (0..2).for_each(|_| keep.turn());
            assert!(keep.find::<u8>(one).is_some());
            assert_eq!(keep.find::<u8>(other).is_some(), stays);
        }
    }

    #[test]
    fn a_place_that_was_never_filled_is_given_back() {
        let keep = Keep::new(10);
        let (one, other) = (keep.name(1), keep.name(2));
        keep.turn();
        assert!(keep.reserve(one, 10));
        assert!(!keep.reserve(other, 1));
        keep.turn();
        assert!(keep.find::<u8>(one).is_none() && keep.reserve(other, 1));
    }

    #[test]
    fn renders_that_are_under_way_at_once_keep_their_places() {
        let keep = Keep::new(10);
        let (one, other) = (keep.name(1), keep.name(2));
        keep.at_once(2);
        keep.turn();
        assert!(keep.reserve(one, 10));
        keep.turn();
        assert!(!keep.reserve(other, 1), "the first may still fill its place");
        keep.fill(one, &Arc::new(1_u8));
        assert!(keep.find::<u8>(one).is_some());
        (0..5).for_each(|_| keep.turn());
        assert!(!keep.reserve(other, 1), "recently used");
        keep.turn();
        assert!(keep.reserve(other, 1), "long unused");
    }
}
