//! Lending: the nearest kin plays for a percussion piece that a kit lacks.

use super::folder::choke_of;
use super::index::{Index, Piece};
use super::open::Kit;

/// Who stands in for whom, the nearest first.
///
/// The order is a player's who has to get through the night with what is there [practice]. First the same instrument struck another
/// way or in another size, since it keeps the sound's matter and the line's shape. Then what does the same in a groove: keeps the time
/// (hats, shaken things), marks the backbeat (snare, clap, side stick), crowns a phrase (cymbals), or answers in the same register
/// (low skins for low, wood for wood, bells for bells). Of two that are equally near, what rings lends to what rings and what is
/// dry to what is dry. Nothing that plays notes is on the list.
const KIN: [(&str, &[&str]); 37] = [
    ("kick", &["tom-floor", "tom-low", "conga-low"]),
    ("snare", &["clap", "side-stick", "timbale-high", "tom-high"]),
    (
        "side-stick",
        &["claves", "woodblock-high", "woodblock-low", "snare", "clap"],
    ),
    ("clap", &["snare", "side-stick", "tambourine"]),
    (
        "hat-closed",
        &["hat-pedal", "shaker", "cabasa", "maracas", "hat-open", "ride"],
    ),
    ("hat-pedal", &["hat-closed", "shaker", "cabasa", "maracas", "hat-open"]),
    ("hat-open", &["hat-closed", "splash", "ride", "crash", "hat-pedal"]),
    (
        "tom-floor",
        &["tom-low", "tom-mid", "tom-high", "conga-low", "timbale-low"],
    ),
    (
        "tom-low",
        &["tom-floor", "tom-mid", "tom-high", "conga-low", "timbale-low"],
    ),
    (
        "tom-mid",
        &["tom-low", "tom-high", "tom-floor", "conga-open", "timbale-low"],
    ),
    (
        "tom-high",
        &["tom-mid", "tom-low", "tom-floor", "timbale-high", "bongo-low"],
    ),
    ("crash", &["china", "splash", "ride", "hat-open"]),
    ("china", &["crash", "splash", "ride", "hat-open"]),
    ("splash", &["crash", "china", "hat-open", "ride"]),
    ("ride", &["crash", "ride-bell", "china", "splash", "hat-open"]),
    ("ride-bell", &["ride", "crash", "cowbell", "agogo-high"]),
    ("tambourine", &["shaker", "cabasa", "maracas", "hat-closed"]),
    ("cowbell", &["agogo-low", "agogo-high", "ride-bell", "woodblock-low"]),
    ("shaker", &["maracas", "cabasa", "tambourine", "hat-closed"]),
    ("bongo-high", &["bongo-low", "conga-open", "timbale-high", "tom-high"]),
    (
        "bongo-low",
        &["bongo-high", "conga-open", "conga-low", "timbale-low", "tom-mid"],
    ),
    (
        "conga-mute",
        &["conga-slap", "conga-open", "conga-low", "bongo-low", "bongo-high"],
    ),
    (
        "conga-slap",
        &["conga-mute", "conga-open", "bongo-high", "timbale-high"],
    ),
    (
        "conga-open",
        &["conga-low", "bongo-low", "conga-mute", "conga-slap", "tom-mid"],
    ),
    (
        "conga-low",
        &["conga-open", "bongo-low", "tom-low", "tom-floor", "conga-mute"],
    ),
    ("timbale-high", &["timbale-low", "tom-high", "bongo-high", "snare"]),
    ("timbale-low", &["timbale-high", "tom-mid", "tom-low", "bongo-low"]),
    ("agogo-high", &["agogo-low", "cowbell", "ride-bell", "triangle-mute"]),
    ("agogo-low", &["agogo-high", "cowbell", "ride-bell"]),
    ("cabasa", &["shaker", "maracas", "guiro", "tambourine", "hat-closed"]),
    ("maracas", &["shaker", "cabasa", "tambourine", "hat-closed"]),
    ("guiro", &["cabasa", "shaker", "maracas"]),
    ("claves", &["woodblock-high", "woodblock-low", "side-stick"]),
    ("woodblock-high", &["woodblock-low", "claves", "side-stick"]),
    ("woodblock-low", &["woodblock-high", "claves", "side-stick"]),
    (
        "triangle-mute",
        &["triangle-open", "agogo-high", "cowbell", "ride-bell"],
    ),
    ("triangle-open", &["triangle-mute", "ride-bell", "agogo-high"]),
];

/// A kit's further ones of a kind are called by numbers up to this, where they are lent.
const MOST: u32 = 9;

