//! Energy a tonne over rate, and the answer of the load, one below the other (SVG); readable without colour.

use std::fmt::Write as _;

use super::curve::NO_FEED_T_H;
use super::{Found, words};
use crate::settings::Settings;
use crate::svg::{self, Axes, WIDTH, capital};

/// Place of the curve, left, top, right, bottom.
const CURVE: [f64; 4] = [70.0, 70.0, WIDTH - 30.0, 350.0];
/// Place of the answer.
const ANSWER: [f64; 4] = [70.0, 440.0, WIDTH - 30.0, 620.0];
/// Where the words begin.
const WORDS: f64 = 690.0;
/// Points of a line.
const POINTS: u32 = 60;

/// A document of its own.
pub fn svg(found: &Found, settings: &Settings) -> String {
    let sentences = words::sentences(found);
    let about = sentences.join(". ");
    let mut rows: Vec<(String, bool)> = sentences.iter().map(|words| (capital(words), true)).collect();
    rows.extend(found.notes.iter().map(|note| (capital(note), false)));
    let figure = curve(found) + &answer(found, settings);
    svg::page("Step test", &found.of, &about, WORDS, &figure, &rows)
}

/// Points with their bands, the line with its own, the choke.
fn curve(found: &Found) -> String {
    let fed = || found.steps.iter().filter(|step| step.t_h > NO_FEED_T_H);
    let most_x = fed().map(|step| step.t_h).fold(f64::MIN_POSITIVE, f64::max);
    let most_y = fed().filter_map(|step| step.row.gross_kwh_per_t).fold(f64::MIN_POSITIVE, f64::max);
    let axes = Axes { place: CURVE, x: [0.0, 1.08 * most_x], y: [0.0, 1.15 * most_y] };
    let mut out = axes.frame("rate, t/h", "energy a tonne, kWh/t: gross (filled), net (hollow)");
    if let Some(curve) = &found.curve {
        let [low, high] = curve.rates_t_h;
        let at = |n: u32| low + (high - low) * f64::from(n) / f64::from(POINTS);
        let places = |of: fn(f64, f64) -> f64| -> Vec<String> {
            let place = |t_h: f64| {
                curve.at(t_h).map(|(x, band)| format!("{:.1} {:.1}", axes.x(t_h), axes.y(of(x, band).max(0.0))))
            };
            (0..=POINTS).filter_map(|n| place(at(n))).collect()
        };
        let (upper, lower) = (places(|x, band| x + band), places(|x, band| x - band));
        let lower: Vec<String> = lower.into_iter().rev().collect();
        let _ = writeln!(
            out,
            "<path d=\"M{}L{}Z\" fill=\"#000\" fill-opacity=\"0.12\"/>\
             <path d=\"M{}\" fill=\"none\" stroke=\"#000\" stroke-width=\"1.5\"/>",
            upper.join("L"),
            lower.join("L"),
            places(|x, _| x).join("L")
        );
    }
    if let Some((at, _)) = found.choke {
        let below = at.checked_sub(1).map_or(0.0, |below| found.steps[below].t_h);
        let [left, right] = [below, found.steps[at].t_h].map(|t_h| axes.x(t_h));
        let [_, top, _, bottom] = CURVE;
        let _ = writeln!(
            out,
            "<path d=\"M{left:.1} {top}V{bottom}M{right:.1} {top}V{bottom}\" stroke=\"#000\" stroke-dasharray=\"3 4\"/>\
                 <text x=\"{:.1}\" y=\"{}\" font-size=\"13\" text-anchor=\"end\">chokes in here</text>",
            right - 4.0,
            top + 14.0
        );
    }
    for (n, step) in found.steps.iter().enumerate().filter(|(_, step)| step.t_h > NO_FEED_T_H) {
        for (kwh_t, fill) in [(step.row.gross_kwh_per_t, "#000"), (step.row.net_kwh_per_t, "#fff")] {
            let Some(kwh_t) = kwh_t else { continue };
            let _ = writeln!(
                out,
                "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"5\" fill=\"{fill}\" stroke=\"#000\" stroke-width=\"1.5\"><title>step {}: {kwh_t} \
                 kWh/t at {:.3} t/h</title></circle>",
                axes.x(step.t_h),
                axes.y(kwh_t.max(0.0)),
                n + 1,
                step.t_h
            );
        }
    }
    if let Some(point) = &found.point {
        let step = &found.steps[point.step];
        let _ = writeln!(
            out,
            "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"10\" fill=\"none\" stroke=\"#000\"/>",
            axes.x(step.t_h),
            axes.y(step.row.gross_kwh_per_t.unwrap_or(0.0))
        );
    }
    out
}

/// Load over time and the model's; the feed stop's level.
fn answer(found: &Found, settings: &Settings) -> String {
    let (Some(first), Some(last)) = (found.readings.first(), found.readings.last()) else { return String::new() };
    let stop = settings.feed.stop_pct;
    let most = found.readings.iter().map(|reading| 100.0 * reading.y).fold(stop, f64::max);
    let axes = Axes { place: ANSWER, x: [first.t_s, last.t_s], y: [0.0, 1.05 * most] };
    let mut out = axes.frame("time, s", "load, % of rated power; dashed: the model; dotted: the feed stop's level");
    let line = |loads: &mut dyn Iterator<Item = f64>| -> String {
        let place = |(reading, load): (&super::Reading, f64)| {
            format!("{:.1} {:.1}", axes.x(reading.t_s), axes.y(100.0 * load.max(0.0)))
        };
        found.readings.iter().zip(loads).map(place).collect::<Vec<_>>().join("L")
    };
    let _ = writeln!(
        out,
        "<path d=\"M{}\" fill=\"none\" stroke=\"#999\"/>\
         <path d=\"M{} {at:.1}H{}\" stroke=\"#000\" stroke-dasharray=\"1 4\"/>",
        line(&mut found.readings.iter().map(|reading| reading.y)),
        ANSWER[0],
        ANSWER[2],
        at = axes.y(stop)
    );
    if let Some(answer) = &found.answer {
        let model = answer.best.model(&found.readings);
        let _ = writeln!(
            out,
            "<path d=\"M{}\" fill=\"none\" stroke=\"#000\" stroke-width=\"1.5\" stroke-dasharray=\"7 4\"/>",
            line(&mut model.into_iter())
        );
    }
    out
}
