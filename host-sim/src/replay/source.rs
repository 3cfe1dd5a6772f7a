//! A trace ready for the loop: opened, with one rate that fits the settings, its channels found and its missing
//! values bridged.

use crate::closed::hands::Hands;
use crate::error::Fault;
use crate::settings::{Gaps, MassSource, Settings, Values, Wiring, limits};
use crate::trace::bridge::Bridged;
use crate::trace::select::{self, Selection};
use crate::trace::{self, Options};

/// Share by which a trace's rate may differ from the settings'.
const RATE_TOLERANCE: f64 = 0.001;
/// Rates that the core can meter at, Hz.
const RATES_HZ: std::ops::RangeInclusive<f64> = 2_000.0..=16_000.0;
/// Ticks of the core's clock in a second that rows of rms values are laid on, about.
const TICKS_HZ: f64 = 8_000.0;

/// An opened trace.
pub struct Source {
    /// As the user named it.
    pub path: String,
    /// Its rows, missing values bridged.
    pub reader: Bridged,
    /// Rows a second, Hz: the settings' figure where there is one.
    pub rows_hz: f64,
    /// What the core's clock counts a second, Hz: rows where they are samples, else a whole number of ticks a row.
    pub rate_hz: f64,
    /// Which channel serves which quantity.
    pub selection: Selection,
    /// Whether active power is not in it, and is estimated from the current.
    pub estimates: bool,
    /// Where it was recorded, as the trace names it.
    pub station: Option<String>,
    /// Time of its first frame, ISO 8601.
    pub start: Option<String>,
    /// What the core's decisions go to, where the trace is made while it is replayed.
    pub hands: Option<Hands>,
    /// What a person should know.
    pub warnings: Vec<String>,
    /// Whether no bar is shown: several traces are read at once.
    pub silent: bool,
}

impl Source {
    /// Opens a trace as the settings want it.
    ///
    /// # Errors
    /// A [`Fault`] for a trace that cannot be read, has no single rate within the core's range, another rate than
    /// the settings, or lacks a channel.
    pub fn open(path: &str, settings: &Settings, accept_short: bool) -> anyhow::Result<Self> {
        let wanted = settings.sampling.rate_hz;
        let options = Options { accept_short, gaps_split: settings.sampling.gaps == Gaps::Split, rate_hz: wanted };
        let reader = trace::open(path, &options)?;
        Self::of(path, reader, settings, options)
    }

    /// The same of a reader that is open.
    ///
    /// # Errors
    /// As [`Source::open`].
    pub fn of(
        path: &str,
        mut reader: Box<dyn trace::Reader>,
        settings: &Settings,
        options: Options,
    ) -> anyhow::Result<Self> {
        let wanted = settings.sampling.rate_hz;
        let has = |name: &str| reader.meta().channels.iter().any(|c| c.name.trim().eq_ignore_ascii_case(name));
        let pulse = settings.channels.get("pulse").map_or("PULSE", String::as_str);
        if settings.mass.source == Some(MassSource::Pulse) && !has(pulse) {
            reader.want_status(pulse);
        }
        let own = trace::require_single_rate(reader.meta())?;
        let values = settings.sampling.values;
        let rows_hz = agree(path, own, wanted, values)?;
        if values == Values::Rms && reader.meta().format != "CSV" {
            return Err(Fault::new(path, format!("a {} record of rms values", reader.meta().format))
                .wanted("a CSV log where [sampling] says values = \"rms\"")
                .mend("export the log as CSV; for a record of samples take the line out of the settings")
                .into());
        }
        let rate_hz = clock_hz(values, rows_hz);
        let selection = select::select(reader.meta(), settings.supply.wiring, &settings.channels)?;
        let blind = settings.supply.wiring == Wiring::CurrentsOnly;
        let estimates = blind && values == Values::Samples || values == Values::Rms && selection.active.is_none();
        let mut warnings = Vec::new();
        let nominal = settings.supply.frequency_hz;
        if let Some(stated) = reader.meta().nominal_hz.filter(|hz| (hz - nominal).abs() > 0.5) {
            warnings.push(format!("the trace states a supply of {stated} Hz, the settings {nominal} Hz"));
        }
        let start = reader.meta().start.clone();
        let station = Some(reader.meta().station.trim().to_owned()).filter(|name| !name.is_empty());
        let reader = Bridged::new(reader, &selection, nominal, rate_hz, options.gaps_split);
        Ok(Self {
            path: path.to_owned(),
            reader,
            rows_hz,
            rate_hz,
            selection,
            estimates,
            station,
            start,
            hands: None,
            warnings,
            silent: false,
        })
    }
}

/// What the core's clock counts a second where a trace has so many rows, Hz.
pub fn clock_hz(values: Values, rows_hz: f64) -> f64 {
    match values {
        Values::Samples => rows_hz,
        Values::Rms => (TICKS_HZ / rows_hz).round() * rows_hz,
    }
}

/// The rate to replay at, Hz.
fn agree(path: &str, own: f64, wanted: Option<f64>, values: Values) -> Result<f64, Fault> {
    let rate = wanted.unwrap_or(own);
    // Written so that what is no number is refused as well.
    let agrees = (own - rate).abs() <= RATE_TOLERANCE * rate;
    if !agrees {
        return Err(Fault::new(path, format!("sampled at {own} Hz"))
            .wanted(format!("{rate} Hz, as the settings have it under [sampling] rate_hz, within 0.1 %"))
            .mend("correct rate_hz in the settings, or leave it out where the trace states its own"));
    }
    let rows = limits::ROW_RATE_HZ;
    if values == Values::Rms && !rows.hold(rate) {
        return Err(Fault::new(path, format!("rows at {own} Hz"))
            .wanted(format!("rms values at {rows}"))
            .mend("log at a rate in this range; for samples of the waves take values = \"rms\" out of the settings"));
    }
    if values == Values::Samples && !RATES_HZ.contains(&rate) {
        let mend = if rows.hold(rate) {
            "record at a rate in this range; where the rows are rms values, say values = \"rms\" in [sampling]"
        } else {
            "record at a rate in this range; what the file holds can still be looked at with 'info'"
        };
        return Err(Fault::new(path, format!("sampled at {own} Hz"))
            .wanted(format!("{} to {} Hz", RATES_HZ.start(), RATES_HZ.end()))
            .mend(mend));
    }
    Ok(rate)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The tolerance of 0.1 % and one step beyond on either side.
    #[test]
    fn rates_agree_within_a_thousandth() {
        for (own, wanted, fits) in [
            (4_000.0, None, true),
            (4_003.99, Some(4_000.0), true),
            (3_996.01, Some(4_000.0), true),
            (4_004.1, Some(4_000.0), false),
            (3_995.9, Some(4_000.0), false),
            (1_999.0, None, false),
            (16_001.0, None, false),
            (f64::NAN, None, false),
            (f64::INFINITY, Some(4_000.0), false),
        ] {
            assert_eq!(agree("a.csv", own, wanted, Values::Samples).is_ok(), fits, "{own} {wanted:?}");
        }
    }

    /// Both ends of the range and a step beyond.
    #[test]
    fn rms_values_have_a_range_of_their_own() {
        for (own, fits) in [(0.1, true), (20.0, true), (0.0999, false), (20.01, false), (4_000.0, false)] {
            assert_eq!(agree("a.csv", own, None, Values::Rms).is_ok(), fits, "{own}");
        }
        let fault = agree("a.csv", 1.0, None, Values::Samples).unwrap_err().to_string();
        assert!(fault.contains("values = \"rms\""), "{fault}");
    }
}
