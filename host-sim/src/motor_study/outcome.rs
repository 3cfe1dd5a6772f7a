//! Whether a motor would have done it.

use shaftwork_core::judge::event::Cause;

use super::figures::Figures;

/// A trip or a stall this near to one of the recorded motor is the load's, not the motor's, s.
const SAME_S: f64 = 2.0;

/// What became of a motor.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Outcome {
    /// Trips where the recorded motor had none.
    pub trips: Vec<(f64, Cause)>,
    /// Times at which it was pulled out where the recorded one was not, s.
    pub pulled_out_s: Vec<f64>,
    /// Starts of the recorded motor after which it did not come to speed.
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

/// Of all motors, the recorded one first; `tripped` is what that one went through after trips, s.
pub fn outcomes(all: &[Figures], tripped: &[[f64; 2]]) -> Vec<Outcome> {
    let Some(own) = all.first() else { return Vec::new() };
    let outcome = |(n, figures): (usize, &Figures)| {
        let also = |t_s: f64| {
            let near = |other: f64| (other - t_s).abs() <= SAME_S;
            let gone_through = tripped.iter().any(|[from, to]| (*from..=*to).contains(&t_s));
            n > 0
                && (gone_through
                    || own.trips.iter().any(|(other, _)| near(*other))
                    || own.pulled_out_s.iter().any(|s| near(*s)))
        };
        // What the recorded motor tripped on is no reason against it either: it is what was recorded.
        let apart = |t_s: f64| n > 0 && !also(t_s);
        Outcome {
            trips: figures.trips.iter().copied().filter(|(t_s, _)| apart(*t_s)).collect(),
            pulled_out_s: figures.pulled_out_s.iter().copied().filter(|t_s| apart(*t_s)).collect(),
            not_up: (figures.begun - figures.starts).saturating_sub(own.begun - own.starts),
            overloaded: figures.rms().filter(|share| *share > 1.0),
        }
    };
    all.iter().enumerate().map(outcome).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_stops_every_motor_is_no_reason_against_one() {
        let figures = |trips: &[(f64, Cause)], starts| {
            let mut figures = Figures::new(45e3, 0.01);
            figures.trips = trips.to_vec();
            (figures.begun, figures.starts) = (2, starts);
            figures
        };
        let motors = [
            figures(&[(45.8, Cause::Jam)], 2),
            figures(&[(44.9, Cause::Jam), (49.0, Cause::ThermalOverload)], 2),
            figures(&[(44.9, Cause::Jam), (60.0, Cause::ThermalOverload)], 1),
        ];
        let all = outcomes(&motors, &[[46.0, 49.5]]);
        assert!(all[0].does() && all[1].does());
        assert_eq!((all[2].trips.as_slice(), all[2].not_up), (&[(60.0, Cause::ThermalOverload)][..], 1));
    }
}
