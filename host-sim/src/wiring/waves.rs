//! What phasors do not show: a channel that stays at one value, or whose peaks are flat.
//!
//! A sine of 400 counts from end to end changes by more than a count within 12 degrees of its peak: a longer level stretch
//! at both ends is a clipped wave, wherever it was clipped.

use std::cmp::Ordering;

use shaftwork_core::Frame;

use crate::settings::Settings;

/// Counts from end to end below which a wave is too coarse to judge its peaks.
const COARSE: i32 = 400;
/// Share of the windows in which a sign must hold.
const MOST: f64 = 0.5;

/// The course of one end of a wave.
#[derive(Debug, Clone, Copy, Default)]
struct End {
    value: i32,
    run: u32,
    longest: u32,
}

impl End {
    fn take(&mut self, code: i32) {
        match code.cmp(&self.value) {
            Ordering::Greater => *self = Self { value: code, run: 1, longest: 1 },
            Ordering::Equal => {
                self.run += 1;
                self.longest = self.longest.max(self.run);
            }
            Ordering::Less => self.run = 0,
        }
    }
}

/// One channel's.
#[derive(Debug, Clone, Copy)]
struct Channel {
    /// The upper end, and the lower one with its sign changed.
    ends: [End; 2],
    windows: u32,
    flat: u32,
    level: u32,
    /// Where it stayed.
    value: i32,
}

/// All channels.
#[derive(Debug, Clone)]
pub struct Waves {
    channels: [Channel; 6],
    /// Samples of a level peak that are too many.
    long: u32,
}

/// What is odd about a channel's wave.
#[derive(Debug, Clone, PartialEq)]
pub struct Odd {
    /// Its slot in a frame.
    pub slot: usize,
    /// Whether it stays at a value, in volts or amperes; its peaks are cut otherwise.
    pub stuck: Option<f64>,
}

const FRESH: [End; 2] = [End { value: i32::MIN, run: 0, longest: 0 }; 2];

impl Waves {
    /// Nothing seen.
    pub fn new(settings: &Settings, rate_hz: f64) -> Self {
        let channel = Channel { ends: FRESH, windows: 0, flat: 0, level: 0, value: 0 };
        let long = (rate_hz / settings.supply.frequency_hz * 12.0 / 360.0).ceil() as u32 + 1; // small
        Self { channels: [channel; 6], long: long.max(4) }
    }

    /// Takes frames.
    pub fn take(&mut self, frames: &[Frame]) {
        for (slot, channel) in self.channels.iter_mut().enumerate() {
            for frame in frames {
                channel.ends[0].take(frame.0[slot]);
                channel.ends[1].take(-frame.0[slot]);
            }
        }
    }

    /// A window is over; it counts where current flows.
    pub fn window(&mut self, counts: bool) {
        for channel in &mut self.channels {
            let [top, bottom] = channel.ends;
            let height = top.value.saturating_add(bottom.value);
            if counts {
                channel.windows += 1;
                channel.flat += u32::from(height >= COARSE && top.longest.min(bottom.longest) >= self.long);
                if height <= 1 {
                    channel.level += 1;
                    channel.value = top.value;
                }
            }
            channel.ends = FRESH;
        }
    }

    /// What held in most windows, for the channels that the wiring has.
    pub fn told(&self, settings: &Settings) -> Vec<Odd> {
        let sampling = &settings.sampling;
        let names = settings.supply.wiring.quantities();
        let mut out = Vec::new();
        for (slot, channel) in self.channels.iter().enumerate().filter(|(slot, _)| !names[*slot].is_empty()) {
            let most = |count: u32| f64::from(count) > MOST * f64::from(channel.windows.max(1));
            let unit = if slot < 3 { sampling.volt_per_count() } else { sampling.amp_per_count() };
            if most(channel.level) && channel.value.abs() > 2 {
                out.push(Odd { slot, stuck: Some(f64::from(channel.value) * unit) });
            } else if most(channel.flat) {
                out.push(Odd { slot, stuck: None });
            }
        }
        out
    }
}
