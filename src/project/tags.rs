//! What a render's file says of itself.

use super::Project;
use crate::text::in_turn;
use crate::wav::Tags;

impl Project {
    /// What a WAV of some of its bars says of itself: its title, tempo and key, and how many frames repeat. A form in which they
    /// change has all of them in turn.
    pub(crate) fn tags(&self, bars: Option<(u32, u32)>, round: Option<usize>) -> Tags {
        // The INFO list knows no tempo and no musical key: they go into its comment, which every reader shows.
        let comment = in_turn(self.played(bars).into_iter().map(|song| {
            let time = &song.time;
            let key = song.key.iter().map(|key| format!(", key {key}")).collect::<String>();
            format!("tempo {}, metre {}/{}{key}", time.tempo, time.counts, time.unit)
        }));
        let info = vec![(*b"INAM", self.title().to_string()), (*b"ICMT", comment)];
        Tags {
            round: round.map(|frames| (0, frames.saturating_sub(1) as u32)),
            info,
            cues: Vec::new(),
        }
    }
}
