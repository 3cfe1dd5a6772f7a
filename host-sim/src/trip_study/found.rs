//! What a study found.

use anyhow::Context as _;

use super::candidates::Candidates;
use super::course::Course;
use super::folder::Trace;
use super::score::{self, Reason, Row, Rules, Score};
use super::study::Order;
use super::verdict::Verdict;
use super::words;

/// What became of a trace.
#[derive(Debug)]
pub struct Studied {
    /// The trace.
    pub trace: Trace,
    /// Whether settings were chosen on it.
    pub chosen_on: bool,
    /// Its length, s.
    pub length_s: f64,
    /// A row for each candidate, in order; the settings as they are set come last.
    pub rows: Vec<Row>,
    /// Its currents and power over time.
    pub(super) course: Course,
    /// What a person should know of it.
    pub warnings: Vec<String>,
}

/// All that was found.
#[derive(Debug)]
pub struct Found {
    /// Folder of the traces, as the user named it.
    pub folder: String,
    /// What counts.
    pub rules: Rules,
    /// The settings that were compared.
    pub candidates: Candidates,
    /// The traces, by name.
    pub traces: Vec<Studied>,
    /// Sums over the part to choose on, over the other, and over all, a candidate each; the settings as they are set come last.
    pub scores: [Vec<Score>; 3],
    /// What no other beats, the quickest first.
    pub front: Vec<usize>,
    /// The one to recommend.
    pub recommended: (usize, Reason),
    /// What a person should know.
    pub notes: Vec<String>,
}

/// Parts of the folder, as [`Found::scores`] has them.
pub const PART_NAMES: [&str; 3] = ["chosen on", "shown on", "all"];

impl Found {
    /// Of what became of the traces; `without` are those that no verdict tells of.
    pub(super) fn new(
        Order { folder, rules, .. }: Order,
        candidates: Candidates,
        traces: Vec<Studied>,
        without: &[String],
    ) -> anyhow::Result<Self> {
        let verdicts: Vec<Verdict> = traces.iter().map(|studied| studied.trace.verdict).collect();
        let chosen: Vec<bool> = traces.iter().map(|studied| studied.chosen_on).collect();
        let parts = [chosen.clone(), chosen.iter().map(|on| !on).collect(), vec![true; traces.len()]];
        let scores = parts.map(|part| {
            (0..=candidates.all.len())
                .map(|n| {
                    let rows: Vec<Row> = traces.iter().map(|studied| studied.rows[n]).collect();
                    Score::new(&rows, &verdicts, &part)
                })
                .collect::<Vec<_>>()
        });
        let compared = &scores[0][..candidates.all.len()];
        let front = score::front(compared);
        let recommended = score::recommended(&front, compared).context("there are no settings to compare")?;
        let mut notes = candidates.notes.clone();
        notes.extend(words::notes(&traces, without, &scores));
        if scores[0][candidates.all.len()].mistakes() < scores[0][recommended.0].mistakes() {
            notes.push("the settings as they are set now make fewer mistakes than any that was compared".to_owned());
        }
        Ok(Self { folder, rules, candidates, traces, scores, front, recommended, notes })
    }

    /// The one that is recommended, where any is good for something.
    pub fn best(&self) -> Option<usize> {
        let (at, reason) = self.recommended;
        (reason != Reason::Nothing).then_some(at)
    }

    /// Which candidate the settings as they are set are.
    pub fn base(&self) -> usize {
        self.candidates.all.len()
    }
}
