//! Physical quantities: newtypes whose name is the unit and whose inner type is the Q-format.
//!
//! A raw converter code is a plain `i32` inside a [`crate::Frame`]; a quantity here is never a code.
//! The conversion happens once, where a half cycle or a window is closed.
//!
//! | type | inner | step | range |
//! |---|---|---|---|
//! | [`Volts`] | `I16F16` | 15 µV | ±32 767 V |
//! | [`Amps`] | `I15F17` | 7.6 µA | ±16 383 A |
//! | [`Watts`] (also var and VA) | `I48F16` | 15 µW | ±1.4e14 W |
//! | [`Joules`] | `I44F20` | 1 µJ | ±8.8e12 J |
//! | [`Hertz`] | `I10F22` | 0.24 µHz | ±511 Hz |
//! | [`Ratio`] | `I8F24` | 6e-8 | ±127 |
//! | [`Newtonmetres`] | `I24F8` | 4 mN·m | ±8.3e6 N·m |
//! | [`Rpm`] | `I20F12` | 0.24e-3 rpm | ±524 287 rpm |
//! | [`SquareVolts`], [`SquareAmps`] | `u64`, Q32 and Q34 | | up to the square of the range above |

use fixed::types::{I8F24, I10F22, I15F17, I16F16, I20F12, I24F8, I44F20, I48F16};

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $inner:ty, $bits:ty, $above:literal, $below:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
        #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
        pub struct $name(pub $inner);

        impl $name {
            /// None of it.
            pub const ZERO: Self = Self(<$inner>::ZERO);

            /// From the raw bits of the Q-format.
            #[must_use]
            pub const fn from_bits(bits: $bits) -> Self {
                Self(<$inner>::from_bits(bits))
            }

            /// The raw bits of the Q-format.
            #[must_use]
            pub const fn to_bits(self) -> $bits {
                self.0.to_bits()
            }
        }

        #[cfg(feature = "defmt")]
        impl defmt::Format for $name {
            /// Thousandths, rounded towards nothing: 314.059 A.
            fn format(&self, f: defmt::Formatter<'_>) {
                let (magnitude, fraction) = (i64::from(self.to_bits()).unsigned_abs(), <$inner>::FRAC_NBITS);
                let (whole, rest) = (magnitude >> fraction, magnitude & ((1 << fraction) - 1));
                // At most 24 fraction bits and 10 of a thousand: 34 of 64.
                let thousandths = (rest * 1_000) >> fraction;
                if self.to_bits() < 0 {
                    defmt::write!(f, $below, whole, thousandths);
                } else {
                    defmt::write!(f, $above, whole, thousandths);
                }
            }
        }
    };
}

quantity!(
    /// Electric potential difference, rms or a phasor's component.
    ///
    /// ```
    /// use shaftwork_core::unit::Volts;
    /// assert_eq!(Volts::from_bits(230 << 16).0, 230);
    /// ```
    Volts, I16F16, i32, "{=u64}.{=u64:03} V", "-{=u64}.{=u64:03} V"
);
quantity!(
    /// Electric current, rms or a phasor's component.
    Amps, I15F17, i32, "{=u64}.{=u64:03} A", "-{=u64}.{=u64:03} A"
);
quantity!(
    /// Power: watts of active, vars of reactive, volt-amperes of apparent power.
    Watts, I48F16, i64, "{=u64}.{=u64:03} W", "-{=u64}.{=u64:03} W"
);
quantity!(
    /// Energy; 3 600 000 J are one kilowatt-hour.
    Joules, I44F20, i64, "{=u64}.{=u64:03} J", "-{=u64}.{=u64:03} J"
);
quantity!(
    /// Frequency.
    Hertz, I10F22, i32, "{=u64}.{=u64:03} Hz", "-{=u64}.{=u64:03} Hz"
);
quantity!(
    /// A pure number: 1 is 100 %. Saturates at ±127.
    Ratio, I8F24, i32, "{=u64}.{=u64:03} of 1", "-{=u64}.{=u64:03} of 1"
);
quantity!(
    /// Torque.
    Newtonmetres, I24F8, i32, "{=u64}.{=u64:03} N m", "-{=u64}.{=u64:03} N m"
);
quantity!(
    /// Speed of rotation.
    Rpm, I20F12, i32, "{=u64}.{=u64:03} rpm", "-{=u64}.{=u64:03} rpm"
);

macro_rules! square {
    ($(#[$doc:meta])* $name:ident, $root:ident, $q:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
        #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
        #[cfg_attr(feature = "defmt", derive(defmt::Format))]
        pub struct $name(pub u64);

        impl $name {
            #[doc = concat!("The square of a value; a negative one has the same square. Exact, Q", $q, ".")]
            #[must_use]
            pub const fn of(value: $root) -> Self {
                let magnitude = value.to_bits().unsigned_abs() as u64; // at most 2^31
                Self(magnitude * magnitude) // at most 2^62
            }

            /// The root, rounded down to a step of the result.
            #[must_use]
            pub const fn root(self) -> $root {
                let root = crate::math::root::isqrt(self.0);
                $root::from_bits(if root > i32::MAX as u32 { i32::MAX } else { root as i32 })
            }
        }
    };
}

square!(
    /// A mean square voltage, Q32: comparing squares saves the root.
    SquareVolts, Volts, "32"
);
square!(
    /// A mean square current, Q34: comparing squares saves the root.
    ///
    /// ```
    /// use shaftwork_core::unit::{Amps, SquareAmps};
    /// let a = Amps::from_bits(100 << 17);
    /// assert_eq!(SquareAmps::of(a).root(), a);
    /// ```
    SquareAmps, Amps, "34"
);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn squares_and_roots_at_the_ends() {
        assert_eq!(SquareAmps::of(Amps::from_bits(i32::MIN)).0, 1 << 62);
        assert_eq!(SquareAmps(u64::MAX).root(), Amps::from_bits(i32::MAX), "saturates");
        assert_eq!(SquareVolts::of(Volts::from_bits(-5)).root(), Volts::from_bits(5));
    }
}
