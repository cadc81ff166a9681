//! `pressroll transcribe --as kit`: a recording cut into the one-shots of a kit, and a loop that plays it again from them.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use rayon::prelude::*;
use serde::Serialize;

use crate::base::audio::Audio;
use crate::base::stages;
use crate::export::mark::{self, Whose};
use crate::export::sliced::{Asked, Fitted, Sliced, SlicedDrum};
use crate::export::{name, wav, write_beside, write_folder};
use crate::files::plainly;
use crate::kit::MANIFEST;
use crate::sound::choke_frames;
use crate::text::{Problem, Problems, count_of, shown_path};
use crate::transcription::{self, Stretch, Take, Transcript};
use crate::wav::{Coding, Tags};

/// What sounds before the first hit is played, too, where it is louder than this, in dB below the whole.
const LEAD: f64 = -66.0;
/// What that slice is called.
const LEAD_IN: &str = "lead-in";
/// The most files of a folder that is looked through.
const MOST_THERE: usize = 30_000;

/// What a person says of a recording that becomes a kit.
pub(super) struct KitOrder<'a> {
    /// The recording.
    pub recording: &'a Path,
    /// Where it goes, in place of renders/NAME-kit.
    pub output: Option<&'a Path>,
    /// Its tempo.
    pub tempo: Option<f64>,
    /// Its bars.
    pub bars: Option<u32>,
    /// Its metre.
    pub metre: (u32, u32),
    /// Also replace a folder whose files were edited.
    pub force: bool,
}

/// What was heard and what it became.
#[derive(Serialize)]
pub(super) struct Told<'a> {
    #[serde(flatten)]
    heard: Transcript,
    r#loop: PathBuf,
    bars: u32,
    rate: u32,
    /// Files in the loop's folder, in the order of time.
    slices: Vec<&'a str>,
}

/// A folder of slices, not yet written.
pub(super) struct KitFolder {
    place: PathBuf,
    loop_name: String,
    sliced: Sliced,
    /// In the order of time, with their files.
    slices: Vec<(String, Audio)>,
}

impl KitFolder {
    /// Cuts a recording at its hits; none where it has no tempo.
    ///
    /// # Errors
    /// A recording without a hit.
    pub(super) fn of(order: &KitOrder, take: &Take, heard: &Transcript) -> Result<Option<KitFolder>, Problem> {
        let recorded = &take.recorded;
        let stem = order.recording.file_stem().unwrap_or_default().to_string_lossy();
        let (mut cuts, mut sounds) = cuts(recorded, heard);
        let (Some(first), Some(last)) = (cuts.first().copied(), cuts.last().copied()) else {
            let what = format!("`{}` has no hit to cut at", order.recording.display());
            return Err(Problem::new(what).help("give it a recording of drums"));
        };
        let asked = Asked {
            frames: recorded.frames(),
            rate: recorded.rate,
            cuts: (first, last),
            heard: heard.tempo.zip(heard.beat_offset),
            tempo: order.tempo,
            bars: order.bars,
            metre: order.metre,
        };
        let Some(fitted) = Fitted::of(&asked) else {
            return Ok(None);
        };
        if !fitted.repeats {
            lead(recorded, fitted.from.max(0) as usize, &mut cuts, &mut sounds);
        }
        let stretch = if fitted.repeats { Stretch::Circle } else { Stretch::Line };
        let audio = transcription::slices(recorded, &cuts, stretch, choke_frames(recorded.rate));
        let sounds: Vec<&str> = sounds.iter().map(String::as_str).collect();
        let (drums, files) = named(&transcription::drums(&audio, &sounds), &cuts);
        Ok(Some(KitFolder {
            place: order
                .output
                .map_or_else(|| Path::new("renders").join(format!("{stem}-kit")), Path::to_path_buf),
            loop_name: match format!("{}.toml", name::safe(&stem)) {
                taken if taken.eq_ignore_ascii_case(MANIFEST) => "kit-loop.toml".to_string(),
                name => name,
            },
            sliced: Sliced {
                title: stem.into_owned(),
                fitted,
                rate: recorded.rate,
                mono: recorded.channels.len() == 1,
                drums,
            },
            slices: files.into_iter().zip(audio).collect(),
        }))
    }

    /// The loop's bars.
    pub(super) fn fitted(&self) -> &Fitted {
        &self.sliced.fitted
    }

    /// Where its loop is, once it is written.
    pub(super) fn loop_path(&self) -> PathBuf {
        self.place.join(&self.loop_name)
    }

    /// Makes sure that it may be written: where nothing is, or a folder of slices as pressroll left it.
    ///
    /// # Errors
    /// What stands there.
    pub(super) fn allow(&self, order: &KitOrder) -> Result<(), Problem> {
        let shown = self.place.display();
        let refused = |what: String| Err(Problem::new(what).help("name another folder with -o"));
        let unread = |error: std::io::Error| Problem::new(format!("{shown} can't be opened: {}", plainly(&error)));
        if self.place.symlink_metadata().is_err() {
            return Ok(());
        }
        if !self.place.is_dir() {
            return refused(format!("{shown} is a file"));
        }
        let recording = order.recording.canonicalize().ok();
        let mut there = Vec::new();
        for entry in fs::read_dir(&self.place).map_err(unread)?.take(MOST_THERE) {
            there.push(entry.map_err(unread)?.path());
        }
        let ours = |path: &Path| mark::whose(path).unwrap_or(Whose::Theirs);
        if !there.is_empty() && ours(&self.place.join(MANIFEST)) == Whose::Theirs {
            return refused(format!("{shown} is there already, and it is no folder of slices"));
        }
        there.sort();
        for path in there {
            let file = path.display();
            match ours(&path) {
                _ if path.canonicalize().ok() == recording => {
                    return refused(format!("{shown} holds the recording"));
                }
                Whose::Ours => {}
                Whose::Edited if order.force => {}
                Whose::Edited => {
                    let what = format!("{file} is there already, and it was edited since pressroll wrote it");
                    return Err(Problem::new(what).help("name another folder with -o, or replace it with --force"));
                }
                Whose::Theirs => return refused(format!("{file} is there already, and pressroll did not write it")),
            }
        }
        Ok(())
    }

