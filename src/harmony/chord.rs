//! Chord symbols, as lead sheets write them.

use std::fmt;

use super::degree::Degree;
use super::misread::Misread;
use super::note::{Note, Spelling};
use super::quality::{COMMON, MAJOR, SAID, WRITTEN};
use super::symbol::Quality;

/// A tone of a chord.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Tone {
    /// Its degree above the root; the number goes beyond 7 for ninths, elevenths and thirteenths.
    pub degree: Degree,
    /// Its name.
    pub spelling: Spelling,
    /// False where players may leave it out and the chord is still what its symbol says, such as a plain fifth under a
    /// seventh, or the ninth under a thirteenth.
    pub essential: bool,
}

/// A chord.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Chord {
    /// Its symbol as it was written.
    pub symbol: String,
    /// Its root.
    pub root: Spelling,
    /// The bass note behind a slash, where one is written.
    pub bass: Option<Spelling>,
    /// Its tones by degree, the root first; a bass behind a slash only where it is one of them.
    pub tones: Vec<Tone>,
    /// The notes that a chart gives it, the lowest first; without them its voicing is chosen.
    pub pinned: Option<Vec<Note>>,
}

/// What one place of a chart says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Symbol {
    /// A chord.
    Chord(Chord),
    /// `N.C.`: no chord.
    Silence,
}

impl Symbol {
    /// Reads a chord symbol such as `Gm9`, `F#7(b9,#11)`, `C/E`, or `N.C.`.
    ///
    /// Slashes alone (one more beat) and `%` (the bar before again) are the chart's, not a symbol's.
    pub fn parse(word: &str) -> Result<Symbol, Misread> {
        match word {
            "N.C." | "N.C" | "NC" => Ok(Symbol::Silence),
            _ if matches!(word.to_lowercase().as_str(), "n.c." | "n.c" | "nc") => {
                let what = format!("`{word}` is no chord symbol");
                Err(Misread::new(what, 0..word.len()).offer(Some("N.C.".to_string())))
            }
            _ => Chord::parse(word).map(Symbol::Chord),
        }
    }
}

impl Chord {
    /// Reads a chord symbol.
    pub fn parse(word: &str) -> Result<Chord, Misread> {
        let (root, behind) = Spelling::begin(word).map_err(|wrong| {
            let readable = |meant: &String| Chord::parse(meant).is_ok();
            let meant = wrong.nearest.clone().filter(readable);
            wrong.offer(meant)
        })?;
        let slash = slash(word, behind);
        let quality_end = slash.unwrap_or(word.len());
        let suffix = &word[behind..quality_end];
        let bass = match slash {
            Some(at) => Some(read_bass(word, at)?),
            None => None,
        };
        match Quality::read(suffix) {
            Ok(quality) => Ok(Chord {
                symbol: word.to_string(),
                root,
                bass,
                tones: spell(root, &quality),
                pinned: None,
            }),
            Err((says, span)) => {
                let what = format!("`{}` {says}", &suffix[span.clone()]);
                let meant = nearest_suffix(suffix, span.start)
                    .map(|near| word[..behind].to_string() + &near + &word[quality_end..]);
                Err(Misread::new(what, span).moved(behind).offer(meant))
            }
        }
    }

    /// A chord of a root and a suffix that is known to be readable, such as `m7`; none where it is not.
    pub(super) fn of(root: Spelling, suffix: &str, bass: Option<Spelling>) -> Option<Chord> {
        let quality = Quality::read(suffix).ok()?;
        let slash = bass.map(|bass| format!("/{bass}")).unwrap_or_default();
        Some(Chord {
            symbol: format!("{root}{suffix}{slash}"),
            root,
            bass,
            tones: spell(root, &quality),
            pinned: None,
        })
    }

    /// The lowest note that the symbol asks for: the bass behind the slash, or the root.
    pub fn lowest(&self) -> Spelling {
        self.bass.unwrap_or(self.root)
    }

    /// Whether it has a tone on exactly this degree.
    pub(super) fn has(&self, number: u8, alter: i8) -> bool {
        let degree = Degree::new(number, alter);
        self.tones.iter().any(|tone| tone.degree == degree)
    }

