//! The truth beside a trace: what the model knows and no converter sees, ten times a second, and all that happened.

use std::io::Write as _;
use std::path::Path;

use serde::Serialize;
use serde_json::{Value, json};

use crate::plant::{Event, Frame, Scenario, Truth, What};
use crate::whole::Whole;

/// Truths a second.
const A_SECOND: f64 = 10.0;
const J_PER_KWH: f64 = 3.6e6;

/// One moment as it is written.
#[derive(Serialize)]
struct Row {
    t_s: f64,
    speed_rpm: f64,
    shaft_nm: f64,
    load_nm: f64,
    mass_kg: f64,
    electrical_kwh: f64,
    shaft_kwh: f64,
    breaking_kwh: f64,
}

impl From<&Truth> for Row {
    fn from(t: &Truth) -> Self {
        Self {
            t_s: t.t_s,
            speed_rpm: t.speed_rpm,
            shaft_nm: t.shaft_nm,
            load_nm: t.load_nm,
            mass_kg: t.mass_kg,
            electrical_kwh: t.electrical_j / J_PER_KWH,
            shaft_kwh: t.shaft_j / J_PER_KWH,
            breaking_kwh: t.breaking_j / J_PER_KWH,
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
        Ok(Self { file, every, frames: 0, events: Vec::new() })
    }

    /// Takes a frame.
    pub(super) fn frame(&mut self, frame: &Frame<'_>) -> anyhow::Result<()> {
        self.events.extend(frame.events.iter().map(event));
        if self.frames.is_multiple_of(self.every) {
            self.file.write_all(if self.frames == 0 { b"\n" } else { b",\n" })?;
            serde_json::to_writer(&mut self.file, &Row::from(&frame.truth))?;
        }
        self.frames += 1;
        Ok(())
    }

    /// Ends it; it waits for its name.
    pub(super) fn finish(mut self, end: &Truth) -> anyhow::Result<Whole> {
        write!(self.file, "\n],\n\"events\": ")?;
        serde_json::to_writer(&mut self.file, &self.events)?;
        write!(self.file, ",\n\"end\": ")?;
        serde_json::to_writer(&mut self.file, &Row::from(end))?;
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
        What::LineLost(_) => "line_lost",
        What::LineBack(_) => "line_back",
    };
    json!({ "t_s": e.t_s, "event": name })
}
