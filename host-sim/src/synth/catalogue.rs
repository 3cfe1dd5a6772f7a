//! The scenarios by name. Mill, motor and scrap are invented; breaking work is of the order that scrap takes
//! (20 to 60 kWh/t, common practice, no source).

use super::plate::{Plate, Trips};
use crate::plant::Scenario;
use crate::plant::circuit::Circuit;
use crate::plant::feeder::hand::Hand;
use crate::plant::feeder::{Material, Work};
use crate::plant::mill::{Mill, Wedge};
use crate::plant::seed::Span;
use crate::plant::sensor::Sensor;
use crate::plant::supply::{Closed, Loss, Place, Sag, Starter, Supply};
use crate::plant::terminals::Phase;

/// A scenario that can be asked for.
pub struct Named {
    /// Its name.
    pub name: &'static str,
    /// What happens, in a line.
    pub about: &'static str,
    /// Makes it.
    pub scenario: fn() -> Scenario,
}

/// All of them, in the order in which they are listed.
pub const ALL: [Named; 11] = [
    Named {
        name: "cold-start",
        about: "at rest, started direct on line at 2 s, then idle",
        scenario: || mill(20.0, vec![Closed { from_s: 2.0, until_s: f64::INFINITY }]),
    },
    Named {
        name: "restart",
        about: "running, switched off at 3 s, started again at 15 s while the rotor still turns",
        scenario: || {
            let closed =
                [Closed { from_s: f64::NEG_INFINITY, until_s: 3.0 }, Closed { from_s: 15.0, until_s: f64::INFINITY }];
            mill(30.0, closed.to_vec())
        },
    },
    Named {
        name: "star-delta-start",
        about: "at rest, started at 2 s in star, in delta after 8 s, then idle",
        scenario: || {
            let mut s = mill(25.0, vec![Closed { from_s: 2.0, until_s: f64::INFINITY }]);
            s.supply.starter = Starter::StarDelta { star_s: 8.0, pause_s: 0.05 };
            s
        },
    },
    Named { name: "idle", about: "running empty", scenario: || mill(30.0, running()) },
    Named {
        name: "hand-fed",
        about: "running, fed by hand: a piece every half second to a second",
        scenario: || fed(Span(20.0, 36.0)),
    },
    Named {
        name: "worn-hammers",
        about: "as hand-fed, but each tonne takes two fifths more work",
        scenario: || fed(Span(28.0, 50.4)),
    },
    Named {
        name: "wedge",
        about: "fed by hand until a piece wedges at 25 s and the rotor stalls",
        scenario: || {
            let mut s = fed(Span(20.0, 36.0));
            if let Some(feed) = &mut s.mill.hand {
                feed.until_s = 24.0;
            }
            s.mill.wedge = Some(Wedge { at_s: 25.0, rise_s: 0.3, torque_nm: 1080.0, until_s: f64::INFINITY });
            s.duration_s = 40.0;
            s
        },
    },
    Named {
        name: "sag",
        about: "fed by hand; at 10 s the voltage falls to 70 % for 0.4 s",
        scenario: || {
            let mut s = fed(Span(20.0, 36.0));
            s.supply.sags.push(Sag { from_s: 10.0, until_s: 10.4, ramp_s: 0.01, depth: 0.3 });
            s
        },
    },
    Named {
        name: "lost-phase",
        about: "fed by hand; at 10 s a line to the motor is lost",
        scenario: || lost(Place::Motor),
    },
    Named {
        name: "lost-phase-upstream",
        about: "fed by hand; at 10 s a line is lost before a delta-star transformer",
        scenario: || lost(Place::Upstream),
    },
    Named {
        name: "shift",
        about: "started at 5 s, fed by hand from 20 s on; with --duration-s for hours",
        scenario: || {
            let mut s = fed(Span(20.0, 36.0));
            s.supply.closed = vec![Closed { from_s: 5.0, until_s: f64::INFINITY }];
            if let Some(feed) = &mut s.mill.hand {
                feed.from_s = 20.0;
            }
            // 1 kg a count: a shift's tonnes fit.
            s.sensor = Sensor::sixteen_bits(655.34, 1474.515, 32_767.0);
            s.lead_s = 0.0;
            s.duration_s = 300.0;
            s
        },
    },
];

/// The scenario of a name.
pub fn find(name: &str) -> Option<&'static Named> {
    ALL.iter().find(|named| named.name == name)
}

const RATED_W: f64 = 55_000.0;

impl Named {
    /// The settings that replay its trace: the nameplate is the model's own at rated load.
    pub fn settings(&self, scenario: &Scenario) -> String {
        let idle = scenario.circuit.settle(|speed| scenario.mill.windage_nm(speed));
        let sensor = &scenario.sensor;
        let plate = Plate {
            about: &["Settings for a trace of the plant model; the nameplate is the model's own at rated load."],
            circuit: &scenario.circuit,
            rated_w: RATED_W,
            wiring: "four-wire",
            rate_hz: scenario.rate_hz,
            volts: sensor.voltage.full_scale,
            amps: sensor.current.full_scale,
            inertia_kg_m2: Some(scenario.circuit.inertia_kg_m2 + scenario.mill.inertia_kg_m2),
            idle_w: idle.map(|point| point.shaft_w),
            mass: true,
            trips: Some(Trips { jam_s: 0.5, start_s: 15.0, phase_loss_s: 1.0, undervoltage_s: 2.0 }),
        };
        plate.text()
    }
}

fn running() -> Vec<Closed> {
    vec![Closed::ALWAYS]
}

/// The mill of the catalogue, empty.
fn mill(duration_s: f64, closed: Vec<Closed>) -> Scenario {
    let circuit = Circuit::mill_55_kw();
    let supply = Supply { closed, ..Supply::new(400.0, 50.0, Closed { from_s: 0.0, until_s: 0.0 }) };
    let runs = supply.is_closed(-1.0);
    let mill = Mill::default();
    Scenario {
        circuit,
        supply,
        mill,
        // 0.02 V, 0.045 A and 0.1 kg a count.
        sensor: Sensor::sixteen_bits(655.34, 1474.515, 3276.7),
        rate_hz: 4000.0,
        // A mill that is found running has been started before.
        lead_s: if runs { 12.0 } else { 0.0 },
        duration_s,
    }
}

/// The mill fed by hand that loses a line for good at 10 s.
fn lost(place: Place) -> Scenario {
    let mut s = fed(Span(20.0, 36.0));
    s.supply.losses.push(Loss { place, phase: Phase::A, from_s: 10.0, until_s: f64::INFINITY });
    s.duration_s = 20.0;
    s
}

/// The mill found running and fed by hand.
fn fed(work_kwh_t: Span) -> Scenario {
    let mut s = mill(60.0, running());
    s.mill.hand = Some(Hand {
        from_s: 3.0,
        until_s: f64::INFINITY,
        interval_s: Span(0.5, 1.15),
        material: Material { mass_kg: Span(0.15, 0.45), work: Work::PerTonne(work_kwh_t), burst_s: Span(0.5, 1.5) },
    });
    s
}
