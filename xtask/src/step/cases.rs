//! What happens in each trace of the collection with known truth, held against golden text: where it lies beside the repository.
//!
//! One event a line: seconds to a hundredth, event, cause, and what came before it.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context as _, Result, bail, ensure};
use serde_json::Value;

use super::score;
use crate::cli::Context;
use crate::host;
use crate::run::{BUILD_LIMIT, capture, command, show};

const GOLDEN: &str = "tests/golden/cases";
const CURE: &str = "look for the change that made it another, and if it is wanted run 'cargo xtask cases --write'";

/// Replays all; compares with the golden texts, or writes them.
pub fn run(context: &Context, write: bool) -> Result<String> {
    let Some(collection) = score::collection(context) else {
        return Ok("cases: no collection beside the repository, nothing to replay".to_owned());
    };
    let program = host::build(context)?;
    let golden = context.place.root.join(GOLDEN);
    let mut found = BTreeMap::new();
    for trace in traces(&collection)? {
        let mut replay = command(&program, &context.place.root);
        replay.arg("replay").arg(&trace).arg("--settings").arg(trace.with_file_name("settings.toml"));
        replay.args(["--json", "-"]);
        let what = show(&replay);
        let json = capture(replay, BUILD_LIMIT)?.wanted(&what)?;
        let folder = trace.parent().and_then(Path::file_name).unwrap_or_default();
        let file = format!("{}.txt", folder.to_string_lossy());
        found.insert(file, lines(&serde_json::from_str(&json).with_context(|| what.clone())?).context(what)?);
    }
    ensure!(!found.is_empty(), "no trace with settings in {}", collection.display());
    if write {
        fs::create_dir_all(&golden).with_context(|| golden.display().to_string())?;
        for (file, text) in &found {
            fs::write(golden.join(file), text).with_context(|| file.clone())?;
        }
        return Ok(format!("cases: {} texts are written to {GOLDEN}", found.len()));
    }
    for (file, text) in &found {
        let path = golden.join(file);
        let kept = fs::read_to_string(&path).with_context(|| format!("{}: {CURE}", path.display()))?;
        differs(&kept, text).map_or(Ok(()), |line| bail!("{GOLDEN}/{file}, {line}: {CURE}"))?;
    }
    for entry in fs::read_dir(&golden).with_context(|| golden.display().to_string())? {
        let file = entry?.file_name().to_string_lossy().into_owned();
        ensure!(found.contains_key(&file), "{GOLDEN}/{file} belongs to no case of {}", collection.display());
    }
    Ok(format!("cases: the events of {} are those of {GOLDEN}", found.len()))
}

/// The traces, in order of their folders.
fn traces(collection: &Path) -> Result<Vec<PathBuf>> {
    let mut all = Vec::new();
    for entry in fs::read_dir(collection).with_context(|| collection.display().to_string())? {
        let folder = entry?.path();
        let files = ["trace.csv", "trace.cfg", "trace.cff"].map(|name| folder.join(name));
        all.extend(files.into_iter().filter(|file| file.is_file()));
    }
    all.sort();
    Ok(all)
}

/// One event a line.
fn lines(report: &Value) -> Result<String> {
    let events = report["events"].as_array().context("there are no events in the report")?;
    let line = |event: &Value| {
        let t_s = event["t_s"].as_f64().context("an event without a time")?;
        let words = [&event["event"], &event["cause"], &event["what"]].map(Value::as_str);
        let words: Vec<&str> = words.into_iter().flatten().collect();
        let account = event["account"]["words"].as_str().map(|words| format!("; {words}")).unwrap_or_default();
        Ok(format!("{t_s:.2} {}{account}\n", words.join(" ")))
    };
    events.iter().map(line).collect()
}

/// The first line in which two texts differ.
fn differs(kept: &str, found: &str) -> Option<String> {
    let (mut kept, mut found) = (kept.lines(), found.lines());
    for number in 1.. {
        let (kept, found) = match (kept.next(), found.next()) {
            (None, None) => return None,
            (kept, found) if kept == found => continue,
            (kept, found) => (kept.unwrap_or("no more"), found.unwrap_or("no more")),
        };
        return Some(format!("line {number}: found '{found}', kept '{kept}'"));
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_event_a_line_with_what_came_before_it() {
        let report = serde_json::json!({ "events": [
            { "t_s": 2.0, "event": "start", "duration_s": 3.5 },
            { "t_s": 25.904, "event": "trip", "cause": "jam", "account": { "words": "power jumped" } },
            { "t_s": 26.0, "event": "warning", "what": "clipped" },
        ] });
        let wanted = "2.00 start\n25.90 trip jam; power jumped\n26.00 warning clipped\n";
        assert_eq!(lines(&report).unwrap(), wanted);
        assert!(lines(&serde_json::json!({})).is_err());
    }

    #[test]
    fn the_first_line_that_differs_is_told() {
        assert_eq!(differs("a\nb\n", "a\nb\n"), None);
        assert_eq!(differs("a\nb\n", "a\nc\n").unwrap(), "line 2: found 'c', kept 'b'");
        assert_eq!(differs("a\n", "a\nb\n").unwrap(), "line 2: found 'b', kept 'no more'");
        assert_eq!(differs("a\nb\n", "a\n").unwrap(), "line 2: found 'no more', kept 'b'");
    }
}
