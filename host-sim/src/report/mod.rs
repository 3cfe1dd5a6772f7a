//! What a replay hands out: JSON, CSV, a page with pictures and a short table for people.
//!
//! Rows ([`IntervalRow`], [`EventRow`], [`TotalsRow`]) have the names and units of the output; a [`Sink`] gets
//! them in order of time while the replay runs and writes what it is for. A figure that cannot be had is
//! `None`, and the row's [`Why`] says why.

pub mod account;
mod advice;
pub mod clock;
pub mod counted;
mod course;
pub mod csv;
pub mod empty;
pub mod event;
mod figures;
pub mod inertia;
pub mod interval;
pub mod json;
pub mod load;
pub mod notice;
pub mod number;
pub mod page;
pub mod runs;
pub mod several;
mod story;
pub mod sums;
pub mod tachometer;
#[cfg(test)]
mod testing;
pub mod text;
pub mod tiers;
pub mod totals;
pub mod uncertainty;
mod verdict;
pub mod wiring;
pub mod words;

use std::collections::BTreeMap;

use serde::Serialize;
use shaftwork_core::judge::event::Event;
use shaftwork_core::judge::report::Moment;

pub use crate::whole::Whole;
pub use advice::advice;
use clock::Clock;
pub use event::{EventRow, cause_name};
pub use inertia::InertiaRow;
pub use interval::IntervalRow;
pub use load::LoadRow;
pub use tachometer::TachometerRow;
pub use totals::TotalsRow;

/// Why a figure cannot be had, in plain words.
pub type Reason = &'static str;
/// The reasons by the name of the figure.
pub type Why = BTreeMap<&'static str, Reason>;

/// The reason for voltages, of a trace of currents alone.
const NOT_MEASURED: Reason = "voltage is not measured";
/// The reason for all thermal figures.
const THERMAL_OFF: Reason = "the thermal trip is off";

/// What a trace can tell of, and what of it is an estimate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(clippy::struct_excessive_bools, reason = "each is a fact of its own about a trace")]
pub struct Input {
    /// Why there is no mass, where there is none.
    pub no_mass: Reason,
    /// Whether its rows are rms values, without waves and angles.
    pub rms: bool,
    /// What its voltages are, if it has any.
    pub voltages: Option<Voltages>,
    /// Whether power is estimated from the current.
    pub estimated: bool,
    /// Whether it has a tachometer.
    pub tachometer: bool,
    /// Whether the inertia of what turns is known.
    pub inertia: bool,
    /// Efficiency of belt or coupling, ppm.
    pub transmission_ppm: u32,
}

/// What voltages are measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Voltages {
    /// Phase to neutral.
    Neutral,
    /// Line to line.
    Line,
}

impl Input {
    /// Of samples of the waves, with all six channels.
    pub const fn samples(no_mass: Reason) -> Self {
        Self {
            no_mass,
            rms: false,
            voltages: Some(Voltages::Neutral),
            estimated: false,
            tachometer: false,
            inertia: false,
            transmission_ppm: 1_000_000,
        }
    }

    /// What the mill's rotor gets of a power at the motor's shaft, or gives, where it drives the motor.
    fn behind_transmission(&self, shaft_w: f64) -> f64 {
        let efficiency = f64::from(self.transmission_ppm) / 1e6;
        number::figure(if shaft_w < 0.0 { shaft_w / efficiency } else { shaft_w * efficiency })
    }

