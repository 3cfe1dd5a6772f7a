//! The tests, made of the settings: what is injected before the step, what after it, and how long an element may take.
//!
//! A level is tried at 95 and at 105 % of its pick-up (underload, whose power comes of a circuit, at 90 and 110 %). What is short of it is
//! shown for twice the delay. What is beyond it must make the element operate no sooner than its delay, and no later than two and
//! a half cycles after it: a cycle that the measurement is taken over, half a cycle until one ends, half a cycle
//! that the delay is rounded up by, half a cycle until the figures are worked out.

mod elements;
mod thermal;

use crate::motor::{loaded, phase_volts};
use crate::sheet::{Figure, Way, Why};
use crate::source::State;
use crate::vector::{STEPS, Vector, phases};
use shaftwork_core::math::divide::wide;
use shaftwork_core::settings::{Action, Element, Settings};
use shaftwork_core::time::Span;
use shaftwork_core::{BLOCK, Cause};

/// 30 degrees behind, a binary angle.
const BEHIND_30: u32 = 0_u32.wrapping_sub(357_913_941);

/// The tests, element by element.
pub(crate) const TESTS: [(Cause, Way); 17] = [
    (Cause::ThermalOverload, Way::PickUp),
    (Cause::ThermalOverload, Way::Hot),
    (Cause::ThermalOverload, Way::Cold),
    (Cause::Jam, Way::PickUp),
    (Cause::LongStart, Way::PickUp),
    (Cause::PhaseLoss, Way::PickUp),
    (Cause::Undervoltage, Way::PickUp),
    (Cause::Undervoltage, Way::Starting),
    (Cause::Overvoltage, Way::PickUp),
    (Cause::PhaseReversal, Way::PickUp),
    (Cause::CurrentUnbalance, Way::PickUp),
    (Cause::ResidualCurrent, Way::PickUp),
    (Cause::Underload, Way::PickUp),
    (Cause::SensorFault, Way::PickUp),
    (Cause::SensorFault, Way::Current),
    (Cause::StartsPerHour, Way::PickUp),
    (Cause::Wedge, Way::PickUp),
];

/// A state for so many frames.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Stage {
    pub(crate) state: State,
    pub(crate) frames: u64,
}

/// A test.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Test {
    pub(crate) action: Action,
    pub(crate) figure: Figure,
    /// As in [`crate::Row`].
    pub(crate) set: u64,
    pub(crate) short: u64,
    pub(crate) beyond: u64,
    /// Thermal level at the first frame, Q32.
    pub(crate) preset: Option<i64>,
    /// So often two stages are gone through first.
    pub(crate) cycles: u8,
    pub(crate) cycle: [Stage; 2],
    /// Before the step.
    pub(crate) before: Stage,
    /// After it: short of the pick-up.
    pub(crate) held: [Stage; 2],
    /// ... and beyond it.
    pub(crate) step: Stage,
    /// Frames until it operates, at least and at most.
    pub(crate) wanted: [u64; 2],
}

/// The test of an element; or why there is none.
pub(crate) fn plan(settings: &Settings, cause: Cause, way: Way) -> Result<Test, Why> {
    let maker = Maker::new(settings);
    match cause {
        Cause::ThermalOverload => maker.thermal(way),
        Cause::Jam => maker.jam(),
        Cause::LongStart => maker.long_start(),
        Cause::PhaseLoss => maker.phase_loss(),
        Cause::Undervoltage => maker.undervoltage(way),
        Cause::Overvoltage => maker.overvoltage(),
        Cause::PhaseReversal => maker.phase_reversal(),
        Cause::CurrentUnbalance => maker.current_unbalance(),
        Cause::ResidualCurrent => maker.residual_current(),
        Cause::Underload => maker.underload(),
        Cause::SensorFault => maker.sensor_fault(way),
        Cause::StartsPerHour => maker.starts_per_hour(),
        Cause::Wedge => maker.wedge(),
        _ => Err(Why::Off), // an element that this test does not know
    }
}

/// Parts per million of a figure, rounded down.
fn part(figure: u64, ppm: u32) -> u64 {
    wide(u128::from(figure) * u128::from(ppm), 1_000_000).unwrap_or(0) as u64
}

/// As many, at most what 32 bits hold.
fn narrow(figure: u64) -> u32 {
    u32::try_from(figure).unwrap_or(u32::MAX)
}

