//! The percussion keys of General MIDI Level 1, by the names that pieces go by.

use std::collections::{BTreeMap, BTreeSet};

/// The channel of percussion, counted from 0: the tenth (General MIDI Level 1).
pub const PERCUSSION_CHANNEL: u8 = 9;

/// The percussion map of General MIDI Level 1, keys 35 to 81. A piece with two keys has its own name first for the key
/// that it is written on, and goes by `-2` for the other.
const MAP: [(u8, &[&str]); 47] = [
    (35, &["kick-2", "kick"]),
    (36, &["kick"]),
    (37, &["side-stick"]),
    (38, &["snare"]),
    (39, &["clap"]),
    (40, &["snare-2", "snare"]),
    (41, &["tom-floor"]),
    (42, &["hat-closed"]),
    (43, &["tom-floor-2", "tom-floor"]),
    (44, &["hat-pedal"]),
    (45, &["tom-low"]),
    (46, &["hat-open"]),
    (47, &["tom-mid"]),
    (48, &["tom-mid-2", "tom-mid"]),
    (49, &["crash"]),
    (50, &["tom-high"]),
    (51, &["ride"]),
    (52, &["china"]),
    (53, &["ride-bell"]),
    (54, &["tambourine"]),
    (55, &["splash"]),
    (56, &["cowbell"]),
    (57, &["crash-2", "crash"]),
    (58, &["vibraslap"]),
    (59, &["ride-2", "ride"]),
    (60, &["bongo-high"]),
    (61, &["bongo-low"]),
    (62, &["conga-mute"]),
    (63, &["conga-open"]),
    (64, &["conga-low"]),
    (65, &["timbale-high"]),
    (66, &["timbale-low"]),
    (67, &["agogo-high"]),
    (68, &["agogo-low"]),
    (69, &["cabasa"]),
    (70, &["maracas"]),
    (71, &["whistle-short"]),
    (72, &["whistle-long"]),
    (73, &["guiro"]),
    (74, &["guiro-2", "guiro"]),
    (75, &["claves"]),
    (76, &["woodblock-high"]),
    (77, &["woodblock-low"]),
    (78, &["cuica-mute"]),
    (79, &["cuica-open"]),
    (80, &["triangle-mute"]),
    (81, &["triangle-open"]),
];

/// General MIDI Level 2 has a shaker here [memory]; a shaker takes it as its free key before others may.
const SHAKER: (&str, u8) = ("shaker", 82);

/// The pieces that a percussion key may mean, the most particular first: 40 is `snare-2`, or `snare` in a kit without
/// one. Empty for keys outside of General MIDI Level 1's 35 to 81, but for a shaker's 82 of Level 2.
pub fn names_for(key: u8) -> &'static [&'static str] {
    match MAP.binary_search_by_key(&key, |(known, _)| *known) {
        Ok(index) => MAP[index].1,
        Err(_) if key == SHAKER.1 => &[SHAKER.0],
        Err(_) => &[],
    }
}

/// The piece that a percussion key means in any kit: `snare` for both 38 and 40. None outside of 35 to 82.
pub fn piece_for(key: u8) -> Option<&'static str> {
    names_for(key).last().copied()
}

/// The General MIDI Level 1 key that a piece is written on; none where it has none (`shaker`, `snare-3`, a name of
/// one's own).
pub fn key_for(piece: &str) -> Option<u8> {
    let own = MAP.iter().find(|(_, names)| names.first() == Some(&piece));
    own.map(|(key, _)| *key)
}

/// The key that a piece of a song is written on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PercussionKey {
    /// 0 to 127.
    pub key: u8,
    /// False where the piece has no key in General MIDI Level 1 and took a free one.
    pub general_midi: bool,
}

