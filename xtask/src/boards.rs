//! The emulated boards: one of each instruction set that the firmware is for.

use anyhow::Result;

use crate::packages;
use crate::toolchain::{M0, M3, M4F, RV32};

/// An emulated board.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Board {
    /// Its processor.
    pub name: &'static str,
    /// What it is built for.
    pub target: &'static str,
    /// The emulator, and the Debian package that it comes in.
    pub program: &'static str,
    /// See `program`.
    pub package: &'static str,
    /// The emulator's words for the machine.
    pub machine: &'static [&'static str],
    /// Whether the machine has a watchdog, and a reset that the program can ask for.
    pub resets: bool,
    /// What the image is built with. One that is `small` replays traces, and does nothing else.
    pub features: &'static [&'static str],
}

const ARM: Board = Board {
    name: "",
    target: "",
    program: "qemu-system-arm",
    package: "qemu-system-arm",
    machine: &["-M", "mps2-an385"],
    resets: true,
    features: &[],
};

/// The one that is measured most closely; both profiles run on it.
pub const CORTEX_M4: Board = Board { name: "cortex-m4", target: M4F, machine: &["-M", "mps2-an386"], ..ARM };

/// The others. With recorder, store and faults the code of a Cortex-M0 runs on a Cortex-M3, which knows all its instructions: the
/// emulator's only board with a Cortex-M0, [`MICROBIT`], has too little RAM for them.
pub const OTHERS: [Board; 3] = [
    Board { name: "cortex-m3", target: M3, ..ARM },
    Board { name: "cortex-m0", target: M0, ..ARM },
    Board {
        name: "riscv32",
        target: RV32,
        program: "qemu-system-riscv32",
        package: "qemu-system-misc",
        machine: &["-M", "virt", "-bios", "none"],
        resets: false,
        ..ARM
    },
];

/// A board with a Cortex-M0, 256 KiB of flash and 16 KiB of RAM.
pub const MICROBIT: Board =
    Board { name: "microbit", target: M0, machine: &["-M", "microbit"], resets: false, features: &["small"], ..ARM };

impl Board {
    /// Sees that its emulator is there.
    pub fn need(&self) -> Result<()> {
        if packages::answers(self.program) { Ok(()) } else { packages::need(&[self.package]) }
    }
}
