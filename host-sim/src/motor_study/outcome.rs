//! Whether a motor would have done it.

use shaftwork_core::judge::event::Cause;

use super::figures::Figures;

/// A trip or a stall this near to one of the recorded motor is the load's, not the motor's, s.
const SAME_S: f64 = 2.0;

/// What became of a motor.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Outcome {
    /// It was never at speed.
    pub never: bool,
    /// Trips of its own: where the recorded motor had none, and by heat or a long start wherever.
    pub trips: Vec<(f64, Cause)>,
    /// Times at which it was pulled out where the recorded one was not, s.
    pub pulled_out_s: Vec<f64>,
    /// Starts that were over before it was at speed, but for those of the recorded motor.
    pub not_up: u32,
    /// Root of the mean square load, share of rated, where that is above 1.
    pub overloaded: Option<f64>,
}

impl Outcome {
    /// Whether it would have done it.
    pub fn does(&self) -> bool {
        *self == Self::default()
    }
}

/// Whether a trip is the motor's own and not the load's: another one would have been less warm, or quicker.
pub const fn is_its_own(cause: Cause) -> bool {
    matches!(cause, Cause::ThermalOverload | Cause::LongStart)
}

/// Of all motors, the recorded one first; `tripped` is what that one went through after trips, s.
pub fn outcomes(all: &[Figures], tripped: &[[f64; 2]]) -> Vec<Outcome> {
    let Some(own) = all.first() else { return Vec::new() };
    let of_load: Vec<f64> = own.trips.iter().filter(|(_, cause)| !is_its_own(*cause)).map(|(t_s, _)| *t_s).collect();
    let stops_all = |t_s: f64| {
        let near = |other: &f64| (other - t_s).abs() <= SAME_S;
        let gone_through = tripped.iter().any(|[from, to]| (*from..=*to).contains(&t_s));
        gone_through || of_load.iter().any(near) || own.pulled_out_s.iter().any(near)
    };
    let outcome = |(n, figures): (usize, &Figures)| Outcome {
        never: figures.running_s() <= 0.0,
        trips: figures.trips.iter().copied().filter(|(t_s, cause)| is_its_own(*cause) || !stops_all(*t_s)).collect(),
        pulled_out_s: figures.pulled_out_s.iter().copied().filter(|t_s| n > 0 && !stops_all(*t_s)).collect(),
        not_up: figures.failed.saturating_sub(own.failed),
        overloaded: figures.rms().filter(|share| *share > 1.0),
    };
    all.iter().enumerate().map(outcome).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::circuit::Circuit;

    fn figures(trips: &[(f64, Cause)], failed: u32) -> Figures {
        let mut figures = Figures::new(45e3, 0.01);
        figures.trips = trips.to_vec();
        figures.failed = failed;
        figures.add(&Circuit::mill_55_kw().at_slip(0.005), true, false);
        figures
    }

    #[test]
    fn what_stops_every_motor_is_no_reason_against_one() {
        let motors = [
            figures(&[(45.8, Cause::Jam)], 1),
            figures(&[(44.9, Cause::Jam), (49.0, Cause::Jam)], 1),
            figures(&[(44.9, Cause::Jam), (60.0, Cause::Jam)], 2),
        ];
        let all = outcomes(&motors, &[[46.0, 49.5]]);
        assert!(all[0].does() && all[1].does());
        assert_eq!((all[2].trips.as_slice(), all[2].not_up), (&[(60.0, Cause::Jam)][..], 1));
    }

    /// Heat is the motor's: the recorded one does not do it either, and excuses none.
    #[test]
    fn a_thermal_trip_is_the_motors_own() {
        let hot = [(600.0, Cause::ThermalOverload)];
        let all = outcomes(&[figures(&hot, 0), figures(&hot, 0), figures(&[], 0)], &[]);
        assert!(!all[0].does() && !all[1].does() && all[2].does());
    }

    #[test]
    fn nothing_shown_is_nothing_done() {
        assert!(!outcomes(&[Figures::new(45e3, 0.01)], &[])[0].does());
    }
}
