//! A bar for whoever waits: on a terminal alone, and only when the work takes more than a second.

use std::io::{StderrLock, Write as _};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::interrupt;
use crate::terminal::{Screen, printable};

/// Work shorter than this shows no bar.
const PATIENCE: Duration = Duration::from_secs(1);
/// Columns of the bar; the name before it takes the rest.
const BAR: usize = 30;
/// Columns beside bar and name: brackets, per cent, time left.
const BESIDE: usize = 22;

/// Whether a bar stands on the terminal now.
static SHOWN: AtomicBool = AtomicBool::new(false);

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
        Self { begun: Instant::now(), name: printable(name), screen: Screen::stderr(), bar: None }
    }

    /// Takes bytes done and bytes in all.
    pub fn at(&mut self, (done, total): (u64, Option<u64>)) {
        if !self.screen.terminal || self.bar.is_none() && self.begun.elapsed() < PATIENCE {
            return;
        }
        if self.bar.is_none() {
            interrupt::watch();
            SHOWN.store(true, Ordering::Relaxed);
            self.bar = Some(self.draw(done, total));
        }
        if let Some(bar) = &self.bar {
            if let Some(left) = total.and_then(|total| left(self.begun.elapsed(), done, total)) {
                bar.set_prefix(left);
            }
            bar.set_position(done);
        }
    }

    fn draw(&self, done: u64, total: Option<u64>) -> ProgressBar {
        let bar = ProgressBar::with_draw_target(total, ProgressDrawTarget::stderr());
        let template = match (total, self.screen.colour) {
            (Some(_), true) => format!("{{msg}} [{{bar:{BAR}.cyan}}] {{percent:>3}} %, {{prefix}} left"),
            (Some(_), false) => format!("{{msg}} [{{bar:{BAR}}}] {{percent:>3}} %, {{prefix}} left"),
            (None, _) => "{msg} {bytes} read".to_owned(),
        };
        let style = ProgressStyle::with_template(&template).unwrap_or_else(|_| ProgressStyle::default_bar());
        // Of a long path the end says more than the beginning.
        let room = self.screen.width.saturating_sub(BAR + BESIDE);
        let skipped = self.name.chars().count().saturating_sub(room);
        let name = self.name.chars().skip(skipped).collect::<String>();
        bar.with_style(style.progress_chars("=> ")).with_message(name).with_position(done)
    }
}

/// The time left at the speed so far, `m:ss`.
fn left(elapsed: Duration, done: u64, total: u64) -> Option<String> {
    let rest = total.saturating_sub(done) as f64 / done as f64;
    let left = Duration::try_from_secs_f64(elapsed.as_secs_f64() * rest).ok()?.as_secs();
    Some(format!("{}:{:02}", left / 60, left % 60))
}

impl Drop for Progress {
    fn drop(&mut self) {
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
            SHOWN.store(false, Ordering::Relaxed);
        }
    }
}

/// Clears the bar's line. While what it gives back is kept, nothing is drawn.
pub fn abandon() -> Option<StderrLock<'static>> {
    SHOWN.load(Ordering::Relaxed).then(|| {
        let mut terminal = std::io::stderr().lock();
        // To the line's beginning, and erase it (ECMA-48: EL).
        let _ = terminal.write_all(b"\r\x1b[2K");
        terminal
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A quarter in ten seconds leaves thirty.
    #[test]
    fn the_time_left() {
        let ten = Duration::from_secs(10);
        assert_eq!(left(ten, 25, 100).as_deref(), Some("0:30"));
        assert_eq!(left(ten, 1, 13).as_deref(), Some("2:00"));
        assert_eq!(left(ten, 0, 100), None);
        assert_eq!(left(ten, 100, 100).as_deref(), Some("0:00"));
    }
}
