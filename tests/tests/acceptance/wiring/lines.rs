//! Truth in `f64`: phasors of the motor's circuit in steady state, with faults worked on them.

use shaftwork_core::record::Phasors;
use shaftwork_core::settings::Wiring;
use shaftwork_core::wiring::{Fault, Side};
use shaftwork_sim::plant::circuit::Circuit;

/// A complex number.
pub type Z = [f64; 2];

pub fn polar(size: f64, degrees: f64) -> Z {
    let (s, c) = degrees.to_radians().sin_cos();
    [size * c, size * s]
}

pub fn times(a: Z, b: Z) -> Z {
    [a[0] * b[0] - a[1] * b[1], a[0] * b[1] + a[1] * b[0]]
}

pub fn sum(a: Z, b: Z, sign: f64) -> Z {
    [a[0] + sign * b[0], a[1] + sign * b[1]]
}

pub fn size(a: Z) -> f64 {
    a[0].hypot(a[1])
}

/// A motor at work: phase voltages to the star point and line currents, with a reactive current of capacitors.
#[derive(Clone, Copy)]
pub struct Lines {
    pub volts: [Z; 3],
    pub amps: [Z; 3],
}

/// What the motor is fed with.
#[derive(Clone, Copy)]
pub struct Supply {
    /// Over rated voltage.
    pub voltage: f64,
    /// Negative over positive sequence.
    pub unbalance: f64,
    /// Of the negative sequence, degrees.
    pub angle: f64,
}

/// At a share of rated load.
pub fn motor(circuit: &Circuit, rated_w: f64, load: f64, supply: Supply, backwards: bool) -> Lines {
    let Supply { voltage, unbalance, angle } = supply;
    let circuit = Circuit { line_v: circuit.line_v * voltage, ..circuit.clone() };
    let point = circuit.at_shaft_w(rated_w * load).expect("the motor bears it");
    let phase = circuit.line_v / 3.0_f64.sqrt();
    let lag = point.power_factor.acos().to_degrees();
    let back = circuit.at_slip(2.0 - point.slip);
    let back_lag = back.power_factor.acos().to_degrees();
    let turn = if backwards { -120.0 } else { 120.0 };
    let three = |positive: Z, negative: Z| {
        [0.0, 1.0, 2.0].map(|k| {
            let [p, n] = [polar(1.0, -turn * k), polar(1.0, turn * k)];
            sum(times(positive, p), times(negative, n), 1.0)
        })
    };
    Lines {
        volts: three([phase, 0.0], polar(unbalance * phase, angle)),
        amps: three(polar(point.current_a, -lag), polar(unbalance * back.current_a, angle - back_lag)),
    }
}

/// A fault with what it needs to be worked.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Work(pub Fault, pub f64);

/// The channels with faults worked on the lines, in the order of [`Fault::ALL`].
pub fn channels(wiring: Wiring, lines: Lines, faults: &[Work], no_load_var: f64) -> [Z; 6] {
    let Lines { mut volts, mut amps } = lines;
    let phase = size(volts[0]);
    for Work(fault, factor) in faults {
        match *fault {
            Fault::Capacitors => {
                for k in 0..3 {
                    // They lead their own voltage by a quarter turn.
                    let current = times(volts[k], [0.0, factor * no_load_var / (3.0 * phase * phase)]);
                    amps[k] = sum(amps[k], current, 1.0);
                }
            }
            Fault::LineLost(k) => {
                let k = usize::from(k);
                let (next, last) = ((k + 1) % 3, (k + 2) % 3);
                amps[k] = [0.0; 2];
                amps[last] = times(amps[next], [-1.0, 0.0]);
            }
            _ => {}
        }
    }
    for Work(fault, share) in faults {
        if let Fault::LeadOpen(k) = *fault {
            // The two inputs lie in series across the other two lines, as their impedances share the voltage.
            let [next, last] = [1, 2].map(|n| volts[(usize::from(k) + n) % 3]);
            volts[usize::from(k)] = sum(times(next, [*share, 0.0]), times(last, [1.0 - share, 0.0]), 1.0);
        }
    }
    let leads = |faults: &[Work], volts: &mut [Z; 3]| {
        for Work(fault, _) in faults {
            if let Fault::LeadsSwapped(a, b) = *fault {
                volts.swap(usize::from(a), usize::from(b));
            }
        }
    };
    leads(faults, &mut volts);
    let [a, b, c] = volts;
    let mut out = match wiring {
        Wiring::FourWire => [a, b, c, amps[0], amps[1], amps[2]],
        Wiring::ThreeWire => [sum(a, b, -1.0), sum(b, c, -1.0), sum(c, a, -1.0), amps[0], amps[1], amps[2]],
        Wiring::TwoElement => [sum(a, b, -1.0), sum(c, b, -1.0), [0.0; 2], amps[0], [0.0; 2], amps[2]],
        Wiring::CurrentsOnly => [[0.0; 2], [0.0; 2], [0.0; 2], amps[0], amps[1], amps[2]],
    };
    for Work(fault, factor) in faults {
        match *fault {
            Fault::Swapped(i, k) => out.swap(usize::from(i), usize::from(k)),
            Fault::RolledOn(Side::Voltages) | Fault::RolledBack(Side::Voltages) => {
                let back = *fault == Fault::RolledBack(Side::Voltages);
                if wiring == Wiring::TwoElement {
                    // b, c, a in the places of a, b, c: bc and ac; or c, a, b: ca and ba.
                    out[..2].copy_from_slice(&if back {
                        [sum(c, a, -1.0), sum(b, a, -1.0)]
                    } else {
                        [sum(b, c, -1.0), sum(a, c, -1.0)]
                    });
                } else {
                    out[..3].rotate_left(if back { 2 } else { 1 });
                }
            }
            Fault::RolledOn(Side::Currents) | Fault::RolledBack(Side::Currents) => {
                let back = *fault == Fault::RolledBack(Side::Currents);
                if wiring == Wiring::TwoElement {
                    // The transformers sit on b and a, or on c and b.
                    (out[3], out[5]) = if back { (amps[2], amps[1]) } else { (amps[1], amps[0]) };
                } else {
                    out[3..].rotate_left(if back { 2 } else { 1 });
                }
            }
            Fault::Reversed(k) => out[usize::from(k)] = times(out[usize::from(k)], [-1.0, 0.0]),
            Fault::AllReversed(Side::Voltages) => out[..3].iter_mut().for_each(|x| *x = times(*x, [-1.0, 0.0])),
            Fault::AllReversed(Side::Currents) => out[3..].iter_mut().for_each(|x| *x = times(*x, [-1.0, 0.0])),
            Fault::Dead(k) => out[usize::from(k)] = [0.0; 2],
            Fault::Ratio(k) => out[usize::from(k)] = times(out[usize::from(k)], [*factor, 0.0]),
            Fault::AllRatio(Side::Voltages) => out[..3].iter_mut().for_each(|x| *x = times(*x, [*factor, 0.0])),
            Fault::AllRatio(Side::Currents) => out[3..].iter_mut().for_each(|x| *x = times(*x, [*factor, 0.0])),
            _ => {}
        }
    }
    out
}

pub fn phasors(channels: [Z; 6]) -> Phasors {
    let mut out = Phasors::default();
    for (k, (to, [re, im])) in out.0.iter_mut().zip(channels).enumerate() {
        let scale = if k < 3 { 65_536.0 } else { 131_072.0 };
        *to = ((re * scale).round() as i32, (im * scale).round() as i32);
    }
    out
}
