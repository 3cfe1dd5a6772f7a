//! A row of the page: a figure, true and replayed, with its bound and a verdict.

use std::fmt;

/// What comes of a row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Verdict {
    /// Inside its bound.
    Inside,
    /// Outside its bound, without a reason that is known.
    Outside,
    /// Outside its bound, and known to be, for the reason given.
    Known(&'static str),
    /// Not to be compared in this scenario, for the reason given.
    None(&'static str),
}

/// A figure of a scenario.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Which figure, with its unit.
    pub figure: &'static str,
    /// What the model knows.
    pub truth: String,
    /// What the replay says.
    pub replayed: String,
    /// How far they are apart.
    pub difference: String,
    /// The same as a number, in the bound's unit; none where nothing is told.
    pub off: Option<f64>,
    /// How far they may be.
    pub bound: String,
    /// Whether they are.
    pub verdict: Verdict,
}

impl Row {
    /// A figure whose difference is a share of something, in per cent.
    #[must_use]
    pub fn share(
        figure: &'static str,
        truth: f64,
        replayed: Option<f64>,
        of: f64,
        bound_pct: f64,
        words: &str,
    ) -> Self {
        Self::within(
            figure,
            truth,
            replayed,
            100.0 / of,
            [-bound_pct, bound_pct],
            &format!("{bound_pct} {words}"),
            " %",
        )
    }

    /// A figure whose difference, times a factor, must lie in a span.
    #[must_use]
    pub fn within(
        figure: &'static str,
        truth: f64,
        replayed: Option<f64>,
        factor: f64,
        span: [f64; 2],
        bound: &str,
        unit: &str,
    ) -> Self {
        let off = replayed.map(|replayed| (replayed - truth) * factor);
        let inside = off.is_some_and(|off| (span[0]..=span[1]).contains(&off));
        Self {
            figure,
            truth: number(truth),
            replayed: replayed.map_or_else(|| "null".to_owned(), number),
            difference: off.map_or_else(String::new, |off| format!("{off:+.3}{unit}")),
            off,
            bound: bound.to_owned(),
            verdict: if inside { Verdict::Inside } else { Verdict::Outside },
        }
    }

    /// Something that is so or is not.
    #[must_use]
    pub fn fact(figure: &'static str, truth: impl Into<String>, replayed: impl Into<String>, right: bool) -> Self {
        Self {
            figure,
            truth: truth.into(),
            replayed: replayed.into(),
            difference: String::new(),
            off: None,
            bound: String::new(),
            verdict: if right { Verdict::Inside } else { Verdict::Outside },
        }
    }

    /// A figure that is not compared; what it says instead must be right all the same.
    #[must_use]
    pub fn without(figure: &'static str, why: &'static str, replayed: impl Into<String>, right: bool) -> Self {
        let verdict = if right { Verdict::None(why) } else { Verdict::Outside };
        Self { verdict, ..Self::fact(figure, "-", replayed, right) }
    }
}

impl fmt::Display for Row {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { figure, truth, replayed, difference, bound, verdict, .. } = self;
        let verdict = match verdict {
            Verdict::Inside => "inside".to_owned(),
            Verdict::Outside => "**OUTSIDE**".to_owned(),
            Verdict::Known(_) => "**outside**, see below".to_owned(),
            Verdict::None(why) => format!("not compared: {why}"),
        };
        write!(f, "| {figure} | {truth} | {replayed} | {difference} | {bound} | {verdict} |")
    }
}

/// Five digits.
fn number(x: f64) -> String {
    let whole = x.abs().max(1.0).log10().floor() as usize;
    format!("{x:.*}", 4_usize.saturating_sub(whole))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_is_judged_by_its_bound() {
        let row = |replayed| Row::share("shaft energy kWh", 2.0, replayed, 2.0, 1.0, "%").verdict;
        assert_eq!(row(Some(2.019)), Verdict::Inside);
        assert_eq!(row(Some(2.021)), Verdict::Outside);
        assert_eq!(row(Some(1.979)), Verdict::Outside);
        assert_eq!(row(Some(f64::NAN)), Verdict::Outside);
        assert_eq!(row(None), Verdict::Outside);
    }

    #[test]
    fn numbers_have_five_digits() {
        assert_eq!(
            [0.01234, 9.87654, 123.456, 54321.0, -2.0].map(number),
            ["0.0123", "9.8765", "123.46", "54321", "-2.0000"]
        );
    }
}
