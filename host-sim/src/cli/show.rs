//! What a verb has to show: a text on standard output, the same as JSON where it is wanted.

use std::io::Write as _;
use std::path::Path;
use std::process::ExitCode;

use anyhow::Context as _;
use serde::Serialize;

use super::Info;
use crate::clash;
use crate::error::{Unshown, Usage};
use crate::progress::Progress;
use crate::trace;
use crate::whole;

/// Writes the document as JSON to `json` if that is given, and the text to standard output unless the JSON goes
/// there (`-`).
///
/// # Errors
/// Something cannot be written.
pub fn show(text: &str, document: &impl Serialize, json: Option<&Path>) -> anyhow::Result<()> {
    let Some(path) = json else { return print(text.as_bytes()) };
    let whole_text = serde_json::to_string_pretty(document).context("cannot make JSON of the result")? + "\n";
    if path == Path::new("-") {
        return print(whole_text.as_bytes());
    }
    whole::write(path, whole_text.as_bytes())?;
    print(text.as_bytes())
}

/// The same with a table as CSV, which takes the text's place where it goes to standard output.
///
/// # Errors
/// Something cannot be written.
pub fn show_table(
    text: &str,
    document: &impl Serialize,
    json: Option<&Path>,
    (csv, table): (Option<&Path>, &[u8]),
) -> anyhow::Result<()> {
    let mut text = text;
    match csv {
        Some(path) if path == Path::new("-") => {
            print(table)?;
            text = "";
        }
        Some(path) => whole::write(path, table)?,
        None => {}
    }
    show(text, document, json)
}

/// Refuses two outputs for the one standard output.
///
/// # Errors
/// In words, when both want it.
pub fn one_to_screen(json: Option<&Path>, csv: Option<&Path>) -> Result<(), Usage> {
    let screen = Some(Path::new("-"));
    if json == screen && csv == screen {
        return Err(Usage("--json and --csv cannot both go to standard output".to_owned()));
    }
    Ok(())
}

/// `info`: shows what a trace holds.
///
/// # Errors
/// It is no trace, or ends early and that is not accepted; or nothing can be written.
pub fn info(args: &Info) -> anyhow::Result<ExitCode> {
    clash::refuse(&trace::files(&args.trace), clash::json(args.json.as_deref()).as_slice())?;
    let mut progress = Progress::new(&args.trace);
    let info = trace::info::info(&args.trace, args.accept_short, &mut |read| progress.at(read))?;
    drop(progress);
    show(&info.to_string(), &info, args.json.as_deref())?;
    Ok(ExitCode::SUCCESS)
}

/// Writes to standard output; a reader that has left is none to complain to.
///
/// # Errors
/// It cannot be written.
pub fn print(bytes: &[u8]) -> anyhow::Result<()> {
    let mut out = std::io::stdout().lock();
    Ok(out.write_all(bytes).and_then(|()| out.flush()).map_err(Unshown)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_file_is_the_document() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("a.json");
        show("", &[1, 2], Some(&file)).unwrap();
        assert_eq!(serde_json::from_str::<Vec<u8>>(&std::fs::read_to_string(file).unwrap()).unwrap(), [1, 2]);
        assert!(show("", &[1], Some(folder.path())).is_err());
    }
}
