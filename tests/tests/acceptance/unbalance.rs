//! Unbalance: the two definitions in use, on published line voltages.
//!
//! NEMA MG-1: largest deviation from the mean of the line voltages over the mean. The values for
//! 460/467/450 (1.96 %), 462/463/455 (1.1 %, US DOE motor tip sheet), 480/476/472 (0.84 %) and
//! 200/205/220 (5.60 %) are published; the rest and all true unbalances (negative over positive
//! sequence) are plain arithmetic on the closed triangle of the line voltages.

use shaftwork_acceptance::Bench;
use shaftwork_acceptance::figures::{Figure, near};
use shaftwork_acceptance::wave::{Wave, two_element};
use shaftwork_core::settings::{Nominal, Wiring};

/// The three line voltages as a closed triangle: ab at 0 degrees, ab + bc + ca = 0.
fn triangle(ab: f64, bc: f64, ca: f64) -> [Wave; 3] {
    // |ca|² = |ab + bc|² = ab² + bc² + 2 ab bc cos(angle)
    let turn = ((ca * ca - ab * ab - bc * bc) / (2.0 * ab * bc)).acos().to_degrees();
    let (ab, bc) = (Wave::sine(ab, 0.0), Wave::sine(bc, -turn));
    let (re, im) = {
        let (a, b) = (ab.phasor(1.0), bc.phasor(1.0));
        (-a.0 - b.0, -a.1 - b.1)
    };
    let ca = Wave::sine(re.hypot(im), im.atan2(re).to_degrees());
    [ab, bc, ca]
}

#[test]
fn line_voltages() {
    for (lines, nema, true_pct) in [
        ([460.0, 467.0, 450.0], 1.9608, 2.1465),
        ([462.0, 463.0, 455.0], 1.0870, 1.0914),
        ([480.0, 476.0, 472.0], 0.8403, 0.9704),
        ([200.0, 205.0, 220.0], 5.6000, 5.8414),
        ([400.0, 380.0, 390.0], 2.5641, 2.9622),
        ([415.0, 400.0, 385.0], 3.7500, 4.3345),
    ] {
        let [ab, bc, ca] = triangle(lines[0], lines[1], lines[2]);
        let i = |degrees| Wave::sine(50.0, degrees);
        let bench =
            Bench { wiring: Wiring::ThreeWire, nominal: Nominal::Hz60, line_volts: lines[0], ..Bench::default() };
        let windows = bench.run(&[ab, bc, ca, i(-60.0), i(-180.0), i(60.0)], 60.0, 1.2, 0.8);
        assert!(!windows.is_empty());
        for window in windows {
            let v = window.voltage.map(Figure::value);
            let mean = v.iter().sum::<f64>() / 3.0;
            let deviation = v.iter().map(|x| (x - mean).abs()).fold(0.0, f64::max) / mean * 100.0;
            near("NEMA", deviation, nema, 0.01);
            near("true", window.voltage_unbalance.unwrap().value() * 100.0, true_pct, 0.02);
        }
    }
}

/// Vaske, Berechnung von Drehstromschaltungen (1973), example 18 (as read in the Modelica Standard
/// Library's documentation): R = 10, XL = XC = 10 sqrt3 ohm in star on 100 V: the neutral carries
/// nothing, so that three wires and two elements measure it too; P = 1000, Q = 0, I2/I1 = 200 %.
#[test]
fn star_without_neutral_current() {
    let v = |degrees| Wave::sine(100.0, degrees);
    let phases = [
        v(0.0),
        v(-120.0),
        v(120.0),
        Wave::sine(10.0, 0.0),
        Wave::sine(5.773_503, 150.0),
        Wave::sine(5.773_503, -150.0),
    ];
    let bench = |wiring| Bench { wiring, full_volts: 300.0, full_amps: 20.0, line_volts: 173.2, ..Bench::default() };
    for (wiring, waves) in [(Wiring::FourWire, phases.clone()), (Wiring::TwoElement, two_element(&phases))] {
        for window in bench(wiring).run(&waves, 50.0, 1.2, 0.8) {
            near("P", window.active.value(), 1000.0, 0.3);
            near("Q", window.reactive.value(), 0.0, 0.4);
            near("PFA", window.power_factor.unwrap().value(), 0.464_102, 0.0005);
            near("I2/I1", window.current_unbalance.unwrap().value(), 2.0, 0.002);
            near("Ib", window.current[1].value(), 5.773_503, 0.002);
        }
    }
}
