//! All settings by time to the trip and room on honest work, the front among them.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use crate::svg::{Axes, tenth};
use crate::trip_study::Found;
use crate::trip_study::score::Score;

const WIDTH: f64 = 560.0;
const HEIGHT: f64 = 300.0;
/// Left, top, right, bottom of the plot.
const PLOT: [f64; 4] = [48.0, 14.0, 546.0, 254.0];

/// The drawing.
pub fn svg(found: &Found) -> String {
    let scores = &found.scores[0];
    let times = scores.iter().filter_map(|score| score.mean_s);
    let (low, high) = times.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), s| (low.min(s), high.max(s)));
    let (low, high) = if low <= high { (low.min(0.0), high.max(0.1)) } else { (0.0, 1.0) };
    let step = nice((high - low) / 6.0);
    let best = scores.iter().filter(|score| score.mean_s.is_some()).map(Score::margin).fold(0.1, f64::max);
    let (rise, most) = rise(best);
    let axes = Axes { place: PLOT, x: [(low / step).floor() * step, (high / step).ceil() * step], y: [0.0, most] };
    let mut out = format!(
        "<svg viewBox=\"0 0 {WIDTH} {HEIGHT}\" role=\"img\" aria-label=\"Settings by mean time to the trip and room left on honest work\">\n"
    );
    let [_, _, right, bottom] = PLOT;
    for n in 0..=(most / rise).round() as u32 {
        let share = f64::from(n) * rise;
        out += &axes.across(share, format_args!("{} %", (share * 100.0).round()));
    }
    let mut t_s = axes.x[0];
    while t_s <= axes.x[1] + step / 2.0 {
        out += &axes.upright(t_s, (t_s * 1e3).round() / 1e3);
        t_s += step;
    }
    let _ = writeln!(
        out,
        "<text x=\"{right}\" y=\"{}\" text-anchor=\"end\">mean time to the trip, s</text>",
        bottom + 36.0
    );
    let least = found.front.iter().map(|n| scores[*n].mistakes()).min().unwrap_or(0);
    let at = |score: &Score| score.mean_s.map(|s| (tenth(axes.x(s)), tenth(axes.y(score.margin()))));
    let dots = |class: &str, holds: &dyn Fn(&Score) -> bool| {
        // Those on one dot of the screen are one.
        let all: BTreeSet<(i64, i64)> = scores[..found.base()]
            .iter()
            .filter(|score| holds(score))
            .filter_map(at)
            .map(|(x, y)| (x.round() as i64, y.round() as i64))
            .collect();
        super::dots(class, all.into_iter().map(|(x, y)| (x as f64, y as f64))) + "\n"
    };
    out += &dots("dots faint", &|score| score.mistakes() > least);
    out += &dots("dots", &|score| score.mistakes() == least);
    let line: Vec<String> =
        found.front.iter().filter_map(|n| at(&scores[*n])).map(|(x, y)| format!("{x},{y}")).collect();
    let _ = writeln!(out, "<polyline class=\"front\" points=\"{}\"/>", line.join(" "));
    if let Some((x, y)) = at(&scores[found.base()]) {
        let _ = writeln!(out, "<path class=\"as-set\" d=\"M{} {}l12 12m0 -12l-12 12\"/>", x - 6.0, y - 6.0);
    }
    if let Some((x, y)) = at(&scores[found.recommended.0]) {
        let _ = writeln!(out, "<circle class=\"chosen\" cx=\"{x}\" cy=\"{y}\" r=\"7\"/>");
    }
    out + "</svg>"
}

/// Step and end of an axis of shares that holds this one.
fn rise(best: f64) -> (f64, f64) {
    let step = nice(best / 5.0);
    (step, ((best / step - 1e-9).ceil() * step).min(1.0))
}

/// A step of 1, 2 or 5 that is no less.
pub fn nice(least: f64) -> f64 {
    let unit = 10f64.powf(least.max(1e-6).log10().floor());
    [1.0, 2.0, 5.0, 10.0].into_iter().map(|n| n * unit).find(|step| *step >= least * 0.999_999).unwrap_or(least)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round() {
        for (least, wanted) in [(0.03, 0.05), (0.05, 0.05), (0.051, 0.1), (0.2, 0.2), (1.1, 2.0), (7.0, 10.0)] {
            assert!((nice(least) - wanted).abs() < 1e-9, "{least}: {}", nice(least));
        }
    }
}
