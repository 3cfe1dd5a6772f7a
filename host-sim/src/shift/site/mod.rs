//! What a site says of itself: `site.toml`.

mod read;

use jiff::civil::{Date, DateTime, Time};

use super::calendar::Calendar;
pub use read::{load, parse};

/// Everything the file says.
#[derive(Debug, Clone)]
pub struct Site {
    /// The file, as the user named it.
    pub file: String,
    /// What the site is called.
    pub name: String,
    /// Its shifts and its zone.
    pub calendar: Calendar,
    /// What the meter sees besides the mill's motor.
    pub boundary: Vec<Part>,
    /// Names that tickets may use; empty: any.
    pub materials: Vec<String>,
    /// The same of screens.
    pub screens: Vec<String>,
    /// The motor.
    pub motor: Motor,
    /// The meter.
    pub meter: Meter,
    /// How tonnes are known.
    pub mass: Mass,
    /// What energy costs; `None`: not said.
    pub tariff: Option<Tariff>,
    /// What the mill is held against; `None`: nothing.
    pub baseline: Option<Baseline>,
    /// What was changed and when, in order of time.
    pub changes: Vec<Change>,
}

/// A part of the plant inside the measurement's boundary.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// The mill's motor.
    Mill,
    /// The feeder.
    Feeder,
    /// The magnet.
    Magnet,
    /// The fan.
    Fan,
    /// A conveyor.
    Conveyor,
}

/// The motor as far as the audit needs it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Motor {
    /// Rated power, kW.
    pub rated_kw: f64,
    /// What the empty mill takes from the mains, kW; `None`: what the logs tell.
    pub idle_kw: Option<f64>,
    /// How well that repeats, standard deviation, kW; `None`: its spread over the shifts.
    pub idle_repeatability_kw: Option<f64>,
    /// What a start takes, kWh; `None`: what the logs tell.
    pub start_kwh: Option<f64>,
    /// Starts an hour that the motor may do.
    pub starts_per_hour: Option<f64>,
}

/// The meter: limits of its error, % of what it shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Meter {
    /// Its own.
    pub error_pct: Option<f64>,
    /// Of the current transformers.
    pub current_transformer_pct: f64,
    /// Of the voltage transformers.
    pub voltage_transformer_pct: f64,
    /// Digits of its register before it begins anew.
    pub register_digits: u32,
    /// Its smallest step, kWh.
    pub register_step_kwh: f64,
}

impl Meter {
    /// All that it and its transformers may err by, %; `None`: the file does not say.
    pub fn limit_pct(&self) -> Option<f64> {
        self.error_pct.map(|pct| pct + self.current_transformer_pct + self.voltage_transformer_pct)
    }
}

/// How tonnes are known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mass {
    /// Where they come from.
    pub source: Source,
    /// Limit of the scale's error, % of the load.
    pub error_pct: Option<f64>,
    /// Verification interval of a scale for single weighings, kg.
    pub scale_e_kg: Option<f64>,
    /// Weighings a ticket stands for: two for gross and tare.
    pub weighings: u32,
    /// A ticket entered so many hours after its shift is late.
    pub late_after_h: f64,
}

/// Where tonnes come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Source {
    /// Weigh tickets.
    Tickets,
    /// The logs' own mass.
    Log,
    /// Nowhere.
    Nothing,
}

/// What energy costs.
#[derive(Debug, Clone, PartialEq)]
pub struct Tariff {
    /// The money's name.
    pub currency: String,
    /// A kWh outside of the bands.
    pub per_kwh: f64,
    /// Times at which a kWh costs something else; the first that holds counts.
    pub bands: Vec<Band>,
    /// What is billed as demand.
    pub demand: Unit,
    /// Length of a block, minutes.
    pub block_min: i64,
    /// A kW or kVA of the month's highest block.
    pub per_demand: f64,
    /// The rule for a poor power factor.
    pub power_factor: PowerFactor,
}

/// A band of the tariff, in legal time.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// Its name.
    pub name: String,
    /// From this time of day on.
    pub from: Time,
    /// To this one, which is outside; not after `from`: over midnight.
    pub to: Time,
    /// On these days, Monday first.
    pub days: [bool; 7],
    /// A kWh.
    pub per_kwh: f64,
}

