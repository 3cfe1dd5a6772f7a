//! The error to expect of each figure, and what it makes of shaft power: each is changed by its limit, the motor is fitted
//! anew, and the core is asked again about the terminals at full and at quarter load.
//!
//! ```text
//! field = k sqrt(sum of (effect / sqrt 3)²), k = 2      limits count as rectangular (JCGM 100, 4.3.7 and 5.1.6)
//! ```
//!
//! The model's error stands apart: it is what is left when all figures are right ([`super::model`]).

mod table;
pub mod words;

use serde::Serialize;

use crate::fit::circuit;
use crate::fit::told::Terminals;
use crate::report::uncertainty::{COVERAGE, combined, rectangular};
use crate::settings::accuracy::efficiency_points;
use crate::settings::derive::{Derived, Provenance, derive};
use crate::settings::{Curve, Point, Settings};
use table::{Change, Table};

/// Loads that are asked about, parts of rated.
pub const LOADS: [f64; 2] = [1.0, 0.25];

/// Limits of a nameplate by IEC 60034-1, table of tolerances (from memory); that of efficiency is in [`efficiency_points`].
const SLIP_SHARE: f64 = 0.2;
const LOCKED_SHARE: f64 = 0.2;
/// Of a power factor: a sixth of (1 - cos phi), within these.
const POWER_FACTOR: [f64; 2] = [0.02, 0.07];
const IEC: &str = "IEC 60034-1";

/// Limits that no standard sets (common practice, no source): a power factor printed with two digits; a locked-rotor current of
/// 4 to 8 times rated where 6 are assumed; 10 K of a winding's temperature; a stator with a quarter to a half of all losses; what a
/// no-load test finds; an efficiency curve whose points err by themselves; a stray load loss of half or one and a half times what
/// a standard assigns.
const PRINTED: f64 = 0.005;
const LOCKED_ASSUMED: f64 = 1.0 / 3.0;
const RESISTANCE: f64 = 0.03;
const RESISTANCE_INFERRED: f64 = 0.3;
const CORE_TESTED: f64 = 0.05;
const FRICTION_TESTED: f64 = 0.1;
const CONSTANT_BY_CURVE: f64 = 0.15;
const STRAY_ASSIGNED: f64 = 0.5;
const PRACTICE: &str = "common practice, no source";

/// One figure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Figure {
    /// What it is, as a key where it has one.
    pub figure: &'static str,
    /// By how much it may be off; negative where it may only be less, `both` where either way.
    pub limit: f64,
    /// Unit of the limit.
    pub unit: &'static str,
    /// Whether the limit holds either way.
    pub both: bool,
    /// Where the figure comes from.
    pub from: &'static str,
    /// Who sets the limit.
    pub by: &'static str,
    /// The largest change of shaft power, % of rated, at full load; `None` where no motor has a figure so far off.
    pub full_load_pct: Option<f64>,
    /// The same at quarter load.
    pub quarter_load_pct: Option<f64>,
}

/// All of them.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Expected {
    /// One by one.
    pub figures: Vec<Figure>,
    /// Together, k = 2, % of rated power at full load.
    pub field_full_load_pct: f64,
    /// The same at quarter load.
    pub field_quarter_load_pct: f64,
    /// How far off speed is by the slip's limit, rpm at full load.
    pub speed_rpm: f64,
    /// Whether the instruments are among them.
    pub instruments: bool,
}

/// Works them out.
///
/// # Errors
/// No motor has such a nameplate.
pub fn expected(settings: &Settings) -> anyhow::Result<Expected> {
    let derived = derive(settings);
    let plain = pinned(settings, &derived);
    let mut table = Table::new(plain, settings.motor.rated_power_kw * 1e3)?;
    nameplate(&mut table, settings, &derived);
    losses(&mut table, settings)?;
    instruments(&mut table, settings);
    let together =
        |of: fn(&Figure) -> Option<f64>| COVERAGE * combined(table.figures.iter().filter_map(of).map(rectangular));
    let slip = derived.rated_slip_pct.value / 100.0;
    Ok(Expected {
        field_full_load_pct: together(|figure| figure.full_load_pct),
        field_quarter_load_pct: together(|figure| figure.quarter_load_pct),
        speed_rpm: SLIP_SHARE * slip * derived.synchronous_speed_rpm.value,
        instruments: settings.accuracy.is_some_and(|accuracy| accuracy.current.is_some()),
        figures: table.figures,
    })
}

/// The settings with all that is inferred written down, so that one figure changes at a time; windings as warm as told.
fn pinned(settings: &Settings, derived: &Derived) -> Settings {
    let mut plain = settings.clone();
    plain.winding = None;
    let motor = &mut plain.motor;
    motor.rated_efficiency_pct = Some(derived.rated_efficiency_pct.value);
    motor.locked_rotor_current_a = Some(derived.locked_rotor_current_a.value);
    motor.stator_resistance_ohm = Some(derived.stator_resistance_ohm.value);
    plain
}

