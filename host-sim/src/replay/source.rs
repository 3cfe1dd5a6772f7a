//! A trace ready for the loop: opened, with one rate that fits the settings, its channels found and its missing
//! values bridged.

use crate::error::Fault;
use crate::settings::{Gaps, Settings};
use crate::trace::bridge::Bridged;
use crate::trace::select::{self, Selection};
use crate::trace::{self, Options};

/// Share by which a trace's rate may differ from the settings'.
const RATE_TOLERANCE: f64 = 0.001;
/// Rates that the core can meter at, Hz.
const RATES_HZ: std::ops::RangeInclusive<f64> = 2_000.0..=16_000.0;

/// An opened trace.
pub struct Source {
    /// As the user named it.
    pub path: String,
    /// Its rows, missing values bridged.
    pub reader: Bridged,
    /// Frames a second, Hz: the settings' figure where there is one.
    pub rate_hz: f64,
    /// Which channel serves which quantity.
    pub selection: Selection,
    /// Where it was recorded, as the trace names it.
    pub station: Option<String>,
    /// Time of its first frame, ISO 8601.
    pub start: Option<String>,
    /// What a person should know.
    pub warnings: Vec<String>,
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
        let own = trace::require_single_rate(reader.meta())?;
        let rate_hz = agree(path, own, wanted)?;
        let selection = select::select(reader.meta(), settings.supply.wiring, &settings.channels)?;
        let mut warnings = Vec::new();
        let nominal = settings.supply.frequency_hz;
        if let Some(stated) = reader.meta().nominal_hz.filter(|hz| (hz - nominal).abs() > 0.5) {
            warnings.push(format!("the trace states a supply of {stated} Hz, the settings {nominal} Hz"));
        }
        let start = reader.meta().start.clone();
        let station = Some(reader.meta().station.trim().to_owned()).filter(|name| !name.is_empty());
        let reader = Bridged::new(reader, &selection, nominal, rate_hz, options.gaps_split);
        Ok(Self { path: path.to_owned(), reader, rate_hz, selection, station, start, warnings })
    }
}

/// The rate to replay at, Hz.
fn agree(path: &str, own: f64, wanted: Option<f64>) -> Result<f64, Fault> {
    let rate = wanted.unwrap_or(own);
    // Written so that what is no number is refused as well.
    let agrees = (own - rate).abs() <= RATE_TOLERANCE * rate;
    if !agrees {
        return Err(Fault::new(path, format!("sampled at {own} Hz"))
            .wanted(format!("{rate} Hz, as the settings have it under [sampling] rate_hz, within 0.1 %"))
            .mend("correct rate_hz in the settings, or leave it out where the trace states its own"));
    }
    if !RATES_HZ.contains(&rate) {
        return Err(Fault::new(path, format!("sampled at {own} Hz"))
            .wanted(format!("{} to {} Hz", RATES_HZ.start(), RATES_HZ.end()))
            .mend("record at a rate in this range; what the file holds can still be looked at with 'info'"));
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
            assert_eq!(agree("a.csv", own, wanted).is_ok(), fits, "{own} {wanted:?}");
        }
    }
}
