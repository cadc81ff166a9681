//! A progress bar, for whoever waits at a terminal.

use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// Nobody needs to be told about work that is over by then.
const PATIENCE: Duration = Duration::from_millis(500);

/// A bar on standard error that appears only at a terminal and only after a while.
pub struct Progress {
    begun: Instant,
    bar: ProgressBar,
}

impl Progress {
    /// A bar for one piece of work, which goes on under a word such as `rendering`.
    pub fn new(what: &str) -> Progress {
        let bar = ProgressBar::with_draw_target(Some(1000), ProgressDrawTarget::hidden());
        if let Ok(style) = ProgressStyle::with_template(&format!("{what} {{wide_bar}} {{percent:>3}} %")) {
            bar.set_style(style.progress_chars("#- "));
        }
        Progress {
            begun: Instant::now(),
            bar,
        }
    }

    /// Shows a share of the work, from 0 to 1, as done.
    pub fn show(&self, share: f64) {
        if self.begun.elapsed() < PATIENCE {
            return;
        }
        if self.bar.is_hidden() {
            self.bar.set_draw_target(ProgressDrawTarget::stderr());
        }
        self.bar.set_position((share * 1000.0) as u64);
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}