fn row(figure: &'static str, limit: f64, unit: &'static str, from: Provenance, by: &'static str) -> Figure {
    let both = limit > 0.0;
    Figure { figure, limit, unit, both, from: from.name(), by, full_load_pct: None, quarter_load_pct: None }
}

/// The same, for a limit that holds upwards only.
fn upwards(figure: Figure) -> Figure {
    Figure { both: false, ..figure }
}

/// By how much a power factor may be lower than promised, parts of 1.
pub fn power_factor_tolerance(power_factor: f64) -> f64 {
    ((1.0 - power_factor) / 6.0).clamp(POWER_FACTOR[0], POWER_FACTOR[1])
}

fn each_point(curve: Option<&Curve>, of: impl Fn(f64) -> f64) -> Option<Curve> {
    let points = curve?.points().iter().map(|p| Point { load_pct: p.load_pct, value_pct: of(p.value_pct) });
    Curve::new(points.collect())
}

fn nameplate(table: &mut Table, settings: &Settings, derived: &Derived) {
    let given = |value: bool| if value { Provenance::Given } else { Provenance::Inferred };
    let motor = &settings.motor;
    let efficiency = derived.rated_efficiency_pct.value;
    let named = motor.rated_efficiency_pct.is_some() || motor.efficiency_pct.is_some();
    let own = settings.accuracy.and_then(|accuracy| accuracy.efficiency_points);
    let power_factor = derived.rated_power_factor_pct.value / 100.0;
    // An efficiency that follows from the power factor errs by that one's last digit besides.
    let printed = if named { 0.0 } else { efficiency * PRINTED / power_factor };
    let points = own.unwrap_or_else(|| efficiency_points(motor.rated_power_kw, efficiency)) + printed;
    let by = match (own.is_some(), named) {
        (true, _) => "[accuracy]",
        (false, true) => IEC,
        (false, false) => "IEC 60034-1, and the digits of the power factor",
    };
    let more = (100.0 / (efficiency - points) - 1.0) / (100.0 / efficiency - 1.0);
    table.motor(
        row("rated_efficiency_pct", -points, "points", given(named), by),
        &[Box::new(move |m| {
            let lossier = |pct: f64| 100.0 / (1.0 + more * (100.0 / pct - 1.0));
            m.rated_efficiency_pct = m.rated_efficiency_pct.map(lossier);
            m.efficiency_pct = each_point(m.efficiency_pct.as_ref(), lossier);
        })],
    );
    // A motor with a lower power factor takes more current for the same power than its nameplate has.
    let less = power_factor_tolerance(power_factor);
    table.motor(
        row("rated_power_factor_pct", -100.0 * less, "points", derived.rated_power_factor_pct.from, IEC),
        &[Box::new(move |m| {
            m.rated_current_a *= power_factor / (power_factor - less);
            m.rated_power_factor_pct = m.rated_power_factor_pct.map(|pct| pct - 100.0 * less);
            m.power_factor_pct = each_point(m.power_factor_pct.as_ref(), |pct| {
                (pct - 100.0 * power_factor_tolerance(pct / 100.0)).max(1.0)
            });
        })],
    );
    let synchronous = derived.synchronous_speed_rpm.value;
    let slip = move |share: f64| -> Change<'_> {
        Box::new(move |m| m.rated_speed_rpm = synchronous - (synchronous - m.rated_speed_rpm) * share)
    };
    table.motor(
        row("rated_slip_pct", 100.0 * SLIP_SHARE, "% of it", Provenance::Inferred, IEC),
        &[slip(1.0 + SLIP_SHARE), slip(1.0 - SLIP_SHARE)],
    );
    let locked = |share: f64| -> Change<'_> {
        Box::new(move |m| m.locked_rotor_current_a = m.locked_rotor_current_a.map(|a| a * share))
    };
    let from = derived.locked_rotor_current_a.from;
    if from == Provenance::Given {
        let limit = row("locked_rotor_current_a", 100.0 * LOCKED_SHARE, "%", from, IEC);
        table.motor(upwards(limit), &[locked(1.0 + LOCKED_SHARE)]);
    } else {
        table.motor(
            row("locked_rotor_current_a", 100.0 * LOCKED_ASSUMED, "%", from, PRACTICE),
            &[locked(1.0 + LOCKED_ASSUMED), locked(1.0 - LOCKED_ASSUMED)],
        );
    }
    let measured = motor.stator_resistance_ohm.is_some();
    let limit = if measured { RESISTANCE } else { RESISTANCE_INFERRED };
    let ohm = |share: f64| -> Change<'_> {
        Box::new(move |m| m.stator_resistance_ohm = m.stator_resistance_ohm.map(|ohm| ohm * share))
    };
    table.motor(
        row("stator_resistance_ohm", 100.0 * limit, "%", given(measured), PRACTICE),
        &[ohm(1.0 + limit), ohm(1.0 - limit)],
    );
}

