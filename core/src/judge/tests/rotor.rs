//! Heat in the rotor's bars: what starts leave, how it goes, and when a start is refused for it.

use super::*;
use crate::settings::{Restart as RestartSettings, RotorHeat};

/// Two starts one after another, as NEMA MG 1-12.54 has it; ten minutes to cool to 1/e. It coasts down in a second.
fn mill(starts: f64, inertia_gm2: Option<u32>) -> Bench {
    let mut settings = Settings::example();
    (settings.mill.coast_down_ms, settings.mill.inertia_gm2) = (1_000, inertia_gm2);
    settings.trips = TripSettings::default();
    let rotor = Some(RotorHeat { starts_ppm: (starts * 1e6) as u32, cooling_ms: 600_000 });
    settings.restart = RestartSettings { rotor, ..RestartSettings::default() };
    let mut b = Bench::new(&settings);
    b.hold(&record(REST), 2.0);
    b
}

impl Bench {
    /// Starts for so long, runs for a second, stops and coasts down.
    fn start(&mut self, seconds: f64) -> &mut Self {
        self.hold(&record(LOCKED), seconds).hold(&record(IDLE), 1.0).hold(&record(REST), 2.0)
    }

    fn left_by_starts(&self) -> Vec<f64> {
        let heat = |(_, kind): &(f64, EventKind)| match kind {
            EventKind::RunUp { rotor_heat, .. } => Some(rotor_heat.to_bits() as f64 / 1_048_576.0),
            _ => None,
        };
        self.events.iter().filter_map(heat).collect()
    }
}

/// At standstill all that crosses the air gap heats the rotor: 70.30 kW less what the example's stator takes, 3 x 0.0535 ohm x (507 A)² = 41.26 kW,
/// and its iron
/// (own arithmetic). The slip is the estimate by resistances, as no inertia is given: it tells a held rotor within a tenth.
#[test]
fn a_held_rotor_takes_what_crosses_the_air_gap() {
    let mut b = mill(2.0, None);
    b.start(3.0);
    let left = b.left_by_starts();
    let gap = 70_301.0 - 3.0 * 0.0535 * 507.0 * 507.0 - 0.001 * f64::from(Settings::example().motor.core_loss_mw);
    assert!(left.len() == 1 && (0.9..=1.0).contains(&(left[0] / (3.0 * gap))), "{left:?} J, {} wanted", 3.0 * gap);
}

#[test]
fn two_starts_and_then_a_rest() {
    let mut b = mill(2.0, None);
    assert_eq!(b.judge.decision().start, None, "cold");
    b.start(3.0);
    assert_eq!(b.judge.decision().start, None, "a second one");
    b.start(3.0);
    assert_eq!(b.judge.decision().start, Some(Hindrance::Rotor), "not a third");
    // Two starts' heat of which three seconds of one have cooled: to one within tau ln 2, but for that.
    let [None, Some(wait)] = b.judge.foretold(&b.c, b.now) else { panic!("it cools") };
    let told = seconds(Instant(wait.0));
    assert!((told - 600.0 * 2f64.ln()).abs() < 8.0, "{told} s");
    b.hold(&record(REST), told - 0.05);
    assert_eq!(b.judge.decision().start, Some(Hindrance::Rotor));
    b.hold(&record(REST), 0.1);
    assert_eq!((b.judge.decision().start, b.judge.foretold(&b.c, b.now)[1]), (None, Some(Span::ZERO)));
}

/// 185 N m on 10 kg m² for 4 s leave 29.0 kW x 4 s x (1 - 37 / 157) = 89 kJ in the rotor (own arithmetic); at synchronous speed it would have 123.4 kJ of
/// kinetic energy, which is a start's heat until one was seen: a half of it is less than that, all of it is more.
#[test]
fn the_kinetic_energy_rule_counts_until_a_start_was_seen() {
    for (starts, refused) in [(1.5, Some(Hindrance::Rotor)), (2.0, None)] {
        let mut b = mill(starts, Some(10_000));
        b.hold(&record(LOCKED), 4.0).hold(&record(REST), 2.0);
        assert_eq!(b.judge.decision().start, refused, "{starts}");
    }
}

#[test]
fn without_the_setting_no_start_is_refused_and_a_power_cut_cools_nothing() {
    let mut settings = Settings::example();
    settings.mill.coast_down_ms = 1_000;
    settings.trips = TripSettings::default();
    let mut b = Bench::new(&settings);
    b.hold(&record(REST), 2.0);
    for _ in 0..5 {
        b.start(3.0);
        assert_eq!(b.judge.decision().start, None);
    }
    let mut b = mill(2.0, None);
    b.start(3.0).start(3.0);
    let saved = b.judge.saved(b.now);
    let mut again = mill(2.0, None);
    again.judge.resume(&again.c, again.now, &saved);
    again.hold(&record(REST), 5.0);
    assert_eq!(again.judge.decision().start, Some(Hindrance::Rotor));
}