    /// The names of the figures that are estimates, in every part of the output.
    pub fn estimates(&self) -> Vec<&'static str> {
        const OF_VOLTAGE: [&str; 4] = ["reactive_var", "reactive_kvarh", "apparent_va", "power_factor"];
        const OF_CURRENT: [&str; 31] = [
            "active_w",
            "reactive_var",
            "power_factor",
            "shaft_w",
            "torque_nm",
            "load_torque_nm",
            "load_pct",
            "rotor_w",
            "net_w",
            "electrical_kwh",
            "reactive_kvarh",
            "start_kwh",
            "stopped_kwh",
            "idle_kwh",
            "breaking_kwh",
            "coasting_kwh",
            "unknown_kwh",
            "shaft_kwh",
            "net_kwh",
            "gross_kwh_per_t",
            "net_kwh_per_t",
            "operating_work_index_kwh_per_t",
            "peak_shaft_kw",
            "idle_power_kw",
            "idle_spread_kw",
            "mean_pct",
            "rms_pct",
            "p95_pct",
            "highest_pct",
            "highest_1s_pct",
            "highest_10s_pct",
        ];
        let speed = (!self.tachometer).then_some("speed_rpm");
        let apparent = self.voltages.is_none().then_some("apparent_va");
        match (self.estimated, self.voltages) {
            (true, _) => OF_CURRENT.into_iter().chain(speed).chain(apparent).collect(),
            // Active power is measured; what wants a voltage as well is not.
            (false, None) => OF_VOLTAGE.into(),
            (false, Some(_)) => Vec::new(),
        }
    }
}

/// The trace that was replayed.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct TraceRow {
    /// As the user named it.
    pub path: String,
    /// Where it was recorded, as the trace names it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub station: Option<String>,
    /// Time of its first frame, ISO 8601, where the trace states it.
    pub start: Option<String>,
    /// Frames in it.
    pub frames: u64,
    /// Frames a second, Hz.
    pub rate_hz: f64,
    /// Its length, gaps included, s.
    pub duration_s: f64,
    /// Why something is missing.
    #[serde(skip_serializing_if = "Why::is_empty")]
    pub why: Why,
}

impl TraceRow {
    /// The time of day, where the trace states when it began.
    pub fn clock(&self) -> Option<Clock> {
        self.start.as_deref().and_then(Clock::new)
    }
}

/// A marker of the trace.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Mark {
    /// When, seconds from the start of the trace.
    pub t_s: f64,
    /// What it says.
    pub note: String,
}

/// What is known when a trace has been replayed to its end.
#[derive(Debug, Clone, PartialEq)]
pub struct Summary {
    /// The trace.
    pub trace: TraceRow,
    /// The settings file as the user named it.
    pub settings_path: String,
    /// The sums.
    pub totals: TotalsRow,
    /// How the motor was loaded while it ran.
    pub load: LoadRow,
    /// A tachometer against the speed by slip.
    pub tachometer: TachometerRow,
    /// What turns, as the starts tell.
    pub inertia: InertiaRow,
    /// Energy per tonne by run, with its uncertainty.
    pub runs: runs::Runs,
    /// Whether its rows are rms values.
    pub rms: bool,
    /// The names of the figures that are estimates.
    pub estimated: Vec<&'static str>,
    /// Its markers, the first [`MARKS`] of them.
    pub marks: Vec<Mark>,
    /// What a person should know, one sentence each.
    pub warnings: Vec<String>,
}

impl Summary {
    /// Whether active power, and with it every energy, is an estimate.
    pub fn estimates_power(&self) -> bool {
        self.estimated.contains(&"active_w")
    }
}

/// Markers that are kept: memory does not grow with the length of a trace.
pub const MARKS: usize = 1_000;

/// Takes the rows of one trace in order of time.
pub trait Sink {
    /// Takes a half cycle, as soon as it is over.
    ///
    /// # Errors
    /// It cannot be written.
    fn moment(&mut self, _moment: &Moment) -> anyhow::Result<()> {
        Ok(())
    }
    /// Takes what happened as soon as the core says it, after the half cycle in which it did;
    /// [`Sink::event`] gets the same later, complete and in order.
    ///
    /// # Errors
    /// It cannot be written.
    fn happened(&mut self, _event: &Event) -> anyhow::Result<()> {
        Ok(())
    }
    /// Takes a whole interval.
    ///
    /// # Errors
    /// It cannot be written.
    fn interval(&mut self, row: &IntervalRow) -> anyhow::Result<()>;
    /// Takes an event.
    ///
    /// # Errors
    /// It cannot be written.
    fn event(&mut self, row: &EventRow) -> anyhow::Result<()>;
    /// Ends the trace; gives back the files that are whole and wait for their names.
    ///
    /// # Errors
    /// The rest cannot be written.
    fn close(self: Box<Self>, summary: &Summary) -> anyhow::Result<Vec<Whole>>;
}
