//! What follows from the nameplate without standing on it, and where each figure comes from.
//!
//! With P rated shaft power, V and I rated voltage and current: P = sqrt(3) V I x efficiency x power factor, so
//! that of the last two one follows from the other. Synchronous speed is 120 f / poles.

use std::f64::consts::TAU;

use super::Settings;

/// Where a figure comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Provenance {
    /// It stands in the settings.
    Given,
    /// It does not, and a fixed figure is used.
    Default,
    /// It follows from other figures that were given.
    Inferred,
}

impl Provenance {
    /// As printed: `given`, `default`, `inferred`.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Given => "given",
            Self::Default => "default",
            Self::Inferred => "inferred",
        }
    }
}

/// A figure with its provenance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figure {
    /// The figure, in the unit of the field's name.
    pub value: f64,
    /// Where it comes from.
    pub from: Provenance,
    /// How it was had, in a few words; empty if given.
    pub how: &'static str,
}

impl Figure {
    const fn given(value: f64) -> Self {
        Self { value, from: Provenance::Given, how: "" }
    }

    const fn inferred(value: f64, how: &'static str) -> Self {
        Self { value, from: Provenance::Inferred, how }
    }
}

/// Locked-rotor current over rated current where it is not given.
pub const LOCKED_ROTOR_OVER_RATED: f64 = 6.0;

/// Share of the stator's copper in the losses at rated load, where its resistance is not given. A third to two
/// fifths is common practice for motors of 10 to 200 kW; no source.
pub const STATOR_SHARE_OF_LOSSES: f64 = 0.37;

/// What follows from the settings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Derived {
    /// Synchronous speed at rated frequency, rpm.
    pub synchronous_speed_rpm: Figure,
    /// Slip at rated load, % of synchronous speed.
    pub rated_slip_pct: Figure,
    /// Torque at rated load, Nm.
    pub rated_torque_nm: Figure,
    /// Efficiency at rated load, %.
    pub rated_efficiency_pct: Figure,
    /// Power factor at rated load, %.
    pub rated_power_factor_pct: Figure,
    /// Losses at rated load, kW.
    pub rated_losses_kw: Figure,
    /// Locked-rotor current, A.
    pub locked_rotor_current_a: Figure,
    /// Stator resistance per phase, star equivalent, warm, ohm.
    pub stator_resistance_ohm: Figure,
}

/// Derives what the settings leave open.
pub fn derive(settings: &Settings) -> Derived {
    let motor = &settings.motor;
    let synchronous = motor.synchronous_speed_rpm();
    let efficiency = rated_efficiency(settings);
    let losses_kw = motor.rated_power_kw * (100.0 / efficiency.value - 1.0);
    let copper_w = STATOR_SHARE_OF_LOSSES * losses_kw * 1e3;
    let resistance = motor.stator_resistance_ohm.map_or_else(
        || {
            let per_phase = copper_w / (3.0 * motor.rated_current_a * motor.rated_current_a);
            Figure::inferred(per_phase, "37 % of the rated losses")
        },
        |warm| {
            if settings.given.contains_key("motor.stator_resistance_line_ohm") {
                Figure::inferred(warm, "half the resistance between terminals, at 75 degrees")
            } else {
                Figure::given(warm)
            }
        },
    );
    let locked = motor.locked_rotor_current_a.map_or(
        Figure {
            value: LOCKED_ROTOR_OVER_RATED * motor.rated_current_a,
            from: Provenance::Default,
            how: "6 x rated current",
        },
        Figure::given,
    );
    Derived {
        synchronous_speed_rpm: Figure::inferred(synchronous, "120 x Hz / poles"),
        rated_slip_pct: Figure::inferred(100.0 * (1.0 - motor.rated_speed_rpm / synchronous), "from both speeds"),
        rated_torque_nm: Figure::inferred(
            motor.rated_power_kw * 1e3 / (motor.rated_speed_rpm / 60.0 * TAU),
            "power / speed",
        ),
        rated_efficiency_pct: efficiency,
        rated_power_factor_pct: rated_power_factor(settings, efficiency.value),
        rated_losses_kw: Figure::inferred(losses_kw, "from efficiency"),
        locked_rotor_current_a: locked,
        stator_resistance_ohm: resistance,
    }
}

