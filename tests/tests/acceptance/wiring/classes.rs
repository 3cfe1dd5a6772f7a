//! Which faults there are, which pairs of them are asked, and which answers are right.

use shaftwork_core::settings::Wiring;
use shaftwork_core::wiring::{Diagnosis, Fault, Faults, Side};
use shaftwork_sim::plant::circuit::Circuit;

use super::lines::{Supply, Work, channels, motor, size, sum, times};

/// Faults that channels' sizes or a line's current tell, not the order and the signs.
fn stays(fault: Fault) -> bool {
    use Fault::{AllRatio, Capacitors, Clipped, Dead, LeadOpen, LineLost, Ratio};
    matches!(fault, Dead(_) | LineLost(_) | LeadOpen(_) | Ratio(_) | AllRatio(_) | Capacitors | Clipped)
}

fn lasting(set: Faults) -> Faults {
    set.iter().filter(|fault| stays(*fault)).fold(Faults::NONE, Faults::with)
}

/// Whether two sets turn the lines into the same figures but for a common turn: whichever way the supply turns. `share` is
/// how two inputs in series at an open lead divide their voltage.
pub fn alike(wiring: Wiring, a: Faults, b: Faults, share: f64) -> bool {
    if lasting(a) != lasting(b) {
        return false;
    }
    let seen = |set: Faults| {
        let circuit = Circuit::default();
        let backwards = set.has(Fault::SupplyReversed);
        let work: Vec<Work> = set
            .iter()
            .filter(|f| !matches!(f, Fault::Ratio(_) | Fault::AllRatio(_)))
            .map(|f| Work(f, if matches!(f, Fault::LeadOpen(_)) { share } else { 1.0 }))
            .collect();
        let supply = Supply { voltage: 1.0, unbalance: 0.0, angle: 0.0 };
        let all = channels(wiring, motor(&circuit, 55e3, 0.6, supply, backwards), &work, 0.0);
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
            _ => out.push(Work(fault, 1.0)),
        }
    }
    out
}

/// Whether a case is left out of the first count, and only in the second: one fault hides what the other does, or they lie
/// outside of what the diagnosis is for.
pub fn apart(wiring: Wiring, faults: &[Work]) -> bool {
    use Fault::{AllRatio, Capacitors, Dead, LeadOpen, LeadsSwapped, LineLost, Ratio, Reversed, RolledBack, RolledOn};
    let two = wiring == Wiring::TwoElement;
    let [Work(a, _), Work(b, _)] = faults else {
        // Two of three lines with two transformers: a lost line is a dead current.
        return two && matches!(faults, [Work(LineLost(k), _)] if *k != 1);
    };
    let key = |fault: &Fault| match fault {
        Dead(k) | Ratio(k) => 1_u8 << k,
        AllRatio(Side::Voltages) | LeadOpen(_) => 0b111,
        LineLost(_) | AllRatio(Side::Currents) => 0b111_000,
        _ => 0,
    };
    // Both work on the same channels' sizes.
    let same_sizes = key(a) & key(b) != 0;
    let other = |pick: fn(&Fault) -> bool| match (pick(a), pick(b)) {
        (true, _) => Some(b),
        (_, true) => Some(a),
        _ => None,
    };
    // With a line lost the currents have no order, and nothing to compare the voltages' with; and no motor turns for long
    // on two lines with capacitors.
    let lost = other(|f| matches!(f, LineLost(_))).is_some_and(|other| {
        matches!(other, LineLost(_) | LeadOpen(_) | Capacitors) || (!stays(*other) && !matches!(other, Reversed(0..3)))
    });
    // With the leads of two voltages moved another line's is the common one.
    let open = two
        && other(|f| matches!(f, LeadOpen(_))).is_some_and(|other| {
            matches!(other, LeadsSwapped(..) | RolledOn(Side::Voltages) | RolledBack(Side::Voltages))
        });
    let line = two && [a, b].into_iter().any(|f| matches!(f, LineLost(0 | 2)));
    same_sizes || lost || open || line
}

/// What an answer is worth.
pub struct Answer {
    /// Some set of it is the truth, or its like in every figure.
    pub strict: bool,
    /// That, or a set of the classes of docs/wiring.md.
    pub right: bool,
    /// All sets of it are.
    pub alone: bool,
}

/// Weighs an answer against what was done.
pub fn weigh(wiring: Wiring, faults: &[Work], found: &Diagnosis) -> Answer {
    let done = faults.iter().fold(Faults::NONE, |set, work| set.with(work.0));
    let sets = match found {
        Diagnosis::Explained(class) => class.sets(),
        _ => &[],
    };
    let share = faults.iter().find(|work| matches!(work.0, Fault::LeadOpen(_))).map_or(0.5, |work| work.1);
    let strict = sets.iter().any(|set| alike(wiring, done, *set, share));
    // Two wrong currents of two by one factor are all of them.
    let truth = match (wiring, faults) {
        (Wiring::TwoElement, [Work(Fault::Ratio(a), x), Work(Fault::Ratio(b), y)])
            if a / 3 == b / 3 && x.total_cmp(y).is_eq() =>
        {
            Faults::NONE.with(Fault::AllRatio(if *a < 3 { Side::Voltages } else { Side::Currents }))
        }
        _ => done,
    };
    // How two inputs in series share their voltage is nobody's knowledge: like ones tell no exchange.
    let like = |set: &Faults| alike(wiring, truth, *set, 0.5);
    // Without any current the motor may as well stand.
    let none = (3..6).all(|k| !Fault::Dead(k).exists(wiring) || done.has(Fault::Dead(k)));
    let right = strict || sets.iter().any(like) || (none && *found == Diagnosis::Idle);
    Answer { strict, right, alone: right && sets.iter().all(like) }
}

/// Whether an answer is that all is well.
pub fn sound(found: &Diagnosis) -> bool {
    matches!(found, Diagnosis::Explained(class) if class.sets().first() == Some(&Faults::NONE))
}

/// The faults' names without their channels.
pub fn kinds(faults: &[Work]) -> String {
    let kind =
        |work: &Work| format!("{:?}", work.0).split(|c: char| c.is_ascii_digit()).next().unwrap_or_default().to_owned();
    faults.iter().map(kind).collect::<Vec<_>>().join(" + ")
}
