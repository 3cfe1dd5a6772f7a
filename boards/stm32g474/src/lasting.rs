//! Faults that have to last before they are believed, and the supply that sags.

/// Counts readings in a row.
#[derive(Debug, Clone, Copy)]
pub struct Lasting {
    limit: u16,
    seen: u16,
}

impl Lasting {
    /// Believed at the `limit`-th reading in a row.
    pub const fn new(limit: u16) -> Self {
        Self { limit, seen: 0 }
    }

    /// Takes a reading; whether the fault is believed.
    pub const fn take(&mut self, wrong: bool) -> bool {
        self.seen = if wrong { self.seen.saturating_add(1) } else { 0 };
        self.seen >= self.limit
    }
}

/// A supply below its detector's level: each sag is told once, whatever else is wrong.
#[derive(Debug, Clone, Copy)]
pub struct Sag {
    low: Lasting,
    well: Lasting,
    told: bool,
}

impl Sag {
    /// Believed at the `low`-th reading in a row, over at the `well`-th that is well: each one told is written to the flash, and a supply that flutters
    /// about the level must not wear it out.
    pub const fn new(low: u16, well: u16) -> Self {
        Self { low: Lasting::new(low), well: Lasting::new(well), told: false }
    }

    /// Takes a reading, and whether the outputs are kept safe; whether the sag is to be told. Once more where a person has reset while it lasts.
    pub const fn take(&mut self, low: bool, safe: bool) -> bool {
        let over = self.well.take(!low);
        let tell = self.low.take(low) && !(self.told && safe);
        self.told = tell || self.told && !over;
        tell
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_readings_in_a_row_count() {
        let mut lasting = Lasting::new(3);
        assert_eq!(
            [true, true, false, true, true, true, true, false].map(|wrong| lasting.take(wrong)),
            [false, false, false, false, false, true, true, false]
        );
    }

    #[test]
    fn a_sag_is_told_once_whatever_else_is_wrong_and_again_after_a_reset_in_it() {
        let told = |readings: &[(bool, bool)]| {
            let mut sag = Sag::new(2, 3);
            readings.iter().map(|(low, safe)| sag.take(*low, *safe)).collect::<Vec<_>>()
        };
        let (low, well) = (true, false);
        let first = [(low, false), (low, false), (low, true), (low, true)];
        let flutters = [(well, true), (low, true), (low, true), (well, true), (well, true), (well, true)];
        let second = [(low, true), (low, true), (low, true)];
        let mut wanted = [false; 13];
        (wanted[1], wanted[11]) = (true, true); // the second in the first one's fault
        assert_eq!(told(&[&first[..], &flutters[..], &second[..]].concat()), wanted);
        let reset = [
            (low, true),
            (low, true),
            (low, true),
            (low, false),
            (low, true),
            (well, false),
            (low, false),
            (low, false),
        ];
        assert_eq!(told(&reset), [false, true, false, true, false, false, false, true]);
    }
}
