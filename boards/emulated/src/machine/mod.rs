//! What differs between the emulated boards: where a program begins, and how instructions are counted.

#[cfg(target_arch = "riscv32")]
mod retired;
pub mod stack;
#[cfg(target_arch = "arm")]
mod systick;
#[cfg(target_arch = "arm")]
pub mod watchdog;

#[cfg(target_arch = "arm")]
pub use cortex_m_rt::entry;
#[cfg(target_arch = "riscv32")]
pub use retired::Load;
#[cfg(target_arch = "riscv32")]
pub use riscv_rt::entry;
#[cfg(target_arch = "arm")]
pub use systick::Load;

/// What was found.
#[derive(Debug, Clone, Copy, Default)]
pub struct Figures {
    /// Frames in measured calls.
    pub frames: u64,
    /// Calls.
    pub calls: u32,
    /// Instructions in all of them.
    pub instructions: u64,
    /// Instructions in the longest one.
    pub worst: u32,
}

/// The program begins anew.
#[cfg(target_arch = "arm")]
pub fn reset() -> ! {
    cortex_m::peripheral::SCB::sys_reset()
}

/// This machine has no way to begin anew.
#[cfg(target_arch = "riscv32")]
pub fn reset() {}

/// This machine has no watchdog.
#[cfg(target_arch = "riscv32")]
pub mod watchdog {
    /// Nothing to start.
    pub fn start() {}
    /// Nothing to feed.
    pub fn feed() {}
    /// Goes on at once.
    pub fn hang() {}
}
