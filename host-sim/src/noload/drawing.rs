//! Constant losses over the square of voltage (SVG): levels of the line filled, others hollow, the line dashed to 0 V;
//! readable without colour.

use std::fmt::Write as _;

use super::Learnt;
use super::separate::{Separation, Split};
use crate::svg::{self, WIDTH, capital};

/// Left, top, right and bottom of the axes.
const AXES: [f64; 4] = [80.0, 60.0, WIDTH - 30.0, 400.0];
/// Where the words begin.
const WORDS: f64 = 470.0;
/// Ticks of an axis, about.
const TICKS: f64 = 5.0;

/// A document of its own.
pub fn svg(learnt: &Learnt<'_>) -> String {
    let Separation { friction, core, sum, split, slope, constant_w, used, .. } = &learnt.separation;
    let rated_v = learnt.settings.motor.rated_voltage_v;
    let square = |volts: f64| volts * volts;
    let most = |all: &mut dyn Iterator<Item = f64>| 1.08 * all.fold(f64::MIN_POSITIVE, f64::max);
    let most_x = most(&mut learnt.levels.iter().map(|level| square(level.line_v)).chain([square(rated_v)]));
    let most_y = most(&mut constant_w.iter().copied().chain([sum.value]));
    let [left, top, right, bottom] = AXES;
    let x = |v2: f64| left + v2 / most_x * (right - left);
    let y = |watts: f64| bottom - watts / most_y * (bottom - top);
    let mut out = String::new();
    let _ =
        writeln!(out, "<path d=\"M{left} {top}V{bottom}H{right}\" fill=\"none\" stroke=\"#000\"/><g font-size=\"12\">");
    for v2 in ticks(most_x) {
        let at = x(v2);
        let _ = writeln!(
            out,
            "<path d=\"M{at:.1} {bottom}v5\" stroke=\"#000\"/><text x=\"{at:.1}\" y=\"{}\" text-anchor=\"middle\">{v2}</text>\
             <text x=\"{at:.1}\" y=\"{}\" text-anchor=\"middle\" fill=\"#555\">{:.0} V</text>",
            bottom + 18.0,
            bottom + 33.0,
            v2.sqrt()
        );
    }
    for watts in ticks(most_y) {
        let at = y(watts);
        let _ = writeln!(
            out,
            "<path d=\"M{left} {at:.1}H{right}\" stroke=\"#ddd\"/><text x=\"{}\" y=\"{:.1}\" text-anchor=\"end\">{watts}</text>",
            left - 8.0,
            at + 4.0
        );
    }
    let _ = writeln!(
        out,
        "</g><g font-size=\"13\"><text x=\"{right}\" y=\"{}\" text-anchor=\"end\">voltage squared, V²</text>\
         <text x=\"16\" y=\"{}\">input less stator copper, W</text></g>",
        bottom + 50.0,
        top - 12.0
    );
    if *split == Split::Line {
        let _ = writeln!(
            out,
            "<path d=\"M{:.1} {:.1}L{:.1} {:.1}\" stroke=\"#000\" stroke-width=\"1.5\" stroke-dasharray=\"7 4\"/>\
             <text x=\"{:.1}\" y=\"{:.1}\" font-size=\"13\">{:.1} W at 0 V</text>",
            x(0.0),
            y(friction.value),
            right,
            y(friction.value + slope * most_x),
            left + 12.0,
            y(friction.value) + 28.0,
            friction.value
        );
    }
    for ((level, watts), used) in learnt.levels.iter().zip(constant_w).zip(used) {
        let _ = writeln!(
            out,
            "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"5\" fill=\"{}\" stroke=\"#000\" stroke-width=\"1.5\"><title>{watts:.1} W at {:.1} \
             V</title></circle>",
            x(square(level.line_v)),
            y(*watts),
            if *used { "#000" } else { "#fff" },
            level.line_v
        );
    }
    let headline = format!(
        "friction and windage {:.1} W (± {:.1}), core loss {:.1} W (± {:.1}) at {rated_v} V",
        friction.value, friction.band, core.value, core.band
    );
    let mut words = vec![(capital(&headline), true), ("Filled: levels that make the line.".to_owned(), false)];
    words.extend(learnt.notes.iter().map(|note| (capital(note), false)));
    svg::page("Loss without load", learnt.trace, &headline, WORDS, &out, &words)
}

/// Round figures from 0 up to an axis' end.
fn ticks(most: f64) -> impl Iterator<Item = f64> {
    let rough = most / TICKS;
    let power = 10_f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].into_iter().map(|k| k * power).find(|step| *step >= rough).unwrap_or(rough);
    (0..=(most / step) as u32).map(move |k| f64::from(k) * step)
}
