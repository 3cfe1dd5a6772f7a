//! Shaft power, speed and energy of the core against the plant over a grid: what a user has told of the motor, voltage,
//! unbalance, warm or cold windings, load; steady and hammering.
//!
//! The records come from the reduced plant model, so that the meter's own error (it has a table of its own) is not in
//! them. The truth is the plant's; it knows nothing of nameplates.

use crate::machine::{Extra, Machine, Sheet, spread};
use shaftwork_core::judge::Judge;
use shaftwork_core::record::HalfCycle;
use shaftwork_core::settings::Coefficients;
use shaftwork_sim::plant::feeder::hand::{Hand, Heed};
use shaftwork_sim::plant::feeder::{Material, Work};
use shaftwork_sim::plant::heating::{Body, Heating};
use shaftwork_sim::plant::mill::Wedge;
use shaftwork_sim::plant::reduced::{Refused, run};
use shaftwork_sim::plant::seed::Span;
use shaftwork_sim::plant::supply::Unbalance;
use shaftwork_sim::plant::{Scenario, Truth};
use shaftwork_sim::{fit, settings};
use std::fmt::Write as _;

pub(crate) const VOLTAGES: [f64; 3] = [0.9, 1.0, 1.1];
const UNBALANCES: [f64; 3] = [0.0, 0.01, 0.03];
pub(crate) const LOADS: [f64; 6] = [0.10, 0.25, 0.50, 0.75, 1.00, 1.30];
/// Shaft power of the empty mill over rated power.
pub(crate) const IDLE: f64 = 0.08;
/// Winding and cage of a motor that has just been started, and what its resistances are reckoned for, degrees C.
const COLD_C: f64 = 20.0;
const WARM_C: f64 = 95.0;

/// What the user has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Given {
    /// In words.
    pub words: &'static str,
    sheet: Sheet,
    /// Whether the settings follow the windings' temperature.
    warms: bool,
}

/// From the least to all.
pub const GIVEN: [Given; 4] = [
    Given { words: "nameplate", sheet: Sheet::Least, warms: false },
    Given { words: "and curves, locked rotor", sheet: Sheet::NoResistance, warms: false },
    Given { words: "and stator resistance", sheet: Sheet::Whole, warms: false },
    Given { words: "and [winding]", sheet: Sheet::Whole, warms: true },
];

/// Largest errors of a cell of the grid.
#[derive(Debug, Clone, Copy, Default)]
pub struct Worst {
    /// Shaft power, % of rated.
    pub power_pct: f64,
    /// Speed, % of synchronous.
    pub speed_pct: f64,
}

/// A cell: which error is asked for.
#[derive(Debug, Clone, Copy)]
pub struct Cell {
    /// What the user has.
    pub given: Given,
    /// Line voltage over rated.
    pub voltage: f64,
    /// Negative over positive sequence of the voltage.
    pub unbalance: f64,
    /// Windings at 20 degrees, no more at 95.
    pub cold: bool,
}

/// The settings of a user for a motor.
pub(crate) fn settings_of(machine: &Machine, given: Given, cold: bool, idle_w: Option<f64>) -> settings::Settings {
    let mut text = machine.settings(&Extra { sheet: given.sheet, idle_w, ..Extra::default() });
    if given.warms {
        let (rise, start) = (WARM_C - COLD_C, if cold { COLD_C } else { WARM_C });
        // Longer than any run: what it is at first it stays.
        let _ = write!(
            text,
            "[winding]\ntime_constant_s = 36000\nrise_k = {rise}\nambient_c = {COLD_C}\nstart_c = {start}\n"
        );
    }
    settings::parse(&text, machine.name).unwrap_or_else(|faults| panic!("{faults}\n{text}")).0
}

fn core(machine: &Machine, given: Given, cold: bool, idle_w: Option<f64>) -> Coefficients {
    fit::core_settings(&settings_of(machine, given, cold, idle_w), machine.rate_hz)
        .unwrap_or_else(|fault| panic!("{fault:#}"))
        .build()
        .expect("it is sound")
}

