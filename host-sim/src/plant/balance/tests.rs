//! The balance over every kind of scenario, and over random ones: it closes to 0.01 % of what went in.

use super::super::circuit::Circuit;
use super::super::feeder::hand::{Hand, Heed};
use super::super::feeder::{Material, Work};
use super::super::heating::{Body, Heating};
use super::super::mill::{Mill, Wedge};
use super::super::motor::Impedance;
use super::super::seed::Span;
use super::super::supply::{Bounce, Closed, Drift, Harmonic, Loss, Place, Sag, Starter, Supply, Unbalance};
use super::super::terminals::Phase;
use super::super::{Scenario, Truth, reduced, run};
use proptest::prelude::*;
use std::convert::Infallible;

const NEVER: f64 = f64::INFINITY;

/// A light mill that starts at 0.1 s and is fed by hand.
fn scenario() -> Scenario {
    let hand = Hand {
        from_s: 1.2,
        until_s: 5.0,
        interval_s: Span(0.5, 1.5),
        lamp: Heed::default(),
        material: Material {
            mass_kg: Span(0.15, 0.5),
            work: Work::PerTonne(Span(20.0, 40.0)),
            burst_s: Span(0.2, 1.5),
        },
    };
    Scenario {
        supply: Supply::new(400.0, 50.0, Closed { from_s: 0.1, until_s: NEVER }),
        mill: Mill { inertia_kg_m2: 1.5, windage_nm_s2: 1.8e-3, hand: Some(hand), ..Mill::default() },
        duration_s: 4.0,
        ..Scenario::default()
    }
}

fn end(scenario: &Scenario) -> Truth {
    let Ok(truth) = run(scenario, 5, |_| Ok::<(), Infallible>(()));
    truth
}

/// What is missing, as a share of all that went through.
fn rest(scenario: &Scenario) -> f64 {
    let balance = end(scenario).balance;
    balance.rest_j() / balance.electrical_j.abs().max(balance.kinetic_j.abs())
}

fn closes(what: &str, change: impl Fn(&mut Scenario)) {
    let mut scenario = scenario();
    change(&mut scenario);
    let rest = rest(&scenario);
    println!("{what}: {rest:.1e}");
    assert!(rest.abs() < 1e-4, "{what}: {rest:e} is missing");
}

const WEDGE: Wedge = Wedge { at_s: 1.5, rise_s: 0.2, torque_nm: 1300.0, until_s: NEVER };

#[test]
fn closes_over_what_the_mill_does() {
    closes("start and feed", |_| {});
    closes("empty", |s| s.mill.hand = None);
    closes("wedge", |s| s.mill.wedge = Some(WEDGE));
    closes("wedge, come loose", |s| s.mill.wedge = Some(Wedge { until_s: 2.5, ..WEDGE }));
    closes("heavy rotor", |s| s.mill.inertia_kg_m2 = 30.0);
    closes("running from the first", |s| {
        s.supply.closed[0].from_s = f64::NEG_INFINITY;
        s.lead_s = 2.0;
    });
    closes("low rate", |s| s.rate_hz = 1000.0);
    closes("bare windings", |s| s.circuit = Circuit::textbook_50_hp());
}

#[test]
fn closes_over_what_the_contactor_does() {
    closes("stop", |s| s.supply.closed[0].until_s = 2.0);
    closes("stop against a wedge", |s| {
        s.mill.wedge = Some(WEDGE);
        s.supply.closed[0].until_s = 2.2;
    });
    closes("hot restart", |s| {
        s.supply.closed[0].until_s = 2.0;
        s.supply.closed.push(Closed { from_s: 2.15, until_s: NEVER });
    });
    closes("star-delta", |s| s.supply.starter = Starter::StarDelta { star_s: 1.4, pause_s: 0.05 });
    closes("soft", |s| s.supply.starter = Starter::Soft { from_deg: 110.0, ramp_s: 2.0 });
    closes("bounce", |s| {
        s.supply.bounce = Some(Bounce { count: 3, within_s: 5e-3 });
    });
}

