//! What is read and what will be written, known before anything is.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use super::{bits, outputs};
use crate::report::several;
use crate::{clash, cli, trace};

/// Every file that is read.
pub fn inputs(args: &cli::Replay) -> Vec<PathBuf> {
    args.traces.iter().flat_map(|trace| trace::files(trace)).chain([args.settings.clone()]).collect()
}

/// Every file that will be written, and the option that wants it.
pub fn targets(args: &cli::Replay, names: &[String]) -> Vec<(&'static str, PathBuf)> {
    let mut all = Vec::new();
    let mut folder = |option, folder: &Path, files: &[&str]| {
        all.extend(files.iter().map(|file| (option, folder.join(file))));
    };
    match (&args.out, names) {
        (Some(out), [_]) => folder("--out", out, &outputs::FILES),
        (Some(out), names) => {
            folder("--out", out, &[several::FILE]);
            for name in names {
                folder("--out", &out.join(name), &outputs::FILES);
            }
        }
        (None, _) => {}
    }
    if let Some(bits) = &args.bits {
        folder("--bits", bits, &bits::FILES);
    }
    all.extend(clash::json(args.json.as_deref()));
    all
}

/// A folder name for each trace: its stem, with a number where that is taken. Case does not tell names apart,
/// because it does not on every system.
pub fn own_names(traces: &[String]) -> Vec<String> {
    let mut taken = BTreeSet::from([several::FILE.to_owned()]);
    traces.iter().map(|trace| own_name(trace, &mut taken)).collect()
}

fn own_name(trace: &str, taken: &mut BTreeSet<String>) -> String {
    let stem = match Path::new(trace).file_stem() {
        _ if trace == "-" => "stdin".to_owned(),
        // Of `...csv` the stem is `..`, which is no name but a way out of the folder.
        None => "trace".to_owned(),
        Some(stem) if stem == "." || stem == ".." => "trace".to_owned(),
        Some(stem) => stem.to_string_lossy().into_owned(),
    };
    let mut name = stem.clone();
    let mut number = 1;
    while !taken.insert(name.to_lowercase()) {
        number += 1;
        name = format!("{stem}-{number}");
    }
    name
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn folders_do_not_clash_nor_lead_out() {
        let names = |traces: &[&str]| own_names(&traces.iter().map(ToString::to_string).collect::<Vec<_>>());
        let clashing = names(&["x/jam.cfg", "y/jam.csv", "JAM.csv", "-", "jam-2.csv", "summary.json.csv"]);
        assert_eq!(clashing, ["jam", "jam-2", "JAM-3", "stdin", "jam-2-2", "summary.json-2"]);
        assert_eq!(names(&["...csv", "x/..csv", "..", "trace.csv"]), ["trace", "trace-2", "trace-3", "trace-4"]);
    }
}