/// A motor at speed on a mill, with windings as the cell says.
pub(crate) fn running(machine: &Machine, cell: &Cell) -> Scenario {
    let lead_s = 5.0;
    let mut scenario = machine.scenario(machine.windage(IDLE), 0.6, -lead_s, 1.0);
    scenario.lead_s = lead_s;
    scenario.supply.line_v *= cell.voltage;
    scenario.supply.unbalance = Some(Unbalance { share: cell.unbalance, phase_rad: 0.7 });
    let held = Body { kelvin_per_w: 0.0, time_constant_s: 1e9 };
    let start = if cell.cold { COLD_C } else { WARM_C };
    scenario.heating =
        Some(Heating { ambient_c: start, start_c: [start; 2], reference_c: WARM_C, winding: held, cage: held });
    scenario
}

/// What a run showed.
pub(crate) struct Seen {
    /// Shaft energy by the core and by the plant, from the third half cycle on, J: the first is no whole cycle.
    pub(crate) shaft_j: [f64; 2],
    /// Mean of the core's speed less the plant's, rpm.
    speed_off_rpm: f64,
    /// How long that was, s.
    pub(crate) seconds: f64,
}

/// Half cycles that are left out.
const FIRST: u32 = 3;

fn told(machine: &Machine, scenario: &Scenario, c: &Coefficients) -> Seen {
    told_of(machine, scenario, c, |record| *record)
}

/// What the judge tells of a run, of whose records it is shown so much.
pub(crate) fn told_of(
    machine: &Machine,
    scenario: &Scenario,
    c: &Coefficients,
    shown: impl Fn(&HalfCycle) -> HalfCycle,
) -> Seen {
    let mut judge = Judge::new(&c.judge);
    let half_s = 0.5 / scenario.supply.frequency_hz;
    let (mut n, mut shaft_j, mut begun, mut last) = (0, 0.0, Truth::default(), Truth::default());
    let (mut speed_off, mut speeds) = (0.0, 0.0);
    let end = run::<Refused>(scenario, 7, |step| {
        let moment = judge.half_cycle(&c.judge, &shown(&step.record));
        while judge.pop_event().is_some() {}
        n += 1;
        if n == FIRST {
            begun = step.truth;
        } else if n > FIRST {
            shaft_j += moment.shaft.0.to_num::<f64>() * half_s;
            if let Some(speed) = moment.speed {
                speed_off += speed.0.to_num::<f64>() - step.truth.speed_rpm;
                speeds += 1.0;
            }
            last = step.truth;
        }
        Ok(())
    });
    if let Err(refused) = end {
        panic!("{}: {refused}", machine.name);
    }
    Seen {
        shaft_j: [shaft_j, last.shaft_j - begun.shaft_j],
        speed_off_rpm: if speeds > 0.0 { speed_off / speeds } else { f64::INFINITY },
        seconds: f64::from(n - FIRST) * half_s,
    }
}

impl Cell {
    /// Steady loads from 10 to 130 %, all motors.
    ///
    /// # Panics
    /// The harness itself is wrong: settings or a scenario that are refused.
    #[must_use]
    pub fn steady(&self) -> Worst {
        let mut worst = Worst::default();
        for machine in spread() {
            let c = core(&machine, self.given, self.cold, Some(machine.rated_w * IDLE));
            for load in LOADS {
                let mut scenario = running(&machine, self);
                let torque_nm = (load - IDLE) * machine.plate().rated.shaft_nm;
                scenario.mill.wedge = Some(Wedge { at_s: -2.5, rise_s: 0.5, torque_nm, until_s: f64::INFINITY });
                let Seen { shaft_j: [core, plant], speed_off_rpm, seconds } = told(&machine, &scenario, &c);
                let power = (core - plant) / seconds / machine.rated_w * 100.0;
                let speed = speed_off_rpm / machine.circuit.synchronous_rpm() * 100.0;
                worst.power_pct = worst.power_pct.max(power.abs());
                worst.speed_pct = worst.speed_pct.max(speed.abs());
            }
        }
        worst
    }

