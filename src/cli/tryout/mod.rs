//! `pressroll tryout`.

pub(crate) mod page;
pub(crate) mod report;
mod shots;

use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicUsize;
use std::time::Instant;

use clap::Args;

use super::options::{AudioOptions, LoopOptions, OutputOptions};
use super::progress::Together;
use super::replace::Rule;
use super::{Done, messages, output};
use crate::base::audio::{db_of_gain, gain_of_db};
use crate::export;
use crate::export::name::safe;
use crate::export::sequence;
use crate::export::spill::Spill;
use crate::kit::load_file;
use crate::measure::{brightness, heard_for};
use crate::project::Project;
use crate::project::side_by_side;
use crate::render::Rendered;
use crate::render_cache::{RenderCache, Versions};
use crate::text::{Problem, Problems, did_you_mean, nearest};
use crate::wav::Tags;
use report::{By, PassedOver, Tried, TryoutReport};
pub(super) use shots::MOST;
use shots::Shot;

/// What the WAV with all of them is called.
const IN_TURN: &str = "all-in-turn";
/// What the kit's own sound is called among them.
const REFERENCE: &str = "reference";
/// What the listening page is called.
const PAGE: &str = "index.html";

/// Render a loop once with each one-shot of a folder in a piece's place, at matched loudness
///
/// The kit's own sound comes first, as the reference. Writes a WAV each and one with all of them in turn, a cue at each; tells how they differ, in the order of `--by`.
#[derive(Args)]
pub(super) struct Tryout {
    #[command(flatten)]
    options: LoopOptions,
    /// The piece that they replace, one by one
    #[arg(help_heading = "The one-shots", value_name = "PIECE")]
    piece: String,
    /// A folder of one-shots, or some of their files
    #[arg(help_heading = "The one-shots", value_name = "FOLDER", required = true)]
    folders: Vec<PathBuf>,
    #[command(flatten)]
    audio: AudioOptions,
    #[command(flatten)]
    written: OutputOptions,
    /// In place of renders/NAME-tryout-PIECE
    #[arg(short, long, value_name = "FOLDER")]
    output: Option<PathBuf>,
    /// By brightness, length, level or path
    #[arg(
        long,
        help_heading = "The one-shots",
        hide_possible_values = true,
        value_name = "ORDER",
        default_value = "brightness"
    )]
    by: By,
    /// Try N that differ most, out of a library of any size
    #[arg(long, help_heading = "The one-shots", value_name = "N", value_parser = clap::value_parser!(u64).range(1..=MOST as u64))]
    pick: Option<u64>,
    /// Leave levels as they are rendered
    #[arg(long, help_heading = "The one-shots")]
    no_match: bool,
    /// The page shows no name until a blind test has ended
    #[arg(long, help_heading = "Output", conflicts_with = "no_page")]
    blind: bool,
    /// Write no listening page, which takes longest
    #[arg(long, help_heading = "Output")]
    no_page: bool,
    /// Print one JSON object and nothing else
    #[arg(long, help_heading = "Output")]
    json: bool,
}

impl Tryout {
    /// Renders all, matches them, writes, tells.
    pub(super) fn run(self) -> Done {
        let begun = Instant::now();
        // What is wrong with the loop is so whatever is tried.
        let project = self.options.project(self.audio.ending).open()?;
        let players = self.players(&project)?;
        let own = project.recordings(&self.piece);
        let (mut shots, picked) = match self.pick {
            None => (shots::find(&self.folders)?, None),
            Some(wanted) => {
                let (shots, picked) = shots::pick(&self.folders, wanted as usize, &self.piece, &own)?;
                (shots, Some(picked))
            }
        };
        shots.splice(0..0, shots::reference(&own));
        let place = self.place();
        self.allow(&project, &shots, &place)?;
        let (mut tried, passed_over) =
            self.attempts(&shots, &players, &place, &RenderCache::sparing(Versions::OfOneThing));
        if tried.iter().all(|one| one.reference) {
            return Err(none_left(passed_over));
        }
        tried.sort_by(|a, b| self.by.order(a, b));
        let matched = (!self.no_match).then(|| matched(&mut tried)).flatten();
        self.write(&project, &tried, &place.join(format!("{IN_TURN}.wav")))?;
        let seconds = begun.elapsed().as_secs_f64();
        let begun = Instant::now();
        let page = place.join(PAGE);
        let order = self.audio.order(&self.options);
        let about = (&project, self.options.file.as_path(), &order);
        let paged = !self.no_page && page::write(&page, about, &tried, (matched, self.blind))?;
        let told = TryoutReport {
            project: &project,
            piece: &self.piece,
            picked,
            by: self.by,
            place: &place,
            in_turn: place.join(format!("{IN_TURN}.wav")),
            page: paged.then_some(page),
            too_much: !paged && !self.no_page,
            tried: &tried,
            passed_over: &passed_over,
            matched,
            seconds,
            page_seconds: begun.elapsed().as_secs_f64(),
        };
        let said = output::to_stdout(&if self.json { told.json() } else { told.text() });
        let oddities = tried.iter().flat_map(|one| one.oddities.clone());
        let passed_over = passed_over.iter().map(PassedOver::hint);
        messages::report_hints_once(
            project
                .notices()
                .into_iter()
                .chain(project.loans())
                .chain(oddities)
                .chain(passed_over),
        );
        Ok(said?)
    }

