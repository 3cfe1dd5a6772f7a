//! The motor's field over a step at one speed.
//!
//! ```text
//! v = R (i + g e) + L di + e    e = d(L' i + k psi)    dpsi = -Rr/Lr psi + j p w_shaft psi + k Rr i     (at rest)
//! ```
//!
//! psi: rotor flux; L' stator leakage with the rotor's behind it; k = Lm/Lr; R, L of stator and source together. At one
//! speed and voltage these are linear: all quantities go exponentially to where they settle, and means of currents,
//! powers and torque over the step follow in closed form. What hangs on all three lines is in `whole`, what hangs on
//! one axis in `one_axis`; off the supply the flux dies with the rotor's own time constant.

use super::super::circuit::Circuit;
use super::super::motor::Impedance;
use super::super::supply::Connection;
use super::super::terminals::{Axis, Terminals, Windings};
use super::course::{Course, Fade};
use num_complex::Complex64 as Complex;

/// What of motor and source stays for one way of joining the windings.
#[derive(Debug, Clone, Copy)]
pub(super) struct Field {
    /// Resistance of the stator, and with the source's share, ohm.
    pub(super) stator_ohm: f64,
    pub(super) ohm: f64,
    /// Of the source, H.
    pub(super) henry: f64,
    /// Stator leakage with the rotor's behind it, rotor, mutual, H.
    pub(super) leakage: f64,
    pub(super) rotor: f64,
    pub(super) mutual: f64,
    pub(super) core: f64,
    pub(super) pole_pairs: f64,
    pub(super) windings: Windings,
    /// From the source's vectors to the circuit's, and from the circuit's currents and voltages to the lines'.
    pub(super) inside: Complex,
    current_out: Complex,
    volts_out: Complex,
}

/// What the source gives over a step: peaks of the vectors that turn with it and against it, V.
#[derive(Debug, Clone, Copy)]
pub(super) struct Source {
    pub(super) with: Complex,
    pub(super) against: Complex,
    /// Its frequency, rad/s, and e^(j theta) when the step begins.
    pub(super) omega: f64,
    pub(super) turn: Complex,
    pub(super) connection: Connection,
    /// What is left of the mains, if a line is lost before the transformer.
    pub(super) upstream: Option<Axis>,
    /// Whether the voltage is measured behind the contactor.
    pub(super) at_motor: bool,
}

/// The rotor over a step: its speed, electrical rad/s, and resistance, ohm.
#[derive(Debug, Clone, Copy)]
pub(super) struct Rotor {
    pub(super) speed: f64,
    pub(super) ohm: f64,
}

/// What the field remembers: rotor flux, V s, and current, A, in the frame that turns with the source.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct State {
    pub(super) flux: Complex,
    pub(super) current: Complex,
}

/// A quantity that turns with the source and against it.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Pair {
    pub(super) with: Complex,
    pub(super) against: Complex,
}

/// Means over a step.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Means {
    /// Taken at the terminals; heat of stator, core, rotor: W.
    pub(super) electrical_w: f64,
    pub(super) stator_w: f64,
    pub(super) core_w: f64,
    pub(super) rotor_w: f64,
    /// Torque of the field, N m.
    pub(super) torque_nm: f64,
    /// The square of the circuit's current, A².
    pub(super) inside_square: f64,
    /// Line current, A: peaks; the square of its length; half its square in space.
    pub(super) current: Pair,
    pub(super) current_square: f64,
    pub(super) current_space: Complex,
    /// Voltage at the meter, V.
    pub(super) volts: Pair,
    /// At the end.
    pub(super) state: State,
    /// Energy of the field at the beginning and at the end, J.
    pub(super) field_j: [f64; 2],
    /// Whether a direct component has not died yet.
    pub(super) transient: bool,
}

/// Means of the quantities that turn with the source, from their courses.
pub(super) struct With {
    pub(super) line: Complex,
    pub(super) line_square: f64,
    pub(super) core_square: f64,
    pub(super) cage_square: f64,
    /// Power behind the resistance over 1.5, torque over 1.5 p k.
    pub(super) given: f64,
    pub(super) torque: f64,
    pub(super) volts: Complex,
}

pub(super) fn complex([re, im]: [f64; 2]) -> Complex {
    Complex::new(re, im)
}

