//! The command as a user types it: makes a trace, replays it with the settings that go with it.

use std::fs;
use std::path::Path;
use std::process::Command;

use anyhow::{Context as _, Result, bail};
use serde_json::Value;

/// The truth that `synth` wrote beside a trace, the text of its settings, and what `replay` found.
#[derive(Debug)]
pub struct Made {
    /// Of `synth`.
    pub truth: Value,
    /// TOML.
    pub settings: String,
    /// Of `replay`.
    pub replayed: Value,
}

/// Makes and replays a scenario in a folder; the trace is gone afterwards.
///
/// # Errors
/// The command ends otherwise than with status 0, or writes what cannot be read.
pub fn make(shaftwork: &Path, name: &str, seed: u64) -> Result<Made> {
    let folder = tempfile::tempdir().context("a folder for traces")?;
    let file = |ending: &str| folder.path().join(format!("{name}.{ending}"));
    let (trace, settings, json) = (file("cff"), file("settings.toml"), file("json"));
    shell(Command::new(shaftwork).args(["synth", name, "--seed", &seed.to_string(), "--out"]).arg(&trace))?;
    shell(Command::new(shaftwork).arg("replay").arg(&trace).arg("--settings").arg(&settings).arg("--json").arg(&json))?;
    let text = |path: &Path| fs::read_to_string(path).with_context(|| path.display().to_string());
    Ok(Made {
        truth: serde_json::from_str(&text(&file("truth.json"))?).context("the truth")?,
        settings: text(&settings)?,
        replayed: serde_json::from_str(&text(&json)?).context("what the replay wrote")?,
    })
}

fn shell(command: &mut Command) -> Result<()> {
    let out = command.output().with_context(|| format!("{} cannot be started", command.get_program().display()))?;
    if !out.status.success() {
        bail!("{command:?}: {}\n{}", out.status, String::from_utf8_lossy(&out.stderr));
    }
    Ok(())
}
