//! `pressroll catalogue`.

mod report;

use std::path::{Path, PathBuf};
use std::time::Instant;

use clap::Args;

use super::progress::Progress;
use super::replace::Rule;
use super::{Done, messages, output};
use crate::base::memory;
use crate::catalogue::{Asked, Index, List, Outcome, Plan, Running, Shard, Store, pack, packed};
use crate::text::{Problem, Problems};
use report::{Finished, Made};

/// What may be taken where nobody says and the machine does not tell how much there is.
const MEMORY: u64 = 2 << 30;

/// Render previews of many loops on many kits in many versions, with an index
///
/// What is up to date is not made again. Stopped at any moment, the next run goes on.
#[derive(Args)]
pub(super) struct CatalogueCommand {
    /// A list: catalogue.toml
    #[arg(value_name = "LIST")]
    list: PathBuf,
    /// In place of renders/NAME-catalogue
    #[arg(short, long, value_name = "FOLDER")]
    output: Option<PathBuf>,
    /// Only report how many previews, how long, how large
    #[arg(long, conflicts_with_all = ["finish", "remove"])]
    dry: bool,
    /// Memory that all of it may take; else half of what is there
    #[arg(long, value_name = "MB", value_parser = clap::value_parser!(u64).range(256..=1_000_000))]
    memory: Option<u64>,
    /// Remove previews that the list no longer names
    #[arg(long, conflicts_with = "shard")]
    remove: bool,
    /// Also write stems, MIDI, staves, credits; one ZIP
    #[arg(long, conflicts_with = "dry")]
    pack: bool,
    /// Make the K-th of N parts; K may name a variable
    #[arg(long, help_heading = "Many machines", value_name = "K/N", conflicts_with = "finish")]
    shard: Option<Asked>,
    /// Whether K counts from 0 or from 1
    #[arg(long, help_heading = "Many machines", value_name = "0|1", default_value_t = 1, requires = "shard", value_parser = clap::value_parser!(u32).range(0..=1))]
    base: u32,
    /// Verify all that was made, and write the index
    #[arg(long, help_heading = "Many machines")]
    finish: bool,
    /// Print one JSON object and nothing else
    #[arg(long, help_heading = "Output")]
    json: bool,
}

impl CatalogueCommand {
    /// Makes what is to be made, or verifies what was, and tells.
    pub(super) fn run(self) -> Done {
        let begun = Instant::now();
        let list = List::read(&self.list)?;
        let plan = Plan::of(&list)?;
        let numbers = &plan.order[self.shard()?.map_or(0..plan.order.len(), |shard| shard.within(&plan))];
        if self.dry {
            output::to_stdout(&report::dry(&list, &plan, numbers, self.json))?;
            return unread(&plan);
        }
        let place = self.place();
        if self.pack {
            Rule::new(false, "folder with -o").allow([packed(&place)])?;
        }
        let store = Store::open(&place, &list)?;
        let outcome = match self.finish {
            true => None,
            false => Some(self.make((&list, &plan), numbers, &store)),
        };
        let finished = match self.shard {
            Some(_) => None,
            None => match self.finished((&list, &plan), &store, outcome.as_ref()) {
                Ok(finished) => Some(finished),
                // Why previews were not made comes first.
                Err(unfinished) => {
                    let mut problems = failures(&plan, outcome, None).err().unwrap_or_default();
                    problems.0.extend(unfinished.0);
                    return Err(problems);
                }
            },
        };
        let made = Made {
            outcome: outcome.as_ref(),
            finished: finished.as_ref(),
            place: &place,
            seconds: begun.elapsed().as_secs_f64(),
        };
        output::to_stdout(&if self.json { made.json(&plan) } else { made.text() })?;
        failures(&plan, outcome, finished)
    }

    /// The share that is asked for.
    fn shard(&self) -> Result<Option<Shard>, Problem> {
        let variable = |name: &str| std::env::var(name).ok();
        let shard = self
            .shard
            .as_ref()
            .map(|asked| asked.shard(self.base, variable))
            .transpose();
        shard.map_err(|what| {
            Problem::new(format!("--shard: {what}")).help("write K/N, such as 3/8; --base 0 counts from 0")
        })
    }

    fn place(&self) -> PathBuf {
        let stem = self.list.file_stem().unwrap_or_default().to_string_lossy();
        let own = || Path::new("renders").join(format!("{stem}-catalogue"));
        self.output.clone().unwrap_or_else(own)
    }

    fn make(&self, (list, plan): (&List, &Plan), numbers: &[usize], store: &Store) -> Outcome {
        let progress = Progress::new("rendering");
        let free = || memory::room().map_or(MEMORY, |room| room / 2);
        Running {
            list: (list, self.list.parent().unwrap_or(Path::new(""))),
            plan,
            numbers,
            store,
            packs: self.pack,
            memory: self.memory.map_or_else(free, |megabytes| megabytes << 20),
            progress: &|share| progress.show(share),
        }
        .run()
    }

    /// Writes the index of what is there, and takes away what no list names, where that is asked for. What was just made is not read
    /// again; `--finish` reads everything.
    fn finished(
        &self,
        (list, plan): (&List, &Plan),
        store: &Store,
        outcome: Option<&Outcome>,
    ) -> Result<Finished, Problems> {
        let index = Index::gather(store, plan, outcome.is_none(), self.pack)?;
        let (mut removed, mut changed) = (0, Vec::new());
        if self.remove {
            // Nobody knows what a list names whose loops can't be read.
            unread(plan)?;
            for name in &index.left {
                changed.extend(store.remove(name)?);
                removed += 1;
            }
        }
        let mut written = index.write(store, &list.title)?;
        if self.pack && index.missing.is_empty() && index.damaged.is_empty() {
            written.push(pack(store, &index, &list.title)?);
        }
        Ok(Finished {
            written,
            index,
            removed,
            changed,
        })
    }
}

/// An error for each loop that could not be read.
fn unread(plan: &Plan) -> Done {
    let problems: Vec<Problem> = plan
        .broken
        .iter()
        .flat_map(|(_, problems)| problems.0.iter().cloned())
        .collect();
    if problems.is_empty() {
        Ok(())
    } else {
        Err(Problems(problems))
    }
}

/// Everything that kept previews from being made, each thing once; hints at what else there is to know.
fn failures(plan: &Plan, outcome: Option<Outcome>, finished: Option<Finished>) -> Done {
    let mut problems: Vec<Problem> = Vec::new();
    if let Some(outcome) = outcome {
        problems.extend(report::gathered(plan, outcome.failed));
        problems.extend(outcome.broken_off);
    }
    if let Some(finished) = finished {
        messages::report_hints_once(finished.hints());
        problems.extend(finished.problems(problems.is_empty() && plan.broken.is_empty()));
    }
    let broken = plan.broken.iter().flat_map(|(_, problems)| problems.0.iter().cloned());
    let problems: Vec<Problem> = broken.chain(problems).collect();
    if problems.is_empty() {
        Ok(())
    } else {
        Err(Problems(problems))
    }
}