/// Core loss, friction and, with them, the stray load loss, which takes what they leave.
fn losses(table: &mut Table, settings: &Settings) -> anyhow::Result<()> {
    let motor = &settings.motor;
    let fitted = circuit::fit(&table.plain)?;
    let (core_w, friction_w) = (fitted.core_loss_w, fitted.friction_loss_w);
    let set = |core: f64, friction: f64| -> Change<'_> {
        Box::new(move |m| (m.core_loss_w, m.friction_loss_w) = (Some(core_w * core), Some(friction_w * friction)))
    };
    if motor.core_loss_w.is_some() && motor.friction_loss_w.is_some() {
        let core = row("core_loss_w", 100.0 * CORE_TESTED, "%", Provenance::Given, PRACTICE);
        table.motor(core, &[set(1.0 + CORE_TESTED, 1.0), set(1.0 - CORE_TESTED, 1.0)]);
        let friction = row("friction_loss_w", 100.0 * FRICTION_TESTED, "%", Provenance::Given, PRACTICE);
        table.motor(friction, &[set(1.0, 1.0 + FRICTION_TESTED), set(1.0, 1.0 - FRICTION_TESTED)]);
        return Ok(());
    }
    let stray_w = fitted.stray_ohm.abs() * 3.0 * motor.rated_current_a.powi(2);
    let (share, by) = if motor.efficiency_pct.as_ref().is_some_and(|curve| curve.points().len() > 1) {
        (CONSTANT_BY_CURVE, PRACTICE)
    } else {
        (STRAY_ASSIGNED * stray_w / (core_w + friction_w).max(1.0), "half the assigned stray load loss")
    };
    let both = row("core_loss_w, friction_loss_w", 100.0 * share, "%", Provenance::Inferred, by);
    let most = share.min(1.0);
    table.motor(both, &[set(1.0 + share, 1.0 + share), set(1.0 - most, 1.0 - most)]);
    Ok(())
}

/// Transformers and converter, as far as `[accuracy]` tells of them.
fn instruments(table: &mut Table, settings: &Settings) {
    let Some(accuracy) = settings.accuracy else { return };
    let minutes = 1.0_f64.to_radians() / 60.0;
    let amps = table.terminals.map(|terminals| terminals.current_a);
    let scaled = |t: &Terminals, volts: f64, current: f64| Terminals {
        line_v: t.line_v * (1.0 + volts),
        current_a: t.current_a * (1.0 + current),
        power_w: t.power_w * (1.0 + volts) * (1.0 + current),
        reactive_var: t.reactive_var * (1.0 + volts) * (1.0 + current),
    };
    let turned = |t: &Terminals, d: f64| Terminals {
        power_w: t.power_w + t.reactive_var * d,
        reactive_var: t.reactive_var - t.power_w * d,
        ..*t
    };
    if let Some(current) = accuracy.current {
        let limits = amps.map(|a| current.at(accuracy.current_rated_a.map_or(1.0, |rated| a / rated)));
        let ratio = row("current transformers, ratio", limits[0].ratio_pct, "%", Provenance::Given, "[accuracy]");
        table.seen(ratio, limits.map(|l| l.ratio_pct / 100.0), |t, g| scaled(t, 0.0, g));
        let phase = row("current transformers, phase", limits[0].phase_min, "min", Provenance::Given, "[accuracy]");
        table.seen(phase, limits.map(|l| l.phase_min * minutes), turned);
    }
    if let Some(limit) = accuracy.voltage.map(|voltage| voltage.at(1.0)) {
        let ratio = row("voltage transformers, ratio", limit.ratio_pct, "%", Provenance::Given, "[accuracy]");
        table.seen(ratio, [limit.ratio_pct / 100.0; 2], |t, g| scaled(t, g, 0.0));
        let phase = row("voltage transformers, phase", limit.phase_min, "min", Provenance::Given, "[accuracy]");
        table.seen(phase, [limit.phase_min * minutes; 2], turned);
    }
    let gain = row("converter, gain", accuracy.converter_gain_pct, "%", Provenance::Given, "[accuracy]");
    table.seen(gain, [accuracy.converter_gain_pct / 100.0; 2], |t, g| scaled(t, 0.0, g));
}

#[cfg(test)]
mod tests;
