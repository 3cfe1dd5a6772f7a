//! One step: the speed that goes with the mean torques.
//!
//! ```text
//! J (w1 - w0) / h = mean(field's torque - stray - friction - load) at w = (w0 + w1) / 2
//! ```
//!
//! The implicit rule of the midpoint, so that a stiff load (strikes on a rotor that nearly stands) stays calm and the
//! energy of rotation is the work of the torques.

use super::super::mill::fade;
use super::super::motor::LONGEST_STEP_S;
use super::super::terminals::Windings;
use super::Reduced;
use super::field::{Field, Means, Rotor, Source};
use super::mains::source;
use super::record::Sums;

/// The speed in the middle of a step is found to this share of synchronous speed.
const CLOSE: f64 = 1e-5;
/// Attempts at it.
const ATTEMPTS: u8 = 8;
/// Far above the speed at which strikes, wedge and drag fade, rad/s.
const FULL_RAD_S: f64 = 100.0;
/// Sums over a half cycle.
#[derive(Default)]
pub(super) struct Half {
    pub(super) sums: Sums,
    pub(super) shaft_nms: f64,
    pub(super) load_nms: f64,
}

impl Reduced {
    /// One step: the speed in its middle is sought at which the mean torques lead to that very speed.
    pub(super) fn step(&mut self, h: f64, half: &mut Half) {
        let middle = self.t_s + h / 2.0;
        let supply = &self.scenario.supply;
        self.load.advance(self.t_s, self.mill_speed());
        let source = source(supply, self.t_s, h);
        let field = &self.fields[usize::from(supply.windings(middle) == Windings::Star)];
        let close = CLOSE * self.circuit.synchronous_rad_s();
        // The load's change is known, the field's torque follows slowly.
        let breaking_nm = self.load.mean_breaking_nm(self.t_s, self.t_s + h, FULL_RAD_S);
        let slope = self.slope - (breaking_nm * fade(self.speed_rad_s) - self.breaking_nm) / self.inertia_kg_m2;
        let mut guess = self.speed_rad_s + h / 2.0 * slope;
        let mut before: Option<(f64, f64)> = None;
        let mut attempts = 0;
        let trial = loop {
            let trial = self.trial(field, &source, breaking_nm, guess, h);
            let miss = self.speed_rad_s + h / 2.0 * trial.slope - guess;
            attempts += 1;
            if miss.abs() < close || attempts == ATTEMPTS {
                break trial;
            }
            let next = match before {
                // Along the line through the last two attempts.
                Some((at, missed)) if (miss - missed).abs() > 1e-3 * (guess - at).abs() => {
                    guess - miss * (guess - at) / (miss - missed)
                }
                _ => guess + miss,
            };
            before = Some((guess, miss));
            guess = next;
        };
        self.take(&trial, guess, h, half);
    }

    fn trial(&self, field: &Field, source: &Source, breaking_nm: f64, speed: f64, h: f64) -> Trial {
        let circuit = &self.circuit;
        let rotor = Rotor { speed: circuit.pole_pairs * speed, ohm: circuit.rotor_ohm_at(speed) };
        let means = field.go(source, self.field, rotor, h);
        let (load_nm, breaking_nm) = match self.mill {
            None => (self.scenario.mill.windage_nm(speed) + breaking_nm * fade(speed), breaking_nm * fade(speed)),
            Some(_) => (0.0, 0.0),
        };
        let stray_nm = circuit.stray_nm(means.inside_square / 2.0, speed);
        let friction_nm = circuit.friction_nm(speed);
        let shaft_nm = means.torque_nm - stray_nm - friction_nm;
        Trial {
            slope: (shaft_nm - load_nm) / self.inertia_kg_m2,
            shaft_nm,
            load_nm,
            breaking_nm,
            stray_nm,
            friction_nm,
            means,
        }
    }

    fn take(&mut self, trial: &Trial, speed: f64, h: f64, half: &mut Half) {
        let means = &trial.means;
        // What the field gains or loses at once goes to and fro at the terminals, or into the arc.
        let jump = means.field_j[0] - self.field_j;
        if means.current_square > 0.0 {
            self.works.electrical_j += jump;
            half.sums.energy_j += jump;
        } else {
            self.works.arc_j -= jump;
        }
        self.field_j = means.field_j[1];
        let powers = [
            means.electrical_w,
            means.stator_w,
            means.core_w,
            means.rotor_w,
            trial.stray_nm * speed,
            trial.friction_nm * speed,
            trial.load_nm * speed,
        ];
        self.works.add(&powers, h);
        self.breaking_j += trial.breaking_nm * speed * h;
        self.field = means.state;
        self.transient = means.transient;
        self.speed_rad_s += h * trial.slope;
        (self.slope, self.breaking_nm) = (trial.slope, trial.breaking_nm);
        half.sums.add(means, h);
        half.shaft_nms += h * trial.shaft_nm;
        half.load_nms += h * trial.load_nm;
        self.turn_mill(h, half);
    }

    /// The mill by itself, once the belt is lost.
    fn turn_mill(&mut self, h: f64, half: &mut Half) {
        let Some(mill) = &mut self.mill else { return };
        let (load, windage, from_s) = (&self.load, &self.scenario.mill, self.t_s);
        let until_s = from_s + h;
        let whole_nm = load.mean_breaking_nm(from_s, until_s, FULL_RAD_S);
        let breaking = |speed| whole_nm * fade(speed);
        // Near standstill what the hammers meet goes steeply with the speed.
        let steep = mill.speed_rad_s() < FULL_RAD_S && breaking(mill.speed_rad_s()) > 0.0;
        let parts = if steep { (h / LONGEST_STEP_S).ceil() } else { 1.0 };
        let h = h / parts;
        // At most a hundred.
        for _ in 0..parts as u32 {
            let before = mill.speed_rad_s();
            mill.step(from_s, h, |_, speed| windage.windage_nm(speed) + breaking(speed));
            let middle = f64::midpoint(before, mill.speed_rad_s());
            self.breaking_j += breaking(middle) * middle * h;
            half.load_nms += h * (windage.windage_nm(middle) + breaking(middle));
        }
    }
}

/// What a step comes to at a speed.
struct Trial {
    means: Means,
    /// Change of speed, rad/s².
    slope: f64,
    shaft_nm: f64,
    load_nm: f64,
    breaking_nm: f64,
    stray_nm: f64,
    friction_nm: f64,
}
