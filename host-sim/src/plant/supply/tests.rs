//! Checks of the source: phases, sags, drift, unbalance, what a lost line leaves.

use super::super::terminals::{Phase, phases};
use super::*;

fn near(found: f64, wanted: f64) {
    assert!((found - wanted).abs() < 1e-9, "found {found}, wanted {wanted}");
}

fn supply() -> Supply {
    Supply::new(400.0, 50.0, Closed { from_s: 2.0, until_s: 5.0 })
}

#[test]
fn phases_follow_each_other_and_add_up_to_nothing() {
    let supply = supply();
    let peak = 400.0 * (2.0_f64 / 3.0).sqrt();
    near(phases(supply.voltage(0.0))[0], peak);
    near(phases(supply.voltage(0.02 / 3.0))[1], peak);
    near(phases(supply.voltage(0.04 / 3.0))[2], peak);
    for n in 0..100 {
        near(phases(supply.voltage(f64::from(n) * 1.37e-3)).iter().sum(), 0.0);
    }
}

#[test]
fn rms_is_the_phase_voltage() {
    let supply = supply();
    let squares: f64 = (0..400).map(|n| phases(supply.voltage(f64::from(n) * 0.05e-3))[2].powi(2)).sum();
    near((squares / 400.0).sqrt(), 400.0 / 3.0_f64.sqrt());
}

#[test]
fn contactor_holds_over_its_span() {
    let supply = supply();
    assert!(!supply.is_closed(1.999_999));
    assert!(supply.is_closed(2.0) && supply.is_closed(4.999_999));
    assert!(!supply.is_closed(5.0));
}

#[test]
fn sags_add_up_and_a_swell_raises() {
    let sag = Sag { from_s: 1.0, until_s: 2.0, ramp_s: 0.1, depth: 0.4 };
    let mut supply = supply();
    let peak = 400.0 * (2.0_f64 / 3.0).sqrt();
    supply.sags = vec![sag, Sag { depth: 0.9, ..sag }];
    near(supply.voltage(1.5)[0], 0.0);
    supply.sags = vec![Sag { depth: -0.2, ..sag }];
    near(supply.voltage(1.5)[0], 1.2 * peak);
    near(supply.voltage(2.5)[0], peak);
}

/// After a drift of 1 Hz the zero crossings are 1/51 s apart, and nothing jumps on the way.
#[test]
fn frequency_drifts_without_a_jump() {
    let mut supply = supply();
    supply.drifts = vec![Drift { from_s: 0.5, until_s: 1.5, by_hz: 1.0 }];
    let mut before = supply.voltage(0.0);
    for n in 1..30_000 {
        let now = supply.voltage(f64::from(n) * 1e-4);
        let turned = (before[0] * now[1] - before[1] * now[0]).atan2(before[0] * now[0] + before[1] * now[1]);
        let hertz = turned / TAU / 1e-4;
        let t = (f64::from(n) - 0.5) * 1e-4;
        assert!((hertz - 50.0 - (t - 0.5).clamp(0.0, 1.0)).abs() < 1e-3, "{hertz} Hz at {t} s");
        before = now;
    }
}

/// The unbalance asked for is the ratio of the two systems, IEC 61000-4-30, 5.7 (the definition, from memory), here by
/// correlating three phases over a cycle.
#[test]
fn unbalance_is_the_ratio_of_the_sequences() {
    let mut supply = supply();
    supply.unbalance = Some(Unbalance { share: 0.03, phase_rad: 0.7 });
    let (mut with, mut against) = ([0.0; 2], [0.0; 2]);
    for n in 0..400 {
        let t = f64::from(n) * 0.05e-3;
        let (v, (sin, cos)) = (supply.voltage(t), (TAU * 50.0 * t).sin_cos());
        with = [with[0] + v[0] * cos + v[1] * sin, with[1] + v[1] * cos - v[0] * sin];
        against = [against[0] + v[0] * cos - v[1] * sin, against[1] + v[1] * cos + v[0] * sin];
    }
    near(against[0].hypot(against[1]) / with[0].hypot(with[1]), 0.03);
    near(-against[1].atan2(against[0]), 0.7);
}

#[test]
fn a_triplen_harmonic_is_common_to_all_phases() {
    let mut supply = supply();
    supply.harmonics = vec![Harmonic { order: 3, share: 0.05, phase_rad: 0.0 }];
    let peak = 400.0 * (2.0_f64 / 3.0).sqrt();
    near(supply.zero_v(0.0), 0.05 * peak);
    near(supply.voltage(0.0)[0], peak);
}

/// With primary line A lost the transformer without load gives 1/2, 1, 1/2 (the windings AB and CA in series): the
/// projection on phase B.
#[test]
fn a_lost_line_leaves_an_axis() {
    let mut supply = supply();
    supply.closed[0].from_s = 0.0;
    let loss = Loss { place: Place::Upstream, phase: Phase::A, from_s: 1.0, until_s: 2.0 };
    supply.losses = vec![loss];
    assert_eq!(supply.connection(0.9), Connection::Whole);
    assert_eq!(supply.connection(2.0), Connection::Whole);
    for n in 0..50 {
        let t = 1.0 + f64::from(n) * 7e-3;
        let Terminals::OneAxis(axis, along) = supply.terminals(t, supply.connection(t)) else { panic!("one axis") };
        let whole = phases(supply.voltage(t));
        for (share, wanted) in axis.phases.into_iter().zip([-0.5, 1.0, -0.5]) {
            near(share * along, wanted * whole[1]);
        }
    }
    supply.losses.push(Loss { place: Place::Motor, phase: Phase::C, ..loss });
    assert_eq!(supply.connection(1.5), Connection::Open);
    assert!(supply.upstream(1.5).is_some() && supply.upstream(2.5).is_none());
}
