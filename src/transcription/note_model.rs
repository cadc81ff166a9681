//! Which frames of a pitch are one note: the likeliest way through the keys of a piano and silence (Viterbi's algorithm; after
//! M. Ryynänen, A. Klapuri, "Modelling of note events for singing transcription", 2004 [memory]).
//!
//! A note stays on its key through vibrato, and takes in the glide that comes to it: what leaves a key for a moment costs less than
//! two notes more.

/// Frames of one note.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Span {
    /// The first frame, and the first behind it.
    pub from: usize,
    pub to: usize,
}

/// MIDI keys, from the lowest on; behind them comes silence.
const LOWEST: usize = 25;
const KEYS: usize = 84;
const SILENCE: usize = KEYS;
/// What a frame costs a quarter tone off its key; and the most.
const OFF: f64 = 1.0;
const FAR: f64 = 3.0;
/// What a frame without a pitch costs a note, and one with a pitch silence.
const NO_PITCH: f64 = 2.0;
const PITCH: f64 = 1.6;
/// What a new note costs; what it costs where something begins; how much of that behind silence; what it costs to fall silent.
const NEW: f64 = 12.0;
const BEGUN: f64 = 4.2;
const BEHIND_SILENCE: f64 = 0.6;
const ENDS: f64 = 6.0;

/// The notes of a pitch whose take is `offset` semitones out of tune; `begun` says of each frame whether something begins about it.
pub(super) fn spans(pitches: &[Option<f64>], begun: &[bool], offset: f64) -> Vec<Span> {
    let mut costs = [0.0; KEYS + 1];
    let mut ways: Vec<[u8; KEYS + 1]> = Vec::with_capacity(pitches.len());
    for (pitch, begun) in pitches.iter().zip(begun) {
        let new = if *begun { BEGUN } else { NEW };
        let (cheapest, least) = least(&costs);
        let mut way = [0; KEYS + 1];
        let mut next = [0.0; KEYS + 1];
        for state in 0..=KEYS {
            let leaves = [
                (state, costs[state]),
                (cheapest, least + if state == SILENCE { ENDS } else { new }),
                (SILENCE, costs[SILENCE] + BEHIND_SILENCE * new),
            ];
            // Silence does not come from silence at a cost: the first of equals is taken.
            let (from, cost) = leaves[1..]
                .iter()
                .fold(leaves[0], |best, next| if next.1 < best.1 { *next } else { best });
            way[state] = from as u8;
            next[state] = cost + heard(*pitch, state, offset);
        }
        ways.push(way);
        costs = next;
    }
    let (mut state, _) = least(&costs);
    let mut spans = Vec::new();
    let mut to = pitches.len();
    for (frame, way) in ways.iter().enumerate().rev() {
        let before = usize::from(way[state]);
        if before != state || frame == 0 {
            if state != SILENCE {
                spans.push(Span { from: frame, to });
            }
            to = frame;
        }
        state = before;
    }
    spans.reverse();
    spans
}

/// What a frame costs in a state.
fn heard(pitch: Option<f64>, state: usize, offset: f64) -> f64 {
    match (pitch, state) {
        (None, SILENCE) => 0.0,
        (Some(_), SILENCE) => PITCH,
        (None, _) => NO_PITCH,
        (Some(pitch), key) => {
            let away = (pitch - offset - (LOWEST + key) as f64).abs();
            (OFF * away / 0.5).min(FAR)
        }
    }
}

fn least(costs: &[f64]) -> (usize, f64) {
    let places = costs.iter().copied().enumerate();
    places.fold(
        (0, f64::INFINITY),
        |best, next| if next.1 < best.1 { next } else { best },
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Some frames of each pitch.
    fn frames(pitches: &[(f64, usize)]) -> Vec<Option<f64>> {
        let stretches = pitches
            .iter()
            .map(|(pitch, count)| vec![(*pitch > 0.0).then_some(*pitch); *count]);
        stretches.collect::<Vec<_>>().concat()
    }

    fn found(pitches: &[Option<f64>], offset: f64) -> Vec<(usize, usize)> {
        let spans = spans(pitches, &vec![false; pitches.len()], offset);
        spans.iter().map(|span| (span.from, span.to)).collect()
    }

    #[test]
    fn notes_are_told_by_their_pitch() {
        let melody = frames(&[(0.0, 20), (60.2, 40), (62.2, 40), (0.0, 30), (62.2, 40)]);
        assert_eq!(found(&melody, 0.2), [(20, 60), (60, 100), (130, 170)]);
        assert_eq!(found(&[], 0.0), []);
        assert_eq!(found(&frames(&[(0.0, 100)]), 0.0), []);
    }

    #[test]
    fn vibrato_a_glide_and_a_crack_are_one_note() {
        let vibrato = |n: usize| Some(64.0 + 0.6 * libm::sin(n as f64 / 5.0));
        assert_eq!(found(&(0..150).map(vibrato).collect::<Vec<_>>(), 0.0), [(0, 150)]);
        let glide = (0..8)
            .map(|n| Some(62.0 + f64::from(n) / 4.0))
            .chain(vec![Some(64.0); 60]);
        assert_eq!(found(&glide.collect::<Vec<_>>(), 0.0), [(0, 68)]);
        assert_eq!(
            found(&frames(&[(64.0, 40), (0.0, 3), (76.0, 4), (64.0, 40)]), 0.0),
            [(0, 87)]
        );
    }
}
