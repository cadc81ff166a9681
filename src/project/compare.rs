//! Versions of a project at matched loudness, and how each differs from the first.

use rayon::prelude::*;

use super::{Plays, Project, changes, side_by_side};
use crate::base::audio::{Audio, gain_of_db};
use crate::measure::{
    Energies, Figures, Level, Sides, common, difference_db, figures_beside, octave_bands, true_peak_db,
};
use crate::render::{Order, Rendered};
use crate::render_cache::{RenderCache, Versions};
use crate::schema::Difference;
use crate::text::{Problem, Problems};

/// The most seconds of all versions together: they are held in memory side by side.
pub(crate) const LONGEST: f64 = 3600.0;

/// Versions that were rendered and compared.
#[derive(Debug, Clone)]
pub struct Comparison {
    /// The versions in the order in which they were given.
    pub versions: Vec<Compared>,
    /// The loudness that all were brought to, in LUFS; none where all are silent or levels were left alone.
    pub matched_lufs: Option<f64>,
    /// What is odd about files and recordings.
    pub hints: Vec<Problem>,
}

/// A version, or a recording beside the versions.
#[derive(Debug, Clone)]
pub struct Compared {
    /// Its audio, at the loudness that all have.
    pub audio: Audio,
    /// Its figures, measured before level matching.
    pub figures: Figures,
    /// Its octave bands (ISO 266 centres from 31.5 Hz to 16 kHz), in dB, before level matching; none for silence.
    pub octaves: [Option<f64>; 10],
    /// How wide it is, in percent: side against mid.
    pub width_percent: Option<f64>,
    /// Gain applied by level matching, dB.
    pub gain_db: f64,
    /// Level of the difference from the first version, in dB relative to that; none where they are the same to the bit, and
    /// for a recording.
    pub difference_db: Option<f64>,
    /// Names of the parts, buses and spaces that play or sound differently than in the first version.
    pub changed: Vec<String>,
    /// The settings that differ from the first version's, each with both values.
    pub settings: Vec<Difference>,
    /// True for a recording beside the versions.
    pub(crate) beside: bool,
    /// True where it repeats without a gap: a version that had to be lengthened does not.
    pub(crate) repeats: bool,
    /// What its loudness is computed from.
    energies: Option<Energies>,
}

/// What is compared, and how.
pub(crate) struct Comparing<'a> {
    /// The first is what the others are compared with.
    pub versions: Vec<&'a Project>,
    /// Recordings of the person's own, at the order's rate.
    pub recordings: Vec<Audio>,
    /// Whether all are brought to one loudness.
    pub matched: bool,
    /// What the versions share.
    pub cache: &'a RenderCache,
    /// Is told which share of which version is done.
    pub progress: &'a (dyn Fn(usize, f64) + Sync),
}

impl Project {
    /// Renders this project and others, which are most often versions of it, brings all to one loudness and says how each
    /// differs from this one. All are made as long as the longest.
    ///
    /// # Errors
    /// As [`Project::render`]; more than an hour of audio in all.
    pub fn compare<'a>(
        &'a self,
        others: impl IntoIterator<Item = &'a Project>,
        order: &Order,
    ) -> Result<Comparison, Problems> {
        let comparing = Comparing {
            versions: [self].into_iter().chain(others).collect(),
            recordings: Vec::new(),
            matched: true,
            cache: &RenderCache::sparing(Versions::OfMany),
            progress: &|_, _| (),
        };
        comparing.run(order)
    }
}

