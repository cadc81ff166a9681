//! Renders one after another, each with what the last one has left of use.

use std::collections::BTreeSet;
use std::panic::{self, AssertUnwindSafe};
use std::path::PathBuf;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Instant;

use super::bench::{Bench, hold};
use super::page;
use super::player::Render;
use crate::cli::messages;
use crate::cli::options::{AudioOptions, LoopOptions};
use crate::cli::progress::render_unmetered;
use crate::cli::replace::Rule;
use crate::export;
use crate::loopfile::SpaceKind;
use crate::project::Project;
use crate::project::changes::changed;
use crate::render::{PartReport, Rendered};
use crate::text::Problems;
use crate::watch::server::Server;

/// A render that is asked for.
pub(super) struct Job {
    /// Counts them.
    pub number: u64,
    /// When what it is for began to be saved.
    pub since: Instant,
    /// What was saved since the last good render; nothing for the first.
    pub saved: BTreeSet<PathBuf>,
    /// True where nothing was saved, and only another try is made at what went wrong.
    pub again: bool,
}

/// What became of a job.
pub(super) enum Outcome {
    /// A newer one was asked for meanwhile.
    Dropped,
    /// It can't be rendered.
    Wrong(Problems),
    /// It was rendered and written.
    Made(Made),
    /// What renders broke off by a fault of its own.
    Failed,
}

/// Makes what is to do, one after another, for as long as `done` wants to hear of it. `begin` gives what makes: anew after a
/// fault, as nobody knows what state that has left it in.
pub(super) fn work<M: FnMut(&Job) -> Outcome>(
    to_do: Receiver<Job>,
    begin: impl Fn() -> M,
    mut done: impl FnMut(Job, Outcome) -> bool,
) {
    let mut make = begin();
    for job in to_do {
        let outcome = panic::catch_unwind(AssertUnwindSafe(|| make(&job))).unwrap_or_else(|_| {
            make = begin();
            Outcome::Failed
        });
        if !done(job, outcome) {
            break;
        }
    }
}

/// A render that was written.
pub(super) struct Made {
    /// Where it is.
    pub path: PathBuf,
    /// Seconds since the save until it was there.
    pub seconds: f64,
    /// Its loudness, where it has one.
    pub lufs: Option<f64>,
    /// What sounds otherwise than in the render before, by name; none where there was no other.
    pub otherwise: Option<Vec<String>>,
    /// The files that it is made of, but for the one that was opened.
    pub files: BTreeSet<PathBuf>,
    /// The folders of its kits.
    pub kits: BTreeSet<PathBuf>,
}

/// What renders, and what it keeps from one time to the next.
pub(super) struct RenderWorker {
    options: LoopOptions,
    audio: AudioOptions,
    path: PathBuf,
    force: bool,
    server: Option<Arc<Server>>,
    deck: Option<Sender<Render>>,
    newest: Arc<AtomicU64>,
    pen: Arc<Mutex<()>>,
    bench: Arc<Mutex<Bench>>,
    /// What was rendered last, and what there was to tell of its parts.
    last: Option<(Project, Vec<PartReport>)>,
}

impl RenderWorker {
    /// One that writes to a path, if need be by `force`. It drops what is not the `newest`, and holds the `pen` while it writes.
    pub(super) fn new(
        options: LoopOptions,
        audio: AudioOptions,
        (path, force): (PathBuf, bool),
        server: Option<Arc<Server>>,
        newest: &Arc<AtomicU64>,
        (pen, bench): (&Arc<Mutex<()>>, &Arc<Mutex<Bench>>),
    ) -> RenderWorker {
        RenderWorker {
            options,
            audio,
            path,
            force,
            server,
            deck: None,
            newest: newest.clone(),
            pen: pen.clone(),
            bench: bench.clone(),
            last: None,
        }
    }

    /// Hands what it renders to a deck as well.
    pub(super) fn play_through(&mut self, deck: Option<Sender<Render>>) {
        self.deck = deck;
    }

    /// Renders and writes, unless a newer job comes first.
    pub(super) fn make(&mut self, job: &Job) -> Outcome {
        match self.try_to(job) {
            Ok(Some(made)) => Outcome::Made(made),
            Ok(None) => Outcome::Dropped,
            Err(problems) => Outcome::Wrong(problems),
        }
    }

