//! `[feed]`: when the feed stops and goes on; `[feeder]`: a feeder whose speed is governed.
//!
//! ```text
//! Kc = lag / (gain (response + delay')),  Ti = min(lag, 4 (response + delay')),  delay' = delay + half the filter
//! ```
//!
//! The rule is Skogestad's (*Simple analytic rules for model reduction and PID controller tuning*, J. Process Control 13,
//! 2003; from memory). A closed loop three times as slow as the delay bears a gain and a delay of twice what was found.

use super::limits;
use super::raw::Table;

/// When the feed stops and goes on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Feed {
    /// Load above which it stops, % of rated power.
    pub stop_pct: f64,
    /// ... held so long, s.
    pub stop_delay_s: f64,
    /// Load of a window above which it stops at once, %.
    pub surge_pct: f64,
    /// Load below which it goes on, %.
    pub resume_pct: f64,
    /// ... held so long, s.
    pub resume_delay_s: f64,
}

/// A feeder whose speed is governed; shares of speed are of full speed, loads of rated power.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Feeder {
    /// Load to be held, %.
    pub target_pct: f64,
    /// The load's 95th percentile is held below this, %; `None`: the target stays.
    pub peak_pct: Option<f64>,
    /// Nothing is changed within this much of it, %.
    pub deadband_pct: f64,
    /// Share of load that a share of speed makes, as a step test finds it.
    pub gain: f64,
    /// How long the load takes to follow, s.
    pub lag_s: f64,
    /// How long before it begins to, s.
    pub delay_s: f64,
    /// How fast the closed loop shall be, s.
    pub response_s: f64,
    /// Time constant with which the load is smoothed, s.
    pub filter_s: f64,
    /// Faster and slower by at most so much a second, %.
    pub up_pct_s: f64,
    /// See `up_pct_s`.
    pub down_pct_s: f64,
    /// Slowest and fastest, %.
    pub least_pct: f64,
    /// See `least_pct`.
    pub most_pct: f64,
    /// It begins again with this much of the last good speed, %.
    pub restart_pct: f64,
    /// How long the sounder sounds first, s.
    pub sounder_s: f64,
    /// The largest current is held below this, % of rated.
    pub current_pct: f64,
    /// From this thermal level on the target falls, %.
    pub thermal_pct: f64,
    /// Load that the feed does not account for, over that it does, %; `None`: not looked at.
    pub charge_pct: Option<f64>,
    /// A jam.
    pub jam: FeedJam,
    /// The search for the best target.
    pub search: Option<Search>,
}

impl Feeder {
    /// The delay that the controller sees, s.
    pub fn whole_delay_s(&self) -> f64 {
        self.delay_s + self.filter_s / 2.0
    }

    /// Kc: share of speed for a share of load.
    pub fn proportional(&self) -> f64 {
        self.lag_s / (self.gain * (self.response_s + self.whole_delay_s()))
    }

    /// Ti, s.
    pub fn integral_s(&self) -> f64 {
        self.lag_s.min(4.0 * (self.response_s + self.whole_delay_s()))
    }
}

/// What is done about a jam.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FeedJam {
    /// The load is up so long after the feed has stopped, s.
    pub delay_s: f64,
    /// How long the feeder runs backwards, s; 0: it cannot.
    pub reverse_s: f64,
    /// So often.
    pub tries: f64,
    /// ... within this, s.
    pub within_s: f64,
}

/// The search for the target with the least energy.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Search {
    /// Lowest and highest target, %.
    pub lowest_pct: f64,
    /// See `lowest_pct`.
    pub highest_pct: f64,
    /// A step, %.
    pub step_pct: f64,
    /// How long each is held, s.
    pub dwell_s: f64,
}

/// The closed loop's time for a delay, over that delay.
const RESPONSE: f64 = 3.0;

/// Reads `[feed]`; an absent table is an empty one.
pub(super) fn feed(t: &mut Table<'_>) -> Feed {
    Feed {
        stop_pct: t.number("stop_pct", &limits::FEED_PCT).unwrap_or(110.0),
        stop_delay_s: t.number("stop_delay_s", &limits::TIME_S).unwrap_or(1.0),
        surge_pct: t.number("surge_pct", &limits::FEED_PCT).unwrap_or(150.0),
        resume_pct: t.number("resume_pct", &limits::FEED_PCT).unwrap_or(70.0),
        resume_delay_s: t.number("resume_delay_s", &limits::TIME_S).unwrap_or(5.0),
    }
}

