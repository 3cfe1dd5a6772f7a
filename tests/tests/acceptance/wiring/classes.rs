//! Which faults there are, which pairs of them, and which sets are one class.

use shaftwork_core::settings::Wiring;
use shaftwork_core::wiring::{Fault, Faults, Side};
use shaftwork_sim::plant::circuit::Circuit;

use super::lines::{Work, channels, motor, size, sum, times};

/// What of a set moves or turns channels.
pub fn moves(set: Faults) -> Faults {
    set.iter()
        .filter(|fault| {
            !matches!(
                fault,
                Fault::Dead(_)
                    | Fault::LineLost(_)
                    | Fault::LeadOpen(_)
                    | Fault::Ratio(_)
                    | Fault::AllRatio(_)
                    | Fault::Capacitors
                    | Fault::Clipped
            )
        })
        .fold(Faults::NONE, Faults::with)
}

/// Whether two sets turn the lines into the same figures but for a common turn: whichever way the supply turns. How two
/// inputs in series share their voltage is not known beforehand: no share tells sets apart.
pub fn alike(wiring: Wiring, a: Faults, b: Faults) -> bool {
    let rest = |set: Faults| set.iter().filter(|f| !moves(set).has(*f)).fold(Faults::NONE, Faults::with);
    if rest(a) != rest(b) {
        return false;
    }
    let seen = |set: Faults| {
        let circuit = Circuit::default();
        let backwards = set.has(Fault::SupplyReversed);
        let work: Vec<Work> = set
            .iter()
            .filter(|f| !matches!(f, Fault::Ratio(_) | Fault::AllRatio(_)))
            .map(|f| Work(f, if matches!(f, Fault::LeadOpen(_)) { 0.5 } else { 1.0 }))
            .collect();
        let all = channels(wiring, motor(&circuit, 55e3, 0.6, 1.0, 0.0, backwards), &work, 0.0);
        let first = all.into_iter().find(|x| size(*x) > 1e-9).unwrap_or([1.0, 0.0]);
        let back = [first[0] / size(first), -first[1] / size(first)];
        all.map(|x| times(x, back))
    };
    seen(a).iter().zip(seen(b)).all(|(x, y)| size(sum(*x, y, -1.0)) < 1e-6 * (1.0 + size(*x)))
}

/// Every fault that the wiring has, ratios with factors that are met: one and two steps of usual ratios, the root of three
/// between star and delta, a decimal point.
pub fn singles(wiring: Wiring) -> Vec<Work> {
    let root = 3.0_f64.sqrt();
    let mut out = Vec::new();
    for fault in Fault::ALL.into_iter().filter(|fault| fault.exists(wiring)) {
        match fault {
            Fault::Ratio(_) | Fault::AllRatio(Side::Currents) => {
                out.extend([0.5, 1.0 / root, root, 2.0, 10.0].map(|factor| Work(fault, factor)));
            }
            Fault::AllRatio(Side::Voltages) => {
                out.extend([0.001, 1.0 / root, root].map(|factor| Work(fault, factor)));
            }
            // Inputs of like impedance, and of 1 to 2.
            Fault::LeadOpen(_) => out.extend([0.5, 0.35].map(|share| Work(fault, share))),
            // Of the motor's own var at no load; 0.9 is the most that a motor's own capacitors should take.
            Fault::Capacitors => out.extend([0.5, 0.9].map(|share| Work(fault, share))),
            // Two of three lines with two transformers: what is left is no sum to nothing.
            Fault::LineLost(k) if wiring == Wiring::TwoElement && k != 1 => {}
            _ => out.push(Work(fault, 1.0)),
        }
    }
    out
}

/// Both work on the same channels' sizes, so that one hides the other, or both are one fault of its kind.
pub fn clash(wiring: Wiring, a: Fault, b: Fault) -> bool {
    use Fault::{AllRatio, Capacitors, Clipped, Dead, LeadOpen, LeadsSwapped, LineLost, Ratio, RolledBack, RolledOn};
    let key = |fault: Fault| match fault {
        Dead(k) | Ratio(k) => Some(1_u8 << k),
        AllRatio(Side::Voltages) | LeadOpen(_) => Some(0b111),
        LineLost(_) | AllRatio(Side::Currents) => Some(0b111_000),
        _ => None,
    };
    if a == b {
        return true;
    }
    // A lead's line that is lost floats anyway.
    if matches!((a, b), (LineLost(_), LeadOpen(_)) | (LeadOpen(_), LineLost(_))) {
        return true;
    }
    // With the leads of two voltages moved another line's is the common one; the open one's channel is dead, which is counted.
    if wiring == Wiring::TwoElement
        && let (LeadOpen(_), other) | (other, LeadOpen(_)) = (a, b)
        && matches!(other, LeadsSwapped(..) | RolledOn(Side::Voltages) | RolledBack(Side::Voltages))
    {
        return true;
    }
    // With a line lost the currents have no order, and nothing to compare the voltages' with.
    if let (LineLost(_), other) | (other, LineLost(_)) = (a, b)
        && (Faults::NONE.with(other) == moves(Faults::NONE.with(other)))
        && !matches!(other, Fault::Reversed(0..3))
    {
        return true;
    }
    // No motor starts or turns on two lines with capacitors in the same state; not a fault of wiring.
    if matches!((a, b), (LineLost(_), Capacitors) | (Capacitors, LineLost(_))) || matches!((a, b), (Clipped, Clipped)) {
        return true;
    }
    matches!((key(a), key(b)), (Some(x), Some(y)) if x & y != 0)
}

/// A fault's name without its channel.
pub fn kind(fault: Fault) -> String {
    format!("{fault:?}").split(|c: char| c.is_ascii_digit()).next().unwrap_or_default().to_owned()
}