/// What the tests are made with.
struct Maker<'a> {
    all: &'a Settings,
    /// Nominal voltage to the star point, 1/64 mV.
    volts: i64,
}

impl<'a> Maker<'a> {
    fn new(all: &'a Settings) -> Self {
        Self { all, volts: phase_volts(all.supply.line_voltage_mv) }
    }

    fn frames(&self, ms: u32) -> u64 {
        Span::from_millis(ms, self.all.sampling.rate_mhz).map_or(0, |span| span.0 >> 16)
    }

    /// Frames of so many half cycles, rounded up.
    fn half_cycles(&self, count: u32) -> u64 {
        let hertz = u64::from(self.all.supply.nominal.hertz());
        let frames = wide(u128::from(self.all.sampling.rate_mhz) * u128::from(count), u128::from(hertz * 2_000));
        frames.unwrap_or(0) as u64 + 1
    }

    /// What an element may take beyond its delay.
    fn allowance(&self) -> u64 {
        self.half_cycles(5) + BLOCK as u64
    }

    /// The motor at 60 % of its rated power, on the nominal voltage. Where its circuit gives no such point, 60 % of rated
    /// current, 30 degrees behind.
    fn running(&self) -> State {
        let power = self.all.motor.rated_power_mw / 10 * 6;
        self.giving(power)
            .unwrap_or_else(|| self.with(Vector::milli(self.all.motor.rated_current_ma / 5 * 3, BEHIND_30)))
    }

    /// The motor giving so much, mW, if it can.
    fn giving(&self, shaft_mw: u64) -> Option<State> {
        let shaft_mw = i64::try_from(shaft_mw).ok()?;
        Some(self.with(loaded(self.all, self.volts, shaft_mw)?.amps))
    }

    /// Balanced currents on the nominal voltage.
    fn with(&self, amps: Vector) -> State {
        let volts = Vector { re: self.volts, im: 0 };
        State { volts: balanced(volts), amps: balanced(amps), dead: None }
    }

    /// Voltage, no current.
    fn rest(&self) -> State {
        self.with(Vector::ZERO)
    }

    /// A stage of ten cycles: what is measured before the step is steady.
    fn before(&self, state: State) -> Stage {
        Stage { state, frames: self.half_cycles(20) }
    }

    /// A definite time: from a motor that runs to one of two states.
    fn definite(&self, [short, beyond]: [State; 2], delay_ms: u32) -> Test {
        let delay = self.frames(delay_ms);
        let wanted = [delay, delay + self.allowance()];
        Test {
            action: Action::Trip,
            figure: Figure::Condition,
            set: 0,
            short: 0,
            beyond: 0,
            preset: None,
            cycles: 0,
            cycle: [Stage::default(); 2],
            before: self.before(self.running()),
            held: [Stage { state: short, frames: 2 * delay + self.allowance() }, Stage::default()],
            step: until(beyond, wanted),
            wanted,
        }
    }
}

/// A state that is shown until twice what it may take: how late an element is should be told as well.
fn until(state: State, [_, most]: [u64; 2]) -> Stage {
    Stage { state, frames: 2 * most }
}

fn balanced(vector: Vector) -> [Vector; 3] {
    phases(vector, Vector::ZERO, Vector::ZERO)
}

/// The same direction, so many milliunits long.
fn as_long(vector: Vector, milli: u64) -> Vector {
    let length = vector.length().unsigned_abs();
    let ppm = wide(u128::from(milli) * STEPS.unsigned_abs() as u128 * 1_000_000, length.into()).unwrap_or(0);
    vector.ppm(u32::try_from(ppm).unwrap_or(u32::MAX))
}

impl Test {
    /// With its figures: what is set, what is injected short of it and beyond it.
    fn figures(self, figure: Figure, set: u64, short: u64, beyond: u64) -> Self {
        Self { figure, set, short, beyond, ..self }
    }

    fn doing(self, action: Action) -> Self {
        Self { action, ..self }
    }
}

/// Of an element that is on; else why there is no test.
fn on<T: Copy>(element: Option<T>) -> Result<T, Why> {
    element.ok_or(Why::Off)
}

/// An element that always trips.
const fn trip(pickup_ppm: u32, delay_ms: u32) -> Element {
    Element { pickup_ppm, delay_ms, action: Action::Trip }
}
