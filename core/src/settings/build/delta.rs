//! Current transformers inside the delta: how codes of windings become codes of lines.
//!
//! A line's code is a difference of two windings' codes, each less its offset and by its gain over the largest of the three. Its
//! unit is chosen so that a winding's full scale is 2^21 whatever the converter's width: a difference is below 2^23, as wide as
//! the meter takes, and no code is rounded but those of 23 and 24 bits.

use crate::error::SettingsError;
use crate::math::divide::{by, signed};
use crate::settings::coefficients::DeltaCoefficients;
use crate::settings::{CurrentTap, Sampling, Wiring};

/// Bits of a line's code, at a winding's full scale, with its sign.
const BITS: u32 = 22;

/// For ranges that have been checked; nothing where line currents are measured.
pub(super) fn build(wiring: Wiring, sampling: &Sampling) -> Result<Option<DeltaCoefficients>, SettingsError> {
    let forward = match sampling.current_tap {
        CurrentTap::Line => return Ok(None),
        CurrentTap::DeltaAb => true,
        CurrentTap::DeltaAc => false,
    };
    if wiring == Wiring::TwoElement {
        return Err(SettingsError::CurrentTap);
    }
    let largest = i64::from(largest(sampling));
    let (mut weight, mut zero) = ([0; 3], [0; 3]);
    for k in 0..3 {
        // Gain below 2^27 times at most 2^30, down to 2^30; nearest, half away from zero.
        let gain = i64::from(sampling.gain_ppm[3 + k]) << (20 + BITS - u32::from(sampling.bits));
        weight[k] = signed(2 * gain + gain.signum() * largest, 2 * largest).unwrap_or(0) as i32;
        zero[k] = (i64::from(sampling.offset_q8[3 + k]) * i64::from(weight[k])) >> 8; // a quarter of 2^21 at Q20
    }
    Ok(Some(DeltaCoefficients { weight, zero, forward }))
}

/// The largest gain of a current, ppm: at least one.
fn largest(sampling: &Sampling) -> i32 {
    sampling.gain_ppm[3..].iter().fold(1, |most, gain| most.max(gain.saturating_abs()))
}

/// Line currents as if they had been measured: one gain, no offset, and the mean of the windings' skews and leads.
pub(super) fn as_lines(sampling: &Sampling) -> Sampling {
    let mut lines = *sampling;
    if sampling.current_tap == CurrentTap::Line {
        return lines;
    }
    let mean = |x: &[i32]| by(x.iter().map(|x| i64::from(*x)).sum(), 3) as i32;
    lines.gain_ppm[3..].fill(largest(sampling));
    lines.offset_q8[3..].fill(0);
    lines.skew_ns[3..].fill(mean(&sampling.skew_ns[3..]));
    lines.lead_urad.fill(mean(&sampling.lead_urad));
    lines
}

/// A converter's code, `num / den` in SI, in line codes.
pub(super) const fn fine(num: i128, den: u128, bits: u8) -> (i128, u128) {
    (num << bits, den << BITS)
}
