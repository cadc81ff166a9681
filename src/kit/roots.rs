//! Roots: at which pitch each recording was made.
//!
//! What is written in `kit.toml` holds. Else a file's name tells, else its `smpl` or `INST` chunk, else its sound. Makers disagree on
//! whether MIDI key 60 is C3 or C4, so the sound settles the octave of a note in a name.

use std::collections::BTreeSet;

use super::audio::decode::Sides;
use super::audio::facts::Facts;
use super::audio::pitch::{BELIEVED, PitchEstimate, note_name};
use super::audio::stand_in::KEYS;
use super::findings::find_recordings;
use super::index::{Index, Layer, Piece};
use super::open::Kit;
use super::root::{IN_TUNE, Judged, MIDDLE, RootSource, Zone, nearest_takes};
use super::root_notices::Odd;
use crate::harmony::pitch_name;
use crate::schema::STAND_IN;
use crate::text::Problem;

impl Index {
    /// Of a layer's takes those that a note takes in turn: the nearest to its pitch, all at one root. None have one where the
    /// piece has no root.
    pub fn zone(&self, layer: &Layer, pitch: f64) -> Vec<usize> {
        nearest_takes(&layer.zones, pitch, |take| self.root(take))
    }

    /// How far a piece's nearest recording lies from a pitch, in semitones; none where the piece has no root.
    pub fn reach(&self, piece: &Piece, pitch: f64) -> Option<f64> {
        let roots = piece.layers.iter().flat_map(|layer| &layer.zones);
        roots
            .filter_map(|take| self.root(*take))
            .map(|root| (root - pitch).abs())
            .min_by(f64::total_cmp)
    }
}

