//! A motor under a recorded load: its speed by the rotor's inertia, its currents by its circuit.
//!
//! ```text
//! J dw/dt = T(w) - T_load(t, w)        T, I, P by the steady circuit at that speed and the recorded voltage
//! ```
//!
//! What is left out passes within a cycle or two: the flux that builds up when current comes, and its ripple of torque. A step goes
//! by the slope at its begin and how that changes with speed (Rosenbrock's method of first order): it stays stable where the motor's
//! own time constant is shorter than the step.

use crate::plant::circuit::Circuit;
use crate::plant::steady::Point;

/// Share of synchronous speed at which a start is over, as the core has it.
const UP: f64 = 0.95;
/// Steps of a half cycle; even, so that one ends in its middle.
const STEPS: u32 = 2;
/// Over which the slope of the torque is taken, rad/s.
const NEAR_RAD_S: f64 = 0.01;

/// What the mains and the mill do over a half cycle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Load {
    /// Line to line, V; `None`: off.
    pub line_v: Option<f64>,
    /// Torque of the mill at the motor's shaft, N m.
    pub nm: f64,
    /// Whether the torque is that of an empty mill at synchronous speed, which goes with the square of speed (windage; common
    /// practice, no source).
    pub windage: bool,
}

impl Load {
    fn at(&self, share: f64) -> f64 {
        if self.windage { self.nm * share * share } else { self.nm }
    }
}

/// A motor with the mill's rotor on its shaft.
#[derive(Debug, Clone)]
pub struct Drive {
    circuit: Circuit,
    inertia_kg_m2: f64,
    /// Slip of the largest torque.
    breakdown: f64,
    speed_rad_s: f64,
    phase: Phase,
}

/// Where it is.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Phase {
    Off,
    /// Coming to speed, for so long, s.
    Starting(f64),
    AtSpeed,
    /// Below the slip of the largest torque, though it was at speed.
    PulledOut,
}

/// What became of a half cycle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// In its middle; `None`: off.
    pub point: Option<Point>,
    /// Current went before it was at speed.
    pub fails: bool,
    /// A start came to its end, after so long, s.
    pub run_up_s: Option<f64>,
    /// A motor that was at speed was pulled below the slip of its largest torque.
    pub pulled_out: bool,
}

impl Drive {
    /// At rest; the inertia is of all that turns.
    pub fn new(circuit: Circuit, inertia_kg_m2: f64) -> Self {
        let breakdown = circuit.breakdown().slip;
        Self { circuit, inertia_kg_m2, breakdown, speed_rad_s: 0.0, phase: Phase::Off }
    }

    /// Begins anew, at rest or already at work under a load.
    pub fn begin(&mut self, at_work: Option<Load>) {
        self.phase = at_work.map_or(Phase::Off, |_| Phase::AtSpeed);
        let settled = at_work.and_then(|load| {
            let circuit = Circuit { line_v: load.line_v?, ..self.circuit.clone() };
            circuit.settle(|speed| load.at(speed / circuit.synchronous_rad_s()))
        });
        let sync = self.circuit.synchronous_rad_s();
        self.speed_rad_s = match (settled, at_work) {
            (Some(point), _) => sync * (1.0 - point.slip),
            (None, Some(_)) => sync * (1.0 - self.breakdown),
            (None, None) => 0.0,
        };
    }

    /// Whether current flowed in the last half cycle.
    pub fn flows(&self) -> bool {
        self.phase != Phase::Off
    }

    /// Whether it has come to speed since current flows.
    pub fn has_run_up(&self) -> bool {
        matches!(self.phase, Phase::AtSpeed | Phase::PulledOut)
    }

    /// Goes on by a half cycle.
    pub fn half_cycle(&mut self, h_s: f64, load: &Load) -> Step {
        let circuit = load.line_v.map(|line_v| Circuit { line_v, ..self.circuit.clone() });
        let sync = self.circuit.synchronous_rad_s();
        let mut point = None;
        for step in 0..STEPS {
            self.step(h_s / f64::from(STEPS), circuit.as_ref(), load);
            if step + 1 == STEPS / 2 {
                point = circuit.as_ref().map(|circuit| circuit.at_slip(1.0 - self.speed_rad_s / sync));
            }
        }
        let slip = 1.0 - self.speed_rad_s / sync;
        let mut done = Step { point, fails: false, run_up_s: None, pulled_out: false };
        let up = slip <= 1.0 - UP;
        self.phase = match self.phase {
            before if circuit.is_none() => {
                done.fails = matches!(before, Phase::Starting(_));
                Phase::Off
            }
            Phase::Off => Phase::Starting(h_s),
            Phase::Starting(s) if up => {
                done.run_up_s = Some(s + h_s);
                Phase::AtSpeed
            }
            Phase::Starting(s) => Phase::Starting(s + h_s),
            Phase::AtSpeed if slip > self.breakdown.max(1.0 - UP) => {
                done.pulled_out = true;
                Phase::PulledOut
            }
            Phase::PulledOut if up => Phase::AtSpeed,
            other => other,
        };
        done
    }

