//! A fault that has to last before it is believed.

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
}
