//! Which faults cannot be seen at one load: those whose figures a sound motor of that nameplate may have as well.
//!
//! ```text
//! channels ── symmetrical components (Fortescue 1918) ── V0 V1 V2, I0 I1 I2
//! V0, V2      what a public supply may have                            I0    nothing: a motor has no neutral
//! V1 I1* = P + jQ, some load's of a motor that the settings allow      I2    what V2 drives through it
//! ```
//!
//! Written from the circuit and the standards alone, all in `f64`; nothing here asks the check. What the settings leave open:
//!
//! * the load: from uncoupled to 1.5 times rated current, which a motor bears for two minutes (IEC 60034-1, 9.3.2);
//! * the power factor: a sixth of 1 - cos phi, 0.02 at least and 0.07 at most (IEC 60034-1, table of tolerances). It names the
//!   lower side only; the upper one is taken alike. Held as one share of the var at every load;
//! * the locked-rotor current, and by it I2: 20 % (the same table, upper side only; taken alike), or where nobody tells it all
//!   from four to eight times the rated one (common practice, no source), the var at rated load being what the nameplate says;
//! * the supply: 10 % of voltage, 2 % of negative sequence (EN 50160); of zero sequence, which it does not limit, as much;
//! * transformers of class 1, the coarsest that settings know by name (IEC 61869-2 and -3), in their worst arrangement.
//!
//! The tolerance of slip (IEC 60034-1: 20 %) is not used: it moves the load at which a motor has some power and var, and the load is
//! free. All standards from memory.

use shaftwork_acceptance::machine::{Machine, Sheet};
use shaftwork_core::settings::Wiring;
use shaftwork_sim::plant::circuit::Circuit;

use super::lines::{Z, polar, size, sum, times};

/// IEC 60034-1, 9.3.2: occasional excess current over rated.
const MOST_CURRENT: f64 = 1.5;
/// EN 50160: voltage off nominal; negative over positive sequence.
const SUPPLY: [f64; 2] = [0.10, 0.02];
/// IEC 60034-1: tolerance of the locked-rotor current.
const LOCKED: f64 = 0.20;
/// Locked-rotor current over rated where nobody tells it.
const USUAL_LOCKED: std::ops::RangeInclusive<u32> = 4..=8;
/// IEC 61869-3, class 1: ratio, and minutes of arc.
const VOLTAGE_CLASS: [f64; 2] = [0.01, 40.0];
/// IEC 61869-2, class 1: share of rated current, ratio, minutes of arc.
const CURRENT_CLASS: [[f64; 3]; 3] = [[0.05, 0.03, 180.0], [0.2, 0.015, 90.0], [1.0, 0.01, 60.0]];

/// Sound motors that the settings allow, and how they are measured.
pub struct Sound {
    wiring: Wiring,
    phase_v: f64,
    rated_a: f64,
    /// Share of the var that the power factor's tolerance is.
    var_share: f64,
    motors: Vec<Like>,
}

/// One of them.
struct Like {
    /// Power, var and current from no load on, at rated voltage.
    curve: Vec<[f64; 3]>,
    /// Negative-sequence admittances that it may have, siemens.
    negative: Vec<Z>,
}

/// Components of the channels: phase voltages and currents.
struct Sequences {
    volts: [Z; 3],
    amps: [Z; 3],
}

impl Sound {
    pub fn new(machine: &Machine, wiring: Wiring, sheet: Sheet) -> Self {
        let (circuit, rated) = (&machine.circuit, machine.plate().rated);
        let cosine = rated.power_factor;
        let tan = |cosine: f64| cosine.acos().tan();
        let lower = cosine - ((1.0 - cosine) / 6.0).clamp(0.02, 0.07);
        let motors = if sheet == Sheet::Least {
            // Half steps; the tolerance of the var is far wider than what lies between.
            let halves = 2 * USUAL_LOCKED.start()..=2 * USUAL_LOCKED.end();
            halves
                .filter_map(|half| with_locked(circuit, machine.rated_w, f64::from(half) / 2.0))
                .map(|circuit| Like::new(&circuit, machine, &[1.0]))
                .collect()
        } else {
            vec![Like::new(circuit, machine, &[1.0 / (1.0 + LOCKED), 0.9, 1.0, 1.1, 1.0 + LOCKED])]
        };
        Self {
            wiring,
            phase_v: circuit.line_v / 3.0_f64.sqrt(),
            rated_a: rated.current_a,
            var_share: tan(lower) / tan(cosine) - 1.0,
            motors,
        }
    }

    /// Whether some sound motor shows these channels at some load.
    pub fn may_show(&self, channels: [Z; 6]) -> bool {
        let Sequences { volts: [v0, v1, v2], amps: [i0, i1, i2] } = self.sequences(channels);
        let [v, i] = [size(v1), size(i1)];
        // Of two channels the third is a sum: both errors together are 2/sqrt 3 of one in either sequence.
        let worse = if self.wiring == Wiring::TwoElement { 2.0 / 3.0_f64.sqrt() } else { 1.0 };
        let [[v_ratio, v_turn], [i_ratio, i_turn]] =
            [voltage_limit(), current_limit(i / self.rated_a)].map(|one| one.map(|x| x * worse));
        let [v_error, i_error] = [v_ratio.hypot(v_turn), i_ratio.hypot(i_turn)];
        if (v / self.phase_v - 1.0).abs() > SUPPLY[0] + v_ratio
            || size(v0).max(size(v2)) > (SUPPLY[1] + v_error) * v
            || size(i0) > i_error * i
        {
            return false;
        }
        let [p, q] = times(v1, [i1[0], -i1[1]]).map(|x| 3.0 * x);
        let var_error = (v_ratio + i_ratio) * q.abs() + (v_turn + i_turn) * p.abs();
        self.motors.iter().any(|motor| {
            let var = motor.var(p, v / self.phase_v, MOST_CURRENT * self.rated_a);
            let near = var.is_some_and(|var| (q - var).abs() <= self.var_share * var + var_error);
            near && motor.negative.iter().any(|admittance| {
                let driven = times(*admittance, v2);
                size(sum(i2, driven, -1.0)) <= i_error * i + size(*admittance) * v_error * v
            })
        })
    }

