//! Figures as they are written: finite, with as many digits as mean something.
//!
//! Fixed-point figures carry noise far below any error of measurement; nine significant digits keep the
//! figure and drop the noise. Times keep a microsecond whatever the length of a trace.

use shaftwork_core::judge::report::Register;
use shaftwork_core::unit::{Amps, Joules, Ratio, Volts, Watts};

/// Significant digits of a figure.
const DIGITS: i32 = 9;
/// 2^20: the fraction of an energy register.
const Q20: f64 = 1_048_576.0;
/// Joules in a kilowatt-hour.
const KWH: f64 = 3.6e6;

/// A figure at nine significant digits. What is not finite becomes 0: callers give `None` instead.
pub fn figure(x: f64) -> f64 {
    if x == 0.0 || !x.is_finite() {
        return 0.0;
    }
    // Powers of ten up to 10^22 are exact, so one division rounds to the nearest decimal.
    let places = DIGITS - 1 - x.abs().log10().floor() as i32;
    match places {
        ..=-1 => {
            let unit = 10f64.powi(-places);
            (x / unit).round() * unit
        }
        0..=22 => {
            let unit = 10f64.powi(places);
            (x * unit).round() / unit
        }
        _ => 0.0, // below 1e-14: nothing here is that small and meant
    }
}

/// Kilojoules, to four significant digits.
pub fn kilojoules(x: Joules) -> f64 {
    let kj = x.0.to_num::<f64>() / 1e3;
    if kj == 0.0 { 0.0 } else { figure(format!("{kj:.3e}").parse().unwrap_or(kj)) }
}

/// Seconds, to the microsecond.
pub fn seconds(x: f64) -> f64 {
    if x.is_finite() { (x * 1e6).round() / 1e6 } else { 0.0 }
}

/// A length or instant in frames with 16 fraction bits, in seconds at a rate in Hz.
pub fn frames_s(q16: u64, rate_hz: f64) -> f64 {
    q16 as f64 / 65_536.0 / rate_hz
}

/// Per cent of a ratio.
pub fn pct(x: Ratio) -> f64 {
    figure(x.0.to_num::<f64>() * 100.0)
}

/// Volts.
pub fn volts(x: Volts) -> f64 {
    figure(x.0.to_num())
}

/// Amperes.
pub fn amps(x: Amps) -> f64 {
    figure(x.0.to_num())
}

/// Watts, var or VA.
pub fn watts(x: Watts) -> f64 {
    figure(x.0.to_num())
}

/// Kilowatt-hours (or kvarh) in a register, unrounded.
pub fn kwh(x: Register) -> f64 {
    (x.joules as f64 + f64::from(x.fraction) / Q20) / KWH
}

/// Kilowatt-hours in a signed sum of 2^-20 J, unrounded.
pub fn signed_kwh(q20: i128) -> f64 {
    q20 as f64 / Q20 / KWH
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Decimal by hand.
    #[test]
    #[expect(clippy::float_cmp, reason = "the nearest double of the decimal is wanted")]
    fn nine_digits() {
        for (x, want) in [
            (0.0, 0.0),
            (1.0 / 3.0, 0.333_333_333),
            (-123_456_789.4, -123_456_789.0),
            (12_345_678_949.0, 12_345_678_900.0),
            (49.999_999_999_9, 50.0),
            (1e-15, 0.0),
            (f64::NAN, 0.0),
            (f64::INFINITY, 0.0),
        ] {
            assert_eq!(figure(x), want, "{x}");
        }
        assert_eq!(figure(0.1 + 0.2).to_string(), "0.3");
        assert_eq!(seconds(86_400.123_456_7), 86_400.123_457);
    }

    /// 3.6 MJ are one kilowatt-hour (SI brochure, table 8).
    #[test]
    fn registers() {
        let r = Register { joules: 3_599_999, fraction: 1 << 19 };
        assert!((kwh(r) * 3.6e6 - 3_599_999.5).abs() < 1e-6);
        assert!((signed_kwh(-(3_600_000 << 20)) + 1.0).abs() < 1e-12);
    }

    #[test]
    fn frames_with_sixteen_fraction_bits() {
        assert!((frames_s((4_000 << 16) + (1 << 15), 4_000.0) - 1.000_125).abs() < 1e-12);
    }
}