impl Default for Feeder {
    /// What a file need not say; gain, lag and delay are those of no mill, and do for a feeder that is set by hand alone.
    fn default() -> Self {
        Self {
            target_pct: 80.0,
            peak_pct: None,
            deadband_pct: 2.5,
            gain: 1.0,
            lag_s: 2.0,
            delay_s: 2.0,
            response_s: slow_s(2.0, 1.0),
            filter_s: 1.0,
            up_pct_s: 2.0,
            down_pct_s: 20.0,
            least_pct: 5.0,
            most_pct: 100.0,
            restart_pct: 50.0,
            sounder_s: 3.0,
            current_pct: 100.0,
            thermal_pct: 90.0,
            charge_pct: Some(40.0),
            jam: FeedJam { delay_s: 3.0, reverse_s: 0.0, tries: 3.0, within_s: 600.0 },
            search: None,
        }
    }
}

/// A closed loop that bears a gain and a delay of twice what was found, s.
fn slow_s(delay_s: f64, filter_s: f64) -> f64 {
    (RESPONSE * (delay_s + filter_s / 2.0)).max(0.2)
}

/// Reads `[feeder]`, which is there.
pub(super) fn feeder(t: &mut Table<'_>) -> Option<Feeder> {
    let usual = Feeder::default();
    let gain = t.need_number("gain", &limits::FEEDER_GAIN);
    let lag_s = t.need_number("lag_s", &limits::FEEDER_LAG_S);
    let delay_s = t.need_number("delay_s", &limits::FEEDER_DELAY_S);
    let filter_s = t.number("filter_s", &limits::FEEDER_FILTER_S).unwrap_or(usual.filter_s);
    let response_s = t.number("response_s", &limits::FEEDER_RESPONSE_S);
    let charge_pct = t.number("charge_pct", &limits::CHARGE_PCT).or(usual.charge_pct);
    Some(Feeder {
        target_pct: t.number("target_pct", &limits::TARGET_PCT).unwrap_or(usual.target_pct),
        peak_pct: t.number("peak_pct", &limits::PEAK_PCT),
        deadband_pct: t.number("deadband_pct", &limits::DEADBAND_PCT).unwrap_or(usual.deadband_pct),
        filter_s,
        response_s: response_s.unwrap_or(slow_s(delay_s.unwrap_or(0.0), filter_s)),
        up_pct_s: t.number("up_pct_s", &limits::RAMP_PCT_S).unwrap_or(usual.up_pct_s),
        down_pct_s: t.number("down_pct_s", &limits::RAMP_PCT_S).unwrap_or(usual.down_pct_s),
        least_pct: t.number("least_pct", &limits::MOVING_PCT).unwrap_or(usual.least_pct),
        most_pct: t.number("most_pct", &limits::MOVING_PCT).unwrap_or(usual.most_pct),
        restart_pct: t.number("restart_pct", &limits::SPEED_PCT).unwrap_or(usual.restart_pct),
        sounder_s: t.number("sounder_s", &limits::SOUNDER_S).unwrap_or(usual.sounder_s),
        current_pct: t.number("current_pct", &limits::FEED_PCT).unwrap_or(usual.current_pct),
        thermal_pct: t.number("thermal_pct", &limits::DERATE_PCT).unwrap_or(usual.thermal_pct),
        charge_pct: charge_pct.filter(|pct| *pct >= 0.01),
        jam: t.table("jam", |t| Some(jam(t, usual.jam)))?,
        search: if t.has("search") { t.table("search", |t| search(t).map(Some))? } else { t.know("search") },
        gain: gain?,
        lag_s: lag_s?,
        delay_s: delay_s?,
    })
}

fn jam(t: &mut Table<'_>, usual: FeedJam) -> FeedJam {
    FeedJam {
        delay_s: t.number("delay_s", &limits::TIME_S).unwrap_or(usual.delay_s),
        reverse_s: t.number("reverse_s", &limits::REVERSE_S).unwrap_or(usual.reverse_s),
        tries: t.whole("tries", &limits::JAM_TRIES).map_or(usual.tries, f64::from),
        within_s: t.number("within_s", &limits::TIME_S).unwrap_or(usual.within_s),
    }
}

