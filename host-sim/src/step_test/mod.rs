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
use crate::regression::weighted;
use crate::replay::ledger::Ledger;
use crate::report::number::{frames_s, watts};
use crate::report::{Input, Voltages};
use crate::settings::rewrite::rewritten;
use crate::settings::{self, Settings, Wiring};
use crate::trace;
use crate::whole;
use curve::{Curve, NO_FEED_T_H, Sign};
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
    /// The step at which the mill chokes, and how that shows.
    pub choke: Option<(usize, Sign)>,
    /// Energy over rate, of the steps below it.
    pub curve: Option<Curve>,
    /// Where to run.
    pub point: Option<Point>,
    /// What the input of the response is.
    pub by: By,
    /// Share of load that a unit of it makes, the steps below the choke together.
    pub slope: Option<f64>,
    /// How the load answers what the steps come to in the end, all below the choke together: its gain is one, about.
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

/// A mill that takes so many times its idle power is not empty.
const WORKS: f64 = 1.5;

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
    clash::refuse_named(&inputs, &[("--json", &args.json), ("--out", &args.out), ("--svg", &args.svg)])?;
    let (settings, _) = settings::load(&args.settings)?;
    let (found, settings) = test(args, settings)?;
    if let Some(path) = &args.svg {
        whole::write(path, drawing::svg(&found, &settings).as_bytes())?;
    }
    show(&words::text(&found), &words::document(&found), args.json.as_deref())?;
    // The last thing, so that what was found is there even where it does not do for settings.
    if let Some(out) = &args.out {
        let keys = words::keys(&found);
        if settings.feeder.is_none() && !keys.iter().any(|(key, _)| *key == "gain") {
            anyhow::bail!(
                "{}: not written: {} has no [feeder], and no gain, lag and delay were found for one; name the runs' speeds (feeder_pct) or give \
                 --full-t-h, and make larger steps",
                out.display(),
                args.settings.display()
            );
        }
        let keys = keys.into_iter().map(|(key, value)| (key, value.into()));
        whole::write(out, rewritten(&args.settings, "feeder", keys)?.as_bytes())?;
    }
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
    let (mut steps, mut notes) = steps(&watch, &settings, &heard);
    if steps.len() < 2 {
        return Err(too_few(args, &watch, &heard).into());
    }
    steps.sort_by(|a, b| a.t_h.total_cmp(&b.t_h));
    let stop = settings.feed.stop_pct / 100.0;
    // A stop that ends a run comes right after it; the next step's are its own.
    let stopped = |step: &Step| {
        let next_s =
            steps.iter().map(|step| step.from_s).filter(|from_s| *from_s > step.from_s).fold(f64::INFINITY, f64::min);
        watch.stops_s.iter().any(|t_s| (step.from_s..next_s.min(step.to_s + 1.0)).contains(t_s))
    };
    let choke = curve::choke(&steps, stop, stopped);
    let kept = &steps[..choke.map_or(steps.len(), |(at, _)| at)];
    let curve = Curve::new(kept);
    let thermal = settings.feeder.map_or(90.0, |feeder| feeder.thermal_pct) / 100.0;
    let point = Point::new(kept, choke.is_some(), Aims { stop, thermal });
    let mut in_time = kept.to_vec();
    in_time.sort_by(|a, b| a.from_s.total_cmp(&b.from_s));
    let by = if in_time.iter().all(|step| step.speed.is_some()) { By::Speed } else { By::Rate };
    let (slope, readings) = readings(&watch.slices, &in_time, by, source.hands.is_some());
    let most_s = in_time.iter().map(|step| step.to_s - step.from_s).fold(f64::INFINITY, f64::min) / 2.0;
    let answer = Answer::fit(&readings, most_s);
    let gains = gains(&in_time, by);
    let full = match by {
        By::Speed => Some(1.0),
        By::Rate => args.full_t_h,
    };
    let gain = answer.zip(slope).zip(full).map(|((answer, slope), full)| slope * answer.safest.gain * full);
    notes.extend(heard.warnings);
    let of = source.path.clone();
    let mut found = Found { of, steps, choke, curve, point, by, slope, answer, gains, readings, gain, notes };
    found.notes.extend(watch.ledger.warnings());
    found.notes.extend(words::notes(&found, &settings, most_s / SETTLED_LAGS));
    Ok((found, settings))
}

