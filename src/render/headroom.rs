//! What can be told of a loop's levels before it is rendered: where the file would clip.
//!
//! Only what is sure is told. A part counts where nothing but faders and pans lie between its hits and the master: what
//! a compressor, a filter or a saturator makes of a peak is not known without rendering. The hits that meet are laid
//! on top of one another as they are played, for as long as their onsets last.

use std::collections::BTreeMap;
use std::sync::Arc;

use rayon::prelude::*;

use crate::base::audio::{Audio, db_of_gain, gain_of_db, peak};
use crate::kit::Kit;
use crate::loopfile::{Form, Loop, Strip, Sweep, Target};
use crate::mix::{balance_gains, pan_gains_mono};
use crate::score::{Hit, Score, spelled};
use crate::sound::{Bank, Extent, Player, Rounds, level};
use crate::text::{Place, Problem, Problems};

/// Frames per second at which it is reckoned; the peaks of other rates are near enough.
const RATE: u32 = 48_000;
/// Seconds before a moment whose hits may still sound in it.
const BEFORE: f64 = 0.1;
/// Seconds after a moment in which onsets have come to their peaks.
const AFTER: f64 = 0.06;
/// What must be over full scale to be told, in dB: what rings from earlier may take that much off.
const SURE: f64 = 0.5;
/// The share of a sum from which on a part is named.
const SHARE: f32 = 0.1;
/// The most parts that are named.
const NAMED: usize = 4;

/// The strip at whose end levels count.
#[derive(Clone, Copy)]
pub(crate) struct Out<'a> {
    strip: &'a Strip,
    loudness: Option<f64>,
    sweeps: &'a [Sweep],
    place: Option<&'a Place>,
}

