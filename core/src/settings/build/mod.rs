//! Ranges and rounding: integer settings -> [`Coefficients`]. Runs once; may use 128 bits freely.

mod delta;
mod feed;
mod motor;
mod trips;

use super::coefficients::{Coefficients, CurveCoefficients, JudgeCoefficients, MAX_PAIRS, MeterCoefficients};
use super::{CHANNELS, CURVE_POINTS, CurrentTap, Sampling, Settings, Starter, Supply, Wiring};
use crate::error::SettingsError;
use crate::math::divide::{by, over, part, unsigned};
use crate::math::scale::Scale;
use crate::meter::pairs::{Pair, pairs};
use crate::time::Span;
use crate::unit::{Amps, SquareAmps, SquareVolts, Volts, Watts};

/// Ten hours, the longest time that a setting may name.
const LONGEST_MS: u32 = 36_000_000;

/// 2^28 over the square root of two, and of three: peak to rms, line to phase.
const ROOT_HALF_Q28: u32 = 189_812_531;
const ROOT_THREE_Q28: u32 = 464_943_848;

pub(super) fn build(settings: &Settings) -> Result<Coefficients, SettingsError> {
    let rate = settings.sampling.rate_mhz;
    if !(2_000_000..=16_000_000).contains(&rate) {
        return Err(SettingsError::Rate);
    }
    if !(50_000..=15_000_000).contains(&settings.supply.line_voltage_mv) {
        return Err(SettingsError::LineVoltage);
    }
    let inside = settings.sampling.current_tap != CurrentTap::Line;
    let motor = motor::build(&settings.motor, settings.mill.inertia_gm2, inside, rate)?;
    let idle = match settings.mill.idle_power_mw {
        Some(mw) if mw > settings.motor.rated_power_mw.saturating_mul(4) => return Err(SettingsError::Idle),
        Some(mw) => Some(watts(mw)),
        None => None,
    };
    // J w² / 2: g m² to kg m², 1/4096 rpm to rad/s, joules to Q20; (2 pi / 60)² / 2 / 16 = 3.42694597e-4.
    let kinetic = match settings.mill.inertia_gm2 {
        Some(inertia) => factor(u64::from(inertia) * 342_694_597, 1_000_000_000_000_000), // 61 bits
        None => None,
    };
    Ok(Coefficients {
        meter: meter(settings.supply, &settings.sampling, settings.motor.rated_current_ma)?,
        judge: JudgeCoefficients {
            seconds_per_frame: factor(1_000, rate.into()).ok_or(SettingsError::Rate)?,
            motor,
            curve: curve(settings)?,
            idle,
            coast_down: span(settings.mill.coast_down_ms, rate)?,
            kinetic,
            // Contactors change over within 30 to 150 ms (common practice, no source): half a second is well beyond.
            change_over: span(if settings.motor.starter == Starter::StarDelta { 500 } else { 0 }, rate)?,
            settle: span(500, rate)?,
            fresh: span(60_000, rate)?,
            day: Span::from_millis(86_400_000, rate).ok_or(SettingsError::Rate)?,
            voltage_gone: voltage_gone(settings.supply.line_voltage_mv),
            voltages: match settings.supply.wiring {
                Wiring::FourWire | Wiring::ThreeWire => 0b111,
                Wiring::TwoElement => 0b011,
                Wiring::CurrentsOnly => 0,
            },
            trips: trips::build(&settings.trips, settings, kinetic)?,
            restart: trips::restart(settings.restart, rate, kinetic, motor.synchronous_rpm.into())?,
            feed: feed::build(&settings.feed, rate)?,
        },
    })
}

/// Points in squares at Q24.
fn curve(settings: &Settings) -> Result<Option<CurveCoefficients>, SettingsError> {
    let Some(curve) = settings.curve else {
        let blind = settings.supply.wiring == Wiring::CurrentsOnly;
        return if blind { Err(SettingsError::Curve) } else { Ok(None) };
    };
    let nominal = volts(phase(settings.supply.line_voltage_mv.into()));
    let mut points = [(0, 0); CURVE_POINTS];
    let mut before = 0;
    for ((to, square), (current, power)) in points.iter_mut().map(|(a, b)| (a, b)).zip(curve.points) {
        if current <= before || current > 15_000_000 || power > current || power > 7_900_000 {
            return Err(SettingsError::Curve);
        }
        before = current;
        // ppm² at Q24: 24 + 48 bits.
        let q24 = |ppm: u32| over((u128::from(ppm) * u128::from(ppm)) << 24, 1_000_000_000_000);
        (*to, *square) = (q24(current) as i64, q24(power) as i64);
    }
    let blind = settings.supply.wiring == Wiring::CurrentsOnly;
    Ok(Some(CurveCoefficients { points, voltage: if blind { Some(nominal) } else { None } }))
}

