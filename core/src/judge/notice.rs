//! What the board around the core tells of itself, so that it stands in one log with what the core has seen, in its order and time.

/// Something that the board tells. The core notes it and decides nothing by it: what a board does about it is the board's.
///
/// ```
/// use shaftwork_core::{EventKind, Monitor, Notice, Settings, judge::notice::Begin};
/// let mut monitor = Monitor::new(&Settings::example()).unwrap();
/// monitor.note(Notice::Begins(Begin::Watchdog));
/// assert_eq!(monitor.pop_event().unwrap().kind, EventKind::Board(Notice::Begins(Begin::Watchdog)));
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum Notice {
    /// The program begins.
    Begins(Begin),
    /// The converter fell silent: the outputs are in their safe state until a person resets.
    ConverterSilent,
    /// An output could not be set: likewise.
    OutputFails,
    /// Frames came twice and were left out the second time.
    FramesRepeated {
        /// How many.
        count: u32,
    },
    /// What has to outlast a power cut could not be written: it is kept as it was before.
    StoreFails,
    /// The supply is about to fail: the outputs are in their safe state.
    SupplyFails,
    /// The clock was set; the core's time goes on.
    ClockSet {
        /// By so many seconds, negative backwards; at the ends of its range, by at least that.
        by_s: i32,
    },
    /// The contactor's auxiliary contact tells otherwise than it was told.
    Contactor(Answer),
    /// The feeder's running signal does.
    FeederDrive(Answer),
}

/// Why a program begins: what had reset the processor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum Begin {
    /// Power came.
    PowerOn,
    /// The supply fell too low.
    BrownOut,
    /// The loop did not answer in time.
    Watchdog,
    /// The program asked for it, as after a panic.
    Software,
    /// The reset pin, or a debugger.
    Pin,
    /// The processor does not tell.
    Unknown,
}

/// How something answers to what it was told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum Answer {
    /// It was told to stop, and runs on.
    RunsOn,
    /// It was told to run, and stands.
    Stands,
    /// It does as it was told again.
    Follows,
}
