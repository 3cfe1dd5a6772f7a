//! Runs: parts of a trace with what was broken in them, `[[run]]`.

use super::limits;
use super::raw::Table;
use super::validate::Findings;

/// What is known of a run besides its limits.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct About {
    /// The batch it belongs to.
    pub batch: Option<String>,
    /// What was broken.
    pub material: Option<String>,
    /// The screen in the mill, as the yard calls it.
    pub screen: Option<String>,
    /// Its mass, weighed apart, kg.
    pub mass_kg: Option<f64>,
    /// How fast the feeder ran, % of full speed.
    pub feeder_pct: Option<f64>,
    /// 80 % of the feed and of the product are smaller than this, mm; both or neither.
    pub sizes: Option<Sizes>,
}

/// Sizes that 80 % of the mass fall below, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sizes {
    /// Of the feed.
    pub f80_mm: f64,
    /// Of the product.
    pub p80_mm: f64,
}

/// A run in the settings.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Run {
    /// Its begin, s from the start of the trace.
    pub from_s: f64,
    /// Its end; `None`: the trace's.
    pub to_s: Option<f64>,
    /// What is known of it.
    pub about: About,
}

/// The most runs of a trace: a shift has fewer.
pub const MOST_RUNS: usize = 1_000;

/// What the sizes of a run must be.
pub const SIZES_WANTED: &str = "feed_f80_mm and product_p80_mm, the product smaller than the feed";

/// The sizes as far as they make sense together.
///
/// # Errors
/// What is wanted, where they do not.
pub fn sizes(f80_mm: Option<f64>, p80_mm: Option<f64>) -> Result<Option<Sizes>, &'static str> {
    match (f80_mm, p80_mm) {
        (None, None) => Ok(None),
        (Some(f80_mm), Some(p80_mm)) if p80_mm < f80_mm => Ok(Some(Sizes { f80_mm, p80_mm })),
        _ => Err(SIZES_WANTED),
    }
}

/// Reads a `[[run]]`.
pub(super) fn read(t: &mut Table<'_>) -> Run {
    let from_s = t.number("from_s", &limits::TRACE_S).unwrap_or(0.0);
    let to_s = t.number("to_s", &limits::TRACE_S);
    if to_s.is_some_and(|to_s| to_s <= from_s) {
        t.reject("to_s", format!("more than from_s, {from_s} s"), "");
    }
    let [batch, material, screen] = ["batch", "material", "screen"].map(|key| t.text(key));
    let mass_kg = t.number("mass_kg", &limits::MASS_KG);
    let feeder_pct = t.number("feeder_pct", &limits::SPEED_PCT);
    let [f80_mm, p80_mm] = ["feed_f80_mm", "product_p80_mm"].map(|key| t.number(key, &limits::SIZE_MM));
    let sizes = sizes(f80_mm, p80_mm).unwrap_or_else(|wanted| {
        t.reject(if p80_mm.is_some() { "product_p80_mm" } else { "feed_f80_mm" }, wanted, "");
        None
    });
    Run { from_s, to_s, about: About { batch, material, screen, mass_kg, feeder_pct, sizes } }
}

/// Two runs at once would count the same energy twice.
pub(super) fn check(runs: &[Run], findings: &mut Findings<'_>) {
    let mut order: Vec<(usize, &Run)> = runs.iter().enumerate().collect();
    order.sort_by(|a, b| a.1.from_s.total_cmp(&b.1.from_s));
    for pair in order.windows(2) {
        let [(first, before), (second, after)] = *pair else { continue };
        if before.to_s.is_none_or(|to_s| to_s > after.from_s) {
            let ends = before.to_s.map_or("has no end".to_owned(), |to_s| format!("ends at {to_s} s"));
            let found = format!("{} s, but run {} {ends}", after.from_s, first + 1);
            findings.fault(&format!("run[{}].from_s", second + 1), found, "runs that do not overlap".to_owned());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{faults, good, parsed};
    use super::*;

    fn with(lines: &str) -> String {
        format!("{}\n{lines}\n", good())
    }

    #[test]
    fn runs_are_read_in_the_order_of_the_file() {
        let text = "[[run]]\nfrom_s = 20\nmaterial = \"castings\"\nscreen = \"25 mm\"\nbatch = \"B1\"\n\
                    [[run]]\nto_s = 20\nmass_kg = 310\nfeeder_pct = 40\nfeed_f80_mm = 100\nproduct_p80_mm = 12";
        let runs = parsed(&with(text)).0.runs;
        assert_eq!((runs.len(), runs[0].from_s, runs[0].to_s), (2, 20.0, None));
        assert_eq!(runs[0].about.material.as_deref(), Some("castings"));
        assert_eq!((runs[1].from_s, runs[1].about.mass_kg), (0.0, Some(310.0)));
        assert_eq!((runs[0].about.feeder_pct, runs[1].about.feeder_pct), (None, Some(40.0)));
        assert_eq!(runs[1].about.sizes, Some(Sizes { f80_mm: 100.0, p80_mm: 12.0 }));
    }

    #[test]
    fn what_cannot_be_is_told_with_place_and_cure() {
        for (lines, parts) in [
            ("[[run]]\nto_s = 10\n[[run]]\nfrom_s = 9.5", ["run[2].from_s: 9.5 s, but run 1 ends at 10 s", "overlap"]),
            ("[[run]]\nfrom_s = 1\n[[run]]\nfrom_s = 5", ["line 41, key run[2].from_s: 5 s, but run 1 has no end", ""]),
            ("[[run]]\nfrom_s = 5\nto_s = 5", ["run[1].to_s: 5", "more than from_s, 5 s"]),
            ("[[run]]\nfeeder_pct = 101", ["run[1].feeder_pct: 101", "0 to 100"]),
            ("[[run]]\nmass_kg = 0", ["run[1].mass_kg: 0", "above 0"]),
            ("[[run]]\nfeed_f80_mm = 10", ["run[1].feed_f80_mm: 10", "the product smaller"]),
            ("[[run]]\nfeed_f80_mm = 10\nproduct_p80_mm = 10", ["run[1].product_p80_mm: 10", "the product smaller"]),
            ("[[run]]\nmas_kg = 1", ["this key is not known", "did you mean mass_kg?"]),
            ("[run]\nfrom_s = 1", ["key run: ", "[[run]] on a line of its own"]),
            ("[[run]]\n[mill2]\nscreen = \"3\"", ["this table is not known", ""]),
            ("run = 1", ["not known", ""]),
        ] {
            let all = faults(&with(lines));
            assert_eq!(all.len(), 1, "{lines}: {all:?}");
            for part in parts {
                assert!(all[0].to_string().contains(part), "{part}: {}", all[0]);
            }
        }
        let misplaced = faults(&format!("{}\nscreen = \"3\"\n[[run]]\n", good()));
        assert!(misplaced[0].to_string().contains("screen belongs under [[run]]"), "{}", misplaced[0]);
    }
}
