//! What came before a decision, as the core's recorder tells it, in figures and in words.

use serde::Serialize;
use shaftwork_core::recorder::{Account, Lead};

use super::number::{figure, frames_s, seconds};

/// What came before a decision. Loads are shaft power over rated power.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name carries its unit and is explained with the output format")]
pub struct AccountRow {
    pub lead: &'static str,
    pub before_pct: i16,
    pub after_pct: i16,
    pub last_pct: i16,
    pub ago_s: f64,
    pub within_s: f64,
    pub feed: Option<FeedRow>,
    pub words: String,
}

/// How the feed rose.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name carries its unit and is explained with the output format")]
pub struct FeedRow {
    pub by_pct: Option<f64>,
    pub within_s: f64,
    pub ahead_s: f64,
}

impl AccountRow {
    /// Of the core's account of a `decision`, as it is called in words; `None` where too little was known to tell anything.
    pub fn new(account: &Account, decision: &str, rate_hz: f64) -> Option<Self> {
        let seconds = |span: shaftwork_core::time::Span| seconds(frames_s(span.0, rate_hz));
        let lead = match account.lead {
            Lead::Start => "start",
            Lead::Even => "even",
            Lead::Stall => "stall",
            Lead::Fall => "fall",
            Lead::Feed => "feed",
            Lead::Strike => "strike",
            Lead::Rise => "rise",
            _ => return None,
        };
        let feed = account.feed.map(|feed| FeedRow {
            by_pct: feed.by_permille.map(|by| figure(f64::from(by) / 10.0)),
            within_s: seconds(feed.within),
            ahead_s: seconds(feed.ahead),
        });
        let mut row = Self {
            lead,
            before_pct: account.before_pct,
            after_pct: account.after_pct,
            last_pct: account.last_pct,
            ago_s: seconds(account.ago),
            within_s: seconds(account.within),
            feed,
            words: String::new(),
        };
        row.words = row.words(decision);
        Some(row)
    }

    fn words(&self, decision: &str) -> String {
        let Self { before_pct, after_pct, last_pct, ago_s, within_s, .. } = self;
        match (self.lead, &self.feed) {
            ("start", _) => format!("the start began {} before", tenths(*ago_s)),
            ("even", _) => format!("power was even at {before_pct} % for {}", tenths(*ago_s)),
            ("stall", _) => format!("the rotor stalled {} before", tenths(*ago_s)),
            ("fall", _) => format!("power fell from {before_pct} to {after_pct} % {} before", tenths(*ago_s)),
            ("strike", _) => {
                format!("power jumped from {before_pct} % {} before, {decision} at {last_pct} %", tenths(*ago_s))
            }
            ("feed", Some(feed)) => {
                let rose = feed.by_pct.map_or_else(
                    || "feed began".to_owned(),
                    |by| format!("feed rose {} in {}", rise(by), tenths(feed.within_s)),
                );
                let followed = tenths(feed.ahead_s);
                format!("{rose}, power followed {followed} later, {decision} at {last_pct} %")
            }
            _ => {
                format!(
                    "power rose from {before_pct} to {after_pct} % in {}, {decision} at {last_pct} %",
                    tenths(*within_s)
                )
            }
        }
    }
}

/// Seconds to a tenth: that is how finely the recorder looks.
fn tenths(t_s: f64) -> String {
    format!("{} s", figure((t_s * 10.0).round() / 10.0))
}

/// A rise without more digits than it deserves: `6.5 %`, `18 %`, `to 7.8 times`.
fn rise(pct: f64) -> String {
    match pct {
        ..10.0 => format!("{pct:.1} %"),
        ..200.0 => format!("{pct:.0} %"),
        _ => format!("to {:.1} times what it was", 1.0 + pct / 100.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use shaftwork_core::recorder::FeedRise;
    use shaftwork_core::time::Span;

    /// Tenths of a second at 4 kHz.
    const fn tenths(n: u64) -> Span {
        Span((n * 400) << 16)
    }

    #[test]
    fn accounts_in_words() {
        let account = Account {
            lead: Lead::Feed,
            before_pct: 80,
            after_pct: 110,
            last_pct: 111,
            ago: tenths(52),
            within: tenths(31),
            feed: Some(FeedRise { by_permille: Some(179), within: tenths(30), ahead: tenths(28) }),
        };
        let surge = FeedRise { by_permille: Some(6_786), ..account.feed.unwrap() };
        let begun = FeedRise { by_permille: None, ..account.feed.unwrap() };
        for (lead, feed, words) in [
            (Lead::Feed, account.feed, "feed rose 18 % in 3 s, power followed 2.8 s later, cut-out at 111 %"),
            (
                Lead::Feed,
                Some(surge),
                "feed rose to 7.8 times what it was in 3 s, power followed 2.8 s later, cut-out at 111 %",
            ),
            (Lead::Feed, Some(begun), "feed began, power followed 2.8 s later, cut-out at 111 %"),
            (Lead::Strike, None, "power jumped from 80 % 5.2 s before, cut-out at 111 %"),
            (Lead::Rise, None, "power rose from 80 to 110 % in 3.1 s, cut-out at 111 %"),
            (Lead::Stall, None, "the rotor stalled 5.2 s before"),
            (Lead::Fall, None, "power fell from 80 to 110 % 5.2 s before"),
            (Lead::Even, None, "power was even at 80 % for 5.2 s"),
            (Lead::Start, None, "the start began 5.2 s before"),
        ] {
            let row = AccountRow::new(&Account { lead, feed, ..account }, "cut-out", 4_000.0).unwrap();
            assert_eq!(row.words, words);
        }
        assert_eq!(AccountRow::new(&Account { lead: Lead::Short, ..account }, "cut-out", 4_000.0), None);
    }
}
