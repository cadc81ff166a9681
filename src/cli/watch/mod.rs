//! `pressroll watch`.

mod bench;
mod hands;
mod page;
mod player;
mod render_worker;

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

use clap::Args;

use super::options::{AudioOptions, LoopOptions, OutputOptions};
use super::render::place_for;
use super::{Done, messages, output};
use crate::files;
use crate::text::{Problem, Problems, one_line};
use crate::watch::server::Server;
use crate::watch::{FileWatcher, Inventory, MadeOf};
use bench::Bench;
pub(super) use hands::LONGEST as LONGEST_BY_HAND;
use hands::Mover;
use player::{Render, WatchPlayer};
use render_worker::{Job, Made, Outcome, RenderWorker};

/// Seconds without news after which a look is taken anyhow: systems overlook some saves, such as those on other machines' disks.
const LOOK: Duration = Duration::from_secs(1);
/// A save is over when nothing has happened for so long. It is more than a step of the clock that dates files on most
/// systems (4 ms), so what is saved while a render reads has another date than what it has read.
const QUIET: Duration = Duration::from_millis(8);
/// Where something happens all the time, so long is waited at the most.
const RESTLESS: Duration = Duration::from_millis(250);
/// So long a file may be gone or empty while it is saved.
const UNFINISHED: Duration = Duration::from_millis(500);
/// Of so many saved files the names are told.
const NAMED: usize = 3;

/// Render a loop again whenever it, its kit or its MIDI is saved
///
/// A save that can't be rendered is told of, and the last good render stays. Ctrl-C ends it.
#[derive(Args)]
pub(super) struct Watch {
    #[command(flatten)]
    options: LoopOptions,
    #[command(flatten)]
    audio: AudioOptions,
    #[command(flatten)]
    written: OutputOptions,
    /// The WAV to write, in place of renders/NAME.wav
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// Serve the listening page on this machine
    #[arg(long, help_heading = "Listening", value_name = "PORT", num_args = 0..=1, require_equals = true, default_missing_value = "0")]
    page: Option<u16>,
    /// Have these keys at hand on the page, as in snare.room,kick.drive
    #[arg(
        long,
        help_heading = "Listening",
        value_name = "KEYS",
        value_delimiter = ',',
        requires = "page"
    )]
    show: Vec<String>,
    /// Play the newest render; start with the volume low
    #[arg(long, help_heading = "Listening")]
    play: bool,
    /// The program that plays; the WAV is its last word
    #[arg(long, help_heading = "Listening", value_name = "PROGRAM", requires = "play")]
    player: Option<String>,
}

/// What the watch hears of.
enum News {
    /// Something happened in a folder.
    Stirred,
    /// A render is over, one way or another.
    Made(Job, Outcome),
    /// The person has had enough.
    Stop,
}

impl Watch {
    /// Renders, then again after every save, until the person ends it.
    pub(super) fn run(self) -> Done {
        if files::state(&self.options.file).is_none() {
            let what = format!("{} can't be read: there is no such file", self.options.file.display());
            return Err(Problem::new(what).into());
        }
        let (tell, news) = channel();
        let stop = tell.clone();
        ctrlc::set_handler(move || drop(stop.send(News::Stop)))
            .map_err(|error| Problem::new(format!("signals can't be watched: {error}")))?;
        let deck = match self.play {
            true => Some(WatchPlayer::new(self.player.as_deref(), self.audio.rate)?),
            false => None,
        };
        let renders = deck.as_ref().map(WatchPlayer::renders);
        let server = self.page.map(Server::open).transpose()?.map(Arc::new);
        let bench = Arc::<Mutex<Bench>>::default();
        if let Some(server) = &server {
            server.hand_on(Arc::new(Mover::new(&self.options, &self.audio, &self.show, &bench)?));
        }
        let place = self.output.clone().unwrap_or_else(|| place_for(&self.options.file));
        let mut desk = Session::new(self, place, (server.clone(), bench), renders, tell);
        if let Some(server) = &server {
            output::to_stdout(&server.address())?;
        }
        desk.ask(Instant::now(), false);
        desk.watch(&news);
        // Whatever is being written is finished, and nothing is begun any more: no litter.
        desk.newest.store(u64::MAX, Ordering::SeqCst);
        std::mem::forget(desk.pen.lock().unwrap_or_else(PoisonError::into_inner));
        deck.into_iter().for_each(WatchPlayer::stop);
        desk.unsaid.map_or(Ok(()), |unsaid| Err(unsaid.into()))
    }
}

