//! Cuts a trace into runs while it passes: what the totals grow by with a half cycle goes to the run that holds its
//! middle, mass to the run in which it was counted (within a block of eight frames), a gap's time to the runs that it
//! covers.
//!
//! Runs stand in the settings or, where there are none, in notes (module `note`). The core tells of a half cycle
//! after the rows that it is made of have been read: a note is known before the half cycles that follow it.

use shaftwork_core::judge::event::State;
use shaftwork_core::judge::report::{Moment, Totals};
use shaftwork_core::time::{Instant, Span};

use super::note::{self, Said};
use crate::check::model::model;
use crate::error::Fault;
use crate::report::Input;
use crate::report::counted::Counted;
use crate::report::number::{frames_s, watts};
use crate::report::runs::{Part, Runs};
use crate::report::sums::Sums;
use crate::report::uncertainty::{Estimate, Field, Idle, STALLED_SHARE};
use crate::settings::derive::derive;
use crate::settings::{About, MOST_RUNS, MassSource, Settings};

/// A run may end so much after the trace: times are typed, and half a cycle is the measure of all.
const SLACK_S: f64 = 0.01;

/// What helps where a trace cannot be changed.
const CURE: &str = "or name the runs in the settings, [[run]]: the notes do not count then";

/// A run while the trace passes.
#[derive(Debug)]
struct Run {
    from_s: f64,
    /// Infinite while open.
    to_s: f64,
    about: About,
    sums: Sums,
}

/// Sums by run.
#[derive(Debug)]
pub struct Ledger {
    path: String,
    rate_hz: f64,
    /// 10 % of slip.
    slow_rpm: f64,
    /// In order of time; they do not overlap.
    runs: Vec<Run>,
    /// Whether the settings name the runs: notes do not count then.
    set: bool,
    /// The first note that named a run in vain.
    vain: Option<String>,
    /// The first note that begins with run and is not read, its time (s), and how many there are.
    unread: Option<(String, f64, u64)>,
    /// The smallest step of a column of mass, kg.
    step_kg: Option<f64>,
    outside: Sums,
    /// The core's totals when they were last looked at.
    before: Totals,
    /// The middle of a half cycle that they hold since, s.
    middle_s: Option<f64>,
    /// Frames seen, gaps included.
    now: Span,
    fed_kg: f64,
    weighed: bool,
}

impl Ledger {
    /// The runs of the settings, if there are any.
    pub fn new(settings: &Settings, path: &str, rate_hz: f64) -> Self {
        let mut runs: Vec<Run> = settings.runs.iter().map(Run::of).collect();
        runs.sort_by(|a, b| a.from_s.total_cmp(&b.from_s));
        Self {
            path: path.to_owned(),
            rate_hz,
            slow_rpm: 0.9 * settings.motor.synchronous_speed_rpm(),
            set: !runs.is_empty(),
            runs,
            vain: None,
            unread: None,
            step_kg: None,
            outside: Sums::default(),
            before: Totals::default(),
            middle_s: None,
            now: Span::ZERO,
            fed_kg: 0.0,
            weighed: false,
        }
    }

    /// The sums to which a moment belongs.
    fn at(&mut self, t_s: f64) -> &mut Sums {
        let after = self.runs.partition_point(|run| run.from_s <= t_s);
        match self.runs[..after].last_mut() {
            Some(run) if t_s < run.to_s => &mut run.sums,
            _ => &mut self.outside,
        }
    }

    /// Some time with the mass fed by its end, mg, where that changed.
    pub fn passes(&mut self, length: Span, mass_mg: Option<u64>) {
        if let Some(mg) = mass_mg {
            let kg = mg as f64 / 1e6;
            let (t_s, fed) = (frames_s(self.now.0, self.rate_hz), kg - self.fed_kg);
            self.at(t_s).fed_kg += fed;
            (self.fed_kg, self.weighed) = (kg, true);
        }
        self.now = self.now.plus(length);
    }

    /// How far the trace has passed, s.
    pub fn now_s(&self) -> f64 {
        frames_s(self.now.0, self.rate_hz)
    }

    /// Time of which nothing is known.
    pub fn gap(&mut self, length: Span) {
        // The totals have this time too, but know nothing of runs.
        for (time, state) in self.before.time.iter_mut().zip(State::ALL) {
            if state == State::Unknown {
                *time = time.plus(length);
            }
        }
        let from_s = frames_s(self.now.0, self.rate_hz);
        self.now = self.now.plus(length);
        let to_s = frames_s(self.now.0, self.rate_hz);
        let inner = self.runs.iter().flat_map(|run| [run.from_s, run.to_s]).filter(|t_s| (from_s..to_s).contains(t_s));
        let mut cuts: Vec<f64> = inner.chain([from_s, to_s]).collect();
        cuts.sort_by(f64::total_cmp);
        for pair in cuts.windows(2) {
            self.at(f64::midpoint(pair[0], pair[1])).spend(State::Unknown, pair[1] - pair[0]);
        }
    }