#[test]
fn closes_over_what_the_mains_do() {
    let sag = Sag { from_s: 1.3, until_s: 1.7, ramp_s: 0.02, depth: 0.4 };
    closes("sag", |s| s.supply.sags = vec![sag]);
    closes("sudden sag", |s| s.supply.sags = vec![Sag { from_s: 1.300_04, ramp_s: 0.0, ..sag }]);
    closes("interruption", |s| s.supply.sags = vec![Sag { depth: 1.0, ramp_s: 0.0, ..sag }]);
    closes("swell", |s| s.supply.sags = vec![Sag { depth: -0.15, ..sag }]);
    closes("drift", |s| s.supply.drifts = vec![Drift { from_s: 1.0, until_s: 2.0, by_hz: -1.5 }]);
    closes("unbalance", |s| s.supply.unbalance = Some(Unbalance { share: 0.04, phase_rad: 1.0 }));
    closes("harmonics", |s| {
        s.supply.harmonics = [(3, 0.05), (5, 0.06), (7, 0.05), (11, 0.035)]
            .map(|(order, share)| Harmonic { order, share, phase_rad: 0.5 })
            .to_vec();
    });
    closes("weak mains", |s| s.supply.impedance = Impedance { ohm: 0.02, henry: 150e-6 });
    for place in [Place::Motor, Place::Upstream] {
        for phase in [Phase::A, Phase::B, Phase::C] {
            let loss = Loss { place, phase, from_s: 1.500_07, until_s: 2.3 };
            closes(&format!("{phase:?} lost, {place:?}"), |s| s.supply.losses = vec![loss]);
            let always = Loss { from_s: -1.0, until_s: NEVER, ..loss };
            closes(&format!("start with {phase:?} lost, {place:?}"), |s| {
                s.supply.losses = vec![always];
                s.supply.impedance = Impedance { ohm: 0.01, henry: 50e-6 };
            });
        }
    }
    closes("two lines lost", |s| {
        let loss = |place, phase| Loss { place, phase, from_s: 1.5, until_s: 1.8 };
        s.supply.losses = vec![loss(Place::Upstream, Phase::A), loss(Place::Motor, Phase::B)];
    });
}

#[test]
fn closes_over_a_lost_belt_and_a_warming_motor() {
    let quick = Heating {
        winding: Body { kelvin_per_w: 0.08, time_constant_s: 1.0 },
        cage: Body { kelvin_per_w: 0.12, time_constant_s: 0.7 },
        ..Heating::default()
    };
    closes("warming", |s| s.heating = Some(quick));
    closes("warming in star first", |s| {
        s.heating = Some(quick);
        s.supply.starter = Starter::StarDelta { star_s: 1.4, pause_s: 0.05 };
    });
    closes("belt lost", |s| s.mill.belt_lost_s = Some(2.0));
    closes("belt lost while starting", |s| s.mill.belt_lost_s = Some(0.3));
    closes("belt lost at standstill", |s| s.mill.belt_lost_s = Some(0.0));
    closes("belt lost before a wedge", |s| {
        s.mill.belt_lost_s = Some(1.400_03);
        s.mill.wedge = Some(WEDGE);
    });
    closes("belt lost before the first frame", |s| {
        s.supply.closed[0].from_s = f64::NEG_INFINITY;
        (s.lead_s, s.mill.belt_lost_s) = (2.0, Some(-0.5));
    });
    closes("capacitors", |s| s.supply.capacitors_kvar = 25.0);
}

/// The pieces are where they should be: nothing negative, the motor's losses at idle those of the steady circuit.
#[test]
fn pieces_agree_with_the_steady_circuit() {
    let mut scenario = scenario();
    scenario.mill.hand = None;
    scenario.supply.closed[0].from_s = f64::NEG_INFINITY;
    scenario.lead_s = 4.0;
    let idle = scenario.circuit.settle(|speed| scenario.mill.windage_nm(speed)).unwrap();
    let b = end(&scenario).balance;
    let found = [b.stator_j, b.core_j, b.rotor_j, b.stray_j, b.friction_j].map(|work| work / scenario.duration_s);
    for (found, wanted) in found.into_iter().zip(idle.losses_w) {
        assert!((found / wanted - 1.0).abs() < 1e-4, "found {found} W, wanted {wanted} W");
    }
    assert!((b.load_j / scenario.duration_s / idle.shaft_w - 1.0).abs() < 1e-4);
    assert!(b.arc_j.abs() < 1e-9 && b.kinetic_j.abs() < 1e-2 && b.magnetic_j.abs() < 1e-2);
}

