//! Notes of a trace that begin or end a run.
//!
//! ```text
//! run: material=castings screen=25 batch=B7 mass_kg=310 feed_f80_mm=100 product_p80_mm=12
//! run: material='cast iron'       a value with blanks stands between quotation marks
//! run: feeder_pct=40             how fast the feeder ran, % of full speed: the steps of a step test
//! run end                         as does the next run, or the end of the trace
//! ```
//!
//! All of it may be left out but `run:`. Any other note is left alone.

use crate::settings::limits::{Limits, MASS_KG, SIZE_MM, SPEED_PCT};
use crate::settings::{About, sizes};

/// What a note says of runs.
#[derive(Debug, Clone, PartialEq)]
pub enum Said {
    /// A run begins.
    Begins(About),
    /// The run ends.
    Ends,
}

/// What is wrong with a note: what was found, what was wanted.
pub type Wrong = (String, String);

/// What a note says of runs; `None` for any other note.
pub fn read(note: &str) -> Option<Result<Said, Wrong>> {
    let words: Vec<&str> = note.split_whitespace().collect();
    let is = |word: Option<&&str>, wanted: &str| word.is_some_and(|word| word.eq_ignore_ascii_case(wanted));
    if words.len() == 2 && is(words.first(), "run") && is(words.last(), "end") {
        return Some(Ok(Said::Ends));
    }
    let note = note.trim_start();
    let rest = note.get(..4).filter(|head| head.eq_ignore_ascii_case("run:")).and_then(|_| note.get(4..))?;
    Some(begins(rest))
}

/// Whether a note begins with the word run, but says nothing that is read: a slip, or words for people.
pub fn nearly(note: &str) -> bool {
    let word = note.split_whitespace().next();
    word.is_some_and(|word| word.eq_ignore_ascii_case("run")) && read(note).is_none()
}

fn begins(rest: &str) -> Result<Said, Wrong> {
    const KEYS: &str = "material=, screen=, batch=, mass_kg=, feeder_pct=, feed_f80_mm=, product_p80_mm=";
    let words = shlex::split(rest)
        .ok_or_else(|| (rest.trim().to_owned(), "quotation marks in pairs: material='cast iron'".to_owned()))?;
    let mut about = About::default();
    let (mut f80_mm, mut p80_mm) = (None, None);
    for word in &words {
        let wrong = |wanted: &str| (word.clone(), wanted.to_owned());
        let (key, value) = word.split_once('=').ok_or_else(|| wrong(KEYS))?;
        let value = value.trim();
        if value.is_empty() {
            return Err(wrong("something after ="));
        }
        let number = |limits: &Limits| match value.parse::<f64>() {
            Ok(x) if limits.hold(x) => Ok(Some(x)),
            _ => Err((word.clone(), format!("a number, {limits}"))),
        };
        match key {
            "material" => about.material = Some(value.to_owned()),
            "screen" => about.screen = Some(value.to_owned()),
            "batch" => about.batch = Some(value.to_owned()),
            "mass_kg" => about.mass_kg = number(&MASS_KG)?,
            "feeder_pct" => about.feeder_pct = number(&SPEED_PCT)?,
            "feed_f80_mm" => f80_mm = number(&SIZE_MM)?,
            "product_p80_mm" => p80_mm = number(&SIZE_MM)?,
            _ => return Err(wrong(KEYS)),
        }
    }
    about.sizes = sizes(f80_mm, p80_mm).map_err(|wanted| (rest.trim().to_owned(), wanted.to_owned()))?;
    Ok(Said::Begins(about))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::Sizes;

    #[test]
    fn a_run_begins_and_ends() {
        let about = |note: &str| match read(note) {
            Some(Ok(Said::Begins(about))) => about,
            other => panic!("{note}: {other:?}"),
        };
        let full = about("run: material='cast iron' screen=25 mass_kg=310 batch=B7 feed_f80_mm=100 product_p80_mm=12");
        assert_eq!((full.material.as_deref(), full.screen.as_deref()), (Some("cast iron"), Some("25")));
        assert_eq!((full.batch.as_deref(), full.mass_kg), (Some("B7"), Some(310.0)));
        assert_eq!(full.sizes, Some(Sizes { f80_mm: 100.0, p80_mm: 12.0 }));
        assert_eq!(about("run: feeder_pct=40").feeder_pct, Some(40.0));
        assert_eq!(about("  Run:"), About::default());
        assert_eq!(read(" RUN  end "), Some(Ok(Said::Ends)));
    }

    #[test]
    fn other_notes_are_left_alone() {
        for note in
            ["", "runs well", "lump: cast iron", "run", "end of run", "run end of the shift", "rün: 3", "run 3: x"]
        {
            assert_eq!(read(note), None, "{note}");
        }
    }

    #[test]
    fn a_slip_is_seen() {
        for (note, slip) in [
            ("run material=copper", true),
            ("Run end of shift", true),
            ("run : batch=7", true),
            ("run: material=copper", false),
            ("run end", false),
            ("runs well", false),
            ("end of run", false),
            ("", false),
        ] {
            assert_eq!(nearly(note), slip, "{note}");
        }
    }

    #[test]
    fn what_cannot_be_read_is_told() {
        for (note, found, wanted) in [
            ("run: 3", "3", "material="),
            ("run: mass=310", "mass=310", "mass_kg="),
            ("run: mass_kg=310kg", "mass_kg=310kg", "a number, above 0"),
            ("run: mass_kg=nan", "mass_kg=nan", "a number, above 0"),
            ("run: mass_kg=0", "mass_kg=0", "above 0"),
            ("run: feeder_pct=101", "feeder_pct=101", "0 to 100"),
            ("run: material=", "material=", "something after ="),
            ("run: material='cast iron", "material='cast iron", "in pairs"),
            ("run: feed_f80_mm=10", "feed_f80_mm=10", "the product smaller"),
        ] {
            let Some(Err((f, w))) = read(note) else { panic!("{note}") };
            assert!(f == found && w.contains(wanted), "{note}: {f}, {w}");
        }
    }
}
