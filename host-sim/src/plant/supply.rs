//! The mains and the contactor.
//!
//! ```text
//! v_a = sqrt(2/3) V (1 - dip(t)) cos(2 pi f t + phase);  v_b, v_c 120 and 240 degrees later
//! source --- impedance --- meter (line) --- contactor --- meter (motor) --- capacitors, motor
//! ```
//!
//! V line to line rms, Hz, s. What the source does by itself is in `disturbance`; the motor's current pulls it down
//! through its impedance. The contactor opens and closes all poles at one instant.

mod bounce;
mod capacitors;
mod disturbance;
mod starter;
mod thyristors;

use super::motor::Impedance;
use super::terminals::{Axis, Terminals, Vector, Windings};
pub use bounce::Bounce;
pub use disturbance::{Drift, Harmonic, Loss, Place, Sag, Unbalance};
use serde::{Deserialize, Serialize};
pub use starter::Starter;
use std::cell::Cell;
use std::f64::consts::TAU;
pub use thyristors::Thyristors;

/// A span of time over which the contactor is closed; the end does not belong to it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Closed {
    /// When it closes, s; minus infinity for a contactor that is closed from the first.
    pub from_s: f64,
    /// When it opens, s; infinity for one that stays closed.
    pub until_s: f64,
}

impl Closed {
    /// From the first and to the last.
    pub const ALWAYS: Self = Self { from_s: f64::NEG_INFINITY, until_s: f64::INFINITY };
}

impl Default for Closed {
    fn default() -> Self {
        Self::ALWAYS
    }
}

/// On which side of the contactor the voltage is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Tap {
    /// The supply's, there whether the motor runs or not.
    #[default]
    Line,
    /// The motor's: while open, what its dying field induces.
    Motor,
}

/// A three-phase source and a contactor.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Supply {
    /// Line-to-line voltage, V rms.
    pub line_v: f64,
    /// Frequency, Hz.
    pub frequency_hz: f64,
    /// Phase of phase A at time 0, rad (0: at its peak).
    pub phase_rad: f64,
    /// Sags and swells, in any order; where they overlap their depths add up, at most to the whole voltage.
    pub sags: Vec<Sag>,
    /// Changes of the frequency, in any order; they add up.
    pub drifts: Vec<Drift>,
    /// Unbalance, if any.
    pub unbalance: Option<Unbalance>,
    /// Harmonics.
    pub harmonics: Vec<Harmonic>,
    /// Lost lines. Two at once leave no current.
    pub losses: Vec<Loss>,
    /// Impedance of each phase up to the contactor.
    pub impedance: Impedance,
    /// Capacitors with the motor, kvar at `line_v` and `frequency_hz`.
    pub capacitors_kvar: f64,
    /// How the motor is started.
    pub starter: Starter,
    /// When the contactor is closed.
    pub closed: Vec<Closed>,
    /// How its contacts bounce; none closes at once.
    pub bounce: Option<Bounce>,
    /// Where the voltage is measured.
    pub tap: Tap,
}

/// A clean source of 400 V and 50 Hz, the contactor closed throughout.
impl Default for Supply {
    fn default() -> Self {
        Self::new(400.0, 50.0, Closed::ALWAYS)
    }
}

/// What joins the motor to the source at a moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Connection {
    /// Nothing.
    Open,
    /// One axis: a line is lost.
    OneAxis(Axis),
    /// All three lines.
    Whole,
}

impl Connection {
    /// What the motor's terminals see through it of a source's voltage.
    pub fn terminals(self, voltage: impl FnOnce() -> Vector) -> Terminals {
        match self {
            Self::Open => Terminals::Open,
            Self::OneAxis(axis) => Terminals::OneAxis(axis, axis.along(voltage())),
            Self::Whole => Terminals::Fed(voltage()),
        }
    }
}

/// The source's voltage, remembered: the end of a step is the beginning of the next.
#[derive(Debug, Clone)]
pub(super) struct Remembered(Cell<(f64, Vector)>);

impl Default for Remembered {
    fn default() -> Self {
        Self(Cell::new((f64::NAN, [0.0; 2])))
    }
}

impl Remembered {
    /// What the terminals see at a time.
    pub(super) fn terminals(&self, supply: &Supply, t_s: f64, connection: Connection) -> Terminals {
        connection.terminals(|| {
            let (at_s, known) = self.0.get();
            // Equal but for rounding.
            if (at_s - t_s).abs() < 1e-9 {
                return known;
            }
            let voltage = supply.voltage(t_s);
            self.0.set((t_s, voltage));
            voltage
        })
    }
}