impl Kit {
    /// Finds the roots of some pieces, for notes to be played on them. Files are listened to only where `kit.toml` says nothing.
    ///
    /// What is odd about them is added to the [notices](Kit::notices), each kind in one sentence.
    ///
    /// # Errors
    /// When a file can't be read.
    pub fn find_roots<'a>(&mut self, pieces: impl IntoIterator<Item = &'a str>) -> Result<(), Problem> {
        let mut open: Vec<(String, Vec<usize>)> = Vec::new();
        let mut asked = BTreeSet::new();
        for name in pieces {
            let Some(piece) = self.index.find(name) else { continue };
            let layers = self.index.pieces[piece].layers.iter();
            let takes: BTreeSet<usize> = layers.flat_map(|layer| layer.zones.iter().copied()).collect();
            let takes = takes
                .into_iter()
                .filter(|take| self.files.get(*take).is_some_and(|file| !file.settled) && asked.insert(*take));
            open.push((name.to_string(), takes.collect()));
        }
        let all: Vec<usize> = open.iter().flat_map(|(_, takes)| takes.iter().copied()).collect();
        let mut judged = self.judge(&all)?.into_iter();
        let mut odd = Odd::default();
        for (piece, takes) in open {
            let zones: Vec<Zone> = takes
                .into_iter()
                .zip(judged.by_ref())
                .map(|(take, judged)| Zone {
                    take,
                    said: self.files[take].said,
                    judged,
                })
                .collect();
            self.settle(&piece, &zones, &mut odd);
            self.choose_middle(&piece);
        }
        self.notices.extend(odd.notices());
        Ok(())
    }

    /// Hits without a pitch play the zone that is the middle one by what is known now.
    fn choose_middle(&mut self, piece: &str) {
        let Some(piece) = self.index.find(piece) else { return };
        let layers = self.index.pieces[piece].layers.iter().cloned();
        let zoned = |mut layer: Layer| {
            if layer.takes != layer.zones {
                layer.takes = self.index.zone(&layer, MIDDLE);
            }
            layer
        };
        self.index.pieces[piece].layers = layers.map(zoned).collect();
    }

    /// Listens to the recordings of some pieces whose roots `kit.toml` says, and tells of those that sound otherwise. What is
    /// written holds all the same, so that this is for whoever asks what may not be meant; nothing is told of files that can't be
    /// read, which are no matter unless they are played.
    pub fn doubtful_roots<'a>(&self, pieces: impl IntoIterator<Item = &'a str>) -> Vec<Problem> {
        let pieces = pieces.into_iter().filter_map(|name| self.index.find(name));
        let layers = pieces.flat_map(|piece| &self.index.pieces[piece].layers);
        let takes: BTreeSet<usize> = layers.flat_map(|layer| layer.zones.iter().copied()).collect();
        let written = |take: usize| match self.files.get(take)?.said {
            RootSource::Written(key) => Some((take, key)),
            _ => None,
        };
        let written: Vec<(usize, f64)> = takes.into_iter().filter_map(written).collect();
        let sides: Vec<Sides> = written.iter().map(|(take, _)| self.sides(*take)).collect();
        let found = written.iter().zip(find_recordings(&sides));
        found
            .filter_map(|((take, key), found)| self.doubt(*take, *key, found.ok()?.facts.heard?))
            .collect()
    }

    fn doubt(&self, take: usize, key: f64, heard: PitchEstimate) -> Option<Problem> {
        if heard.confidence < BELIEVED || (heard.key - key).abs() < 1.0 {
            return None;
        }
        let (file, says, sounds) = (self.shown(take), pitch_name(key), note_name(heard.key));
        let what = format!("`{file}` has the root {says} in kit.toml, and sounds as {sounds}, counting C4 as middle C");
        Some(Problem::new(what).help(format!(
            "it is played as {says}; write root = \"{sounds}\" if notes on it are out of tune"
        )))
    }

    /// What was found odd about the kit's pitches.
    pub fn notices(&self) -> &[Problem] {
        &self.notices
    }

    /// Judges some recordings; those whose roots `kit.toml` says are not listened to.
    fn judge(&self, takes: &[usize]) -> Result<Vec<Judged>, Problem> {
        let written = |take: &usize| match self.files[*take].said {
            RootSource::Written(key) => Some(key),
            _ => None,
        };
        let open = takes.iter().filter(|take| written(take).is_none());
        let open: Vec<Sides> = open.map(|take| self.sides(*take)).collect();
        let mut found = find_recordings(&open).into_iter();
        let judged = takes.iter().map(|take| match written(take) {
            Some(key) => Ok(Judged {
                key: Some(key),
                heard: None,
            }),
            None => {
                let found = found.next().expect("one for each that is open")?;
                Ok(judge(self.files[*take].said, &found.facts))
            }
        });
        judged.collect()
    }

    /// Settles the roots of one piece: its names and its sounds are weighed against one another.
    fn settle(&mut self, piece: &str, zones: &[Zone], odd: &mut Odd) {
        let mut votes = octave_votes(zones.iter());
        if votes.iter().sum::<u32>() < AGREE && zones.iter().any(|zone| zone.named().is_some()) {
            let others = self.votes_of_the_folder(zones);
            votes.iter_mut().zip(others).for_each(|(own, other)| *own += other);
        }
        let octaves = elected(votes);
        let heard = ears_overrule(zones, octaves);
        for zone in zones {
            let key = match zone.named() {
                Some(named) => Some(zone.key(named, octaves, heard)),
                None => zone.judged.key,
            };
            self.index.set_root(zone.take, key);
            self.files[zone.take].settled = true;
            odd.add(zone, key, heard.is_some(), || self.shown(zone.take));
        }
        if let Some(zone) = zones.iter().find(|zone| zone.named().is_some()) {
            let name = self.shown(zone.take);
            if heard.is_some() {
                odd.overruled.push((piece.to_string(), name));
            } else if octaves != 0 {
                odd.octaves
                    .push((piece.to_string(), name, zone.named().unwrap_or(0.0), octaves));
            }
        }
    }

    /// How a few more files of the folder count octaves, where a piece has too few to tell: a folder counts them alike.
    fn votes_of_the_folder(&self, zones: &[Zone]) -> [u32; 7] {
        let folder = zones.first().and_then(|zone| self.files[zone.take].folder);
        let named = |take: &usize| {
            let file = &self.files[*take];
            matches!(file.said, RootSource::Named(_)) && file.folder == folder && file.folder.is_some()
        };
        let others = (0..self.files.len())
            .filter(named)
            .filter(|take| zones.iter().all(|zone| zone.take != *take));
        let others: Vec<usize> = others.take(MORE).collect();
        let Ok(judged) = self.judge(&others) else { return [0; 7] };
        let zones: Vec<Zone> = others
            .into_iter()
            .zip(judged)
            .map(|(take, judged)| Zone {
                take,
                said: self.files[take].said,
                judged,
            })
            .collect();
        octave_votes(zones.iter())
    }

    fn shown(&self, take: usize) -> String {
        let name = self.file(take).file_name();
        name.map_or_else(String::new, |name| name.to_string_lossy().into_owned())
    }

    /// Adds the stand-in's piece, behind all recordings that have files.
    pub(super) fn add_stand_in(&mut self) {
        let first = self.files.len();
        for (take, file) in self.files.iter().enumerate() {
            self.index.set_root(take, file.said.key());
        }
        for key in 0..KEYS {
            self.index.set_root(first + key, Some(key as f64));
        }
        let takes = (first..first + KEYS).collect();
        self.index.add_single(Piece {
            name: STAND_IN.to_string(),
            layers: vec![Layer {
                upto: 127.0,
                takes: vec![first + MIDDLE as usize],
                zones: takes,
            }],
            choke: None,
        });
    }
}