    /// Whether it is a dominant: a major third and a minor seventh.
    pub(crate) fn is_dominant(&self) -> bool {
        self.has(3, 0) && self.has(7, -1)
    }

    /// Whether it has a ninth, an eleventh or a thirteenth beside a seventh or a sixth.
    pub(super) fn has_tensions(&self) -> bool {
        let numbers = || self.tones.iter().map(|tone| tone.degree.number);
        numbers().any(|number| number >= 9) && numbers().any(|number| matches!(number, 6 | 7))
    }

    /// Whether a ninth may sound in the place of its root, which is left to the bass.
    pub(super) fn replaces_root(&self) -> bool {
        self.has_tensions() && self.tones.iter().any(|tone| tone.degree.number == 9)
    }

    /// The tone on a degree's number, octaves aside; its exact number first (`9` before `2`), unaltered before altered.
    pub fn tone(&self, number: u8) -> Option<&Tone> {
        let exact = self.tones.iter().filter(|tone| tone.degree.number == number);
        let folded = self
            .tones
            .iter()
            .filter(|tone| tone.degree.step() == Degree::new(number, 0).step());
        exact
            .min_by_key(|tone| tone.degree.alter.abs())
            .or(folded.min_by_key(|tone| tone.degree.alter.abs()))
    }
}

/// The symbol as it was written.
impl fmt::Display for Chord {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.symbol)
    }
}

fn spell(root: Spelling, quality: &Quality) -> Vec<Tone> {
    let spelled = quality.degrees().into_iter().map(|(degree, essential)| Tone {
        degree,
        spelling: degree.above(root),
        essential,
    });
    spelled.collect()
}

/// Where the slash of a bass note stands: the last one, but for those of `6/9`, `7/13` and `m/maj7`.
fn slash(word: &str, behind: usize) -> Option<usize> {
    let at = behind + word[behind..].rfind('/')?;
    let next = &word[at + 1..];
    let part = next.starts_with(|c: char| c.is_ascii_digit()) || MAJOR.iter().any(|word| next.starts_with(word));
    (!part).then_some(at)
}

fn read_bass(word: &str, slash: usize) -> Result<Spelling, Misread> {
    let from = slash + 1;
    if from == word.len() {
        return Err(Misread::new("the bass note behind the slash is missing", slash..from));
    }
    Spelling::parse(&word[from..]).map_err(|wrong| {
        let meant = wrong.nearest.as_ref().map(|near| format!("{}{near}", &word[..from]));
        let meant = meant.filter(|meant| Chord::parse(meant).is_ok());
        wrong.clone().moved(from).offer(meant)
    })
}

/// What a suffix most likely means: what people write so; else the common suffix that is fewest typing errors away
/// (Damerau-Levenshtein), or what could be read before the error. A sign that is unknown is not dropped to read the rest: it may
/// have said what kind of chord this is.
fn nearest_suffix(suffix: &str, wrong_from: usize) -> Option<String> {
    if let Some((_, meant)) = SAID.iter().find(|(said, _)| *said == suffix) {
        return Some(meant.to_string());
    }
    let rewritten = rewritten(suffix);
    if rewritten != suffix && Quality::read(&rewritten).is_ok() {
        return Some(rewritten);
    }
    let read = || {
        let before = suffix[..wrong_from].trim_end_matches(['(', '[', ',']);
        (!before.is_empty() && Quality::read(before).is_ok()).then(|| before.to_string())
    };
    let letters = |letter: char| letter.is_ascii_alphanumeric() || "#b♯♭()[],/+-".contains(letter);
    if !suffix.chars().all(letters) {
        return read();
    }
    let length = suffix.chars().count();
    let far = 3.min(length);
    let near = COMMON
        .iter()
        .map(|common| (strsim::osa_distance(suffix, common), *common));
    let best = near
        .filter(|(distance, common)| *distance < far && !common.is_empty())
        .min_by_key(|(distance, _)| *distance);
    match best {
        Some((1, common)) => Some(common.to_string()),
        best => read().or(best.map(|(_, common)| common.to_string())),
    }
}

