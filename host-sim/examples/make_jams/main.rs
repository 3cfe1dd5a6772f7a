//! Makes a folder of 24 traces of jams and of honest work, with verdicts and settings, for `trip-study`:
//!
//! ```text
//! cargo run --release -p shaftwork-sim --example make_jams -- DIR [RATE]
//! ```
//!
//! The traces take some 40 MB at 4 000 samples a second, which is what RATE is where it is not given.

use std::path::Path;

use anyhow::Context as _;
use shaftwork_sim::synth::jams::{ALL, make};

fn main() -> anyhow::Result<()> {
    let mut words = std::env::args().skip(1);
    let folder = words
        .next()
        .filter(|word| !word.starts_with('-'))
        .context("make_jams DIR [RATE]: a folder for the traces is wanted")?;
    let rate_hz = words.next().map_or(Ok(4_000.0), |rate| rate.parse()).context("the rate is no number")?;
    make(Path::new(&folder), &ALL, rate_hz, None)?;
    println!("{} traces, verdicts.toml and settings.toml in {folder}", ALL.len());
    Ok(())
}
