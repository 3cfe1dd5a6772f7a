//! The mill of the day: its motor, its settings, and the scenario that a row of the plan makes.
//!
//! Of our own invention, after none in particular. The plant's rotor has no dry friction and never quite stands: each start begins at rest all
//! the same, [`left_turning`] tells what is left out by that.

use super::{Happens, Row};
use crate::machine::{Extra, Machine, PerUnit};
use shaftwork_sim::plant::Scenario;
use shaftwork_sim::plant::feeder::belt::{Belt, Drive};
use shaftwork_sim::plant::feeder::hand::{Hand, Heed};
use shaftwork_sim::plant::feeder::{Material, Work};
use shaftwork_sim::plant::mill::{Chamber, Lump, Wedge};
use shaftwork_sim::plant::seed::Span;
use shaftwork_sim::plant::supply::{Closed, Loss, Sag, Unbalance};
use shaftwork_sim::plant::terminals::Phase;

/// Time before the contactor closes that the plant is run, s.
pub const LEAD_S: f64 = 2.0;
/// Time after it has opened, s.
pub const TAIL_S: f64 = 3.0;
/// How long a rotor may turn without current, by the settings, s.
pub const COAST_S: f64 = 300.0;
/// The empty mill, over rated power.
const EMPTY: f64 = 0.18;
/// A start's time, s.
const START_S: f64 = 2.5;
/// When feeding begins after closing, and ends before opening, s.
const FED_S: f64 = 20.0;
/// The belt's share that is work for a day.
pub const FAIR: f64 = 0.15;
/// The share that is too much for the motor's winding.
const TOO_MUCH: f64 = 0.31;

const FURTHER: &str = "
[restart]
rest_s = 420.0
[trip.overvoltage]
pickup_pct = 112
delay_s = 1
[trip.phase_reversal]
[trip.current_unbalance]
pickup_pct = 15
delay_s = 10
action = \"feed-stop\"
[trip.residual_current]
pickup_pct = 20
delay_s = 0.2
[trip.underload]
pickup_pct = 50
delay_s = 2
[trip.sensor_fault]
[trip.starts_per_hour]
most = 5
action = \"trip\"
[trip.wedge]
pickup_pct = 170
window_s = 0.2
action = \"warning\"
";

/// The motor.
#[must_use]
pub fn machine() -> Machine {
    let unit = PerUnit { r1: 0.02, x: 0.1, xm: 3.0, r2: 0.019, deep: 1.4, losses: [0.014, 0.012, 0.009] };
    Machine {
        name: "37 kW 400 V 50 Hz",
        circuit: unit.circuit(37.0, 400.0, 50.0, 4),
        rated_w: 37e3,
        rate_hz: 4_000.0,
        bits: 16,
        start_s: START_S,
    }
}

/// The settings file's text: every element is on.
#[must_use]
pub fn settings(machine: &Machine) -> String {
    let text = machine.settings(&Extra { delays_s: [0.5, 6.0, 1.0], ..Extra::default() });
    let inertia = machine.inertia(START_S, machine.windage(EMPTY));
    let idle_kw = EMPTY * machine.rated_w / 1e3;
    format!(
        "{text}[mill]\nrotor_inertia_kg_m2 = {inertia:.3}\nidle_power_kw = {idle_kw:.3}\ncoast_down_s = {COAST_S:?}\n{FURTHER}"
    )
}

/// Share of synchronous speed that a rotor of the plant, let go at that speed, has left after a time, s: `J dw/dt = -c w²`.
#[must_use]
pub fn left_turning(machine: &Machine, after_s: f64) -> f64 {
    let windage = machine.windage(EMPTY);
    1.0 / (1.0 + windage * machine.circuit.synchronous_rad_s() * after_s / machine.inertia(START_S, windage))
}

