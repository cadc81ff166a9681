//! The registry: every setting once, as a constant whose type is that of its value; a module a table.

mod catalogues;
mod effects;
mod expression;
mod forms;
mod kits;
mod loops;
mod parts;
mod spaces;

use super::setting::Setting;
use super::table::Table;

#[cfg(feature = "cli")]
pub(crate) use catalogues::*;
pub(crate) use effects::*;
pub(crate) use expression::*;
pub(crate) use forms::*;
pub(crate) use kits::*;
pub(crate) use loops::*;
pub(crate) use parts::*;
pub(crate) use spaces::*;

impl Table {
    /// How the table is written or, for a group, spoken of, and the settings that are its own.
    fn declared(self) -> (&'static str, &'static [Setting]) {
        match self {
            Table::LoopFile => ("a loop file", loop_file::ALL),
            Table::Loop => ("`[loop]`", loop_table::ALL),
            Table::Feel => ("`[feel]`", feel::ALL),
            Table::Loose => ("`loose`", loose::ALL),
            Table::Accents => ("`[accents]`", accents::ALL),
            Table::Swell => ("a line that swells", swell::ALL),
            Table::Part => ("`[[part]]`", part::ALL),
            Table::Playing => ("`[[part]]` or `[part.change]`", playing::ALL),
            Table::Strum => ("`strum`", strum::ALL),
            Table::Arpeggio => ("`arpeggio`", arpeggio::ALL),
            Table::Scoop => ("`scoop`", scoop::ALL),
            Table::Fall => ("`fall`", fall::ALL),
            Table::Vibrato => ("`vibrato`", vibrato::ALL),
            Table::Double => ("`double`", double::ALL),
            Table::Sound => ("`[[part]]`", sound::ALL),
            Table::Vary => ("`vary`", vary::ALL),
            Table::Envelope => ("`envelope`", envelope::ALL),
            Table::Strip => ("a strip", strip::ALL),
            Table::Bell => ("`eq`", bell::ALL),
            Table::Compress => ("`compress`", compress::ALL),
            Table::Drive => ("`drive`", drive::ALL),
            Table::Duck => ("`duck`", duck::ALL),
            Table::Sends => ("a strip's sends", sends::ALL),
            Table::Bus => ("`[[bus]]`", bus::ALL),
            Table::Room => ("`[room]` or `[rooms.NAME]`", room::ALL),
            Table::Delay => ("`[delay]` or `[delays.NAME]`", delay::ALL),
            Table::Master => ("`[master]`", master::ALL),
            Table::Mix => ("`[[mix]]`", mix::ALL),
            Table::Sweep => ("`[[sweep]]`", sweep::ALL),
            Table::FormFile => ("a form file", form_file::ALL),
            Table::Form => ("`[form]`", form::ALL),
            Table::Fade => ("`fade`", fade::ALL),
            Table::Section => ("`[[section]]`", section::ALL),
            Table::KitFile => ("`kit.toml`", kit_file::ALL),
            Table::Kit => ("`[kit]`", kit::ALL),
            Table::Piece => ("`[[piece]]`", piece::ALL),
            Table::Layer => ("`layers`", layer::ALL),
            Table::Zone => ("`zones`", zone::ALL),
            Table::Pair => ("`{ left, right }`", pair::ALL),
            Table::CatalogueFile => ("a list of a catalogue", catalogues::catalogue_file::ALL),
            Table::Catalogue => ("`[catalogue]`", catalogues::catalogue::ALL),
            Table::Collection => ("`[[collection]]`", catalogues::collection::ALL),
        }
    }

    /// How the table is written or, for a group, spoken of: `[[part]]`, `compress`, `a strip`.
    pub fn title(self) -> &'static str {
        self.declared().0
    }

    /// The settings that are this table's own.
    pub fn own(self) -> &'static [Setting] {
        self.declared().1
    }

    /// The groups of settings that this table shares with others.
    fn shared(self) -> &'static [Table] {
        match self {
            Table::Part => &[Table::Playing, Table::Sound, Table::Strip, Table::Sends],
            Table::Bus => &[Table::Strip, Table::Sends],
            Table::Master => &[Table::Strip],
            Table::Piece => &[Table::Sound, Table::Strip],
            _ => &[],
        }
    }

    /// The tables whose settings this one takes: itself and the groups that it shares.
    pub fn groups(self) -> impl Iterator<Item = Table> {
        std::iter::once(self).chain(self.shared().iter().copied())
    }

    /// Every setting that may stand in this table.
    pub fn settings(self) -> impl Iterator<Item = &'static Setting> {
        self.groups().flat_map(Table::own)
    }

    /// The setting of a name that may stand in this table.
    pub fn setting(self, name: &str) -> Option<&'static Setting> {
        self.settings().find(|setting| setting.name == name)
    }
}
