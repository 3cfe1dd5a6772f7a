//! What a replay says of wiring: the core's own diagnosis of each window, as `check-wiring` tells it, put as warnings.
//!
//! ```text
//! samples    ── phasors of each window ── core::wiring::diagnose ── votes ── words
//! rms values ── sizes and the sign of power alone ── words: without angles there is nothing to diagnose
//! ```
//!
//! A replayed trace may be of any load, so the currents' sizes and var are not held against the nameplate here: wrong ratios
//! of currents and capacitors are told by `check-wiring` alone. Warned of is what holds for more than 80 % of the windows with
//! current; where nothing does, of a current that was dead for a second in all. Either way such a current makes totals null.

use shaftwork_core::Window;
use shaftwork_core::judge::report::Interval;
use shaftwork_core::record::Phasors;
use shaftwork_core::wiring::{Diagnosis, Expected, Fault, Faults};

use super::Reason;
use crate::settings::{Settings, Values};
use crate::trace::select::Wiring as Channels;
use crate::wiring::figures::nominal_v;
use crate::wiring::told::voltages_words;
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
/// The currents in words.
const NAMES: [&str; 3] = ["first", "second", "third"];
/// Length of a window, s.
const WINDOW_S: f64 = 0.2;

/// What the windows say.
#[derive(Debug, Clone)]
pub struct Wiring {
    votes: Votes,
    /// Windows in which a current is dead while the others go on.
    dead: [u32; 3],
    /// Of rms values.
    sizes: Option<Sizes>,
}

impl Wiring {
    /// Nothing seen yet.
    pub fn new(settings: &Settings, expected: Expected) -> Self {
        let rms = settings.sampling.values == Values::Rms;
        let rated_a = settings.motor.rated_current_a;
        Self { votes: Votes::new(expected.of_any_load(), rated_a), dead: [0; 3], sizes: rms.then(Sizes::default) }
    }

