//! The plant as a trace that is made while it is read: eight frames a call, so that each answer counts for the next block.

use shaftwork_core::BLOCK;

use super::hands::Hands;
use crate::plant::{Plant, Scenario};
use crate::trace::{Channel, Kind, Meta, Rate, Reader, Rows};

/// The plant behind the reader of a trace.
pub struct PlantReader {
    meta: Meta,
    plant: Plant,
    hands: Hands,
    done: u64,
    over: bool,
}

/// Name, phase, unit and kind of each channel, in the order of a frame.
const CHANNELS: [(&str, &str, &str, Kind); 7] = [
    ("VA", "A", "V", Kind::Voltage),
    ("VB", "B", "V", Kind::Voltage),
    ("VC", "C", "V", Kind::Voltage),
    ("IA", "A", "A", Kind::Current),
    ("IB", "B", "A", Kind::Current),
    ("IC", "C", "A", Kind::Current),
    ("MASS", "", "kg", Kind::Mass),
];

impl PlantReader {
    /// Of a scenario and a seed.
    pub fn new(path: &str, scenario: &Scenario, seed: u64, hands: Hands) -> Self {
        let channel = |(name, phase, unit, kind): (&str, &str, &str, Kind)| Channel {
            name: name.to_owned(),
            phase: phase.to_owned(),
            unit: unit.to_owned(),
            to_si: 1.0,
            kind,
            step: 0.0,
            flaw: None,
        };
        let frames = (scenario.duration_s * scenario.rate_hz).round().max(0.0) as u64;
        let meta = Meta {
            path: path.to_owned(),
            format: "the plant model".to_owned(),
            station: String::new(),
            start: None,
            nominal_hz: Some(scenario.supply.frequency_hz),
            rates: vec![Rate { hz: scenario.rate_hz, last_frame: frames }],
            stamps_hz: None,
            channels: CHANNELS.map(channel).to_vec(),
            digital: 0,
            frames: Some(frames),
        };
        Self { meta, plant: Plant::new(scenario, seed), hands, done: 0, over: false }
    }
}

impl Reader for PlantReader {
    fn meta(&self) -> &Meta {
        &self.meta
    }

    fn read(&mut self, rows: &mut Rows) -> anyhow::Result<usize> {
        rows.reset(CHANNELS.len());
        self.plant.answer(self.hands.answer());
        let (notes, over) = self.hands.noted();
        rows.marks.extend(notes.into_iter().map(|note| (0, note)));
        // A last block, so that the last note has a row to stand at.
        if std::mem::replace(&mut self.over, over) {
            return Ok(0);
        }
        while rows.len < BLOCK
            && let Some(frame) = self.plant.next_frame()
        {
            for (column, value) in rows.columns.iter_mut().zip(frame.reading) {
                column.push(value);
            }
            rows.len += 1;
        }
        self.done += rows.len as u64;
        Ok(rows.len)
    }

    fn warnings(&self) -> &[String] {
        &[]
    }

    fn progress(&self) -> (u64, Option<u64>) {
        (self.done, self.meta.frames)
    }
}
