//! Where the core's instructions go: each one that the emulator runs within `ingest`, by the source file that it stands for.
//!
//! The emulator writes a line for every instruction when it is told to run them one by one. What the compiler put from one file into
//! another's function counts for the file that it was written in.

use std::collections::HashMap;
use std::io::{BufRead as _, BufReader};
use std::path::Path;
use std::process::Stdio;

use addr2line::Loader;
use anyhow::{Context, Result, anyhow, ensure};
use object::{Object, ObjectSymbol};

use crate::boards::CORTEX_M4;
use crate::emulator;
use crate::host::read;

/// Instructions of all calls of `ingest` in a run on the Cortex-M4: a source file of the core each, the dearest first.
pub fn of(image: &Path, folder: &Path, root: &Path) -> Result<Vec<(String, u64)>> {
    let entry = entry(image)?;
    let mut qemu = emulator::command_for(&CORTEX_M4, image, folder);
    let mut child = qemu
        .args(["-singlestep", "-d", "exec,nochain"])
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .context("the emulator")?;
    let log = child.stderr.take().context("the emulator's log")?;
    let mut counts: HashMap<u64, u64> = HashMap::new();
    // Where the call that is under way returns to, and the instruction before.
    let (mut back, mut before) = (None, 0);
    for line in BufReader::with_capacity(1 << 20, log).lines() {
        let Some(at) = address(&line?) else { continue };
        if back.is_none() && at == entry {
            back = Some(before + 4); // a call takes four bytes
        }
        if back == Some(at) {
            back = None;
        } else if back.is_some() {
            *counts.entry(at).or_default() += 1;
        }
        before = at;
    }
    ensure!(child.wait()?.success(), "the emulator failed when it ran instructions one by one");
    ensure!(!counts.is_empty(), "the emulator told of no instruction within `ingest`");
    by_file(image, root, &counts)
}

/// The address of `Monitor::ingest`, without the bit that says "Thumb".
fn entry(image: &Path) -> Result<u64> {
    let bytes = read(image)?;
    let file = object::File::parse(&*bytes).with_context(|| image.display().to_string())?;
    let found = file.symbols().find(|symbol| symbol.name().is_ok_and(|name| name.contains("monitor7Monitor6ingest")));
    Ok(found.context("the image has no `Monitor::ingest`")?.address() & !1)
}

/// The address in a line of the emulator's log: `Trace 0: 0x7f… [00000000/000018a4/00000110/ff000000]`.
fn address(line: &str) -> Option<u64> {
    let fields = line.strip_prefix("Trace ")?.split_once('[')?.1;
    u64::from_str_radix(fields.split('/').nth(1)?, 16).ok()
}

/// Sums by the innermost file of the core; the compiler's own functions together.
fn by_file(image: &Path, root: &Path, counts: &HashMap<u64, u64>) -> Result<Vec<(String, u64)>> {
    let loader = Loader::new(image).map_err(|error| anyhow!("{}: {error}", image.display()))?;
    let core = root.join("core/src");
    let core = core.to_str().context("the folder's name")?;
    let mut sums: HashMap<String, u64> = HashMap::new();
    for (at, count) in counts {
        let mut name = None;
        if let Ok(mut frames) = loader.find_frames(*at) {
            while let Ok(Some(frame)) = frames.next() {
                let file = frame.location.and_then(|location| location.file);
                name = name.or_else(|| Some(file?.strip_prefix(core)?.trim_start_matches('/').to_owned()));
            }
        }
        *sums.entry(name.unwrap_or_else(|| "the compiler's own".to_owned())).or_default() += count;
    }
    let mut all: Vec<_> = sums.into_iter().collect();
    all.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(&b.0)));
    Ok(all)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_the_emulators_log() {
        assert_eq!(address("Trace 0: 0x7f2d3c000100 [00000000/000018a4/00000110/ff000000] "), Some(0x18a4));
        assert_eq!(address("frames 8000"), None);
    }
}
