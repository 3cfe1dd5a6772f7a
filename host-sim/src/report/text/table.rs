//! Lines of figures under each other.

use std::io::{self, Write};

use crate::report::Reason;
use crate::report::figures::Figure;
use crate::report::words::short;
use crate::terminal::Screen;

/// Lines of a name, a figure and its unit.
pub(super) struct Table<'a, W> {
    screen: Screen,
    out: &'a mut W,
    /// The reason of the last figure that is missing: it is not told twice in a row.
    last: Reason,
}

impl<'a, W: Write> Table<'a, W> {
    /// None yet.
    pub fn new(screen: Screen, out: &'a mut W) -> Self {
        Self { screen, out, last: "" }
    }

    /// A figure, or why it is missing.
    pub fn line(&mut self, f: &Figure, unit: &str) -> io::Result<()> {
        let name = f.name;
        let text = if let Some(x) = f.value {
            format!("  {name:<18}{:>12} {unit}", short(x))
        } else {
            let words = if f.why == self.last { "as above" } else { f.why };
            self.last = f.why;
            format!("  {name:<18}{:>12} {words}", "-")
        };
        self.text(&text)
    }

    /// Any other line.
    pub fn text(&mut self, text: &str) -> io::Result<()> {
        self.screen.lines(33, text).iter().try_for_each(|line| writeln!(self.out, "{line}"))
    }
}
