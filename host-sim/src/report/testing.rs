//! Rows for the tests of the outputs.

use shaftwork_core::judge::report::{Interval, Totals};
use shaftwork_core::record::Window;
use shaftwork_core::time::{Instant, Span};
use shaftwork_core::unit::{Volts, Watts};

use super::inertia::Inertia;
use super::load::Load;
use super::tachometer::Tachometer;
use super::totals::Beside;
use super::{Input, IntervalRow, Summary, TotalsRow, TraceRow, Why};
use crate::settings::Settings;

/// The sampling rate of these rows, Hz.
pub const RATE_HZ: f64 = 4_000.0;

/// An interval that ends at a time, with 230 V, 1 kW and little else.
pub fn interval_row(t_s: f64) -> IntervalRow {
    let end = Instant((t_s * RATE_HZ * 65_536.0) as u64);
    let window = Window {
        end,
        length: Span(800 << 16),
        voltage: [Volts::from_bits(230 << 16); 3],
        active: Watts::from_bits(1_000 << 16),
        ..Window::default()
    };
    IntervalRow::new(&Interval { window, ..Interval::default() }, RATE_HZ, &Input::samples("no mass was given"))
}

/// The end of a trace in which nothing happened.
pub fn summary() -> Summary {
    let totals = TotalsRow::new(
        &Totals::default(),
        &Beside { rate_hz: RATE_HZ, batch_kg: None, no_mass: "no mass was given", bridged: 0 },
    );
    Summary {
        settings_path: "a.toml".into(),
        trace: TraceRow {
            path: "a.csv".into(),
            station: None,
            start: None,
            frames: 8_000,
            rate_hz: RATE_HZ,
            duration_s: 2.0,
            why: Why::new(),
        },
        load: Load::default().row(&totals, 55.0),
        runs: crate::report::runs::Runs::default(),
        totals,
        tachometer: Tachometer::new(&settings()).row(false, false),
        inertia: Inertia::new(RATE_HZ, 1_500.0).row(&Input::samples("no mass was given")),
        rms: false,
        estimated: vec![],
        marks: vec![],
        warnings: vec![],
    }
}

/// Settings of a motor for 100 A on a four-wire supply of 400 V, with all five trips.
pub fn settings() -> Settings {
    let (mut settings, _) = crate::settings::parse(&crate::settings::testing::good(), "a.toml").unwrap();
    settings.motor.rated_current_a = 100.0;
    settings
}
