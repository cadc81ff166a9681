//! Ties that names leave open, solved by how the files sound: a closed hat is shorter than an open one, a kick is lower than a
//! snare, toms go from the highest to the lowest.
//!
//! Only files that are tied are decoded, and never more than a few: in a large library names alone have to tell.

use std::collections::BTreeMap;
use std::convert::Infallible;
use std::path::Path;

use rayon::prelude::*;

use super::classify::{Decided, Reading};
use super::takes::Alike;
use super::takes::file_names;
use super::words::Drum;
use crate::base::audio::Audio;
use crate::kit::audio::analysis_memory;
use crate::kit::audio::analysis_memory::Known;
use crate::kit::audio::decode::decode;

/// Files that are decoded for one kit at the most.
const MOST: usize = 64;
/// Files of one folder among which pieces are told apart at the most: more of them are no set.
const SET: usize = 12;
/// How sure what was heard is.
const HEARD: f64 = 0.6;

/// What is heard of a file.
#[derive(Debug, Clone, Copy)]
struct SoundFeatures {
    /// Seconds until it stays 40 dB under its peak.
    length: f64,
    /// The share of its energy that lies in the bass.
    low: f64,
    /// How high its body sounds, in Hz: the root mean square of its frequencies below those of a stick or a rattle.
    body: f64,
}

/// Files that are to be told apart.
enum Tie {
    /// One file that is a kick or a snare.
    KickOrSnare(usize),
    /// Groups of one instrument in one folder.
    Set(Drum, Vec<usize>),
    /// The takes of one group, which may be different toms.
    Counted(usize),
}