    fn step(&mut self, h_s: f64, circuit: Option<&Circuit>, load: &Load) {
        let sync = self.circuit.synchronous_rad_s();
        let slope = |speed: f64| {
            let torque = circuit.map_or(0.0, |circuit| circuit.at_slip(1.0 - speed / sync).shaft_nm);
            (torque - load.at(speed / sync)) / self.inertia_kg_m2
        };
        let here = slope(self.speed_rad_s);
        let steeper = (slope(self.speed_rad_s + NEAR_RAD_S) - here) / NEAR_RAD_S;
        // Where the slope grows with speed (beyond the largest torque) the plain step is the stable one.
        let moved = h_s * here / (1.0 - h_s * steeper.min(0.0));
        // A load stops the rotor; it does not turn it back.
        self.speed_rad_s = (self.speed_rad_s + moved).max(0.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const H_S: f64 = 0.01;

    fn empty(nm: f64) -> Load {
        Load { line_v: Some(400.0), nm, windage: true }
    }

    /// The time of a start is the integral of J dw / (T - T_load) over speed (any textbook on drives; here summed in 20 000 steps).
    #[test]
    fn a_start_takes_the_integral_over_speed() {
        let (circuit, inertia) = (Circuit::mill_55_kw(), 16.8);
        let sync = circuit.synchronous_rad_s();
        let n = 20_000;
        let wanted: f64 = (0..n)
            .map(|k| {
                let share = (f64::from(k) + 0.5) / f64::from(n) * UP;
                let torque = circuit.at_slip(1.0 - share).shaft_nm - 45.0 * share * share;
                inertia * sync * UP / f64::from(n) / torque
            })
            .sum();
        let mut drive = Drive::new(circuit, inertia);
        drive.begin(None);
        let found = (0..10_000).find_map(|_| drive.half_cycle(H_S, &empty(45.0)).run_up_s).unwrap();
        assert!((found - wanted).abs() < 2.0 * H_S, "{found} {wanted}");
        assert!(drive.has_run_up());
    }

    /// At work it settles where the steady solver says, also where its own time constant is far below the step.
    #[test]
    fn it_settles() {
        for inertia in [0.05, 1.0, 16.8] {
            let circuit = Circuit::mill_55_kw();
            let wanted = circuit.settle(|_| 355.0).unwrap();
            let mut drive = Drive::new(circuit, inertia);
            drive.begin(Some(empty(45.0)));
            let load = Load { line_v: Some(400.0), nm: 355.0, windage: false };
            let mut last = None;
            for _ in 0..500 {
                last = drive.half_cycle(H_S, &load).point;
            }
            let last = last.unwrap();
            assert!(
                (last.shaft_nm - 355.0).abs() < 0.01 && (last.slip - wanted.slip).abs() < 1e-6,
                "{inertia}: {last:?}"
            );
        }
    }

    /// Kinetic energy of the rotor carries a surge beyond the largest torque for a while, and no longer: from the speed at which the
    /// load came to that of the largest torque it gives J (w1² - w2²) / 2 (mechanics).
    #[test]
    fn inertia_carries_a_short_surge() {
        let circuit = Circuit::mill_55_kw();
        let most = circuit.breakdown();
        let surge = Load { line_v: Some(400.0), nm: 1.5 * most.shaft_nm, windage: false };
        let carries = |inertia: f64| {
            let mut drive = Drive::new(circuit.clone(), inertia);
            drive.begin(Some(empty(45.0)));
            (0..2_000).find(|_| drive.half_cycle(H_S, &surge).pulled_out).map(|n| f64::from(n) * H_S).unwrap()
        };
        let (light, heavy) = (carries(5.0), carries(20.0));
        // Four times the inertia, four times the time, to the grid of half cycles.
        assert!((heavy / light - 4.0).abs() < 0.15, "{light} {heavy}");
        // The motor gives at most its largest torque meanwhile: longer than half the surge's excess over none of it would take.
        let sync = circuit.synchronous_rad_s();
        let slowest = 20.0 * sync * most.slip / (surge.nm - most.shaft_nm);
        let quickest = 20.0 * sync * most.slip / surge.nm;
        assert!((0.9 * quickest..1.1 * slowest).contains(&heavy), "{quickest} {heavy} {slowest}");
    }

    #[test]
    fn off_it_coasts() {
        let mut drive = Drive::new(Circuit::mill_55_kw(), 16.8);
        drive.begin(Some(empty(45.0)));
        let off = Load { line_v: None, nm: 45.0, windage: true };
        let before = drive.speed_rad_s;
        for _ in 0..1_000 {
            assert_eq!(drive.half_cycle(H_S, &off).point, None);
        }
        // dw/dt = -(T / J) (w / ws)²: 1/w grows evenly.
        let sync = drive.circuit.synchronous_rad_s();
        let wanted = 1.0 / (1.0 / before + 10.0 * 45.0 / 16.8 / sync / sync);
        assert!((drive.speed_rad_s - wanted).abs() < 0.05, "{} {wanted}", drive.speed_rad_s);
        assert!(!drive.has_run_up());
    }
}
