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

use crate::clash;
use crate::cli::TripStudy;
use crate::cli::show;
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
    show::one_to_screen(args.json.as_deref(), args.csv.as_deref())?;
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
    let settings = table::settings(&found)?;
    if let Some(folder) = &args.out {
        whole::folder(folder)?;
        whole::write(&folder.join(PAGE), page::html(&found)?.as_bytes())?;
        whole::write(&folder.join(SETTINGS), &settings)?;
        whole::write(&folder.join(DECISIONS), &table::decisions(&found)?)?;
    }
    let text = words::text(&found, args.out.as_deref());
    show::show_table(&text, &document::json(&found), args.json.as_deref(), (args.csv.as_deref(), &settings))?;
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
