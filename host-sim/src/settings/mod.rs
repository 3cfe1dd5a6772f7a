//! A mill's settings: supply, sampling, motor, transmission, mill and trip elements, from a TOML file.
//!
//! [`load`] and [`parse`] give back a [`Settings`] that has been validated throughout, with warnings for
//! what may be meant but looks odd; or every fault of the file at once, each with line, key, value and
//! range. What follows from the nameplate without standing in the file is in [`mod@derive`].

pub mod accuracy;
pub mod class;
mod curve;
pub mod derive;
pub(crate) mod document;
mod elements;
mod feed;
pub(crate) mod limits;
mod nameplate;
pub(crate) mod place;
mod pulses;
pub(crate) mod raw;
pub(crate) mod read;
pub mod rewrite;
mod run;
mod template;
#[cfg(test)]
pub(crate) mod testing;
mod trips;
mod validate;
mod wiring;

use std::collections::BTreeMap;
use std::fmt;
use std::io::Read as _;
use std::path::Path;

pub use crate::trace::select::Wiring;
pub use accuracy::Accuracy;
pub use curve::{Curve, Point};
pub use elements::{Action, Element, Further, Restart, StartsPerHour, Watch, Wedge};
pub use feed::{Feed, FeedJam, Feeder, Search};
pub use nameplate::warmed;
pub(crate) use place::nearest;
pub(crate) use read::keys;
pub use run::{About, MOST_RUNS, Run, Sizes, sizes};
pub use shaftwork_core::settings::{CurrentTap, Starter};
pub use trips::{Jam, LongStart, PhaseLoss, Thermal, Trips, Undervoltage};

use crate::error::Fault;

/// Everything a settings file says, validated.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    /// The file that says it, as the user named it.
    pub file: String,
    /// The mains.
    pub supply: Supply,
    /// How voltages and currents become counts.
    pub sampling: Sampling,
    /// Names of a record's channels by quantity (`va` .. `vcb`, `ia` .. `ic`, `mass`, `feed`, `speed`).
    pub channels: BTreeMap<String, String>,
    /// The motor's nameplate and data sheet.
    pub motor: Motor,
    /// How its windings warm up; none: their resistances hold always.
    pub winding: Option<Winding>,
    /// Belt or coupling.
    pub transmission: Transmission,
    /// The mill itself.
    pub mill: Mill,
    /// Where the fed mass comes from.
    pub mass: Mass,
    /// How good the instruments are; `None`: nothing is said of it.
    pub accuracy: Option<Accuracy>,
    /// Parts of the trace with what was broken in them; they do not overlap.
    pub runs: Vec<Run>,
    /// The trip elements.
    pub trips: Trips,
    /// When a start and a reset are refused.
    pub restart: Restart,
    /// When the feed stops and goes on.
    pub feed: Feed,
    /// The feeder whose speed is governed; `None`: fed by hand, by the lamp.
    pub feeder: Option<Feeder>,
    /// Full names of the keys that stood in the file, with their lines; anything else is a default.
    pub given: BTreeMap<String, usize>,
}

impl Settings {
    /// Refuses rms values where `what` needs samples of the waves.
    ///
    /// # Errors
    /// The settings say that a trace holds rms values.
    pub fn need_samples(&self, what: &str) -> Result<(), Fault> {
        if self.sampling.values == Values::Samples {
            return Ok(());
        }
        Err(self
            .misplaced("sampling.values", "\"rms\"")
            .wanted(format!("samples of the waves, which {what} needs"))
            .mend("record samples, 2000 to 16000 a second, with settings of their own; a log of rms values can be replayed"))
    }

    /// Refuses currents alone where `what` needs voltages as well.
    ///
    /// # Errors
    /// The settings say that a trace holds no voltages.
    pub fn need_voltages(&self, what: &str) -> Result<(), Fault> {
        if self.supply.wiring == Wiring::CurrentsOnly {
            return Err(self
                .misplaced("supply.wiring", "\"currents-only\"")
                .wanted(format!("voltages as well, which {what} needs"))
                .mend("measure them too; a trace of currents alone can be replayed"));
        }
        Ok(())
    }

