//! Any bytes at all through each of the parsers, with `cargo fuzz` (install it with `cargo install cargo-fuzz`).

use std::path::Path;
use std::time::Duration;

use anyhow::{Result, ensure};

use crate::cli::Context;
use crate::run::{BUILD_LIMIT, cargo, passes};

/// The targets; each is a function of `fuzz/src/lib.rs`.
pub const TARGETS: [&str; 8] = ["csv", "cfg", "dat", "cff", "settings", "intervals", "sheets", "sites"];

/// Bytes of an input at most: what is longer is slower and shows no more.
const LONGEST: u32 = 8192;

/// Runs the targets one after the other, each for so many seconds, from its seeds and what it found before.
pub fn run(context: &Context, targets: &[String], seconds: u64) -> Result<String> {
    let all = TARGETS.map(str::to_owned);
    let targets = if targets.is_empty() { &all[..] } else { targets };
    for target in targets {
        ensure!(all.contains(target), "no target '{target}'; there are {}", TARGETS.join(", "));
        let (seeds, found) = (format!("fuzz/seeds/{target}"), format!("fuzz/corpus/{target}"));
        std::fs::create_dir_all(context.place.root.join(&found))?;
        let words = format!("fuzz/{target}.dict");
        let mut fuzz = cargo(&context.place.root);
        // The sanitizers are switched on by flags that the stable compiler takes only so.
        fuzz.env("RUSTC_BOOTSTRAP", "1").args(["fuzz", "run", target, &found, &seeds, "--"]);
        fuzz.arg(format!("-max_total_time={seconds}")).arg(format!("-max_len={LONGEST}"));
        // Freed memory that the sanitizer keeps back counts as used: it keeps little.
        fuzz.env("ASAN_OPTIONS", "quarantine_size_mb=32").args(["-rss_limit_mb=512", "-timeout=5"]);
        if context.place.root.join(Path::new(&words)).is_file() {
            fuzz.arg(format!("-dict={words}"));
        }
        passes(fuzz, BUILD_LIMIT + Duration::from_secs(seconds))?;
    }
    Ok(format!("fuzz: {} clean for {seconds} s each", targets.join(", ")))
}