impl Field {
    pub(super) fn new(circuit: &Circuit, source: Impedance, windings: Windings) -> Self {
        let l = circuit.inductances_h();
        let share = windings.impedance_share();
        let inside = match windings.inside(Terminals::Fed([1.0, 0.0])) {
            Terminals::Fed(v) => complex(v),
            Terminals::OneAxis(..) | Terminals::Open => Complex::ONE,
        };
        Self {
            stator_ohm: circuit.stator_ohm,
            ohm: circuit.stator_ohm + share * source.ohm,
            henry: share * source.henry,
            leakage: l.stator - l.mutual * l.mutual / l.rotor,
            rotor: l.rotor,
            mutual: l.mutual,
            core: circuit.core_siemens,
            pole_pairs: circuit.pole_pairs,
            windings,
            inside,
            current_out: complex(windings.outside([1.0, 0.0])),
            volts_out: complex(windings.volts_outside([1.0, 0.0])),
        }
    }

    /// Over a step.
    pub(super) fn go(&self, source: &Source, state: State, rotor: Rotor, h_s: f64) -> Means {
        let mut means = match source.connection {
            Connection::Open => return self.open(source, state.flux, rotor, h_s),
            Connection::Whole => self.whole(source, state, rotor, h_s),
            Connection::OneAxis(axis) => match self.windings.inside(Terminals::OneAxis(axis, 0.0)) {
                Terminals::OneAxis(axis, _) => self.one_axis(source, &axis, state.flux, rotor, h_s),
                Terminals::Fed(_) | Terminals::Open => return self.open(source, state.flux, rotor, h_s),
            },
        };
        let (amps, volts) = (self.current_out, self.volts_out);
        means.current = Pair { with: means.current.with * amps, against: means.current.against * amps };
        means.current_square = means.inside_square * amps.norm_sqr();
        means.current_space *= amps * amps;
        means.volts = Pair { with: means.volts.with * volts, against: means.volts.against * volts };
        means
    }

    /// Off the supply.
    fn open(&self, source: &Source, flux: Complex, rotor: Rotor, h_s: f64) -> Means {
        let rate = rotor.ohm / self.rotor;
        let fade = Fade::new(Complex::new(-rate, rotor.speed - source.omega), None, h_s);
        let psi = Course([Complex::ZERO, flux, Complex::ZERO]);
        let volts = if source.at_motor {
            let induced = Complex::new(-rate, rotor.speed) * (self.mutual / self.rotor) * self.volts_out;
            Pair { with: psi.mean(&fade) * induced, against: Complex::ZERO }
        } else if let Some(axis) = source.upstream {
            let (u, along) = along(&axis, source.with, source.against);
            let with = u * along / 2.0;
            Pair { with, against: u * u * with.conj() }
        } else {
            Pair { with: source.with, against: source.against }
        };
        let end = psi.end(&fade);
        let field = |psi: Complex| 0.75 * psi.norm_sqr() / self.rotor;
        Means {
            rotor_w: 1.5 * rate / self.rotor * psi.square(&fade),
            volts,
            state: State { flux: end, current: Complex::ZERO },
            field_j: [field(flux), field(end)],
            ..Means::default()
        }
    }

    /// Means of what turns with the source, from flux, current and voltage behind the resistance.
    pub(super) fn with(&self, psi: Course, i: Course, e: Course, fade: &Fade) -> With {
        let sum = |a: Course, b: Course, share: f64| Course([0, 1, 2].map(|n| a.0[n] + share * b.0[n]));
        let line = sum(i, e, self.core);
        let cage = sum(psi, i, -self.mutual);
        let line_mean = line.mean(fade);
        With {
            line: line_mean,
            line_square: line.square(fade),
            core_square: e.square(fade),
            cage_square: cage.square(fade) / (self.rotor * self.rotor),
            given: e.product(line, fade).re,
            torque: i.product(psi, fade).im,
            volts: e.mean(fade) + self.stator_ohm * line_mean,
        }
    }

    /// How the flux that turns against the source follows its current: V s/A.
    pub(super) fn backward(&self, omega: f64, rotor: Rotor) -> Complex {
        self.mutual / self.rotor * rotor.ohm / Complex::new(rotor.ohm / self.rotor, -omega - rotor.speed)
    }

    /// Energy of the field, J, of flux and current with the source and the squared current against it.
    pub(super) fn field_j(&self, psi: Complex, i: Complex, against: f64, backward: Complex) -> f64 {
        let with = self.leakage * i.norm_sqr() + psi.norm_sqr() / self.rotor;
        0.75 * (with + against * (self.leakage + backward.norm_sqr() / self.rotor))
    }
}

/// The axis as a number, and the phasor of the source's voltage along it.
pub(super) fn along(axis: &Axis, with: Complex, against: Complex) -> (Complex, Complex) {
    let u = complex(axis.unit);
    (u, u.conj() * with + u * against.conj())
}