    /// A half cycle.
    pub fn moment(&mut self, moment: &Moment) {
        let half = &moment.half_cycle;
        let middle_s = frames_s(half.end.0, self.rate_hz) - 0.5 * frames_s(half.length.0, self.rate_hz);
        let (rate_hz, slow_rpm) = (self.rate_hz, self.slow_rpm);
        self.at(middle_s).moment(moment, rate_hz, slow_rpm);
        self.middle_s = Some(middle_s);
    }

    /// The core's totals after the half cycles that were told.
    pub fn totals(&mut self, totals: &Totals) {
        let Some(middle_s) = self.middle_s.take() else { return };
        let (before, rate_hz) = (std::mem::replace(&mut self.before, *totals), self.rate_hz);
        self.at(middle_s).grown(&before, totals, rate_hz);
    }

    /// A note of the trace.
    ///
    /// # Errors
    /// It cannot be what it seems to be.
    pub fn mark(&mut self, now: Instant, note: &str) -> Result<(), Fault> {
        let t_s = frames_s(now.0, self.rate_hz);
        let Some(said) = note::read(note) else {
            if note::nearly(note) && !self.set {
                self.unread.get_or_insert_with(|| (note.to_owned(), t_s, 0)).2 += 1;
            }
            return Ok(());
        };
        if self.set {
            self.vain.get_or_insert_with(|| note.to_owned());
            return Ok(());
        }
        let fault = |found: String| Fault::new(&self.path, found).at(format!("note at {t_s:.3} s"));
        let said = said.map_err(|(found, wanted)| fault(found).wanted(wanted).mend(CURE))?;
        let open = self.runs.last_mut().filter(|run| run.to_s.is_infinite());
        match (said, open) {
            (Said::Ends, None) => return Err(fault("a run ends, but none has begun".to_owned()).mend(CURE)),
            (Said::Ends, Some(run)) => run.to_s = t_s,
            (Said::Begins(about), open) => {
                if let Some(run) = open {
                    run.to_s = t_s;
                }
                if self.runs.len() == MOST_RUNS {
                    let found = format!("one run more than {MOST_RUNS}");
                    return Err(fault(found).mend("split the trace"));
                }
                self.runs.push(Run { from_s: t_s, to_s: f64::INFINITY, about, sums: Sums::default() });
            }
        }
        Ok(())
    }

    /// The trace has ended after so long.
    ///
    /// # Errors
    /// A run of the settings lies outside of it.
    pub fn end(&mut self, settings: &Settings, duration_s: f64) -> Result<(), Fault> {
        for (at, run) in settings.runs.iter().enumerate() {
            let (key, t_s) = match run.to_s {
                _ if run.from_s >= duration_s => ("from_s", run.from_s),
                Some(to_s) if to_s > duration_s + SLACK_S => ("to_s", to_s),
                _ => continue,
            };
            let key = format!("run[{}].{key}", at + 1);
            let place = settings.given.get(&key).map_or_else(String::new, |line| format!("line {line}, "));
            return Err(Fault::new(&settings.file, format!("{t_s} s, but {} ends at {duration_s:.3} s", self.path))
                .at(format!("{place}key {key}"))
                .wanted("a run within the trace"));
        }
        for run in &mut self.runs {
            run.to_s = run.to_s.min(duration_s);
        }
        Ok(())
    }

    /// The mass of all runs, kg, where each was weighed apart and the settings take mass from batches.
    pub fn batches_kg(&self, settings: &Settings) -> Option<f64> {
        let wanted = settings.mass.source == Some(MassSource::Batch) && !self.runs.is_empty();
        wanted.then(|| self.runs.iter().map(|run| run.about.mass_kg).sum::<Option<f64>>()).flatten()
    }

    /// What a person should know.
    pub fn warnings(&self) -> Vec<String> {
        let vain = self
            .vain
            .as_ref()
            .map(|note| format!("the settings name runs: notes that name them do not count; the first is \"{note}\""));
        let unread = self.unread.as_ref().map(|(note, t_s, count)| {
            format!(
                "{} with the word run and without a colon: no run begins or ends there, and mass and energy go on to the \
                 one before. The first, at {t_s:.3} s, is \"{note}\". To mend it, write run: with a colon, or run end, {CURE}",
                if *count == 1 { "a note begins".to_owned() } else { format!("{count} notes begin") },
            )
        });
        vain.into_iter().chain(unread).collect()
    }

