//! Registers of meters that begin anew at nought when they are full.

/// What a register took between two readings, if it began anew once at most; `modulus` is one more than its highest
/// reading. `None`: a reading is none of that register's.
///
/// ```
/// use shaftwork_sim::audit::register::advance;
/// assert_eq!(advance(999_987, 12, 1_000_000), Some(25));
/// ```
pub fn advance(before: u64, after: u64, modulus: u64) -> Option<u64> {
    if before >= modulus || after >= modulus {
        return None;
    }
    Some(if after >= before { after - before } else { modulus - before + after })
}

/// The most that a meter can have counted, kWh: a fifth above what the motor's rated power gives (common practice, no source).
pub fn most_kwh(rated_kw: f64, elapsed_s: f64) -> f64 {
    1.2 * rated_kw * elapsed_s / 3_600.0
}

/// Whether it can have counted so much. More means a meter that was changed or set back, which a person must say.
pub fn plausible(kwh: f64, rated_kw: f64, elapsed_s: f64) -> bool {
    kwh <= most_kwh(rated_kw, elapsed_s)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Own arithmetic: six digits, 32 bits.
    #[test]
    fn a_register_begins_anew() {
        assert_eq!(advance(999_987, 12, 1_000_000), Some(25));
        assert_eq!(advance((1 << 32) - 5, 7, 1 << 32), Some(12));
        assert_eq!(advance(3, 3, 10), Some(0));
        assert_eq!(advance(0, u64::MAX - 1, u64::MAX), Some(u64::MAX - 1));
        assert_eq!(advance(10, 3, 10), None);
    }

    /// 55 kW for an hour are 66 kWh with a fifth on top.
    #[test]
    fn a_meter_set_back_is_no_rollover() {
        assert!(plausible(66.0, 55.0, 3_600.0));
        assert!(!plausible(66.1, 55.0, 3_600.0));
    }
}
