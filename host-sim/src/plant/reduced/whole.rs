//! The field while the motor hangs on all three lines: both modes of stator and rotor flux.
//!
//! ```text
//! e^(s t):   v = (R + (s + jw) H) i + (s + jw) d k psi     (s + Rr/Lr + j w_slip) psi = k Rr i
//! modes:     H s^2 + (R + jw H + H r + d k^2 Rr) s + r (R + jw H) + jw d k^2 Rr = 0,   r = Rr/Lr + j w_slip
//! against:   e = -jw (L' i + k D i),   D = k Rr / (Rr/Lr - j (w + p w_shaft))
//! ```
//!
//! d = 1 + R g, H = L + d L'. The slow mode is that of the reduced-order models of textbooks (Krause, Wasynczuk and
//! Sudhoff, *Analysis of Electric Machinery*, from memory: stator transients neglected); the fast one is the direct
//! component after switching, with its braking torque and its heat. It is dropped once it has died to a thousandth of
//! the current. What turns against the source is settled at once.

use super::course::{Course, Fade};
use super::field::{Field, Means, Pair, Rotor, Source, State};
use num_complex::Complex64 as Complex;

/// Below this share of the current the direct component has died.
const DEAD: f64 = 1e-3;

impl Field {
    /// Over a step, as the circuit sees it.
    pub(super) fn whole(&self, source: &Source, state: State, rotor: Rotor, h_s: f64) -> Means {
        let Self { ohm, henry, leakage, mutual, core, .. } = *self;
        let (k, jw) = (mutual / self.rotor, Complex::new(0.0, source.omega));
        let damped = 1.0 + ohm * core;
        let (h, pull) = (henry + damped * leakage, k * rotor.ohm);
        let r = Complex::new(rotor.ohm / self.rotor, source.omega - rotor.speed);
        let (with, against) = (source.with * self.inside, source.against * self.inside);

        // Where it settles: s = 0.
        let stator = ohm + jw * h;
        let settled_i = with / (stator + jw * damped * k * pull / r);
        let settled = State { current: settled_i, flux: settled_i * pull / r };
        // The modes.
        let half = (stator + h * r + damped * k * pull) / (-2.0 * h);
        let root = (half * half - (r * stator + jw * damped * k * pull) / h).sqrt();
        let (one, two) = (half + root, half - root);
        let (slow, fast) = if one.norm_sqr() < two.norm_sqr() { (one, two) } else { (two, one) };
        let (missing_flux, missing_current) = (state.flux - settled.flux, state.current - settled.current);
        // Current of a mode for its flux.
        let (per_slow, per_fast) = ((slow + r) / pull, (fast + r) / pull);
        let fast_flux = (missing_current - per_slow * missing_flux) / (per_fast - per_slow);
        let transient = (fast_flux * per_fast).norm_sqr() > DEAD * DEAD * settled_i.norm_sqr();
        let fast_flux = if transient { fast_flux } else { Complex::ZERO };
        let slow_flux = missing_flux - fast_flux;

        let fade = Fade::new(slow, transient.then_some(fast), h_s);
        let psi = Course([settled.flux, slow_flux, fast_flux]);
        let i = Course([settled_i, per_slow * slow_flux, per_fast * fast_flux]);
        let back = |i: Complex, s: Complex| -(ohm + (s + jw) * henry) / damped * i;
        let e = Course([with / damped + back(i.0[0], Complex::ZERO), back(i.0[1], slow), back(i.0[2], fast)]);
        let w = self.with(psi, i, e, &fade);

        let backward = self.backward(source.omega, rotor);
        let own = against / (ohm - jw * henry - damped * jw * (leakage + k * backward));
        let own_e = (against - (ohm - jw * henry) * own) / damped;
        let own_line = own + core * own_e;
        let squares = w.line_square + own_line.norm_sqr();
        // What stands still in space shows in all that a meter makes of a cycle.
        let (standing, space) = if transient {
            let line = Course([0, 1, 2].map(|n| i.0[n] + core * e.0[n]));
            line.standing(&fade, source.turn * source.turn, source.omega)
        } else {
            (Complex::ZERO, Complex::ZERO)
        };
        let stator_w = 1.5 * self.stator_ohm * squares;
        let end = State { flux: psi.end(&fade), current: i.end(&fade) };
        let field = |psi, i| self.field_j(psi, i, own.norm_sqr(), backward);
        let cage = w.cage_square + (backward - mutual).norm_sqr() / (self.rotor * self.rotor) * own.norm_sqr();
        Means {
            electrical_w: stator_w + 1.5 * (w.given + (own_e * own_line.conj()).re),
            stator_w,
            core_w: 1.5 * core * (w.core_square + own_e.norm_sqr()),
            rotor_w: 1.5 * rotor.ohm * cage,
            torque_nm: 1.5 * self.pole_pairs * k * (w.torque - backward.im * own.norm_sqr()),
            inside_square: squares,
            current: Pair { with: w.line, against: own_line + standing },
            current_space: w.line * own_line + space,
            volts: Pair { with: w.volts, against: own_e + self.stator_ohm * own_line },
            state: end,
            field_j: [field(psi.begin(), i.begin()), field(end.flux, end.current)],
            transient,
            ..Means::default()
        }
    }
}
