//! Places in a text, and names that are nearly right.

use std::ops::Range;

/// Where each line of a text begins.
pub(crate) struct Lines(Vec<usize>);

impl Lines {
    /// Finds the lines of a text.
    pub(crate) fn new(text: &str) -> Self {
        Self(std::iter::once(0).chain(text.match_indices('\n').map(|(at, _)| at + 1)).collect())
    }

    /// The line of a byte offset, from 1.
    pub(crate) fn line(&self, offset: usize) -> usize {
        self.0.partition_point(|start| *start <= offset).max(1)
    }

    /// The column of a byte offset in characters, from 1.
    pub(crate) fn column(&self, text: &str, offset: usize) -> usize {
        let start = self.0[self.line(offset) - 1];
        text.get(start..offset).map_or(1, |before| before.chars().count() + 1)
    }

    /// `line 12, column 3, key trip.jam.delay_s`; past the end of the text only the key.
    pub(crate) fn place(&self, text: &str, offset: usize, key: &str) -> String {
        let key = excerpt(key, 0..key.len());
        if offset >= text.len() {
            return format!("key {key}");
        }
        format!("line {}, column {}, key {key}", self.line(offset), self.column(text, offset))
    }
}

/// What stands in a text at a span, on one line and no longer than a message can bear.
pub(crate) fn excerpt(text: &str, span: Range<usize>) -> String {
    const LONGEST: usize = 40;
    let whole = text.get(span).unwrap_or_default();
    let line: String = whole.split_whitespace().collect::<Vec<_>>().join(" ");
    if line.chars().count() <= LONGEST {
        return line;
    }
    let head: String = line.chars().take(LONGEST).collect();
    format!("{head} ...")
}

/// The name that a misspelt one most likely stands for: at most one change in three letters away.
pub(crate) fn nearest<'n>(name: &str, known: impl Iterator<Item = &'n str>) -> Option<&'n str> {
    // A name of absurd length is no misspelling, and the distance costs the product of both lengths.
    if name.len() > 64 {
        return None;
    }
    let (distance, near) =
        known.map(|k| (strsim::osa_distance(&name.to_lowercase(), k), k)).min_by_key(|(distance, _)| *distance)?;
    (distance * 3 <= near.chars().count().max(3)).then_some(near)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_and_columns_count_from_one() {
        let text = "a\nbé = 1\n";
        let lines = Lines::new(text);
        assert_eq!((lines.line(0), lines.line(1), lines.line(2)), (1, 1, 2));
        assert_eq!(lines.column(text, 5), 3); // after "bé", three bytes
        assert_eq!(lines.place(text, 0, "x"), "line 1, column 1, key x");
        assert_eq!(lines.place(text, text.len(), "x"), "key x");
        assert_eq!(Lines::new("").line(0), 1);
    }

    #[test]
    fn a_long_value_is_cut() {
        assert_eq!(excerpt("[1,\n  2]", 0..8), "[1, 2]");
        assert!(excerpt(&"x".repeat(100), 0..100).len() < 50);
        assert_eq!(excerpt("abc", 2..9), "");
    }

    #[test]
    fn near_names_are_found_and_far_ones_are_not() {
        let known = ["delay_s", "pickup_pct", "enabled"];
        assert_eq!(nearest("delay", known.into_iter()), Some("delay_s"));
        assert_eq!(nearest("pick_up_pct", known.into_iter()), Some("pickup_pct"));
        assert_eq!(nearest("Enabled", known.into_iter()), Some("enabled"));
        assert_eq!(nearest("colour", known.into_iter()), None);
        assert_eq!(nearest("x", std::iter::empty()), None);
    }
}
