//! Energy registers that never fall and never lose a remainder.

use super::report::Register;
use crate::unit::Joules;

impl Register {
    /// Adds an energy; nothing happens when it is negative: that belongs to another register.
    ///
    /// ```
    /// use shaftwork_core::{judge::report::Register, unit::Joules};
    /// let mut r = Register::default();
    /// r.add(Joules::from_bits((3 << 20) + 5));
    /// r.add(Joules::from_bits(-1));
    /// assert_eq!((r.joules, r.fraction), (3, 5));
    /// ```
    #[inline(never)] // in five places
    pub const fn add(&mut self, energy: Joules) {
        let bits = energy.to_bits();
        if bits <= 0 {
            return;
        }
        let sum = bits as u64 + self.fraction as u64; // below 2^63 + 2^20
        self.joules = self.joules.saturating_add(sum >> 20);
        self.fraction = (sum & 0xf_ffff) as u32;
    }

    /// Takes an energy out that was added before and belongs elsewhere; never below nothing.
    ///
    /// ```
    /// use shaftwork_core::{judge::report::Register, unit::Joules};
    /// let mut r = Register { joules: 3, fraction: 5 };
    /// r.take(Joules::from_bits((1 << 20) + 6));
    /// assert_eq!(r.q20(), (2 << 20) - 1);
    /// ```
    pub const fn take(&mut self, energy: Joules) {
        let bits = energy.to_bits();
        if bits <= 0 {
            return;
        }
        let (whole, part) = (bits as u64 >> 20, (bits & 0xf_ffff) as u32);
        let borrow = (part > self.fraction) as u64;
        let Some(joules) = self.joules.checked_sub(whole + borrow) else {
            *self = Self { joules: 0, fraction: 0 };
            return;
        };
        self.joules = joules;
        // Below 2^20 + 2^20 before the mask.
        self.fraction = (self.fraction + (borrow as u32) * (1 << 20)).saturating_sub(part);
    }

    /// All of it in 2^-20 J.
    #[must_use]
    pub const fn q20(self) -> i128 {
        ((self.joules as i128) << 20) + self.fraction as i128
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn remainders_are_carried() {
        let mut r = Register::default();
        let third = Joules::from_bits((1 << 20) / 3);
        for _ in 0..3_000_000 {
            r.add(third);
        }
        assert_eq!(r.q20(), 3_000_000 * i128::from(third.to_bits()));
    }
}
