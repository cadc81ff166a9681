//! What is kept and what gives way: by what was asked for in which order, and never by when it was made.

use std::collections::{BTreeMap, HashMap};

use super::{CacheKey, Versions};

/// Bytes that an entry takes beside its thing: its name, its age, its slot and their places in maps, roughly.
pub(super) const ENTRY: usize = 256;

/// Entries under names, in a bounded number of bytes.
pub(super) struct Shelf<S> {
    room: usize,
    sparing: Option<Versions>,
    entries: HashMap<CacheKey, Entry<S>>,
    /// The names by their last turn and, within that, in the order in which they came.
    ages: BTreeMap<(u64, u64), CacheKey>,
    bytes: usize,
    /// Counts plans that have begun, and those that were ended.
    turn: u64,
    ended: u64,
    /// True where the present plan is that of the first of several versions.
    leads: bool,
    /// Counts entries.
    came: u64,
}

struct Entry<S> {
    /// Where the thing is or will be; none for what is only known to have been asked for.
    slot: Option<S>,
    bytes: usize,
    /// The last plan that asked for it, and its number among all that ever came.
    age: (u64, u64),
}

impl<S: Clone> Shelf<S> {
    pub(super) fn new(room: usize, sparing: Option<Versions>) -> Shelf<S> {
        Shelf {
            room,
            sparing,
            entries: HashMap::new(),
            ages: BTreeMap::new(),
            bytes: 0,
            turn: 0,
            ended: 0,
            leads: false,
            came: 0,
        }
    }

    pub(super) fn is_sparing(&self) -> bool {
        self.sparing.is_some()
    }

    /// Begins a plan: what it and the one before have not asked for may now give way. Of one that leads, others will ask for the same.
    pub(super) fn begin(&mut self, leads: bool) {
        self.turn += 1;
        self.leads = leads;
    }

    /// Ends a plan that has asked for all that its render will. Where versions differ in one thing, the second has then asked
    /// for all that the others will: the rest goes.
    pub(super) fn end(&mut self) {
        self.ended += 1;
        if self.sparing == Some(Versions::OfOneThing) && self.ended == 2 {
            let rest: Vec<CacheKey> = self.ages.range(..(self.turn, 0)).map(|(_, name)| *name).collect();
            rest.into_iter().for_each(|name| self.remove(name));
        }
    }

    /// What stands under a name, which is thereby asked for.
    pub(super) fn find(&mut self, name: CacheKey) -> Option<S> {
        let entry = self.entries.get_mut(&name)?;
        let slot = entry.slot.clone()?;
        self.ages.remove(&entry.age);
        entry.age.0 = self.turn;
        self.ages.insert(entry.age, name);
        Some(slot)
    }

    /// Puts a slot for so many bytes under a name where nothing stands yet; false where there is no room.
    ///
    /// What the present plan and the one before it have asked for stays; of the rest what came into the oldest plan gives way
    /// first, and nothing at all where that would not do.
    pub(super) fn reserve(&mut self, name: CacheKey, bytes: usize, slot: S) -> bool {
        let missed = match self.entries.get(&name) {
            Some(entry) if entry.slot.is_some() => return false,
            Some(_) => true,
            None => false,
        };
        // What one version alone has would never be asked for again. Figures are cheap to keep.
        let waits = self.is_sparing() && self.ended > 0 && !self.leads && bytes > 0 && !missed;
        let (slot, bytes) = if waits {
            (None, ENTRY)
        } else {
            (Some(slot), ENTRY + bytes)
        };
        if !self.make_room(bytes) {
            return false;
        }
        self.remove(name);
        let age = (self.turn, self.came);
        self.came += 1;
        self.bytes += bytes;
        self.ages.insert(age, name);
        self.entries.insert(name, Entry { slot, bytes, age });
        !waits
    }

    /// True where this very slot stands under a name.
    pub(super) fn holds(&self, name: CacheKey, this: impl Fn(&S) -> bool) -> bool {
        let slot = self.entries.get(&name).and_then(|entry| entry.slot.as_ref());
        slot.is_some_and(this)
    }

    /// Takes away what stands under a name.
    pub(super) fn remove(&mut self, name: CacheKey) {
        if let Some(entry) = self.entries.remove(&name) {
            self.ages.remove(&entry.age);
            self.bytes -= entry.bytes;
        }
    }

    fn make_room(&mut self, bytes: usize) -> bool {
        if bytes > self.room {
            return false;
        }
        let mut over = (self.bytes + bytes).saturating_sub(self.room);
        let mut going = Vec::new();
        let stale = self.ages.range(..(self.turn.saturating_sub(1), 0));
        for (_, name) in stale {
            if over == 0 {
                break;
            }
            over = over.saturating_sub(self.entries[name].bytes);
            going.push(*name);
        }
        if over > 0 {
            return false;
        }
        going.into_iter().for_each(|name| self.remove(name));
        true
    }

