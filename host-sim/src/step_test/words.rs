//! What was found for people, as lines to paste, and as a document.

use std::fmt::Write as _;

use serde_json::{Value, json};

use super::curve::{Curve, NO_FEED_T_H, Sign};
use super::point::Held;
use super::response::{Answer, Response};
use super::step::Step;
use super::{By, Found, SETTLED_LAGS};
use crate::report::number::{figure, seconds};
use crate::settings::{Settings, limits};
use crate::wiring::words::fill;

/// What the tuning rule bears, times what was found.
const BEARS: f64 = 2.0;

/// For people; the lines of `[feeder]` last.
pub fn text(found: &Found) -> String {
    let mut out = format!("{}: a step test\n\n", found.of);
    out.push_str(" step   from s    to s  feeder %     t/h  load %  lasts      kW  kWh/t gross   kWh/t net\n");
    for (n, step) in found.steps.iter().enumerate() {
        let [gross, net] = step.row.specific().map(with_band);
        let speed = step.speed.map_or("-".to_owned(), |speed| format!("{:.1}", 100.0 * speed));
        let _ = writeln!(
            out,
            "{:>5}{:>9.1}{:>8.1}{speed:>10}{:>8.3}{:>8.1}{:>7.1}{:>8.2}{gross:>13}{net:>12}{}",
            n + 1,
            step.from_s,
            step.to_s,
            step.t_h,
            100.0 * step.load,
            100.0 * step.p95,
            step.kw,
            if found.choke.is_some_and(|(at, _)| at == n) { "  choke" } else { "" }
        );
    }
    out.push('\n');
    for sentence in sentences(found) {
        let _ = writeln!(out, "{}", fill(&sentence, "  "));
    }
    out.push('\n');
    for note in &found.notes {
        let _ = writeln!(out, "{}", fill(note, "* "));
    }
    let keys = keys(found);
    if !keys.is_empty() {
        out.push_str("\n[feeder]\n");
        for (key, value) in keys {
            let _ = writeln!(out, "{key} = {value:?}");
        }
    }
    out
}

fn with_band(figure: Option<(f64, Option<f64>)>) -> String {
    match figure {
        None => "-".to_owned(),
        Some((x, None)) => format!("{x:.2}"),
        Some((x, Some(band))) => format!("{x:.2} ±{band:.1}"),
    }
}

/// What it comes to, a sentence each.
pub fn sentences(found: &Found) -> Vec<String> {
    let mut all = Vec::new();
    match &found.curve {
        None => all.push("no curve: fewer than two rates lie below the choke".to_owned()),
        Some(curve) => all.push(formula(curve)),
    }
    all.push(choke(found));
    match (&found.point, &found.curve) {
        (Some(point), Some(curve)) => {
            let step = &found.steps[point.step];
            let band = curve.at(step.t_h).map_or(String::new(), |(x, band)| format!(", {x:.1} ± {band:.1} kWh/t"));
            let why = match point.held {
                Held::Choke => "the next step chokes",
                Held::FeedStop => "with the next step the load comes too near to the feed stop",
                Held::Thermal => "the next step would heat the motor too much in the end",
                Held::Fed => "no more was fed",
            };
            all.push(format!("set point: {:.3} t/h at {:.0} % load{band}; {why}", step.t_h, 100.0 * point.load));
        }
        _ => all
            .push("no set point: no step below the choke feeds something and leaves the motor its reserve".to_owned()),
    }
    all.push(found.answer.map_or_else(
        || "no answer of the load that can be told from its scatter: no gain, lag and delay".to_owned(),
        |all| answer(found, &all),
    ));
    all
}

fn formula(curve: &Curve) -> String {
    let [(idle, idle_band), (e, e_band)] = [curve.idle(), curve.breaking()];
    let [low, high] = curve.rates_t_h;
    let ends = [low, high].map(|t_h| curve.at(t_h).unwrap_or((f64::NAN, f64::NAN)));
    format!(
        "energy: kWh/t = {e:.2} (± {e_band:.2}) + {idle:.2} kW (± {idle_band:.2}) / rate, from {low:.3} t/h ({:.1} ± {:.1} kWh/t) to {high:.3} \
         t/h ({:.1} ± {:.1}); nothing is said of other rates",
        ends[0].0, ends[0].1, ends[1].0, ends[1].1
    )
}