/// `num / den` as a factor. Most need no more than 64 bits: what makes more of them stands here once.
#[inline(never)] // called in many places, once
fn factor(num: u64, den: u64) -> Option<Scale> {
    Scale::from_ratio(num.into(), den.into())
}

#[inline(never)] // called in many places, once
fn span(ms: u32, rate_mhz: u32) -> Result<Span, SettingsError> {
    if ms > LONGEST_MS {
        return Err(SettingsError::Trip);
    }
    Span::from_millis(ms, rate_mhz).ok_or(SettingsError::Rate)
}

/// Milliwatts, at most 2^47 W, as Q16.
#[inline(never)] // called in many places, once
fn watts(mw: u64) -> Watts {
    Watts::from_bits(over(u128::from(mw) << 16, 1_000).min(i64::MAX as u128) as i64)
}

/// Milliamps as Q17, saturating at 16 383 A.
#[inline(never)] // called in many places, once
fn amps(ma: u64) -> Amps {
    Amps::from_bits(part(ma.min(1 << 46) << 17, 1_000).min(i32::MAX as u64) as i32)
}

/// Millivolts as Q16, saturating at 32 767 V.
#[inline(never)] // called in many places, once
fn volts(mv: u64) -> Volts {
    Volts::from_bits(part(mv.min(1 << 47) << 16, 1_000).min(i32::MAX as u64) as i32)
}

/// A voltage between lines, below 2^36 mV, as that to the star point.
#[inline(never)] // called in many places, once
fn phase(line_mv: u64) -> u64 {
    part(line_mv << 28, ROOT_THREE_Q28)
}

/// Phase a frame of a frequency in mHz.
fn step(mhz: u64, rate_mhz: u32) -> u32 {
    unsigned(mhz << 32, rate_mhz.into()).unwrap_or(0) as u32 // at most 72/2000 of 2^32
}

/// 5 % of the nominal voltage to the star point.
fn voltage_gone(line_mv: u32) -> Volts {
    volts(unsigned(u64::from(line_mv) << 28, u64::from(ROOT_THREE_Q28) * 20).unwrap_or(0))
}

/// `skew [ns] * rate [mHz] / 10^12` frames at Q24, towards zero: at most 16 frames, 28 bits.
fn frames_q24(skew_ns: i32, rate_mhz: u32) -> i32 {
    let frames = over((u128::from(skew_ns.unsigned_abs()) * u128::from(rate_mhz)) << 24, 1_000_000_000_000) as i32;
    if skew_ns < 0 { -frames } else { frames }
}

/// What a channel's own figures may be.
fn ranges(sampling: &Sampling, full_code: i32) -> Result<(), SettingsError> {
    for k in 0..CHANNELS {
        let gain = sampling.gain_ppm[k];
        if gain == 0 || gain.unsigned_abs() > 100_000_000 {
            return Err(SettingsError::Gain);
        }
        if sampling.offset_q8[k].unsigned_abs() > (full_code.unsigned_abs() / 4) << 8 {
            return Err(SettingsError::Offset);
        }
        let lead_urad = if k < 3 { 0 } else { sampling.lead_urad[k - 3] };
        if sampling.skew_ns[k].unsigned_abs() > 1_000_000 || lead_urad.unsigned_abs() > 200_000 {
            return Err(SettingsError::Timing);
        }
    }
    Ok(())
}

/// Two channels' factors and another. That one first: the product of two full scales alone would be beyond what a factor can be.
#[inline(never)] // in two places
fn both(first: Scale, second: Scale, by: Option<Scale>) -> Option<Scale> {
    first.times(by?)?.times(second)
}

