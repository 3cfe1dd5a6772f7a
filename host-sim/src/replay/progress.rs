//! A bar for whoever waits: on a terminal alone, and only when the work takes more than a second.

use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::terminal::Screen;

/// Work shorter than this shows no bar.
const PATIENCE: Duration = Duration::from_secs(1);

/// Shows how much of a trace is read.
#[derive(Debug)]
pub struct Progress {
    begun: Instant,
    name: String,
    screen: Screen,
    bar: Option<ProgressBar>,
}

impl Progress {
    /// Begins to count the time; shows nothing yet.
    pub fn new(name: &str) -> Self {
        Self { begun: Instant::now(), name: name.to_owned(), screen: Screen::stderr(), bar: None }
    }

    /// Takes bytes done and bytes in all.
    pub fn at(&mut self, (done, total): (u64, Option<u64>)) {
        if !self.screen.terminal || self.bar.is_none() && self.begun.elapsed() < PATIENCE {
            return;
        }
        let bar = self.bar.get_or_insert_with(|| {
            let bar = ProgressBar::with_draw_target(total, ProgressDrawTarget::stderr());
            let template = match (total, self.screen.colour) {
                (Some(_), true) => "{msg} [{bar:30.cyan}] {percent} %",
                (Some(_), false) => "{msg} [{bar:30}] {percent} %",
                (None, _) => "{msg} {bytes}",
            };
            let style = ProgressStyle::with_template(template).unwrap_or_else(|_| ProgressStyle::default_bar());
            bar.with_style(style.progress_chars("=> ")).with_message(self.name.clone())
        });
        bar.set_position(done);
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
    }
}
