//! The tables in which settings stand.

/// Where settings stand: a table of a file, or a group of settings that several tables share.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Table {
    /// A loop file.
    LoopFile,
    /// `[loop]`.
    Loop,
    /// `[feel]`.
    Feel,
    /// `loose`.
    Loose,
    /// `[accents]`.
    Accents,
    /// Hits that swell.
    Swell,
    /// `[[part]]`: what a part plays.
    Part,
    /// How a part plays: what `[part.change]` can set for some bars.
    Playing,
    /// `strum`.
    Strum,
    /// `arpeggio`.
    Arpeggio,
    /// `scoop`.
    Scoop,
    /// `fall`.
    Fall,
    /// `vibrato`.
    Vibrato,
    /// One voice of `double`.
    Double,
    /// How a part's hits sound; shared by parts and a kit's pieces.
    Sound,
    /// A strip; shared by parts, buses, the master and a kit's pieces.
    Strip,
    /// Sends to the rooms and delays of a loop, and ducking under its parts; shared by parts and buses.
    Sends,
    /// `vary`.
    Vary,
    /// `envelope`.
    Envelope,
    /// One bell of `eq`.
    Bell,
    /// `compress`.
    Compress,
    /// `drive`.
    Drive,
    /// `duck`.
    Duck,
    /// `[[bus]]`.
    Bus,
    /// `[room]` and `[rooms.NAME]`.
    Room,
    /// `[delay]` and `[delays.NAME]`.
    Delay,
    /// `[master]`.
    Master,
    /// `[[mix]]`.
    Mix,
    /// `[[sweep]]`.
    Sweep,
    /// A form file.
    FormFile,
    /// `[form]`.
    Form,
    /// `fade`.
    Fade,
    /// `[[section]]`.
    Section,
    /// A kit's `kit.toml`.
    KitFile,
    /// `[kit]`.
    Kit,
    /// `[[piece]]`.
    Piece,
    /// One layer of `layers`.
    Layer,
    /// One zone of `zones`.
    Zone,
    /// A recording in two files, one a side.
    Pair,
    /// A list of a catalogue.
    CatalogueFile,
    /// `[catalogue]`.
    Catalogue,
    /// `[[collection]]`.
    Collection,
}

impl Table {
    /// Every table, in the order in which a reference lists them.
    pub const ALL: [Table; 42] = [
        Table::LoopFile,
        Table::Loop,
        Table::Feel,
        Table::Loose,
        Table::Accents,
        Table::Swell,
        Table::Part,
        Table::Playing,
        Table::Strum,
        Table::Arpeggio,
        Table::Scoop,
        Table::Fall,
        Table::Vibrato,
        Table::Double,
        Table::Sound,
        Table::Vary,
        Table::Envelope,
        Table::Strip,
        Table::Bell,
        Table::Compress,
        Table::Drive,
        Table::Duck,
        Table::Sends,
        Table::Bus,
        Table::Room,
        Table::Delay,
        Table::Master,
        Table::Mix,
        Table::Sweep,
        Table::FormFile,
        Table::Form,
        Table::Fade,
        Table::Section,
        Table::KitFile,
        Table::Kit,
        Table::Piece,
        Table::Layer,
        Table::Zone,
        Table::Pair,
        Table::CatalogueFile,
        Table::Catalogue,
        Table::Collection,
    ];
}
