//! The as-left sheet: what was set, what was injected, what came of it.

use heapless::{String, Vec};
use shaftwork_core::Cause;
use shaftwork_core::settings::Action;

/// Rows that a sheet has room for.
pub(crate) const ROWS: usize = 20;
/// Outputs that a sheet has room for.
pub const OUTPUTS: usize = 16;

/// The sheet. The same settings and the same version give the same sheet, bit for bit.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Sheet {
    /// Version of the firmware core.
    pub version: [u8; 3],
    /// CRC-32 of the settings' bytes, as a board is sent them.
    pub settings: u32,
    /// Frames a second, mHz: what times are counted in.
    pub rate_mhz: u32,
    /// A row an element at least, in the order of [`Cause::ALL`].
    pub rows: Vec<Row, ROWS>,
    /// Outputs that were walked on the board; injection knows of none.
    pub outputs: Vec<Output, OUTPUTS>,
}

/// An output that was shown to a person.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Output {
    /// Its name, as the board has it.
    pub name: String<24>,
    /// Whether it did what it should, as the person said; `None`: nothing was said.
    pub seen: Option<bool>,
}

impl Sheet {
    /// Whether every element that is on was proven, and no output did what it should not.
    #[must_use]
    pub fn passed(&self) -> bool {
        self.outputs.iter().all(|output| output.seen != Some(false))
            && self
                .rows
                .iter()
                .all(|row| matches!(row.verdict, Verdict::Passed | Verdict::Left(Why::Off | Why::Wiring)))
    }
}

/// A test of an element.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Row {
    /// The element.
    pub cause: Cause,
    /// Which of its tests.
    pub way: Way,
    /// What the element does when it operates.
    pub action: Action,
    /// What the next three are.
    pub figure: Figure,
    /// Set.
    pub set: u64,
    /// Injected, short of it.
    pub short: u64,
    /// Injected, beyond it.
    pub beyond: u64,
    /// Whether it bore what is short of it.
    pub held: bool,
    /// Frames from the step beyond it until it operated, as the board would have acted on it; `None`: it did not.
    pub time: Option<u32>,
    /// Frames that it may take, at least and at most.
    pub wanted: [u32; 2],
    /// What came of it.
    pub verdict: Verdict,
}

/// Which of an element's tests.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Way {
    /// Its pick-up and its time.
    PickUp,
    /// The thermal image at twice k times base current, from 90 % of its trip level.
    Hot,
    /// The thermal image at six times k times base current, from where it begins.
    Cold,
    /// While the motor starts.
    Starting,
    /// Of a current, where the first test is of a voltage.
    Current,
}

/// What a row's figures are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Figure {
    /// rms, mA.
    Milliamps,
    /// rms, mV, as the wiring measures it.
    Millivolts,
    /// Negative over positive sequence, ppm.
    Unbalance,
    /// Shaft power, mW.
    Milliwatts,
    /// How long it is so, ms.
    Milliseconds,
    /// Starts within an hour.
    Starts,
    /// It is so, or is not: the figures say nothing.
    Condition,
}

/// What came of a test.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Verdict {
    /// It bore what is short of its pick-up, and operated beyond it in time.
    Passed,
    /// It did not.
    Failed,
    /// It was not tried.
    Left(Why),
}

/// Why an element was not tried.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Why {
    /// It is off in the settings.
    Off,
    /// It is blocked: the wiring does not measure what it looks at.
    Wiring,
    /// What has to be injected lies beyond the converter's range.
    Range,
    /// No idle power is set: it compares with what it has learnt of the mill.
    IdleLearnt,
    /// Power is estimated from the current, by a curve and not by the circuit that is injected.
    PowerEstimated,
    /// The motor of the settings cannot give so much.
    Motor,
    /// The thermal image begins at its trip level, or too near to it.
    Level,
    /// A person broke off.
    BrokenOff,
}
