//! The core's fixed-point figures as `f64`, and how far they are from what was expected.

use shaftwork_core::unit::{Amps, Hertz, Newtonmetres, Ratio, Rpm, Volts, Watts};

/// A fixed-point figure in its unit.
pub trait Figure {
    /// The value.
    fn value(self) -> f64;
}

macro_rules! figure {
    ($($unit:ty, $bits:literal;)*) => { $(
        impl Figure for $unit {
            fn value(self) -> f64 {
                self.to_bits() as f64 / f64::from(1u32 << $bits)
            }
        }
    )* };
}

figure! { Volts, 16; Amps, 17; Watts, 16; Hertz, 22; Ratio, 24; Newtonmetres, 8; Rpm, 12; }

/// Asserts that a figure lies within `tolerance` (absolute) of what was expected.
///
/// # Panics
///
/// When it does not.
#[track_caller]
pub fn near(what: &str, got: f64, want: f64, tolerance: f64) {
    assert!((got - want).abs() <= tolerance, "{what}: {got} is not within {tolerance} of {want}");
}

/// Asserts that a figure lies within so many per cent of what was expected.
///
/// # Panics
///
/// When it does not.
#[track_caller]
pub fn within_pct(what: &str, got: f64, want: f64, percent: f64) {
    near(what, got, want, want.abs() * percent / 100.0);
}