/// What is known of the saves and of the renders that they led to.
struct Session {
    file: PathBuf,
    made_of: MadeOf,
    seen: Inventory,
    lookout: FileWatcher,
    jobs: Sender<Job>,
    server: Option<Arc<Server>>,
    /// The number of the newest render that was asked for: older ones may be dropped.
    newest: Arc<AtomicU64>,
    /// Held while a file is written.
    pen: Arc<Mutex<()>>,
    /// What was saved since the last good render.
    saved: BTreeSet<PathBuf>,
    /// What was wrong with the last render, if it was.
    wrong: Option<Problems>,
    /// What kept a line from standard output first, if anything did: renders go on all the same.
    unsaid: Option<Problem>,
    /// Renders that were asked for and have not come to anything yet.
    in_course: usize,
    /// When the first and the last of what happened was, where no look was taken since.
    stirred: Option<(Instant, Instant)>,
}

impl Session {
    fn new(
        asked: Watch,
        place: PathBuf,
        (server, bench): (Option<Arc<Server>>, Arc<Mutex<Bench>>),
        renders: Option<Sender<Render>>,
        tell: Sender<News>,
    ) -> Session {
        let file = asked.options.file.clone();
        let made_of = MadeOf {
            files: BTreeSet::from([file.clone()]),
            kits: BTreeSet::new(),
            spared: place.clone(),
        };
        let stirred = tell.clone();
        let mut lookout = FileWatcher::new(move || drop(stirred.send(News::Stirred)));
        let seen = Inventory::of(&made_of);
        lookout.watch(seen.folders());
        let (jobs, to_do) = channel::<Job>();
        let newest = Arc::new(AtomicU64::new(0));
        let pen = Arc::default();
        let (served, current, held) = (server.clone(), newest.clone(), Arc::clone(&pen));
        let force = asked.written.force;
        let begin = move || {
            let (options, audio) = (asked.options.clone(), asked.audio.clone());
            let to = (place.clone(), force);
            let mut maker = RenderWorker::new(options, audio, to, served.clone(), &current, (&held, &bench));
            maker.play_through(renders.clone());
            move |job: &Job| maker.make(job)
        };
        let done = move |job, outcome| tell.send(News::Made(job, outcome)).is_ok();
        // The watch hears everything while a render is made, and can end without waiting for it.
        thread::spawn(move || render_worker::work(to_do, begin, done));
        Session {
            file,
            made_of,
            seen,
            lookout,
            jobs,
            server,
            newest,
            pen,
            saved: BTreeSet::new(),
            wrong: None,
            unsaid: None,
            in_course: 0,
            stirred: None,
        }
    }

    /// Hears news until the person ends it.
    fn watch(&mut self, news: &Receiver<News>) {
        loop {
            let patience = match self.stirred {
                Some((first, last)) => (last + QUIET)
                    .min(first + RESTLESS)
                    .saturating_duration_since(Instant::now()),
                None => LOOK,
            };
            match news.recv_timeout(patience) {
                Ok(News::Stirred) => {
                    let now = Instant::now();
                    self.stirred = Some((self.stirred.map_or(now, |(first, _)| first), now));
                }
                Ok(News::Made(job, outcome)) => self.hear(&job, outcome),
                Ok(News::Stop) | Err(RecvTimeoutError::Disconnected) => return,
                Err(RecvTimeoutError::Timeout) => self.look(),
            }
        }
    }