/// Efficiency times power factor as power, voltage and current of the nameplate say it, per unit.
pub(super) fn product_pu(settings: &Settings) -> f64 {
    settings.motor.rated_power_kw * 1e3 / settings.motor.rated_apparent_va()
}

/// As given, else off the curve, else from the power factor.
fn rated_efficiency(settings: &Settings) -> Figure {
    let motor = &settings.motor;
    if let Some(given) = motor.rated_efficiency_pct {
        return Figure::given(given);
    }
    if let Some(curve) = &motor.efficiency_pct {
        return Figure::inferred(curve.efficiency_pct(1.0), "off the curve");
    }
    let power_factor = rated_power_factor_given(settings).map_or(f64::NAN, |figure| figure.value);
    Figure::inferred(1e4 * product_pu(settings) / power_factor, "P / (sqrt3 V I power factor)")
}

/// As given, else off the curve, else from the efficiency.
fn rated_power_factor(settings: &Settings, efficiency_pct: f64) -> Figure {
    rated_power_factor_given(settings)
        .unwrap_or_else(|| Figure::inferred(1e4 * product_pu(settings) / efficiency_pct, "P / (sqrt3 V I efficiency)"))
}

/// The power factor at rated load as far as the file says it.
pub(super) fn rated_power_factor_given(settings: &Settings) -> Option<Figure> {
    let motor = &settings.motor;
    let curve = || motor.power_factor_pct.as_ref();
    motor
        .rated_power_factor_pct
        .map(Figure::given)
        .or_else(|| curve().map(|curve| Figure::inferred(curve.value_pct(1.0), "off the curve")))
}

#[cfg(test)]
mod tests {
    use super::super::testing::{MOTOR_RATED, good, parsed};
    use super::*;

    fn close(figure: Figure, value: f64, from: Provenance) {
        assert!((figure.value - value).abs() < 5e-4 * value, "{figure:?}, expected {value}");
        assert_eq!(figure.from, from);
    }

    /// Own arithmetic on the sample nameplate: 55 kW, 400 V, 96.55 A, 1477.3 rpm, power factor 87.7 %.
    #[test]
    fn a_nameplate_with_power_factor_gives_efficiency() {
        let derived = derive(&parsed(&good()).0);
        close(derived.synchronous_speed_rpm, 1500.0, Provenance::Inferred);
        close(derived.rated_slip_pct, 1.5133, Provenance::Inferred);
        close(derived.rated_torque_nm, 355.52, Provenance::Inferred);
        close(derived.rated_efficiency_pct, 93.755, Provenance::Inferred);
        close(derived.rated_power_factor_pct, 87.7, Provenance::Given);
        close(derived.rated_losses_kw, 3.6637, Provenance::Inferred);
        close(derived.locked_rotor_current_a, 579.3, Provenance::Default);
        // 0.37 x 3663.7 W / (3 x 96.55² A²)
        close(derived.stator_resistance_ohm, 0.048_473, Provenance::Inferred);
    }

    #[test]
    fn a_nameplate_with_efficiency_gives_power_factor() {
        let text = good().replace(MOTOR_RATED, "rated_efficiency_pct = 93.76");
        let derived = derive(&parsed(&text).0);
        close(derived.rated_efficiency_pct, 93.76, Provenance::Given);
        close(derived.rated_power_factor_pct, 87.695, Provenance::Inferred);
    }

    #[test]
    fn a_curve_alone_is_enough() {
        let text = good().replace(MOTOR_RATED, "efficiency_pct = [[75, 93.86], [100, 93.76]]");
        let derived = derive(&parsed(&text).0);
        close(derived.rated_efficiency_pct, 93.76, Provenance::Inferred);
        close(derived.rated_power_factor_pct, 87.695, Provenance::Inferred);
    }
}
