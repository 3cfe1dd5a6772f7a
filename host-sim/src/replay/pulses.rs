//! Pulses of a belt weigher, counted row by row: by a running count, or by the edges of a level.
//!
//! ```text
//! count   adds what it rises by; where it falls it has wrapped (if the width of its counter is known) or has started anew
//!         at zero, whichever makes a step as likely as those before; else it is at fault
//! edge    low -> high counts one; high at or above 3/4 of its level, low at or below 1/4, in between as before,
//!         and only what lasts is believed: shorter is a bounce
//! ```
//!
//! What a trace begins with is no pulse of it: the first reading of a count, a level that is high already.

use crate::settings::PulseForm;

/// Shares of the level from which it is high, and down to which it is low.
const HIGH: f64 = 0.75;
const LOW: f64 = 0.25;
/// A count is whole within this: a channel's factor and offset round.
const WHOLE: f64 = 1e-3;

/// A count that cannot be: what was found, what was wanted.
pub type Bad = (String, &'static str);

/// Counts the pulses of a trace.
#[derive(Debug)]
pub struct Pulses {
    form: Form,
    /// Since the trace began.
    count: f64,
}

#[derive(Debug)]
enum Form {
    Count(Count),
    Edge(Edge),
}

impl Pulses {
    /// None seen; at so many rows a second.
    pub fn new(form: PulseForm, rows_hz: f64) -> Self {
        let form = match form {
            PulseForm::Count { bits } => Form::Count(Count { bits, ..Count::default() }),
            PulseForm::Edge { level, least_s } => {
                let least = (least_s * rows_hz).ceil().max(1.0) as u64;
                Form::Edge(Edge { level, least, high: None, turned: 0, bounces: 0 })
            }
        };
        Self { form, count: 0.0 }
    }

    /// Takes the reading of a row; one that is missing says nothing. Gives the pulses so far.
    ///
    /// # Errors
    /// The reading is no count.
    pub fn take(&mut self, reading: f64) -> Result<f64, Bad> {
        if reading.is_finite() {
            self.count += match &mut self.form {
                Form::Count(count) => count.take(reading)?,
                Form::Edge(edge) => edge.take(reading),
            };
        }
        Ok(self.count)
    }

    /// Rows are missing: a count tells later what came meanwhile, a level does not.
    pub fn gap(&mut self) {
        match &mut self.form {
            Form::Count(count) => count.gap = true,
            Form::Edge(edge) => (edge.high, edge.turned) = (None, 0),
        }
    }

    /// What a person should know.
    pub fn warnings(&self) -> Vec<String> {
        let mut out = Vec::new();
        match &self.form {
            Form::Count(c) => {
                let times = |n: u64| if n == 1 { "once".to_owned() } else { format!("{n} times") };
                if c.wraps > 0 {
                    out.push(format!("the count of pulses went over its end {}: taken as going on", times(c.wraps)));
                }
                if c.anew > 0 {
                    out.push(format!(
                        "the count of pulses started anew {}: what came between its last reading and that is not \
                         counted. If it went over its end, give counter_bits in [mass]",
                        times(c.anew)
                    ));
                }
                if c.dropped > 0 {
                    out.push(format!(
                        "the count of pulses read zero {} and then went on as before: taken as going on. Look after the \
                         link to the weigher",
                        times(c.dropped)
                    ));
                }
            }
            Form::Edge(e) if e.bounces > 0 => {
                out.push(format!(
                    "{} changes of the level of pulses were too short and are left out (pulse_least_s in [mass])",
                    e.bounces
                ));
            }
            Form::Edge(_) => {}
        }
        out
    }
}

/// A running count.
#[derive(Debug, Default)]
struct Count {
    bits: Option<u32>,
    last: Option<f64>,
    /// The most that came in a row.
    most: f64,
    /// Where it stood before it started anew, until it goes on.
    before: Option<f64>,
    gap: bool,
    wraps: u64,
    anew: u64,
    dropped: u64,
}

impl Count {
    /// As many as may come in a row: twice the most seen, and one.
    fn likely(&self) -> f64 {
        2.0 * self.most + 1.0
    }

    /// What this reading adds.
    fn take(&mut self, reading: f64) -> Result<f64, Bad> {
        const WANTED: &str = "a count of pulses that rises, wraps at its end or starts anew at zero";
        let now = reading.round();
        if (reading - now).abs() > WHOLE {
            return Err((
                format!("a count of {reading} pulses"),
                "whole pulses; a level needs pulses = \"edge\" in [mass]",
            ));
        }
        let gap = std::mem::take(&mut self.gap);
        let Some(last) = self.last.replace(now) else { return Ok(0.0) };
        let step = now - last;
        // A counter that reads zero for a while and is back where it was did not start anew.
        if step > self.likely()
            && let Some(before) = self.before.take_if(|before| now >= *before)
        {
            (self.anew, self.dropped) = (self.anew - 1, self.dropped + 1);
            return Ok(now - before);
        }
        if step >= 0.0 {
            if !gap {
                self.most = self.most.max(step);
            }
            return Ok(step);
        }
        if let Some(bits) = self.bits {
            let size = 2f64.powi(bits.cast_signed());
            let round = step + size;
            if round >= 0.0 && (round <= self.likely() || (gap && round < size / 2.0)) {
                self.wraps += 1;
                return Ok(round);
            }
        }
        // After a gap it may stand anywhere below.
        if now >= 0.0 && (now <= self.likely() || gap) {
            (self.before, self.anew) = (Some(last), self.anew + 1);
            return Ok(now);
        }
        Err((format!("a count of pulses that falls from {last} to {now}"), WANTED))
    }
}

/// A level that is high during each pulse.
#[derive(Debug)]
struct Edge {
    level: f64,
    /// Rows that a level must last.
    least: u64,
    /// `None` until it is known.
    high: Option<bool>,
    /// Rows on end at the other level.
    turned: u64,
    bounces: u64,
}

impl Edge {
    fn take(&mut self, reading: f64) -> f64 {
        let high = match self.high {
            _ if reading >= HIGH * self.level => true,
            _ if reading <= LOW * self.level => false,
            Some(high) => high,
            None => return 0.0,
        };
        let Some(before) = self.high else {
            self.high = Some(high);
            return 0.0;
        };
        if high == before {
            self.bounces += u64::from(self.turned > 0);
            self.turned = 0;
            return 0.0;
        }
        self.turned += 1;
        if self.turned < self.least {
            return 0.0;
        }
        (self.high, self.turned) = (Some(high), 0);
        f64::from(u8::from(high))
    }
}

#[cfg(test)]
mod tests;