    /// Refuses rms values, and currents alone, where `what` needs samples of voltages as well.
    ///
    /// # Errors
    /// The settings say that a trace holds rms values or no voltages.
    pub fn need_all_waves(&self, what: &str) -> Result<(), Fault> {
        self.need_voltages(what)?;
        self.need_samples(what)
    }

    /// Refuses currents of windings where `what` needs those of the lines.
    ///
    /// # Errors
    /// The settings say that the transformers sit inside the delta.
    pub fn need_line_currents(&self, what: &str) -> Result<(), Fault> {
        if self.supply.current_tap == CurrentTap::Line {
            return Ok(());
        }
        Err(self
            .misplaced("supply.current_tap", "transformers inside the delta")
            .wanted(format!("transformers in the lines: {what} looks at each of them by itself"))
            .mend("compare each transformer with the starter's drawing; a trace with them inside the delta can be replayed"))
    }

    /// A fault at a key.
    fn misplaced(&self, key: &str, found: &str) -> Fault {
        let line = self.given.get(key).map_or_else(String::new, |line| format!("line {line}, "));
        Fault::new(&*self.file, found).at(format!("{line}key {key}"))
    }
}

/// The mains at the mill.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Supply {
    /// Nominal frequency: 50 or 60 Hz.
    pub frequency_hz: f64,
    /// Nominal voltage, line to line, rms, V.
    pub line_voltage_v: f64,
    /// How the instruments are connected.
    pub wiring: Wiring,
    /// On which side of the contactor the voltage is taken.
    pub voltage_tap: VoltageTap,
    /// Where the current transformers sit.
    pub current_tap: CurrentTap,
}

impl Supply {
    /// A line's current over what is measured of it, of a motor in delta: inside the delta a winding's (every textbook).
    pub fn line_over_measured(&self) -> f64 {
        if self.current_tap == CurrentTap::Line { 1.0 } else { 3f64.sqrt() }
    }
}

/// The side of the contactor on which voltage is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum VoltageTap {
    /// Before the contactor: voltage stays when the motor stops.
    Line,
    /// After the contactor: voltage goes with the motor; a stop is no undervoltage.
    Motor,
}

/// What to do with a gap in a trace.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Gaps {
    /// A gap is a fault of the trace.
    Error,
    /// Metering restarts after it and its time counts as unknown.
    Split,
}

/// What a row of a trace holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Values {
    /// Samples of the waves.
    Samples,
    /// rms values over the row's interval, of a logger.
    Rms,
}

/// Converter and transducers. Per-channel lists are in the order of [`Wiring::columns`].
#[derive(Debug, Clone, PartialEq)]
pub struct Sampling {
    /// What a row holds.
    pub values: Values,
    /// Rows a second, Hz; `None`: the rate that the trace's own header states.
    pub rate_hz: Option<f64>,
    /// What to do with gaps.
    pub gaps: Gaps,
    /// Converter width, 12..=24 bits; see [`Sampling::full_scale_count`].
    pub bits: u32,
    /// Peak voltage at the full-scale count, V.
    pub voltage_full_scale_v: f64,
    /// Peak current at the full-scale count, A.
    pub current_full_scale_a: f64,
    /// Gain of each channel: value = (count - offset) x gain.
    pub gain: Vec<f64>,
    /// Offset of each channel, counts.
    pub offset_counts: Vec<f64>,
    /// How much later than the frame each channel is sampled, microseconds.
    pub skew_us: Vec<f64>,
    /// By how much each current transformer's output leads the line current, degrees at rated frequency.
    pub phase_deg: Vec<f64>,
}

impl Sampling {
    /// The full-scale count, 2^(bits - 1) - 1.
    pub fn full_scale_count(&self) -> i32 {
        full_scale_count(self.bits)
    }

    /// Volts per count before any gain.
    pub fn volt_per_count(&self) -> f64 {
        self.voltage_full_scale_v / f64::from(self.full_scale_count())
    }

    /// Amperes per count before any gain.
    pub fn amp_per_count(&self) -> f64 {
        self.current_full_scale_a / f64::from(self.full_scale_count())
    }
}

