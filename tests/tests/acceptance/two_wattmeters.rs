//! Two elements measure three wires (A. Blondel, 1893), and what they cannot do.
//!
//! Cases after J. Bird, Electrical Circuit Theory and Technology, chapter 20 (inputs and method as
//! read in the public example set of that book; numbers recomputed).

use shaftwork_acceptance::Bench;
use shaftwork_acceptance::figures::{Figure, near, within_pct};
use shaftwork_acceptance::wave::{Wave, balanced, three_wire, two_element};
use shaftwork_core::Window;
use shaftwork_core::settings::Wiring;

/// A balanced load of line voltage, line current and angle of lag, read in all three wirings.
fn all_wirings(line: f64, current: f64, lag: f64) -> Vec<Window> {
    let phases = balanced(&Wave::sine(line / 3f64.sqrt(), 0.0), &Wave::sine(current, -lag));
    let bench = |wiring| Bench {
        wiring,
        full_volts: line * 1.7,
        full_amps: current * 1.7,
        line_volts: line,
        ..Bench::default()
    };
    [
        (Wiring::FourWire, phases.clone()),
        (Wiring::ThreeWire, three_wire(&phases)),
        (Wiring::TwoElement, two_element(&phases)),
    ]
    .into_iter()
    .flat_map(|(wiring, waves)| {
        let windows = bench(wiring).run(&waves, 50.0, 1.2, 0.8);
        assert!(!windows.is_empty());
        windows
    })
    .collect()
}

/// W1 and W2 of two wattmeters give P = W1 + W2, tan(lag) = sqrt3 (W1 - W2) / (W1 + W2).
fn from_readings(w1: f64, w2: f64) -> (f64, f64) {
    let p = w1 + w2;
    let lag = (3f64.sqrt() * (w1 - w2) / p).atan();
    (p / (3f64.sqrt() * 415.0 * lag.cos()), lag.to_degrees())
}

/// Examples 20.15 (8 kW and 4 kW) and 20.17 (10 kW and -3 kW).
#[test]
fn wattmeter_readings() {
    for (w1, w2, p, q, pf) in [(8e3, 4e3, 12e3, 6_928.2, 0.866_025), (10e3, -3e3, 7e3, 22_516.7, 0.296_866)] {
        let (current, lag) = from_readings(w1, w2);
        let apparent = p / pf;
        for window in all_wirings(415.0, current, lag) {
            near("P", window.active.value(), p, 0.0003 * apparent);
            near("Q", window.reactive.value(), q, 0.0003 * apparent);
            near("PF", window.power_factor.unwrap().value(), pf, 0.0005);
        }
    }
}

/// Example 20.16: 12 kW at power factor 0.6 reads 10.6188 kW and 1.3812 kW.
#[test]
fn readings_from_power_and_power_factor() {
    let (current, lag) = from_readings(10_618.8, 1_381.2);
    for window in all_wirings(415.0, current, lag) {
        near("P", window.active.value(), 12e3, 0.0003 * 20e3);
        near("PF", window.power_factor.unwrap().value(), 0.6, 0.0005);
    }
}

/// Example 20.18: 8 + j8 ohm a phase on 415 V, in star and in delta.
#[test]
fn star_and_delta() {
    for (current, power) in [(21.177_88, 10_764.06), (63.533_64, 32_292.19)] {
        for window in all_wirings(415.0, current, 45.0) {
            near("P", window.active.value(), power, 0.0003 * power * 2f64.sqrt());
            near("Q", window.reactive.value(), power, 0.0003 * power * 2f64.sqrt());
            for i in window.current {
                within_pct("I", i.value(), current, 0.02);
            }
        }
    }
}

/// Example 20.4: 24, 18 and 12 kW of resistance to neutral. With neutral current two elements are
/// wrong: referred to line b they happen to show 54 kW, referred to line c 63 kW. Four wires show
/// 54 kW.
#[test]
fn two_elements_fail_with_neutral_current() {
    let v = 415.0 / 3f64.sqrt();
    let phase = |kw: f64, degrees: f64| (Wave::sine(v, degrees), Wave::sine(kw * 1e3 / v, degrees));
    let [(va, ia), (vb, ib), (vc, ic)] = [phase(24.0, 0.0), phase(18.0, -120.0), phase(12.0, 120.0)];
    let four = [va.clone(), vb.clone(), vc.clone(), ia.clone(), ib.clone(), ic.clone()];
    // Referred to c: the rotation (b, c, a) keeps the order of phases and puts c in b's place.
    let turned = [vb, vc, va, ib, ic, ia];
    let bench = |wiring| Bench { wiring, full_volts: 700.0, full_amps: 200.0, line_volts: 415.0, ..Bench::default() };
    for (wiring, waves, power) in [
        (Wiring::FourWire, four.clone(), 54e3),
        (Wiring::TwoElement, two_element(&four), 54e3),
        (Wiring::TwoElement, two_element(&turned), 63e3),
    ] {
        for window in bench(wiring).run(&waves, 50.0, 1.2, 0.8) {
            near("P", window.active.value(), power, 20.0);
        }
    }
}