fn choke(found: &Found) -> String {
    let Some((at, sign)) = found.choke else {
        return format!(
            "no choke up to {:.3} t/h, the most that was fed",
            found.steps.last().map_or(0.0, |step| step.t_h)
        );
    };
    let why = match sign {
        Sign::Stopped => "the load stopped the feed or tripped",
        Sign::AboveStop => "the load lasted above the feed stop's level",
        Sign::Rising => "the load rose while the feed was held",
        Sign::Dearer => "it cost more than the line tells",
    };
    let below = found.steps[..at].last().map_or(0.0, |step| step.t_h);
    format!("choke: between {below:.3} and {:.3} t/h (step {}: {why})", found.steps[at].t_h, at + 1)
}

fn answer(found: &Found, answer: &Answer) -> String {
    let of = match found.by {
        By::Speed => "of load for a share of speed",
        By::Rate => "of load for 1 t/h",
    };
    let Answer { best, safest, lags_s, delays_s, sums_s } = answer;
    let range = |[low, high]: [f64; 2]| format!("{low:.1} to {high:.1} s");
    format!(
        "answer of the load: gain {:.2} {of}, lag {:.2} s ({}), delay {:.2} s ({}), both together {}; the model accounts for {:.0} % of \
         the load's changes. For the tuning the longest delay is taken, {:.2} s with a lag of {:.2} s: it is the safest",
        best.gain * found.slope.unwrap_or(f64::NAN),
        best.lag_s,
        range(*lags_s),
        best.delay_s,
        range(*delays_s),
        range(*sums_s),
        100.0 * best.share,
        safest.delay_s,
        safest.lag_s
    )
}

/// What a reader should know; `longest_lag_s` is that for which the steps were long enough.
pub fn notes(found: &Found, settings: &Settings, longest_lag_s: f64) -> Vec<String> {
    let mut out = Vec::new();
    if let Some(curve) = &found.curve {
        if curve.share.is_none() {
            let words = "± is by scatter alone: with [accuracy] in the settings it has the errors of instruments, nameplate and model too";
            out.push(words.to_owned());
        }
        if !found.steps[..curve.good].iter().any(|step| step.t_h < NO_FEED_T_H) {
            let words = "the empty mill was not run: what it takes is the line carried on to no feed. Begin with two minutes without feed";
            out.push(words.to_owned());
        }
        if curve.good < 4 {
            out.push(format!("{} steps make the line: too few to see whether it is one", curve.good));
        }
    }
    if let Some(answer) = &found.answer {
        let [_, lag_s] = answer.lags_s;
        if lag_s > longest_lag_s {
            let hold_s = 2.0 * SETTLED_LAGS * lag_s;
            out.push(format!(
                "the steps may be too short for the load to settle: hold each for {hold_s:.0} s or longer"
            ));
        }
        let [shortest_s, longest_s] = answer.delays_s;
        if longest_s - shortest_s > 0.5 * answer.sums_s[1] {
            let words = "lag and delay are told apart badly. Large steps up and down tell them better: with a scenario, --speeds \
                         20,60,20,60,20,60,70,80,90,100";
            out.push(words.to_owned());
        }
        let steepest = found.gains.iter().map(|[gain, u]| gain - 2.0 * u).fold(0.0, f64::max);
        if found.slope.is_some_and(|slope| steepest > BEARS * slope) {
            out.push(format!(
                "one step has a gain of {steepest:.2} at least, more than {BEARS} times that of all together: the tuning does not bear that. \
                 Take that gain, or hold a lower target"
            ));
        }
        if found.gain.is_none() {
            let words = "the trace tells rates and no speeds: with --full-t-h, what the feeder brings at full speed, the gain can be told";
            out.push(words.to_owned());
        }
    }
    if settings.motor.service_factor > 1.0 && found.point.is_some_and(|point| point.load > 1.0) {
        out.push("the set point lies above rated power: what the motor is rated for is its maker's to say".to_owned());
    }
    out
}

