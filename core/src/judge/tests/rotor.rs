//! Heat in the rotor's bars: what starts leave, how it goes, and when a start is refused for it.

use super::*;
use crate::settings::{Restart as RestartSettings, RotorHeat};

/// Kinetic energy of the example's 10 kg m² at 157.08 rad/s, J.
const KINETIC: f64 = 123_370.0;

/// So many starts one after another; ten minutes to cool to 1/e. It coasts down in a second.
fn mill(starts: f64) -> Bench {
    let mut settings = Settings::example();
    settings.mill.coast_down_ms = 1_000;
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
/// and its iron (own arithmetic). The slip is the estimate by resistances, as no inertia is given: it tells a held rotor within a tenth.
#[test]
fn a_held_rotor_takes_what_crosses_the_air_gap() {
    let mut settings = Settings::example();
    (settings.mill.inertia_gm2, settings.trips) = (None, TripSettings::default());
    let mut b = Bench::new(&settings);
    b.hold(&record(REST), 2.0).start(3.0);
    let left = b.left_by_starts();
    let gap = 70_301.0 - 3.0 * 0.0535 * 507.0 * 507.0 - 0.001 * f64::from(Settings::example().motor.core_loss_mw);
    assert!(left.len() == 1 && (0.9..=1.0).contains(&(left[0] / (3.0 * gap))), "{left:?} J, {} wanted", 3.0 * gap);
}

/// A start of 3 s leaves 28.4 kW x 3 s x (1 - 27 / 157) = 71 kJ by an inertia that has gained half of 54 rad/s on the way (own arithmetic). Two of
/// them leave more than is left of twice the kinetic energy when the next one has had its share.
#[test]
fn two_starts_and_then_a_rest() {
    let mut b = mill(2.0);
    assert_eq!(b.judge.decision().start, None, "cold");
    b.start(3.0);
    assert_eq!(b.judge.decision().start, None, "a second one");
    b.start(3.0);
    assert_eq!(b.judge.decision().start, Some(Hindrance::Rotor), "not a third");
    let heat = b.judge.saved(b.now).rotor[0].to_bits() as f64 / 1_048_576.0;
    assert!((135e3..145e3).contains(&heat), "{heat} J");
    let [None, Some(wait)] = b.judge.foretold(&b.c, b.now) else { panic!("it cools") };
    let told = seconds(Instant(wait.0));
    assert!((told - 600.0 * (heat / KINETIC).ln()).abs() < 0.1, "{told} s");
    b.hold(&record(REST), told - 0.05);
    assert_eq!(b.judge.decision().start, Some(Hindrance::Rotor));
    b.hold(&record(REST), 0.1);
    assert_eq!((b.judge.decision().start, b.judge.foretold(&b.c, b.now)[1]), (None, Some(Span::ZERO)));
}

/// What the bars bear does not grow with what a start has left in them: a long one makes the next wait the longer.
#[test]
fn a_heavy_start_is_no_measure_of_what_they_bear() {
    let heat = |b: &Bench| b.judge.saved(b.now).rotor[0].to_bits() as f64 / 1_048_576.0;
    let mut b = mill(3.0);
    b.start(2.0).start(7.0);
    assert!(heat(&b) > 1.2 * KINETIC && heat(&b) < 2.0 * KINETIC, "{} J", heat(&b));
    assert_eq!(b.judge.decision().start, None, "the last one left less than the rule");
    b.start(7.0);
    assert_eq!(b.judge.decision().start, Some(Hindrance::Rotor));
    // A short run-up of a rotor that turned makes no start cheap.
    b.hold(&record(REST), 300.0).start(0.2);
    let [_, Some(wait)] = b.judge.foretold(&b.c, b.now) else { panic!("it cools") };
    let wanted = (600.0 * (heat(&b) / (2.0 * KINETIC)).ln()).max(0.0);
    assert!((seconds(Instant(wait.0)) - wanted).abs() < 0.1, "{wait:?}, {wanted} s wanted");
}

/// A stall that never ran up counts, too: 28.4 kW for 4 s, of an inertia that seems to gain, are 88 kJ.
#[test]
fn a_stall_counts_like_a_start() {
    for (starts, refused) in [(1.5, Some(Hindrance::Rotor)), (2.0, None)] {
        let mut b = mill(starts);
        b.hold(&record(LOCKED), 4.0).hold(&record(REST), 2.0);
        assert_eq!(b.judge.decision().start, refused, "{starts}");
    }
}

/// Time constant of ten hours at 16 kHz: told to its end (own arithmetic).
#[test]
fn the_longest_wait_is_told() {
    let mut settings = Settings::example();
    (settings.sampling.rate_mhz, settings.trips) = (16_000_000, TripSettings::default());
    let rotor = Some(RotorHeat { starts_ppm: 1_100_000, cooling_ms: 36_000_000 });
    settings.restart = RestartSettings { rotor, ..RestartSettings::default() };
    let c = settings.build().unwrap().judge;
    let mut rotor = crate::judge::rotor::Rotor::resumed(Joules::from_bits((KINETIC as i64) << 20), Joules::ZERO);
    let wait = rotor.wait(c.restart.rotor.as_ref()).0 as f64 / 65_536.0 / 16_000.0;
    assert!((wait / (36_000.0 * 10f64.ln()) - 1.0).abs() < 1e-4, "{wait} s");
    rotor.started();
    assert_eq!(rotor.wait(None), Span::ZERO, "without the setting");
}

#[test]
fn without_an_inertia_nothing_can_be_told_of_it() {
    let mut settings = Settings::example();
    settings.restart.rotor = Some(RotorHeat { starts_ppm: 2_000_000, cooling_ms: 600_000 });
    assert!(settings.build().is_ok());
    settings.mill.inertia_gm2 = None;
    assert_eq!(settings.build().err(), Some(crate::SettingsError::Inertia));
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
    let mut b = mill(2.0);
    b.start(3.0).start(3.0);
    let saved = b.judge.saved(b.now);
    let mut again = mill(2.0);
    again.judge.resume(&again.c, again.now, &saved);
    again.hold(&record(REST), 5.0);
    assert_eq!(again.judge.decision().start, Some(Hindrance::Rotor));
}
