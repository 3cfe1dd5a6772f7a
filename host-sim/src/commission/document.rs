//! The sheet in figures of the trade, for every shape of it.

use serde::Serialize;
use serde_json::{Value, json};
use shaftwork_commission::{Figure, Row, Sheet, Verdict, Way, Why};
use shaftwork_core::settings::Action;

use crate::check;
use crate::report::event::cause_name;
use crate::report::number::figure;

/// Where the elements were tried.
pub enum Tried {
    /// On this computer.
    Here,
    /// On a board, whose sheet this is; this computer comes to the same.
    Board(String),
    /// ... to another one.
    Otherwise(String),
    /// ... with another version, so that this computer cannot tell.
    OtherVersion(String),
}

/// The whole sheet.
#[derive(Serialize)]
pub struct Document {
    format: &'static str,
    /// The settings file, by name.
    pub file: String,
    /// CRC-32 of what the board is sent.
    pub settings_crc32: String,
    /// The firmware core's.
    pub version: String,
    /// Frames a second.
    pub rate_hz: f64,
    /// Where it was tried, in words.
    pub tried: String,
    /// Whether every element that is on was proven, and no output did what it should not.
    pub proven: bool,
    /// Rows.
    pub elements: Vec<ElementRow>,
    /// Outputs that were walked on a board.
    pub outputs: Vec<OutputRow>,
}

/// An output that was walked.
#[derive(Serialize)]
pub struct OutputRow {
    /// Its name.
    pub output: String,
    /// Whether it did what it should, as a person said.
    pub as_it_should: Option<bool>,
}

/// A row.
#[derive(Serialize)]
pub struct ElementRow {
    /// The element's name in every output.
    pub element: &'static str,
    /// Which of its tests; nothing for the only one.
    pub test: &'static str,
    /// What it does.
    pub action: &'static str,
    /// Unit of the next three; nothing where there is no figure.
    pub unit: &'static str,
    /// Set.
    pub set: Option<f64>,
    /// Injected short of it.
    pub short: Option<f64>,
    /// Injected beyond it.
    pub beyond: Option<f64>,
    /// Whether it bore what is short of it.
    pub held: Option<bool>,
    /// Time from the step beyond it, s.
    pub time_s: Option<f64>,
    /// What that may be, at least and at most, s.
    pub wanted_s: Option<[f64; 2]>,
    /// `passed`, `failed`, `off`, `not tried`.
    pub verdict: &'static str,
    /// Why it was not tried; nothing else.
    pub why: &'static str,
}

impl Document {
    /// Of a sheet.
    pub fn new(file: &str, sheet: &Sheet, tried: Tried) -> Self {
        let differs = matches!(tried, Tried::Otherwise(_));
        let rate_hz = f64::from(sheet.rate_mhz) / 1e3;
        Self {
            format: "shaftwork-commission/1",
            file: file.to_owned(),
            settings_crc32: format!("{:08x}", sheet.settings),
            version: sheet.version.map(|n| n.to_string()).join("."),
            rate_hz,
            tried: match tried {
                Tried::Here => "on this computer, with the board's core; the board itself can do the same".to_owned(),
                Tried::Board(file) => format!("on a board ({file}); this computer comes to the same, bit for bit"),
                Tried::Otherwise(file) => {
                    format!("on a board ({file}); THIS COMPUTER COMES TO SOMETHING ELSE: do not use that board")
                }
                Tried::OtherVersion(file) => format!(
                    "on a board ({file}) with another version than this program's {}: not held against it",
                    env!("CARGO_PKG_VERSION")
                ),
            },
            proven: sheet.passed() && !differs,
            elements: sheet.rows.iter().map(|row| ElementRow::new(row, rate_hz)).collect(),
            outputs: sheet
                .outputs
                .iter()
                .map(|output| OutputRow { output: output.name.as_str().to_owned(), as_it_should: output.seen })
                .collect(),
        }
    }

    /// As JSON, with the settings as `check-settings` has them.
    pub fn json(&self, lines: &[check::Line]) -> Value {
        let mut whole = json!(self);
        whole["settings"] = check::json(&self.file, lines);
        whole
    }
}

impl ElementRow {
    fn new(row: &Row, rate_hz: f64) -> Self {
        let (unit, per) = unit(row.figure);
        let tried = !matches!(row.verdict, Verdict::Left(_));
        let value = |x: u64| (tried && !unit.is_empty()).then(|| figure(x as f64 / per));
        let seconds = |frames: u32| figure(f64::from(frames) / rate_hz);
        let (verdict, why) = match row.verdict {
            Verdict::Passed => ("passed", ""),
            Verdict::Failed => ("failed", ""),
            Verdict::Left(Why::Off) => ("off", ""),
            Verdict::Left(why) => ("not tried", reason(why)),
        };
        Self {
            element: cause_name(row.cause),
            test: match row.way {
                Way::PickUp => "",
                Way::Hot => "2 x k Ib, hot",
                Way::Cold => "6 x k Ib",
                Way::Starting => "starting",
                Way::Current => "a current",
            },
            action: match (tried, row.action) {
                (false, _) => "",
                (true, Action::Trip) => "trip",
                (true, Action::FeedStop) => "feed stop",
                (true, Action::Warning) => "warning",
            },
            unit,
            set: value(row.set),
            short: value(row.short),
            beyond: value(row.beyond),
            held: tried.then_some(row.held),
            time_s: row.time.map(seconds),
            wanted_s: tried.then(|| row.wanted.map(seconds)),
            verdict,
            why,
        }
    }
}

/// A figure's unit for people, and how many of the sheet's make one.
const fn unit(figure: Figure) -> (&'static str, f64) {
    match figure {
        Figure::Milliamps => ("A", 1e3),
        Figure::Millivolts => ("V", 1e3),
        Figure::Unbalance => ("%", 1e4),
        Figure::Milliwatts => ("kW", 1e6),
        Figure::Milliseconds => ("s", 1e3),
        Figure::Starts => ("starts", 1.0),
        Figure::Condition => ("", 1.0),
    }
}

const fn reason(why: Why) -> &'static str {
    match why {
        Why::Off => "off",
        Why::Wiring => "blocked: the wiring does not measure what it looks at",
        Why::Range => "what has to be injected lies beyond the converter's range: nobody has proven it",
        Why::IdleLearnt => {
            "no idle power is set, it compares with what it will have learnt of the mill: prove it by a run"
        }
        Why::PowerEstimated => {
            "power is estimated from the current, by a curve that injection cannot prove: prove it by a run"
        }
        Why::Motor => "the motor of the settings cannot give so much: the pick-up is out of its reach",
        Why::Level => "the thermal image begins at its trip level, or too near to it",
        Why::BrokenOff => "a person broke off",
    }
}
