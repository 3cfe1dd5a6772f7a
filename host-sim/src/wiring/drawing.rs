//! The phasors as arrows (SVG): voltages solid, currents dashed, a letter at each tip; readable without colour.
//!
//! The first voltage points to the right; a phase that comes later stands further clockwise. Voltages are drawn to their
//! nominal size, currents to the largest of them.

use std::fmt::Write as _;

use super::Result;
use super::figures::{angles, nominal_v, sizes};
use crate::svg::{self, WIDTH, capital};

/// Of the figure; the words stand below it.
const CENTRE: [f64; 2] = [350.0, 256.0];
/// Length of a nominal voltage, and of the largest current.
const LONG: [f64; 2] = [170.0, 115.0];
/// The longest arrow.
const LONGEST: f64 = 185.0;
/// Letters that are nearer to each other than this, degrees, go to different distances.
const CLOSE: f64 = 12.0;

/// A document of its own.
pub fn svg(result: &Result<'_>) -> String {
    let mut lines: Vec<(String, bool)> = vec![(capital(&result.finding.headline), true)];
    let many = result.finding.explanations.len() > 1;
    for (n, faults) in result.finding.explanations.iter().enumerate() {
        let what = faults.iter().map(|told| told.what.as_str()).collect::<Vec<_>>().join("; and ");
        lines.push((if many { format!("{}. {what}", n + 1) } else { capital(&what) }, false));
    }
    lines.extend(result.finding.notes.iter().map(|note| (capital(note), false)));
    lines.push(("Rotation is to be confirmed by eye.".to_owned(), false));
    let mut figure = String::new();
    frame(&mut figure);
    arrows(&mut figure, result);
    svg::page("Phasors", result.trace, &result.finding.headline, 2.0 * CENTRE[1] - 18.0, &figure, &lines)
}

/// The circle of a nominal voltage, a tick each 30 degrees, and what the strokes mean.
fn frame(out: &mut String) {
    let [x, y] = CENTRE;
    let _ = writeln!(
        out,
        "<circle cx=\"{x}\" cy=\"{y}\" r=\"{}\" fill=\"none\" stroke=\"#bbb\" stroke-dasharray=\"1 3\"/>",
        LONG[0]
    );
    for k in 0..12 {
        let (s, c) = (f64::from(k) * 30.0_f64).to_radians().sin_cos();
        let [inner, outer] = [LONG[0] - 4.0, LONG[0] + 4.0];
        let _ = writeln!(
            out,
            "<path d=\"M{:.1} {:.1}L{:.1} {:.1}\" stroke=\"#bbb\"/>",
            x + inner * c,
            y - inner * s,
            x + outer * c,
            y - outer * s
        );
    }
    out.push_str(
        "<g font-size=\"13\"><path d=\"M16 52h34\" stroke=\"#000\" stroke-width=\"2.5\"/><text x=\"58\" y=\"56\">voltage (circle: \
         nominal)</text><path d=\"M16 72h34\" stroke=\"#000\" stroke-width=\"2.5\" stroke-dasharray=\"7 4\"/><text x=\"58\" \
         y=\"76\">current</text><text x=\"16\" y=\"96\">later phases stand clockwise</text></g>\n",
    );
}

fn arrows(out: &mut String, result: &Result<'_>) {
    let Some(opinion) = result.votes.verdict() else { return };
    let names = result.settings.supply.wiring.quantities();
    let (sizes, angles) = (sizes(&opinion.phasors), angles(&opinion.phasors));
    let largest = sizes[3..].iter().copied().fold(f64::MIN_POSITIVE, f64::max);
    let full = [nominal_v(result.settings), largest];
    let mut letters: Vec<(f64, f64)> = Vec::new();
    let mut missing = Vec::new();
    for (k, name) in names.iter().enumerate().filter(|(_, name)| !name.is_empty()) {
        let side = k / 3;
        let Some(angle) = angles[k] else {
            missing.push(*name);
            continue;
        };
        let length = (sizes[k] / full[side] * LONG[side]).clamp(6.0, LONGEST);
        let (s, c) = angle.to_radians().sin_cos();
        let at = |r: f64, aside: f64| [CENTRE[0] + r * c - aside * s, CENTRE[1] - r * s - aside * c];
        let [tip, left, right, neck] =
            [at(length, 0.0), at(length - 13.0, 5.0), at(length - 13.0, -5.0), at(length - 11.0, 0.0)];
        let dash = if side == 1 { " stroke-dasharray=\"7 4\"" } else { "" };
        let _ = writeln!(
            out,
            "<path d=\"M{:.1} {:.1}L{:.1} {:.1}\" stroke=\"#000\" stroke-width=\"2.5\"{dash}/><path d=\"M{:.1} {:.1}L{:.1} \
             {:.1}L{:.1} {:.1}z\"/>",
            CENTRE[0], CENTRE[1], neck[0], neck[1], tip[0], tip[1], left[0], left[1], right[0], right[1]
        );
        let mut place = length + 18.0;
        while letters
            .iter()
            .any(|(a, r)| ((a - angle + 540.0).rem_euclid(360.0) - 180.0).abs() < CLOSE && (r - place).abs() < 20.0)
        {
            place += 20.0;
        }
        letters.push((angle, place));
        let [x, y] = at(place, 0.0);
        let unit = if side == 0 { "V" } else { "A" };
        let _ = writeln!(
            out,
            "<text x=\"{x:.1}\" y=\"{:.1}\" font-size=\"15\" text-anchor=\"middle\" stroke=\"#fff\" stroke-width=\"4\" \
             paint-order=\"stroke\">{name}<title>{name} {:.2} {unit} at {angle:.1} degrees</title></text>",
            y + 5.0,
            sizes[k]
        );
    }
    if !missing.is_empty() {
        let _ = writeln!(
            out,
            "<text x=\"{}\" y=\"56\" font-size=\"13\" text-anchor=\"end\">no arrow: {}</text>",
            WIDTH - 16.0,
            missing.join(", ")
        );
    }
}
