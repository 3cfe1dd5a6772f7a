//! The seconds around a trace's event, and when every setting trips.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use super::front::nice;
use crate::svg::{Axes, tenth};
use crate::trip_study::course::Point;
use crate::trip_study::verdict::Verdict;
use crate::trip_study::{Found, Studied};

const WIDTH: f64 = 560.0;
const HEIGHT: f64 = 284.0;
/// Left, top, right, bottom of currents and power.
const PLOT: [f64; 4] = [44.0, 20.0, 550.0, 170.0];
/// Top and bottom of the strip of decisions.
const STRIP: [f64; 2] = [180.0, 238.0];
/// Seconds before and after what happens; after a jam as long as a trip may take, and this.
const AROUND_S: [f64; 2] = [1.5, 0.5];
/// Nothing beyond is drawn, %.
const MOST_PCT: f64 = 800.0;

/// The drawing.
pub fn svg(found: &Found, studied: &Studied) -> String {
    let rules = found.rules;
    let event_s = event_s(found, studied);
    let after_s = if studied.trace.verdict == Verdict::Honest {
        AROUND_S[0] + rules.early_s
    } else {
        rules.allowed_s + AROUND_S[1]
    };
    let from_s = (event_s - AROUND_S[0] - rules.early_s).max(0.0);
    let to_s = (event_s + after_s).min(studied.length_s).max(from_s + 1.0);
    let points: Vec<&Point> =
        studied.course.0.iter().filter(|point| (from_s..=to_s).contains(&f64::from(point.t_s))).collect();
    let highest = points.iter().map(|point| f64::from(point.current_pct.max(point.load_pct))).fold(150.0, f64::max);
    let step_pct = nice(highest.min(MOST_PCT) / 4.0);
    let axes = Axes { place: PLOT, x: [from_s, to_s], y: [0.0, (highest.min(MOST_PCT) / step_pct).ceil() * step_pct] };
    let [_, top, right, _] = PLOT;
    let x = |s: f64| tenth(axes.x(s.clamp(from_s, to_s)));
    let mut out = format!(
        "<svg viewBox=\"0 0 {WIDTH} {HEIGHT}\" role=\"img\" aria-label=\"{}\">\n",
        if studied.trace.verdict == Verdict::Honest {
            "Current, power and trips where it was heaviest"
        } else {
            "Current, power and trips around the jam"
        }
    );
    if let Verdict::Jam(t_s) = studied.trace.verdict {
        let (begin, end) = (x(t_s - rules.early_s), x(t_s + rules.allowed_s));
        let _ = write!(
            out,
            "<rect class=\"in-time\" x=\"{begin}\" y=\"{top}\" width=\"{}\" height=\"{}\"/>",
            tenth(end - begin),
            STRIP[1] - top
        );
        let _ = writeln!(
            out,
            "<path class=\"jam\" d=\"M{0} {top}V{1}\"/><text class=\"jam\" x=\"{0}\" y=\"{2}\" text-anchor=\"middle\">jam</text>",
            x(t_s),
            STRIP[1],
            top - 6.0
        );
    }
    grid(&mut out, &axes, step_pct);
    for (class, value) in [("load", (|p| p.load_pct) as fn(&Point) -> f32), ("current", |p| p.current_pct)] {
        let line: Vec<String> = points
            .iter()
            .map(|p| format!("{},{}", x(p.t_s.into()), tenth(axes.y(f64::from(value(p)).clamp(0.0, axes.y[1])))))
            .collect();
        let _ = writeln!(out, "<polyline class=\"{class}\" points=\"{}\"/>", line.join(" "));
    }
    strip(&mut out, found, studied, [from_s, to_s], x);
    let base = found.base();
    for (class, n) in [("as-set", base), ("chosen", found.recommended.0)] {
        if let Some(t_s) = studied.rows[n].trip_s.filter(|s| (from_s..=to_s).contains(s)) {
            let _ = writeln!(out, "<path class=\"{class}\" d=\"M{} {top}V{}\"/>", x(t_s), STRIP[1]);
        }
    }
    let _ = writeln!(out, "<text x=\"{right}\" y=\"{}\" text-anchor=\"end\">s</text>", HEIGHT - 10.0);
    out + "</svg>"
}

