//! The work of a study: every trace metered once for each metering that the settings want, and judged under all of them.

use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};

use anyhow::Context as _;
use rayon::prelude::*;
use shaftwork_core::time::Instant;

use super::bar::Bar;
use super::built::{Built, Judges};
use super::cache::Cache;
use super::candidates::Candidates;
use super::course::Course;
use super::decided::decide;
use super::folder::{self, Trace};
use super::found::{Found, Studied};
use super::records::{self, Records, meter};
use super::score::{Outcome, Row, Rules};
use super::verdict::Verdict;
use crate::capture::state::Begin;
use crate::error::Fault;
use crate::interrupt;

/// Settings that a thread judges one after the other before it takes others.
pub(super) const CHUNK: usize = 8;

/// What is asked of a study beside traces and settings.
#[derive(Debug, Clone, PartialEq)]
pub struct Order {
    /// Folder of the traces, as the user named it.
    pub folder: String,
    /// What counts.
    pub rules: Rules,
    /// Whether a record that ends early is taken as far as it is whole.
    pub accept_short: bool,
    /// Folder in which metered records are kept; `None`: they are not.
    pub records: Option<PathBuf>,
}

/// Works it out.
///
/// # Errors
/// A trace is at fault, or none holds a jam.
pub fn study(order: Order, traces: Vec<Trace>, without: &[String], candidates: Candidates) -> anyhow::Result<Found> {
    let part = folder::chosen_on(&traces);
    if !traces.iter().any(|trace| trace.verdict != Verdict::Honest) {
        return Err(Fault::new(&*order.folder, "no trace of it holds a jam")
            .wanted("traces of jams and of honest work; four of each, half to choose on, half to show")
            .mend("add a trace of a jam; 'shaftwork synth wedge' makes one")
            .into());
    }
    interrupt::watch();
    let cache = Cache::new(order.records.clone())?;
    let work = Work::new(&order, &candidates, &cache, traces.len());
    let studied: Vec<Studied> = traces
        .into_par_iter()
        .zip(part)
        .map(|(trace, chosen_on)| work.trace(trace, chosen_on))
        .collect::<Vec<anyhow::Result<Studied>>>()
        .into_iter()
        .collect::<anyhow::Result<_>>()?;
    drop(work);
    Found::new(order, candidates, studied, without)
}

/// What all traces have in common.
pub(super) struct Work<'a> {
    order: &'a Order,
    candidates: &'a Candidates,
    cache: &'a Cache,
    /// What the core makes of the settings, by rate and whether power is estimated.
    built: Mutex<Vec<(u64, bool, Arc<Built>)>>,
    bar: Bar,
}

impl<'a> Work<'a> {
    pub(super) fn new(order: &'a Order, candidates: &'a Candidates, cache: &'a Cache, traces: usize) -> Self {
        Self { order, candidates, cache, built: Mutex::default(), bar: Bar::new(traces) }
    }

    fn trace(&self, trace: Trace, chosen_on: bool) -> anyhow::Result<Studied> {
        let Self { order: Order { rules, accept_short, .. }, candidates, cache, .. } = self;
        let (rules, accept_short) = (*rules, *accept_short);
        let mut open = records::open(&trace.path, &candidates.base, accept_short)?;
        let built = self.built(open.source.rate_hz, open.source.estimates)?;
        let mut all = Vec::new();
        for (n, c) in built.meters.iter().enumerate() {
            let begin = open.begin.as_deref().map(Begin::snapshot);
            let place = cache.place(&trace.path, &candidates.base, accept_short, c, begin)?;
            if let Some(kept) = Cache::read(place.as_deref()) {
                all.push(kept);
                continue;
            }
            if n > 0 {
                open = records::open(&trace.path, &candidates.base, accept_short)?;
            }
            let made = meter(&mut open, &candidates.base, c)?;
            Cache::write(place.as_deref(), &made)?;
            all.push(made);
        }
        drop(open);
        self.bar.metered();
        let end_s = all.first().map_or(0.0, Records::length_s);
        if let Verdict::Jam(t_s) = trace.verdict
            && t_s > end_s
        {
            return Err(Fault::new(trace.path.display().to_string(), format!("its verdict is \"jam at {t_s} s\""))
                .wanted(format!("a time within the trace, which ends at {end_s:.3} s"))
                .mend("seconds count from the trace's first row, as replay tells them")
                .into());
        }
        let watched = candidates.watched();
        let judged = |judges: &Judges| {
            let records = &all[judges.meter];
            let until = match trace.verdict {
                Verdict::Jam(t_s) => records.moment(t_s - rules.early_s),
                Verdict::Honest => Instant(u64::MAX),
            };
            let decided = decide(&judges.own, records, &watched, until);
            let row = Row::new(decided, records, trace.verdict, rules);
            // What trips the setting trips its twin.
            let touchy = row.outcome == Outcome::False
                || decide(&judges.twin, records, &[], until).trip.is_some_and(|(at, _)| at < until);
            Row { touchy, ..row }
        };
        let chunks = built.judges.par_chunks(CHUNK).map(|chunk| {
            let rows: Vec<Row> = chunk.iter().map(judged).collect();
            self.bar.judged(chunk.len(), built.judges.len());
            rows
        });
        let rows = chunks.collect::<Vec<_>>().concat();
        let base = built.judges.last().context("the settings as they are set come last")?;
        let course = Course::new(&base.own, &all[base.meter], &candidates.base);
        let mut warnings = all.swap_remove(base.meter).warnings;
        if let Verdict::Jam(t_s) = trace.verdict
            && end_s < t_s + rules.allowed_s
        {
            let allowed = rules.allowed_s;
            warnings.push(format!("ends {:.2} s after the jam, before the {allowed} s in which a trip counts: what would come later is told as missed", end_s - t_s));
        }
        Ok(Studied { trace, chosen_on, length_s: end_s, rows, course, warnings })
    }

    pub(super) fn built(&self, rate_hz: f64, estimates: bool) -> anyhow::Result<Arc<Built>> {
        // Others wait for it: they mostly want the same.
        let mut all = self.built.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, _, built)) =
            all.iter().find(|(rate, other, _)| *rate == rate_hz.to_bits() && *other == estimates)
        {
            return Ok(built.clone());
        }
        let built = Arc::new(self.candidates.built(rate_hz, estimates, self.order.rules.margin)?);
        all.push((rate_hz.to_bits(), estimates, built.clone()));
        Ok(built)
    }
}
