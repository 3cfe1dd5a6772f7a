//! What a replay says of wiring: the core's own diagnosis of each window, as `check-wiring` tells it, put as warnings.
//!
//! ```text
//! samples    ── phasors of each window ── core::wiring::diagnose ── votes ── words
//! rms values ── sizes and the sign of power alone ── words: without angles there is nothing to diagnose
//! ```
//!
//! A replayed trace may be of any load, so the currents' sizes and var are not held against the nameplate here: wrong ratios
//! of currents and capacitors are told by `check-wiring` alone. Warned of is what holds for more than 80 % of the windows with
//! current: of several explanations those that fit at every load. A channel that was dead for a second in all is told as well;
//! either way such a channel makes totals null.

use shaftwork_core::Window;
use shaftwork_core::judge::report::Interval;
use shaftwork_core::record::Phasors;
use shaftwork_core::wiring::{Diagnosis, Expected, Fault, Faults};

use super::Reason;
use super::number::{frames_s, pct};
use crate::settings::{CurrentTap, Settings, Values};
use crate::trace::select::Wiring as Channels;
use crate::wiring::figures::{nominal_v, sizes};
use crate::wiring::told::{told, voltages_words};
use crate::wiring::votes::{LEAST, Votes};
use crate::wiring::words;

/// Share of the windows in which a sign must hold.
const MOST: f64 = 0.8;
/// A current of rms values is missing when it is below this share of the highest.
const MISSING: f64 = 0.1;
/// No current flows below this share of the rated one.
const NO_CURRENT: f64 = 0.15;
/// Voltage off nominal that is no supply's doing.
const OFF: f64 = 0.25;
/// The channels of a side in words.
const NAMES: [&str; 3] = ["first", "second", "third"];
/// Length of a window, s.
const WINDOW_S: f64 = 0.2;

/// A voltage is gone when it is below this share of the highest.
const NO_VOLTAGE: f64 = 0.1;
/// The currents go on as before while their unbalance is below this. A supply that had lost the voltage itself would drive a
/// negative sequence above the positive one through a motor that runs.
const EVEN: f64 = 0.5;
/// One sequence is above the other when it is so many times as large; with a line lost they are equal.
const OTHER: f64 = 1.1;

/// What the windows say.
#[derive(Debug, Clone)]
pub struct Wiring {
    votes: Votes,
    channels: shaftwork_core::settings::Wiring,
    rate_hz: f64,
    /// Windows in which a channel is dead while the others go on.
    dead: [Dead; 6],
    /// Windows in which power flows backwards, and in which the currents come in the other order than the voltages.
    backwards: u32,
    other_order: u32,
    /// Windows with current of rated size.
    loaded: u32,
    /// Of rms values.
    sizes: Option<Sizes>,
}

/// A channel that was dead for a time.
#[derive(Debug, Clone, Copy, Default)]
struct Dead {
    windows: u32,
    first_s: f64,
}

impl Wiring {
    /// Nothing seen yet.
    pub fn new(settings: &Settings, expected: Expected, rate_hz: f64) -> Self {
        let rms = settings.sampling.values == Values::Rms;
        let rated_a = settings.motor.rated_current_a;
        Self {
            votes: Votes::new(expected.of_any_load(), rated_a),
            channels: expected.wiring,
            rate_hz,
            dead: [Dead::default(); 6],
            backwards: 0,
            other_order: 0,
            loaded: 0,
            sizes: rms.then(Sizes::default),
        }
    }