    /// A minute of hammering, all motors: errors of shaft energy and of net energy, %.
    ///
    /// # Panics
    /// As [`Cell::steady`].
    #[must_use]
    pub fn hammering(&self) -> [f64; 2] {
        let mut worst = [0.0_f64; 2];
        for machine in spread() {
            let windage = machine.windage(IDLE);
            let idle_w = machine.circuit.settle(|w| windage * w * w).expect("it idles").shaft_w;
            let c = core(&machine, self.given, self.cold, Some(idle_w));
            let mut scenario = running(&machine, self);
            scenario.duration_s = 60.0;
            let kg = machine.rated_w / 55e3;
            scenario.mill.hand = Some(Hand {
                from_s: -2.0,
                until_s: f64::INFINITY,
                interval_s: Span(0.5, 1.15),
                lamp: Heed::default(),
                material: Material {
                    mass_kg: Span(0.15 * kg, 0.45 * kg),
                    work: Work::PerTonne(Span(20.0, 36.0)),
                    burst_s: Span(0.5, 1.5),
                },
            });
            let Seen { shaft_j: [core, plant], seconds, .. } = told(&machine, &scenario, &c);
            let net = |shaft: f64| shaft - idle_w * seconds;
            let off = |found: f64, wanted: f64| (found / wanted - 1.0).abs() * 100.0;
            worst[0] = worst[0].max(off(core, plant));
            worst[1] = worst[1].max(off(net(core), net(plant)));
        }
        worst
    }
}

/// The page's section, and whether what it promises is kept.
#[must_use]
pub fn section() -> (String, bool) {
    let mut page = String::new();
    let mut say = |line: std::fmt::Arguments<'_>| {
        let _ = writeln!(page, "{line}"); // into a string: cannot fail
    };
    let mut kept = true;
    say(format_args!("# Accuracy of shaft power, speed and energy\n"));
    say(format_args!(
        "The model's error: the core against the plant model of {} motors of 15 to 110 kW, loads of",
        spread().len()
    ));
    say(format_args!(
        "{:.0} to {:.0} %, largest error of all. Instruments, nameplate tolerances and the real motor come on top.\n",
        LOADS[0] * 100.0,
        LOADS[5] * 100.0
    ));
    say(format_args!("Shaft power, % of rated, and (speed, % of synchronous):\n"));
    say(format_args!(
        "| told | windings | voltage | balanced | 1 % unbalance | 3 % unbalance |\n|---|---|---|---|---|---|"
    ));
    for given in GIVEN {
        for cold in [false, true] {
            for voltage in VOLTAGES {
                let cells = UNBALANCES.map(|unbalance| Cell { given, voltage, unbalance, cold }.steady());
                let words = cells.map(|w| format!("{:.2} ({:.2})", w.power_pct, w.speed_pct));
                let windings = if cold { "cold" } else { "warm" };
                say(format_args!(
                    "| {} | {windings} | {:.0} % | {} |",
                    given.words,
                    voltage * 100.0,
                    words.join(" | ")
                ));
                if given.warms || (given.sheet == Sheet::Whole && !cold) {
                    kept &= cells.iter().all(|w| w.power_pct <= 0.5 && w.speed_pct <= 0.25);
                }
            }
        }
    }
    say(format_args!("\nA minute of hammering at rated voltage, error in %:\n"));
    say(format_args!("| told | windings | shaft energy | net energy |\n|---|---|---|---|"));
    for given in GIVEN {
        for cold in [false, true] {
            let [shaft, net] = Cell { given, voltage: 1.0, unbalance: 0.0, cold }.hammering();
            say(format_args!("| {} | {} | {shaft:.2} | {net:.2} |", given.words, if cold { "cold" } else { "warm" }));
            if given.warms || (given.sheet == Sheet::Whole && !cold) {
                kept &= shaft <= 0.5 && net <= 1.0;
            }
        }
    }
    let word = if kept { "kept" } else { "BROKEN" };
    say(format_args!(
        "\nPromise: with curves and resistance, and windings as warm as told, shaft power within 0.5 % of rated and"
    ));
    say(format_args!(
        "speed within 0.25 % of synchronous over the whole grid, shaft energy of hammering within 0.5 %, net within 1 %: {word}."
    ));
    (page, kept)
}
