//! The demo folder of `trip-study`: what is recommended on one half of the traces must be right on the other.
//!
//! Traces, jams and honest work are the plant model's, invented; which half is which is by name, every second one of each kind.

use shaftwork_sim::synth::jams::{ALL, make};
use shaftwork_sim::trip_study::candidates::Candidates;
use shaftwork_sim::trip_study::score::{Outcome, Rules};
use shaftwork_sim::trip_study::{Order, folder, study};
use std::path::Path;

#[test]
fn what_is_recommended_on_one_half_is_right_on_the_other() {
    let home = tempfile::tempdir().unwrap();
    make(home.path(), &ALL, 2_000.0, None).unwrap();
    let (traces, without) = folder::traces(home.path()).unwrap();
    assert_eq!((traces.len(), without.len()), (24, 0));
    let vary = Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples/trip-study/vary.toml");
    let candidates = Candidates::load(&home.path().join("settings.toml"), &vary).unwrap();
    // The verb's own defaults.
    let order = Order {
        folder: home.path().display().to_string(),
        rules: Rules { early_s: 1.0, allowed_s: 2.0, margin: 0.2 },
        accept_short: false,
        records: None,
    };
    let found = study(order, traces, &without, candidates).unwrap();
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
