//! Runs a scenario, writes its record, and notes what a reader of the trace would want to know.

use crate::comtrade::Record;
use shaftwork_sim::plant::{Event, Frame, Scenario, Truth, run};
use std::convert::Infallible;

/// What a run showed.
pub struct Story {
    /// Text of the `.cfg`.
    pub cfg: String,
    /// Bytes of the `.dat`.
    pub dat: Vec<u8>,
    /// The last truth.
    pub end: Truth,
    /// The truth when 95 % of synchronous speed was first reached.
    pub run_up: Option<Truth>,
    /// All that happened.
    pub events: Vec<Event>,
    /// The truth at each frame, thinned to ten a second.
    pub tenths: Vec<Truth>,
    /// Largest one-cycle rms of the largest phase at each frame, A.
    pub current_a: Vec<f64>,
}

/// Runs a scenario into a record of 6 or 7 channels.
pub fn tell(scenario: &Scenario, seed: u64, channels: usize, device: &str) -> Story {
    let mut record = Record::new(channels, &scenario.sensor, scenario.rate_hz);
    // A cycle has a whole number of samples in every scenario here.
    let cycle = (scenario.rate_hz / scenario.supply.frequency_hz).round() as usize;
    let every = (scenario.rate_hz / 10.0).round() as usize;
    let level = 0.95 * scenario.circuit.synchronous_rpm();
    let (mut currents, mut sums) = (Vec::<[f64; 3]>::new(), [0.0; 3]);
    let mut story = Story {
        cfg: String::new(),
        dat: Vec::new(),
        end: Truth::default(),
        run_up: None,
        events: Vec::new(),
        tenths: Vec::new(),
        current_a: Vec::new(),
    };
    let each = |frame: &Frame<'_>| {
        record.push(&frame.reading);
        let now = [frame.reading[3], frame.reading[4], frame.reading[5]];
        let gone = currents.len().checked_sub(cycle).map_or([0.0; 3], |n| currents[n]);
        for ((sum, now), gone) in sums.iter_mut().zip(now).zip(gone) {
            *sum += now * now - gone * gone;
        }
        let most = sums.iter().fold(0.0_f64, |most, sum| most.max(*sum));
        story.current_a.push((most / cycle as f64).sqrt());
        if currents.len().is_multiple_of(every) {
            story.tenths.push(frame.truth);
        }
        currents.push(now);
        if story.run_up.is_none() && frame.truth.speed_rpm >= level {
            story.run_up = Some(frame.truth);
        }
        story.events.extend_from_slice(frame.events);
        Ok::<(), Infallible>(())
    };
    let Ok(end) = run(scenario, seed, each);
    story.end = end;
    (story.cfg, story.dat) = record.finish("QUILLBROOK YARD", device, scenario.supply.frequency_hz);
    story
}

impl Story {
    /// The largest one-cycle rms current, A.
    pub fn peak_a(&self) -> f64 {
        self.current_a.iter().fold(0.0, |most: f64, x| most.max(*x))
    }

    /// When the one-cycle rms current last rose above a level and stayed until the end of a span, s.
    pub fn crosses_for_good(&self, level_a: f64, until_s: f64, rate_hz: f64) -> Option<f64> {
        let last = (until_s * rate_hz) as usize;
        let below = self.current_a[..last].iter().rposition(|x| *x < level_a)?;
        (below + 1 < last).then(|| (below + 1) as f64 / rate_hz)
    }

    /// The truth at a tenth of a second.
    pub fn at(&self, t_s: f64) -> &Truth {
        &self.tenths[((t_s * 10.0).round() as usize).min(self.tenths.len() - 1)]
    }
}

/// A table of figures for a page.
pub fn table(rows: &[(&str, String)]) -> String {
    let mut text = String::from("| figure | truth |\n|---|---|\n");
    for (what, value) in rows {
        text.extend(["| ", what, " | ", value, " |\n"]);
    }
    text
}
