//! Which trips are due, and when, by what the model knows: the five elements once more, in `f64` and sample by sample.
//!
//! The windows are those of this project's acceptance. The core renews its figures each half cycle, so that it may be
//! a little late; it may be early by the filling of a cycle. The thermal image is IEC 60255-149's.

use shaftwork_sim::settings::Settings;

use super::cycle::Shown;

/// A drop-out this far from the pick-up.
const DROP_OUT: f64 = 0.97;
/// Current flows, and a start begins, above this share of rated current.
const FLOWS: f64 = 0.20;
/// Phase loss looks only at currents above this share.
const LOOKS: f64 = 0.15;

/// A trip that is due: its cause and the span of time in which it must be given.
#[derive(Debug, Clone, PartialEq)]
pub struct Due {
    /// As the replay names it.
    pub cause: &'static str,
    /// When it is due, s.
    pub at_s: f64,
    /// Earliest and latest, s.
    pub within_s: [f64; 2],
}

/// What is known at a moment.
#[derive(Debug, Clone, Copy)]
pub struct Moment {
    /// End of the frame, s.
    pub t_s: f64,
    /// The last cycle.
    pub shown: Shown,
    /// The motor has run up.
    pub running: bool,
}

/// A condition that must hold for a time.
#[derive(Debug, Default)]
struct Held {
    since_s: Option<f64>,
    done: bool,
}

impl Held {
    /// Whether it has now held for the delay, for the first time.
    fn reaches(&mut self, t_s: f64, picked: bool, kept: bool, delay_s: f64) -> Option<f64> {
        if picked {
            self.since_s.get_or_insert(t_s);
        } else if !kept {
            self.since_s = None;
        }
        let due_s = self.since_s? + delay_s;
        (t_s >= due_s && !std::mem::replace(&mut self.done, true)).then_some(due_s)
    }
}

/// The elements.
#[derive(Debug)]
pub struct Elements<'a> {
    settings: &'a Settings,
    jam: Held,
    phase_loss: Held,
    undervoltage: Held,
    long_start: Held,
    /// Of the thermal image, per unit of the trip level.
    image: f64,
    hot: bool,
    last_s: f64,
    due: Vec<Due>,
}

impl<'a> Elements<'a> {
    /// At the beginning of a trace.
    #[must_use]
    pub fn new(settings: &'a Settings) -> Self {
        Self {
            settings,
            jam: Held::default(),
            phase_loss: Held::default(),
            undervoltage: Held::default(),
            long_start: Held::default(),
            image: settings.trips.thermal.map_or(0.0, |thermal| thermal.initial_pct / 100.0),
            hot: false,
            last_s: 0.0,
            due: Vec::new(),
        }
    }

    /// Goes on by a frame.
    pub fn take(&mut self, now: &Moment) {
        let Moment { t_s, shown, running } = *now;
        let (trips, motor) = (&self.settings.trips, &self.settings.motor);
        let rated_a = motor.rated_current_a;
        let flows = shown.largest_a > FLOWS * rated_a;
        let mut due = |cause, at_s: Option<f64>, early_s: f64, late_s: f64| {
            self.due.extend(at_s.map(|at_s| Due { cause, at_s, within_s: [at_s - early_s, at_s + late_s] }));
        };
        if let Some(jam) = trips.jam {
            let share = shown.largest_a / (jam.pickup_pct / 100.0 * rated_a);
            let at = self.jam.reaches(t_s, running && share > 1.0, running && share > DROP_OUT, jam.delay_s);
            due("jam", at, 0.03, 0.06);
        }
        if let Some(loss) = trips.phase_loss {
            let [with, against] = shown.sequences_a;
            let share = against / with.max(1e-9) / (loss.pickup_pct / 100.0);
            let looks = shown.largest_a > LOOKS * rated_a;
            let at = self.phase_loss.reaches(t_s, looks && share > 1.0, looks && share > DROP_OUT, loss.delay_s);
            due("phase-loss", at, 0.02, 0.25);
        }
        if let Some(under) = trips.undervoltage {
            let nominal = self.settings.supply.line_voltage_v / 3f64.sqrt();
            let share = shown.lowest_v / (under.pickup_pct / 100.0 * nominal);
            let delay_s = if running { under.delay_s } else { under.start_delay_s };
            let at = self.undervoltage.reaches(t_s, flows && share < 1.0, flows && share < 1.0 / DROP_OUT, delay_s);
            due("undervoltage", at, 0.03, 0.06);
        }
        if let Some(start) = trips.long_start {
            let starts = flows && !running;
            due("long-start", self.long_start.reaches(t_s, starts, starts, start.delay_s), 0.05, 0.12);
        }
        if let Some(thermal) = trips.thermal {
            let [_, against] = shown.sequences_a;
            let squared = shown.largest_a.powi(2) + thermal.negative_sequence_factor * against.powi(2);
            let warms = squared / (thermal.k * thermal.base_current_a).powi(2);
            let tau_s = if flows { thermal.heating_time_constant_s } else { thermal.cooling_time_constant_s };
            self.image += (warms - self.image) * (1.0 - ((self.last_s - t_s) / tau_s).exp());
            let trips = self.image >= 1.0 && !self.hot;
            self.hot |= trips;
            let slack_s = 0.02 * t_s + 0.1;
            due("thermal-overload", trips.then_some(t_s), slack_s, slack_s);
        }
        self.last_s = t_s;
    }

    /// Those that have been due, in order of time.
    #[must_use]
    pub fn due(mut self) -> Vec<Due> {
        self.due.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
        self.due
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_condition_must_hold_and_counts_once() {
        let mut held = Held::default();
        let mut reached = Vec::new();
        // Above from 1 s, between pick-up and drop-out from 2 s, gone at 3 s, again from 4 s.
        for n in 0..100 {
            let t = f64::from(n) / 10.0;
            let picked = (1.0..2.0).contains(&t) || t >= 4.0;
            let kept = picked || (2.0..3.0).contains(&t);
            reached.extend(held.reaches(t, picked, kept, 2.5));
        }
        assert_eq!(reached, [6.5]);
    }

    /// IEC 60255-149, from cold: t = tau ln(m^2 / (m^2 - 1)) with m = I / (k base): 172.609 s for m = 2 and 600 s. At the
    /// same current, twice 1.05 of rated, the jam of the same settings is due after its delay.
    #[test]
    fn a_steady_overload_trips_by_the_formula() {
        let text = shaftwork_sim::synth::catalogue::find("idle").unwrap().settings();
        let (settings, _) = shaftwork_sim::settings::parse(&text, "idle").unwrap_or_else(|faults| panic!("{faults}"));
        let (thermal, jam) = (settings.trips.thermal.unwrap(), settings.trips.jam.unwrap());
        assert!((thermal.heating_time_constant_s - 600.0).abs() < 1e-9 && jam.pickup_pct < 210.0);
        let amps = 2.0 * thermal.k * thermal.base_current_a;
        let shown = Shown { largest_a: amps, lowest_v: 230.0, sequences_a: [amps, 0.0] };
        let mut elements = Elements::new(&settings);
        for n in 1..20_000 {
            elements.take(&Moment { t_s: f64::from(n) / 100.0, shown, running: true });
        }
        let due: Vec<(&str, f64)> = elements.due().into_iter().map(|due| (due.cause, due.at_s)).collect();
        assert_eq!(due.iter().map(|due| due.0).collect::<Vec<_>>(), ["jam", "thermal-overload"]);
        assert!((due[0].1 - 0.01 - jam.delay_s).abs() < 1e-9 && (due[1].1 - 172.609).abs() < 0.02, "{due:?}");
    }
}
