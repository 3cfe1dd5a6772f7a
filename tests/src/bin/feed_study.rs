//! The feed study: the best fixed speed of a feeder against the governor.
//!
//! ```text
//! feed_study [--tries N] [--hours N] [--full N] [--out DIR]
//! ```
//!
//! Twenty-four tuning hours for every way, two hundred hours of results for each policy, ten on the full plant unless told otherwise: some twenty
//! minutes on two processors. Prints `docs/feed.md`; `--out` writes it and its picture there. The same figures whatever the number
//! of threads.

use anyhow::{Context as _, Result, bail};
use shaftwork_acceptance::feed::study::{Size, study};
use std::fs;
use std::path::PathBuf;

fn main() -> Result<()> {
    let (mut size, mut out) = (Size::WHOLE, None);
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let value = words.next().with_context(|| format!("{word}: a value is missing"))?;
        let number = || value.parse::<u64>().with_context(|| format!("{word} {value}: no number"));
        match word.as_str() {
            "--tries" => size.tries = number()?,
            "--hours" => size.hours = number()?,
            "--full" => size.full = number()?,
            "--out" => out = Some(PathBuf::from(&value)),
            _ => bail!("{word}: wanted --tries N, --hours N, --full N, --out DIR"),
        }
    }
    let found = study(size, |where_| eprintln!("{where_}"));
    let page = found.page();
    print!("{page}");
    if let Some(out) = out {
        fs::write(out.join("feed.md"), &page)?;
        fs::write(out.join("feed.svg"), found.picture())?;
    }
    Ok(())
}