impl<'a> Out<'a> {
    /// A loop's own master.
    pub(crate) fn of_loop(song: &'a Loop) -> Out<'a> {
        Out {
            strip: &song.master,
            loudness: song.loudness,
            sweeps: &song.sweeps,
            place: None,
        }
    }

    /// The master in which a form's sections meet.
    pub(crate) fn of_form(form: &'a Form) -> Out<'a> {
        Out {
            strip: &form.master,
            loudness: form.loudness,
            sweeps: &form.sweeps,
            place: Some(&form.place),
        }
    }

    /// What is sure of what it asks for: a loudness that lies over its ceiling.
    ///
    /// A sine of 997 Hz at full scale in one channel reads -3.01 LKFS (ITU-R BS.1770), so in both it reads 0.
    pub(crate) fn too_loud(&self) -> Option<Problem> {
        let (loudness, ceiling) = (self.loudness?, self.strip.ceiling_db?);
        let what = format!(
            "the loudness of {loudness} LUFS can't be reached under a ceiling of {ceiling} dBTP: not even a steady tone is so loud there"
        );
        let problem = Problem {
            place: self.place.cloned(),
            ..Problem::new(what)
        };
        (loudness > ceiling)
            .then(|| problem.help("lower `master.loudness`; a dense mix comes to about 8 LU under its ceiling"))
    }

    /// The factors that it puts on left and right, where nothing caps, shapes or moves what goes through it.
    fn gains(&self) -> Option<[f32; 2]> {
        let moves = self.sweeps.iter().any(|sweep| sweep.target == Target::Master);
        (self.loudness.is_none() && !moves && only_a_fader(self.strip)).then(|| faded(self.strip, balance_gains))
    }
}

/// Hints at where a loop's hits add up to more than full scale, though nothing caps them.
///
/// # Errors
/// Recordings that can't be read.
pub(crate) fn clipping(song: &Loop, kit: &Kit, score: &Score, out: Out) -> Result<Option<Problem>, Problems> {
    let Some(master) = out.gains() else {
        return Ok(None);
    };
    let mut score = score.clone();
    for (part, hits) in score.parts.iter_mut().enumerate() {
        if !has_faders_alone(song, part) {
            hits.clear();
        }
    }
    let recordings = kit.load(&score.takes(song), RATE)?;
    let bank = Bank::fill(song, &score, &recordings, Extent::of_onsets(meeting_frames(), RATE));
    let onsets = Onsets::new(song, &score, &bank, master);
    let moments = onsets.moments();
    let over: Vec<Meeting> = moments
        .into_par_iter()
        .map(|moment| onsets.sum(moment))
        .filter(|meeting| meeting.over_db() > SURE)
        .collect();
    Ok(told(song, &score, &over))
}

/// What is heard of a part reaches the master by faders and pans alone, none of which moves.
fn has_faders_alone(song: &Loop, part: usize) -> bool {
    let moves = |target| song.sweeps.iter().any(|sweep| sweep.target == target);
    let own = &song.parts[part];
    let own_known = !own.silenced && only_a_fader(&own.strip) && !moves(Target::Part(part));
    own_known
        && buses(song, part)
            .all(|bus| !song.buses[bus].silenced && only_a_fader(&song.buses[bus].strip) && !moves(Target::Bus(bus)))
}

/// The buses that a part goes through, the nearest first.
fn buses(song: &Loop, part: usize) -> impl Iterator<Item = usize> {
    std::iter::successors(song.parts[part].bus, |bus| song.buses[*bus].bus)
}

/// True for a strip that turns up or down and to the sides, and does nothing else.
fn only_a_fader(strip: &Strip) -> bool {
    let rest = Strip {
        gain_db: 0.0,
        pan: 0.0,
        sends: Vec::new(),
        ..strip.clone()
    };
    rest == Strip::plain()
}

/// The factors of a fader and a pan for left and right.
fn faded(strip: &Strip, pan: fn(f64) -> (f64, f64)) -> [f32; 2] {
    let (left, right) = pan(strip.pan);
    [left, right].map(|side| (side * gain_of_db(strip.gain_db)) as f32)
}

/// The hits of a loop that are known up to the master.
struct Onsets<'a> {
    song: &'a Loop,
    score: &'a Score,
    bank: &'a Bank,
    /// The channels of each part, and its factors on left and right up to the master's end.
    ways: Vec<(usize, [f32; 2])>,
}

/// What some hits come to at the frame where they come to most.
struct Meeting {
    /// Seconds from the score's beginning.
    moment: f64,
    level: f32,
    /// What each part adds there; below 0 where it takes off.
    shares: Vec<f32>,
}

impl Meeting {
    fn over_db(&self) -> f64 {
        db_of_gain(self.level.into())
    }
}

impl<'a> Onsets<'a> {
    fn new(song: &'a Loop, score: &'a Score, bank: &'a Bank, master: [f32; 2]) -> Onsets<'a> {
        let way = |(part, hits): (usize, &Vec<Hit>)| {
            let channels = bank.channels(song, part, hits);
            let pan = if channels == 1 { pan_gains_mono } else { balance_gains };
            let steps = buses(song, part).map(|bus| faded(&song.buses[bus].strip, balance_gains));
            let own = faded(&song.parts[part].strip, pan);
            let times = |one: [f32; 2], other: [f32; 2]| [one[0] * other[0], one[1] * other[1]];
            (channels, steps.fold(times(own, master), times))
        };
        let ways = score.parts.iter().enumerate().map(way).collect();
        Onsets {
            song,
            score,
            bank,
            ways,
        }
    }

    /// The moments at which the hits' peaks could add up to more than full scale, in seconds.
    fn moments(&self) -> Vec<f64> {
        let mut sizes: BTreeMap<*const Audio, f32> = BTreeMap::new();
        let mut hits: Vec<(f64, f32)> = Vec::new();
        for (part, played) in self.score.parts.iter().enumerate() {
            let most = self.ways[part].1[0].max(self.ways[part].1[1]);
            for hit in played.iter().flat_map(Hit::layers) {
                let sound = self.bank.sound(self.song, part, &hit);
                let size = *sizes.entry(Arc::as_ptr(sound)).or_insert_with(|| peak(&sound.channels));
                let own = &self.song.parts[part].pieces[hit.piece].sound;
                hits.push((hit.at, most * size * level(own, &hit)));
            }
        }
        hits.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut moments: Vec<f64> = Vec::new();
        for (at, _) in &hits {
            let from = hits.partition_point(|(other, _)| *other < at - BEFORE);
            let near = hits[from..].iter().take_while(|(other, _)| *other < at + AFTER);
            let new = moments.last().is_none_or(|last| at - last > AFTER / 2.0);
            if new && near.map(|(_, size)| size).sum::<f32>() > 1.0 {
                moments.push(*at);
            }
        }
        moments
    }

    /// Lays the hits around a moment on top of one another.
    fn sum(&self, moment: f64) -> Meeting {
        let near = |hit: &&Hit| (moment - BEFORE..moment + AFTER).contains(&hit.at);
        let shifted = |hit: &Hit| Hit {
            at: hit.at - moment + BEFORE,
            ..hit.clone()
        };
        let parts = self.score.parts.iter();
        let score = Score {
            parts: parts
                .map(|hits| hits.iter().filter(near).map(shifted).collect())
                .collect(),
            ..*self.score
        };
        let frames = meeting_frames();
        let played: Vec<[Vec<f32>; 2]> = (0..score.parts.len())
            .map(|part| self.played(&score, part, frames))
            .collect();
        let mut meeting = Meeting {
            moment,
            level: 0.0,
            shares: Vec::new(),
        };
        let mut place = (0, 0);
        for frame in (BEFORE * f64::from(RATE)) as usize..frames {
            for side in 0..2 {
                let sum = played.iter().map(|part| part[side][frame]).sum::<f32>();
                if sum.abs() > meeting.level {
                    (meeting.level, place) = (sum.abs(), (side, frame));
                }
            }
        }
        let (side, frame) = place;
        let sum = played.iter().map(|part| part[side][frame]).sum::<f32>();
        meeting.shares = played.iter().map(|part| part[side][frame] * sum.signum()).collect();
        meeting
    }

    /// What a part's hits of a score sound like at the master's end, left and right.
    fn played(&self, score: &Score, part: usize, frames: usize) -> [Vec<f32>; 2] {
        let (mut left, mut right) = (vec![0.0; frames], vec![0.0; frames]);
        if score.parts[part].is_empty() {
            return [left, right];
        }
        let time = Rounds::Line {
            rounds: 1,
            length: frames as f64,
        };
        let mut player = Player::new(self.song, score, part, self.bank, time, RATE, 0);
        let (channels, mut gains) = self.ways[part];
        if player.channels() == 1 {
            player.fill(&mut [&mut left[..]]);
            right.copy_from_slice(&left);
            // A mono recording in a stereo part stands at its centre.
            if channels == 2 {
                gains = gains.map(|gain| gain * std::f32::consts::FRAC_1_SQRT_2);
            }
        } else {
            player.fill(&mut [&mut left[..], &mut right[..]]);
        }
        for (side, gain) in [&mut left, &mut right].into_iter().zip(gains) {
            side.iter_mut().for_each(|sample| *sample *= gain);
        }
        [left, right]
    }
}

/// Frames that are looked at where hits meet.
fn meeting_frames() -> usize {
    ((BEFORE + AFTER) * f64::from(RATE)) as usize
}

/// The hint at the loudest of the moments that are over.
fn told(song: &Loop, score: &Score, over: &[Meeting]) -> Option<Problem> {
    // The first of those that are equally loud.
    let worst = over.iter().rev().max_by(|a, b| a.level.total_cmp(&b.level))?;
    // A hit ahead of its barline belongs to the bar behind it.
    let bar = |meeting: &Meeting| {
        let bars = ((meeting.moment + AFTER / 2.0) / song.time.bar_seconds()).floor();
        score.cycle.first + 1 + (bars as i64).rem_euclid(i64::from(score.bars)) as u32
    };
    let mut others: Vec<u32> = over.iter().map(bar).filter(|other| *other != bar(worst)).collect();
    others.sort_unstable();
    others.dedup();
    let mut parts: Vec<(usize, f32)> = worst.shares.iter().copied().enumerate().collect();
    parts.retain(|(_, share)| *share > SHARE * worst.level);
    parts.sort_by(|a, b| b.1.total_cmp(&a.1));
    let loudest = &song.parts[parts.first()?.0];
    let mut names: Vec<String> = parts
        .iter()
        .map(|(part, _)| format!("`{}`", song.parts[*part].name))
        .collect();
    if names.len() > NAMED {
        let more = format!("{} more", names.len() - NAMED);
        names.truncate(NAMED);
        names.push(more);
    }
    let who = match names.split_last() {
        Some((last, before)) if !before.is_empty() => format!("{} and {last} add up", before.join(", ")),
        _ => format!("{} alone comes", names.join("")),
    };
    let elsewhere = match others.len() {
        0 => String::new(),
        1 => format!("; {} clips too", spelled(&others)),
        _ => format!("; {} clip too", spelled(&others)),
    };
    let what = format!(
        "{who} to {:.1} dB over full scale in bar {}, and no ceiling is there to catch it{elsewhere}",
        worst.over_db(),
        bar(worst)
    );
    let help = "turn them down, give the master a ceiling, or render with --depth float";
    Some(Problem::at(&loudest.place, what).help(help))
}
