//! What a script expects of a replay: `quiet`, or `trip:CAUSE`, or `trip:CAUSE@SECONDS+-TOLERANCE`.

use std::str::FromStr;

use shaftwork_core::Cause;

use crate::error::Usage;
use crate::report::cause_name;

/// One expectation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Expect {
    /// No trip at all.
    Quiet,
    /// This trip, and none that is not named by another expectation.
    Trip {
        /// Its cause.
        cause: Cause,
        /// Its time, where that matters.
        at: Option<At>,
    },
}

/// A time with its tolerance, both s from the start of the trace.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct At {
    /// The time, s.
    pub t_s: f64,
    /// How far off it may be either way, s.
    pub tolerance_s: f64,
}

/// How an expectation is written, for the long help; the causes as they are.
pub(super) fn help() -> String {
    let causes = Cause::ALL.map(cause_name).join(", ");
    format!(
        "Fail (status 3) unless it comes so:\n  \
         quiet              no trip at all\n  \
         trip:CAUSE         this trip, at any time\n  \
         trip:CAUSE@S+-TOL  this trip at S seconds, within TOL seconds\n\
         Once for each trip; no other may come. Causes: {causes}."
    )
}

impl FromStr for Expect {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        if text == "quiet" {
            return Ok(Self::Quiet);
        }
        let Some(trip) = text.strip_prefix("trip:") else {
            return Err("'quiet' or 'trip:CAUSE' is wanted, for example trip:jam or trip:jam@25.9+-0.1".to_owned());
        };
        let (name, time) = trip.split_once('@').map_or((trip, None), |(name, time)| (name, Some(time)));
        let Some(cause) = Cause::ALL.into_iter().find(|cause| cause_name(*cause) == name) else {
            let names = Cause::ALL.map(cause_name).join(", ");
            return Err(format!("{name:?} is no cause of a trip; wanted: {names}"));
        };
        let at = time.map(At::from_str).transpose()?;
        Ok(Self::Trip { cause, at })
    }
}

impl FromStr for At {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let split = text.split_once("+-").or_else(|| text.split_once('±'));
        let number = |part: &str| part.parse().ok().filter(|s: &f64| s.is_finite() && *s >= 0.0);
        match split.map(|(time, tolerance)| (number(time), number(tolerance))) {
            Some((Some(t_s), Some(tolerance_s))) => Ok(Self { t_s, tolerance_s }),
            _ => Err(format!("{text:?} is no time; wanted: SECONDS+-TOLERANCE, for example 25.9+-0.1")),
        }
    }
}

/// Refuses expectations that no trace can meet: quiet and a trip, or one cause twice (a trip is logged once).
pub(super) fn agree(expect: &[Expect]) -> Result<(), Usage> {
    let causes: Vec<Cause> = expect
        .iter()
        .filter_map(|one| match one {
            Expect::Quiet => None,
            Expect::Trip { cause, .. } => Some(*cause),
        })
        .collect();
    if !causes.is_empty() && expect.contains(&Expect::Quiet) {
        return Err(Usage("--expect quiet and --expect trip: cannot both come true".to_owned()));
    }
    for (i, cause) in causes.iter().enumerate() {
        if causes[..i].contains(cause) {
            return Err(Usage(format!("--expect trip:{} is given twice; a trip is logged once", cause_name(*cause))));
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_may_be_expected() {
        assert_eq!("quiet".parse(), Ok(Expect::Quiet));
        for cause in Cause::ALL {
            assert_eq!(format!("trip:{}", cause_name(cause)).parse(), Ok(Expect::Trip { cause, at: None }));
        }
        let at = Some(At { t_s: 25.9, tolerance_s: 0.1 });
        assert_eq!("trip:jam@25.9+-0.1".parse(), Ok(Expect::Trip { cause: Cause::Jam, at }));
        assert_eq!("trip:jam@25.9±0.1".parse(), Ok(Expect::Trip { cause: Cause::Jam, at }));
    }

    #[test]
    fn what_may_not() {
        for (text, part) in [
            ("", "'quiet' or 'trip:CAUSE'"),
            ("Quiet", "'quiet' or 'trip:CAUSE'"),
            ("jam", "'quiet' or 'trip:CAUSE'"),
            ("trip:", "thermal-overload, jam, long-start, phase-loss, undervoltage"),
            ("trip:jams", "\"jams\" is no cause"),
            ("trip:jam@", "SECONDS+-TOLERANCE"),
            ("trip:jam@25.9", "SECONDS+-TOLERANCE"),
            ("trip:jam@25.9+-", "SECONDS+-TOLERANCE"),
            ("trip:jam@nan+-1", "SECONDS+-TOLERANCE"),
            ("trip:jam@25+-inf", "SECONDS+-TOLERANCE"),
            ("trip:jam@25+--1", "SECONDS+-TOLERANCE"),
        ] {
            let error = text.parse::<Expect>().unwrap_err();
            assert!(error.contains(part), "{text}: {error}");
        }
    }

    #[test]
    fn contradictions_are_refused() {
        let jam = Expect::Trip { cause: Cause::Jam, at: None };
        let loss = Expect::Trip { cause: Cause::PhaseLoss, at: None };
        assert!(agree(&[]).is_ok() && agree(&[Expect::Quiet]).is_ok() && agree(&[jam, loss]).is_ok());
        assert!(agree(&[Expect::Quiet, jam]).is_err() && agree(&[jam, jam]).is_err());
    }

    proptest::proptest! {
        #[test]
        fn no_text_makes_it_panic(text in "(trip:)?(jam)?@?.{0,20}") {
            let _ = text.parse::<Expect>();
        }
    }
}