    #[cfg(test)]
    pub(super) fn bytes(&self) -> usize {
        self.bytes
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn names() -> [CacheKey; 4] {
        [0, 1, 2, 3].map(|number| CacheKey::of(&number))
    }

    /// A shelf with room for so many bytes in so many entries.
    fn shelf(bytes: usize, entries: usize) -> Shelf<()> {
        Shelf::new(bytes + entries * ENTRY, None)
    }

    fn next(shelf: &mut Shelf<()>) {
        shelf.end();
        shelf.begin(false);
    }

    #[test]
    fn keeps_to_its_room_and_lets_go_what_was_longest_unused() {
        let mut shelf = shelf(1000, 2);
        let names = names();
        shelf.begin(false);
        assert!(shelf.reserve(names[0], 500, ()) && shelf.reserve(names[1], 500, ()));
        assert!(!shelf.reserve(names[2], 500, ()), "nothing of this plan gives way");
        next(&mut shelf);
        assert!(!shelf.reserve(names[2], 500, ()), "nor of the one before it");
        next(&mut shelf);
        assert!(shelf.find(names[1]).is_some());
        next(&mut shelf);
        assert!(shelf.reserve(names[2], 400, ()));
        assert!(!shelf.reserve(names[3], 101, ()), "there is no room for it");
        assert_eq!(names.map(|name| shelf.find(name).is_some()), [false, true, true, false]);
    }

    #[test]
    fn what_finds_no_room_sends_nothing_away() {
        let mut shelf = shelf(1000, 2);
        let names = names();
        shelf.begin(false);
        assert!(shelf.reserve(names[0], 400, ()) && shelf.reserve(names[1], 400, ()));
        (0..2).for_each(|_| next(&mut shelf));
        assert!(shelf.find(names[1]).is_some());
        assert!(!shelf.reserve(names[2], 900, ()), "more than all that may go gives");
        assert!(
            !shelf.reserve(names[2], usize::MAX / 2, ()),
            "more than there is in all"
        );
        assert!(shelf.find(names[0]).is_some());
    }

    #[test]
    fn entries_of_no_bytes_count_too_and_give_way() {
        let mut shelf = shelf(0, 2);
        let names = names();
        shelf.begin(false);
        assert!(shelf.reserve(names[0], 0, ()) && shelf.reserve(names[1], 0, ()));
        assert!(!shelf.reserve(names[2], 0, ()));
        (0..2).for_each(|_| next(&mut shelf));
        assert!(shelf.reserve(names[2], 0, ()));
        assert!(shelf.find(names[0]).is_none() && shelf.find(names[1]).is_some());
    }

    #[test]
    fn a_sparing_one_keeps_all_of_the_first_and_then_what_is_asked_for_twice() {
        let mut shelf = Shelf::new(100_000, Some(Versions::OfMany));
        let names = names();
        // A first one that breaks off has not asked for all.
        shelf.begin(false);
        shelf.begin(false);
        assert!(shelf.reserve(names[0], 10, ()));
        next(&mut shelf);
        assert!(!shelf.reserve(names[1], 10, ()) && shelf.find(names[1]).is_none());
        assert!(shelf.reserve(names[1], 10, ()) && shelf.find(names[1]).is_some());
        assert!(shelf.reserve(names[2], 0, ()), "figures are kept at once");
        // The first of other versions.
        shelf.end();
        shelf.begin(true);
        assert!(shelf.reserve(names[3], 10, ()) && shelf.find(names[3]).is_some());
    }

    #[test]
    fn of_versions_of_one_thing_it_lets_go_what_the_second_did_not_ask_for() {
        for (versions, stays) in [(Versions::OfOneThing, false), (Versions::OfMany, true)] {
            let mut shelf = Shelf::new(100_000, Some(versions));
            let names = names();
            shelf.begin(false);
            assert!(shelf.reserve(names[0], 10, ()) && shelf.reserve(names[1], 10, ()));
            next(&mut shelf);
            assert!(shelf.find(names[0]).is_some());
            next(&mut shelf);
            assert!(shelf.find(names[0]).is_some());
            assert_eq!(shelf.find(names[1]).is_some(), stays);
        }
    }

    proptest! {
        #[test]
        fn never_holds_more_than_its_room(asked in prop::collection::vec((0_u8..5, 0_u8..40, 0_usize..3000), 1..200)) {
            let room = 20_000;
            let mut shelf: Shelf<()> = Shelf::new(room, None);
            for (what, number, bytes) in asked {
                let name = CacheKey::of(&number);
                match what {
                    0 => next(&mut shelf),
                    1 => _ = shelf.find(name),
                    2 => shelf.remove(name),
                    _ => _ = shelf.reserve(name, bytes, ()),
                }
                prop_assert!(shelf.bytes() <= room);
                let sum: usize = shelf.entries.values().map(|entry| entry.bytes).sum();
                prop_assert_eq!(shelf.bytes(), sum);
                prop_assert_eq!(shelf.ages.len(), shelf.entries.len());
            }
        }
    }
}
