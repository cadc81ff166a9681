//! How far more cores can help: the work of one render, its longest chain, and what is left for one thread alone.
//!
//! `cargo bench --bench span` renders on one thread and notes when each stage begins and ends. Stages that may run side by side are
//! told by the forks that they lie in, so one thread shows what many could do at the best: nothing here hangs on how many cores
//! this machine has. What many threads cost one another (waking, caches, memory) is not in it, nor is waiting for the disk: times are
//! those of the processor, for each step the least of some runs.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};
use std::fmt;
use std::path::Path;
use std::process::{Command, ExitCode, Stdio};
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use rustix::time::{ClockId, clock_gettime};
use tracing::field::{Field, Visit};
use tracing::span::{Attributes, Id, Record};
use tracing::{Event, Metadata, Subscriber};

/// Memory comes as it does in the program.
#[cfg(target_os = "linux")]
#[global_allocator]
static ALLOCATOR: tikv_jemallocator::Jemalloc = tikv_jemallocator::Jemalloc;

/// Tells a process that it is to render and to note its stages.
const NOTED: &str = "PRESSROLL_STAGES";
/// Runs of each file.
const RUNS: usize = 9;
/// What is told of the longest chain: so many stages.
const TOLD: usize = 14;

fn main() -> ExitCode {
    if std::env::var_os(NOTED).is_some() {
        return noted();
    }
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    for file in [
        "benches/sixteen-bars.toml",
        "kits/harbour-studio/loops/night-ferry.toml",
    ] {
        let runs = (0..RUNS).map(|_| run(&here.join(file)));
        tell(file, &runs.reduce(Stage::least).expect("it has run"));
    }
    ExitCode::SUCCESS
}

/// Renders as the command line says, and prints each stage's beginning and end to standard error.
fn noted() -> ExitCode {
    let listener: &'static Listener = Box::leak(Box::new(Listener::new()));
    tracing::subscriber::set_global_default(listener).expect("nobody else listens");
    let done = pressroll::run();
    listener.note("end", "");
    let lines = listener.lines.lock().expect("nothing has panicked");
    eprint!("{lines}", lines = *lines);
    done
}

/// Writes down what is told of spans. Only one thread works at a time, so what comes is in order.
struct Listener {
    next: AtomicU64,
    named: Mutex<BTreeMap<u64, (&'static str, String)>>,
    lines: Mutex<String>,
}

impl Listener {
    fn new() -> Listener {
        Listener {
            next: AtomicU64::new(1),
            named: Mutex::default(),
            lines: Mutex::default(),
        }
    }

    fn note(&self, what: &str, name: &str) {
        // The processor's time, not the day's: others may want the cores too.
        let now = clock_gettime(ClockId::ProcessCPUTime);
        let now = now.tv_sec * 1_000_000_000 + now.tv_nsec;
        let mut lines = self.lines.lock().expect("nothing has panicked");
        lines.push_str(&format!("{now}\t{what}\t{name}\n"));
    }
}

impl Subscriber for &'static Listener {
    fn enabled(&self, _: &Metadata<'_>) -> bool {
        true
    }

    fn new_span(&self, span: &Attributes<'_>) -> Id {
        let id = self.next.fetch_add(1, Ordering::Relaxed);
        let mut name = Name(String::new());
        span.record(&mut name);
        let mut named = self.named.lock().expect("nothing has panicked");
        named.insert(id, (span.metadata().name(), name.0));
        Id::from_u64(id)
    }

    fn enter(&self, span: &Id) {
        let named = self.named.lock().expect("nothing has panicked");
        let (kind, name) = &named[&span.into_u64()];
        self.note(kind, name);
    }

    fn exit(&self, _: &Id) {
        self.note("end", "");
    }

