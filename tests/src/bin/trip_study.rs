//! Prints how long a study of trips takes: 20 traces of 60 s at 4 kHz under 500 settings.
//!
//! ```text
//! trip_study [SETTINGS]
//! ```
//! The traces are the plant model's, fed by hand; four of them jam at 50 s. Pick-ups are such that honest work hardly trips: nearly every
//! half cycle is judged under every setting. Once with everything to be metered, once with records that were kept. All processors are used;
//! `RAYON_NUM_THREADS` says otherwise. It has no bounds: it measures, and whoever reads it judges.

use std::time::Instant;

use anyhow::{Context as _, Result};
use shaftwork_sim::synth::jams::make;
use shaftwork_sim::trip_study::candidates::Candidates;
use shaftwork_sim::trip_study::score::Rules;
use shaftwork_sim::trip_study::vary::Vary;
use shaftwork_sim::trip_study::{Order, folder, study};

const TRACES: usize = 20;
const JAMS: usize = 4;
const LENGTH_S: f64 = 60.0;
const RATE_HZ: f64 = 4_000.0;
const JAM: &str = "mill.wedge = { at_s = 50.0, rise_s = 0.3, torque_nm = 1080.0 }\n";

fn main() -> Result<()> {
    let settings: usize = std::env::args().nth(1).map_or(Ok(500), |n| n.parse()).context("how many settings?")?;
    let home = tempfile::tempdir()?;
    let recipes: Vec<(String, Option<f64>, &str)> = (1..=TRACES)
        .map(|n| {
            if n <= JAMS {
                (format!("jam-{n:02}.cfg"), Some(50.0), JAM)
            } else {
                (format!("work-{n:02}.cfg"), None, "")
            }
        })
        .collect();
    make(home.path(), &recipes, RATE_HZ, Some(LENGTH_S))?;
    let order = Order {
        folder: home.path().display().to_string(),
        rules: Rules { early_s: 1.0, allowed_s: 2.0, margin: 0.2 },
        accept_short: false,
        records: Some(home.path().join("out/records")),
    };
    let [settings_file, vary] = ["settings.toml", "vary.toml"].map(|name| home.path().join(name));
    let text = format!(
        "[trip.jam]\npickup_pct = [240, 250, 260, 270, 280]\ndelay_s = {{ from = 0.5, to = {}, step = 0.01 }}\n[trip.wedge]\npickup_pct = [240]\n",
        0.49 + settings as f64 / 500.0
    );
    std::fs::write(&vary, text)?;
    for what in ["all to be metered", "records kept"] {
        let begun = Instant::now();
        let candidates = Candidates::load(&settings_file, &vary)?;
        let (traces, without) = folder::traces(home.path())?;
        let count = Vary::load(&vary)?.count();
        let found = study(order.clone(), traces, &without, candidates)?;
        let seconds = begun.elapsed().as_secs_f64();
        let judged: f64 = found
            .traces
            .iter()
            .flat_map(|studied| studied.rows.iter().map(|row| row.trip_s.unwrap_or(studied.length_s) * 100.0))
            .sum();
        println!(
            "{what}: {TRACES} traces of {LENGTH_S} s at {RATE_HZ} Hz x {count} settings in {seconds:.1} s; {:.1} million half cycles judged, {:.2} million a second",
            judged / 1e6,
            judged / 1e6 / seconds
        );
    }
    Ok(())
}
