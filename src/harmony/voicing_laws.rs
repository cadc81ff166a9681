//! What the books on voicings forbid: intervals that are muddy or harsh, and tensions on the wrong side of their chord.

use super::chord::Chord;
use super::note::Note;

/// The low interval limits: the lowest key at which the lower note of an interval may stand, by semitones from a minor second
/// up to a major tenth. T. Pease and K. Pullig, "Modern Jazz Voicings" \[memory\]; the octave has none.
pub(crate) const LOW_INTERVAL_LIMITS: [i32; 16] = [
    52, // minor second: E3
    51, // major second: Eb3
    48, // minor third: C3
    46, // major third: Bb2
    46, // fourth: Bb2
    47, // tritone: B2
    34, // fifth: Bb1
    43, // minor sixth: G2
    41, // major sixth: F2
    41, // minor seventh: F2
    41, // major seventh: F2
    0,  // octave
    40, // minor ninth: E2
    39, // major ninth: Eb2
    36, // minor tenth: C2
    34, // major tenth: Bb1
];

/// Whether an interval is so low that its notes blur; `low` is the lower note's key.
pub(crate) fn too_low(low: i32, semitones: i32) -> bool {
    let at = usize::try_from(semitones - 1).ok();
    let limit = at.and_then(|at| LOW_INTERVAL_LIMITS.get(at));
    limit.is_some_and(|limit| low < *limit)
}

/// How often a chord's voices, the lowest first, break a law:
///
/// - the low interval limits;
/// - a minor ninth between two voices, but for the b9 of a dominant above its root;
/// - a semitone between the two highest of three voices or more, which hides the melody (Pease and Pullig \[memory\]);
/// - a cluster: three voices a second apart;
/// - a sharp ninth or a sharp eleventh below the major third (Levine \[memory\]).
pub(super) fn breaches(chord: &Chord, voices: &[Note]) -> u32 {
    let is = |note: &Note, number: u8, alter: i8| {
        let tone = chord.tones.iter().find(|tone| tone.spelling == note.spelling);
        tone.is_some_and(|tone| (tone.degree.number, tone.degree.alter) == (number, alter))
    };
    let mut broken = 0;
    for (at, low) in voices.iter().enumerate() {
        for high in &voices[at + 1..] {
            let apart = high.midi() - low.midi();
            let flat_ninth = is(high, 9, -1) && low.spelling == chord.root;
            let harsh = apart > 12 && apart % 12 == 1 && !flat_ninth;
            let beneath = is(high, 3, 0) && (is(low, 9, 1) || is(low, 11, 1));
            broken += [too_low(low.midi(), apart), harsh, beneath]
                .into_iter()
                .filter(|law| *law)
                .count() as u32;
        }
    }
    let gaps: Vec<i32> = voices.windows(2).map(|pair| pair[1].midi() - pair[0].midi()).collect();
    broken += gaps.windows(2).filter(|two| two.iter().all(|gap| *gap <= 2)).count() as u32;
    if gaps.len() > 1 && gaps.last() == Some(&1) {
        broken += 1;
    }
    broken
}