    fn record(&self, _: &Id, _: &Record<'_>) {}
    fn record_follows_from(&self, _: &Id, _: &Id) {}
    fn event(&self, _: &Event<'_>) {}
}

/// A span's name.
struct Name(String);

impl Visit for Name {
    fn record_str(&mut self, _: &Field, value: &str) {
        self.0 = value.to_string();
    }

    fn record_debug(&mut self, _: &Field, _: &dyn fmt::Debug) {}
}

/// A stage with what it did itself and what lies in it, in order; of a fork all that lies in it may run side by side.
#[derive(Default)]
struct Stage {
    name: String,
    forks: bool,
    steps: Vec<Step>,
}

enum Step {
    /// Nanoseconds of its own.
    Own(f64),
    Stage(Stage),
}

/// Renders a file in a process of its own, on one thread.
fn run(file: &Path) -> Stage {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut command = Command::new(std::env::current_exe().expect("this bench has a place"));
    command.arg("render").arg(file).args(["-o", "out.wav"]);
    command.env(NOTED, "1").env("RAYON_NUM_THREADS", "1");
    let ran = command.current_dir(folder.path()).stdout(Stdio::null()).output();
    let ran = ran.expect("this bench runs");
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    read(&String::from_utf8(ran.stderr).expect("notes are text"))
}

fn read(notes: &str) -> Stage {
    let mut open = vec![Stage::default()];
    let mut last = 0.0;
    for line in notes.lines() {
        let mut words = line.split('\t');
        let Some(now) = words.next().and_then(|word| word.parse::<f64>().ok()) else {
            continue;
        };
        let (what, name) = (words.next().unwrap_or(""), words.next().unwrap_or(""));
        let stage = open.last_mut().expect("ends are told after beginnings");
        stage.steps.push(Step::Own(now - last));
        last = now;
        if what != "end" {
            open.push(Stage {
                name: name.to_string(),
                forks: what == "fork",
                steps: Vec::new(),
            });
        } else if open.len() > 1 {
            let done = open.pop().expect("it is open");
            open.last_mut().expect("another is open").steps.push(Step::Stage(done));
        }
    }
    open.pop().expect("all of it has ended")
}

impl Stage {
    /// Each step as fast as in the faster of two runs, which have gone the same way.
    fn least(mut self, other: Stage) -> Stage {
        assert_eq!(self.steps.len(), other.steps.len(), "{}", self.name);
        for (step, other) in self.steps.iter_mut().zip(other.steps) {
            *step = match (std::mem::replace(step, Step::Own(0.0)), other) {
                (Step::Own(one), Step::Own(other)) => Step::Own(one.min(other)),
                (Step::Stage(one), Step::Stage(other)) => Step::Stage(one.least(other)),
                _ => panic!("{} went another way", self.name),
            };
        }
        self
    }

    /// Nanoseconds that all of it takes.
    fn work(&self) -> f64 {
        self.steps
            .iter()
            .map(|step| match step {
                Step::Own(own) => *own,
                Step::Stage(stage) => stage.work(),
            })
            .sum()
    }

    /// Its longest chain: nanoseconds by the names of stages.
    fn chain(&self) -> BTreeMap<&str, f64> {
        let mut chain = BTreeMap::new();
        let mut longest = BTreeMap::new();
        for step in &self.steps {
            match step {
                Step::Own(own) => *chain.entry(&*self.name).or_default() += own,
                Step::Stage(stage) if self.forks => {
                    let other = stage.chain();
                    if length(&other) > length(&longest) {
                        longest = other;
                    }
                }
                Step::Stage(stage) => join(&mut chain, stage.chain()),
            }
        }
        join(&mut chain, longest);
        chain
    }

    /// Puts it among some tasks, to begin after others; gives those that it ends with.
    fn lay(&self, tasks: &mut Vec<Task>, after: Vec<usize>) -> Vec<usize> {
        let mut ends = after;
        let mut branches = Vec::new();
        for step in &self.steps {
            match step {
                Step::Own(own) => {
                    tasks.push(Task {
                        nanoseconds: *own,
                        after: std::mem::take(&mut ends),
                    });
                    ends = vec![tasks.len() - 1];
                }
                Step::Stage(stage) if self.forks => branches.push(stage),
                Step::Stage(stage) => ends = stage.lay(tasks, ends),
            }
        }
        match branches.is_empty() {
            true => ends,
            false => branches
                .into_iter()
                .flat_map(|branch| branch.lay(tasks, ends.clone()))
                .collect(),
        }
    }
}

fn join<'a>(chain: &mut BTreeMap<&'a str, f64>, other: BTreeMap<&'a str, f64>) {
    for (name, nanoseconds) in other {
        *chain.entry(name).or_default() += nanoseconds;
    }
}

fn length(chain: &BTreeMap<&str, f64>) -> f64 {
    chain.values().sum()
}

/// Something that one thread does in one go, once others are done.
struct Task {
    nanoseconds: f64,
    after: Vec<usize>,
}

/// How long tasks take on so many threads, and for how much of it only one of them works: each thread takes the first that may begin.
fn scheduled(tasks: &[Task], threads: usize) -> (f64, f64) {
    let mut waits: Vec<usize> = tasks.iter().map(|task| task.after.len()).collect();
    let mut then = vec![Vec::new(); tasks.len()];
    for (number, task) in tasks.iter().enumerate() {
        task.after.iter().for_each(|before| then[*before].push(number));
    }
    let free = (0..tasks.len()).filter(|number| waits[*number] == 0);
    let mut free: BinaryHeap<Reverse<usize>> = free.map(Reverse).collect();
    let mut running: BinaryHeap<Reverse<(u64, usize)>> = BinaryHeap::new();
    let (mut now, mut alone) = (0, 0);
    loop {
        while running.len() < threads {
            let Some(Reverse(number)) = free.pop() else { break };
            running.push(Reverse((now + tasks[number].nanoseconds as u64, number)));
        }
        let busy = running.len();
        let Some(Reverse((ends, number))) = running.pop() else {
            return (now as f64, alone as f64);
        };
        if busy == 1 {
            alone += ends - now;
        }
        now = ends;
        for next in &then[number] {
            waits[*next] -= 1;
            if waits[*next] == 0 {
                free.push(Reverse(*next));
            }
        }
    }
}

fn tell(file: &str, all: &Stage) {
    let milliseconds = |nanoseconds: f64| nanoseconds / 1e6;
    let chain = all.chain();
    let (work, span) = (milliseconds(all.work()), milliseconds(length(&chain)));
    println!(
        "render {file}: work {work:.1} ms, longest chain {span:.1} ms, 1/{:.1} of it",
        work / span
    );
    let mut tasks = Vec::new();
    all.lay(&mut tasks, Vec::new());
    println!("  threads   at best, ms   one thread alone");
    for threads in [1, 2, 4, 8, 16] {
        let (time, alone) = scheduled(&tasks, threads);
        let share = 100.0 * alone / time;
        println!("  {threads:7}   {:11.1}   {share:14.0} %", milliseconds(time));
    }
    let mut stages: Vec<(&str, f64)> = chain.into_iter().collect();
    stages.sort_by(|a, b| b.1.total_cmp(&a.1));
    println!("  ms of the longest chain, by stages:");
    for (name, nanoseconds) in stages.into_iter().take(TOLD) {
        let name = if name.is_empty() { "(between stages)" } else { name };
        println!("  {:7.2}   {name}", milliseconds(nanoseconds));
    }
}
