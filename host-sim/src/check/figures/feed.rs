//! When the feed stops and goes on, and the feeder's governor.

use super::Lines;

/// All of it.
pub(super) fn all(out: &mut Lines<'_>) {
    let feed = out.settings.feed;
    let rated_kw = out.settings.motor.rated_power_kw;
    let kw = |pct: f64| pct / 100.0 * rated_kw;
    out.section("feed");
    out.key("stop_pct", feed.stop_pct, "%");
    out.follows("stop_kw", kw(feed.stop_pct), "kW", "shaft power above which the feed stops");
    out.key("stop_delay_s", feed.stop_delay_s, "s");
    out.key("surge_pct", feed.surge_pct, "%");
    out.key("resume_pct", feed.resume_pct, "%");
    out.follows("resume_kw", kw(feed.resume_pct), "kW", "shaft power below which it goes on");
    out.key("resume_delay_s", feed.resume_delay_s, "s");
    out.section("feeder");
    let Some(f) = out.settings.feeder else { return out.note("none is governed: a person feeds by the lamp") };
    out.key("target_pct", f.target_pct, "%");
    out.follows("target_kw", kw(f.target_pct), "kW", "shaft power that is held");
    match f.peak_pct {
        Some(pct) => out.key("peak_pct", pct, "% that 95 % of the load's windows stay below"),
        None => out.note("the target stays where it is set, however the load scatters"),
    }
    out.key("deadband_pct", f.deadband_pct, "%");
    out.key("gain", f.gain, "of load over speed, by a step test");
    out.key("lag_s", f.lag_s, "s");
    out.key("delay_s", f.delay_s, "s");
    out.key("filter_s", f.filter_s, "s");
    out.key("response_s", f.response_s, "s");
    out.follows("proportional_gain", f.proportional(), "", "lag / (gain (response + delay + filter / 2))");
    out.follows("integral_s", f.integral_s(), "s", "lag, at most 4 (response + delay + filter / 2)");
    out.key("up_pct_s", f.up_pct_s, "% a second");
    out.key("down_pct_s", f.down_pct_s, "% a second");
    out.key("least_pct", f.least_pct, "%");
    out.key("most_pct", f.most_pct, "%");
    out.key("restart_pct", f.restart_pct, "% of the last good speed");
    out.key("sounder_s", f.sounder_s, "s");
    out.key("current_pct", f.current_pct, "% of rated current");
    out.follows("current_a", f.current_pct / 100.0 * out.settings.motor.rated_current_a, "A", "that is not exceeded");
    out.key("thermal_pct", f.thermal_pct, "% of the trip level");
    match f.charge_pct {
        Some(pct) => out.key("charge_pct", pct, "% of the load that the feed accounts for"),
        None => out.note("charge in the mill is not looked at"),
    }
    out.section("feeder.jam");
    out.key("delay_s", f.jam.delay_s, "s");
    out.key("reverse_s", f.jam.reverse_s, "s");
    out.key("tries", f.jam.tries, "");
    out.key("within_s", f.jam.within_s, "s");
    let Some(search) = f.search else { return };
    out.section("feeder.search");
    out.key("lowest_pct", search.lowest_pct, "%");
    out.key("highest_pct", search.highest_pct, "%");
    out.key("step_pct", search.step_pct, "%");
    out.key("dwell_s", search.dwell_s, "s");
}