impl Supply {
    /// A clean source whose contactor closes and opens once.
    pub fn new(line_v: f64, frequency_hz: f64, closed: Closed) -> Self {
        Self {
            line_v,
            frequency_hz,
            phase_rad: 0.0,
            sags: Vec::new(),
            drifts: Vec::new(),
            unbalance: None,
            harmonics: Vec::new(),
            losses: Vec::new(),
            impedance: Impedance::default(),
            capacitors_kvar: 0.0,
            starter: Starter::default(),
            closed: vec![closed],
            bounce: None,
            tap: Tap::default(),
        }
    }

    /// Opens the contactor at a time, whatever was to come; a person may close it again.
    pub fn open(&mut self, at_s: f64) {
        self.closed.retain(|span| span.from_s < at_s);
        for span in &mut self.closed {
            span.until_s = span.until_s.min(at_s);
        }
    }

    /// Whether the contactor is closed.
    pub fn is_closed(&self, t_s: f64) -> bool {
        self.span(t_s).is_some()
    }

    fn span(&self, t_s: f64) -> Option<&Closed> {
        self.closed.iter().find(|span| t_s >= span.from_s && t_s < span.until_s)
    }

    /// How the motor's windings are joined.
    pub fn windings(&self, t_s: f64) -> Windings {
        self.span(t_s).map_or(Windings::Run, |span| self.starter.windings(t_s - span.from_s))
    }

    /// The angle at which a soft starter fires, rad; none where there is no such starter at work.
    pub fn firing_rad(&self, t_s: f64) -> Option<f64> {
        self.span(t_s).and_then(|span| self.starter.firing_rad(t_s - span.from_s))
    }

    /// Whether no current flows so long after closing: the starter pauses, or the contacts bounce.
    fn parted(&self, since_s: f64) -> bool {
        self.starter.pauses(since_s) || self.bounce.is_some_and(|bounce| bounce.parts(since_s))
    }

    /// What joins the motor to the source, but for a soft starter.
    pub fn connection(&self, t_s: f64) -> Connection {
        match self.span(t_s) {
            Some(span) if !self.parted(t_s - span.from_s) => {}
            _ => return Connection::Open,
        }
        let mut lost = self.losses.iter().filter(|loss| loss.holds(t_s));
        match (lost.next(), lost.next()) {
            (None, _) => Connection::Whole,
            (Some(loss), None) => Connection::OneAxis(match loss.place {
                Place::Motor => Axis::without(loss.phase),
                Place::Upstream => Axis::fed_without(loss.phase),
            }),
            (Some(_), Some(_)) => Connection::Open,
        }
    }

    /// The axis that is left of the mains, if a line is lost before the transformer.
    pub fn upstream(&self, t_s: f64) -> Option<Axis> {
        let lost = self.losses.iter().find(|loss| loss.place == Place::Upstream && loss.holds(t_s));
        lost.map(|loss| Axis::fed_without(loss.phase))
    }

    /// What the motor's terminals see at a time through a connection: the source's voltage, before its impedance.
    pub fn terminals(&self, t_s: f64, connection: Connection) -> Terminals {
        connection.terminals(|| self.voltage(t_s))
    }

    /// The source's voltage (alpha, beta) with all lines whole, V.
    pub fn voltage(&self, t_s: f64) -> Vector {
        let (peak, angle) = (self.peak_v(t_s), self.angle_rad(t_s));
        let (sin, cos) = angle.sin_cos();
        let mut v = [peak * cos, peak * sin];
        if let Some(against) = self.unbalance {
            let (sin, cos) = (angle + against.phase_rad).sin_cos();
            v[0] += peak * against.share * cos;
            v[1] -= peak * against.share * sin;
        }
        for harmonic in &self.harmonics {
            let (vector, _) = harmonic.at(angle);
            v[0] += peak * vector[0];
            v[1] += peak * vector[1];
        }
        v
    }

    /// What all three phases have in common, V.
    pub fn zero_v(&self, t_s: f64) -> f64 {
        if self.harmonics.is_empty() {
            return 0.0;
        }
        let (peak, angle) = (self.peak_v(t_s), self.angle_rad(t_s));
        self.harmonics.iter().map(|harmonic| peak * harmonic.at(angle).1).sum()
    }

    pub(super) fn peak_v(&self, t_s: f64) -> f64 {
        let missing: f64 = self.sags.iter().map(|sag| sag.missing(t_s)).sum();
        (2.0_f64 / 3.0).sqrt() * self.line_v * (1.0 - missing.min(1.0))
    }

    /// The source's frequency, Hz.
    pub(super) fn hertz(&self, t_s: f64) -> f64 {
        self.frequency_hz + self.drifts.iter().map(|drift| drift.hertz(t_s)).sum::<f64>()
    }

    /// The angle of phase A, rad; 0 at its peak.
    pub fn angle_rad(&self, t_s: f64) -> f64 {
        let gained: f64 = self.drifts.iter().map(|drift| drift.cycles(t_s)).sum();
        TAU * (self.frequency_hz * t_s + gained).fract() + self.phase_rad
    }
}

#[cfg(test)]
mod tests;
