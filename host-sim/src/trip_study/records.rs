//! A trace's frames as the judge needs them: metered once by the core's meter, half cycle by half cycle, with what came beside them.
//!
//! What comes when is what a monitor would have done: a tachometer's figure before the block in which a half cycle is seen, a gap
//! after all that was open is closed.

use std::path::Path;

use serde::{Deserialize, Serialize};
use shaftwork_core::judge::Judge;
use shaftwork_core::meter::Meter;
use shaftwork_core::record::HalfCycle;
use shaftwork_core::settings::Coefficients;
use shaftwork_core::time::{Instant, Span};
use shaftwork_core::unit::Rpm;
use shaftwork_core::{BLOCK, Frame, Monitor, Snapshot};

use crate::capture::state::{self, Begin, Beside};
use crate::convert::Converter;
use crate::replay::drive::{self, Core, Listener, News};
use crate::replay::side::Side;
use crate::replay::source::Source;
use crate::report::number::frames_s;
use crate::settings::Settings;

/// What the judge is given.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum Step {
    /// A half cycle, as the meter hands it out.
    Half(HalfCycle),
    /// The tachometer tells something else.
    Speed(Option<Rpm>),
    /// Samples are missing.
    Gap {
        /// From when on.
        at: Instant,
        /// How long.
        length: Span,
    },
}

/// A trace, metered.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Records {
    /// Counts of the core's clock a second, Hz.
    pub rate_hz: f64,
    /// Whether power is estimated from the current.
    pub estimates: bool,
    /// What a board remembered, where it goes on from there.
    pub begin: Option<Box<Snapshot>>,
    /// The first row, by the clock of what follows: a board's of a capture.
    pub base: Instant,
    /// Its length, as a moment after the first row.
    pub end: Instant,
    /// What the judge is given, in order.
    pub steps: Vec<Step>,
    /// What a person should know of the trace.
    pub warnings: Vec<String>,
}

impl Records {
    /// The length of the trace, s.
    pub fn length_s(&self) -> f64 {
        frames_s(self.end.0, self.rate_hz)
    }

    /// A moment in s after the first row.
    pub fn seconds(&self, at: Instant) -> f64 {
        frames_s(at.since(self.base).0, self.rate_hz)
    }

    /// The moment of a time in s.
    pub fn moment(&self, t_s: f64) -> Instant {
        // Held to the range by the cast; a year at 16 kHz is 2^55.
        self.base.after(Span((t_s.max(0.0) * self.rate_hz * 65_536.0).round() as u64))
    }
}

/// An open trace.
pub struct Open {
    /// Its rows.
    pub source: Source,
    /// Where it goes on from, of a capture.
    pub begin: Option<Box<Begin>>,
}

/// Opens a trace, with what a board remembered beside it.
///
/// # Errors
/// It is no trace, or does not fit the settings; or what lies beside it belongs to other samples.
pub fn open(path: &Path, settings: &Settings, accept_short: bool) -> anyhow::Result<Open> {
    let name = path.display().to_string();
    let mut source = Source::open(&name, settings, accept_short)?;
    source.silent = true;
    let begin = match state::beside(&name) {
        Beside::State(begin) => {
            let words = "a capture: every setting is judged from what the board remembered on, under its own settings";
            source.warnings.push(words.to_owned());
            Some(begin)
        }
        Beside::Useless(why) => {
            source.warnings.push(why);
            None
        }
        Beside::Foreign(fault) => return Err(fault.into()),
        Beside::Nothing => None,
    };
    Ok(Open { source, begin })
}

/// Meters a trace to its end.
///
/// # Errors
/// The trace is at fault.
pub fn meter(open: &mut Open, settings: &Settings, c: &Coefficients) -> anyhow::Result<Records> {
    let Open { source, begin } = open;
    let begin = begin.as_deref();
    let (mut side, _) = Side::new(&source.selection, settings.mass, true, source.rows_hz);
    let converter = Converter::new(&settings.sampling);
    let mut listener = Metering { c, meter: Meter::new(&c.meter), judge: Judge::new(&c.judge), steps: Vec::new() };
    if let Some(begin) = begin {
        listener.meter = begin.snapshot().meter();
        listener.judge.resume_from(&c.judge, begin.snapshot());
    }
    let core = Core::Samples(Box::new(Monitor::of(c)), &converter);
    let end = drive::drive(source, &mut side, core, begin, &mut listener)?;
    let warnings = source.warnings.iter().cloned().chain(end.waves).collect();
    Ok(Records {
        rate_hz: source.rate_hz,
        estimates: source.estimates,
        begin: begin.map(|begin| Box::new(*begin.snapshot())),
        base: begin.map_or(Instant(0), Begin::base),
        end: end.clock,
        steps: listener.steps,
        warnings,
    })
}

/// Takes the frames that the core is given. The judge is there for the meter alone, which must know how the windings of a motor are
/// joined whose transformers sit inside the delta.
struct Metering<'a> {
    c: &'a Coefficients,
    meter: Meter,
    judge: Judge,
    steps: Vec<Step>,
}

impl Metering<'_> {
    fn take(&mut self, half: HalfCycle) {
        self.steps.push(Step::Half(half));
        if self.c.meter.delta.is_some() {
            self.judge.half_cycle(&self.c.judge, &half);
            self.meter.in_star(self.judge.in_star(&self.c.judge));
            while self.judge.pop_event().is_some() {}
        }
    }
}

impl Listener for Metering<'_> {
    fn frames(&mut self, frames: &[Frame], news: &News) -> anyhow::Result<()> {
        if let Some(speed) = news.speed {
            self.steps.push(Step::Speed(speed));
            self.judge.set_speed(speed);
        }
        if let Ok(block) = <&[Frame; BLOCK]>::try_from(frames) {
            self.meter.ingest(&self.c.meter, block);
        } else {
            self.meter.finish(&self.c.meter, frames);
        }
        if let Some(half) = self.meter.take_half_cycle() {
            self.take(half);
        }
        if frames.len() < BLOCK {
            while let Some(half) = self.meter.flush(&self.c.meter) {
                self.take(half);
            }
        }
        Ok(())
    }

    fn gap(&mut self, length: Span) -> anyhow::Result<()> {
        let at = Instant(self.meter.frames() << 16);
        self.steps.push(Step::Gap { at, length });
        self.judge.gap(&self.c.judge, at, length);
        self.meter.restart(&self.c.meter, at.after(length).0 >> 16);
        Ok(())
    }
}