    /// Takes a window of samples.
    pub fn phasors(&mut self, window: &Window, phasors: &Phasors, rated_a: f64) {
        let diagnosis = self.votes.window(window, phasors);
        if diagnosis == Diagnosis::Idle {
            return;
        }
        let explained = |fault: Fault| {
            let Diagnosis::Explained(class) = diagnosis else { return false };
            class.sets().iter().all(|set: &Faults| set.has(fault))
        };
        let [volts, unbalance] =
            [window.voltage_unbalance, window.current_unbalance].map(|x| x.map(|x| pct(x) / 100.0));
        let even = unbalance.is_some_and(|unbalance| unbalance < EVEN);
        let sizes = sizes(phasors);
        let highest_v = sizes[..3].iter().copied().fold(0.0, f64::max);
        for (k, dead) in self.dead.iter_mut().enumerate() {
            let fault = Fault::Dead(k as u8); // below 6
            let voltage = k < 3 && fault.exists(self.channels) && sizes[k] < NO_VOLTAGE * highest_v;
            if voltage && even || k >= 3 && explained(fault) {
                if dead.windows == 0 {
                    dead.first_s = frames_s(window.end.0.saturating_sub(window.length.0), self.rate_hz);
                }
                dead.windows += 1;
            }
        }
        let amps = window.current.into_iter().map(|a| a.0.to_num::<f64>()).fold(0.0, f64::max);
        if amps >= NO_CURRENT * rated_a {
            self.loaded += 1;
            self.backwards += u32::from(window.active.to_bits() <= 0);
            let other = matches!((volts, unbalance), (Some(v), Some(i)) if v < EVEN && i > OTHER || v * EVEN > 1.0 && i * OTHER < 1.0);
            self.other_order += u32::from(other);
        }
    }

    /// Takes an interval; of rms values it is all there is.
    pub fn interval(&mut self, interval: &Interval, rated_a: f64) {
        if let Some(sizes) = &mut self.sizes {
            sizes.window(&interval.window, rated_a);
        }
    }

    /// A sentence or two for each sign that held.
    pub fn advice(&self, settings: &Settings) -> Vec<String> {
        if let Some(sizes) = &self.sizes {
            return sizes.advice(settings);
        }
        let mut out = self.diagnosed(settings);
        let named = !out.is_empty();
        let always = |dead: &Dead| f64::from(dead.windows) > MOST * f64::from(self.votes.windows());
        for (k, dead) in
            self.dead.iter().enumerate().filter(|(_, dead)| dead.windows >= LEAST && !(named && always(dead)))
        {
            let (side, part, cure) = if k < 3 {
                ("voltage", "fuse or lead", "see to the fuse and the lead of that channel")
            } else {
                ("current", "transformer or lead", "see to that transformer (with its secondary shorted first)")
            };
            out.push(format!(
                "the {} {side} is gone for {:.1} s, first at {:.1} s, while the others go on as before: its {part} is dead, not the \
                 line, and every power and energy of that time is too low. To mend it, {cure}",
                NAMES[k % 3],
                f64::from(dead.windows) * WINDOW_S,
                dead.first_s
            ));
        }
        out
    }

    /// Why energies cannot be had, where a channel was not measured for a time.
    pub fn unmeasured(&self) -> Option<Reason> {
        let any = |side: &[Dead]| side.iter().any(|dead| dead.windows >= LEAST);
        let (voltages, currents) = self.dead.split_at(3);
        if any(currents) {
            Some("a current transformer or its lead was dead for a time, and the power of that time is too low")
        } else {
            any(voltages).then_some("a voltage was not measured for a time, and the power of that time is too low")
        }
    }

