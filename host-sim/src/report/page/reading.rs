//! What the page draws: the figures of a half cycle, in the order in which tracks keep them.

use shaftwork_core::State;
use shaftwork_core::judge::report::Moment;

use crate::report::IntervalRow;
use crate::report::number::{frames_s, watts};

/// Below this current, A, unbalance is that of noise.
const FLOWS_A: f64 = 1.0;
/// Unbalance is drawn up to here, %: an open phase upstream makes it 100.
const MOST_PCT: f64 = 150.0;

/// The quantities with their units, as the page's script knows them.
pub const QUANTITIES: [&str; 19] = [
    "shaft_kw",
    "torque_nm",
    "speed_rpm",
    "thermal_pct",
    "current_a_1",
    "current_a_2",
    "current_a_3",
    "voltage_v_1",
    "voltage_v_2",
    "voltage_v_3",
    "unbalance_i_pct",
    "active_kw",
    "mass_kg",
    "feeder_pct",
    "frequency_hz",
    "power_factor",
    "thd_v_pct",
    "thd_i_pct",
    NET,
];
/// Net power: known once an interval is over.
const NET: &str = "net_kw";
/// How many of them a close-up draws: the rest changes too little within seconds.
pub const CLOSE_UP: usize = 11;

/// The figures at one moment; NaN is what cannot be had.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// End of the half cycle, s from the start of the trace.
    pub t_s: f64,
    /// Its length, s.
    pub length_s: f64,
    /// By [`QUANTITIES`]; rms over the whole cycle that ends here, as the elements see it.
    pub values: [f64; QUANTITIES.len()],
    /// The state's place in the order of `State::ALL`.
    pub state: usize,
}

impl Reading {
    /// Takes the voltages out, of a trace of currents alone.
    pub fn without_voltage(&mut self) {
        for (value, name) in self.values.iter_mut().zip(QUANTITIES) {
            if name.starts_with("voltage_v") {
                *value = f64::NAN;
            }
        }
    }

    /// The reading of a half cycle at a rate in Hz; what only intervals tell is taken from the last one.
    pub fn new(moment: &Moment, last: Option<&IntervalRow>, rate_hz: f64) -> Self {
        let half = &moment.half_cycle;
        let [a, b, c] = half.current.map(|square| square.root().0.to_num::<f64>());
        let [u, v, w] = half.voltage.map(|square| square.root().0.to_num::<f64>());
        let or_nan = |x: Option<f64>| x.unwrap_or(f64::NAN);
        // The first half cycle of a trace is no whole cycle: nothing is known of the shaft.
        let known = moment.state != State::Unknown;
        let shaft = |x: f64| if known { x } else { f64::NAN };
        let positive = half.current_positive.0.to_num::<f64>();
        let unbalance = half.current_negative.0.to_num::<f64>() / positive * 100.0;
        let flows = positive > 0.0 && [a, b, c].iter().any(|amps| *amps > FLOWS_A);
        let highest = |all: [Option<f64>; 3]| all.into_iter().flatten().reduce(f64::max);
        Self {
            t_s: frames_s(half.end.0, rate_hz),
            length_s: frames_s(half.length.0, rate_hz),
            values: [
                shaft(watts(moment.shaft) / 1000.0),
                shaft(moment.torque.0.to_num()),
                or_nan(moment.speed.map(|s| s.0.to_num())),
                or_nan(moment.thermal.map(|r| r.0.to_num::<f64>() * 100.0)),
                a,
                b,
                c,
                u,
                v,
                w,
                if flows { unbalance.min(MOST_PCT) } else { f64::NAN },
                watts(half.active) / 1000.0,
                or_nan(last.and_then(|row| row.mass_kg)),
                or_nan(last.and_then(|row| row.feeder_pct)),
                or_nan(last.and_then(|row| row.frequency_hz)),
                or_nan(last.and_then(|row| row.power_factor)),
                or_nan(last.and_then(|row| highest(row.thd_v_pct))),
                or_nan(last.and_then(|row| highest(row.thd_i_pct))),
                f64::NAN,
            ],
            state: State::ALL.iter().position(|s| *s == moment.state).unwrap_or(0),
        }
    }
}

impl Reading {
    /// The net power in W of the interval that this half cycle turned out to be of, and nothing else.
    #[must_use]
    pub fn with_net_only(mut self, net_w: f64) -> Self {
        self.values = QUANTITIES.map(|name| if name == NET { net_w / 1000.0 } else { f64::NAN });
        // Its time was counted before.
        self.state = usize::MAX;
        self
    }

    /// The current of the largest phase, A.
    pub fn largest_a(&self) -> f64 {
        let of_phases = QUANTITIES.iter().zip(self.values).filter(|(name, _)| name.starts_with("current_a"));
        of_phases.map(|(_, amps)| amps).fold(0.0, f64::max)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::testing::interval_row;
    use shaftwork_core::HalfCycle;
    use shaftwork_core::time::{Instant, Span};
    use shaftwork_core::unit::{Amps, Ratio, SquareAmps, Watts};

    /// Units by hand: 40 frames at 4 kHz are 10 ms.
    #[test]
    fn figures_in_the_units_of_their_names() {
        let half_cycle = HalfCycle {
            end: Instant(4_000 << 16),
            length: Span(40 << 16),
            current: [100, 0, 7].map(|a| SquareAmps::of(Amps::from_bits(a << 17))),
            ..HalfCycle::default()
        };
        let moment = Moment {
            half_cycle,
            shaft: Watts::from_bits(45_000 << 16),
            thermal: Some(Ratio::from_bits(1 << 23)),
            state: State::Breaking,
            ..Moment::default()
        };
        let row = IntervalRow { mass_kg: Some(12.5), thd_v_pct: [Some(1.0), None, Some(2.5)], ..interval_row(0.2) };
        let reading = Reading::new(&moment, Some(&row), 4_000.0);
        let value = |name: &str| reading.values[QUANTITIES.iter().position(|q| *q == name).unwrap()];
        for (name, want) in [
            ("shaft_kw", 45.0),
            ("thermal_pct", 50.0),
            ("current_a_1", 100.0),
            ("current_a_2", 0.0),
            ("mass_kg", 12.5),
            ("thd_v_pct", 2.5),
        ] {
            assert!((value(name) - want).abs() < 1e-3, "{name}: {}", value(name));
        }
        assert!(value("speed_rpm").is_nan());
        assert!((reading.t_s - 1.0).abs() < 1e-12 && (reading.length_s - 0.01).abs() < 1e-12);
        assert_eq!(State::ALL[reading.state], State::Breaking);
    }
}
