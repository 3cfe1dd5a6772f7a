//! Constant losses over the square of voltage (SVG): levels of the line filled, others hollow, the line dashed to 0 V;
//! readable without colour.

use std::fmt::Write as _;

use super::Learnt;
use super::separate::{Separation, Split};
use crate::svg::{self, Axes, WIDTH, capital};

/// Left, top, right and bottom of the axes.
const AXES: [f64; 4] = [80.0, 60.0, WIDTH - 30.0, 400.0];
/// Where the words begin.
const WORDS: f64 = 470.0;

/// A document of its own.
pub fn svg(learnt: &Learnt<'_>) -> String {
    let Separation { friction, core, sum, split, slope, constant_w, used, .. } = &learnt.separation;
    let rated_v = learnt.settings.motor.rated_voltage_v;
    let square = |volts: f64| volts * volts;
    let most = |all: &mut dyn Iterator<Item = f64>| 1.08 * all.fold(f64::MIN_POSITIVE, f64::max);
    let most_x = most(&mut learnt.levels.iter().map(|level| square(level.line_v)).chain([square(rated_v)]));
    let most_y = most(&mut constant_w.iter().copied().chain([sum.value]));
    let axes = Axes { place: AXES, x: [0.0, most_x], y: [0.0, most_y] };
    let [left, _, right, bottom] = AXES;
    let (x, y) = (|v2: f64| axes.x(v2), |watts: f64| axes.y(watts));
    let mut out = axes.frame("voltage squared, V²", "input less stator copper, W");
    for level in &learnt.levels {
        let _ = writeln!(
            out,
            "<text x=\"{:.1}\" y=\"{:.1}\" font-size=\"12\" text-anchor=\"middle\" fill=\"#555\">{:.0} V</text>",
            x(square(level.line_v)),
            bottom - 6.0,
            level.line_v
        );
    }
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
