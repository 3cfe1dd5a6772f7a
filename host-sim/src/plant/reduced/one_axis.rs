//! The field while a line is lost: one axis carries all current, the stator settled.
//!
//! ```text
//! i = u a,  a along the axis u:   v_a = Z a + jw d k psi_a     both sequences carry a / 2, against: i = u^2 (with)*
//! y = 1 / (2 Z + jw d k D*),   i = y (u v_a - jw d k psi),   Z = R + jw (L + d L'),   D as in `whole`
//! ```
//!
//! The same as two sequences one after the other (`single_phase`), in time: what turns with the source follows the
//! rotor's flux, what turns against it is settled at once. The stator's share in the rotor's rate s (jw + s for jw, in
//! y and D) is found in some rounds. The direct component after the loss is left out.

use super::super::terminals::Axis;
use super::course::{Course, Fade};
use super::field::{Field, Means, Pair, Rotor, Source, State, along};
use num_complex::Complex64 as Complex;

/// Rounds to find the mode; it is found when its rate stays within this share.
const ROUNDS: u8 = 12;
const FOUND: f64 = 1e-6;

impl Field {
    /// Over a step, as the circuit sees it.
    pub(super) fn one_axis(&self, source: &Source, axis: &Axis, flux: Complex, rotor: Rotor, h_s: f64) -> Means {
        let Self { ohm, henry, leakage, mutual, core, .. } = *self;
        let (k, jw) = (mutual / self.rotor, Complex::new(0.0, source.omega));
        let damped = 1.0 + ohm * core;
        let pull = k * rotor.ohm;
        let r = Complex::new(rotor.ohm / self.rotor, source.omega - rotor.speed);
        let (own, opposed) = (source.with * self.inside, source.against * self.inside);
        let (u, along) = along(axis, own, opposed);
        let mirror = u * u;
        let backward = self.backward(source.omega, rotor);
        // Admittance, and what the rotor's flux induces, for a signal that turns at a complex frequency.
        let port = |s: Complex, backward: Complex| {
            let induced = s * (damped * k);
            (1.0 / (2.0 * (ohm + s * (henry + damped * leakage)) + induced * backward.conj()), induced)
        };
        let (y, induced) = port(jw, backward);
        let settled = pull * y * u * along / (r + pull * y * induced);
        let mut slow = -(r + pull * y * induced);
        let (mut y_slow, mut induced_slow, mut backward_slow) = (y, induced, backward);
        // The stator follows the rotor's rate too: a few rounds find the mode. Near standstill there may be none that
        // is near; then the first approximation has to do.
        let mut refined = (slow, y, induced, backward);
        for _ in 0..ROUNDS {
            let before = refined.0;
            let against = 1.0 / (1.0 / backward + before.conj() / pull);
            let (y, induced) = port(jw + before, against);
            refined = (-(r + pull * y * induced), y, induced, against);
            if (refined.0 - before).norm_sqr() < FOUND * FOUND * before.norm_sqr() && refined.0.re < 0.0 {
                (slow, y_slow, induced_slow, backward_slow) = refined;
                break;
            }
        }
        let fade = Fade::new(slow, None, h_s);
        let psi = Course([settled, flux - settled, Complex::ZERO]);
        let i = Course([y * (u * along - induced * settled), -y_slow * induced_slow * psi.0[1], Complex::ZERO]);
        let back = |i: Complex, s: Complex| -(ohm + s * henry) / damped * i;
        let e = Course([u * along / 2.0 / damped + back(i.0[0], jw), back(i.0[1], jw + slow), Complex::ZERO]);
        let w = self.with(psi, i, e, &fade);
        // The mirror image of the flux that turns against the source.
        let mirrored = Course([backward.conj() * i.0[0], backward_slow.conj() * i.0[1], Complex::ZERO]);
        let cage = Course([0, 1, 2].map(|n| mirrored.0[n] - mutual * i.0[n])).square(&fade) / (self.rotor * self.rotor);

        let volts = if source.upstream.is_none() {
            // Before the break the source is whole, but for the drop of the current that is left.
            let drop = u * along / 2.0 - w.volts;
            Pair { with: own - drop, against: opposed - mirror * drop.conj() }
        } else {
            // Square to the axis that is left, the motor holds the line with what it induces.
            let idle = jw * k / 2.0 * (psi.mean(&fade) - mirrored.mean(&fade));
            Pair { with: w.volts + idle, against: mirror * (w.volts - idle).conj() }
        };
        let squares = 2.0 * w.line_square;
        let stator_w = 1.5 * self.stator_ohm * squares;
        let (end, end_i) = (psi.end(&fade), i.end(&fade));
        // The whole current at the end, along the axis, for a line that comes back.
        let turn = source.turn * Complex::cis(source.omega * h_s);
        let current = u * (2.0 * u.conj() * end_i * turn).re * turn.conj();
        let field = |psi: Complex, i: Complex, mirrored: Complex| {
            1.5 * self.leakage * i.norm_sqr() + 0.75 * (psi.norm_sqr() + mirrored.norm_sqr()) / self.rotor
        };
        Means {
            electrical_w: stator_w + 3.0 * w.given,
            stator_w,
            core_w: 3.0 * core * w.core_square,
            rotor_w: 1.5 * rotor.ohm * (w.cage_square + cage),
            torque_nm: 1.5 * self.pole_pairs * k * (w.torque + mirrored.product(i, &fade).im),
            inside_square: squares,
            current: Pair { with: w.line, against: mirror * w.line.conj() },
            current_space: mirror * w.line_square,
            volts,
            state: State { flux: end, current },
            field_j: [field(flux, i.begin(), mirrored.begin()), field(end, end_i, mirrored.end(&fade))],
            ..Means::default()
        }
    }
}