    /// Looks what was saved, and asks for a render of it.
    fn look(&mut self) {
        let stirred = self.stirred.take();
        let begun = stirred.map_or_else(Instant::now, |(first, _)| first);
        let now = Inventory::of(&self.made_of);
        let saved = now.changed_since(&self.seen);
        // Editors take the file away before they put the new one in its place, or empty it before they write. On a busy machine
        // much may come between the two.
        let unfinished = |file: &PathBuf| files::state(file).is_none_or(|state| state.is_empty());
        if saved.iter().any(unfinished) && begun.elapsed() < UNFINISHED {
            self.stirred = Some((begun, Instant::now()));
            return;
        }
        self.seen = now;
        if self.lookout.watch(self.seen.folders()) {
            // Something may have happened in a folder before it was watched.
            self.stirred = Some((begun, Instant::now()));
        }
        // What keeps a render from being made may lie where nobody looks, such as a file that was never there.
        let again = self.wrong.is_some() && stirred.is_none() && self.in_course == 0;
        if !saved.is_empty() || again {
            let again = saved.is_empty();
            self.saved.extend(saved);
            self.ask(begun, again);
        }
    }

    /// Asks for a render of what was saved since a moment, or for another try at what went wrong.
    fn ask(&mut self, since: Instant, again: bool) {
        let number = self.newest.load(Ordering::SeqCst) + 1;
        self.newest.store(number, Ordering::SeqCst);
        self.in_course += 1;
        let saved = self.saved.clone();
        let _ = self.jobs.send(Job {
            number,
            since,
            saved,
            again,
        });
    }

    /// Tells of a render that is over: the page first, so that whoever has read the message finds it there too.
    fn hear(&mut self, job: &Job, outcome: Outcome) {
        self.in_course -= 1;
        match outcome {
            Outcome::Dropped => {}
            // Another try at the same save would come to the same.
            Outcome::Failed => {
                let failed = Problem::new("pressroll failed while it rendered this save; the last good render stays");
                let failed = failed.help("save again: rendering begins anew").into();
                self.server.iter().for_each(|server| server.warn(&failed));
                messages::report_problems(&failed);
                self.wrong = None;
            }
            Outcome::Wrong(problems) => {
                // What is tried again is not told again.
                if !job.again || self.wrong.as_ref() != Some(&problems) {
                    self.server.iter().for_each(|server| server.warn(&problems));
                    messages::report_problems(&problems);
                }
                self.wrong = Some(problems);
            }
            Outcome::Made(made) => {
                self.unsaid = self.unsaid.take().or(output::to_stdout(&line(job, &made)).err());
                self.wrong = None;
                if job.number == self.newest.load(Ordering::SeqCst) {
                    self.saved.clear();
                }
                self.made_of.files = made.files;
                self.made_of.files.insert(self.file.clone());
                self.made_of.kits = made.kits;
                // What it is made of from now on is to be looked over, and its folders watched.
                let now = Instant::now();
                self.stirred.get_or_insert((now, now));
            }
        }
    }
}

/// The line that tells of a render: what was saved, what sounds otherwise for it, the seconds from the save to the
/// finished file, the loudness.
fn line(job: &Job, made: &Made) -> String {
    let saved = match job.saved.is_empty() {
        true => made.path.display().to_string(),
        false => some(job.saved.iter().map(|file| name(file))),
    };
    let otherwise = match &made.otherwise {
        None => String::new(),
        Some(none) if none.is_empty() => ": sounds as before".to_string(),
        Some(names) => format!(": {}", some(names.iter().cloned())),
    };
    let loudness = match made.lufs {
        Some(lufs) => format!("{lufs:.1} LUFS"),
        None => "no loudness".to_string(),
    };
    format!("{saved}{otherwise} · {:.2} s · {loudness}", made.seconds)
}

/// Some names, and how many more there are.
fn some(names: impl Iterator<Item = String>) -> String {
    let mut names: Vec<String> = names.collect();
    let more = names.len().saturating_sub(NAMED);
    names.truncate(NAMED);
    match more {
        0 => names.join(", "),
        more => format!("{} and {more} more", names.join(", ")),
    }
}

fn name(file: &Path) -> String {
    let name = file.file_name().unwrap_or(file.as_os_str());
    one_line(&name.to_string_lossy()).into_owned()
}