/// So many zones that agree among themselves are believed before their names.
const AGREE: u32 = 3;
/// So many more files of a folder tell how it counts octaves.
const MORE: usize = 8;

/// By how many octaves names are off, from 3 down to 3 up: a vote for each file that sounds as the note that its name names.
fn octave_votes<'a>(zones: impl Iterator<Item = &'a Zone>) -> [u32; 7] {
    let mut votes = [0; 7];
    for zone in zones {
        let (Some(key), Some(heard)) = (zone.named(), zone.believed()) else {
            continue;
        };
        let octaves = libm::round((heard - key) / 12.0);
        if (heard - key - 12.0 * octaves).abs() < 1.0 && octaves.abs() <= 3.0 {
            votes[(octaves + 3.0) as usize] += 1;
        }
    }
    votes
}

/// The octave with most votes; of equally many the name itself wins, then the smaller step.
fn elected(votes: [u32; 7]) -> i32 {
    let order = [0, 1, -1, 2, -2, 3, -3];
    let most = votes.iter().copied().max().unwrap_or(0);
    let first = order.into_iter().find(|octaves| votes[(octaves + 3) as usize] == most);
    first.unwrap_or(0)
}

/// Where at least three zones, and most of those that are heard well, sound otherwise than their names say: how far off the others
/// are taken to be. That is what three of them have in common, in whole semitones, or else the octaves.
fn ears_overrule(zones: &[Zone], octaves: i32) -> Option<f64> {
    let off = |zone: &Zone| Some(zone.believed()? - zone.named()?);
    let offs: Vec<f64> = zones.iter().filter_map(off).collect();
    let otherwise = |off: &&f64| (**off - f64::from(12 * octaves)).abs() >= 1.0;
    let against = offs.iter().filter(otherwise).count();
    if against < AGREE as usize || 2 * against <= offs.len() {
        return None;
    }
    let alike = |off: &f64| offs.iter().filter(|other| (*other - off).abs() < 0.5).count();
    let common = offs
        .iter()
        .max_by_key(|off| alike(off))
        .filter(|off| alike(off) >= AGREE as usize);
    Some(common.map_or(f64::from(12 * octaves), |off| libm::round(*off)))
}

/// What a file turns out to be, by what is said of it and what was found in it.
fn judge(said: RootSource, facts: &Facts) -> Judged {
    // Many writers put 60 for want of knowledge, so that alone is not believed before the sound.
    let (noted, heard) = (facts.root, facts.heard);
    if said == RootSource::Nothing && noted.is_some_and(|key| key != 60.0) {
        return Judged {
            key: noted,
            heard: None,
        };
    }
    let believed = heard
        .filter(|heard| heard.confidence >= BELIEVED)
        .map(|heard| heard.key);
    let key = match said {
        // A number may have been a turn after all, and a key may be out of tune.
        RootSource::Numbered(key) => match believed {
            Some(heard) if (heard - f64::from(key)).abs() >= IN_TUNE => Some(heard),
            _ => Some(f64::from(key)),
        },
        RootSource::Written(key) => Some(key),
        RootSource::Named(key) => Some(f64::from(key)),
        RootSource::Nothing => match (believed, noted) {
            (Some(heard), Some(noted)) if (heard - noted).abs() < 1.0 => Some(noted),
            (believed, noted) => believed.or(noted),
        },
    };
    Judged { key, heard }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_zone_plays_and_its_turns_with_it() {
        let roots = [Some(48.0), Some(60.0), Some(60.1), None];
        let nearest = |key: f64| nearest_takes(&[0, 1, 2, 3], key, |take| roots[take]);
        assert_eq!(nearest(40.0), [0]);
        assert_eq!(nearest(53.9), [0]);
        assert_eq!(nearest(54.0), [1, 2], "half way the upper one plays");
        assert_eq!(nearest(90.0), [1, 2]);
        assert_eq!(nearest_takes(&[7, 8], 60.0, |_| None), [7, 8]);
    }
}
