//! Signs that a trace's channels are not what they are taken for: a transformer turned round, two leads swapped, a
//! factor of 1000 or of the root of three. Told in words before any figure is believed.
//!
//! Looked at are intervals in which current flows; a sign counts when it holds for most of them. Symmetrical
//! components: with one of three like currents reversed the negative sequence is twice the positive; with two
//! swapped the positive is gone; with one channel dead it is half the positive, with a line lost it is equal.

use shaftwork_core::judge::report::Interval;

use super::Reason;
use crate::settings::Settings;

/// Share of the intervals in which a sign must hold.
const MOST: f64 = 0.8;
/// Intervals with current that are needed: a second.
const LEAST: u32 = 5;
/// Three currents are alike when the lowest is this share of the highest.
const ALIKE: f64 = 0.7;
/// A current is missing when it is below this share of the highest.
const MISSING: f64 = 0.1;
/// The currents in words.
const NAMES: [&str; 3] = ["first", "second", "third"];
/// Length of an interval, s.
const INTERVAL_S: f64 = 0.2;
/// Voltage off nominal that is no supply's doing.
const OFF: f64 = 0.25;

/// Counts the signs.
#[derive(Debug, Clone, Copy, Default)]
pub struct Wiring {
    intervals: u32,
    backwards: u32,
    reversed: u32,
    swapped: u32,
    missing: [u32; 3],
    dead: [u32; 3],
    /// Sum of the mean voltages, V.
    volts: f64,
}

impl Wiring {
    /// Takes an interval.
    pub fn interval(&mut self, interval: &Interval, rated_a: f64) {
        let w = &interval.window;
        let amps = w.current.map(|a| a.0.to_num::<f64>());
        let highest = amps.into_iter().fold(0.0, f64::max);
        let lowest = amps.into_iter().fold(f64::INFINITY, f64::min);
        if highest < 0.15 * rated_a {
            return;
        }
        let sign = |counter: &mut u32, holds: bool| *counter += u32::from(holds);
        self.intervals += 1;
        sign(&mut self.backwards, w.active.to_bits() < 0);
        let alike = lowest > ALIKE * highest;
        let unbalance = w.current_unbalance.map_or(0.0, |r| r.0.to_num::<f64>());
        sign(&mut self.reversed, alike && (1.5..3.0).contains(&unbalance));
        sign(&mut self.swapped, alike && unbalance >= 3.0);
        for (counter, amps) in self.missing.iter_mut().zip(amps) {
            sign(counter, amps < MISSING * highest);
        }
        for (counter, amps) in self.dead.iter_mut().zip(amps) {
            sign(counter, amps < MISSING * highest && (0.3..0.7).contains(&unbalance));
        }
        self.volts += w.voltage.iter().map(|v| v.0.to_num::<f64>()).sum::<f64>() / 3.0;
    }

    /// A sentence or two for each sign that held.
    pub fn advice(&self, settings: &Settings) -> Vec<String> {
        if self.intervals < LEAST {
            return vec![];
        }
        let holds = |count: u32| f64::from(count) > MOST * f64::from(self.intervals);
        let mut out = Vec::new();
        if holds(self.reversed) {
            out.push(
                "one current transformer seems to be turned round: three like currents whose negative sequence is twice the \
                 positive; no power and no unbalance can be believed. To mend it, turn it round, or give its channel the gain -1 \
                 in [sampling]"
                    .to_owned(),
            );
        } else if holds(self.swapped) {
            out.push(
                "two currents seem to be swapped: their phases come in the other order than the voltages'; no power and no \
                 unbalance can be believed. To mend it, swap the leads, or name the channels in [channels]"
                    .to_owned(),
            );
        } else if holds(self.backwards) {
            out.push(
                "power flows backwards while the motor runs: all current transformers seem to be turned round. To mend it, \
                 turn them, or set gain = [1, 1, 1, -1, -1, -1] in [sampling]"
                    .to_owned(),
            );
        }
        for (count, name) in self.missing.into_iter().zip(NAMES) {
            if holds(count) {
                out.push(format!(
                    "the {name} current is less than a tenth of the largest all the time: a lost phase, or a wrong unit, ratio \
                     or lead of that channel"
                ));
            }
        }
        for (name, (dead, missing)) in NAMES.into_iter().zip(self.dead.into_iter().zip(self.missing)) {
            // Where it holds nearly all the time the sentence above has told it.
            if dead >= LEAST && !holds(missing) {
                out.push(format!(
                    "the {name} current is gone for {:.1} s while the other two go on as before: its transformer or lead \
                     is dead, not the line, and every power and energy of that time is too low. To mend it, see to that \
                     transformer (with its secondary shorted first)",
                    f64::from(dead) * INTERVAL_S
                ));
            }
        }
        if settings.supply.wiring != crate::settings::Wiring::CurrentsOnly {
            out.extend(self.voltage(settings));
        }
        out
    }

    /// Why energies cannot be had, where a current was not measured for a time.
    pub fn unmeasured(&self) -> Option<Reason> {
        let any = self.dead.into_iter().any(|dead| dead >= LEAST);
        any.then_some("a current transformer or its lead was dead for a time, and the power of that time is too low")
    }

