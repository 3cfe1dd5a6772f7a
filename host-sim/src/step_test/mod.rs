//! The verb `step-test`: feed steps -> energy a tonne over rate, choke, set point, and the answer of the load for `[feeder]`.
//!
//! ```text
//! scenario -> staircase of speeds -> plant -+-> core -> windows -> steps (runs) -> curve, choke, set point
//! trace with runs: [[run]] or notes --------+                 \-> response: gain, lag, delay
//! ```
//!
//! The steps of a trace are its runs: each is held at one feed, as `feeder_pct` or the mass tells.

pub mod curve;
mod drawing;
mod point;
pub mod response;
mod source;
pub mod step;
mod watch;
mod words;

use std::path::Path;
use std::process::ExitCode;

use crate::clash;
use crate::cli::{StepTest, show};
use crate::error::{Fault, Usage};
use crate::listen::{Heard, hear};
use crate::replay::ledger::Ledger;
use crate::report::number::{frames_s, watts};
use crate::report::{Input, Voltages};
use crate::settings::rewrite::rewritten;
use crate::settings::{self, Settings, Wiring};
use crate::trace;
use crate::whole;
use curve::Curve;
use point::{Aims, Point};
use response::{Answer, Reading};
use step::{Common, Step};
use watch::{Slice, Watch};

/// Readings that a response is fitted to, at most; windows are put together where there are more.
const MOST_READINGS: usize = 4_000;
/// A step must be so many times as long as delay and four lags for its second half to be settled.
const SETTLED_LAGS: f64 = 4.0;

/// What the feeder's input is known by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum By {
    /// Its speed.
    Speed,
    /// What was fed, t/h; with the rate at full speed it tells the speed.
    Rate,
}

/// All that was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// Trace or scenario.
    pub of: String,
    /// The steps, the least feed first.
    pub steps: Vec<Step>,
    /// Energy over rate.
    pub curve: Option<Curve>,
    /// Where to run.
    pub point: Option<Point>,
    /// What the input of the response is.
    pub by: By,
    /// How the load answers, all steps below the choke together; its gain by unit of `by`.
    pub answer: Option<Answer>,
    /// The gain of each step below the choke over the one before, with its standard uncertainty.
    pub gains: Vec<[f64; 2]>,
    /// What it was fitted to.
    pub readings: Vec<Reading>,
    /// Share of load that a share of speed makes, where that can be told.
    pub gain: Option<f64>,
    /// What a reader should know.
    pub notes: Vec<String>,
}

/// Tests; prints a table and the lines for `[feeder]`, writes settings, a drawing and JSON where they are wanted.
///
/// # Errors
/// Trace, scenario or settings are at fault, there are too few steps, or an output cannot be written.
pub fn run(args: &StepTest) -> anyhow::Result<ExitCode> {
    if args.out.is_some() && args.settings == Path::new("-") {
        let words = "step-test reads the settings twice for --out: give them as a file, not '-'";
        return Err(Usage(words.to_owned()).into());
    }
    let mut inputs = trace::files(&args.source);
    inputs.push(args.settings.clone());
    let named = [("--out", &args.out), ("--svg", &args.svg)];
    let named = named.into_iter().filter_map(|(option, path)| Some((option, path.clone()?)));
    clash::refuse(&inputs, &clash::json(args.json.as_deref()).into_iter().chain(named).collect::<Vec<_>>())?;
    let (settings, _) = settings::load(&args.settings)?;
    let (found, settings) = test(args, settings)?;
    if let Some(out) = &args.out {
        let keys = words::keys(&found).into_iter().map(|(key, value)| (key, value.into()));
        whole::write(out, rewritten(&args.settings, "feeder", keys)?.as_bytes())?;
    }
    if let Some(path) = &args.svg {
        whole::write(path, drawing::svg(&found, &settings).as_bytes())?;
    }
    show(&words::text(&found), &words::document(&found), args.json.as_deref())?;
    Ok(ExitCode::SUCCESS)
}

/// Works it out; gives back the settings as they were used.
///
/// # Errors
/// As [`run`].
pub fn test(args: &StepTest, settings: Settings) -> anyhow::Result<(Found, Settings)> {
    let (mut source, settings) = source::open(args, settings)?;
    let slow_rpm = 0.9 * settings.motor.synchronous_speed_rpm();
    let make = |_: &_, rate_hz| Watch::new(Ledger::new(&settings, &args.source, rate_hz), rate_hz, slow_rpm);
    let (mut watch, heard) = hear(&mut source, &settings, true, make)?;
    let duration_s = frames_s(heard.clock.0, source.rate_hz);
    watch.ledger.end(&settings, duration_s)?;
    watch.ledger.steps(heard.step_kg);
    let mut steps = steps(&watch, &settings, &heard);
    if steps.len() < 2 {
        return Err(too_few(args, &watch, &heard).into());
    }
    let in_time = steps.clone();
    steps.sort_by(|a, b| a.t_h.total_cmp(&b.t_h));
    let stopped = |step: &Step| watch.stops_s.iter().any(|t_s| (step.from_s..step.to_s + 1.0).contains(t_s));
    let curve = Curve::new(&steps, settings.feed.stop_pct / 100.0, stopped);
    let aims =
        Aims { stop: settings.feed.stop_pct / 100.0, thermal: settings.feeder.map_or(90.0, |f| f.thermal_pct) / 100.0 };
    let point = curve.as_ref().and_then(|curve| Point::new(&steps, curve, aims));
    let end_s = curve.as_ref().and_then(|curve| Some(steps[curve.choke?.0].from_s));
    let (by, readings) = readings(&watch.slices, &in_time, end_s);
    let most_s = in_time.iter().map(|step| step.to_s - step.from_s).fold(f64::INFINITY, f64::min) / 2.0;
    let answer = Answer::fit(&readings, most_s);
    let gains = gains(&in_time, by, end_s);
    let full = match by {
        By::Speed => Some(1.0),
        By::Rate => args.full_t_h,
    };
    let gain = answer.zip(full).map(|(answer, full)| answer.safest.gain * full);
    let mut found = Found {
        of: source.path.clone(),
        steps,
        curve,
        point,
        by,
        answer,
        gains,
        readings,
        gain,
        notes: heard.warnings,
    };
    found.notes.extend(watch.ledger.warnings());
    found.notes.extend(words::notes(&found, &settings, most_s / SETTLED_LAGS));
    Ok((found, settings))
}