/// The largest count of a converter of so many bits, held to 12..=24.
fn full_scale_count(bits: u32) -> i32 {
    (1 << (bits.clamp(12, 24) - 1)) - 1
}

/// Nameplate and data sheet. `None` is what the file does not say; [`mod@derive`] fills it in.
#[derive(Debug, Clone, PartialEq)]
pub struct Motor {
    /// Rated shaft power, kW.
    pub rated_power_kw: f64,
    /// Rated voltage, line to line, V.
    pub rated_voltage_v: f64,
    /// Rated current, A.
    pub rated_current_a: f64,
    /// Rated frequency, Hz.
    pub rated_frequency_hz: f64,
    /// Rated speed, rpm; below synchronous speed.
    pub rated_speed_rpm: f64,
    /// Number of poles; even.
    pub poles: u32,
    /// Power factor at rated load, %.
    pub rated_power_factor_pct: Option<f64>,
    /// Efficiency at rated load, %.
    pub rated_efficiency_pct: Option<f64>,
    /// Efficiency over load.
    pub efficiency_pct: Option<Curve>,
    /// Power factor over load.
    pub power_factor_pct: Option<Curve>,
    /// Service factor, 1..=2.
    pub service_factor: f64,
    /// Locked-rotor current, A.
    pub locked_rotor_current_a: Option<f64>,
    /// Locked-rotor torque, % of rated torque.
    pub locked_rotor_torque_pct: Option<f64>,
    /// Stator resistance per phase, star equivalent, warm, ohm; a cold measurement is converted already.
    pub stator_resistance_ohm: Option<f64>,
    /// Core loss at rated voltage, W.
    pub core_loss_w: Option<f64>,
    /// Friction and windage of the motor, W.
    pub friction_loss_w: Option<f64>,
    /// Where the stray load loss is taken from when nothing measured tells it.
    pub stray_load_loss: Option<StrayLoadLoss>,
    /// How it is started.
    pub starter: Starter,
}

/// A standard's assigned stray load loss.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StrayLoadLoss {
    /// IEC 60034-2-1: a share of the power taken in.
    Iec,
    /// IEEE 112: a share of rated output.
    Ieee,
}

/// How the motor's windings warm up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Winding {
    /// Time constant, s.
    pub time_constant_s: f64,
    /// Rise at rated current, K.
    pub rise_k: f64,
    /// Surroundings, degrees Celsius.
    pub ambient_c: f64,
    /// At the first frame, degrees Celsius.
    pub start_c: f64,
}

impl Motor {
    /// Synchronous speed at rated frequency, rpm.
    pub fn synchronous_speed_rpm(&self) -> f64 {
        120.0 * self.rated_frequency_hz / f64::from(self.poles)
    }

    /// Apparent power at rated voltage and current, VA.
    pub fn rated_apparent_va(&self) -> f64 {
        3f64.sqrt() * self.rated_voltage_v * self.rated_current_a
    }
}

/// Belt or coupling between motor and rotor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Transmission {
    /// Efficiency, %.
    pub efficiency_pct: f64,
    /// Rotor speed over motor speed.
    pub speed_ratio: f64,
}

/// The mill.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mill {
    /// Inertia of all that turns, seen from the motor shaft, kg m2; `None`: not known.
    pub rotor_inertia_kg_m2: Option<f64>,
    /// Motor shaft power with nothing in the mill, transmission loss included, kW; `None`: learnt.
    pub idle_power_kw: Option<f64>,
    /// How long the rotor may turn after the current has gone, s.
    pub coast_down_s: f64,
}

/// Where the fed mass comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mass {
    /// `None`: the trace's mass column if it has one, else no mass at all.
    pub source: Option<MassSource>,
    /// How long the material is on its way from the scale to the mill, s.
    pub delay_s: f64,
    /// What pulses mean, where they are the source.
    pub pulses: Option<Pulses>,
}

/// Pulses of a belt weigher.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pulses {
    /// What one of them stands for, kg.
    pub kg: f64,
    /// How a trace shows them.
    pub form: PulseForm,
}