    fn sequences(&self, c: [Z; 6]) -> Sequences {
        let zero = [0.0; 2];
        let less = |a: Z, b: Z| sum(a, b, -1.0);
        let (volts, amps) = match self.wiring {
            Wiring::TwoElement => {
                ([c[0], less(zero, c[1]), less(c[1], c[0])], [c[3], less(zero, sum(c[3], c[5], 1.0)), c[5]])
            }
            _ => ([c[0], c[1], c[2]], [c[3], c[4], c[5]]),
        };
        let [mut volts, amps] = [volts, amps].map(|[a, b, c]| {
            [0.0, 120.0, 240.0].map(|turn| {
                let all = sum(sum(a, times(b, polar(1.0, turn)), 1.0), times(c, polar(1.0, -turn)), 1.0);
                all.map(|x| x / 3.0)
            })
        });
        if self.wiring != Wiring::FourWire {
            // Between lines the positive sequence leads the phase's by 30 degrees, the negative one lags it.
            let phase = 1.0 / 3.0_f64.sqrt();
            volts = [volts[0], times(volts[1], polar(phase, -30.0)), times(volts[2], polar(phase, 30.0))];
        }
        Sequences { volts, amps }
    }
}

impl Like {
    /// `tolerance`: shares of the circuit's own negative-sequence admittance.
    fn new(circuit: &Circuit, machine: &Machine, tolerance: &[f64]) -> Self {
        let curve = (0..=40).map_while(|step| circuit.at_shaft_w(machine.rated_w * f64::from(step) / 20.0));
        let curve =
            curve.map(|point| [point.input_w, point.input_w * point.power_factor.acos().tan(), point.current_a]);
        // At slip 2 - s; s is all but nothing beside 2.
        let back = circuit.at_slip(2.0);
        let own = polar(back.current_a * 3.0_f64.sqrt() / circuit.line_v, -back.power_factor.acos().to_degrees());
        Self { curve: curve.collect(), negative: tolerance.iter().map(|share| times(own, [*share, 0.0])).collect() }
    }

    /// Its var where it takes this power at this voltage over rated; none beyond its loads. At one slip power and var go with the
    /// square of the voltage.
    fn var(&self, power: f64, voltage: f64, most_a: f64) -> Option<f64> {
        let square = voltage * voltage;
        let power = power / square;
        let pair = self.curve.windows(2).find(|pair| (pair[0][0]..=pair[1][0]).contains(&power))?;
        let share = (power - pair[0][0]) / (pair[1][0] - pair[0][0]);
        let at = |figure: usize| pair[0][figure] + share * (pair[1][figure] - pair[0][figure]);
        (at(2) * voltage <= most_a).then(|| at(1) * square)
    }
}

/// The motor with leakages that make such a locked-rotor current, over the rated one, and the same power factor at rated load;
/// none where no magnetising makes it.
fn with_locked(circuit: &Circuit, rated_w: f64, times_rated: f64) -> Option<Circuit> {
    let rated = circuit.at_shaft_w(rated_w).expect("the motor bears its rated load");
    let leaking = |ohm: f64| Circuit { stator_leakage_ohm: ohm, rotor_leakage_ohm: ohm, ..circuit.clone() };
    // More of either reactance, less current; where the resistances alone leave less, hardly any leakage.
    let ohm =
        bisect(circuit.magnetising_ohm, |ohm| leaking(ohm).at_slip(1.0).current_a > times_rated * rated.current_a);
    let magnetised = |magnetising_ohm: f64| Circuit { magnetising_ohm, ..leaking(ohm) };
    // One that does not bear its load has too little of it.
    let ohm = bisect(40.0 * circuit.magnetising_ohm, |ohm| {
        magnetised(ohm).at_shaft_w(rated_w).is_none_or(|point| point.power_factor < rated.power_factor)
    });
    let found = magnetised(ohm);
    let off = found.at_shaft_w(rated_w)?.power_factor - rated.power_factor;
    (off.abs() < 1e-3).then_some(found)
}

/// The end of the part of 0 to `high` where it holds.
fn bisect(high: f64, holds: impl Fn(f64) -> bool) -> f64 {
    let (mut low, mut high) = (0.0, high);
    for _ in 0..30 {
        let middle = f64::midpoint(low, high);
        if holds(middle) { low = middle } else { high = middle }
    }
    high
}

fn voltage_limit() -> [f64; 2] {
    let [ratio, minutes] = VOLTAGE_CLASS;
    [ratio, (minutes / 60.0).to_radians()]
}

/// Straight between the standard's points.
fn current_limit(share: f64) -> [f64; 2] {
    let [first, .., last] = CURRENT_CLASS;
    let share = share.clamp(first[0], last[0]);
    let pair = CURRENT_CLASS.windows(2).find(|pair| share <= pair[1][0]).expect("clamped");
    let part = (share - pair[0][0]) / (pair[1][0] - pair[0][0]);
    let [ratio, minutes] = [1, 2].map(|k| pair[0][k] + part * (pair[1][k] - pair[0][k]));
    [ratio, (minutes / 60.0).to_radians()]
}
