//! Core loss apart from friction and windage (no-load test of IEC 60034-2-1, from memory).
//!
//! ```text
//! Pk = P - R (Ia² + Ib² + Ic²)          constant losses of a level: input less stator copper
//! Pk = friction + slope V²              straight line at the low voltages: friction and windage where it meets 0 V
//! core = (Pk - friction) (Vr / V)²      at rated voltage, from the level that is nearest to it, less stray x squared currents
//! ```
//!
//! The standard leaves the stray load loss at no-load current in the core loss, and reckons that of a load from there. The core
//! has it in proportion to the squared current from nothing, and would count it twice: it is taken off, and is a term of the
//! band, for it is not measured here. It goes with V² as the current does, and leaves friction alone. Rotor copper of a motor that
//! drives nothing is a part of a per cent of what is found, and stays in it.
//! The errors of the inputs are carried on by changing each and separating again; root of squares, k = 2 (JCGM 100).

use super::instruments::instruments;
use super::levels::Level;
use crate::fit::circuit::CORE_SHARE;
use crate::regression::line;
use crate::report::uncertainty::{COVERAGE, combined, rectangular};
use crate::settings::Accuracy;

/// Voltages up to this part of the rated one are where loss goes with V² (IEC 60034-2-1 takes 30 to 60 %, from memory).
const LOW: f64 = 0.61;
/// Points of a line at the least; fewer low ones are made up by the next higher.
const POINTS: usize = 3;
/// The lowest voltage of a line over its highest, at most: nearer ones say nothing of 0 V.
const SPREAD: f64 = 0.8;
/// A level within this part of rated voltage tells core loss there.
const NEAR: f64 = 0.1;
/// By how much [`CORE_SHARE`] may be off where it has to serve (common practice, no source).
const SHARE_LIMIT: f64 = 0.2;

/// What is known besides the levels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Known {
    /// Rated voltage, line to line, V.
    pub rated_v: f64,
    /// Stator resistance a phase of the star during the test, ohm.
    pub stator_ohm: f64,
    /// By how much it may be off, part of it.
    pub ohm_limit: f64,
    /// Stray load loss over the sum of three squared currents, ohm.
    pub stray_ohm: f64,
    /// By how much that may be off, ohm.
    pub stray_limit_ohm: f64,
    /// The instruments.
    pub accuracy: Option<Accuracy>,
}

/// One error and what it leaves, as standard uncertainties.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Term {
    /// What errs.
    pub source: &'static str,
    /// By how much at most, or as a standard deviation; the largest of the levels.
    pub limit: f64,
    /// Unit of the limit.
    pub unit: &'static str,
    /// What it leaves in friction and windage, W.
    pub friction_w: f64,
    /// In the core loss at rated voltage.
    pub core_w: f64,
    /// In both together.
    pub sum_w: f64,
}

/// A figure with the half width of its band, k = 2.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Banded {
    /// W.
    pub value: f64,
    /// W.
    pub band: f64,
}

/// How the two were told apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Split {
    /// By the line through the levels that are marked as used.
    Line,
    /// Not at all: the levels are too near to each other, and the usual share has to serve.
    Assumed,
}

/// What came out.
#[derive(Debug, Clone, PartialEq)]
pub struct Separation {
    /// Friction and windage.
    pub friction: Banded,
    /// Core loss at rated voltage.
    pub core: Banded,
    /// Both together at rated voltage.
    pub sum: Banded,
    /// Stray load loss at no-load current and rated voltage, W: taken off, in neither.
    pub stray_w: f64,
    /// How.
    pub split: Split,
    /// Of the line, W/V².
    pub slope: f64,
    /// Constant losses of each level, W.
    pub constant_w: Vec<f64>,
    /// Which levels make the line.
    pub used: Vec<bool>,
    /// The level that tells core loss at rated voltage; none: the line does.
    pub nearest: Option<usize>,
    /// Where the bands come from.
    pub terms: Vec<Term>,
}

