//! The names that a file gives to its percussion keys, so that pieces of which General MIDI knows nothing come back as
//! what they were.
//!
//! They stand in text events (FF 01, Standard MIDI Files 1.0) at the beginning of the first track: one that says how the
//! channels are meant, then one for each key. Other programs show them to people, or pass over them.

use std::collections::BTreeMap;

/// Says that every key of channel 10 is named, and that keys of other channels are pitches.
const CHANNELS: &str = "channel 10 plays pieces, the other channels play pitches";
/// What stands before a key, and between it and its piece.
const KEY: (&str, &str) = ("note ", " plays ");

/// The texts for some keys and the names of their pieces.
pub(super) fn texts(pieces: &[(u8, String)]) -> Vec<String> {
    let key = |(key, piece): &(u8, String)| format!("{}{key}{}{piece}", KEY.0, KEY.1);
    [CHANNELS.to_string()]
        .into_iter()
        .chain(pieces.iter().map(key))
        .collect()
}

/// Takes in one of a file's first texts: the first that says how the channels are meant opens the names, others add to them.
pub(super) fn take(text: &str, pieces: &mut Option<BTreeMap<u8, String>>) {
    if text == CHANNELS {
        pieces.get_or_insert_default();
        return;
    }
    let key = text.strip_prefix(KEY.0).and_then(|text| text.split_once(KEY.1));
    let Some((Ok(key @ 0..=127), piece)) = key.map(|(key, piece)| (key.parse::<u8>(), piece)) else {
        return;
    };
    if let Some(pieces) = pieces {
        pieces.entry(key).or_insert_with(|| piece.to_string());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_told_is_taken_in() {
        let pieces = [(36, "kick".to_string()), (27, "Nebelhorn plays ö".to_string())];
        let mut read = None;
        texts(&pieces).iter().for_each(|text| take(text, &mut read));
        assert_eq!(read, Some(BTreeMap::from(pieces)));
    }

    #[test]
    fn other_texts_say_nothing() {
        let mut read = None;
        take("note 36 plays kick", &mut read);
        assert_eq!(read, None);
        take(CHANNELS, &mut read);
        for text in [
            "note 128 plays kick",
            "note x plays kick",
            "note 36",
            "",
            "note 36 plays",
        ] {
            take(text, &mut read);
        }
        assert_eq!(read, Some(BTreeMap::new()));
    }
}
