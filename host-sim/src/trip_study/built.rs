//! What the core makes of the settings: those that meter alike share a metering.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use anyhow::Context as _;
use shaftwork_core::settings::{Coefficients, JudgeCoefficients, Settings as CoreSettings};

use super::candidates::{Candidates, words_of};
use super::touchier::touchier;
use crate::fit;
use crate::fit::circuit::{self, Circuit};

impl Candidates {
    /// What the core makes of all at a rate in Hz, and of their twins, touchier by a margin; the settings as they are set come last.
    ///
    /// # Errors
    /// A figure is beyond the core's ranges, or no circuit follows from a nameplate.
    pub fn built(&self, rate_hz: f64, estimates: bool, margin: f64) -> anyhow::Result<Built> {
        let watched = self.watched();
        // A circuit follows from what is no trip's: one for all that have the same of it.
        let fixed = |picks: &[usize]| -> Vec<usize> {
            picks.iter().zip(&self.vary.keys).filter(|(_, key)| !key.is_trip()).map(|(pick, _)| *pick).collect()
        };
        let mut circuits: BTreeMap<Vec<usize>, Circuit> = BTreeMap::new();
        for candidate in &self.all {
            if let Entry::Vacant(free) = circuits.entry(fixed(&candidate.picks)) {
                let words = || words_of(&self.vary, &candidate.picks);
                free.insert(circuit::fit(&candidate.settings).with_context(words)?);
            }
        }
        let both = |made: CoreSettings| -> anyhow::Result<(Coefficients, JudgeCoefficients)> {
            let c = made.build()?;
            // Where the twin is beyond the core's ranges the setting is its own.
            let twin = touchier(&made, margin, &watched).build().map_or(c.judge, |twin| twin.judge);
            Ok((c, twin))
        };
        let mut all: Vec<(Coefficients, JudgeCoefficients)> = self
            .all
            .iter() // not on many threads: who waits for others' part may be given a trace to judge, which waits for this very work
            .map(|candidate| {
                let circuit = &circuits[&fixed(&candidate.picks)];
                let made = fit::of_circuit(&candidate.settings, circuit, rate_hz, estimates).and_then(both);
                made.with_context(|| words_of(&self.vary, &candidate.picks))
            })
            .collect::<anyhow::Result<_>>()?;
        let base = circuit::fit(&self.base)?;
        all.push(both(fit::of_circuit(&self.base, &base, rate_hz, estimates)?)?);
        Ok(Built::new(&all))
    }
}

/// What the core makes of the settings: those that meter alike share a metering.
#[derive(Debug)]
pub struct Built {
    /// The different meterings, each with the first settings that want it.
    pub meters: Vec<Coefficients>,
    /// Of each settings what judges by them.
    pub judges: Vec<Judges>,
}

/// What judges by a setting.
#[derive(Debug)]
pub struct Judges {
    /// Which of [`Built::meters`] it wants.
    pub meter: usize,
    /// The setting's.
    pub own: JudgeCoefficients,
    /// Its touchier twin's.
    pub twin: JudgeCoefficients,
}

impl Built {
    fn new(all: &[(Coefficients, JudgeCoefficients)]) -> Self {
        let (mut meters, mut judges) = (Vec::<Coefficients>::new(), Vec::new());
        for (c, twin) in all {
            let meter = meters.iter().position(|known| alike(known, c)).unwrap_or_else(|| {
                meters.push(*c);
                meters.len() - 1
            });
            judges.push(Judges { meter, own: c.judge, twin: *twin });
        }
        Self { meters, judges }
    }
}

/// Whether frames come to the same records. With transformers inside the delta the judge tells the meter how the windings are
/// joined, which it finds by the motor.
fn alike(a: &Coefficients, b: &Coefficients) -> bool {
    // What trips tells the meter nothing.
    let judges = || JudgeCoefficients { trips: b.judge.trips, ..a.judge } == b.judge;
    a.meter == b.meter && (a.meter.delta.is_none() || judges())
}