/// The kin of a piece, the nearest first; of `snare-2` those of a snare with the snare itself before them. None for a piece
/// that is no percussion.
fn kin(name: &str) -> Option<impl Iterator<Item = &'static str>> {
    let row = |name: &str| KIN.iter().find(|(of, _)| *of == name);
    let numbered = |name: &str| {
        let (base, number) = name.rsplit_once('-')?;
        number.parse::<u32>().ok().and(row(base))
    };
    let (itself, row) = match row(name) {
        Some(row) => (None, row),
        None => numbered(name).map(|row| (Some(row.0), row))?,
    };
    Some(itself.into_iter().chain(row.1.iter().copied()))
}

/// True for the name of a percussion piece of General MIDI, or of a further one of its kind.
pub(crate) fn is_percussion(name: &str) -> bool {
    kin(name).is_some()
}

/// The names of the percussion pieces of General MIDI, in short.
pub(crate) fn percussion() -> impl Iterator<Item = &'static str> {
    KIN.iter().map(|(name, _)| *name)
}

impl Index {
    /// The piece of this kit, by its name, that could play for one that it lacks.
    pub fn kin(&self, name: &str) -> Option<&'static str> {
        kin(name)?.find(|kin| self.find(kin).is_some() && self.substitute(kin).is_none())
    }
}

impl Kit {
    /// Has the nearest kin play for every percussion piece of General MIDI that the kit lacks, in the choke group of the piece
    /// that it plays for and with the sound that the kit's file gives to its own.
    pub fn lend(&mut self) {
        self.lend_all(KIN.iter().map(|(name, _)| name.to_string()));
    }

    /// The same for further ones of a kind, such as `snare-2`: once MIDI keys are cast, which may mean one of these or the first.
    pub fn substitute_numbered(&mut self) {
        let numbered = |(name, _): &(&str, _)| {
            (2..=MOST)
                .map(move |number| format!("{name}-{number}"))
                .collect::<Vec<_>>()
        };
        self.lend_all(KIN.iter().flat_map(numbered));
    }

    fn lend_all(&mut self, names: impl Iterator<Item = String>) {
        for name in names.filter(|name| self.index.find(name).is_none()).collect::<Vec<_>>() {
            let Some(substitute) = self.index.kin(&name) else {
                continue;
            };
            let Some(place) = self.index.find(substitute) else {
                continue;
            };
            let piece = Piece {
                choke: choke_of(&name),
                name: name.clone(),
                ..self.index.pieces[place].clone()
            };
            if let Some(sound) = self.defaults.get(substitute).cloned() {
                self.defaults.insert(name, sound);
            }
            self.index.add_lent(piece, substitute);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::kit::Layer;

    fn index(names: &[&str]) -> Index {
        let piece = |name: &&str| Piece {
            name: name.to_string(),
            layers: vec![Layer::new(127.0, vec![0])],
            choke: choke_of(name),
        };
        Index::new(names.iter().map(piece).collect())
    }

    #[test]
    fn every_percussion_piece_has_kin_that_are_pieces_themselves() {
        let names = "kick snare side-stick clap hat-closed hat-pedal hat-open tom-floor tom-low tom-mid tom-high crash china \
                     splash ride ride-bell tambourine cowbell shaker bongo-high bongo-low conga-mute conga-slap conga-open \
                     conga-low timbale-high timbale-low agogo-high agogo-low cabasa maracas guiro claves woodblock-high \
                     woodblock-low triangle-mute triangle-open";
        for name in names.split_whitespace() {
            let kin: Vec<&str> = kin(name).unwrap_or_else(|| panic!("{name} has no kin")).collect();
            assert!(!kin.is_empty() && !kin.contains(&name), "{name}");
            for other in kin {
                assert!(names.split_whitespace().any(|name| name == other), "{name}: {other}");
            }
        }
    }

    #[test]
    fn the_nearest_that_is_there_lends() {
        assert_eq!(index(&["crash", "cowbell"]).kin("ride-bell"), Some("crash"));
        assert_eq!(index(&["crash", "ride"]).kin("ride-bell"), Some("ride"));
        assert_eq!(index(&["bongo-low", "tom-low"]).kin("conga-mute"), Some("bongo-low"));
        assert_eq!(index(&["snare", "clap"]).kin("snare-2"), Some("snare"));
        assert_eq!(index(&["clap"]).kin("snare-2"), Some("clap"));
        assert_eq!(
            index(&["kick", "snare"]).kin("bass"),
            None,
            "no drum lends to what has a pitch"
        );
        assert_eq!(index(&["kick"]).kin("triangle-open"), None);
    }
}