/// The scenario of a row; its first frame is [`LEAD_S`] before the contactor closes.
#[must_use]
pub fn scenario(machine: &Machine, row: &Row) -> Scenario {
    let at = |after_s: f64| LEAD_S + after_s;
    let opens_s = at(row.runs_s);
    let rated_nm = machine.plate().rated.shaft_nm;
    let mut scenario = machine.scenario(machine.windage(EMPTY), START_S, LEAD_S, opens_s + TAIL_S);
    let Scenario { supply, mill, .. } = &mut scenario;
    supply.closed = vec![Closed { from_s: LEAD_S, until_s: opens_s }];
    let fed = |share: f64| {
        let drive = |at_s, share| Drive { at_s, share };
        Some(belt(vec![drive(at(FED_S), share), drive(opens_s - FED_S, 0.0)]))
    };
    // Until the contactor opens.
    let more = |from_s: f64, share: f64| {
        let drive = |at_s, share| Drive { at_s, share };
        Some(belt(vec![drive(at(FED_S), FAIR), drive(at(from_s), share)]))
    };
    match row.happens {
        Happens::Idle => {}
        Happens::Belt(share) => mill.belt = fed(share),
        Happens::Hand => {
            let (from_s, until_s) = (at(FED_S), opens_s - FED_S);
            mill.hand = Some(Hand {
                from_s,
                until_s,
                interval_s: Span(0.5, 1.0),
                lamp: Heed::default(),
                material: scrap(Span(0.08, 0.18)),
            });
        }
        Happens::Wedge(at_s) => {
            mill.belt = more(at_s, FAIR);
            mill.wedge = Some(Wedge { at_s: at(at_s), rise_s: 0.2, torque_nm: 3.5 * rated_nm, until_s: f64::INFINITY });
        }
        Happens::HardPiece { at_s, length_s, torque } => {
            mill.belt = fed(FAIR);
            mill.lumps = vec![Lump { at_s: at(at_s), length_s, edge_s: length_s / 4.0, torque_nm: torque * rated_nm }];
        }
        Happens::Choke(from_s) => {
            mill.belt = more(from_s, TOO_MUCH);
            mill.chamber = Some(Chamber {
                full_kg: 5.0,
                opening_mm: 30.0,
                passing_s: 2.0,
                capacity_kg_s: 0.24,
                drag_nm: 0.8 * rated_nm,
            });
        }
        Happens::Overload(from_s) => mill.belt = more(from_s, TOO_MUCH),
        Happens::Surge(from_s) => mill.belt = more(from_s, 1.0),
        Happens::Sag { at_s, length_s, depth } => {
            mill.belt = more(at_s, FAIR);
            supply.sags = vec![Sag { from_s: at(at_s), until_s: at(at_s + length_s), ramp_s: 0.05, depth }];
        }
        Happens::LostLine(from_s, place) => {
            mill.belt = more(from_s, FAIR);
            supply.losses = vec![Loss { place, phase: Phase::B, from_s: at(from_s), until_s: f64::INFINITY }];
        }
        Happens::LostBelt(at_s) => mill.belt_lost_s = Some(at(at_s)),
        Happens::Held => {
            let torque_nm = 4.0 * rated_nm;
            mill.wedge = Some(Wedge { at_s: 0.0, rise_s: 0.1, torque_nm, until_s: f64::INFINITY });
        }
        Happens::Unbalance(share) => supply.unbalance = Some(Unbalance { share, phase_rad: 0.6 }),
        Happens::Gap(..) => mill.belt = fed(FAIR),
    }
    scenario
}

fn scrap(mass_kg: Span) -> Material {
    Material { mass_kg, work: Work::PerTonne(Span(25.0, 45.0)), burst_s: Span(0.6, 1.2) }
}

fn belt(drive: Vec<Drive>) -> Belt {
    Belt {
        speed_m_s: 0.75,
        lag_s: 0.8,
        length_m: 3.0,
        scale_m: 1.0,
        scale_error: 0.0,
        width_m: 0.3,
        depth_m: Span(0.025, 0.035),
        bulk_kg_m3: 155.0,
        hopper_until_s: f64::INFINITY,
        batches: Vec::new(),
        drive,
        material: scrap(Span(0.01, 0.05)),
    }
}
