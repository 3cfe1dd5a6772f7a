//! The levels of the feed beside one another, and a feeder beside them.

use super::Findings;
use crate::settings::Settings;

/// All of them.
pub(super) fn check(settings: &Settings, findings: &mut Findings<'_>) {
    let feed = &settings.feed;
    let pct = |x: f64| format!("{x} %");
    if feed.resume_pct > feed.stop_pct {
        findings.fault("feed.resume_pct", pct(feed.resume_pct), format!("at most stop_pct, {} %", feed.stop_pct));
    }
    if feed.surge_pct < feed.stop_pct {
        findings.fault("feed.surge_pct", pct(feed.surge_pct), format!("at least stop_pct, {} %", feed.stop_pct));
    }
    let Some(feeder) = &settings.feeder else { return };
    if feeder.least_pct > feeder.most_pct {
        findings.fault("feeder.least_pct", pct(feeder.least_pct), format!("at most most_pct, {} %", feeder.most_pct));
    }
    let jam = &feeder.jam;
    let tried_s = (jam.tries + 1.0) * (jam.delay_s + feeder.sounder_s + jam.reverse_s);
    if jam.within_s < tried_s {
        let wanted = format!("at least {tried_s} s: one try more, each with delay, sounder and reversal");
        findings.fault("feeder.jam.within_s", format!("{} s", jam.within_s), wanted);
    }
    if jam.delay_s < feeder.whole_delay_s() + feeder.lag_s {
        let text = format!(
            "{} s: what is on its way when the feed stops arrives for {:.1} s and may look like a jam",
            jam.delay_s,
            feeder.whole_delay_s() + feeder.lag_s
        );
        findings.warn("feeder.jam.delay_s", text);
    }
    if feeder.target_pct >= feed.stop_pct {
        let text =
            format!("{} % is not below stop_pct, {} %: the feed will stop often", feeder.target_pct, feed.stop_pct);
        findings.warn("feeder.target_pct", text);
    }
    if let Some(peak_pct) = feeder.peak_pct.filter(|peak| *peak < feeder.target_pct) {
        let wanted = format!("at least target_pct, {} %", feeder.target_pct);
        findings.fault("feeder.peak_pct", format!("{peak_pct} %"), wanted);
    }
    // The core's range.
    if feeder.proportional() > 16.0 {
        let found = format!("a proportional gain of {:.1}", feeder.proportional());
        let wanted = "lag_s / (gain (response_s + delay_s + filter_s / 2)) of at most 16".to_owned();
        findings.fault("feeder.gain", found, wanted);
    }
    if feeder.response_s < 2.0 * feeder.whole_delay_s() {
        let text = format!(
            "{} s for a delay of {} s: where delay or gain turn out twice as large the loop will swing",
            feeder.response_s,
            feeder.whole_delay_s()
        );
        findings.warn("feeder.response_s", text);
    }
    if let Some(search) = feeder.search
        && !(search.lowest_pct..=search.highest_pct).contains(&feeder.target_pct)
    {
        let found = format!("{} to {} %", search.lowest_pct, search.highest_pct);
        findings.fault("feeder.search.lowest_pct", found, format!("around target_pct, {} %", feeder.target_pct));
    }
}
