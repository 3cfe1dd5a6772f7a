//! Shaft power that is estimated from the current against the plant: over load and voltage, with the voltage measured and
//! with the nominal one assumed.
//!
//! As in [`crate::shaft_grid`] the records come from the reduced plant model; the core's judge is shown their currents
//! and voltages, never their powers.

use crate::machine::{Machine, spread};
use crate::shaft_grid::{Cell, GIVEN, IDLE, LOADS, VOLTAGES, running, settings_of, told_of};
use shaftwork_core::record::HalfCycle;
use shaftwork_core::settings::{Coefficients, Wiring};
use shaftwork_core::unit::{Joules, SquareVolts, Volts, Watts};
use shaftwork_sim::fit;
use shaftwork_sim::plant::mill::Wedge;
use std::fmt::Write as _;

/// What is promised of an estimate, % of rated shaft power: at [`LOADS`]'s least, at the others, and at any of them up to
/// rated load where the voltage is off by 10 % and not measured.
const PROMISED_PCT: [f64; 3] = [5.0, 1.5, 15.0];

/// What the core may look at.
fn blinded(record: &HalfCycle, measured: bool) -> HalfCycle {
    let mut shown = HalfCycle { active: Watts::ZERO, reactive: Watts::ZERO, energy: Joules::ZERO, ..*record };
    if !measured {
        (shown.voltage, shown.voltage_positive, shown.voltage_negative) =
            ([SquareVolts(0); 3], Volts::ZERO, Volts::ZERO);
    }
    shown
}

fn coefficients(machine: &Machine, measured: bool) -> Coefficients {
    let settings = settings_of(machine, GIVEN[1], false, None);
    let mut made = fit::estimating_settings(&settings, machine.rate_hz).expect("a motor");
    if !measured {
        made.supply.wiring = Wiring::CurrentsOnly;
    }
    made.build().expect("it is sound")
}

/// Largest and smallest error over all motors, % of rated shaft power.
///
/// # Panics
/// The harness itself is wrong: settings or a scenario that are refused.
#[must_use]
pub fn errors(load: f64, voltage: f64, measured: bool) -> [f64; 2] {
    let mut range = [f64::INFINITY, f64::NEG_INFINITY];
    for machine in spread() {
        let c = coefficients(&machine, measured);
        let cell = Cell { given: GIVEN[1], voltage, unbalance: 0.0, cold: false };
        let mut scenario = running(&machine, &cell);
        let torque_nm = (load - IDLE) * machine.plate().rated.shaft_nm;
        scenario.mill.wedge = Some(Wedge { at_s: -2.5, rise_s: 0.5, torque_nm, until_s: f64::INFINITY });
        let seen = told_of(&machine, &scenario, &c, |record| blinded(record, measured));
        let [core, plant] = seen.shaft_j;
        let error = (core - plant) / seen.seconds / machine.rated_w * 100.0;
        range = [range[0].min(error), range[1].max(error)];
    }
    range
}

/// The page's section, and whether what it promises is kept.
#[must_use]
pub fn section() -> (String, bool) {
    let mut page = String::new();
    let mut kept = true;
    let _ = writeln!(
        page,
        "# Accuracy of shaft power that is estimated from the current\n\n\
         Where a trace has no active power, or no voltages (`wiring = \"currents-only\"`). The same motors, settings with \
         nameplate,\ncurves and locked rotor, balanced, windings warm. Error in % of rated shaft power, lowest and highest of all \
         motors:\n\n\
         | voltage | of the mains | {} |\n|---|---|{}",
        LOADS.map(|load| format!("load {:.0} %", load * 100.0)).join(" | "),
        "---|".repeat(LOADS.len())
    ); // into a string: cannot fail
    for measured in [true, false] {
        for voltage in VOLTAGES {
            let cells = LOADS.map(|load| errors(load, voltage, measured));
            let words = cells.map(|[low, high]| format!("{low:+.1} to {high:+.1}"));
            let how = if measured { "measured" } else { "assumed" };
            let _ = writeln!(page, "| {how} | {:.0} % | {} |", voltage * 100.0, words.join(" | "));
            let right = measured || (voltage - 1.0).abs() < 1e-9;
            for (at, (load, cell)) in LOADS.into_iter().zip(cells).enumerate() {
                let most = PROMISED_PCT[if right { at.min(1) } else { 2 }];
                kept &= !right && load > 1.0 || cell.iter().all(|error| error.abs() <= most);
            }
        }
    }
    let word = if kept { "kept" } else { "BROKEN" };
    let [least, rest, off] = PROMISED_PCT;
    let _ = writeln!(
        page,
        "\nPromise: from 25 % load on within {rest} % of rated, at 10 % load within {least} %, where the voltage is measured or is \
         the nominal\none; up to rated load within {off} % where the mains are 10 % off and nobody measures it: {word}. The \
         model's iron does not\nsaturate: a real motor takes more magnetising current above rated voltage, and the estimate is too \
         high there."
    );
    (page, kept)
}