    /// The smallest step of a column of mass, kg, once the trace has ended.
    pub fn steps(&mut self, kg: Option<f64>) {
        self.step_kg = kg;
    }

    /// How well the core found idle power to repeat, kW.
    fn idle_spread_kw(&self) -> Option<f64> {
        self.before.idle_spread.map(|w| watts(w) / 1000.0)
    }

    /// The rows, with the mass (kg) and idle power (kW) of the totals.
    pub fn rows(&self, settings: &Settings, mass_kg: Option<f64>, idle_kw: Option<f64>, input: &Input) -> Runs {
        let no_mass = input.no_mass;
        let batches = settings.mass.source == Some(MassSource::Batch);
        let duration_s = frames_s(self.now.0, self.rate_hz);
        let counted = |run: &Run| match run.about.mass_kg {
            None if self.weighed => Counted::of(run.from_s, run.to_s),
            _ => Counted::default(),
        };
        let mut in_runs = Counted::default();
        self.runs.iter().for_each(|run| in_runs.and(&counted(run)));
        let part = |run: &Run| Part {
            about: run.about.clone(),
            limits_s: Some((run.from_s, run.to_s)),
            sums: run.sums,
            mass_kg: run.about.mass_kg.or(self.weighed.then_some(run.sums.fed_kg)),
            counted: counted(run),
            no_mass,
        };
        let parts: Vec<Part> = self.runs.iter().map(part).collect();
        let apart = self.runs.iter().any(|run| run.about.mass_kg.is_some());
        let outside = Part {
            sums: self.outside,
            // What was weighed apart may be some of what the column counted: the rest is not known.
            mass_kg: match (self.weighed, apart) {
                (true, false) => Some(self.outside.fed_kg),
                _ if batches && self.batches_kg(settings).is_some() => Some(0.0),
                _ => None,
            },
            counted: if self.weighed { in_runs.rest(duration_s) } else { Counted::default() },
            no_mass: if apart {
                "runs have masses of their own: what is left of the rest is not known"
            } else {
                no_mass
            },
            ..Part::default()
        };
        let mut whole = Part { mass_kg, no_mass, sums: self.outside, ..Part::default() };
        for run in &self.runs {
            whole.sums += run.sums;
        }
        // Or it was weighed apart.
        if mass_kg.is_some_and(|kg| (whole.sums.fed_kg - kg).abs() < 1e-6 * kg) {
            whole.counted = Counted::of(0.0, duration_s);
        }
        let field = self.field(settings, whole.sums, idle_kw, input);
        Runs::new(&parts, &outside, &whole, &field, |key| settings.given.contains_key(key))
    }

    /// What errors act through, with the sums of the whole trace and its idle power, kW.
    pub fn field(&self, settings: &Settings, whole: Sums, idle_kw: Option<f64>, input: &Input) -> Field {
        let spread_kw = settings.accuracy.and_then(|a| a.idle_repeatability_kw).or(self.idle_spread_kw());
        let learnt = settings.mill.idle_power_kw.is_none();
        Field {
            accuracy: settings.accuracy,
            estimate: input.estimated.then_some(match input.voltages {
                Some(_) => Estimate::Measured,
                None => Estimate::Nominal,
            }),
            pulse_kg: settings.mass.pulses.map(|pulses| pulses.kg).filter(|_| self.step_kg.is_none()),
            step_kg: self.step_kg,
            model: model(settings),
            rated_kw: settings.motor.rated_power_kw,
            efficiency_pct: derive(settings).rated_efficiency_pct.value,
            stalled_share: STALLED_SHARE[usize::from(settings.motor.locked_rotor_torque_pct.is_some())],
            idle: idle_kw.map(|kw| Idle { kw, learnt, spread_kw }),
            whole,
        }
    }

    /// The limits of each run, s, and what is known of it; the last one is endless until the trace has ended.
    pub fn runs(&self) -> impl Iterator<Item = (f64, f64, &About)> {
        self.runs.iter().map(|run| (run.from_s, run.to_s, &run.about))
    }
}

impl Run {
    fn of(run: &crate::settings::Run) -> Self {
        let to_s = run.to_s.unwrap_or(f64::INFINITY);
        Self { from_s: run.from_s, to_s, about: run.about.clone(), sums: Sums::default() }
    }
}

#[cfg(test)]
mod tests;
