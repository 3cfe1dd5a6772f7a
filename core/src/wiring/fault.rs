//! What can be wrong with the six channels, and sets of it.

use crate::settings::{CHANNELS, Wiring};

/// Voltages or currents.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Side {
    /// The first three channels.
    Voltages,
    /// The last three channels.
    Currents,
}

/// One thing that is wrong. Channels count as in a frame: 0 to 2 are voltages, 3 to 5 currents.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Fault {
    /// The leads of two phases are exchanged before the voltages between lines are formed (the lines by number).
    LeadsSwapped(u8, u8),
    /// Two channels of one side are exchanged.
    Swapped(u8, u8),
    /// Each channel of a side shows the next phase (b, c, a).
    RolledOn(Side),
    /// Each channel of a side shows the phase before (c, a, b).
    RolledBack(Side),
    /// A channel has the wrong sign: a transformer turned round (IEC 61869: P1 towards the supply, S1 to the meter).
    Reversed(u8),
    /// All channels of a side have the wrong sign.
    AllReversed(Side),
    /// The supply itself comes in the order a, c, b.
    SupplyReversed,
    /// Nothing arrives on a channel: missing, dead or stuck.
    Dead(u8),
    /// A line carries no current: the other two carry one and the same to and fro.
    LineLost(u8),
    /// A lead of the voltages between lines is open (a fuse, a clamp): the two inputs that share it lie in series across the
    /// other two lines. By line. Between a line and neutral it is [`Fault::Dead`].
    LeadOpen(u8),
    /// A channel is too large or too small by a factor.
    Ratio(u8),
    /// All channels of a side are, by the same factor.
    AllRatio(Side),
    /// Capacitors behind the current transformers take var off the motor's current.
    Capacitors,
    /// A channel goes beyond the converter's end.
    Clipped,
}

use Side::{Currents, Voltages};

impl Fault {
    /// All of them. Those that move or turn channels come first, in the order in which they are applied.
    pub const ALL: [Self; 44] = [
        Self::LeadOpen(0),
        Self::LeadOpen(1),
        Self::LeadOpen(2),
        Self::LeadsSwapped(0, 1),
        Self::LeadsSwapped(1, 2),
        Self::LeadsSwapped(2, 0),
        Self::Swapped(0, 1),
        Self::Swapped(1, 2),
        Self::Swapped(2, 0),
        Self::Swapped(3, 4),
        Self::Swapped(4, 5),
        Self::Swapped(5, 3),
        Self::RolledOn(Voltages),
        Self::RolledBack(Voltages),
        Self::RolledOn(Currents),
        Self::RolledBack(Currents),
        Self::Reversed(0),
        Self::Reversed(1),
        Self::Reversed(2),
        Self::Reversed(3),
        Self::Reversed(4),
        Self::Reversed(5),
        Self::AllReversed(Voltages),
        Self::AllReversed(Currents),
        Self::SupplyReversed,
        Self::Dead(0),
        Self::Dead(1),
        Self::Dead(2),
        Self::Dead(3),
        Self::Dead(4),
        Self::Dead(5),
        Self::LineLost(0),
        Self::LineLost(1),
        Self::LineLost(2),
        Self::Ratio(0),
        Self::Ratio(1),
        Self::Ratio(2),
        Self::Ratio(3),
        Self::Ratio(4),
        Self::Ratio(5),
        Self::AllRatio(Voltages),
        Self::AllRatio(Currents),
        Self::Capacitors,
        Self::Clipped,
    ];
    /// Those of [`Fault::ALL`] that open a lead.
    pub(super) const OPENS: core::ops::Range<usize> = 0..3;
    /// Those that move or turn channels.
    pub(super) const MOVES: core::ops::Range<usize> = 3..25;

    /// Whether the wiring has the channels of it.
    #[must_use]
    pub fn exists(self, wiring: Wiring) -> bool {
        let has = |k: u8| match wiring {
            Wiring::FourWire | Wiring::ThreeWire => true,
            Wiring::TwoElement => k != 2 && k != 4,
            Wiring::CurrentsOnly => k >= 3,
        };
        match self {
            Self::LeadsSwapped(a, b) => match wiring {
                Wiring::FourWire | Wiring::CurrentsOnly => false, // the same as the channels, or there are none
                Wiring::ThreeWire => true,
                Wiring::TwoElement => !(a == 2 && b == 0), // the same as the channels
            },
            Self::LeadOpen(k) => match wiring {
                Wiring::FourWire | Wiring::CurrentsOnly => false, // a dead channel, or there is none
                Wiring::ThreeWire => true,
                Wiring::TwoElement => k == 1, // of the other two each has an input of its own, which is dead
            },
            Self::Swapped(a, b) => has(a) && has(b),
            Self::Reversed(k) | Self::Dead(k) | Self::Ratio(k) => has(k),
            _ => true,
        }
    }
}

/// A set of faults: bit k stands for `Fault::ALL[k]`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Faults(pub u64);

impl Faults {
    /// Nothing is wrong.
    pub const NONE: Self = Self(0);

    /// With one more.
    #[must_use]
    pub fn with(self, fault: Fault) -> Self {
        let place = Fault::ALL.iter().position(|one| *one == fault);
        Self(self.0 | place.map_or(0, |place| 1 << place))
    }

    /// Whether it is among them.
    #[must_use]
    pub fn has(self, fault: Fault) -> bool {
        self.iter().any(|one| one == fault)
    }

    /// How many.
    #[must_use]
    pub const fn count(self) -> u32 {
        self.0.count_ones()
    }

    /// Each of them, in the order of [`Fault::ALL`].
    pub fn iter(self) -> impl Iterator<Item = Fault> {
        Fault::ALL.into_iter().enumerate().filter(move |(k, _)| self.0 >> k & 1 == 1).map(|(_, fault)| fault)
    }
}

/// The faults of a list of channels.
pub(super) fn of_channels(mask: u8, fault: impl Fn(u8) -> Fault) -> Faults {
    (0..CHANNELS as u8).filter(|k| mask >> k & 1 == 1).fold(Faults::NONE, |all, k| all.with(fault(k)))
}
