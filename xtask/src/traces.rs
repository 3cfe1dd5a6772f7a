//! Which traces a step replays.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};

use crate::place::Place;

/// A trace and its settings; or a scenario, of which core and plant make the trace in a closed loop.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Trace {
    /// The trace; a scenario ends in `.toml`.
    pub file: PathBuf,
    /// Its settings.
    pub settings: PathBuf,
}

impl Trace {
    /// A trace as a person names it, from the folder where the step is run.
    pub fn new(file: PathBuf, settings: PathBuf) -> Self {
        let full = |path: PathBuf| std::path::absolute(&path).unwrap_or(path);
        Self { file: full(file), settings: full(settings) }
    }

    /// Whether it is a scenario that is run in a closed loop.
    pub fn closed(&self) -> bool {
        self.file.extension().is_some_and(|kind| kind == "toml")
    }

    /// A short name: the file's, or its folder's where every file is called "trace".
    pub fn name(&self) -> String {
        let stem = self.file.file_stem().unwrap_or_default();
        let parent = self.file.parent().and_then(Path::file_name).unwrap_or_default();
        (if stem == "trace" { parent } else { stem }).to_string_lossy().into_owned()
    }
}

/// All traces under tests/traces: NAME.csv, .cfg or .cff with NAME.toml or settings.toml beside it. And the scenarios under
/// tests/closed: NAME.toml with NAME.settings.toml.
pub fn committed(place: &Place) -> Result<Vec<Trace>> {
    let folder = place.root.join("tests/traces");
    let mut traces = Vec::new();
    collect(&folder, &mut traces)?;
    traces.sort();
    if traces.is_empty() {
        bail!("no trace with settings under {}", place.short(&folder));
    }
    let mut scenarios = scenarios(&place.root.join("tests/closed"))?;
    scenarios.sort();
    traces.append(&mut scenarios);
    Ok(traces)
}

fn scenarios(folder: &Path) -> Result<Vec<Trace>> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).with_context(|| folder.display().to_string())? {
        let file = entry?.path();
        let settings = file.with_extension("settings.toml");
        if settings.is_file() {
            found.push(Trace { file, settings });
        }
    }
    Ok(found)
}

fn collect(folder: &Path, traces: &mut Vec<Trace>) -> Result<()> {
    for entry in fs::read_dir(folder).with_context(|| folder.display().to_string())? {
        let file = entry?.path();
        if file.is_dir() {
            collect(&file, traces)?;
            continue;
        }
        if !file.extension().is_some_and(|kind| ["csv", "cfg", "cff"].iter().any(|wanted| kind == *wanted)) {
            continue;
        }
        // Files without settings are there for other tests.
        let beside = [file.with_extension("toml"), folder.join("settings.toml")];
        if let Some(settings) = beside.into_iter().find(|path| path.is_file()) {
            traces.push(Trace { file, settings });
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_trace_called_trace_is_named_after_its_folder() {
        let named = |file: &str| Trace::new(file.into(), "s.toml".into()).name();
        assert_eq!(named("cases/jam/trace.cfg"), "jam");
        assert_eq!(named("traces/start.csv"), "start");
    }
}
