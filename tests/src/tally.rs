//! Collects what misses its limit, so that one run shows all of it.

/// Checks of one test; each names what it looks at.
#[derive(Debug, Default)]
pub struct Tally {
    rows: Vec<(bool, String)>,
}

impl Tally {
    /// A figure's error must lie within limits, both ends included.
    pub fn between(&mut self, what: &str, error: f64, low: f64, high: f64) {
        self.rows.push(((low..=high).contains(&error), format!("{what}: {error:.4} ({low} .. {high})")));
    }

    /// A figure's error must not be larger than a limit, either way.
    pub fn within(&mut self, what: &str, error: f64, limit: f64) {
        self.between(what, error, -limit, limit);
    }

    /// Something must hold.
    pub fn holds(&mut self, what: &str, ok: bool) {
        self.rows.push((ok, what.to_owned()));
    }

    /// Prints all rows; those that missed are marked.
    ///
    /// # Panics
    ///
    /// When a limit was missed, or nothing was checked.
    #[track_caller]
    pub fn finish(self) {
        assert!(!self.rows.is_empty(), "nothing was checked");
        for (ok, row) in &self.rows {
            println!("{} {row}", if *ok { "   " } else { ">>>" });
        }
        let missed: Vec<&str> = self.rows.iter().filter(|(ok, _)| !ok).map(|(_, row)| row.as_str()).collect();
        assert!(missed.is_empty(), "{} of {} missed:\n{}", missed.len(), self.rows.len(), missed.join("\n"));
    }
}