/// The runs with a known feed, in order of time; and why others are left out.
fn steps(watch: &Watch, settings: &Settings, heard: &Heard) -> (Vec<Step>, Vec<String>) {
    let input = Input {
        voltages: Some(if settings.supply.wiring == Wiring::FourWire { Voltages::Neutral } else { Voltages::Line }),
        ..Input::samples(heard.no_mass)
    };
    let idle_kw = heard.totals.idle.map(|power| watts(power) / 1e3);
    let shaft_kw = |step: &Step| step.load * settings.motor.rated_power_kw;
    let field = watch.ledger.field(settings, step::total(&watch.slices), idle_kw, &input);
    let thermal_a = settings.trips.thermal.map(|thermal| thermal.k * thermal.base_current_a);
    let common = Common { field: &field, stop_delay_s: settings.feed.stop_delay_s, thermal_a };
    let has_mass = heard.totals.mass_mg.is_some();
    let (mut steps, mut left_out, mut before) = (Vec::new(), Vec::new(), None);
    for run in watch.ledger.runs() {
        let (from_s, to_s, about) = run;
        let fed = about.feeder_pct.is_none_or(|pct| pct > 0.0);
        let step = Step::new(watch, run, before.as_ref(), &common);
        before.clone_from(&step);
        let why = match &step {
            _ if fed && !has_mass && about.mass_kg.is_none() => "nothing tells its mass",
            _ if watch.gaps_s.iter().any(|t_s| (from_s..=to_s).contains(t_s)) => "rows are missing in it",
            None => "it is too short: what is looked at, its second half as a rule, has fewer than sixteen windows",
            Some(step) if about.feeder_pct.is_some() && fed && step.t_h < NO_FEED_T_H => {
                "the scale shows nothing though the feeder ran"
            }
            Some(step) if step.t_h < NO_FEED_T_H && idle_kw.is_some_and(|idle_kw| shaft_kw(step) > WORKS * idle_kw) => {
                "the scale shows nothing though the mill worked"
            }
            Some(_) => "",
        };
        match step.filter(|_| why.is_empty()) {
            Some(step) => steps.push(step),
            None => left_out.push(format!("the run from {from_s:.1} s is left out: {why}")),
        }
    }
    (steps, left_out)
}

/// What a step's feed is known by.
fn input(step: &Step, by: By) -> f64 {
    if by == By::Speed { step.speed.unwrap_or(step.t_h) } else { step.t_h }
}

/// The windows of some steps: load, and as input the load that the steps show for that feed in the end, so that a characteristic that
/// is curved is not taken for a slow one. And the slope of that characteristic. `driven`: each window tells the feeder's own speed; a
/// recorded trace has no governor, and what the core would tell a feeder is not what it did.
fn readings(slices: &[Slice], steps: &[Step], by: By, driven: bool) -> (Option<f64>, Vec<Reading>) {
    let point = |step: &Step| [input(step, by), step.load, step.scatter_load().max(1e-4)];
    let mut points: Vec<[f64; 3]> = steps.iter().map(point).collect();
    let slope = weighted(&points).map(|line| line.slope);
    points.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let reading = |slice: &Slice| {
        let t_s = slice.to_s - 0.5 * slice.length_s;
        let step = steps.iter().find(|step| (step.from_s..step.to_s).contains(&t_s))?;
        let u = slice.feeder.filter(|_| driven && by == By::Speed).unwrap_or(input(step, by));
        Some(Reading { t_s, length_s: slice.length_s, u: along(&points, u), y: slice.load })
    };
    let all: Vec<Reading> = slices.iter().filter_map(reading).collect();
    let together = all.len().div_ceil(MOST_READINGS).max(1);
    (slope, all.chunks(together).map(joined).collect())
}

/// The load at an input between points in its order; beyond them that of the nearest. What was fed twice has the mean.
fn along(points: &[[f64; 3]], u: f64) -> f64 {
    let mean = |all: &[[f64; 3]]| all.iter().map(|point| point[1]).sum::<f64>() / all.len() as f64;
    let same = |at: f64| {
        let first = points.partition_point(|point| point[0] < at - 1e-9);
        let end = points.partition_point(|point| point[0] <= at + 1e-9);
        mean(&points[first..end])
    };
    let below = points.iter().rev().map(|point| point[0]).find(|x| *x <= u);
    let above = points.iter().map(|point| point[0]).find(|x| *x >= u);
    match (below, above) {
        (Some(low), Some(high)) if high > low => same(low) + (same(high) - same(low)) * (u - low) / (high - low),
        (Some(at), _) | (None, Some(at)) => same(at),
        (None, None) => f64::NAN,
    }
}

/// Windows as one.
fn joined(all: &[Reading]) -> Reading {
    let length_s: f64 = all.iter().map(|reading| reading.length_s).sum();
    let mean = |of: fn(&Reading) -> f64| all.iter().map(|r| of(r) * r.length_s).sum::<f64>() / length_s;
    Reading { t_s: mean(|r| r.t_s), length_s, u: mean(|r| r.u), y: mean(|r| r.y) }
}

/// What the load rises by with the input from step to step.
fn gains(steps: &[Step], by: By) -> Vec<[f64; 2]> {
    let gain = |pair: &[Step]| {
        let rise = input(&pair[1], by) - input(&pair[0], by);
        let u = pair[0].scatter_load().hypot(pair[1].scatter_load());
        (rise.abs() > 1e-6).then(|| [(pair[1].load - pair[0].load) / rise, u / rise.abs()])
    };
    steps.windows(2).filter_map(gain).collect()
}

fn too_few(args: &StepTest, watch: &Watch, heard: &Heard) -> Fault {
    let runs = watch.ledger.runs().count();
    let fault = Fault::new(
        &args.source,
        format!("{runs} runs, fewer than two of them with a known feed and sixteen windows to look at"),
    );
    if heard.totals.mass_mg.is_none() && runs > 1 {
        return fault
            .wanted("a mass for each step: a column mass_kg or feed_kg_s, or mass_kg of each run as weighed")
            .mend("add mass_kg to each [[run]] of the settings, or to its note: run: feeder_pct=40 mass_kg=310");
    }
    fault.wanted("a run for each step of the feed, in which what is fed is held the same: seven seconds at least, thirty-two rows of a log").mend(
        "name them in the settings, [[run]] from_s, to_s, feeder_pct, or by notes in the trace: run: feeder_pct=40",
    )
}
