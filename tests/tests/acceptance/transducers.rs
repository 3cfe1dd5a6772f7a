//! The plant behind transducers that err: settings that know them undo them, and what they do where nobody knows.

use shaftwork_acceptance::figures::Figure;
use shaftwork_acceptance::machine::{Extra, Machine, spread};
use shaftwork_acceptance::tally::Tally;
use shaftwork_sim::plant::Scenario;
use shaftwork_sim::plant::transducer::Transducer;

/// Two seconds of a motor at four fifths of its load.
fn steady(m: &Machine) -> Scenario {
    m.scenario(m.windage(0.8), 0.6, -2.5, 2.0)
}

/// Mean active and reactive power of the last second's intervals, W and var.
fn powers(m: &Machine, seen: &[Transducer; 6], known: &[Transducer; 6]) -> [f64; 2] {
    let mut scenario = steady(m);
    scenario.sensor.transducers = *seen;
    let (heard, _) = m.play(&scenario, &Extra { transducers: *known, ..Extra::default() });
    let late = &heard.intervals[heard.intervals.len() - 5..];
    let mean = |figure: fn(&shaftwork_core::Interval) -> f64| late.iter().map(figure).sum::<f64>() / 5.0;
    [mean(|i| i.window.active.value()), mean(|i| i.window.reactive.value())]
}

/// Class 1 transformers at a low current (1.5 %, 90 minutes: IEC 61869-2, from memory), dividers of half a per cent, and
/// channels sampled one after another, 8 µs apart.
fn erring() -> [Transducer; 6] {
    let pairs = [(0.4, 0.0), (-0.5, 0.0), (0.1, 0.0), (-1.5, 1.5), (-0.7, 0.9), (-1.1, 1.2)];
    std::array::from_fn(|c| {
        let (ratio_error_pct, phase_deg) = pairs[c];
        Transducer { ratio_error_pct, phase_deg, skew_us: 8.0 * c as f64 }
    })
}

/// With the errors in the settings the powers are those of ideal sensors. Bound: 0.02 % of the apparent power, noise and
/// counts of both runs among it.
#[test]
fn settings_undo_what_they_know() {
    let mut t = Tally::default();
    let ideal = [Transducer::default(); 6];
    for m in &spread() {
        let wanted = powers(m, &ideal, &ideal);
        let mended = powers(m, &erring(), &erring());
        let raw = powers(m, &erring(), &ideal);
        let apparent = wanted[0].hypot(wanted[1]);
        let error = |found: [f64; 2], k: usize| (found[k] - wanted[k]) / apparent * 100.0;
        t.within(&format!("{}: active power, % of apparent", m.name), error(mended, 0), 0.02);
        t.within(&format!("{}: reactive power, % of apparent", m.name), error(mended, 1), 0.02);
        t.holds(&format!("{}: uncorrected it errs, {:.2} %", m.name, error(raw, 0)), error(raw, 0).abs() > 0.2);
    }
    t.finish();
}

/// An unknown lead of d makes P cos(d) + Q sin(d) of P: relative error cos(d) - 1 + tan(phi) sin(d) (trigonometry; the
/// angle of IEC 61869-2).
#[test]
fn an_unknown_lead_errs_by_the_tangent() {
    let mut t = Tally::default();
    let ideal = [Transducer::default(); 6];
    for m in &spread()[..4] {
        let [active, reactive] = powers(m, &ideal, &ideal);
        for degrees in [1.0_f64, -0.5] {
            let mut seen = ideal;
            for transducer in &mut seen[3..] {
                transducer.phase_deg = degrees;
            }
            let (sin, cos) = degrees.to_radians().sin_cos();
            let wanted = (cos - 1.0 + reactive / active * sin) * 100.0;
            let found = (powers(m, &seen, &ideal)[0] / active - 1.0) * 100.0;
            t.within(
                &format!("{}: lead {degrees}, error {found:.3} % for {wanted:.3} %", m.name),
                found - wanted,
                0.01,
            );
        }
    }
    t.finish();
}
