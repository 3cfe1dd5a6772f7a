//! Numbers and stamps of records as they stream past.
//!
//! Where the configuration gives a rate, it tells the time and stamps are not needed. Where it
//! gives none, the stamps do; they must be there and rise evenly, as in CSV.

use super::config::Config;
use crate::error::Fault;
use crate::trace::Options;
use crate::trace::even::{Evenness, Step};
use crate::trace::number::Printed;

/// What is remembered from record to record.
pub(super) struct Clock {
    file: String,
    even: Option<Evenness>,
    tick_s: f64,
    decimals: i32,
    last_number: Option<f64>,
    last_stamp: f64,
    /// Added to stamps of 32 bits that have wrapped around.
    wrapped: f64,
    records: u64,
    warning: Option<String>,
}

impl Clock {
    /// `file` is where the stamps are.
    pub fn new(file: &str, config: &Config, options: &Options, lenient: bool) -> Self {
        let even = config
            .rates
            .is_empty()
            .then(|| Evenness::new(file, "record", options.rate_hz, options.gaps_split, lenient));
        // The last printed digit of a stamp is one tick.
        let decimals = (-config.tick_s.log10() + 1e-9).floor().clamp(-9.0, 18.0) as i32;
        Self {
            file: file.into(),
            even,
            tick_s: config.tick_s,
            decimals,
            last_number: None,
            last_stamp: 0.0,
            wrapped: 0.0,
            records: 0,
            warning: None,
        }
    }

    /// Takes the next record's number and stamp as the file has them; the length in s of a gap
    /// before it, if there is one.
    #[inline]
    pub fn record(&mut self, number: Option<f64>, stamp: Option<f64>) -> Result<Option<f64>, Fault> {
        self.records += 1;
        if let (Some(before), Some(now)) = (self.last_number, number)
            && (now - before - 1.0).abs() > 0.5
        {
            self.jumps(before, now);
        }
        self.last_number = number;
        if self.even.is_none() { Ok(None) } else { self.stamp(stamp) }
    }

    /// The first pair of numbers that do not follow each other is told.
    #[cold]
    fn jumps(&mut self, before: f64, now: f64) {
        let (file, record) = (&self.file, self.records);
        self.warning.get_or_insert_with(|| format!("{file}: record {record} follows {before} but has number {now}"));
    }

    /// Takes the stamp where it tells the time.
    fn stamp(&mut self, stamp: Option<f64>) -> Result<Option<f64>, Fault> {
        let Some(even) = self.even.as_mut() else { return Ok(None) };
        let Some(stamp) = stamp else {
            return Err(Fault::new(&*self.file, "the stamp is missing")
                .at(format!("record {}", self.records))
                .wanted("a stamp in each record, since the configuration gives no rate")
                .mend("write the rate into the configuration if it is known"));
        };
        if self.last_stamp - stamp > f64::from(1_u32 << 31) {
            self.wrapped += f64::from(u32::MAX) + 1.0;
        }
        self.last_stamp = stamp;
        let value = (stamp + self.wrapped) * self.tick_s;
        let printed = Printed { value, decimals: self.decimals, whole: -self.decimals };
        Ok(match even.stamp(printed, self.records)? {
            Step::Gap(length) => Some(length),
            Step::Follows => None,
        })
    }

    /// The end of the record: the rate measured from the stamps, Hz, if they tell the time.
    pub fn finish(&mut self, warnings: &mut Vec<String>) -> Result<Option<f64>, Fault> {
        warnings.extend(self.warning.take());
        let Some(even) = self.even.as_mut() else { return Ok(None) };
        let hz = even.finish()?;
        warnings.extend(even.complaint().map(ToString::to_string));
        Ok(hz)
    }
}
