//! The shaft power that the core tells of steady terminals: its own model of losses, by way of a record made by hand.

use shaftwork_core::judge::Judge;
use shaftwork_core::record::HalfCycle;
use shaftwork_core::settings::JudgeCoefficients;
use shaftwork_core::time::{Instant, Span};
use shaftwork_core::unit::{Amps, SquareAmps, SquareVolts, Volts, Watts};

use super::circuit::{self, Circuit};
use super::of_circuit;
use crate::settings::Settings;

/// Any rate that the core takes, Hz: no sample is made.
const RATE_HZ: f64 = 4000.0;

/// What the terminals show, balanced and at rated frequency.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Terminals {
    /// Line to line, V.
    pub line_v: f64,
    /// Line current, A.
    pub current_a: f64,
    /// Taken in, W.
    pub power_w: f64,
    /// var, lagging.
    pub reactive_var: f64,
}

/// The core under some settings, for one point after the other.
pub struct Teller {
    judge: JudgeCoefficients,
    circuit: Circuit,
    line_v: f64,
    hertz: f64,
}

impl Teller {
    /// Fits the motor and builds the core's coefficients.
    ///
    /// # Errors
    /// No motor has such a nameplate, or the core refuses a figure.
    pub fn new(settings: &Settings) -> anyhow::Result<Self> {
        let motor = &settings.motor;
        let circuit = circuit::fit(settings)?;
        let judge = of_circuit(settings, &circuit, RATE_HZ, false)?.build()?.judge;
        Ok(Self { judge, circuit, line_v: motor.rated_voltage_v, hertz: motor.rated_frequency_hz })
    }

    /// Shaft power, W.
    pub fn shaft_w(&self, terminals: &Terminals) -> f64 {
        let cycle = RATE_HZ / self.hertz * 65_536.0;
        let volts = Volts::from_bits((terminals.line_v / 3f64.sqrt() * 65_536.0).round() as i32);
        let amps = Amps::from_bits((terminals.current_a * 131_072.0).round() as i32);
        let watts = |w: f64| Watts::from_bits((w * 65_536.0).round() as i64);
        let half = HalfCycle {
            end: Instant((cycle / 2.0) as u64),
            length: Span((cycle / 2.0) as u64),
            cycle: Span(cycle as u64),
            active: watts(terminals.power_w),
            reactive: watts(terminals.reactive_var),
            voltage: [SquareVolts::of(volts); 3],
            current: [SquareAmps::of(amps); 3],
            voltage_positive: volts,
            current_positive: amps,
            ..HalfCycle::default()
        };
        Judge::new(&self.judge).half_cycle(&self.judge, &half).shaft.0.to_num()
    }

    /// The terminals at rated voltage of the motor that is fitted, when it gives a shaft power.
    pub fn terminals(&self, shaft_w: f64) -> Terminals {
        let at = |power_w: f64| {
            let (squares, reactive_var) = circuit::current_of(&self.circuit, power_w, self.line_v);
            Terminals { line_v: self.line_v, current_a: (squares / 3.0).sqrt(), power_w, reactive_var }
        };
        // Losses change but little with power: each round leaves a tenth of the error at most.
        let mut power_w = shaft_w;
        for _ in 0..8 {
            power_w += shaft_w - self.shaft_w(&at(power_w));
        }
        at(power_w)
    }
}
