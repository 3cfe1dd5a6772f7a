//! The watchdog of the Arm machines: it counts down, asks once by an interrupt that is not masked, and the next time resets the machine.

use core::sync::atomic::{AtomicBool, Ordering};

/// Its registers: the count to begin from, control, what clears its interrupt, lock (Arm CMSDK, APB watchdog; addresses are those of
/// the MPS2 boards, Arm application note 385).
const LOAD: *mut u32 = 0x4000_8000 as *mut u32;
const CONTROL: *mut u32 = 0x4000_8008 as *mut u32;
const CLEAR: *mut u32 = 0x4000_800c as *mut u32;
const LOCK: *mut u32 = 0x4000_8c00 as *mut u32;

/// What opens the lock.
const KEY: u32 = 0x1acc_e551;
/// Counts of its clock: a block of the loop takes far less.
const COUNT: u32 = 2_500_000;

static STARTED: AtomicBool = AtomicBool::new(false);

fn write(register: *mut u32, value: u32) {
    // SAFETY: the four addresses are registers of this machine's watchdog, aligned, and nobody else uses them.
    #[allow(unsafe_code)]
    unsafe {
        register.write_volatile(value);
    }
}

/// Starts it.
pub fn start() {
    write(LOCK, KEY);
    write(LOAD, COUNT);
    write(CONTROL, 0b11); // interrupt, then reset
    STARTED.store(true, Ordering::Relaxed);
}

/// The loop is alive: it counts from the beginning.
pub fn feed() {
    if STARTED.load(Ordering::Relaxed) {
        write(CLEAR, 1);
    }
}

/// The loop is not: only the watchdog ends this.
pub fn hang() -> ! {
    loop {
        core::hint::spin_loop();
    }
}