    /// The parts, by their names in a render, that play the piece and are heard.
    fn players(&self, project: &Project) -> Result<Vec<String>, Problem> {
        let piece = &self.piece;
        let players = project.players(piece);
        if players.is_empty() {
            let problem = Problem::new(format!("nothing plays a piece `{piece}`"));
            let pieces = project.pieces();
            return Err(match nearest(piece, pieces.iter().copied()) {
                Some(near) => problem.help(did_you_mean(near)),
                None => problem.help(format!("there are {}", pieces.join(", "))),
            });
        }
        let heard: Vec<String> = players
            .iter()
            .filter(|(_, heard)| *heard)
            .map(|(name, _)| name.clone())
            .collect();
        if heard.is_empty() {
            let what = format!("`{piece}` is not audible: what plays it is muted");
            return Err(Problem::new(what).help("unmute its part, or try another piece"));
        }
        Ok(heard)
    }

    /// The folder to write to.
    fn place(&self) -> PathBuf {
        let own = || {
            let stem = self.options.file.file_stem().unwrap_or_default().to_string_lossy();
            Path::new("renders").join(format!("{stem}-tryout-{}", safe(&self.piece)))
        };
        self.output.clone().unwrap_or_else(own)
    }

    /// Makes sure, before anything is made, that all of it may be written.
    fn allow(&self, project: &Project, shots: &[Shot], place: &Path) -> Result<(), Problem> {
        let rule = Rule::new(self.written.force, "folder with -o")
            .keep(project)
            .keep_files(shots.iter().map(|shot| shot.path.clone()))
            .keep_folders(self.folders.iter().filter(|folder| folder.is_dir()).cloned());
        let names = shots.iter().map(|shot| shot.name.as_str()).chain([IN_TURN]);
        let files = names.map(|name| place.join(format!("{name}.wav")));
        let page = (!self.no_page).then(|| place.join(PAGE));
        rule.allow(files.chain(page))?;
        rule.allow_folder(place)
    }

    /// Renders the loop with each of them by way of one keep, as all but the piece is the same for each: the first
    /// that can be tried by itself, so that the others find there what they share.
    fn attempts(
        &self,
        shots: &[Shot],
        players: &[String],
        place: &Path,
        keep: &RenderCache,
    ) -> (Vec<Tried>, Vec<PassedOver>) {
        let stock = Stock {
            keep,
            held: AtomicUsize::new(0),
            shown: Together::new(shots.len()),
        };
        let attempt = |number: usize| self.attempt((number, &shots[number]), players, place, &stock);
        let mut attempts: Vec<Result<Tried, Problems>> = Vec::new();
        while attempts.len() < shots.len() && !attempts.last().is_some_and(Result::is_ok) {
            attempts.push(attempt(attempts.len()));
        }
        let (done, length) = (attempts.len(), attempts.last().and_then(|last| last.as_ref().ok()));
        let at_once = side_by_side::how_many(length.map_or(0, |one| one.audio.bytes()));
        attempts.extend(side_by_side::make(shots.len() - done, at_once, |number| {
            attempt(done + number)
        }));
        let (mut tried, mut passed_over) = (Vec::new(), Vec::new());
        for (shot, attempt) in shots.iter().zip(attempts) {
            match attempt {
                Ok(one) => tried.push(one),
                Err(problems) => passed_over.push(PassedOver {
                    shot: shot.path.clone(),
                    problems,
                }),
            }
        }
        (tried, passed_over)
    }

    /// Renders the loop with one of them.
    fn attempt(
        &self,
        (number, shot): (usize, &Shot),
        players: &[String],
        place: &Path,
        stock: &Stock,
    ) -> Result<Tried, Problems> {
        let keep = stock.keep.queued(number);
        let recording = load_file(&shot.path, self.audio.rate)?;
        let options = self.options.project(self.audio.ending);
        let project = match shot.reference {
            true => options.open()?,
            false => options.swap(&self.piece, &shot.path).open()?,
        };
        let order = self.audio.order(&self.options);
        let shown = |share| stock.shown.show(number, share);
        let finished = project.render_sharing(&order, Some(&keep), &shown)?;
        Ok(Tried {
            name: shot.name.clone(),
            shot: shot.path.clone(),
            reference: shot.reference,
            file: place.join(format!("{}.wav", shot.name)),
            brightness_hz: brightness(&recording.audio),
            length_ms: heard_for(&recording.audio).map(|seconds| 1000.0 * seconds),
            level_db: level(&finished, players),
            lufs: finished.lufs,
            true_peak_db: finished.true_peak_db,
            gain_db: 0.0,
            tags: named(project.tags(order.bars, finished.repeating()), &shot.name),
            repeats: finished.repeats,
            oddities: finished.oddities,
            audio: Spill::put(finished.audio, &stock.held)?,
        })
    }

