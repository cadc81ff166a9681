//! Letters and numbers that tell something only beside their instrument.

use super::lexicon::Meant;
use super::words::{Drum, Sense, TOM_DIAMETERS, TOM_SIZES, Way};

/// Instruments whose pieces are told apart by high and low.
const PAIRS: [Drum; 6] = [
    Drum::Tom,
    Drum::Bongo,
    Drum::Conga,
    Drum::Timbale,
    Drum::Agogo,
    Drum::Woodblock,
];

/// Reads letters and numbers that tell a piece only beside their instrument: `hat o`, `tom h`, `tom 10 inch`, `T1` among toms.
///
/// Gives the place of one that may as well be something else: a `p` that may be piano, a diameter that may be a turn.
pub(crate) fn settle_letters(words: &[String], own: &mut Vec<Meant>, among_toms: bool) -> Option<usize> {
    let is_tom = among_toms || own.iter().any(|meant| meant.is(Drum::Tom));
    let mut doubtful = None;
    for at in 0..words.len() {
        let number = is_number(&words[at]) && is_tom;
        let told = match number {
            true => size(words, own, at).or_else(|| rank(words, at).map(|way| (way, false))),
            false => letter(words, own, at),
        };
        let Some((way, doubt)) = told else { continue };
        doubtful = doubt.then_some(at).or(doubtful);
        own.retain(|meant| (meant.from, meant.to) != (at, at + 1));
        own.push(Meant {
            sense: Sense::Way(way),
            text: words[at].clone(),
            from: at,
            to: at + 1,
        });
    }
    own.sort_by_key(|meant| meant.from);
    doubtful
}

/// The instrument of the word at a place.
fn drum_at(own: &[Meant], at: usize) -> Option<Drum> {
    let stands = |meant: &&Meant| (meant.from..meant.to).contains(&at);
    Some(own.iter().filter(stands).find_map(Meant::drum)?.0)
}

/// What a letter tells, and whether it may as well be something else.
fn letter(words: &[String], own: &[Meant], at: usize) -> Option<(Way, bool)> {
    let near = [at.checked_sub(1), Some(at + 1)].into_iter().flatten();
    let beside = near.filter_map(|near| drum_at(own, near)).next()?;
    let pair = PAIRS.contains(&beside);
    let way = match (words[at].as_str(), beside) {
        ("o", Drum::Hat | Drum::Triangle) => Way::Open,
        ("c", Drum::Hat) => Way::Closed,
        ("p", Drum::Hat) => return Some((Way::Pedal, true)),
        ("h", _) if pair => Way::High,
        ("m", Drum::Tom) => Way::Mid,
        ("l", _) if pair => Way::Low,
        _ => return None,
    };
    Some((way, false))
}

/// The tom of a diameter: a number with its unit, or one that toms are made in behind the word itself.
fn size(words: &[String], own: &[Meant], at: usize) -> Option<(Way, bool)> {
    let inches: u32 = words[at].parse().ok().filter(|inches| *inches >= 6)?;
    let unit = |word: &String| matches!(word.as_str(), "in" | "inch" | "inches" | "zoll");
    let with_unit = words.get(at + 1).is_some_and(unit);
    let behind = at > 0 && drum_at(own, at - 1) == Some(Drum::Tom);
    let bare = behind && TOM_DIAMETERS.contains(&inches) && !words[at].starts_with('0');
    let way = TOM_SIZES.iter().find(|(upto, _)| inches <= *upto)?.1;
    (with_unit || bare).then_some((way, !with_unit))
}

/// Racks are counted from the highest.
fn rank(words: &[String], at: usize) -> Option<Way> {
    let counted = at > 0 && words[at - 1] == "t";
    let ways = [Way::High, Way::Mid, Way::Low, Way::Floor];
    let number: usize = words[at].parse().ok().filter(|_| counted)?;
    ways.get(number.checked_sub(1)?).copied()
}

pub(crate) fn is_number(word: &str) -> bool {
    !word.is_empty() && word.bytes().all(|byte| byte.is_ascii_digit())
}
