//! What goes wrong with an emulated board, and when: `injected.bin`, written by the host for a run.

/// What goes wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Fault {
    /// Nothing: the same loop, for comparison.
    Nothing = 0,
    /// The loop is away for so many blocks.
    LoopLate,
    /// The interrupt misses so many frames.
    FramesLost,
    /// So many frames come twice.
    FramesDoubled,
    /// The converter gives the same codes from then on.
    ConverterStuck,
    /// The converter gives nothing for so many blocks.
    ConverterSilent,
    /// The clock is set by so many seconds.
    ClockSet,
    /// The supply is about to fail.
    SupplyFails,
    /// The loop hangs: the watchdog resets the board.
    LoopHangs,
    /// The program panics.
    Panics,
    /// An output can no longer be set.
    OutputFails,
    /// The store's flash takes nothing any more.
    StoreFails,
}

impl Fault {
    /// All of them, in the order of their bytes.
    pub const ALL: [Self; 12] = [
        Self::Nothing,
        Self::LoopLate,
        Self::FramesLost,
        Self::FramesDoubled,
        Self::ConverterStuck,
        Self::ConverterSilent,
        Self::ClockSet,
        Self::SupplyFails,
        Self::LoopHangs,
        Self::Panics,
        Self::OutputFails,
        Self::StoreFails,
    ];
}

/// What goes wrong, from which frame on, and how much of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Injected {
    /// What.
    pub fault: Fault,
    /// From this frame on.
    pub at: u32,
    /// Blocks, frames or seconds: see the fault.
    pub amount: u32,
}

impl Injected {
    /// Bytes in the file.
    pub const BYTES: usize = 9;

    /// As bytes: the fault, then frame and amount, the lowest byte first.
    ///
    /// ```
    /// use shaftwork_report_bits::injected::{Fault, Injected};
    /// let injected = Injected { fault: Fault::FramesLost, at: 1_200, amount: 20 };
    /// assert_eq!(Injected::decode(&injected.encode()), Some(injected));
    /// assert_eq!(Injected::decode(&[0; 3]), None);
    /// ```
    #[must_use]
    pub fn encode(&self) -> [u8; Self::BYTES] {
        let mut bytes = [self.fault as u8; Self::BYTES];
        bytes[1..5].copy_from_slice(&self.at.to_le_bytes());
        bytes[5..].copy_from_slice(&self.amount.to_le_bytes());
        bytes
    }

    /// From bytes; `None` where they are none.
    #[must_use]
    pub fn decode(bytes: &[u8]) -> Option<Self> {
        let [fault, rest @ ..] = bytes else { return None };
        let (at, amount) = rest.split_first_chunk()?;
        let fault = *Fault::ALL.get(usize::from(*fault))?;
        Some(Self { fault, at: u32::from_le_bytes(*at), amount: u32::from_le_bytes(amount.try_into().ok()?) })
    }
}