    /// What most windows say, in one sentence.
    fn diagnosed(&self, settings: &Settings) -> Vec<String> {
        let windows = self.votes.windows();
        let holds = |some: u32| f64::from(some) > MOST * f64::from(windows);
        let inside = settings.supply.current_tap != CurrentTap::Line;
        let ask = if inside {
            "compare [supply] current_tap and each transformer inside the delta with the starter's drawing"
        } else {
            "ask 'shaftwork check-wiring', which holds the currents against the nameplate as well"
        };
        let odd = |faulty: bool| {
            let sign = self.sign(faulty).map(|sign| format!("wiring: {sign}. No figure can be believed before: {ask}"));
            sign.into_iter().collect()
        };
        let Some(opinion) = self.votes.verdict() else { return vec![] };
        // Starting currents alone are no ground to name a wire.
        if self.votes.starting() {
            return odd(false);
        }
        if opinion.diagnosis == Diagnosis::Inverter && holds(opinion.windows) {
            return vec![words::tell(settings, &self.votes, &[]).headline];
        }
        let mut held = self.votes.held(MOST);
        if held.contains(&Faults::NONE) {
            return vec![];
        }
        // What explains the lines is no wire of a winding's transformer.
        if inside {
            return odd(holds(self.votes.faulty()));
        }
        if let Diagnosis::Explained(class) = opinion.diagnosis {
            // The likeliest comes first.
            held.sort_by_key(|set| class.sets().iter().position(|one| one == set).unwrap_or(usize::MAX));
        }
        let each = |set: &Faults| set.iter().map(|fault| told(fault, *set, settings, opinion)).collect::<Vec<_>>();
        let what = |set: &Faults| each(set).into_iter().map(|told| told.what).collect::<Vec<_>>().join(" and ");
        let told = |set: &Faults| {
            let told = each(set).into_iter().map(|fault| format!("{}; to mend it, {}", fault.what, fault.cure));
            told.collect::<Vec<_>>().join("; and ")
        };
        match held.as_slice() {
            // Sound, or a load of a kind of its own.
            [] => odd(holds(self.votes.faulty())),
            [one] => vec![format!("wiring: {}. No figure can be believed before", told(one))],
            [..] => {
                let each = held.iter().map(what).collect::<Vec<_>>().join("; or ");
                vec![format!(
                    "wiring: one of these holds, and without the load they cannot be told apart: {each}. No figure can be believed \
                     before: {ask}, and has each cure"
                )]
            }
        }
    }

    /// What is wrong where no explanation holds at every load.
    fn sign(&self, faulty: bool) -> Option<&'static str> {
        let most = |some: u32| self.loaded >= LEAST && f64::from(some) > MOST * f64::from(self.loaded);
        if most(self.backwards) {
            Some(
                "current flows, and active power is nothing or flows backwards: voltages and currents do not belong \
                 together",
            )
        } else if most(self.other_order) {
            Some(
                "the currents come in the other order than the voltages (their negative sequence is above the \
                 positive one): two channels are exchanged, or one is turned round",
            )
        } else {
            faulty.then_some(
                "voltages and currents do not belong together, and which of them is wrong depends on the load",
            )
        }
    }
}

/// What sizes alone can tell.
#[derive(Debug, Clone, Copy, Default)]
struct Sizes {
    windows: u32,
    backwards: u32,
    missing: [u32; 3],
    /// Sum of the mean voltages, V.
    volts: f64,
}

impl Sizes {
    fn window(&mut self, w: &Window, rated_a: f64) {
        let amps = w.current.map(|a| a.0.to_num::<f64>());
        let highest = amps.into_iter().fold(0.0, f64::max);
        if highest < NO_CURRENT * rated_a {
            return;
        }
        self.windows += 1;
        self.backwards += u32::from(w.active.to_bits() < 0);
        for (count, amps) in self.missing.iter_mut().zip(amps) {
            *count += u32::from(amps < MISSING * highest);
        }
        self.volts += w.voltage.iter().map(|v| v.0.to_num::<f64>()).sum::<f64>() / 3.0;
    }

    fn advice(&self, settings: &Settings) -> Vec<String> {
        if self.windows < LEAST {
            return vec![];
        }
        let holds = |count: u32| f64::from(count) > MOST * f64::from(self.windows);
        let mut out = Vec::new();
        if holds(self.backwards) {
            out.push(
                "power flows backwards while the motor runs: all current transformers seem to be turned round, or the log counts \
                 power the other way. To mend it, turn them, or log power with the other sign"
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
        let mean = self.volts / f64::from(self.windows);
        let off = (mean / nominal_v(settings) - 1.0).abs() >= OFF;
        if settings.supply.wiring != Channels::CurrentsOnly && off {
            out.push(format!(
                "{}. Compare [supply] and the wiring in the settings with the channels' units and ratios",
                voltages_words(settings, mean)
            ));
        }
        out
    }
}

#[cfg(test)]
mod tests;