/// The numbers that make a scenario, all within what happens in the trade.
fn any_scenario() -> impl Strategy<Value = Scenario> {
    let phase = prop_oneof![Just(Phase::A), Just(Phase::B), Just(Phase::C)];
    let place = prop_oneof![Just(Place::Motor), Just(Place::Upstream)];
    let span = || (0.0..2.5_f64, 0.0005..1.0_f64);
    let loss = (place, phase, span()).prop_map(|(place, phase, (from_s, length))| Loss {
        place,
        phase,
        from_s,
        until_s: from_s + length,
    });
    let sag = (span(), 0.0..0.1_f64, -0.2..1.0_f64).prop_map(|((from_s, length), ramp_s, depth)| Sag {
        from_s,
        until_s: from_s + length,
        ramp_s: if ramp_s < 0.03 { 0.0 } else { ramp_s },
        depth,
    });
    let harmonic = (2..20_u32, 0.0..0.06_f64, 0.0..6.3_f64);
    let mains = (
        prop::collection::vec(loss, 0..3),
        prop::collection::vec(sag, 0..3),
        prop::collection::vec(harmonic, 0..4),
        (0.0..0.05_f64, 0.0..6.3_f64),
        (0.0..0.03_f64, 0.0..200e-6_f64),
        (span(), -2.0..2.0_f64),
    );
    let mill = (0.5..8.0_f64, 0.0..3e-3_f64, 0.0..1500.0_f64, span());
    let contactor = (0.0..0.3_f64, span());
    let starter = prop_oneof![
        3 => Just(Starter::Direct),
        1 => (0.1..1.5_f64, 0.0..0.1_f64).prop_map(|(star_s, pause_s)| Starter::StarDelta { star_s, pause_s }),
        1 => (30.0..115.0_f64, 0.2..2.0_f64).prop_map(|(from_deg, ramp_s)| Starter::Soft { from_deg, ramp_s }),
    ];
    let bounce = prop::option::of((0..6_u32, 0.001..0.02_f64));
    let heating = prop::option::of((-20.0..120.0_f64, 0.3..20.0_f64));
    let lost = prop::option::weighted(0.4, -0.1..4.0_f64);
    let more = (starter, bounce, heating, lost, 0.0..40.0_f64);
    (mains, mill, contactor, more, 1000.0..8000.0_f64, any::<bool>()).prop_map(
        |(mains, mill, contactor, more, rate, bare)| {
            let mut s = scenario();
            let (starter, bounce, heating, belt_lost_s, capacitors_kvar) = more;
            (s.supply.starter, s.supply.capacitors_kvar, s.mill.belt_lost_s) = (starter, capacitors_kvar, belt_lost_s);
            s.supply.bounce = bounce.map(|(count, within_s)| Bounce { count, within_s });
            s.heating = heating.map(|(start_c, time_constant_s)| Heating {
                start_c: [start_c; 2],
                winding: Body { kelvin_per_w: 0.05, time_constant_s },
                cage: Body { kelvin_per_w: 0.1, time_constant_s: 0.7 * time_constant_s },
                ..Heating::default()
            });
            let (losses, sags, harmonics, (share, phase_rad), (ohm, henry), ((from_s, length), by_hz)) = mains;
            (s.supply.losses, s.supply.sags) = (losses, sags);
            s.supply.harmonics =
                harmonics.into_iter().map(|(order, share, phase_rad)| Harmonic { order, share, phase_rad }).collect();
            s.supply.unbalance = Some(Unbalance { share, phase_rad });
            s.supply.impedance = Impedance { ohm, henry };
            s.supply.drifts = vec![Drift { from_s, until_s: from_s + length, by_hz }];
            let (closes_s, (opens_s, off_s)) = contactor;
            let opens_s = closes_s + 0.2 + opens_s;
            s.supply.closed =
                vec![Closed { from_s: closes_s, until_s: opens_s }, Closed { from_s: opens_s + off_s, until_s: NEVER }];
            let (inertia, windage, torque_nm, (at_s, length)) = mill;
            (s.mill.inertia_kg_m2, s.mill.windage_nm_s2) = (inertia, windage);
            s.mill.wedge = Some(Wedge { at_s, rise_s: 0.2, torque_nm, until_s: at_s + length });
            s.rate_hz = rate.round();
            if bare {
                s.circuit = Circuit::textbook_50_hp();
            }
            s
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn closes_over_any_scenario(scenario in any_scenario()) {
        let rest = rest(&scenario);
        prop_assert!(rest.abs() < 1e-4, "{rest:e} is missing");
    }
    /// The reduced model's own balance, of all but what it refuses, and but for lost lines: near standstill, where it
    /// takes the stator on one axis as settled though nothing is, some thousandths can be missing.
    #[test]
    fn closes_in_the_reduced_model_over_any_scenario(scenario in any_scenario()) {
        let mut scenario = scenario;
        scenario.supply.harmonics.clear();
        scenario.supply.losses.clear();
        (scenario.supply.bounce, scenario.supply.capacitors_kvar) = (None, 0.0);
        if matches!(scenario.supply.starter, Starter::Soft { .. }) {
            scenario.supply.starter = Starter::Direct;
        }
        let truth = reduced::run(&scenario, 5, |_| Ok::<(), reduced::Refused>(()));
        let balance = truth.map(|truth| truth.balance);
        prop_assert!(balance.is_ok());
        let balance = balance.unwrap_or_default();
        let rest = balance.rest_j() / balance.electrical_j.abs().max(balance.kinetic_j.abs());
        prop_assert!(rest.abs() < 1e-4, "{rest:e} is missing");
    }
}
