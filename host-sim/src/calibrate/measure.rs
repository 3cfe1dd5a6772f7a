//! What the core measures over the stretches of the reference readings, under given settings.

use shaftwork_core::record::Phasors;
use shaftwork_core::time::Span;
use shaftwork_core::{Frame, Window};
use std::f64::consts::TAU;

use super::reference::Row;
use crate::error::Fault;
use crate::listen::listen;
use crate::replay::drive::{Listener, News};
use crate::report::number::frames_s;
use crate::settings::{Settings, Wiring};

/// The means over a stretch.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Reading {
    /// rms by slot of a frame, V and A.
    pub rms: [f64; 6],
    /// Active and reactive power of all phases.
    pub power: [f64; 2],
    /// The same of each phase; of meaning in four-wire.
    pub phases: [[f64; 2]; 3],
    /// The mean code of each channel.
    pub code: [f64; 6],
    windows: f64,
    weight: f64,
}

/// Replays the trace under the settings.
///
/// # Errors
/// The trace is at fault, or does not reach over a reading.
pub fn measure(trace: &str, settings: &Settings, rows: &[Row], reference: &str) -> anyhow::Result<Vec<Reading>> {
    let mut taker = listen(trace, settings, false, |_, rate_hz| Taker {
        rows,
        readings: vec![Reading::default(); rows.len()],
        rate_hz,
        frame: 0,
        two: settings.supply.wiring == Wiring::TwoElement,
    })?;
    let length_s = taker.frame as f64 / taker.rate_hz;
    for (reading, row) in taker.readings.iter_mut().zip(rows) {
        if reading.windows == 0.0 {
            return Err(Fault::new(reference, format!("a reading from {} s to {} s", row.from_s, row.to_s))
                .wanted(format!("times inside the trace, which lasts {length_s:.1} s"))
                .mend("correct the times; they count from the trace's start")
                .into());
        }
        let n = reading.windows;
        reading.rms.iter_mut().for_each(|square| *square = (*square / n).sqrt());
        reading.power.iter_mut().chain(reading.phases.as_flattened_mut()).for_each(|sum| *sum /= n);
        let weight = reading.weight;
        reading.code.iter_mut().for_each(|sum| *sum /= weight);
    }
    Ok(taker.readings)
}

impl Reading {
    /// Windows that it is made of.
    pub fn windows(&self) -> f64 {
        self.windows
    }
}

struct Taker<'a> {
    rows: &'a [Row],
    readings: Vec<Reading>,
    rate_hz: f64,
    frame: u64,
    two: bool,
}

impl Listener for Taker<'_> {
    /// The codes' means, weighted with a raised cosine: no whole number of cycles is needed, for the waves leave nothing.
    fn frames(&mut self, frames: &[Frame], _news: &News) -> anyhow::Result<()> {
        let begin_s = self.frame as f64 / self.rate_hz;
        let end_s = begin_s + frames.len() as f64 / self.rate_hz;
        for (row, reading) in
            self.rows.iter().zip(&mut self.readings).filter(|(r, _)| r.from_s < end_s && r.to_s > begin_s)
        {
            for (n, frame) in frames.iter().enumerate() {
                let share = (begin_s + n as f64 / self.rate_hz - row.from_s) / (row.to_s - row.from_s);
                if (0.0..1.0).contains(&share) {
                    let weight = 1.0 - (TAU * share).cos();
                    reading.weight += weight;
                    for (sum, code) in reading.code.iter_mut().zip(frame.0) {
                        *sum += weight * f64::from(code);
                    }
                }
            }
        }
        self.frame += frames.len() as u64;
        Ok(())
    }

    fn gap(&mut self, length: Span) -> anyhow::Result<()> {
        self.frame += length.0 >> 16;
        Ok(())
    }

    fn phasors(&mut self, window: &Window, phasors: &Phasors) {
        let end_s = frames_s(window.end.0, self.rate_hz);
        let begin_s = end_s - frames_s(window.length.0, self.rate_hz);
        let volts = window.voltage.map(|v| v.0.to_num::<f64>());
        let amps = window.current.map(|a| a.0.to_num::<f64>());
        // Of two elements the second voltage is vcb, as large as vbc.
        let rms = [volts[0], volts[1], volts[2], amps[0], amps[1], amps[2]];
        debug_assert!(!self.two || phasors.0[4] == (0, 0));
        let number = |k: usize| {
            let unit = if k < 3 { 65_536.0 } else { 131_072.0 };
            [f64::from(phasors.0[k].0) / unit, f64::from(phasors.0[k].1) / unit]
        };
        // A hair either way: the window's length is no round number of seconds.
        let inside = |row: &Row| begin_s > row.from_s - 0.005 && end_s < row.to_s + 0.005;
        for (_, reading) in self.rows.iter().zip(&mut self.readings).filter(|(row, _)| inside(row)) {
            reading.windows += 1.0;
            for (sum, rms) in reading.rms.iter_mut().zip(rms) {
                *sum += rms * rms;
            }
            reading.power[0] += window.active.0.to_num::<f64>();
            reading.power[1] += window.reactive.0.to_num::<f64>();
            for (k, power) in reading.phases.iter_mut().enumerate() {
                let ([v, w], [i, j]) = (number(k), number(k + 3));
                power[0] += v * i + w * j;
                power[1] += w * i - v * j;
            }
        }
    }
}