/// The runs with a known feed, in order of time.
fn steps(watch: &Watch, settings: &Settings, heard: &Heard) -> Vec<Step> {
    let input = Input {
        voltages: Some(if settings.supply.wiring == Wiring::FourWire { Voltages::Neutral } else { Voltages::Line }),
        ..Input::samples(heard.no_mass)
    };
    let mut whole = crate::report::sums::Sums::default();
    watch.slices.iter().for_each(|slice| whole += slice.sums);
    let idle_kw = heard.totals.idle.map(|power| watts(power) / 1e3);
    let field = watch.ledger.field(settings, whole, idle_kw, &input);
    let thermal_a = settings.trips.thermal.map(|thermal| thermal.k * thermal.base_current_a);
    let common = Common { field: &field, stop_delay_s: settings.feed.stop_delay_s, thermal_a };
    let has_mass = heard.totals.mass_mg.is_some();
    let known =
        |about: &settings::About| has_mass || about.mass_kg.is_some() || about.feeder_pct.is_some_and(|pct| pct <= 0.0);
    watch.ledger.runs().filter(|(_, _, about)| known(about)).filter_map(|run| Step::new(watch, run, &common)).collect()
}

/// Feeder and load of the windows up to the choke, with what the feeder is known by.
fn readings(slices: &[Slice], steps: &[Step], end_s: Option<f64>) -> (By, Vec<Reading>) {
    let speeds = steps.iter().all(|step| step.speed.is_some());
    let by = if speeds { By::Speed } else { By::Rate };
    let kept = slices.iter().filter(|slice| end_s.is_none_or(|end_s| slice.to_s <= end_s));
    let reading = |slice: &Slice| {
        let t_s = slice.to_s - 0.5 * slice.length_s;
        let step = steps.iter().find(|step| (step.from_s..step.to_s).contains(&t_s))?;
        let u = slice.feeder.filter(|_| speeds).or(step.speed).unwrap_or(step.t_h);
        Some(Reading { t_s, length_s: slice.length_s, u, y: slice.load })
    };
    let all: Vec<Reading> = kept.filter_map(reading).collect();
    let together = all.len().div_ceil(MOST_READINGS).max(1);
    (by, all.chunks(together).map(joined).collect())
}

/// Windows as one.
fn joined(all: &[Reading]) -> Reading {
    let length_s: f64 = all.iter().map(|reading| reading.length_s).sum();
    let mean = |of: fn(&Reading) -> f64| all.iter().map(|r| of(r) * r.length_s).sum::<f64>() / length_s;
    Reading { t_s: mean(|r| r.t_s), length_s, u: mean(|r| r.u), y: mean(|r| r.y) }
}

/// What the load rises by with the input from step to step, up to the choke.
fn gains(steps: &[Step], by: By, end_s: Option<f64>) -> Vec<[f64; 2]> {
    let input = |step: &Step| if by == By::Speed { step.speed.unwrap_or(step.t_h) } else { step.t_h };
    let gain = |pair: &[Step]| {
        let rise = input(&pair[1]) - input(&pair[0]);
        let u = pair[0].scatter_load().hypot(pair[1].scatter_load());
        (rise.abs() > 1e-6).then(|| [(pair[1].load - pair[0].load) / rise, u / rise.abs()])
    };
    let below: Vec<Step> = steps.iter().filter(|step| end_s.is_none_or(|end_s| step.to_s <= end_s)).cloned().collect();
    below.windows(2).filter_map(gain).collect()
}

fn too_few(args: &StepTest, watch: &Watch, heard: &Heard) -> Fault {
    let runs = watch.ledger.runs().count();
    let fault =
        Fault::new(&args.source, format!("{runs} runs, fewer than two of them with a known feed and long enough"));
    if heard.totals.mass_mg.is_none() && runs > 1 {
        return fault
            .wanted("a mass for each step: a column mass_kg or feed_kg_s, or mass_kg of each run as weighed")
            .mend("add mass_kg to each [[run]] of the settings, or to its note: run: feeder_pct=40 mass_kg=310");
    }
    fault.wanted("a run for each step of the feed, of four seconds at least: what is fed is held the same in it").mend(
        "name them in the settings, [[run]] from_s, to_s, feeder_pct, or by notes in the trace: run: feeder_pct=40",
    )
}