fn search(t: &mut Table<'_>) -> Option<Search> {
    let lowest_pct = t.need_number("lowest_pct", &limits::TARGET_PCT);
    let highest_pct = t.need_number("highest_pct", &limits::TARGET_PCT);
    let step_pct = t.number("step_pct", &limits::SEARCH_STEP_PCT).unwrap_or(2.0);
    let dwell_s = t.number("dwell_s", &limits::DWELL_S).unwrap_or(120.0);
    Some(Search { lowest_pct: lowest_pct?, highest_pct: highest_pct?, step_pct, dwell_s })
}

#[cfg(test)]
mod tests {
    use super::super::testing::{faults, good, parsed};
    use super::*;

    const LEAST: &str = "[feeder]\ngain = 1.2\nlag_s = 4\ndelay_s = 3\n";

    /// K = 1.2, tau = 4 s, theta = 3 s and lambda = 6 s give Kc = 0.370 and Ti = 4 s (the rule's figures in the trade's fixture, from
    /// memory of Skogestad 2003; computed).
    #[test]
    fn the_rule_gives_its_own_example() {
        let text = format!("{}\n{LEAST}filter_s = 0\nresponse_s = 6\n", good());
        let feeder = parsed(&text).0.feeder.unwrap();
        assert!((feeder.proportional() - 0.370).abs() < 5e-4 && (feeder.integral_s() - 4.0).abs() < 1e-12);
    }

    #[test]
    fn absent_tables_are_a_lamp_with_the_usual_levels() {
        let settings = parsed(&good()).0;
        assert_eq!(settings.feeder, None);
        let usual =
            Feed { stop_pct: 110.0, stop_delay_s: 1.0, surge_pct: 150.0, resume_pct: 70.0, resume_delay_s: 5.0 };
        assert_eq!(settings.feed, usual);
    }

    #[test]
    fn defaults_follow_from_the_delay() {
        let feeder = parsed(&format!("{}\n{LEAST}", good())).0.feeder.unwrap();
        assert!((feeder.response_s - 3.0 * 3.5).abs() < 1e-12, "{}", feeder.response_s);
        assert_eq!((feeder.target_pct, feeder.charge_pct, feeder.search), (80.0, Some(40.0), None));
        let off = parsed(&format!("{}\n{LEAST}charge_pct = 0\n", good())).0.feeder.unwrap();
        assert_eq!((off.charge_pct, off.peak_pct), (None, None));
    }

    #[test]
    fn what_cannot_be_is_named() {
        for (more, parts) in [
            ("[feeder]\ngain = 1\nlag_s = 2\n", ["feeder.delay_s", "s"]),
            ("[feed]\nresume_pct = 120\n", ["feed.resume_pct", "at most stop_pct"]),
            ("[feed]\nsurge_pct = 100\n", ["feed.surge_pct", "at least stop_pct"]),
            ("[feeder]\ngain = 0.05\nlag_s = 600\ndelay_s = 1\n", ["feeder.gain", "at most 16"]),
            (
                "[feeder]\ngain = 1\nlag_s = 2\ndelay_s = 1\nleast_pct = 50\nmost_pct = 40\n",
                ["feeder.least_pct", "most_pct"],
            ),
            ("[feeder]\ngain = 1\nlag_s = 2\ndelay_s = 1\njam = { tries = 0 }\n", ["feeder.jam.tries", "1 to 20"]),
            (
                "[feeder]\ngain = 1\nlag_s = 2\ndelay_s = 1\njam = { within_s = 20 }\n",
                ["feeder.jam.within_s", "at least 24 s"],
            ),
            (
                "[feeder]\ngain = 1\nlag_s = 2\ndelay_s = 1\npeak_pct = 70\n",
                ["feeder.peak_pct", "at least target_pct, 80 %"],
            ),
            (
                "[feeder]\ngain = 1\nlag_s = 2\ndelay_s = 1\nsearch = { lowest_pct = 85, highest_pct = 95 }\n",
                ["feeder.search.lowest_pct", "around target_pct"],
            ),
        ] {
            let told: String = faults(&format!("{}\n{more}", good())).iter().map(ToString::to_string).collect();
            assert!(parts.iter().all(|part| told.contains(part)), "{more}: {told}");
        }
    }

    #[test]
    fn a_loop_that_may_swing_is_warned_of() {
        let text = format!("{}\n{LEAST}response_s = 4\ntarget_pct = 115\n", good());
        let warnings: Vec<String> = parsed(&text).1.iter().map(ToString::to_string).collect();
        for part in ["feeder.response_s", "feeder.target_pct"] {
            assert!(warnings.iter().any(|warning| warning.contains(part)), "{part}: {warnings:?}");
        }
    }
}
