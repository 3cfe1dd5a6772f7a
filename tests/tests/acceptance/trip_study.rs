//! The demo folder of `trip-study`: what is recommended on one half of the traces must be right on the other.
//!
//! Traces, jams and honest work are the plant model's, invented; which half is which is by name, every second one of each kind.

use shaftwork_sim::cli::TripStudy;
use shaftwork_sim::synth::jams::{ALL, make};
use shaftwork_sim::trip_study::candidates::Candidates;
use shaftwork_sim::trip_study::score::Outcome;
use shaftwork_sim::trip_study::{folder, study};
use std::path::Path;

/// The verb's arguments with its own defaults.
fn args(folder: &Path) -> TripStudy {
    TripStudy {
        folder: folder.to_owned(),
        settings: folder.join("settings.toml"),
        vary: Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples/trip-study/vary.toml"),
        early_s: 1.0,
        allowed_s: 2.0,
        margin_pct: 20.0,
        accept_short: false,
        out: None,
        csv: None,
        json: None,
    }
}

#[test]
fn what_is_recommended_on_one_half_is_right_on_the_other() {
    let home = tempfile::tempdir().unwrap();
    make(home.path(), &ALL, 2_000.0, None).unwrap();
    let args = args(home.path());
    let (traces, without) = folder::traces(&args.folder).unwrap();
    assert_eq!((traces.len(), without.len()), (24, 0));
    let candidates = Candidates::load(&args.settings, &args.vary).unwrap();
    let found = study(&args, traces, &without, candidates).unwrap();
    let (at, _) = found.recommended;
    let shown = &found.scores[1][at];
    assert_eq!((shown.jams, shown.honest), (6, 6));
    assert_eq!((shown.caught, shown.falses), (6, 0), "{}", found.candidates.words(at));
    // The study has something to tell apart: as it is set now, some are wrong.
    let base = found.base();
    assert!(found.traces.iter().any(|studied| !studied.rows[base].outcome.right()));
    let all = found.traces.iter().flat_map(|studied| &studied.rows[..base]);
    assert!(
        all.clone().any(|row| row.outcome == Outcome::False) && all.clone().any(|row| row.outcome == Outcome::Caught)
    );
}