/// Line voltage, squared currents, power, reactive power of a level.
pub type Point = [f64; 4];

/// How it is done, which an error of an input does not change.
struct Way {
    rated_v: f64,
    used: Vec<usize>,
    nearest: Option<usize>,
    split: Split,
}

/// Separates; `None` where there is neither a line nor a level near rated voltage.
pub fn separate(levels: &[Level], known: &Known) -> Option<Separation> {
    let points: Vec<Point> = levels.iter().map(|l| [l.line_v, l.squares, l.power_w, l.reactive_var]).collect();
    let way = way(&points, known.rated_v)?;
    let with_stray =
        |points: &[Point], ohm: f64, share: f64, stray: f64| way.solve(&constants(points, ohm), points, share, stray);
    let solve = |points: &[Point], ohm: f64, share: f64| with_stray(points, ohm, share, known.stray_ohm);
    let plain = solve(&points, known.stator_ohm, CORE_SHARE);
    let constant_w = constants(&points, known.stator_ohm);
    let mut terms = Vec::new();
    let mut term = |source, limit: f64, unit, changed: [f64; 3], u: f64| {
        let [friction_w, core_w, _] = [0, 1, 2].map(|k| u * (changed[k] - plain[k]).abs());
        let sum_w = u * (changed[0] + changed[1] - plain[0] - plain[1]).abs();
        terms.push(Term { source, limit, unit, friction_w, core_w, sum_w });
    };
    let limit = known.ohm_limit;
    let changed = solve(&points, known.stator_ohm * (1.0 + limit), CORE_SHARE);
    term("stator resistance", 100.0 * limit, "%", changed, rectangular(1.0));
    let stray_w = known.stray_ohm * way.squares(&points);
    if known.stray_limit_ohm > 0.0 {
        let changed = with_stray(&points, known.stator_ohm, CORE_SHARE, known.stray_ohm + known.stray_limit_ohm);
        let limit = known.stray_limit_ohm * way.squares(&points);
        term("stray load loss taken off", limit, "W", changed, rectangular(1.0));
    }
    if way.split == Split::Assumed {
        let changed = solve(&points, known.stator_ohm, CORE_SHARE + SHARE_LIMIT);
        term("share of core loss, assumed", 100.0 * SHARE_LIMIT, "points", changed, rectangular(1.0));
    }
    for error in instruments(levels, known.accuracy) {
        let moved: Vec<Point> = points.iter().zip(&error.limits).map(|(p, limit)| (error.act)(*p, *limit)).collect();
        let changed = solve(&moved, known.stator_ohm, CORE_SHARE);
        let largest = error.limits.iter().copied().fold(0.0, f64::max);
        term(error.source, largest * error.shown, error.unit, changed, rectangular(1.0));
    }
    // Scatter is of each level by itself: of its windows, or of the levels about the line where that is more.
    let of = |k: usize| [points[k][0].powi(2), constant_w[k]];
    let about = line(&way.used.iter().map(|k| of(*k)).collect::<Vec<_>>()).map_or(0.0, |line| line.deviation);
    let mut scatter = Term { source: "scatter of the levels", limit: about, unit: "W", ..Term::default() };
    for k in 0..points.len() {
        let u = levels[k].power_u_w.max(if way.used.contains(&k) { about } else { 0.0 });
        let mut moved = points.clone();
        moved[k][2] += u;
        let changed = solve(&moved, known.stator_ohm, CORE_SHARE);
        scatter.limit = scatter.limit.max(u);
        scatter.friction_w = scatter.friction_w.hypot(changed[0] - plain[0]);
        scatter.core_w = scatter.core_w.hypot(changed[1] - plain[1]);
        scatter.sum_w = scatter.sum_w.hypot(changed[0] + changed[1] - plain[0] - plain[1]);
    }
    terms.push(scatter);
    let banded = |value, of: fn(&Term) -> f64| Banded { value, band: COVERAGE * combined(terms.iter().map(of)) };
    let [friction_w, core_w, slope] = plain;
    Some(Separation {
        friction: banded(friction_w, |term| term.friction_w),
        core: banded(core_w, |term| term.core_w),
        sum: banded(friction_w + core_w, |term| term.sum_w),
        stray_w,
        split: way.split,
        slope,
        constant_w,
        used: (0..points.len()).map(|k| way.used.contains(&k)).collect(),
        nearest: way.nearest,
        terms,
    })
}