/// A suffix with the words and signs that lead sheets have for those in it.
fn rewritten(suffix: &str) -> String {
    let mut text = suffix.to_string();
    for (written, meant) in WRITTEN {
        // `maj` has a `j` of its own.
        if !written.starts_with('j') || !text.to_lowercase().contains("maj") {
            text = text.replace(written, meant);
        }
    }
    text.replace("mmaj", "mMaj")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn tones(word: &str) -> String {
        let chord = Chord::parse(word).unwrap_or_else(|wrong| panic!("{word}: {wrong}"));
        let names: Vec<String> = chord.tones.iter().map(|tone| tone.spelling.to_string()).collect();
        names.join(" ")
    }

    #[test]
    fn symbols_spell_what_the_trade_spells() {
        // checks.md, Harmony: the first seven; the rest [practice].
        for (word, spelled) in [
            ("Bbm13", "Bb Db F Ab C Eb G"),
            ("G7", "G B D F"),
            ("Bbmaj7", "Bb D F A"),
            ("Dm7b5", "D F Ab C"),
            ("Absus2", "Ab Bb Eb"),
            ("C2", "C D G"),
            ("C2/E", "C D G"),
            ("C6/9", "C E G A D"),
            ("C13", "C E G Bb D A"),
            ("C", "C E G"),
            ("CM", "C E G"),
            ("C-7", "C Eb G Bb"),
            ("CΔ", "C E G B"),
            ("C△9", "C E G B D"),
            ("Cma7", "C E G B"),
            ("Cmadd9", "C Eb G D"),
            ("C°", "C Eb Gb"),
            ("C°7", "C Eb Gb Bbb"),
            ("Cø", "C Eb Gb Bb"),
            ("Cm(maj7)", "C Eb G B"),
            ("C-Δ7", "C Eb G B"),
            ("CmM9", "C Eb G B D"),
            ("C7(b9,#11)", "C E G Bb Db F#"),
            ("C7b9#9", "C E G Bb Db D#"),
            ("C7♯5♭9", "C E G# Bb Db"),
            ("C7+", "C E G# Bb"),
            ("C7-9", "C E G Bb Db"),
            ("C+7", "C E G# Bb"),
            ("C+maj7", "C E G# B"),
            ("C9sus4", "C F G Bb D"),
            ("C13sus4", "C F G Bb D A"),
            ("Csus24", "C D F G"),
            ("C7no3", "C G Bb"),
            ("C9omit5", "C E Bb D"),
            ("C5", "C G"),
            ("C(no3)", "C G"),
            ("C7(13)", "C E G Bb A"),
            ("C7/13", "C E G Bb A"),
            ("Cm7/11", "C Eb G Bb F"),
            ("Cm/maj7", "C Eb G B"),
            ("CMA9", "C E G B D"),
            ("C7alt", "C E Gb G# Bb Db D#"),
            ("Cm(b6)", "C Eb G Ab"),
            ("F♯m7", "F# A C# E"),
            ("Cbbdim7", "Cbb Ebbb Gbbb Bbbbb"),
        ] {
            assert_eq!(tones(word), spelled, "{word}");
        }
    }

    #[test]
    fn a_slash_names_the_bass() {
        let chord = Chord::parse("C6/9/Bb").expect("a chord");
        assert_eq!(chord.bass.map(|bass| bass.to_string()).as_deref(), Some("Bb"));
        assert_eq!(Symbol::parse("N.C."), Ok(Symbol::Silence));
    }

    #[test]
    fn plain_fifths_and_middle_tensions_may_go() {
        let optional = |word: &str| {
            let chord = Chord::parse(word).expect(word);
            let names: Vec<String> = chord
                .tones
                .iter()
                .filter(|tone| !tone.essential)
                .map(|tone| tone.degree.to_string())
                .collect();
            names.join(" ")
        };
        for (word, may_go) in [
            ("C", ""),
            ("C7", "5"),
            ("C13", "5 9"),
            ("Cm13", "5 9 11"),
            ("C11", "3 5 9"),
            ("C7b5", ""),
        ] {
            assert_eq!(optional(word), may_go, "{word}");
        }
    }

    #[test]
    fn what_cannot_be_read_is_pointed_at_with_the_nearest_reading() {
        for (word, span, meant) in [
            ("Cmja7", 2..5, Some("Cmaj7")),
            ("Csus5", 4..5, Some("Csus4")),
            ("cm7", 0..1, Some("Cm7")),
            ("Hm7", 0..1, Some("Bm7")),
            ("Gm77", 3..4, Some("Gm7")),
            ("C7(b9", 2..3, Some("C7b9")),
            ("C7)", 2..3, Some("C7")),
            ("C/H", 2..3, Some("C/B")),
            ("C/", 1..2, None),
            ("Fm7xyzzy/Eb", 3..8, Some("Fm7/Eb")),
            ("C4", 1..2, Some("Csus4")),
            ("Bb^9", 2..4, Some("Bbmaj9")),
            ("Bb^", 2..3, Some("Bbmaj7")),
            ("Bbj7", 2..4, Some("Bbmaj7")),
            ("Bbmaj13^", 7..8, Some("Bbmaj13")),
            ("Bb7M", 3..4, Some("Bbmaj7")),
            ("Cm^7", 2..4, Some("CmMaj7")),
            ("CMIN7", 2..5, Some("Cm7")),
            ("CMI9", 2..4, Some("Cm9")),
            ("C∅7", 1..5, Some("Cø7")),
            ("C07", 1..3, Some("Cdim7")),
            ("Ch7", 1..3, Some("Cm7b5")),
            ("C7flat9", 2..7, Some("C7b9")),
            ("C7sharp11", 2..9, Some("C7#11")),
            ("Csus9", 4..5, Some("C9sus4")),
            ("Cdominant13", 1..11, Some("C13")),
            ("Cdiminished7", 4..12, Some("Cdim7")),
            ("Caltered", 4..8, Some("Calt")),
            // What the sign says is not known, so that `Bb9` may be another chord.
            ("Bb¤9", 2..5, None),
            ("Gdom7/B", 1..5, Some("G7/B")),
            ("nc", 0..2, Some("N.C.")),
            ("", 0..0, None),
        ] {
            let wrong = Symbol::parse(word).expect_err(word);
            assert_eq!(wrong.span, span, "{word}");
            assert_eq!(wrong.nearest.as_deref(), meant, "{word}");
        }
    }

    #[test]
    fn every_common_suffix_can_be_read() {
        for suffix in COMMON {
            assert!(Quality::read(suffix).is_ok(), "{suffix}");
        }
    }

    proptest! {
        #[test]
        fn any_text_is_read_or_refused(word in "[A-H]?[#b♭♯]?[majminsuådd°øΔ+0-9#b/()., -]{0,9}|\\PC{0,12}") {
            if let Err(wrong) = Symbol::parse(&word) {
                prop_assert!(word.get(wrong.span.clone()).is_some(), "{:?}", wrong);
                if let Some(meant) = wrong.nearest {
                    prop_assert!(Symbol::parse(&meant).is_ok(), "{}", meant);
                }
            }
        }

        #[test]
        fn letters_lie_as_far_from_the_root_as_their_degree_says(at in 0usize..COMMON.len(), letter in 0i32..7, alter in -2i8..=2) {
            let root = Spelling::new(crate::harmony::note::Letter::C.step(letter), alter);
            let chord = Chord::of(root, COMMON[at], None).expect("a known suffix");
            for tone in &chord.tones {
                let step = i32::from(tone.degree.number) - 1;
                prop_assert_eq!(tone.spelling.letter, root.letter.step(step));
                let above = (tone.spelling.pitch_class() - root.pitch_class()).rem_euclid(12);
                prop_assert_eq!(above, tone.degree.semitones().rem_euclid(12));
            }
            if alter != 0 || !COMMON[at].starts_with(['b', '#']) {
                prop_assert_eq!(Chord::parse(&chord.symbol), Ok(chord.clone()));
            }
        }
    }
}
