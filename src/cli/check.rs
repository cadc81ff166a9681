//! `pressroll check`.

use clap::Args;

use super::options::LoopOptions;
use super::{Done, messages, output};
use crate::render::Order;

/// Find what is wrong or unlikely in a loop, and render nothing
#[derive(Args)]
pub(super) struct Check {
    #[command(flatten)]
    options: LoopOptions,
}

impl Check {
    /// Reads everything, tells all errors at once, then what may not be meant.
    pub(super) fn run(self) -> Done {
        let project = self.options.project(None).open()?;
        let order = Order {
            bars: self.options.bars,
            ..Order::default()
        };
        project.check(&order)?;
        let hints = project.hints(&order)?;
        hints.iter().for_each(messages::tell_hint);
        let file = self.options.file.display();
        Ok(output::to_stdout(&match hints.len() {
            0 => format!("{file}: no problems found"),
            1 => format!("{file}: no problems found, one thing to look at"),
            count => format!("{file}: no problems found, {count} things to look at"),
        })?)
    }
}
