//! A row as it stands in a file, whatever its format.

use jiff::civil::DateTime;

/// The columns of numbers that are looked at.
pub const NUMBERS: [&str; 26] = [
    "t_s",
    "length_s",
    "active_w",
    "exported_w",
    "reactive_var",
    "load_pct",
    "load_peak_1s_pct",
    "above_100_s",
    "mass_kg",
    "register_kwh",
    "feed_stopped_s",
    "starts",
    "trips",
    "feeder_pct",
    "feeder_100_s",
    "stopped_s",
    "starting_s",
    "idle_s",
    "breaking_s",
    "coasting_s",
    "unknown_s",
    "stopped_kwh",
    "starting_kwh",
    "idle_kwh",
    "breaking_kwh",
    "coasting_kwh",
];
pub(super) const T_S: usize = 0;
pub(super) const LENGTH_S: usize = 1;
pub(super) const ACTIVE: usize = 2;
pub(super) const EXPORTED: usize = 3;
pub(super) const REACTIVE: usize = 4;
pub(super) const LOAD: usize = 5;
pub(super) const PEAK: usize = 6;
pub(super) const ABOVE: usize = 7;
pub(super) const MASS: usize = 8;
pub(super) const REGISTER: usize = 9;
pub(super) const HELD: usize = 10;
pub(super) const STARTS: usize = 11;
pub(super) const TRIPS: usize = 12;
pub(super) const FEEDER: usize = 13;
pub(super) const FEEDER_FULL: usize = 14;
pub(super) const STATE_S: usize = 15;
pub(super) const STATE_KWH: usize = 21;

/// A row as it stands in the file; NaN is what is not there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cells {
    /// In the order of [`NUMBERS`].
    pub numbers: [f64; NUMBERS.len()],
    /// Its end, where a column `time` tells it.
    pub time: Option<Stamp>,
    /// The place of its state in [`STATES`].
    pub state: Option<usize>,
}

impl Cells {
    /// Nothing at all.
    pub const EMPTY: Self = Self { numbers: [f64::NAN; NUMBERS.len()], time: None, state: None };

    /// A number that neither motor nor feeder can have: its place in [`NUMBERS`], and what is wanted there.
    pub fn beyond(&self, rated_kw: f64) -> Option<(usize, String)> {
        let most = MOST_OF_RATED * rated_kw;
        let power =
            |unit| ([-1e3 * most, 1e3 * most], format!("up to 10 times motor.rated_kw, {most} {unit}, either way"));
        let pct = |[low, high]: [f64; 2]| ([low, high], format!("{low} to {high} %"));
        [ACTIVE, EXPORTED, REACTIVE, LOAD, PEAK, FEEDER].into_iter().find_map(|at| {
            let x = self.numbers[at];
            let ([low, high], wanted) = match at {
                LOAD | PEAK => pct(LOADS_PCT),
                FEEDER => pct(FEEDER_PCT),
                REACTIVE => power("kvar"),
                _ => power("kW"),
            };
            // What is not there is no number.
            (!x.is_nan() && !(low..=high).contains(&x)).then_some((at, wanted))
        })
    }
}

/// A stamp.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Stamp {
    /// µs of UTC.
    Utc(i64),
    /// Legal time of the site.
    Local(DateTime),
}

/// Reads a stamp.
pub fn stamp(text: &str) -> Option<Stamp> {
    let text = text.trim();
    if let Ok(at) = text.parse::<jiff::Timestamp>() {
        return Some(Stamp::Utc(at.as_microsecond()));
    }
    // jiff would read over an offset: what has one is no time without.
    let offset = text.get(10..).is_some_and(|time| time.contains(['+', '-', 'Z', 'z']));
    text.parse().ok().filter(|_| !offset).map(Stamp::Local)
}

/// Power of more than so many times rated is a fault of the log: a start takes up to eight times the rated current.
const MOST_OF_RATED: f64 = 10.0;
/// Loads that a log may tell, %. Driven by its rotor a motor gives its breakdown torque at most, two to three times rated (common practice,
/// no source).
const LOADS_PCT: [f64; 2] = [-300.0, 2_000.0];
/// Set points that a feeder may have, %.
const FEEDER_PCT: [f64; 2] = [0.0, 100.0];