/// A key for every piece, in the order given: its own by [`key_for`], else a free one. The same name gets the same key,
/// and no two names share one; none is left only when there are more than 128 names.
///
/// Free keys are given out in the order of the pieces: 27 to 34 and 82 to 87, which lie around the map and play little
/// or nothing on a General MIDI Level 1 instrument, then 88 upwards, then 26 downwards, then the map's own keys that no
/// piece of these has.
pub fn keys_for<'a>(pieces: impl IntoIterator<Item = &'a str>) -> Vec<Option<PercussionKey>> {
    let pieces: Vec<&str> = pieces.into_iter().collect();
    let own = |piece: &str| match piece == SHAKER.0 {
        true => Some(SHAKER.1),
        false => key_for(piece),
    };
    let taken: BTreeSet<u8> = pieces.iter().filter_map(|piece| own(piece)).collect();
    let order = (27..=34).chain(82..=127).chain((0..=26).rev()).chain(35..=81);
    let mut free = order.filter(|key| !taken.contains(key));
    let mut keys: BTreeMap<&str, Option<PercussionKey>> = BTreeMap::new();
    let mut key = |piece| {
        *keys.entry(piece).or_insert_with(|| {
            Some(PercussionKey {
                key: own(piece).or_else(|| free.next())?,
                general_midi: key_for(piece).is_some(),
            })
        })
    };
    pieces.iter().map(|piece| key(piece)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// General MIDI Level 1 percussion keys, as pretty_midi names them (recomputed by `tests/reference/constants.py`).
    const CHECKS: [(&[u8], &str); 31] = [
        (&[35, 36], "kick"),
        (&[37], "side-stick"),
        (&[38, 40], "snare"),
        (&[39], "clap"),
        (&[41, 43], "tom-floor"),
        (&[45], "tom-low"),
        (&[47, 48], "tom-mid"),
        (&[50], "tom-high"),
        (&[42], "hat-closed"),
        (&[44], "hat-pedal"),
        (&[46], "hat-open"),
        (&[49, 57], "crash"),
        (&[51, 59], "ride"),
        (&[53], "ride-bell"),
        (&[52], "china"),
        (&[55], "splash"),
        (&[54], "tambourine"),
        (&[56], "cowbell"),
        (&[60], "bongo-high"),
        (&[61], "bongo-low"),
        (&[62], "conga-mute"),
        (&[63], "conga-open"),
        (&[64], "conga-low"),
        (&[65], "timbale-high"),
        (&[66], "timbale-low"),
        (&[69], "cabasa"),
        (&[70], "maracas"),
        (&[73, 74], "guiro"),
        (&[75], "claves"),
        (&[80], "triangle-mute"),
        (&[81], "triangle-open"),
    ];

    #[test]
    fn keys_mean_the_pieces_of_general_midi() {
        for (keys, piece) in CHECKS {
            for key in keys {
                assert_eq!(piece_for(*key), Some(piece), "key {key}");
            }
            assert!(keys.contains(&key_for(piece).unwrap()), "{piece}");
        }
        assert_eq!((piece_for(67), piece_for(68)), (Some("agogo-high"), Some("agogo-low")));
        assert_eq!(
            (piece_for(76), piece_for(77)),
            (Some("woodblock-high"), Some("woodblock-low"))
        );
        assert_eq!((piece_for(34), piece_for(83)), (None, None));
    }

    #[test]
    fn second_pieces_are_written_on_the_second_key() {
        let written = [
            "kick", "kick-2", "snare", "snare-2", "crash", "crash-2", "ride", "ride-2",
        ];
        let keys = written.map(|piece| key_for(piece).unwrap());
        assert_eq!(keys, [36, 35, 38, 40, 49, 57, 51, 59]);
        assert_eq!(names_for(40), ["snare-2", "snare"]);
        for piece in ["conga-slap", "shaker", "snare-3", "harbour-bell"] {
            assert_eq!(key_for(piece), None, "{piece}");
        }
    }

    #[test]
    fn every_key_of_the_map_is_written_back_on_itself() {
        for (index, (key, names)) in MAP.iter().enumerate() {
            assert_eq!(usize::from(*key), 35 + index);
            assert_eq!(key_for(names[0]), Some(*key));
            assert!(key_for(names[names.len() - 1]).is_some());
        }
    }

    #[test]
    fn pieces_without_a_key_take_free_ones_in_order() {
        let keys = keys_for(["foghorn", "kick", "conga-slap", "foghorn", "shaker"]);
        let keys: Vec<_> = keys
            .iter()
            .map(|key| key.map(|k| (k.key, k.general_midi)).unwrap())
            .collect();
        assert_eq!(keys, [(27, false), (36, true), (28, false), (27, false), (82, false)]);
    }

    #[test]
    fn no_two_names_share_a_key_and_the_129th_has_none() {
        let names: Vec<String> = (0..127).map(|n| format!("stone-{n}")).collect();
        let pieces = names.iter().map(String::as_str).chain(["snare", "pebble"]);
        let keys = keys_for(pieces);
        let different: BTreeSet<u8> = keys.iter().flatten().map(|key| key.key).collect();
        assert_eq!(different.len(), 128);
        assert_eq!(keys.last(), Some(&None));
    }
}