impl Default for Term {
    fn default() -> Self {
        Self { source: "", limit: 0.0, unit: "", friction_w: 0.0, core_w: 0.0, sum_w: 0.0 }
    }
}

fn constants(points: &[Point], stator_ohm: f64) -> Vec<f64> {
    points.iter().map(|[_, squares, power, _]| power - stator_ohm * squares).collect()
}

/// Which levels make the line, and which one tells the loss at rated voltage.
fn way(points: &[Point], rated_v: f64) -> Option<Way> {
    let off = |k: usize| (points[k][0] / rated_v - 1.0).abs();
    let nearest = (0..points.len()).min_by(|a, b| off(*a).total_cmp(&off(*b))).filter(|k| off(*k) <= NEAR);
    let mut rising: Vec<usize> = (0..points.len()).collect();
    rising.sort_by(|a, b| points[*a][0].total_cmp(&points[*b][0]));
    // Below some voltage the current rises again: the motor slips, and its rotor's loss is no longer small.
    let turn = rising.iter().copied().min_by(|a, b| points[*a][1].total_cmp(&points[*b][1]))?;
    rising.retain(|k| points[*k][0] >= points[turn][0]);
    let low = rising.iter().filter(|k| points[**k][0] <= LOW * rated_v).count();
    let used: Vec<usize> = rising.into_iter().take(low.max(POINTS)).collect();
    let apart = points[used[0]][0] <= SPREAD * points[used[used.len() - 1]][0];
    match (apart, nearest) {
        (true, _) => Some(Way { rated_v, used, nearest, split: Split::Line }),
        (false, Some(_)) => Some(Way { rated_v, used: Vec::new(), nearest, split: Split::Assumed }),
        (false, None) => None,
    }
}

impl Way {
    /// Squared currents at rated voltage, from the level that tells core loss there or, without one, the highest of the line.
    fn squares(&self, points: &[Point]) -> f64 {
        let k = self.nearest.or(self.used.last().copied()).unwrap_or(0);
        points[k][1] * (self.rated_v / points[k][0]).powi(2)
    }

    /// Friction, core loss at rated voltage, slope of the line.
    fn solve(&self, constant_w: &[f64], points: &[Point], share: f64, stray_ohm: f64) -> [f64; 3] {
        let square = |k: usize| points[k][0].powi(2);
        let rated = self.rated_v.powi(2);
        if self.split == Split::Assumed {
            let k = self.nearest.unwrap_or(0);
            let sum = (constant_w[k] - stray_ohm * points[k][1]) / (1.0 - share + share * square(k) / rated);
            return [(1.0 - share) * sum, share * sum, share * sum / rated];
        }
        let pairs: Vec<[f64; 2]> = self.used.iter().map(|k| [square(*k), constant_w[*k]]).collect();
        let (friction, slope) = line(&pairs).map_or_else(
            || {
                // Two points, apart by the choice.
                let [[x, y], [x2, y2]] = [pairs[0], pairs[pairs.len() - 1]];
                let slope = (y2 - y) / (x2 - x);
                (y - slope * x, slope)
            },
            |line| (line.intercept, line.slope),
        );
        let core = self.nearest.map_or(slope * rated, |k| (constant_w[k] - friction) * rated / square(k));
        [friction, core - stray_ohm * self.squares(points), slope]
    }
}

#[cfg(test)]
mod tests;
