//! The wedge study in small: that it still gives what was recorded, and that what it works out is what the core decides.
//!
//! The whole study is docs/wedge.md. Two million pieces take minutes, these some seconds.

use shaftwork_acceptance::wedge::grid::{Showing, Source, Watch, Way};
use shaftwork_acceptance::wedge::page::study;
use shaftwork_acceptance::wedge::study::Size;
use shaftwork_acceptance::wedge::{mills, pass};
use shaftwork_core::settings::{Action, Jam, Wedge};
use shaftwork_core::{Cause, EventKind};

/// Recorded by `wedge_study --small tests/golden/wedge_small.md`: another result is a change of plant, core or study, and wants
/// docs/wedge.md made anew.
#[test]
fn the_small_study_gives_the_recorded_figures() {
    let found = study(Size::SMALL).figures();
    let recorded = include_str!("../../golden/wedge_small.md");
    assert!(found == recorded, "found\n{found}\nrecorded\n{recorded}");
}

/// Wedges of every motor: what the study's one pass over all settings says of two of them is what the core's elements do, to the half cycle.
#[test]
fn the_study_decides_as_the_core_does() {
    let motors = mills::motors();
    let ways = [(Way::Current, 2.0, 10), (Way::Standing(Source::Core), 0.2, 32)];
    for number in 0..24 {
        let case = mills::wedged(&motors, number);
        let motor = &motors[case.motor];
        let begun_s = case.scenario.mill.wedge.unwrap().at_s;
        let mut settings = pass::core_settings(motor);
        settings.trips.jam = Some(Jam { pickup_ppm: 2_000_000, delay_ms: 100 });
        settings.trips.wedge = Some(Wedge { pickup_ppm: 1_650_000, window_ms: 200, action: Action::Trip });
        let (mut by_core, mut by_study) = ([None; 2], [None; 2]);
        let mut watches = [Watch::default(); 2];
        let mut showing = Showing::new(motor.rating.watts, case.inertia_kg_m2);
        pass::case(&case, motor, &pass::coefficients(&settings, Some(case.inertia_kg_m2)), |half, judge| {
            while let Some(event) = judge.pop_event() {
                let EventKind::Trip { cause, .. } = event.kind else { continue };
                for (by, wanted) in by_core.iter_mut().zip([Cause::Jam, Cause::Wedge]) {
                    if cause == wanted {
                        by.get_or_insert(half.t_s);
                    }
                }
            }
            let Some(shown) = showing.next(half) else { return };
            for ((watch, by), (way, pickup, step)) in watches.iter_mut().zip(&mut by_study).zip(ways) {
                if watch.take(way, pickup, &shown).contains(&step) {
                    by.get_or_insert(half.t_s);
                }
            }
        });
        for (core, study) in by_core.into_iter().zip(by_study) {
            let (core, study) = (core.expect("caught"), study.expect("caught"));
            // Figures at the very edge may fall either way: a half cycle.
            assert!((core - study).abs() < 0.0105, "wedge {number} of {begun_s} s: core {core} s, study {study} s");
        }
    }
}