/// Solves ties between groups of files, whose paths are relative to `root`. A file that can't be read leaves its tie open, and
/// so does one that can't be any of the pieces that are wanted, where not all are: nobody asks what it is.
pub(crate) fn settle_by_sound(groups: &mut Vec<Alike>, root: &Path, wanted: Option<&[&str]>) {
    let mut left = MOST;
    let mut split: Vec<(usize, Vec<&'static str>)> = Vec::new();
    for tie in ties(groups) {
        let files: Vec<&Path> = match &tie {
            Tie::KickOrSnare(at) => vec![groups[*at].takes[0].1],
            Tie::Set(_, set) => set.iter().map(|at| groups[*at].takes[0].1).collect(),
            Tie::Counted(at) => groups[*at].takes.iter().map(|(_, file)| *file).collect(),
        };
        if files.len() > left {
            continue;
        }
        // Whoever wants few pieces must hear no more of the rest than whoever wants all.
        left -= files.len();
        if !wanted.is_none_or(|wanted| matters(&tie, groups, wanted)) {
            continue;
        }
        let listen = || files.par_iter().map(|file| listen(&root.join(file))).collect();
        let heard: Option<Vec<SoundFeatures>> = analysis_memory::timed(listen);
        let Some(heard) = heard else { continue };
        match tie {
            Tie::KickOrSnare(at) => {
                let piece = if heard[0].low > 0.5 { "kick" } else { "snare" };
                hear(&mut groups[at].reading, piece);
            }
            Tie::Set(drum, set) => {
                for (at, piece) in set.into_iter().zip(pieces(drum, &heard)) {
                    hear(&mut groups[at].reading, piece);
                }
            }
            // Toms are counted from the highest; turns of one tom sound alike.
            Tie::Counted(at) if heard.windows(2).all(|pair| pair[1].body < 0.89 * pair[0].body) => {
                split.push((at, pieces(Drum::Tom, &heard)));
            }
            Tie::Counted(_) => {}
        }
    }
    split.sort_by_key(|(at, _)| std::cmp::Reverse(*at));
    for (at, pieces) in split {
        let mut parts = groups.remove(at).apart();
        parts
            .iter_mut()
            .zip(pieces)
            .for_each(|(part, piece)| hear(&mut part.reading, piece));
        groups.splice(at..at, parts);
    }
}

/// True where a wanted piece may be one of those that are told apart, or goes by the name of one of their files.
fn matters(tie: &Tie, groups: &[Alike], wanted: &[&str]) -> bool {
    use Drum::{Agogo, Bongo, Hat, Timbale, Tom};
    let (begin, tied): (&[&str], &[usize]) = match tie {
        Tie::KickOrSnare(at) => (&["kick", "snare"], std::slice::from_ref(at)),
        Tie::Counted(at) => (&["tom"], std::slice::from_ref(at)),
        Tie::Set(Hat, set) => (&["hat"], set),
        Tie::Set(Tom, set) => (&["tom"], set),
        Tie::Set(Bongo, set) => (&["bongo"], set),
        Tie::Set(Timbale, set) => (&["timbale"], set),
        Tie::Set(Agogo, set) => (&["agogo"], set),
        Tie::Set(_, set) => (&["woodblock"], set),
    };
    let called = |name: &str| {
        tied.iter().any(|at| {
            let mut files = groups[*at].takes.iter().map(|(_, file)| *file);
            groups[*at].base == name || files.any(|file| file_names(file).iter().any(|own| own == name))
        })
    };
    wanted
        .iter()
        .any(|name| begin.iter().any(|begin| name.starts_with(begin)) || called(name))
}

fn hear(reading: &mut Reading, piece: &'static str) {
    reading.piece = Some(piece);
    reading.confidence = reading.confidence.max(HEARD);
    reading.decided = Decided::Sound;
}

fn ties(groups: &[Alike]) -> Vec<Tie> {
    let mut sets: BTreeMap<(Option<&Path>, Drum), Vec<usize>> = BTreeMap::new();
    let mut ties = Vec::new();
    for (at, group) in groups.iter().enumerate() {
        let within = group.takes[0].1.parent();
        if group.tied.contains(&Drum::Kick) && group.tied.iter().all(|of| matches!(of, Drum::Kick | Drum::Snare)) {
            ties.push(Tie::KickOrSnare(at));
        } else if let Some(drum) = group.bare.filter(|drum| tells_apart(*drum)) {
            sets.entry((within, drum)).or_default().push(at);
        }
    }
    // A folder that names its open hats means closed ones by the others.
    let named: Vec<Option<&Path>> = groups
        .iter()
        .filter(|group| group.reading.piece == Some("hat-open"))
        .map(|group| group.takes[0].1.parent())
        .collect();
    for ((within, drum), set) in sets {
        match set.as_slice() {
            [only] if drum == Drum::Tom && groups[*only].counts_drums() => ties.push(Tie::Counted(*only)),
            [_, _, ..] if set.len() <= SET && !(drum == Drum::Hat && named.contains(&within)) => {
                ties.push(Tie::Set(drum, set));
            }
            _ => {}
        }
    }
    ties
}

fn tells_apart(drum: Drum) -> bool {
    use Drum::{Agogo, Bongo, Hat, Timbale, Tom, Woodblock};
    matches!(drum, Hat | Tom | Bongo | Timbale | Agogo | Woodblock)
}

/// The pieces of some files of one instrument, in their order.
fn pieces(drum: Drum, heard: &[SoundFeatures]) -> Vec<&'static str> {
    if drum == Drum::Hat {
        let shortest = heard.iter().map(|heard| heard.length).fold(f64::INFINITY, f64::min);
        let open = |heard: &SoundFeatures| heard.length > 0.25 && heard.length > 2.0 * shortest;
        let piece = |heard| if open(heard) { "hat-open" } else { "hat-closed" };
        return heard.iter().map(piece).collect();
    }
    let mut order: Vec<usize> = (0..heard.len()).collect();
    order.sort_by(|a, b| heard[*b].body.total_cmp(&heard[*a].body).then(a.cmp(b)));
    let (high, low) = match drum {
        Drum::Bongo => ("bongo-high", "bongo-low"),
        Drum::Timbale => ("timbale-high", "timbale-low"),
        Drum::Agogo => ("agogo-high", "agogo-low"),
        Drum::Woodblock => ("woodblock-high", "woodblock-low"),
        _ => ("tom-high", "tom-low"),
    };
    let count = order.len();
    let mut pieces = vec![high; count];
    for (rank, at) in order.into_iter().enumerate() {
        pieces[at] = match (drum, rank) {
            (_, 0) => high,
            (Drum::Tom, last) if count > 3 && last + 1 == count => "tom-floor",
            (Drum::Tom, last) if last + 1 == count || count > 3 && last + 2 == count => low,
            (Drum::Tom, _) => "tom-mid",
            (_, rank) if 2 * rank < count => high,
            _ => low,
        };
    }
    pieces
}

/// What was heard of each file so far; none of one that can't be read or is silent.
static KNOWN: Known<Option<SoundFeatures>> = Known::new();

fn listen(file: &Path) -> Option<SoundFeatures> {
    let listen = || Ok::<_, Infallible>(decode(file).ok().and_then(|decoded| heard(&decoded.audio)));
    KNOWN.find_or(file, listen).ok().flatten()
}

