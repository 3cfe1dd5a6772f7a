//! The verb `trip-study`: every trace of a folder under every setting, so that the next jam is caught early and honest lumps are left alone.
//!
//! ```text
//! folder: traces, verdicts ─ records: frames -> core's meter, once a trace ─┐ kept in a cache
//! vary: values -> candidates: settings -> core's coefficients ──────────────┤
//!                                                decided: core's judge, each trace x each setting
//!                                                                           └─ score: caught, late, missed, false;
//!                                                    time, margin; front; the one to recommend ─ words, JSON, CSV, page
//! ```
//!
//! A setting is chosen on every second trace and shown on the others. What is decided is decided by the core alone.

mod bar;
pub mod built;
pub mod cache;
pub mod candidates;
mod course;
pub mod decided;
mod document;
pub mod folder;
mod found;
mod idle;
mod page;
pub mod records;
pub mod score;
mod study;
mod table;
#[cfg(test)]
mod tests;
pub mod touchier;
pub mod vary;
pub mod verdict;
mod words;

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::Context as _;

use crate::clash;
use crate::cli::TripStudy;
use crate::cli::show::print;
use crate::error::Usage;
use crate::trace;
use crate::whole;
use candidates::Candidates;
pub use found::{Found, PART_NAMES, Studied};
use score::Rules;
pub use study::{Order, study};

/// Studies; prints a table, writes page, JSON and CSV where they are wanted.
///
/// # Errors
/// A trace, the settings or the vary file are at fault, or an output cannot be written.
pub fn run(args: &TripStudy) -> anyhow::Result<ExitCode> {
    if [&args.json, &args.csv].into_iter().filter(|path| path.as_deref() == Some(Path::new("-"))).count() > 1 {
        return Err(Usage("--json and --csv cannot both go to standard output".to_owned()).into());
    }
    let (traces, without) = folder::traces(&args.folder)?;
    if args.csv.as_deref().is_some_and(|csv| clash::lies_in(csv, &args.folder)) {
        let words = "--csv is in the folder of the traces, and would be taken for one the next time\n  to mend it: write it elsewhere";
        return Err(Usage(words.to_owned()).into());
    }
    if args.out.as_deref().is_some_and(|out| clash::lies_in(&out.join(PAGE), &args.folder)) {
        let words = "--out is the folder of the traces, whose tables would be taken for traces the next time\n  to mend it: give --out another folder";
        return Err(Usage(words.to_owned()).into());
    }
    let mut inputs: Vec<PathBuf> = traces.iter().flat_map(|t| trace::files(&t.path.display().to_string())).collect();
    inputs.extend([args.settings.clone(), args.vary.clone(), args.folder.join(verdict::FILE)]);
    let files = args.out.as_deref().map_or_else(Vec::new, outputs);
    let named = [("--json", &args.json), ("--csv", &args.csv)];
    let named = named.into_iter().filter_map(|(option, path)| Some((option, path.clone()?)));
    clash::refuse(&inputs, &named.chain(files).collect::<Vec<_>>())?;
    let candidates = Candidates::load(&args.settings, &args.vary)?;
    let found = study(order(args), traces, &without, candidates)?;
    if let Some(folder) = &args.out {
        whole::folder(folder)?;
        whole::write(&folder.join(PAGE), page::html(&found)?.as_bytes())?;
        whole::write(&folder.join(SETTINGS), &table::settings(&found)?)?;
        whole::write(&folder.join(DECISIONS), &table::decisions(&found)?)?;
    }
    let mut shown = true;
    if let Some(path) = &args.csv {
        shown &= put(path, &table::settings(&found)?)?;
    }
    if let Some(path) = &args.json {
        let text =
            serde_json::to_string_pretty(&document::json(&found)).context("cannot make JSON of the result")? + "\n";
        shown &= put(path, text.as_bytes())?;
    }
    if shown {
        print(words::text(&found, args.out.as_deref()).as_bytes())?;
    }
    Ok(ExitCode::SUCCESS)
}

/// What the command line asks for.
fn order(args: &TripStudy) -> Order {
    Order {
        folder: args.folder.display().to_string(),
        rules: Rules { early_s: args.early_s, allowed_s: args.allowed_s, margin: args.margin_pct / 100.0 },
        accept_short: args.accept_short,
        records: args.out.as_ref().map(|out| out.join(RECORDS)),
    }
}

/// Folder of metered records below the output's.
const RECORDS: &str = "records";
/// The page, every setting, every decision.
const PAGE: &str = "study.html";
const SETTINGS: &str = "settings.csv";
const DECISIONS: &str = "decisions.csv";

fn outputs(folder: &Path) -> Vec<(&'static str, PathBuf)> {
    [PAGE, SETTINGS, DECISIONS].map(|name| ("--out", folder.join(name))).to_vec()
}

/// Writes a file, or to standard output; whether there is room there for the table yet.
fn put(path: &Path, bytes: &[u8]) -> anyhow::Result<bool> {
    if path == Path::new("-") {
        print(bytes)?;
        return Ok(false);
    }
    whole::write(path, bytes)?;
    Ok(true)
}
