//! The wedge study: what the overcurrent and the wedge element make of honest pieces and of wedges.
//!
//! ```text
//! wedge_study [--pieces N] [--wedges N] [--out DIR] | --small FILE
//! ```
//!
//! Two million pieces and two thousand wedges unless told otherwise: some twenty minutes on two processors. Prints
//! `docs/wedge.md`; `--out` writes it and its picture there. `--small` writes the figures that the acceptance test's small
//! study must give again. The same figures whatever the number of threads.

use anyhow::{Context as _, Result, bail};
use shaftwork_acceptance::wedge::page::study;
use shaftwork_acceptance::wedge::study::Size;
use std::fs;
use std::path::PathBuf;
use std::process::ExitCode;

fn main() -> Result<ExitCode> {
    let (mut size, mut out) = (Size::WHOLE, None);
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let value = words.next().with_context(|| format!("{word}: a value is missing"))?;
        let half = || value.parse::<u64>().map(|n| n.div_ceil(2)).with_context(|| format!("{word} {value}: no number"));
        match word.as_str() {
            "--pieces" => size.pieces = half()?,
            "--wedges" => size.wedges = half()?,
            "--out" => out = Some(PathBuf::from(&value)),
            "--small" => {
                fs::write(&value, study(Size::SMALL).figures())?;
                return Ok(ExitCode::SUCCESS);
            }
            _ => bail!("{word}: wanted --pieces N, --wedges N, --out DIR, --small FILE"),
        }
    }
    let found = study(size);
    let page = found.page();
    print!("{page}");
    if let Some(out) = out {
        fs::write(out.join("wedge.md"), &page)?;
        fs::write(out.join("wedge.svg"), found.picture())?;
    }
    Ok(ExitCode::SUCCESS)
}