impl Comparing<'_> {
    /// Renders all, matches them, measures what differs.
    pub(crate) fn run(self, order: &Order) -> Result<Comparison, Problems> {
        allow(self.versions.iter().map(|version| seconds(version, order)).sum())?;
        let (mut versions, hints) = self.rendered(order)?;
        versions.extend(self.recordings.into_iter().map(Compared::recording));
        even_out(&mut versions);
        let matched_lufs = match self.matched {
            true => level(&mut versions, self.versions[0]),
            false => None,
        };
        let (first, others) = versions.split_at_mut(1);
        others
            .par_iter_mut()
            .filter(|one| !one.beside)
            .for_each(|one| one.difference_db = difference_db(&one.audio, &first[0].audio));
        Ok(Comparison {
            versions,
            matched_lufs,
            hints,
        })
    }

    /// Renders all versions by way of one cache: the first by itself, so that the others find there what they share.
    pub(crate) fn rendered(&self, order: &Order) -> Result<(Vec<Compared>, Vec<Problem>), Problems> {
        let render = |number: usize| {
            let cache = self.cache.queued(number);
            self.versions[number].render_sharing(order, Some(&cache), &|share| (self.progress)(number, share))
        };
        let first = render(0)?;
        allow(self.versions.len() as f64 * first.audio.seconds())?;
        let at_once = side_by_side::how_many(first.audio.bytes());
        let parts = first.parts.clone();
        let mut hints = self.versions[0].notices();
        hints.extend(first.oddities.clone());
        let mut compared = vec![Compared::version(first)];
        let others = side_by_side::make(self.versions.len() - 1, at_once, |number| {
            let (written, own) = (self.versions[0], self.versions[number + 1]);
            let finished = render(number + 1)?;
            let changed = changes::changed((written, &parts), (own, &finished.parts));
            let hints = (own.notices(), finished.oddities.clone());
            let one = Compared {
                changed,
                settings: changes::settings(written, own),
                ..Compared::version(finished)
            };
            Ok::<_, Problems>((one, hints))
        });
        for other in others {
            let (one, (notices, oddities)) = other?;
            hints.extend(notices.into_iter().chain(oddities));
            compared.push(one);
        }
        allow(compared.iter().map(|one| one.audio.seconds()).sum())?;
        Ok((compared, hints))
    }
}

impl Compared {
    fn version(finished: Rendered) -> Compared {
        Compared::of(
            finished.audio,
            finished.energies,
            finished.true_peak_db,
            finished.repeats,
        )
    }

    fn recording(audio: Audio) -> Compared {
        let (energies, true_peak_db) = (Energies::of(&audio), true_peak_db(&audio));
        Compared {
            beside: true,
            ..Compared::of(audio, energies, true_peak_db, false)
        }
    }

    fn of(audio: Audio, energies: Option<Energies>, true_peak_db: Option<f64>, repeats: bool) -> Compared {
        let sides = Sides::of(&audio);
        Compared {
            figures: figures_beside(&audio, &sides, energies.as_ref(), true_peak_db),
            octaves: octave_bands(&audio),
            width_percent: sides.width_percent(),
            gain_db: 0.0,
            difference_db: None,
            changed: Vec::new(),
            settings: Vec::new(),
            beside: false,
            audio,
            energies,
            repeats,
        }
    }
}

/// Seconds that a version will take, but for what rings past its last bar; 0 where its bars are not there, which is the
/// render's to refuse.
fn seconds(version: &Project, order: &Order) -> f64 {
    if order.bars.is_some_and(|(_, last)| last > version.bars()) {
        return 0.0;
    }
    let round = version.barlines(&Order { rounds: 1, ..*order });
    round.end as f64 / f64::from(order.rate) * f64::from(order.rounds)
}

/// Makes sure that the versions can be held, seconds long together.
fn allow(seconds: f64) -> Result<(), Problem> {
    if seconds <= LONGEST {
        return Ok(());
    }
    let what = format!("the versions would be more than {:.0} minutes together", LONGEST / 60.0);
    Err(Problem::new(what).help("compare fewer of them, or fewer bars with --bars"))
}

/// Makes all versions equally long, with silence behind those that are shorter; such a one no longer repeats. A
/// recording beside them keeps its length.
fn even_out(compared: &mut [Compared]) {
    let versions = compared.iter().filter(|one| !one.beside);
    let longest = versions.map(|one| one.audio.frames()).max().unwrap_or(0);
    for one in compared
        .iter_mut()
        .filter(|one| !one.beside && one.audio.frames() < longest)
    {
        one.audio.channels.iter_mut().for_each(|side| side.resize(longest, 0.0));
        one.energies = Energies::of(&one.audio);
        one.repeats = false;
    }
}

/// Brings all to the loudness that all can have under the ceiling, which it gives; what has none stays.
fn level(compared: &mut [Compared], first: &Project) -> Option<f64> {
    let own = |one: &Compared| {
        Some(Level {
            lufs: one.figures.lufs?,
            true_peak_db: one.figures.true_peak_db?,
        })
    };
    let levels: Vec<Level> = compared.iter().filter_map(own).collect();
    let ceiling = match &first.plays {
        Plays::Loop(song, _) => song.master.ceiling_db,
        Plays::Form(form, _) => form.master.ceiling_db,
    };
    let target = common(&levels, ceiling.unwrap_or(0.0))?;
    compared.par_iter_mut().for_each(|one| {
        let own = one.energies.as_ref().and_then(|energies| energies.gain_to(target));
        one.gain_db = own.unwrap_or(0.0);
        let gain = gain_of_db(one.gain_db) as f32;
        let samples = one.audio.channels.iter_mut().flatten();
        samples.for_each(|sample| *sample *= gain);
    });
    Some(target)
}
