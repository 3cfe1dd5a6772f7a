//! Bounces in time, and what a motor makes of them.

use super::super::{Closed, Connection, Starter, Supply};
use super::*;
use crate::plant::mill::Mill;
use crate::plant::{Event, Scenario, Truth, What, run};
use std::convert::Infallible;

const THREE: Bounce = Bounce { count: 3, within_s: 7e-3 };

/// Three bounces in 7 ms: pairs of 4, 2 and 1 ms, each closed first.
#[test]
fn each_bounce_is_half_as_long() {
    for (ms, parts) in [
        (0.0, false),
        (1.99, false),
        (2.01, true),
        (3.99, true),
        (4.01, false),
        (5.01, true),
        (6.01, false),
        (6.51, true),
        (7.0, false),
        (900.0, false),
    ] {
        assert_eq!(THREE.parts(ms / 1000.0), parts, "{ms} ms");
    }
    assert!((0..100).all(|n| !Bounce { count: 0, ..THREE }.parts(f64::from(n) * 1e-4)));
}

/// Each closing bounces, but a starter goes on from the first touch: its windings and its pause come when they would
/// without bounces.
#[test]
fn a_starter_does_not_begin_anew() {
    let spans = [Closed { from_s: 1.0, until_s: 3.0 }, Closed { from_s: 4.0, until_s: 9.0 }];
    let starter = Starter::StarDelta { star_s: 0.5, pause_s: 0.05 };
    let sound = Supply { closed: spans.to_vec(), starter, ..Supply::default() };
    let bouncing = Supply { bounce: Some(THREE), ..sound.clone() };
    let mut parted = 0;
    for n in 0..100_000 {
        let t = (f64::from(n) + 0.5) * 1e-4;
        assert_eq!(bouncing.windings(t), sound.windings(t));
        if bouncing.connection(t) != sound.connection(t) {
            assert!(bouncing.connection(t) == Connection::Open && (t % 1.0) < 7e-3 && [1, 4].contains(&(t as i32)));
            parted += 1;
        }
    }
    // Half of 7 ms at each closing.
    assert_eq!(parted, 70, "tenths of a millisecond");
}

/// While the contacts are parted no current flows and the field gives no torque; what the field held goes into the arc,
/// and the balance closes. The motor runs up all the same.
#[test]
fn nothing_flows_while_the_contacts_are_parted() {
    let supply = Supply {
        bounce: Some(THREE),
        closed: vec![Closed { from_s: 0.1, until_s: f64::INFINITY }],
        ..Supply::default()
    };
    let mill = Mill { inertia_kg_m2: 0.5, ..Mill::default() };
    let mut scenario = Scenario { supply, mill, rate_hz: 12_000.0, duration_s: 1.5, ..Scenario::default() };
    for converter in [&mut scenario.sensor.voltage, &mut scenario.sensor.current] {
        converter.noise_counts = 0.0;
    }
    let (mut frames, mut events) = (Vec::<([f64; 7], Truth)>::new(), Vec::<Event>::new());
    let Ok(end) = run(&scenario, 1, |frame| {
        frames.push((frame.reading, frame.truth));
        events.extend(frame.events);
        Ok::<(), Infallible>(())
    });
    let (mut parted, mut touching) = (0, 0);
    for (reading, truth) in &frames {
        let amps = reading[3..6].iter().fold(0.0_f64, |most, i| most.max(i.abs()));
        let since = truth.t_s - 0.1;
        // A step's room at each edge.
        if (0.0..7e-3).contains(&since) && [-1e-4, 0.0, 1e-4].iter().all(|edge| THREE.parts(since + edge)) {
            assert!(amps == 0.0 && truth.shaft_nm.abs() < 0.5, "{amps} A, {} N m at {} s", truth.shaft_nm, truth.t_s);
            parted += 1;
        } else if (1e-3..2e-3).contains(&since) {
            assert!(amps > 100.0, "{amps} A at {} s", truth.t_s);
            touching += 1;
        }
    }
    assert!(parted > 30 && touching > 10, "{parted}, {touching}");
    assert_eq!(events.iter().map(|event| event.what).collect::<Vec<_>>(), [What::Closes]);
    let balance = end.balance;
    assert!(balance.arc_j > 10.0 && (balance.rest_j() / balance.electrical_j).abs() < 1e-4, "{balance:?}");
    assert!(end.speed_rpm > 1490.0);
}
