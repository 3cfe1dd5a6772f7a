//! Ctrl-C, and a request to end: nothing half-written stays, and the terminal's line is clean.

use std::sync::Once;

use crate::{progress, whole};

static HANDLER: Once = Once::new();
/// Exit status after Ctrl-C: 128 + SIGINT, as shells count.
const INTERRUPTED: i32 = 130;

/// From now on an interrupt removes what is unfinished before the process ends.
pub fn watch() {
    HANDLER.call_once(|| {
        // Where no handler can be set a temporary file stays after Ctrl-C, never half a file under its final name.
        let _ = ctrlc::set_handler(|| {
            // Both locks are kept to the end: nothing is renamed and nothing drawn any more.
            let _files = whole::abandon();
            let _line = progress::abandon();
            std::process::exit(INTERRUPTED);
        });
    });
}