    /// Takes a window of samples.
    pub fn phasors(&mut self, window: &Window, phasors: &Phasors) {
        let diagnosis = self.votes.window(window, phasors);
        if let Diagnosis::Explained(class) = diagnosis {
            for (k, dead) in self.dead.iter_mut().enumerate() {
                let gone = |set: &Faults| set.has(Fault::Dead(3 + k as u8)); // below 3
                *dead += u32::from(class.sets().iter().all(gone));
            }
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
        if out.is_empty() {
            out.extend(NAMES.into_iter().zip(self.dead).filter(|(_, dead)| *dead >= LEAST).map(|(name, dead)| {
                format!(
                    "the {name} current is gone for {:.1} s while the others go on as before: its transformer or lead is dead, \
                     not the line, and every power and energy of that time is too low. To mend it, see to that transformer \
                     (with its secondary shorted first)",
                    f64::from(dead) * WINDOW_S
                )
            }));
        }
        out
    }

    /// Why energies cannot be had, where a current was not measured for a time.
    pub fn unmeasured(&self) -> Option<Reason> {
        let any = self.dead.into_iter().any(|dead| dead >= LEAST);
        any.then_some("a current transformer or its lead was dead for a time, and the power of that time is too low")
    }

    /// What most windows say, in one sentence.
    fn diagnosed(&self, settings: &Settings) -> Vec<String> {
        let holds = |windows: u32| f64::from(windows) > MOST * f64::from(self.votes.windows());
        // Starting currents alone are no ground to change a wire.
        if self.votes.starting() || !self.votes.verdict().is_some_and(|opinion| holds(opinion.windows)) {
            return vec![];
        }
        let found = words::tell(settings, &self.votes, &[]);
        let each: Vec<String> = found
            .explanations
            .iter()
            .map(|faults| {
                let told = faults.iter().map(|fault| format!("{}; to mend it, {}", fault.what, fault.cure));
                told.collect::<Vec<_>>().join("; and ")
            })
            .collect();
        match each.as_slice() {
            [] if found.verdict == "inverter" => vec![found.headline],
            // Sound, or a load of a kind of its own.
            [] => vec![],
            [one] => vec![format!("wiring: {one}. No figure can be believed before")],
            [first, ..] => vec![format!(
                "wiring: {first}. No figure can be believed before; {} explanations fit as well: ask 'shaftwork check-wiring'",
                each.len() - 1
            )],
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
mod tests {
    use super::*;
    use crate::fit;
    use crate::report::testing::settings;
    use shaftwork_core::unit::{Amps, Volts, Watts};

    /// A window of the settings' motor at work: 231 V and 92 A, and phasors with a lag of 33 degrees.
    fn window() -> Window {
        Window {
            voltage: [Volts::from_bits(231 << 16); 3],
            current: [Amps::from_bits(92 << 17); 3],
            active: Watts::from_bits(53_500 << 16),
            ..Window::default()
        }
    }

    fn phasors(change: impl Fn(&mut [[f64; 2]; 6])) -> Phasors {
        let mut all = [(231.0, 0.0), (231.0, -120.0), (231.0, 120.0), (92.0, -33.0), (92.0, -153.0), (92.0, 87.0)]
            .map(|(size, angle): (f64, f64)| [size * angle.to_radians().cos(), size * angle.to_radians().sin()]);
        change(&mut all);
        let mut out = Phasors::default();
        for (k, (to, part)) in out.0.iter_mut().zip(all).enumerate() {
            let scale = if k < 3 { 65_536.0 } else { 131_072.0 };
            *to = ((part[0] * scale) as i32, (part[1] * scale) as i32);
        }
        out
    }

    fn seen(settings: &Settings, windows: &[(u32, Phasors)]) -> Wiring {
        let core = fit::core_settings(settings, 4_000.0).unwrap();
        let mut wiring = Wiring::new(settings, Expected::new(&core));
        for (count, phasors) in windows {
            (0..*count).for_each(|_| wiring.phasors(&window(), phasors));
        }
        wiring
    }

    #[test]
    fn most_windows_must_say_so() {
        let settings = settings();
        let sound = phasors(|_| ());
        let turned = phasors(|all| all[4] = all[4].map(|x| -x));
        let told = |windows: &[(u32, Phasors)]| seen(&settings, windows).advice(&settings);
        assert_eq!(told(&[(10, sound)]), [""; 0]);
        assert_eq!(told(&[(4, turned)]), [""; 0]);
        assert_eq!(told(&[(10, sound), (10, turned)]), [""; 0]);
        let words = told(&[(10, turned)]);
        assert!(
            words.len() == 1 && words[0].contains("ib has the wrong sign") && words[0].contains("to mend it"),
            "{words:?}"
        );
    }

    /// The other two go on as before; with a line lost they would carry the same to and fro.
    #[test]
    fn a_current_that_is_gone_for_a_time_denies_energies() {
        let settings = settings();
        let sound = phasors(|_| ());
        let dead = phasors(|all| all[4] = [0.0; 2]);
        let lost = phasors(|all| {
            all[4] = [0.0; 2];
            all[5] = all[3].map(|x| -x);
        });
        let wiring = seen(&settings, &[(30, sound), (25, dead)]);
        let words = wiring.advice(&settings);
        assert!(words.len() == 1 && words[0].contains("the second current is gone for 5.0 s"), "{words:?}");
        assert!(wiring.unmeasured().is_some());
        let wiring = seen(&settings, &[(30, sound), (25, lost)]);
        assert!(wiring.advice(&settings).is_empty() && wiring.unmeasured().is_none());
        assert!(seen(&settings, &[(30, sound), (4, dead)]).unmeasured().is_none());
    }

    /// Ten intervals of a log.
    #[test]
    fn sizes_of_rms_values_are_judged() {
        let settings = settings();
        let told = |change: &dyn Fn(&mut Window)| {
            let mut window = window();
            change(&mut window);
            let mut sizes = Sizes::default();
            (0..10).for_each(|_| sizes.window(&window, 100.0));
            sizes.advice(&settings)
        };
        assert!(told(&|_| {}).is_empty() && told(&|w| w.current = [Amps::ZERO; 3]).is_empty());
        for (words, lines) in [
            ("power flows backwards", told(&|w| w.active = Watts::from_bits(-35_000 << 16))),
            ("the second current is less than a tenth", told(&|w| w.current[1] = Amps::from_bits(1 << 16))),
            ("line-to-line volts where", told(&|w| w.voltage = [Volts::from_bits(400 << 16); 3])),
            ("kilovolts taken for volts", told(&|w| w.voltage = [Volts::from_bits(15_139); 3])),
        ] {
            assert!(lines.len() == 1 && lines[0].contains(words), "{words}: {lines:?}");
        }
    }
}
