//! The feed against a feeder and a mill of first order with a delay, against Skogestad's example, and whatever the inputs do.

mod any;
mod law;
mod overrides;
mod start;

extern crate std;

use super::*;
use crate::settings::{Feed as Set, Feeder as SetFeeder, Settings};
use crate::time::Span;
use std::vec::Vec;

/// Half cycles of 40 frames at 4 kHz, twenty a window.
const HALF: u64 = 40 << 16;
const WINDOW: u32 = 20;

/// gain 1.2, lag 4 s, delay 3 s: the example of checks on feed control.
#[derive(Clone, Copy)]
struct Toy {
    gain: f64,
    lag_s: f64,
    delay: usize,
    idle: f64,
    load: f64,
    past: [f64; 100],
}

impl Toy {
    fn new(gain: f64, lag_s: f64, delay_s: f64) -> Self {
        Self { gain, lag_s, delay: (delay_s / 0.2) as usize, idle: 0.12, load: 0.12, past: [0.0; 100] }
    }

    /// A window at this speed.
    fn step(&mut self, speed: f64) {
        self.past.rotate_right(1);
        self.past[0] = speed;
        let want = self.idle + self.gain * self.past[self.delay];
        self.load += (want - self.load) * (1.0 - (-0.2 / self.lag_s).exp());
    }
}

struct Bench {
    c: FeedCoefficients,
    feed: Feeding,
    now: Instant,
    may: Result<(), FeedCause>,
    thermal: f64,
    current: f64,
    events: Vec<EventKind>,
}

fn ratio(x: f64) -> Ratio {
    Ratio::from_bits((x * f64::from(1 << 24)) as i32)
}

impl Bench {
    fn new(feeder: SetFeeder) -> Self {
        let feed = Set { feeder: Some(feeder), ..Set::default() };
        let c = Settings { feed, ..Settings::example() }.build().unwrap().judge.feed;
        let feed = Feeding::default();
        Self { c, feed, now: Instant(0), may: Ok(()), thermal: 0.0, current: 0.0, events: Vec::new() }
    }

    fn inputs(&mut self, permit: Option<bool>, mode: FeedMode, release: bool) {
        self.feed.set(&self.c, self.now, FeedInputs { permit, mode, release });
    }

    /// Released under a permit.
    fn released(mut self) -> Self {
        self.inputs(Some(true), FeedMode::Automatic, false);
        self.window(0.12);
        self.inputs(Some(true), FeedMode::Automatic, true);
        self.inputs(Some(true), FeedMode::Automatic, false);
        self
    }

    /// A window of one load; gives what the feeder is told at its end.
    fn window(&mut self, load: f64) -> Feeder {
        for n in 1..=WINDOW {
            self.now = self.now.after(Span(HALF));
            if let Some(kind) = self.feed.update(&self.c, self.now, self.may, ratio(load)) {
                self.events.push(kind);
            }
            if n == WINDOW {
                let reading = Reading {
                    load: ratio(load),
                    current: ratio(self.current),
                    thermal: Some(ratio(self.thermal)),
                    idle: Some(ratio(0.12)),
                    mass_mg: None,
                };
                self.feed.step(&self.c, &reading);
            }
        }
        self.feed.drive()
    }

    /// Goes on with a mill for some seconds; the highest load.
    fn with(&mut self, toy: &mut Toy, seconds: f64) -> f64 {
        let mut highest: f64 = 0.0;
        for _ in 0..(seconds * 5.0) as u32 {
            let told = self.window(toy.load);
            toy.step(f64::from(told.permille) / 1_000.0);
            highest = highest.max(toy.load);
        }
        highest
    }
}

fn plain() -> SetFeeder {
    SetFeeder { charge_ppm: None, ..SetFeeder::default() }
}

/// A linear congruential generator (Knuth, MMIX), for scatter alone.
struct Noise(u64);

impl Noise {
    /// Spread evenly about nothing, of this standard deviation.
    fn next(&mut self, deviation: f64) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) as f64 / 2f64.powi(31) - 0.5) * deviation * 12f64.sqrt()
    }
}