#[inline(never)] // copied whole, not figure by figure
fn meter(supply: Supply, sampling: &Sampling, rated_current_ma: u32) -> Result<MeterCoefficients, SettingsError> {
    if !(12..=24).contains(&sampling.bits) {
        return Err(SettingsError::Bits);
    }
    let full_code = (1i32 << (sampling.bits - 1)) - 1;
    let (fv, fi) = (sampling.voltage_full_scale_mv, sampling.current_full_scale_ma);
    if !(1..=32_000_000).contains(&fv) || !(1..=16_000_000).contains(&fi) {
        return Err(SettingsError::FullScale);
    }
    ranges(sampling, full_code)?;
    let delta = delta::build(supply.wiring, sampling)?;
    let sampling = &delta::as_lines(sampling);
    let mut to_si = [Scale::ZERO; CHANNELS]; // code -> volts Q16 or amps Q17
    let mut phasor = [Scale::ZERO; CHANNELS];
    let mut skew_frames_q24 = [0; CHANNELS];
    let mut lead = [0; CHANNELS];
    for k in 0..CHANNELS {
        let (skew, lead_urad) = (sampling.skew_ns[k], if k < 3 { 0 } else { sampling.lead_urad[k - 3] });
        let (full_milli, q) = if k < 3 { (fv, 16) } else { (fi, 17) };
        let num = (i128::from(full_milli) * i128::from(sampling.gain_ppm[k])) << q; // 24 + 27 + 17 bits
        let den = 1_000_000_000 * full_code as u128;
        // At most 24 bits more, and 28 for the phasor.
        let (num, den) = if k >= 3 && delta.is_some() { delta::fine(num, den, sampling.bits) } else { (num, den) };
        to_si[k] = Scale::from_ratio(num, den).ok_or(SettingsError::FullScale)?;
        // Peak to rms is one over root two.
        phasor[k] =
            Scale::from_ratio(num * i128::from(ROOT_HALF_Q28), den << (28 + 16)).ok_or(SettingsError::FullScale)?;
        skew_frames_q24[k] = frames_q24(skew, sampling.rate_mhz);
        // 2^32 / (2 pi 10^6) = 683.565276 units a microradian.
        lead[k] = by(i64::from(lead_urad) * 683_565_276, 1_000_000) as i32;
    }
    let seconds_per_frame = factor(1_000, sampling.rate_mhz.into()).ok_or(SettingsError::Rate)?;
    let (mut product, mut energy) = ([Scale::ZERO; MAX_PAIRS], [Scale::ZERO; MAX_PAIRS]);
    for ((pair, product), energy) in pairs(supply.wiring).iter().zip(&mut product).zip(&mut energy) {
        let Pair { first, second, power } = *pair;
        let both = |by| both(to_si[first as usize], to_si[second as usize], by);
        // The mean arrives at Q16. Volts times amps is Q33: 17 more to reach watts Q16.
        let down = if pair.is_power() { 16 + 17 } else { 16 };
        *product = both(factor(1, 1 << down)).ok_or(SettingsError::FullScale)?;
        // Volt amps Q33 a frame over the rate -> joules Q20; `power` is the wiring's factor times three.
        let den = (3 * u128::from(sampling.rate_mhz)) << 13;
        *energy = both(Scale::from_ratio(i128::from(power) * 1_000, den)).ok_or(SettingsError::Rate)?;
    }
    let voltage_gone = SquareVolts::of(voltage_gone(supply.line_voltage_mv));
    let (followed_gone, follow_halvings) = match supply.wiring {
        // 10 % of rated: below it the motor's current is gone.
        Wiring::CurrentsOnly => (SquareAmps::of(amps((rated_current_ma / 10).into())).0, 3),
        _ => (voltage_gone.0, 0),
    };
    let rotates = skew_frames_q24.iter().chain(lead.iter()).any(|&x| x != 0);
    Ok(MeterCoefficients {
        wiring: supply.wiring,
        full_code,
        range: crate::meter::Range::new(full_code),
        rate_mhz: sampling.rate_mhz,
        half_cycles: supply.nominal.half_cycles(),
        nominal_step: step(u64::from(supply.nominal.hertz()) * 1_000, sampling.rate_mhz),
        lowest_step: step(40_000, sampling.rate_mhz),
        highest_step: step(72_000, sampling.rate_mhz),
        hertz: factor(sampling.rate_mhz.into(), 1_000 << 10).ok_or(SettingsError::Rate)?,
        steps_per_block: crate::meter::steps_per_block(sampling.rate_mhz),
        offset_q8: sampling.offset_q8,
        phasor,
        product,
        energy,
        seconds_per_frame,
        // Lines' codes of a delta's windings have up to 24 bits.
        phasor_halvings: core::array::from_fn(|k| if k >= 3 && delta.is_some() { 24 } else { sampling.bits.max(16) }),
        skew_frames_q24,
        lead,
        delta,
        rotates,
        voltage_gone,
        followed_gone,
        follow_halvings,
        // 0.2 % of rated; a step of 8 µA.
        current_floor: SquareAmps::of(Amps::from_bits(part(u64::from(rated_current_ma) << 17, 500_000) as i32)),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::{PowerCurve, Winding};

    /// Every width takes every full scale that the ranges allow.
    #[test]
    fn full_scales_at_the_ends_of_their_ranges() {
        for bits in [12, 14, 16, 20, 24] {
            for (volts, amps) in [(1_000, 1_000), (32_000_000, 16_000_000), (1_000, 16_000_000), (32_000_000, 1_000)] {
                for wiring in [Wiring::FourWire, Wiring::ThreeWire, Wiring::TwoElement, Wiring::CurrentsOnly] {
                    let mut s = Settings::example();
                    s.supply.wiring = wiring;
                    // A power factor of a half at any current.
                    s.curve =
                        Some(PowerCurve { points: core::array::from_fn(|k| (400_000 * (k as u32 + 1), 200_000)) });
                    s.sampling.bits = bits;
                    s.sampling.voltage_full_scale_mv = volts;
                    s.sampling.current_full_scale_ma = amps;
                    assert!(s.build().is_ok(), "{bits} bits, {volts} mV, {amps} mA, {wiring:?}");
                    s.sampling.current_tap = CurrentTap::DeltaAc;
                    let wanted = if wiring == Wiring::TwoElement { Err(SettingsError::CurrentTap) } else { Ok(()) };
                    assert_eq!(s.build().map(|_| ()), wanted, "{bits} bits, {volts} mV, {amps} mA, {wiring:?}");
                }
            }
        }
    }

    #[test]
    fn what_is_out_of_range_is_named() {
        let wrong = |change: fn(&mut Settings)| {
            let mut s = Settings::example();
            change(&mut s);
            s.build().unwrap_err()
        };
        assert_eq!(wrong(|s| s.sampling.rate_mhz = 1_999_999), SettingsError::Rate);
        assert_eq!(wrong(|s| s.sampling.rate_mhz = 16_000_001), SettingsError::Rate);
        assert_eq!(wrong(|s| s.sampling.bits = 11), SettingsError::Bits);
        assert_eq!(wrong(|s| s.sampling.bits = 25), SettingsError::Bits);
        assert_eq!(wrong(|s| s.sampling.voltage_full_scale_mv = 0), SettingsError::FullScale);
        assert_eq!(wrong(|s| s.sampling.current_full_scale_ma = 16_000_001), SettingsError::FullScale);
        assert_eq!(wrong(|s| s.sampling.gain_ppm[3] = 0), SettingsError::Gain);
        assert_eq!(wrong(|s| s.sampling.offset_q8[0] = i32::MIN), SettingsError::Offset);
        assert_eq!(wrong(|s| s.sampling.skew_ns[5] = 1_000_001), SettingsError::Timing);
        assert_eq!(wrong(|s| s.supply.line_voltage_mv = 49_999), SettingsError::LineVoltage);
        assert_eq!(wrong(|s| s.motor.rated_current_ma = 99), SettingsError::Motor);
        assert_eq!(wrong(|s| s.motor.magnetising_uohm = 0), SettingsError::Circuit);
        assert_eq!(wrong(|s| s.motor.deep_bar_ppm = 15_000_001), SettingsError::Circuit);
        let cold = Winding { time_constant_ms: 900_000, rise_mk: 80_000, ambient_mc: 20_000, start_mc: 20_000 };
        for winding in [
            Winding { time_constant_ms: 0, ..cold },
            Winding { rise_mk: 0, ..cold },
            Winding { ambient_mc: -50_001, ..cold },
            Winding { start_mc: 19_999, ..cold },
        ] {
            let mut s = Settings::example();
            s.motor.winding = Some(winding);
            assert_eq!(s.build().unwrap_err(), SettingsError::Winding);
        }
        assert_eq!(wrong(|s| s.supply.wiring = Wiring::CurrentsOnly), SettingsError::Curve, "power from nothing");
        assert_eq!(wrong(|s| s.curve = Some(PowerCurve { points: [(1, 1); CURVE_POINTS] })), SettingsError::Curve);
        assert_eq!(
            wrong(|s| s.curve = Some(PowerCurve { points: core::array::from_fn(|k| (950_000 * (k as u32 + 1), 1)) })),
            SettingsError::Curve
        );
        assert_eq!(wrong(|s| s.mill.idle_power_mw = Some(u64::MAX)), SettingsError::Idle);
        assert_eq!(wrong(|s| s.trips.thermal.as_mut().unwrap().k_ppm = 0), SettingsError::Thermal);
        assert_eq!(wrong(|s| s.trips.jam.as_mut().unwrap().pickup_ppm = 0), SettingsError::Trip);
        assert_eq!(wrong(|s| s.trips.jam.as_mut().unwrap().delay_ms = 36_000_001), SettingsError::Trip);
    }
}
