//! What happened, from the `events.csv` that a replay wrote beside its intervals.

use std::path::Path;

use crate::error::Fault;

/// An event that an audit counts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Happened {
    /// When, µs of UTC.
    pub at_us: i64,
    /// What.
    pub what: What,
}

/// What an audit counts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum What {
    /// A start.
    Start,
    /// A trip, with its cause.
    Trip(String),
    /// The feed was stopped, with the reason, and until when it stood; µs of UTC.
    FeedStop(String, i64),
    /// The feeder was reversed.
    Reversal,
}

/// The events beside a log; `None`: there are none, or the log has no start to count from. A feed that stands at the log's end stood until
/// then, and one that is stopped once more for another reason has stood all the while.
///
/// # Errors
/// They cannot be read.
pub fn beside(log: &Path, start_us: Option<i64>, end_us: Option<i64>) -> anyhow::Result<Option<Vec<Happened>>> {
    let path = log.with_file_name("events.csv");
    let of_a_replay = log.file_stem().is_some_and(|stem| stem == "minutes" || stem == "intervals");
    let Some(start_us) = start_us.filter(|_| of_a_replay && path.exists()) else { return Ok(None) };
    let name = path.display().to_string();
    let bad = |found: String| {
        Fault::new(name.as_str(), found).wanted("events.csv as a replay writes it").mend("replay the trace again")
    };
    let mut reader = csv::Reader::from_path(&path).map_err(|error| bad(error.to_string()))?;
    let header = reader.headers().map_err(|error| bad(error.to_string()))?.clone();
    let column = |name: &str| header.iter().position(|own| own == name);
    let (Some(t_s), Some(event), cause) = (column("t_s"), column("event"), column("cause")) else {
        return Err(bad("no columns t_s and event".to_owned()).into());
    };
    let mut all: Vec<Happened> = Vec::new();
    // Which of them is the stop that lasts.
    let mut stands: Option<usize> = None;
    for record in reader.records() {
        let record = record.map_err(|error| bad(error.to_string()))?;
        let cell = |at: usize| record.get(at).unwrap_or_default();
        let seconds: f64 = cell(t_s).parse().map_err(|_| bad(format!("t_s is '{}'", cell(t_s))))?;
        let cause = || cause.map(&cell).unwrap_or_default().to_owned();
        let at_us = start_us + (seconds * 1e6) as i64;
        let what = match cell(event) {
            "start" => What::Start,
            "trip" => What::Trip(cause()),
            "feed_stops" if stands.is_some() => continue,
            "feed_stops" => {
                stands = Some(all.len());
                What::FeedStop(cause(), end_us.map_or(at_us, |end| end.max(at_us)))
            }
            "feed_begins" => {
                if let Some(Happened { what: What::FeedStop(_, until_us), .. }) =
                    stands.take().and_then(|at| all.get_mut(at))
                {
                    *until_us = at_us;
                }
                continue;
            }
            "feed_reverses" => What::Reversal,
            _ => continue,
        };
        all.push(Happened { at_us, what });
    }
    Ok(Some(all))
}
