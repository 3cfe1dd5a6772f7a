//! The channels of a wiring in the order of a trace's columns, which is that of every per-channel list.

use crate::trace::select::Wiring;

impl Wiring {
    /// All of them, in the order in which they are explained.
    pub const ALL: [Self; 4] = [Self::FourWire, Self::ThreeWire, Self::TwoElement, Self::CurrentsOnly];

    /// The voltage columns of a trace, in order; volts.
    pub const fn voltages(self) -> &'static [&'static str] {
        match self {
            Self::FourWire => &["va_v", "vb_v", "vc_v"],
            Self::ThreeWire => &["vab_v", "vbc_v", "vca_v"],
            Self::TwoElement => &["vab_v", "vcb_v"],
            Self::CurrentsOnly => &[],
        }
    }

    /// The current columns of a trace, in order; amperes.
    pub const fn currents(self) -> &'static [&'static str] {
        match self {
            Self::FourWire | Self::ThreeWire | Self::CurrentsOnly => &["ia_a", "ib_a", "ic_a"],
            Self::TwoElement => &["ia_a", "ic_a"],
        }
    }

    /// The measured channels: voltages first, then currents.
    pub fn columns(self) -> impl Iterator<Item = &'static str> {
        self.voltages().iter().chain(self.currents()).copied()
    }

    /// How many channels are measured: 6, 4 with two elements, 3 without voltages.
    pub const fn channel_count(self) -> usize {
        self.voltages().len() + self.currents().len()
    }

    /// Whether the voltages are phase to neutral (line to line otherwise).
    pub const fn is_phase_to_neutral(self) -> bool {
        matches!(self, Self::FourWire)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The column names are the project's own (trace formats in the documentation).
    #[test]
    fn columns_come_voltages_first() {
        assert_eq!(Wiring::TwoElement.columns().collect::<Vec<_>>(), ["vab_v", "vcb_v", "ia_a", "ic_a"]);
        for wiring in Wiring::ALL {
            assert_eq!(wiring.columns().count(), wiring.channel_count());
            let quantities = wiring.quantities();
            let slots = quantities.iter().filter(|quantity| !quantity.is_empty());
            assert!(slots.zip(wiring.columns()).all(|(quantity, column)| column.starts_with(quantity)));
        }
    }
}
