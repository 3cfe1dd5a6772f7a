//! Against the platform's `f64`, the definite times that are set, and the thermal curve of IEC 60255-149.

extern crate std;

use std::string::String;
use std::{format, vec::Vec};

use shaftwork_core::settings::{
    Action, CurrentTap, Element, Nominal, Settings, Starter, StartsPerHour, Watch, Wedge, Wiring,
};
use shaftwork_core::{BLOCK, Cause};

use crate::{Row, Sheet, Source, State, Vector, Verdict, Way, Why, phases, prove, run};

mod outside;
mod source;

/// The example with every element on, quick ones.
pub fn all_on() -> Settings {
    let mut s = Settings::example();
    let element = |pickup_ppm, delay_ms, action| Some(Element { pickup_ppm, delay_ms, action });
    let t = &mut s.trips;
    t.thermal.as_mut().unwrap().heating_ms = 60_000;
    t.long_start.as_mut().unwrap().delay_ms = 2_000;
    t.undervoltage.as_mut().unwrap().start_delay_ms = 2_000;
    t.overvoltage = element(1_150_000, 700, Action::Trip);
    t.phase_reversal = Some(Watch { delay_ms: 100, action: Action::Trip });
    t.current_unbalance = element(200_000, 500, Action::Warning);
    t.residual_current = element(200_000, 200, Action::FeedStop);
    t.underload = element(500_000, 1_000, Action::Trip);
    t.sensor_fault = Some(Watch { delay_ms: 60, action: Action::FeedStop });
    t.starts_per_hour = Some(StartsPerHour { most: 3, action: Action::Warning });
    t.wedge = Some(Wedge { pickup_ppm: 1_700_000, window_ms: 200, action: Action::Warning });
    s
}

fn tried(settings: &Settings) -> Sheet {
    run(settings, 7, &mut || true)
}

/// What did not pass.
fn troubles(sheet: &Sheet) -> Vec<String> {
    sheet.rows.iter().filter(|row| row.verdict != Verdict::Passed).map(|row| format!("{row:?}")).collect()
}

fn row(sheet: &Sheet, cause: Cause, way: Way) -> Row {
    *sheet.rows.iter().find(|row| (row.cause, row.way) == (cause, way)).unwrap()
}

#[test]
fn every_element_is_proven() {
    let sheet = tried(&all_on());
    assert!(troubles(&sheet).is_empty(), "{:?}", troubles(&sheet));
    assert!(sheet.passed());
    assert_eq!(sheet.rows.len(), 17);
    assert!(Cause::ALL.iter().all(|cause| sheet.rows.iter().any(|row| row.cause == *cause)));
}
