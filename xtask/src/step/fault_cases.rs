//! What is injected, how it has to end, and the page's words about it.

use shaftwork_core::judge::notice::Begin;
use shaftwork_report_bits::injected::Fault;

/// A motor that runs empty and is jammed at 0.5 s; the trip comes at 0.843 s.
pub const TRACE: &str = "jam";
/// When things go wrong: this frame, 0.3 s.
pub const AT: u32 = 1_200;

/// A fault, and how it has to end.
pub struct Case {
    pub fault: Fault,
    /// Blocks, frames or seconds of it.
    pub amount: u32,
    /// What it is.
    pub words: &'static str,
    /// Alarms, trips, gaps and what the board tells, from its beginning to the end of the trace.
    pub log: &'static [&'static str],
    /// Whether all that the core reports is what it reports when nothing goes wrong.
    pub untouched: bool,
    /// What the outputs do, for people; `outputs` is what is checked.
    pub ends: &'static str,
    /// Relay, start contact, lamps feed, wait and stop, contact "all is well": at the end of the life, or in the panic.
    pub outputs: [u64; 6],
    /// Why the life after it begins.
    pub next: Option<Begin>,
}

/// The outputs' names, in the order of [`Case::outputs`].
pub const OUTPUTS: [&str; 6] = ["relay", "start", "feed", "wait", "stop", "well"];
/// After a trip, in the safe state, and before a half cycle is measured: relay and start contact open, lamp on stop, alarm.
pub const SAFE: [u64; 6] = [0, 0, 0, 0, 1, 0];

const AS_EVER: Case = Case {
    fault: Fault::Nothing,
    amount: 0,
    words: "",
    log: &["begins: PowerOn", "trip: Jam"],
    untouched: false,
    ends: "safe state at once, until a person resets",
    outputs: SAFE,
    next: None,
};

/// All of them.
pub const CASES: [Case; 12] = [
    Case {
        fault: Fault::LoopLate,
        amount: 6,
        words: "the loop is away for 6 blocks (12 ms), less than the queue of 7 holds",
        untouched: true,
        ends: "as the core decides",
        ..AS_EVER
    },
    Case {
        fault: Fault::LoopLate,
        amount: 20,
        words: "the loop is away for 20 blocks (40 ms): the queue overflows",
        log: &["begins: PowerOn", "gap of 104 frames", "trip: Jam"],
        ..AS_EVER
    },
    Case {
        fault: Fault::FramesLost,
        amount: 20,
        words: "the interrupt misses 20 frames",
        log: &["begins: PowerOn", "gap of 20 frames", "trip: Jam"],
        ..AS_EVER
    },
    Case {
        fault: Fault::FramesDoubled,
        amount: 5,
        words: "5 frames come twice",
        log: &["begins: PowerOn", "FramesRepeated { count: 5 }", "trip: Jam"],
        untouched: true,
        ends: "as the core decides",
        ..AS_EVER
    },
    Case {
        fault: Fault::ConverterStuck,
        words: "the converter gives the same codes for ever",
        log: &["begins: PowerOn", "feed stop: SensorFault", "trip: Undervoltage"],
        ends: "the feed stops after 0.06 s; then as the core decides",
        ..AS_EVER
    },
    Case {
        fault: Fault::ConverterSilent,
        amount: 100,
        words: "the converter is silent for 100 blocks (200 ms)",
        log: &["begins: PowerOn", "ConverterSilent", "gap of 800 frames", "trip: Jam"],
        ends: "safe state after 50 blocks, until a person resets",
        ..AS_EVER
    },
    Case {
        fault: Fault::ClockSet,
        amount: 3_600,
        words: "the clock is set forward by an hour",
        log: &["begins: PowerOn", "ClockSet { by_s: 3600 }", "trip: Jam"],
        untouched: true,
        ends: "as the core decides",
        ..AS_EVER
    },
    Case {
        fault: Fault::OutputFails,
        words: "the trip relay's output can no longer be set (found when the trip wants it)",
        log: &["begins: PowerOn", "trip: Jam", "OutputFails"],
        ends: "all others in the safe state, alarm: **the relay stays as it is**",
        outputs: [1, 0, 0, 0, 1, 0],
        ..AS_EVER
    },
    Case {
        fault: Fault::StoreFails,
        words: "the store's flash takes nothing any more (found when something is to be kept)",
        log: &["begins: PowerOn", "StoreFails", "trip: Jam"],
        untouched: true,
        ends: "as the core decides, and the alarm",
        ..AS_EVER
    },
    Case {
        fault: Fault::SupplyFails,
        words: "the supply is about to fail, and does",
        log: &["begins: PowerOn", "SupplyFails"],
        ends: "safe state at once",
        next: Some(Begin::BrownOut),
        ..AS_EVER
    },
    Case {
        fault: Fault::LoopHangs,
        words: "the loop hangs",
        log: &["begins: Watchdog", "trip: Jam"],
        ends: "as they were until the watchdog resets the processor; then safe",
        next: Some(Begin::Watchdog),
        ..AS_EVER
    },
    Case {
        fault: Fault::Panics,
        words: "the program panics",
        log: &["begins: Software", "trip: Jam"],
        ends: "safe state at once, then a reset of the processor",
        next: Some(Begin::Software),
        ..AS_EVER
    },
];

/// What stands above the table.
pub fn head() -> String {
    format!(
        "# When something goes wrong with the board\n\n\
         Written by `cargo xtask faults --write`; continuous integration runs it and compares.\n\n\
         Each is injected into the firmware on emulated boards of four instruction sets, {} ms into a trace of a motor that runs empty, is jammed at\n\
         500 ms and trips at 843 ms. Frames come through the queue between interrupt and loop. Checked are the log, the outputs at the beginning of a life and\n\
         at its end, and, where the core is said to be untouched, every bit of every report against a run in which nothing goes wrong. A hanging loop and a\n\
         panic are tried on the three Arm processors: the emulated RISC-V machine has no watchdog and no reset.\n\n\
         Safe state: trip relay without current, start contact open, lamp on stop, feeder's speed nothing, alarm. A relay that is energised to trip: see the\n\
         [outputs' table](../boards/app/src/outputs.rs). The watchdog is the board's; what it needs is that the loop, and nothing else, feeds it.\n\n\
         | what goes wrong | in the log | the core's other reports | outputs | the life after |\n|---|---|---|---|---|\n",
        AT / 4
    )
}