/// The keys for `[feeder]`, as far as they are known.
pub fn keys(found: &Found) -> Vec<(&'static str, f64)> {
    let round = |x: f64, to: f64| (x * to).round() / to;
    let mut all = Vec::new();
    if let (Some(gain), Some(answer)) = (found.gain, found.answer) {
        all.push(("gain", round(limits::FEEDER_GAIN.nearest(gain), 1e3)));
        all.push(("lag_s", round(limits::FEEDER_LAG_S.nearest(answer.safest.lag_s), 1e2)));
        all.push(("delay_s", round(limits::FEEDER_DELAY_S.nearest(answer.safest.delay_s), 1e2)));
    }
    if let Some(point) = &found.point {
        all.push(("target_pct", round(limits::TARGET_PCT.nearest(100.0 * point.load), 1.0)));
    }
    all
}

/// For programs.
pub fn document(found: &Found) -> Value {
    let curve = found.curve.as_ref();
    json!({
        "format": "shaftwork-step-test/1",
        "trace": found.of,
        "steps": found.steps.iter().map(step).collect::<Vec<_>>(),
        "curve": curve.map(|curve| {
            let [(idle_kw, idle_band_kw), (kwh_per_t, band)] = [curve.idle(), curve.breaking()];
            let [low, high] = curve.rates_t_h;
            let at = |n: u32| {
                let t_h = low + (high - low) * f64::from(n) / 20.0;
                curve.at(t_h).map(|(x, band)| json!({ "t_h": figure(t_h), "kwh_per_t": figure(x), "band_kwh_per_t": figure(band) }))
            };
            json!({
                "idle_kw": figure(idle_kw),
                "idle_band_kw": figure(idle_band_kw),
                "breaking_kwh_per_t": figure(kwh_per_t),
                "breaking_band_kwh_per_t": figure(band),
                "steps": curve.good,
                "from_t_h": figure(low),
                "to_t_h": figure(high),
                "points": (0..=20).filter_map(at).collect::<Vec<_>>(),
            })
        }),
        "choke": found.choke.map(|(at, sign)| json!({
            "step": at + 1,
            "sign": sign,
            "above_t_h": at.checked_sub(1).map(|below| figure(found.steps[below].t_h)),
            "at_most_t_h": figure(found.steps[at].t_h),
        })),
        "set_point": found.point.map(|point| {
            let t_h = found.steps[point.step].t_h;
            let energy = curve.and_then(|curve| curve.at(t_h));
            json!({
                "step": point.step + 1,
                "t_h": figure(t_h),
                "load_pct": figure(100.0 * point.load),
                "kwh_per_t": energy.map(|(x, _)| figure(x)),
                "band_kwh_per_t": energy.map(|(_, band)| figure(band)),
                "held_by": point.held,
            })
        }),
        "answer": found.answer.map(|answer| json!({
            "gain_of": match found.by { By::Speed => "share of full speed", By::Rate => "t/h" },
            "best": response(&answer.best, found.slope),
            "safest": response(&answer.safest, found.slope),
            "lag_s": answer.lags_s.map(figure),
            "delay_s": answer.delays_s.map(figure),
            "sum_s": answer.sums_s.map(figure),
            "gains": found.gains.iter().map(|[gain, u]| json!({ "gain": figure(*gain), "band": figure(2.0 * u) })).collect::<Vec<_>>(),
        })),
        "feeder": keys(found).into_iter().map(|(key, value)| (key.to_owned(), value.into())).collect::<serde_json::Map<_, _>>(),
        "notes": found.notes,
    })
}

fn step(step: &Step) -> Value {
    json!({
        "from_s": seconds(step.from_s),
        "steady_s": seconds(step.steady_s),
        "to_s": seconds(step.to_s),
        "feeder_pct": step.speed.map(|speed| figure(100.0 * speed)),
        "t_h": figure(step.t_h),
        "electrical_kw": figure(step.kw),
        "load_pct": figure(100.0 * step.load),
        "p95_load_pct": figure(100.0 * step.p95),
        "final_thermal_pct": step.thermal.map(|level| figure(100.0 * level)),
        "gross_kwh_per_t": step.row.gross_kwh_per_t,
        "gross_band_kwh_per_t": step.row.gross_band_kwh_per_t,
        "net_kwh_per_t": step.row.net_kwh_per_t,
        "net_band_kwh_per_t": step.row.net_band_kwh_per_t,
        "why": step.row.why,
    })
}

fn response(response: &Response, slope: Option<f64>) -> Value {
    json!({
        "gain": slope.map(|slope| figure(slope * response.gain)),
        "lag_s": figure(response.lag_s),
        "delay_s": figure(response.delay_s),
        "share_pct": figure(100.0 * response.share),
    })
}