    fn try_to(&mut self, job: &Job) -> Result<Option<Made>, Problems> {
        let dropped = || self.newest.load(Ordering::SeqCst) != job.number;
        if dropped() {
            return Ok(None);
        }
        let mut bench = hold(&self.bench);
        let project = bench.open(self.options.project(self.audio.ending))?;
        Rule::new(self.force, "file with -o")
            .keep(&project)
            .allow([&self.path])?;
        let (files, folders) = project.made_of();
        let mut files: BTreeSet<PathBuf> = files.into_iter().collect();
        files.extend(project.opened_by().swapped_files());
        let order = self.audio.order(&self.options);
        let finished = render_unmetered(&project, &order, Some(&bench.cache))?;
        drop(bench);
        if dropped() {
            return Ok(None);
        }
        let tags = project.tags(order.bars, finished.repeating());
        {
            let _held = self.pen.lock().unwrap_or_else(PoisonError::into_inner);
            if dropped() {
                return Ok(None);
            }
            let coding = self.audio.depth.coding();
            export::wav::preview(&self.path, &finished.audio, coding, &tags, project.first().seed)?;
        }
        let seconds = job.since.elapsed().as_secs_f64();
        // The meter is read when the file is there already.
        let finished = finished.metered();
        if let Some(server) = &self.server {
            // The render is there all the same.
            if let Err(problems) = page::show(server, job.number, &project, &order, &self.path, &finished) {
                problems.0.iter().for_each(messages::tell_hint);
                server.warn(&problems);
            }
        }
        if let Some(deck) = &self.deck {
            let render = Render {
                audio: finished.audio.clone(),
                bars: project.barlines(&order),
                repeats: finished.repeats,
            };
            // A player that has failed has been told of.
            let _ = deck.send(render);
        }
        Ok(Some(Made {
            path: self.path.clone(),
            seconds,
            lufs: finished.lufs,
            otherwise: self.otherwise(job, project, finished),
            files,
            kits: folders.into_iter().collect(),
        }))
    }

    /// What sounds otherwise than last time; remembers this time for the next.
    fn otherwise(&mut self, job: &Job, project: Project, finished: Rendered) -> Option<Vec<String>> {
        let alike = |(last, _): &&(Project, Vec<PartReport>)| last.loops().len() == project.loops().len();
        let last = self.last.as_ref();
        let otherwise = last.map(|last| match Some(last).filter(alike) {
            Some((last, parts)) => {
                let mut names = changed((last, parts), (&project, &finished.parts));
                names.extend(
                    recorded_anew(&project, &job.saved)
                        .filter(|name| !names.contains(name))
                        .collect::<Vec<_>>(),
                );
                names
            }
            None => vec!["the sections".to_string()],
        });
        self.last = Some((project, finished.parts));
        otherwise
    }
}

/// The rooms whose recordings are among what was saved.
fn recorded_anew<'a>(project: &'a Project, saved: &'a BTreeSet<PathBuf>) -> impl Iterator<Item = String> + 'a {
    let spaces = project.loops().into_iter().flat_map(|(song, _)| &song.spaces);
    let anew = |kind: &SpaceKind| matches!(kind, SpaceKind::Impulse(impulse) if saved.contains(&impulse.file));
    spaces
        .filter(move |space| anew(&space.kind))
        .map(|space| space.name.clone())
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc::channel;

    use super::*;

    #[test]
    fn a_fault_ends_one_render_and_the_next_begins_anew() {
        let (jobs, to_do) = channel();
        for number in 1..=4 {
            let (since, saved) = (Instant::now(), BTreeSet::new());
            jobs.send(Job {
                number,
                since,
                saved,
                again: false,
            })
            .expect("it is heard");
        }
        drop(jobs);
        let begun = std::cell::Cell::new(0);
        // Each is made by the maker that was begun last, which fails at its second job.
        let begin = || {
            begun.set(begun.get() + 1);
            let mut made = 0;
            move |_: &Job| {
                made += 1;
                assert!(made < 2, "this fault is meant");
                Outcome::Dropped
            }
        };
        let mut heard = Vec::new();
        work(to_do, begin, |job, outcome| {
            heard.push((job.number, matches!(outcome, Outcome::Failed)));
            true
        });
        assert_eq!(heard, [(1, false), (2, true), (3, false), (4, true)]);
        assert_eq!(begun.get(), 3);
    }
}