    /// Writes each, and all in turn.
    fn write(&self, project: &Project, tried: &[Tried], in_turn: &Path) -> Result<(), Problem> {
        let (coding, seed) = (self.audio.depth.coding(), project.first().seed);
        let turn = |one: &Tried| -> Result<sequence::Turn, Problem> {
            let audio = one.audio.take_up()?;
            export::wav::write(&one.file, &audio, coding, &one.tags, seed)?;
            Ok(sequence::Turn {
                name: one.name.clone(),
                file: one.file.clone(),
                frames: audio.frames(),
                end: sequence::end_of(&audio),
            })
        };
        let turns = side_by_side::make(tried.len(), side_by_side::how_many(tried[0].audio.bytes()), |number| {
            turn(&tried[number])
        });
        let turns = turns.into_iter().collect::<Result<Vec<_>, Problem>>()?;
        let tags = Tags {
            round: None,
            ..named(tried[0].tags.clone(), &format!("{} in turn", self.piece))
        };
        let rounds = tried.iter().all(|one| one.repeats);
        sequence::write(in_turn, &turns, coding, tags, seed, rounds)
    }
}

/// What the renders of a tryout share.
struct Stock<'a> {
    keep: &'a RenderCache,
    /// Bytes of renders that are held in memory.
    held: AtomicUsize,
    shown: Together,
}

/// Brings all down to the quietest, whose loudness it gives; what has none stays.
fn matched(tried: &mut [Tried]) -> Option<f64> {
    let quietest = tried.iter().filter_map(|one| one.lufs).min_by(f64::total_cmp)?;
    for one in tried {
        one.gain_db = one.lufs.map_or(0.0, |lufs| quietest - lufs);
        one.audio.scale(gain_of_db(one.gain_db) as f32);
    }
    Some(quietest)
}

/// The peak of the parts that play the piece against the mix's, in dB; none for silence.
fn level(finished: &Rendered, players: &[String]) -> Option<f64> {
    let own = finished.parts.iter().filter(|part| players.contains(&part.name));
    let peak = own.map(|part| part.peak).fold(0.0, f32::max);
    let mix = finished.true_peak_db?;
    (peak > 0.0).then(|| db_of_gain(peak.into()) - mix)
}

/// Tags with another title.
fn named(mut tags: Tags, name: &str) -> Tags {
    let title = tags.info.iter_mut().find(|(code, _)| code == b"INAM");
    title
        .into_iter()
        .for_each(|(_, title)| *title = format!("{} · {name}", title.split(" · ").next().unwrap_or("")));
    tags
}

/// The problems of a try in which nothing could be tried: one that all have in common once, else each with its file.
fn none_left(passed_over: Vec<PassedOver>) -> Problems {
    let mut all: Vec<Problem> = Vec::new();
    for problem in passed_over.into_iter().flat_map(|one| one.problems.0) {
        if !all.contains(&problem) {
            all.push(problem);
        }
    }
    Problems(all)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::counts::{LITTLE, Line, desk, kit, line, of_one, on_any_threads};
    use crate::render_cache::ROOM;

    #[test]
    fn one_shots_share_all_but_their_own_place_on_any_number_of_threads() {
        let folder = desk();
        let shots = [
            "snare_01",
            "snare-2_01",
            "side-stick_01",
            "kick_01",
            "shaker_01",
            "shaker_02",
            "ride_01",
        ];
        let mut files: Vec<PathBuf> = shots.iter().map(|shot| kit().join(format!("{shot}.wav"))).collect();
        // Who can't be tried lets the next one pass, before the first that can be and after it.
        for (number, name) in [(0, "no-sound.wav"), (4, "nor-this.wav")] {
            let file = folder.path().join(name);
            std::fs::write(&file, "no sound").expect("a file can be written");
            files.insert(number, file);
        }
        let files = files.iter().map(|file| file.to_str().expect("a path in words"));
        let words: Vec<&str> = ["tryout", "snare"].into_iter().chain(files).collect();
        let Line::Tryout(tryout) = line(&folder.path().join("loop.toml"), &words) else {
            panic!("it says tryout");
        };
        let shots = shots::find(&tryout.folders).expect("they are there");
        let project = tryout.options.project(None).open().expect("the loop opens");
        let players = tryout.players(&project).expect("the snare is played");
        for room in [ROOM, LITTLE] {
            let keep = || RenderCache::of(room, Some(Versions::OfOneThing));
            let made = on_any_threads(keep, |keep| {
                let (tried, passed_over) = tryout.attempts(&shots, &players, folder.path(), keep);
                assert_eq!((tried.len(), passed_over.len()), (7, 2));
            });
            if room == ROOM {
                let one = of_one(&tryout.options, &tryout.audio);
                // The snare's strip and its bus's are run for each.
                assert_eq!(made["strips"], one["strips"] + 6 * 2, "{made:?}");
                assert_eq!(made["envelopes"], one["envelopes"]);
            }
        }
    }
}
