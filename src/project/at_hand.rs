//! The settings of a loop that a person moves by hand, and what moving them comes to.

use super::{Plays, Project, changes};
use crate::loopfile::{AtHand, KitDefaults};
use crate::schema::form_file;

impl Project {
    /// The settings of its sound, one by one. Of a form they are its own, its master's, and what its sections set otherwise than
    /// their loops; all others stand in those.
    pub(crate) fn at_hand(&self) -> Vec<AtHand> {
        let (form, kits) = match &self.plays {
            Plays::Loop(song, kit) => return song.as_written.at_hand(kit.defaults()),
            Plays::Form(form, kits) => (form, kits),
        };
        let mut rows = form.as_written.at_hand(&KitDefaults::new());
        for (number, (section, kit)) in form.sections.iter().zip(kits).enumerate() {
            let table = format!("{}.{}", form_file::SECTION.name, number + 1);
            let own = section.plays.as_written.at_hand(kit.defaults()).into_iter();
            rows.extend(own.filter(|row| section.sets_otherwise(&row.key)).map(|row| AtHand {
                key: format!("{table}.{}", row.key),
                table: table.clone(),
                written: true,
                called: Some(section.name.clone()),
                ..row
            }));
        }
        rows
    }

    /// True where it strings loops together.
    pub(crate) fn is_form(&self) -> bool {
        matches!(self.plays, Plays::Form(..))
    }

    /// True where another reading of the same file comes to the same settings, hits and notes.
    pub(crate) fn says_the_same(&self, other: &Project) -> bool {
        changes::settings(self, other).is_empty() && changes::settings(other, self).is_empty()
    }
}
