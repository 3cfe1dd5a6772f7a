//! A page of a day that was never recorded: 24 h of half cycles handed to the page as a replay hands them.
//!
//! Invented figures: a shift of work with idle spells, starts and a jam; what matters is how many there are.

use std::path::Path;

use anyhow::Result;
use shaftwork_core::judge::event::{Cause, Event, EventKind, Figures, State};
use shaftwork_core::judge::report::{Moment, Totals};
use shaftwork_core::record::HalfCycle;
use shaftwork_core::time::{Instant, Span};
use shaftwork_core::unit::{Amps, Newtonmetres, Ratio, Rpm, SquareAmps, SquareVolts, Volts, Watts};
use shaftwork_sim::report::inertia::Inertia;
use shaftwork_sim::report::load::Load;
use shaftwork_sim::report::page::Page;
use shaftwork_sim::report::runs::Runs;
use shaftwork_sim::report::tachometer::Tachometer;
use shaftwork_sim::report::totals::Beside;
use shaftwork_sim::report::{EventRow, Input, Sink, Summary, TotalsRow, TraceRow};
use shaftwork_sim::settings;

const RATE_HZ: f64 = 4_000.0;
const DAY_S: u32 = 86_400;
const NO_MASS: &str = "no mass was given";

fn at(s: f64) -> Instant {
    // A day at 4 kHz is below 2^45 in 2^-16 frames.
    Instant((s * RATE_HZ * 65_536.0) as u64)
}

/// The half cycle that ends at a time.
fn moment(s: f64) -> Moment {
    // 0 to 1, never twice alike.
    let swing = ((s * 0.83).sin() * (s * 0.19).cos()).abs();
    let works = s % 7_200.0 < 6_000.0;
    let load = if works { swing } else { 0.0 };
    let bits = |x: f64, fraction: u32| (x * f64::from(1_u32 << fraction)) as i64;
    let half_cycle = HalfCycle {
        end: at(s),
        length: Span(40 << 16),
        current: [1.0, 0.99, 1.01].map(|k| SquareAmps::of(Amps::from_bits(bits((30.0 + 90.0 * load) * k, 17) as i32))),
        current_positive: Amps::from_bits(bits(30.0 + 90.0 * load, 17) as i32),
        current_negative: Amps::from_bits(bits(0.3, 17) as i32),
        voltage: [230.0, 231.0, 229.5].map(|v| SquareVolts::of(Volts::from_bits(bits(v - load, 16) as i32))),
        active: Watts::from_bits(bits(8_000.0 + 60_000.0 * load, 16)),
        ..HalfCycle::default()
    };
    Moment {
        half_cycle,
        shaft: Watts::from_bits(bits(6_800.0 + 55_000.0 * load, 16)),
        torque: Newtonmetres::from_bits(bits(44.0 + 350.0 * load, 16) as i32),
        speed: Some(Rpm::from_bits(bits(1_498.0 - 20.0 * load, 12) as i32)),
        thermal: Some(Ratio::from_bits(bits(0.3 + 0.2 * load, 24) as i32)),
        state: if works { State::Breaking } else { State::Idle },
    }
}

/// Writes `report.html` of the day into a folder that is there.
///
/// # Errors
/// It cannot be written, or the settings are at fault.
pub fn write(folder: &Path, settings: &Path) -> Result<()> {
    let (settings, _) = settings::load(settings)?;
    let mut page = Page::create(folder, &settings, RATE_HZ)?;
    for k in 1..=DAY_S * 100 {
        let s = f64::from(k) / 100.0;
        page.moment(&moment(s))?;
        if k % 720_000 == 1_000 {
            let figures = Figures::default();
            page.happened(&Event { at: at(s), kind: EventKind::Trip { cause: Cause::Jam, figures } })?;
            page.event(&EventRow::trip(s, Cause::Jam, &figures))?;
        }
        for (of, name) in [(0, "idle_ends"), (600_000, "idle_begins")] {
            if k % 720_000 == of {
                page.event(&EventRow::plain(s, name))?;
            }
        }
    }
    let beside = Beside { rate_hz: RATE_HZ, batch_kg: None, no_mass: NO_MASS, bridged: 0 };
    let totals = TotalsRow::new(&Totals { trips: 12, ..Totals::default() }, &beside);
    let trace = TraceRow {
        path: "a day".to_owned(),
        start: Some("2026-03-02T06:00:00".to_owned()),
        rate_hz: RATE_HZ,
        duration_s: f64::from(DAY_S),
        ..TraceRow::default()
    };
    let load = Load::default().row(&totals, settings.motor.rated_power_kw);
    let end = Summary {
        trace,
        settings_path: "settings.toml".to_owned(),
        totals,
        load,
        tachometer: Tachometer::new(&settings).row(false, false),
        inertia: Inertia::new(RATE_HZ, 1_500.0).row(&Input::samples("")),
        runs: Runs::default(),
        rms: false,
        estimated: vec![],
        marks: vec![],
        warnings: vec![],
    };
    for file in Box::new(page).close(&end)? {
        file.commit()?;
    }
    Ok(())
}