/// The seconds that are listened to for height: the body of a drum.
const BODY: f64 = 0.5;

fn heard(audio: &Audio) -> Option<SoundFeatures> {
    let side = audio.channels.first()?;
    let rate = f64::from(audio.rate.max(1));
    let peak = side.iter().fold(0.0f32, |most, sample| most.max(sample.abs()));
    if peak <= 0.0 || !peak.is_finite() {
        return None;
    }
    let loud = |sample: &f32| sample.abs() >= 0.01 * peak;
    let begins = side.iter().position(loud)?;
    let ends = side.iter().rposition(loud)?;
    let sounding = &side[begins..=ends];
    let body = &sounding[..sounding.len().min((BODY * rate) as usize).max(1)];
    let (mut all, mut bass, mut below, mut moved, mut last) = (0.0, 0.0, 0.0, 0.0, 0.0);
    let (mut lows, mut bodies) = (LowPass::at(200.0, rate), LowPass::at(1_000.0, rate));
    for sample in body {
        let sample = f64::from(*sample);
        let (low, dull) = (lows.pass(sample), bodies.pass(sample));
        all += sample * sample;
        bass += low * low;
        below += dull * dull;
        moved += (dull - last) * (dull - last);
        last = dull;
    }
    Some(SoundFeatures {
        length: sounding.len() as f64 / rate,
        low: bass / all,
        // Of a sine the root mean square of its steps is its own, times 2π f over the rate.
        body: (moved / below.max(f64::MIN_POSITIVE)).sqrt() * rate / std::f64::consts::TAU,
    })
}

/// Two one-pole low-passes in a row.
struct LowPass {
    share: f64,
    first: f64,
    second: f64,
}

impl LowPass {
    fn at(hz: f64, rate: f64) -> LowPass {
        LowPass {
            share: 1.0 - libm::exp(-std::f64::consts::TAU * hz / rate),
            first: 0.0,
            second: 0.0,
        }
    }

    fn pass(&mut self, sample: f64) -> f64 {
        self.first += self.share * (sample - self.first);
        self.second += self.share * (self.first - self.second);
        self.second
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A sine that dies away, falling 60 dB in some seconds.
    fn tone(hz: f64, decay: f64) -> Audio {
        let rate = 48_000;
        let sample = |at: usize| {
            let seconds = at as f64 / f64::from(rate);
            (libm::exp(-6.9 * seconds / decay) * libm::sin(std::f64::consts::TAU * hz * seconds)) as f32
        };
        Audio {
            channels: vec![(0..(decay * f64::from(rate)) as usize).map(sample).collect()],
            rate,
        }
    }

    #[test]
    fn length_and_height_are_heard() {
        let kick = heard(&tone(60.0, 0.3)).unwrap();
        let snare = heard(&tone(900.0, 0.3)).unwrap();
        assert!(kick.low > 0.5 && snare.low < 0.5, "{kick:?} {snare:?}");
        // 40 dB are two thirds of 60.
        assert!((kick.length - 0.2).abs() < 0.02, "{kick:?}");
        for hz in [80.0, 120.0, 300.0] {
            let heard = heard(&tone(hz, 0.6)).unwrap();
            assert!((heard.body / hz - 1.0).abs() < 0.15, "{hz}: {heard:?}");
        }
        assert!(heard(&Audio::silence(1, 100, 48_000)).is_none());
        assert!(heard(&Audio::default()).is_none());
    }

    #[test]
    fn sets_go_from_the_highest_to_the_lowest() {
        let set = |hz: &[f64]| -> Vec<SoundFeatures> { hz.iter().map(|hz| heard(&tone(*hz, 0.5)).unwrap()).collect() };
        assert_eq!(pieces(Drum::Tom, &set(&[90.0, 150.0])), ["tom-low", "tom-high"]);
        assert_eq!(
            pieces(Drum::Tom, &set(&[200.0, 150.0, 110.0, 80.0])),
            ["tom-high", "tom-mid", "tom-low", "tom-floor"]
        );
        assert_eq!(pieces(Drum::Bongo, &set(&[300.0, 420.0])), ["bongo-low", "bongo-high"]);
        let hats = [0.1, 0.12, 0.9].map(|decay| heard(&tone(6_000.0, decay)).unwrap());
        assert_eq!(pieces(Drum::Hat, &hats), ["hat-closed", "hat-closed", "hat-open"]);
    }
}
