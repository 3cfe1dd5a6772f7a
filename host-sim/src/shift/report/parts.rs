//! Parts of the document: what each list in it holds.

use serde::Serialize;

/// The empty mill and when stopping pays.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name is explained with the output format")]
pub struct Idle {
    pub kw: f64,
    pub repeat_kw: Option<f64>,
    pub learnt: bool,
    pub start_kwh: Option<f64>,
    pub starts_per_hour: Option<f64>,
    pub even_after_min: Option<f64>,
    pub stop_after_min: Option<f64>,
    pub spells: u32,
    pub spells_h: f64,
    pub saved_kwh: f64,
    pub saved_cost: Option<f64>,
}

/// A month's demand.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name is explained with the output format")]
pub struct Month {
    pub month: String,
    pub unit: &'static str,
    pub peak: Option<f64>,
    pub at: Option<String>,
    pub shift: Option<String>,
    pub power_factor: Option<f64>,
    pub billed: Option<f64>,
    pub demand_cost: Option<f64>,
    pub reactive_beyond_kvarh: Option<f64>,
    pub reactive_cost: Option<f64>,
    pub unknown_blocks: u32,
    pub days: f64,
    pub days_in_month: f64,
}

impl Month {
    /// How much of it the period has, where that is not all.
    pub fn part(&self) -> Option<String> {
        let few = self.days < self.days_in_month - 1e-6;
        let days = format!("{:.2}", self.days);
        few.then(|| format!("{} of {} days", days.trim_end_matches('0').trim_end_matches('.'), self.days_in_month))
    }
}

/// The baseline.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name is explained with the output format")]
pub struct Baseline {
    pub idle_kw: f64,
    pub idle_u_kw: Option<f64>,
    pub kwh_per_t: Vec<Slope>,
    pub shifts: usize,
    pub r2: Option<f64>,
    pub cv_pct: Option<f64>,
    pub s_kwh: Option<f64>,
    pub accepted: Option<bool>,
    pub rules: Vec<Rule>,
}

/// What a tonne costs.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name is explained with the output format")]
pub struct Slope {
    pub material: Option<String>,
    pub kwh_per_t: f64,
    pub u: Option<f64>,
}

/// A rule of acceptance.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name is explained with the output format")]
pub struct Rule {
    pub rule: String,
    pub kept: bool,
}

/// A bend.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name is explained with the output format")]
pub struct Bend {
    pub kind: &'static str,
    pub date: String,
    pub from: String,
    pub to: String,
    pub size: f64,
    pub size_u: f64,
    pub unit: &'static str,
    pub words: String,
}

/// A register that went another way than the rows beside it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name is explained with the output format")]
pub struct OffRow {
    pub log: String,
    pub from: String,
    pub to: String,
    pub register_kwh: f64,
    pub rows_kwh: f64,
}

/// A file that was read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[expect(missing_docs, reason = "each name is explained with the output format")]
pub struct FileRow {
    pub file: String,
    pub kind: &'static str,
    pub bytes: u64,
    pub crc32: String,
    pub rows: Option<u64>,
}

/// A gap in the logs.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name is explained with the output format")]
pub struct GapRow {
    pub from: String,
    pub to: String,
    pub hours: f64,
    pub kind: &'static str,
    pub kwh: Option<f64>,
}

/// A late ticket.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name is explained with the output format")]
pub struct TicketRow {
    pub ticket: String,
    pub time: String,
    pub kg: f64,
    pub who: String,
    pub entered: String,
    pub why: Option<String>,
}

/// A correction.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name is explained with the output format")]
pub struct CorrectionRow {
    pub ticket: String,
    pub time: String,
    pub from_kg: f64,
    pub to_kg: f64,
    pub who: String,
    pub why: String,
    pub entered: Option<String>,
}

/// A stoppage, and how much of it the mill stood in the period.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name is explained with the output format")]
pub struct StoppageRow {
    pub from: String,
    pub to: String,
    pub reason: String,
    pub who: String,
    pub stopped_h: f64,
}

/// A logger's clock that was wrong, and the rows that were put right.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name is explained with the output format")]
pub struct ClockRow {
    pub from: String,
    pub to: String,
    pub fast_s: f64,
    pub log: Option<String>,
    pub rows: u64,
    pub who: String,
    pub why: String,
}

/// A known change.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name is explained with the output format")]
pub struct ChangeRow {
    pub at: String,
    pub what: &'static str,
    pub note: Option<String>,
    pub who: String,
    pub why: Option<String>,
}
