//! The truth beside a trace: what the model knows and no converter sees, ten times a second, and all that happened.
//!
//! States are the contract's, by what the model knows: `starting` from the contactor's closing to 95 % of synchronous
//! speed, `coasting` while the rotor turns without it, `breaking` where the hammers have taken more than 15 % of idle
//! power since the moment before, or hold the rotor below that speed.

use std::io::Write as _;
use std::path::Path;

use serde::Serialize;
use serde_json::{Value, json};

use crate::plant::fault::{Fault, Kind};
use crate::plant::supply::Loss;
use crate::plant::{Event, Frame, Scenario, Truth, What};
use crate::whole::Whole;

/// Truths a second.
const A_SECOND: f64 = 10.0;
const J_PER_KWH: f64 = 3.6e6;

/// One moment as it is written.
#[derive(Serialize)]
struct Row {
    t_s: f64,
    state: &'static str,
    speed_rpm: f64,
    mill_rpm: f64,
    shaft_nm: f64,
    load_nm: f64,
    mass_kg: f64,
    charge_kg: f64,
    electrical_kwh: f64,
    shaft_kwh: f64,
    breaking_kwh: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    winding_c: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    cage_c: Option<f64>,
}

impl Row {
    fn new(t: &Truth, state: &'static str) -> Self {
        Self {
            t_s: t.t_s,
            state,
            speed_rpm: t.speed_rpm,
            mill_rpm: t.mill_rpm,
            shaft_nm: t.shaft_nm,
            load_nm: t.load_nm,
            mass_kg: t.mass_kg,
            charge_kg: t.charge_kg,
            electrical_kwh: t.electrical_j / J_PER_KWH,
            shaft_kwh: t.shaft_j / J_PER_KWH,
            breaking_kwh: t.breaking_j / J_PER_KWH,
            winding_c: t.motor_c.map(|[winding, _]| winding),
            cage_c: t.motor_c.map(|[_, cage]| cage),
        }
    }
}

/// What the mill is doing, by what the model knows.
struct Watch {
    closed: bool,
    ran_up: bool,
    run_up_rpm: f64,
    idle_w: f64,
    last: (f64, f64),
}

/// Below this a rotor stands, rpm.
const STANDS_RPM: f64 = 1.0;

impl Watch {
    fn new(scenario: &Scenario) -> Self {
        let Scenario { circuit, mill, supply, .. } = scenario;
        let idle = circuit.settle(|speed| mill.windage_nm(speed));
        Self {
            closed: supply.is_closed(0.0),
            ran_up: false,
            run_up_rpm: 0.95 * circuit.synchronous_rpm(),
            idle_w: idle.map_or(0.0, |point| point.shaft_w),
            last: (0.0, 0.0),
        }
    }

    fn event(&mut self, what: What) {
        match what {
            What::Closes => (self.closed, self.ran_up) = (true, false),
            What::Opens => self.closed = false,
            _ => {}
        }
    }

    fn state(&mut self, t: &Truth) -> &'static str {
        let (since_s, done_j) = (t.t_s - self.last.0, t.breaking_j - self.last.1);
        self.last = (t.t_s, t.breaking_j);
        match (self.closed, self.ran_up) {
            (false, _) if t.speed_rpm.abs() < STANDS_RPM => "stopped",
            (false, _) => "coasting",
            (true, false) => "starting",
            // A rotor that is held does not idle.
            (true, true) if t.speed_rpm < self.run_up_rpm => "breaking",
            (true, true) if done_j > 0.15 * self.idle_w * since_s => "breaking",
            (true, true) => "idle",
        }
    }
}

/// The document that is being written.
pub(super) struct Truths {
    file: Whole,
    /// Frames between two moments.
    every: u64,
    frames: u64,
    events: Vec<Value>,
    watch: Watch,
}

impl Truths {
    /// Begins it.
    pub(super) fn create(path: &Path, name: &str, seed: u64, scenario: &Scenario) -> anyhow::Result<Self> {
        let mut file = Whole::create(path)?;
        let head = json!({
            "format": "shaftwork-truth/1", "scenario": name, "seed": seed,
            "rate_hz": scenario.rate_hz, "duration_s": scenario.duration_s,
        });
        // The head without its closing brace: members follow.
        let head = head.to_string();
        write!(file, "{},\n\"moments\": [", head.trim_end_matches('}'))?;
        let every = (scenario.rate_hz / A_SECOND).round().max(1.0) as u64;
        Ok(Self { file, every, frames: 0, events: Vec::new(), watch: Watch::new(scenario) })
    }

    /// Takes a frame.
    pub(super) fn frame(&mut self, frame: &Frame<'_>) -> anyhow::Result<()> {
        self.events.extend(frame.events.iter().map(event));
        frame.events.iter().for_each(|event| self.watch.event(event.what));
        self.watch.ran_up |= self.watch.closed && frame.truth.speed_rpm >= self.watch.run_up_rpm;
        if self.frames.is_multiple_of(self.every) {
            self.file.write_all(if self.frames == 0 { b"\n" } else { b",\n" })?;
            let state = self.watch.state(&frame.truth);
            serde_json::to_writer(&mut self.file, &Row::new(&frame.truth, state))?;
        }
        self.frames += 1;
        Ok(())
    }

    /// Ends it; it waits for its name.
    pub(super) fn finish(mut self, end: &Truth) -> anyhow::Result<Whole> {
        write!(self.file, "\n],\n\"events\": ")?;
        serde_json::to_writer(&mut self.file, &self.events)?;
        write!(self.file, ",\n\"end\": ")?;
        let state = self.watch.state(end);
        serde_json::to_writer(&mut self.file, &Row::new(end, state))?;
        writeln!(self.file, "\n}}")?;
        Ok(self.file)
    }
}

fn event(e: &Event) -> Value {
    let name = match e.what {
        What::Closes => "contactor_closes",
        What::Opens => "contactor_opens",
        What::Piece(kg) => return json!({ "t_s": e.t_s, "event": "piece", "mass_kg": kg }),
        What::WedgeBegins => "wedge_begins",
        What::WedgeEnds => "wedge_ends",
        What::SagBegins => "sag_begins",
        What::SagEnds => "sag_ends",
        What::SwellBegins => "swell_begins",
        What::SwellEnds => "swell_ends",
        What::DriftBegins => "drift_begins",
        What::DriftEnds => "drift_ends",
        What::LineLost(loss) => return line("line_lost", e.t_s, &loss),
        What::LineBack(loss) => return line("line_back", e.t_s, &loss),
        What::BeltLost => "belt_lost",
        What::FaultBegins(fault) => return channel("fault_begins", e.t_s, &fault),
        What::FaultEnds(fault) => return channel("fault_ends", e.t_s, &fault),
    };
    json!({ "t_s": e.t_s, "event": name })
}

fn line(name: &str, t_s: f64, loss: &Loss) -> Value {
    json!({ "t_s": t_s, "event": name, "place": loss.place, "phase": loss.phase })
}

fn channel(name: &str, t_s: f64, fault: &Fault) -> Value {
    let kind = match fault.kind {
        Kind::Dead => "dead",
        Kind::Stuck => "stuck",
        Kind::Reversed => "reversed",
        Kind::Scaled(_) => "scaled",
        Kind::Saturated(_) => "saturated",
    };
    let channel = super::record::CHANNELS.get(fault.channel).map(|(name, ..)| *name);
    json!({ "t_s": t_s, "event": name, "channel": channel, "kind": kind })
}
