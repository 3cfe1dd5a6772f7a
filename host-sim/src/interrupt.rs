//! Ctrl-C, and a request to end: nothing half-written stays, and the terminal's line is clean.

use std::sync::Once;

use crate::{progress, whole};

static HANDLER: Once = Once::new();
/// Exit status after a signal: 128 + SIGINT, as shells count.
const INTERRUPTED: i32 = 130;

/// From now on a signal to end removes what is unfinished before the process ends.
pub fn watch() {
    // Where no handler can be set a temporary file stays after Ctrl-C, never half a file under its final name.
    HANDLER.call_once(|| {
        let _ = handle(|| {
            // Both locks are kept to the end: nothing is renamed and nothing drawn any more.
            let _files = whole::abandon();
            let _line = progress::abandon();
            std::process::exit(INTERRUPTED);
        });
    });
}

/// Ctrl-C, a request to end, a terminal that is closed. What is ignored from the start stays so: `nohup` and a shell's
/// `&` mean that the work goes on.
#[cfg(unix)]
fn handle(end: impl FnOnce() + Send + 'static) -> std::io::Result<()> {
    use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};
    let ignored = ignored();
    let heeded = [SIGINT, SIGTERM, SIGHUP].into_iter().filter(|signal| ignored & 1 << (signal - 1) == 0);
    let mut signals = signal_hook::iterator::Signals::new(heeded)?;
    std::thread::Builder::new().spawn(move || {
        if signals.forever().next().is_some() {
            end();
        }
    })?;
    Ok(())
}

/// The signals that are ignored, a bit each, the lowest for signal 1 (Linux, proc(5)). Where the system does not tell,
/// SIGHUP is taken for ignored: then a closed terminal leaves a temporary file, but `nohup` is heeded.
#[cfg(unix)]
fn ignored() -> u64 {
    let told = std::fs::read_to_string("/proc/self/status").ok().and_then(|status| {
        let bits = status.lines().find_map(|line| line.strip_prefix("SigIgn:"))?;
        u64::from_str_radix(bits.trim(), 16).ok()
    });
    told.unwrap_or(1 << (signal_hook::consts::SIGHUP - 1))
}

#[cfg(not(unix))]
fn handle(end: impl FnMut() + Send + 'static) -> Result<(), ctrlc::Error> {
    ctrlc::set_handler(end)
}