    fn voltage(&self, settings: &Settings) -> Option<String> {
        let line = settings.supply.line_voltage_v;
        let to_neutral = settings.supply.wiring.is_phase_to_neutral();
        let nominal = if to_neutral { line / 3f64.sqrt() } else { line };
        let mean = self.volts / f64::from(self.intervals);
        let ratio = mean / nominal;
        if (ratio - 1.0).abs() < OFF {
            return None;
        }
        let cause = off_by(ratio);
        Some(format!(
            "the voltages are {mean:.4} V on average, {:.1} % of the {nominal:.1} V that the settings expect{cause}. Compare \
             [supply] and the wiring in the settings with the channels' units and ratios",
            ratio * 100.0
        ))
    }
}

/// What a voltage may be taken for that is so many times the expected one; nothing where that says nothing.
pub(crate) fn off_by(ratio: f64) -> &'static str {
    let near = |factor: f64| (ratio / factor - 1.0).abs() < 0.15;
    if near(3f64.sqrt()) {
        ": line-to-line volts where phase-to-neutral ones are expected, it seems"
    } else if near(1.0 / 3f64.sqrt()) {
        ": phase-to-neutral volts where line-to-line ones are expected, it seems"
    } else if ratio < 0.01 {
        ": kilovolts taken for volts, it seems"
    } else if ratio > 100.0 {
        ": volts taken for kilovolts, it seems"
    } else {
        ""
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::testing::settings;
    use shaftwork_core::record::Window;
    use shaftwork_core::unit::{Amps, Ratio, Volts, Watts};

    /// Ten intervals of a motor at work on 400 V, four-wire; the settings' motor is rated 100 A.
    fn told(change: impl Fn(&mut Window)) -> Vec<String> {
        let mut window = Window {
            voltage: [Volts::from_bits(231 << 16); 3],
            current: [Amps::from_bits(60 << 17); 3],
            active: Watts::from_bits(35_000 << 16),
            current_unbalance: Some(Ratio::from_bits(1 << 17)),
            ..Window::default()
        };
        change(&mut window);
        let mut wiring = Wiring::default();
        for _ in 0..10 {
            wiring.interval(&Interval { window, ..Interval::default() }, 100.0);
        }
        wiring.advice(&settings())
    }

    /// One of three like currents not shown leaves 2/3 over 1/3 of sequences, by hand; a line that is lost leaves 1.
    #[test]
    fn a_dead_channel_is_told_from_a_lost_line() {
        let window = |unbalance: f64| {
            let ratio = Some(Ratio::from_bits((unbalance * f64::from(1 << 24)) as i32));
            let mut current = [Amps::from_bits(60 << 17); 3];
            current[1] = Amps::from_bits(0);
            Window {
                voltage: [Volts::from_bits(231 << 16); 3],
                current,
                active: Watts::from_bits(23_000 << 16),
                current_unbalance: ratio,
                ..Window::default()
            }
        };
        let healthy = Window { current: [Amps::from_bits(60 << 17); 3], ..window(0.01) };
        let told = |late: Window| {
            let mut wiring = Wiring::default();
            for window in [healthy; 30].into_iter().chain([late; 25]) {
                wiring.interval(&Interval { window, ..Interval::default() }, 100.0);
            }
            wiring.advice(&settings())
        };
        let unmeasured = |unbalance| {
            let mut wiring = Wiring::default();
            let late = window(unbalance);
            [late; 5]
                .iter()
                .for_each(|window| wiring.interval(&Interval { window: *window, ..Interval::default() }, 100.0));
            wiring.unmeasured().is_some()
        };
        assert!(unmeasured(0.5) && !unmeasured(1.0));
        let dead = told(window(0.5));
        assert!(dead.len() == 1 && dead[0].contains("the second current is gone for 5.0 s"), "{dead:?}");
        assert_eq!(told(window(1.0)), [""; 0]);
    }

    /// Ratios of symmetrical components by hand: a reversed current gives 2/3 over 1/3; swapped ones 1 over 0.
    #[test]
    fn each_mistake_is_named() {
        assert!(told(|_| {}).is_empty(), "all is well");
        let percent = |w: &mut Window, pct: i32| w.current_unbalance = Some(Ratio::from_bits((1 << 24) / 100 * pct));
        for (words, change) in [
            ("turned round: three like", Box::new(move |w: &mut Window| percent(w, 200)) as Box<dyn Fn(&mut Window)>),
            ("two currents seem to be swapped", Box::new(move |w| percent(w, 5_000))),
            ("power flows backwards", Box::new(|w| w.active = Watts::from_bits(-35_000 << 16))),
            ("the second current is less than a tenth", Box::new(|w| w.current[1] = Amps::from_bits(1 << 16))),
            ("line-to-line volts where", Box::new(|w| w.voltage = [Volts::from_bits(400 << 16); 3])),
            ("kilovolts taken for volts", Box::new(|w| w.voltage = [Volts::from_bits(15_139); 3])),
        ] {
            let lines = told(change);
            assert!(lines.len() == 1 && lines[0].contains(words), "{words}: {lines:?}");
        }
    }

    #[test]
    fn a_trace_without_current_shows_nothing() {
        assert!(told(|w| w.current = [Amps::ZERO; 3]).is_empty());
        assert!(Wiring::default().advice(&settings()).is_empty());
    }
}
