//! The motor's coefficients: per unit on its rated voltage and current.

use super::{ROOT_THREE_Q28, amps, factor, watts};
use crate::error::SettingsError;
use crate::math::divide::{over, part, signed, unsigned};
use crate::math::scale::Scale;
use crate::settings::coefficients::{MotorCoefficients, WindingCoefficients};
use crate::settings::{Motor, Winding};
use crate::time::Span;
use crate::unit::SquareAmps;

/// `inside`: windings' currents are measured, which in delta are smaller than the lines'.
#[inline(never)] // copied whole, not figure by figure
pub(super) fn build(
    m: &Motor,
    inertia_gm2: Option<u32>,
    inside: bool,
    rate_mhz: u32,
) -> Result<MotorCoefficients, SettingsError> {
    let (power, current, voltage) =
        (u128::from(m.rated_power_mw), u128::from(m.rated_current_ma), u128::from(m.rated_voltage_mv));
    let fits = (50_000..=15_000_000_000).contains(&power)
        && (100..=8_000_000).contains(&current)
        && (1_000..=32_000_000).contains(&voltage)
        && (1_000..=100_000_000).contains(&m.synchronous_mrpm)
        && (40_000..=72_000).contains(&m.rated_frequency_mhz);
    if !fits {
        return Err(SettingsError::Motor);
    }
    // base = sqrt3 * V * I in µW (mV * mA): 25 + 23 + 1 bits.
    let base_uw = (voltage * current * u128::from(ROOT_THREE_Q28)) >> 28;
    // Z base = V / (sqrt3 I) in µΩ: 38 bits.
    let z_base = over(voltage * 1_000_000 * (1 << 28), current * u128::from(ROOT_THREE_Q28)) as u64;
    let unit = |uohm: u32| -> Result<i32, SettingsError> {
        let q24 = unsigned(u64::from(uohm) << 24, z_base).ok_or(SettingsError::Circuit)?;
        if q24 >= 1 << 30 { Err(SettingsError::Circuit) } else { Ok(q24 as i32) }
    };
    let share = |mw: u32| -> Result<i32, SettingsError> {
        let q24 = over((u128::from(mw) * 1_000) << 24, base_uw); // the base is at least 1 000 times 100 by a root
        if q24 >= 1 << 30 { Err(SettingsError::Circuit) } else { Ok(q24 as i32) }
    };
    if m.magnetising_uohm == 0 || m.rotor_resistance_uohm == 0 {
        return Err(SettingsError::Circuit);
    }
    let admittance = part(z_base << 24, m.magnetising_uohm); // 62 bits
    if admittance >= 1 << 30 {
        return Err(SettingsError::Circuit);
    }
    let ma = u64::from(m.rated_current_ma);
    let made = || -> Option<MotorCoefficients> {
        Some(MotorCoefficients {
            // watts Q16 -> unit Q24: * 2^8 / base[W]
            power_to_unit: Scale::from_ratio(256 * 1_000_000, base_uw)?,
            unit_to_power: Scale::from_ratio(base_uw as i128, 256 * 1_000_000)?,
            // sum of squares Q34 -> Q24: / (2^10 * 3 * Ir²), Ir in mA
            square_to_unit: Scale::from_ratio(1_000_000, (3 * current * current) << 10)?,
            // V² Q32 -> Q24 over (Vr/sqrt3)²: * 3 / (2^8 Vr²), Vr in mV
            voltage_to_unit: Scale::from_ratio(3_000_000, (voltage * voltage) << 8)?,
            stator_resistance: 0,
            stator_leakage: 0,
            magnetising_admittance: admittance as i32,
            rotor_resistance: 0,
            leakage: 0,
            momentum: None,
            deep_bar: 0,
            winding: None,
            core_loss: 0,
            friction_loss: 0,
            stray: 0,
            synchronous_rpm: part(u64::from(m.synchronous_mrpm) << 12, 1_000).min(i32::MAX as u64) as i32,
            // W Q16 -> N·m Q8: / 2^8 / (2 pi n / 60); 60/(2 pi) = 9.549296586, n in mrpm
            power_to_torque: factor(9_549_296_586, (1_000_000 * u64::from(m.synchronous_mrpm)) << 8)?,
            load: factor(256 * 1_000, m.rated_power_mw)?,
            current_share: factor(128 * 1_000, m.rated_current_ma.into())?,
            // rate / frequency, at least 2000/72 frames
            rated_cycle: unsigned(u64::from(rate_mhz) << 16, m.rated_frequency_mhz.into())? as u32,
            onset: SquareAmps::of(amps((m.rated_current_ma / 5).into())),
            gone: SquareAmps::of(amps((m.rated_current_ma / 10).into())),
            star_most: SquareAmps::of(amps(if inside { ma * 3 } else { (ma * 7) >> 1 })),
            star_leap: if inside { 2 } else { 1 },
            // Starters change over soon after the run-up (common practice, no source).
            star_longest: if inside { super::span(30_000, rate_mhz).ok()? } else { Span(u64::MAX) },
            run_level: SquareAmps::of(amps((ma * 5) >> 1)),
            rated_power: watts(m.rated_power_mw),
        })
    };
    let mut c = made().ok_or(SettingsError::Motor)?;
    c.stator_resistance = unit(m.stator_resistance_uohm)?;
    c.stator_leakage = unit(m.stator_leakage_uohm)?;
    c.rotor_resistance = unit(m.rotor_resistance_uohm)?;
    c.momentum = match inertia_gm2 {
        // base dt / (J w²): J in g m², dt half a cycle of mHz, w = 2 pi n / 60 of mrpm; (2 pi / 60)² = 0.010966227.
        Some(inertia @ 1..=1_000_000_000) => {
            let speed = u128::from(m.synchronous_mrpm);
            let twice_kinetic = u128::from(m.rated_frequency_mhz) * u128::from(inertia) * 10_966_227 * speed * speed;
            Some(
                Scale::from_ratio(base_uw as i128 * 500_000_000_000_000, twice_kinetic)
                    .ok_or(SettingsError::Inertia)?,
            )
        }
        Some(_) => return Err(SettingsError::Inertia),
        None => None,
    };
    // 1 / pi at Q24.
    c.leakage = ((i64::from(c.stator_leakage) * 5_340_354) >> 24) as i32;
    // The stray figure multiplies the sum of three squares; per unit squares are their mean.
    c.stray = unit(m.stray_uohm.unsigned_abs())? * m.stray_uohm.signum();
    c.core_loss = share(m.core_loss_mw)?;
    c.friction_loss = share(m.friction_loss_mw)?;
    if m.deep_bar_ppm > 15_000_000 {
        return Err(SettingsError::Circuit);
    }
    c.deep_bar = part(u64::from(m.deep_bar_ppm) << 24, 1_000_000) as i32; // below 2^28
    c.winding = match m.winding {
        Some(w) => Some(winding(&w, rate_mhz).ok_or(SettingsError::Winding)?),
        None => None,
    };
    Ok(c)
}

/// Where the resistance of copper and of aluminium would vanish, m°C below zero (IEC 60034-1 and IEEE 112, from memory).
const COPPER_MC: i64 = 234_500;
const ALUMINIUM_MC: i64 = 225_000;

fn winding(w: &Winding, rate_mhz: u32) -> Option<WindingCoefficients> {
    let (rise, ambient, start) = (i64::from(w.rise_mk), i64::from(w.ambient_mc), i64::from(w.start_mc));
    let fits = (1..=super::LONGEST_MS).contains(&w.time_constant_ms)
        && (1_000..=300_000).contains(&rise)
        && (-50_000..=100_000).contains(&ambient)
        && (ambient..=300_000).contains(&start);
    if !fits {
        return None;
    }
    // At least 175 000 in the denominator.
    let share = |vanishes: i64| Some(signed(rise << 24, vanishes + ambient + rise)? as i32);
    Some(WindingCoefficients {
        warming: factor(1_000_000, u64::from(w.time_constant_ms) * u64::from(rate_mhz))?,
        start: signed((start - ambient) << 32, rise)?,
        stator: share(COPPER_MC)?,
        rotor: share(ALUMINIUM_MC)?,
    })
}
