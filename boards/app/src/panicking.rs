//! What a panic does to the outputs.
//!
//! The core cannot panic, but a board's other code may, and a panic does not unwind: the pins' owner
//! never hears of it. So a board leaves a function here that puts its pins into the safe state by
//! writing their registers, and its panic handler calls [`make_safe`] before anything else.
//!
//! ```
//! use shaftwork_app::panicking;
//! panicking::on_panic(|| { /* write the registers of the relay and the lamps */ });
//! // in the board's #[panic_handler]:
//! panicking::make_safe();
//! ```

use core::cell::Cell;

use critical_section::Mutex;

type Hook = Option<fn()>;

static HOOK: Mutex<Cell<Hook>> = Mutex::new(Cell::new(None));

/// Sets what puts the outputs into the safe state without their owner. The last one set counts.
pub fn on_panic(hook: fn()) {
    critical_section::with(|cs| HOOK.borrow(cs).set(Some(hook)));
}

/// Puts the outputs into the safe state, if a board has said how, and returns whether it has.
///
/// The hook runs with interrupts off, so that nothing sets a pin again in between.
pub fn make_safe() -> bool {
    critical_section::with(|cs| {
        let hook = HOOK.borrow(cs).get();
        if let Some(hook) = hook {
            hook();
        }
        hook.is_some()
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use core::sync::atomic::{AtomicBool, Ordering};

    static SAFE: AtomicBool = AtomicBool::new(false);

    #[test]
    fn the_hook_runs_once_it_is_set() {
        assert!(!make_safe(), "nothing set yet");
        on_panic(|| SAFE.store(true, Ordering::Relaxed));
        assert!(make_safe());
        assert!(SAFE.load(Ordering::Relaxed));
    }
}