/// What is billed as demand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Active power.
    Kw,
    /// Apparent power.
    Kva,
}

/// What a poor power factor costs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PowerFactor {
    /// Nothing.
    Nothing,
    /// Demand is billed times target over power factor, where that is poorer.
    Adjust {
        /// The target.
        target: f64,
    },
    /// Reactive energy beyond what the target allows costs so much a kvarh.
    Reactive {
        /// The target.
        target: f64,
        /// A kvarh beyond it.
        per_kvarh: f64,
    },
}

/// What the mill is held against.
#[derive(Debug, Clone, PartialEq)]
pub enum Baseline {
    /// Learnt from shifts that begin on these dates.
    Learnt {
        /// The first.
        from: Date,
        /// The last.
        to: Date,
    },
    /// Given.
    Given {
        /// Of the empty mill, kW.
        idle_kw: f64,
        /// To break a tonne.
        kwh_per_t: f64,
    },
}

/// Something that was changed at a known time.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// When, µs of UTC.
    pub at_us: i64,
    /// What.
    pub what: Changed,
    /// In words.
    pub note: Option<String>,
    /// Who says so.
    pub who: String,
    /// Why.
    pub why: Option<String>,
    /// For a clock: how it was wrong.
    pub clock: Option<Clock>,
    /// For a meter: what the old one showed last and the new one first, kWh.
    pub readings: Option<[f64; 2]>,
}

/// What was changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Changed {
    /// A set of hammers.
    Hammers,
    /// The screen.
    Screen,
    /// The meter, or its register was set.
    Meter,
    /// A logger's clock was wrong.
    Clock,
    /// Something else.
    Other,
}

/// How a logger's clock was wrong, from the change's time on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Clock {
    /// Until when, µs of UTC as it really was.
    pub to_us: i64,
    /// By how much it was fast, µs; negative: slow.
    pub fast_us: i64,
    /// Which logs: a part of their path; `None`: all.
    pub log: Option<String>,
}

impl Clock {
    /// Whether it is that of a log.
    pub fn is_of(&self, path: &str) -> bool {
        self.log.as_ref().is_none_or(|part| path.contains(part.as_str()))
    }
}

impl Change {
    /// What a moment that a wrong clock wrote really was, µs of UTC.
    pub fn right_us(&self, written_us: i64) -> i64 {
        written_us - self.clock.as_ref().map_or(0, |clock| clock.fast_us)
    }

    /// Whether a moment lies in the time in which the clock was wrong: rows are stamped at their end.
    pub fn holds(&self, right_us: i64) -> bool {
        self.clock.as_ref().is_some_and(|clock| right_us > self.at_us && right_us <= clock.to_us)
    }
}

impl Changed {
    const WORDS: [(&'static str, Self); 5] = [
        ("hammers", Self::Hammers),
        ("screen", Self::Screen),
        ("meter", Self::Meter),
        ("clock", Self::Clock),
        ("other", Self::Other),
    ];

    /// As it is written.
    pub fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, what)| *what == self).map_or("", |(word, _)| word)
    }
}

impl Part {
    const WORDS: [(&'static str, Self); 5] = [
        ("mill", Self::Mill),
        ("feeder", Self::Feeder),
        ("magnet", Self::Magnet),
        ("fan", Self::Fan),
        ("conveyor", Self::Conveyor),
    ];

    /// As it is written.
    pub fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, part)| *part == self).map_or("", |(word, _)| word)
    }
}

impl Tariff {
    /// The price of a kWh at a moment of legal time, and the band's place.
    pub fn at(&self, local: DateTime) -> (Option<usize>, f64) {
        let (time, day) = (local.time(), local.date().weekday());
        let holds = |band: &Band| {
            if band.to > band.from {
                super::calendar::has(&band.days, day) && time >= band.from && time < band.to
            } else {
                let before = day.previous();
                super::calendar::has(&band.days, day) && time >= band.from
                    || super::calendar::has(&band.days, before) && time < band.to
            }
        };
        let band = self.bands.iter().position(holds);
        (band, band.map_or(self.per_kwh, |at| self.bands[at].per_kwh))
    }
}

#[cfg(test)]
pub(crate) mod tests;
