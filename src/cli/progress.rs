//! A progress bar, for whoever waits at a terminal.

use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::kit::findings;
use crate::project::Project;
use crate::render::{Order, Rendered};
use crate::render_cache::RenderCache;
use crate::text::Problems;

/// Nobody needs to be told about work that is over by then.
const PATIENCE: Duration = Duration::from_millis(500);

/// A bar on standard error that appears only at a terminal and only after a while.
pub(super) struct Progress {
    begun: Instant,
    bar: ProgressBar,
}

impl Progress {
    /// A bar for one piece of work, which goes on under a word such as `rendering`.
    pub(super) fn new(what: &str) -> Progress {
        let bar = ProgressBar::with_draw_target(Some(1000), ProgressDrawTarget::hidden());
        if let Ok(style) = ProgressStyle::with_template(&format!("{what} {{wide_bar}} {{percent:>3}} %, {{eta}} left"))
        {
            bar.set_style(style.progress_chars("#- "));
        }
        Progress {
            begun: Instant::now(),
            bar,
        }
    }

    /// Shows a share of the work, from 0 to 1, as done.
    pub(super) fn show(&self, share: f64) {
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

/// Shows a bar, with the time that is left, whenever this process listens to one-shots.
pub(super) fn show_listening() {
    let bar: Mutex<Option<Progress>> = Mutex::new(None);
    findings::show_listening(move |share| {
        let mut bar = bar.lock().unwrap_or_else(PoisonError::into_inner);
        match share < 1.0 {
            true => bar.get_or_insert_with(|| Progress::new("listening")).show(share),
            false => drop(bar.take()),
        }
    });
}

/// A progress bar for several renders together.
pub(super) struct Together {
    bar: Progress,
    shares: Mutex<Vec<f64>>,
}

impl Together {
    /// For so many renders.
    pub(super) fn new(count: usize) -> Together {
        Together {
            bar: Progress::new("rendering"),
            shares: Mutex::new(vec![0.0; count]),
        }
    }

    /// Is told which share of one of them is done.
    pub(super) fn show(&self, number: usize, share: f64) {
        let mut shares = self.shares.lock().unwrap_or_else(PoisonError::into_inner);
        shares[number] = share;
        self.bar.show(shares.iter().sum::<f64>() / shares.len() as f64);
    }
}

/// Renders behind a progress bar, by way of a render cache where there is one, without reading a meter at the end.
pub(super) fn render_unmetered(
    project: &Project,
    order: &Order,
    cache: Option<&RenderCache>,
) -> Result<Rendered, Problems> {
    let progress = Progress::new("rendering");
    project.render_unmetered(order, cache, &|share| progress.show(share))
}
