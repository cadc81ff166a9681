//! The settings of a loop that a person moves by hand, and what moving them comes to.

use super::{Plays, Project, changes};
use crate::loopfile::AtHand;

impl Project {
    /// The settings of its sound, one by one; none of a form, whose settings stand in its loops.
    pub(crate) fn at_hand(&self) -> Option<Vec<AtHand>> {
        match &self.plays {
            Plays::Loop(song, kit) => Some(song.as_written.at_hand(kit.defaults())),
            Plays::Form(..) => None,
        }
    }

    /// True where another reading of the same file comes to the same settings, hits and notes.
    pub(crate) fn says_the_same(&self, other: &Project) -> bool {
        changes::settings(self, other).is_empty() && changes::settings(other, self).is_empty()
    }
}
