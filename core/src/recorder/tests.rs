//! The recorder beside a monitor that takes samples.

mod account;
mod capture;

use crate::frame::{BLOCK, Frame};
use crate::monitor::Monitor;
use crate::settings::{CHANNELS, Settings, Trips};
use crate::{Event, EventKind};
extern crate std;
use std::vec::Vec;

/// The example's motor at 4 kHz and 50 Hz, with nothing on but the jam element: pick-up 2 x 96.5 A, 0.5 s.
fn settings() -> Settings {
    let example = Settings::example();
    Settings { trips: Trips { jam: example.trips.jam, ..Trips::default() }, ..example }
}

/// A sine of 230 V and so many amps, the current 0.6 rad behind, from frame `from` on.
fn block(from: u64, amps: f64) -> [Frame; BLOCK] {
    core::array::from_fn(|f| {
        let phase = (from + f as u64) as f64 / 80.0 * core::f64::consts::TAU;
        Frame(core::array::from_fn(|channel| {
            let turn = f64::from((channel % 3) as u32) / 3.0 * core::f64::consts::TAU;
            let (peak, full, lag) =
                if channel < 3 { (325.3, 800.0, 0.0) } else { (amps * core::f64::consts::SQRT_2, 1_400.0, 0.6) };
            ((phase - turn - lag).sin() * peak / full * 32_767.0).round() as i32
        }))
    })
}

/// All that a monitor says of a block.
fn events(monitor: &mut Monitor) -> Vec<Event> {
    core::iter::from_fn(|| monitor.pop_event()).collect()
}

const fn trips(event: &Event) -> bool {
    matches!(event.kind, EventKind::Trip { .. })
}
