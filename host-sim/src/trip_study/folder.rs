//! The traces of a folder with their verdicts, in order of their names.

use std::path::{Path, PathBuf};

use super::verdict::{self, Verdict};
use crate::error::Fault;

/// Endings of traces; the samples of a record (.dat) go with its .cfg.
const ENDINGS: [&str; 3] = ["csv", "cfg", "cff"];
/// More traces are a folder that was not meant.
const MOST: usize = 10_000;

/// A trace of the folder.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// Its file's name.
    pub name: String,
    /// Where it lies.
    pub path: PathBuf,
    /// What it is known to hold.
    pub verdict: Verdict,
}

/// The traces with a verdict, sorted by name, and the names of those without.
///
/// # Errors
/// The folder cannot be read, holds no trace or none with a verdict, or a verdict is none.
pub fn traces(folder: &Path) -> Result<(Vec<Trace>, Vec<String>), Fault> {
    let shown = folder.display().to_string();
    let entries = std::fs::read_dir(folder).map_err(|error| match error.kind() {
        std::io::ErrorKind::NotADirectory => {
            Fault::new(&*shown, "is a file").wanted("a folder of traces").mend("name the folder that it lies in")
        }
        std::io::ErrorKind::NotFound => {
            Fault::new(&*shown, "there is no such folder").wanted("a folder of traces").mend("check the path")
        }
        _ => Fault::unreadable(&*shown, &error, "a folder of traces"),
    })?;
    let is_trace = |path: &Path| {
        path.extension().is_some_and(|found| ENDINGS.iter().any(|ending| found.eq_ignore_ascii_case(ending)))
    };
    let mut names: Vec<String> = entries
        .filter_map(Result::ok)
        .filter(|entry| entry.path().is_file() && is_trace(&entry.path()))
        .filter_map(|entry| entry.file_name().into_string().ok())
        .collect();
    names.sort();
    if names.is_empty() || names.len() > MOST {
        let found = if names.is_empty() { "no trace is in it".to_owned() } else { format!("{} traces", names.len()) };
        return Err(Fault::new(shown, found)
            .wanted("traces: .csv, .cff, or .cfg with .dat beside it")
            .mend("name the folder that holds them"));
    }
    let told = verdict::file(folder, &names)?;
    let (mut traces, mut without) = (Vec::new(), Vec::new());
    for name in names {
        let path = folder.join(&name);
        let listed = told.iter().find(|(of, _)| *of == name).map(|(_, verdict)| *verdict);
        let own = if name.to_ascii_lowercase().ends_with(".csv") { verdict::comment(&path)? } else { None };
        if let (Some(listed), Some(own)) = (listed, own)
            && listed != own
        {
            return Err(Fault::new(path.display().to_string(), format!("its own verdict is \"{own}\""))
                .wanted(format!("\"{listed}\", as {} has it", verdict::FILE))
                .mend("correct one of the two"));
        }
        match listed.or(own) {
            Some(verdict) => traces.push(Trace { name, path, verdict }),
            None => without.push(name),
        }
    }
    if traces.is_empty() {
        let first = without.first().map_or("", String::as_str);
        return Err(Fault::new(shown, "no trace of it has a verdict")
            .wanted(format!("{} in it, or a comment in each CSV trace", verdict::FILE))
            .mend(format!(
                "write into {}: \"{first}\" = \"jam at 25.4 s\" or \"honest\"; into CSV: # verdict = honest",
                verdict::FILE
            )));
    }
    Ok((traces, without))
}

/// Which traces a setting is chosen on: of jams and of honest ones every second by name, the first among them.
pub fn chosen_on(traces: &[Trace]) -> Vec<bool> {
    let mut seen = [0usize; 2];
    let mut turn = |trace: &Trace| {
        let seen = &mut seen[usize::from(trace.verdict == Verdict::Honest)];
        *seen += 1;
        *seen % 2 == 1
    };
    traces.iter().map(&mut turn).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder(files: &[(&str, &str)]) -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        for (name, text) in files {
            std::fs::write(folder.path().join(name), text).unwrap();
        }
        folder
    }

    #[test]
    fn traces_come_by_name_with_their_verdicts() {
        let folder = folder(&[
            ("b.cfg", ""),
            ("b.dat", ""),
            ("a.csv", "# verdict = honest\n"),
            ("c.csv", "t_s\n"),
            ("notes.txt", ""),
            ("verdicts.toml", "b = \"jam at 2 s\"\na = \"honest\""),
        ]);
        let (all, without) = traces(folder.path()).unwrap();
        let all: Vec<_> = all.iter().map(|trace| (trace.name.as_str(), trace.verdict)).collect();
        assert_eq!(all, [("a.csv", Verdict::Honest), ("b.cfg", Verdict::Jam(2.0))]);
        assert_eq!(without, ["c.csv"]);
    }

    #[test]
    fn what_is_no_folder_of_traces_is_refused() {
        for (files, part) in [
            (&[("a.txt", "")][..], "no trace is in it"),
            (&[("a.csv", "t_s\n")], "\"a.csv\" = \"jam at 25.4 s\""),
            (&[("a.csv", "# verdict = honest\n"), ("verdicts.toml", "a = \"jam at 1 s\"")], "as verdicts.toml has it"),
        ] {
            let fault = traces(folder(files).path()).unwrap_err().to_string();
            assert!(fault.contains(part) && fault.contains("to mend it"), "{fault}");
        }
        let file = folder(&[("a.csv", "")]);
        for (name, part) in [("a.csv", "is a file"), ("none", "no such folder")] {
            let fault = traces(&file.path().join(name)).unwrap_err().to_string();
            assert!(fault.contains(part), "{fault}");
        }
    }

    #[test]
    fn every_second_of_each_verdict() {
        let trace = |verdict| Trace { name: String::new(), path: PathBuf::new(), verdict };
        let (jam, honest) = (trace(Verdict::Jam(1.0)), trace(Verdict::Honest));
        let all = [&jam, &honest, &honest, &jam, &jam, &honest].map(Clone::clone);
        assert_eq!(chosen_on(&all), [true, true, false, false, true, true]);
    }
}