/// How a trace shows pulses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PulseForm {
    /// A running count, of a counter of so many bits where it is said; then it may wrap.
    Count {
        /// Width of the counter.
        bits: Option<u32>,
    },
    /// A level that is high during each pulse.
    Edge {
        /// The level during a pulse; between pulses it is nothing.
        level: f64,
        /// A level that lasts shorter is a bounce, s.
        least_s: f64,
    },
}

/// Sources of mass.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MassSource {
    /// The trace's mass column.
    Trace,
    /// Pulses of a belt weigher.
    Pulse,
    /// One weighed batch.
    Batch,
    /// No mass is known.
    Nothing,
}

/// Something that may be meant but looks odd.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Warning {
    /// The line of the key, if it stood in the file.
    pub line: Option<usize>,
    /// The full name of the key.
    pub key: String,
    /// What looks odd, with figures.
    pub text: String,
}

impl fmt::Display for Warning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(line) = self.line {
            write!(f, "line {line}, ")?;
        }
        write!(f, "key {}: {}", self.key, self.text)
    }
}

/// Every fault of a settings file, in the order of the file; at least one.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub struct Faults(pub Vec<Fault>);

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        const SHOWN: usize = 20;
        for (i, fault) in self.0.iter().take(SHOWN).enumerate() {
            write!(f, "{}{fault}", if i == 0 { "" } else { "\n" })?;
        }
        match self.0.len().saturating_sub(SHOWN) {
            0 => Ok(()),
            more => write!(f, "\nand {more} more faults"),
        }
    }
}

/// The largest settings file that is read, bytes; what is longer is something else by mistake.
const LONGEST_FILE: u64 = 1 << 20;

/// Reads and validates a settings file; `-` is standard input.
///
/// # Errors
/// The file cannot be read, or its content is at fault ([`Faults`]).
pub fn load(path: &Path) -> anyhow::Result<(Settings, Vec<Warning>)> {
    let name = path.display().to_string();
    let cannot = |error| Fault::unreadable(name.as_str(), &error, "a settings file in TOML");
    let mut bytes = Vec::new();
    if name == "-" {
        std::io::stdin().take(LONGEST_FILE + 1).read_to_end(&mut bytes).map_err(cannot)?;
    } else {
        let file = std::fs::File::open(path).map_err(cannot)?;
        file.take(LONGEST_FILE + 1).read_to_end(&mut bytes).map_err(cannot)?;
    }
    if bytes.len() as u64 > LONGEST_FILE {
        let fault = Fault::new(name, "longer than 1 MiB")
            .wanted("a settings file in TOML")
            .mend("name the settings; is this a trace?");
        return Err(fault.into());
    }
    let text = String::from_utf8(bytes).map_err(|error| {
        Fault::new(name.as_str(), "bytes that are no UTF-8 text")
            .at(format!("byte {}", error.utf8_error().valid_up_to()))
            .wanted("a settings file in TOML, saved as UTF-8")
            .mend("save it as UTF-8 in the editor; if it is a trace, name it before --settings")
    })?;
    Ok(parse(&text, &name)?)
}

/// Validates the text of a settings file; `name` is what faults call it.
///
/// # Errors
/// Every fault found in the text.
pub fn parse(text: &str, name: &str) -> Result<(Settings, Vec<Warning>), Faults> {
    let settings = read::read(text, name)?;
    let (faults, warnings) = validate::check(&settings, name);
    if faults.is_empty() { Ok((settings, warnings)) } else { Err(Faults(faults)) }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Motor input by volts, amperes and power factor: 470 V, 37 A, 0.763 (US DOE fact sheet on motor load, formula read,
    /// example from memory; it prints 22.9 kW, the product is 22.98).
    #[test]
    fn input_of_a_motor() {
        let (settings, _) = testing::parsed(&testing::good());
        let motor = Motor { rated_voltage_v: 470.0, rated_current_a: 37.0, ..settings.motor };
        assert!((motor.rated_apparent_va() * 0.763 / 1e3 - 22.98).abs() < 0.005);
    }
}
