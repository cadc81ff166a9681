//! The registry itself: tables of data, a file for each family of keys.

mod effects;
mod feel;
mod files;
mod part;
mod spaces;
mod top;

use super::setting::{Key, Table};

pub use effects::MOST_BELLS;

impl Table {
    /// The keys that are this table's own.
    pub fn own(self) -> &'static [Key] {
        match self {
            Table::LoopFile => top::LOOP_FILE,
            Table::Loop => top::LOOP,
            Table::Feel => top::FEEL,
            Table::Loose => feel::LOOSE,
            Table::Accents => feel::ACCENTS,
            Table::Swell => feel::SWELL,
            Table::Mix => top::MIX,
            Table::Sweep => top::SWEEP,
            Table::Part => part::PART,
            Table::Playing => part::PLAYING,
            Table::Strum => part::STRUM,
            Table::Arpeggio => part::ARPEGGIO,
            Table::Double => part::DOUBLE,
            Table::Sound => part::SOUND,
            Table::Vary => part::VARY,
            Table::Envelope => part::ENVELOPE,
            Table::Strip => effects::STRIP,
            Table::Sends => effects::SENDS,
            Table::Bell => effects::BELL,
            Table::Compress => effects::COMPRESS,
            Table::Drive => effects::DRIVE,
            Table::Duck => effects::DUCK,
            Table::Bus => effects::BUS,
            Table::Master => effects::MASTER,
            Table::Room => spaces::ROOM,
            Table::Delay => spaces::DELAY,
            Table::FormFile => files::FORM_FILE,
            Table::Form => files::FORM,
            Table::Fade => files::FADE,
            Table::Section => files::SECTION,
            Table::KitFile => files::KIT_FILE,
            Table::Kit => files::KIT,
            Table::Piece => files::PIECE,
            Table::Layer => files::LAYER,
            Table::Zone => files::ZONE,
        }
    }

    /// The tables whose keys this one takes: itself and the groups that it shares.
    pub fn groups(self) -> &'static [Table] {
        use Table::*;
        match self {
            LoopFile => &[LoopFile],
            Loop => &[Loop],
            Feel => &[Feel],
            Loose => &[Loose],
            Accents => &[Accents],
            Swell => &[Swell],
            Mix => &[Mix],
            Sweep => &[Sweep],
            Part => &[Part, Playing, Sound, Strip, Sends],
            Playing => &[Playing],
            Strum => &[Strum],
            Arpeggio => &[Arpeggio],
            Double => &[Double],
            Sound => &[Sound],
            Vary => &[Vary],
            Envelope => &[Envelope],
            Strip => &[Strip],
            Sends => &[Sends],
            Bell => &[Bell],
            Compress => &[Compress],
            Drive => &[Drive],
            Duck => &[Duck],
            Bus => &[Bus, Strip, Sends],
            Master => &[Master, Strip],
            Room => &[Room],
            Delay => &[Delay],
            FormFile => &[FormFile],
            Form => &[Form],
            Fade => &[Fade],
            Section => &[Section],
            KitFile => &[KitFile],
            Kit => &[Kit],
            Piece => &[Piece, Sound, Strip],
            Layer => &[Layer],
            Zone => &[Zone],
        }
    }

    /// How the table is written or, for a group, spoken of: `[[part]]`, `compress`, `a strip`.
    pub fn title(self) -> &'static str {
        match self {
            Table::LoopFile => "a loop file",
            Table::Loop => "`[loop]`",
            Table::Feel => "`[feel]`",
            Table::Loose => "`loose`",
            Table::Accents => "`[accents]`",
            Table::Swell => "a line that swells",
            Table::Mix => "`[[mix]]`",
            Table::Sweep => "`[[sweep]]`",
            Table::Part => "`[[part]]`",
            Table::Playing => "`[[part]]` or `[part.change]`",
            Table::Strum => "`strum`",
            Table::Arpeggio => "`arpeggio`",
            Table::Double => "`double`",
            Table::Sound => "`[[part]]`",
            Table::Vary => "`vary`",
            Table::Envelope => "`envelope`",
            Table::Strip => "a strip",
            Table::Sends => "a strip's sends",
            Table::Bell => "`eq`",
            Table::Compress => "`compress`",
            Table::Drive => "`drive`",
            Table::Duck => "`duck`",
            Table::Bus => "`[[bus]]`",
            Table::Master => "`[master]`",
            Table::Room => "`[room]` or `[rooms.NAME]`",
            Table::Delay => "`[delay]` or `[delays.NAME]`",
            Table::FormFile => "a form file",
            Table::Form => "`[form]`",
            Table::Fade => "`fade`",
            Table::Section => "`[[section]]`",
            Table::KitFile => "`kit.toml`",
            Table::Kit => "`[kit]`",
            Table::Piece => "`[[piece]]`",
            Table::Layer => "`layers`",
            Table::Zone => "`zones`",
        }
    }

    /// Every key that may stand in this table.
    pub fn keys(self) -> impl Iterator<Item = &'static Key> {
        self.groups().iter().flat_map(|group| group.own())
    }

    /// The key of a name that may stand in this table.
    pub fn key(self, name: &str) -> Option<&'static Key> {
        self.keys().find(|key| key.name == name)
    }
}