/// What is looked at: the jam; of honest work the false trip of the recommended setting, or else where most settings trip, or else
/// where it was heaviest.
fn event_s(found: &Found, studied: &Studied) -> f64 {
    let row = &studied.rows[found.recommended.0];
    match (studied.trace.verdict, row.trip_s) {
        (Verdict::Jam(t_s), _) => t_s,
        (Verdict::Honest, Some(trip_s)) => trip_s,
        (Verdict::Honest, None) => most_trips_s(studied).unwrap_or_else(|| studied.course.heaviest_s()),
    }
}

/// The tenth of a second in which most settings trip, s; the first of those.
fn most_trips_s(studied: &Studied) -> Option<f64> {
    let mut trips: BTreeMap<u64, usize> = BTreeMap::new();
    for trip_s in studied.rows.iter().filter_map(|row| row.trip_s) {
        *trips.entry((trip_s * 10.0) as u64).or_default() += 1;
    }
    let most = trips.into_iter().max_by(|(a, m), (b, n)| m.cmp(n).then(b.cmp(a)));
    most.map(|(tenth, _)| tenth as f64 / 10.0)
}

fn grid(out: &mut String, axes: &Axes, step_pct: f64) {
    let [_, _, _, bottom] = PLOT;
    let mut pct = 0.0;
    while pct <= axes.y[1] + 1.0 {
        out.push_str(&axes.across(pct, pct));
        pct += step_pct;
    }
    let step_s = nice((axes.x[1] - axes.x[0]) / 8.0);
    let mut t_s = (axes.x[0] / step_s).ceil() * step_s;
    while t_s <= axes.x[1] + 1e-9 {
        let x = tenth(axes.x(t_s));
        // Nothing has no sign.
        let shown = (t_s * 1e3).round() / 1e3 + 0.0;
        let _ = write!(
            out,
            "<path class=\"grid\" d=\"M{x} {bottom}v4M{x} {}v4\"/><text x=\"{x}\" y=\"{}\" text-anchor=\"middle\">{shown}</text>",
            STRIP[1],
            STRIP[1] + 18.0
        );
        t_s += step_s;
    }
    out.push('\n');
}

/// Every setting's trip: in time or not, from the first setting above to the last below.
fn strip(out: &mut String, found: &Found, studied: &Studied, [from_s, to_s]: [f64; 2], x: impl Fn(f64) -> f64) {
    let [left, _, right, _] = PLOT;
    let [top, bottom] = STRIP;
    let _ = write!(
        out,
        "<rect class=\"strip\" x=\"{left}\" y=\"{top}\" width=\"{}\" height=\"{}\"/>",
        right - left,
        bottom - top
    );
    let all = &studied.rows[..found.base()];
    let mut ticks: [BTreeSet<(i64, i64)>; 2] = [BTreeSet::new(), BTreeSet::new()];
    let (mut before, mut after, mut never) = (0usize, 0usize, 0usize);
    for (n, row) in all.iter().enumerate() {
        match row.trip_s {
            None => never += 1,
            Some(t_s) if t_s < from_s => before += 1,
            Some(t_s) if t_s > to_s => after += 1,
            Some(t_s) => {
                let y = top + 2.0 + (n as f64 + 0.5) / all.len() as f64 * (bottom - top - 4.0);
                // Half a unit is as fine as is seen: what falls together is one dot.
                let at = ((x(t_s) * 2.0).round() as i64, (y * 2.0).round() as i64);
                ticks[usize::from(!row.outcome.right())].insert(at);
            }
        }
    }
    for (class, ticks) in ["ticks", "ticks wrong"].into_iter().zip(&ticks) {
        *out += &super::dots(class, ticks.iter().map(|(x, y)| (*x as f64 / 2.0, *y as f64 / 2.0)));
    }
    let words = |n: usize, what: &str| if n > 0 { Some(format!("{n} {what}")) } else { None };
    let told: Vec<String> = [words(before, "trip earlier"), words(after, "trip later"), words(never, "never trip")]
        .into_iter()
        .flatten()
        .collect();
    let told = if told.is_empty() { "all trip here".to_owned() } else { told.join(", ") };
    let _ = writeln!(out, "<text x=\"{left}\" y=\"{}\">of {} settings {told}</text>", HEIGHT - 10.0, all.len());
}