    /// Writes all of it, or nothing.
    ///
    /// # Errors
    /// Whatever keeps a file from being written.
    pub(super) fn write(&self) -> Result<(), Problems> {
        let texts = [
            (self.loop_name.as_str(), self.sliced.loop_file()),
            (MANIFEST, self.sliced.kit_toml()),
        ];
        write_folder(&self.place, |new| {
            let written = stages::all("write", self.slices.par_iter(), |(file, audio)| {
                wav::write(&new.join(file), audio, Coding::Float32, &Tags::default(), 0)
            });
            written.into_iter().collect::<Result<(), _>>()?;
            for (file, page) in &texts {
                let seal = mark::seal(page);
                write_beside(&new.join(file), |out| {
                    [seal.as_bytes(), page.as_bytes()]
                        .iter()
                        .try_for_each(|text| out.write_all(text))
                })?;
            }
            Ok(())
        })
    }

    /// What `--json` says: what was heard, as the loop has it, and the files.
    pub(super) fn told(&self, heard: &Transcript) -> Told<'_> {
        let Fitted { time, bars, from, .. } = &self.sliced.fitted;
        Told {
            heard: Transcript {
                tempo: Some(time.tempo),
                beat_offset: Some(*from as f64 / f64::from(self.sliced.rate)),
                ..heard.clone()
            },
            r#loop: self.loop_path(),
            bars: *bars,
            rate: self.sliced.rate,
            slices: self.slices.iter().map(|(file, _)| file.as_str()).collect(),
        }
    }

    /// What was written, and how to hear it.
    pub(super) fn report(&self) -> String {
        let Fitted { time, bars, .. } = &self.sliced.fitted;
        let drums = self.sliced.drums.iter().map(|drum| match drum.slices.len() {
            1 => drum.name.clone(),
            count => format!("{} ({count})", drum.name),
        });
        format!(
            "{}: {} of {}, {} at {} BPM\n  {}\nHear it with:\n  pressroll render {} --rate {}",
            shown_path(&self.place),
            count_of(self.slices.len(), "slice"),
            count_of(self.sliced.drums.len(), "drum"),
            count_of(*bars as usize, "bar"),
            time.tempo,
            drums.collect::<Vec<_>>().join(", "),
            shown_path(&self.loop_path()),
            self.sliced.rate,
        )
    }
}

/// Where a recording is cut, and what each slice is taken for: the hardest of its hits.
fn cuts(recorded: &Audio, heard: &Transcript) -> (Vec<usize>, Vec<String>) {
    let onsets: Vec<f64> = heard.hits.iter().map(|hit| hit.seconds).collect();
    let (mut cuts, mut sounds): (Vec<usize>, Vec<String>) = (Vec::new(), Vec::new());
    for hits in transcription::together(&onsets) {
        let cut = transcription::cut(recorded, onsets[hits[0]]);
        let hardest = hits.iter().map(|hit| &heard.hits[*hit]);
        let hardest = hardest.max_by(|a, b| a.velocity.total_cmp(&b.velocity));
        if let Some(hit) = hardest.filter(|_| cuts.last().is_none_or(|last| cut > *last)) {
            cuts.push(cut);
            sounds.push(hit.sound.clone());
        }
    }
    (cuts, sounds)
}

/// Drums with the files of their slices, and these in the order of time.
fn named(drums: &[transcription::Drum], cuts: &[usize]) -> (Vec<SlicedDrum>, Vec<String>) {
    let mut files = vec![String::new(); cuts.len()];
    let drums = drums.iter().map(|drum| {
        let digits = drum.slices.len().to_string().len().max(2);
        let slices = (1..).zip(&drum.slices).map(|(number, slice)| {
            files[*slice] = format!("{}-{number:0digits$}.wav", name::safe(&drum.name));
            (cuts[*slice], files[*slice].clone())
        });
        SlicedDrum {
            slices: slices.collect(),
            name: drum.name.clone(),
        }
    });
    (drums.collect(), files)
}

/// Makes a slice of what sounds before the first hit, from a frame on; where that is short, the first slice has it.
fn lead(recorded: &Audio, from: usize, cuts: &mut Vec<usize>, sounds: &mut Vec<String>) {
    let power = |from: usize, to: usize| {
        let squares = recorded.channels.iter().flat_map(|side| &side[from..to]);
        squares.map(|sample| f64::from(*sample).powi(2)).sum::<f64>() / (to - from).max(1) as f64
    };
    let whole = power(0, recorded.frames());
    if from >= cuts[0] || power(from, cuts[0]) <= whole * libm::exp10(LEAD / 10.0) {
        return;
    }
    if transcription::are_one(from, cuts[0], recorded.rate) {
        cuts[0] = from;
        return;
    }
    cuts.insert(0, from);
    sounds.insert(0, LEAD_IN.to_string());
}
