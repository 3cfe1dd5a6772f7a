//! When something changed: bends of a series over time, each dated with its 90 % interval.
//!
//! A series is a straight line with kinks (from then on it rises: wear) and steps (from then on it is higher: another screen). The best
//! place of one more bend is where least squares leave least; it is told where that gains more than chance does. Its interval holds all
//! places that leave hardly more: for a kink by Fisher's ratio (profile of the squares; Hinkley, Biometrika 56, 1969), for a step, whose
//! profile is no parabola, by the limit 5.94 of the same ratio ((1 - exp(-x/2))² = 0.9; Siegmund, Ann. Statist. 16, 1988; from memory).
//! Neighbours that are alike tell less than they seem to: what is left over is tried for correlation from one to the next, and the
//! variance is taken (1 + r) / (1 - r) times as large. Places are tried from the fourth point to the fourth from the end: an interval that
//! reaches one of these is open there, and holds less than it promises.

use statrs::distribution::{ContinuousCDF as _, FisherSnedecor};

/// The kind of a bend.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// The slope changes.
    Kink,
    /// The level changes.
    Step,
}

/// A bend.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bend {
    /// Its kind.
    pub kind: Kind,
    /// Where it is.
    pub at: f64,
    /// Between these two with a probability of 90 %.
    pub from: f64,
    /// See `from`.
    pub to: f64,
    /// Change of slope, a unit of time, or of level.
    pub size: f64,
    /// Standard uncertainty of that.
    pub size_u: f64,
    /// What it gains, in variances of what is left.
    pub gain: f64,
    /// Whether the interval is open to either side: it reaches the last place that is tried there.
    pub open: [bool; 2],
}

/// Points from which a bend is looked for.
pub const FEWEST: usize = 20;
/// Points that each side of a bend has at least.
const SIDE: usize = 4;
/// Bends of a series at most.
const MOST: usize = 3;
/// A gain that chance hardly makes (Andrews, Econometrica 61, 1993, table 1: sup F of one parameter at 1 %, 12.2; from memory). Kinks and steps
/// are tried together, and likeness is guessed from the series: the test on noise below lets chance have six of 200 series, 16 where neighbours
/// are alike with 0.4; it had 1 and 7.
const CHANCE: f64 = 12.2;
/// See the module's text: 90 % of a step's place.
const STEP_LIMIT: f64 = 5.94;
/// Places of a kink that are tried between two points.
const BETWEEN: usize = 4;

/// The bends of a series of points (time, value), in order of time.
pub fn bends(points: &[[f64; 2]]) -> Vec<Bend> {
    if points.len() < FEWEST {
        return Vec::new();
    }
    let series = Series::new(points);
    let mut found: Vec<(Kind, f64)> = Vec::new();
    while found.len() < MOST {
        let Some(best) = series.best(&found).filter(Bend::stands_out) else { break };
        found.push((best.kind, best.at));
        // With one more the others may lie better.
        if found.len() > 1 {
            for at in 0..found.len() {
                if let Some(better) = series.better(&found, at) {
                    found[at] = (better.kind, better.at);
                }
            }
        }
    }
    // Beside the others, as they lie now, one may stand out no more.
    loop {
        let all: Vec<Option<Bend>> = (0..found.len()).map(|at| series.better(&found, at)).collect();
        if let Some(at) = all.iter().rposition(|bend| !bend.as_ref().is_some_and(Bend::stands_out)) {
            found.remove(at);
            continue;
        }
        let mut all: Vec<Bend> = all.into_iter().flatten().collect();
        all.sort_by(|a, b| a.at.total_cmp(&b.at));
        return all;
    }
}

impl Bend {
    /// Whether it gains more than chance does: nothing over nothing is no gain.
    fn stands_out(&self) -> bool {
        self.gain >= CHANCE
    }
}

/// The lines through a series that has these bends.
pub fn fitted(points: &[[f64; 2]], bends: &[Bend]) -> Vec<[f64; 2]> {
    if points.len() < FEWEST {
        return Vec::new();
    }
    let places: Vec<(Kind, f64)> = bends.iter().map(|bend| (bend.kind, bend.at)).collect();
    let left = Series::new(points).basis(&places).left;
    points.iter().zip(left).map(|(point, left)| [point[0], point[1] - left]).collect()
}

struct Series<'a> {
    points: &'a [[f64; 2]],
    /// Time from the middle, over its half: so that columns are of one size.
    middle: f64,
    half: f64,
}

/// Directions at right angles that the columns so far span.
struct Basis {
    columns: Vec<Vec<f64>>,
    left: Vec<f64>,
}

impl Basis {
    /// The part of a column that is new.
    fn fresh(&self, column: &[f64]) -> Vec<f64> {
        let mut fresh = column.to_vec();
        // Twice: once leaves what rounding makes.
        for _ in 0..2 {
            for own in &self.columns {
                let part = dot(own, &fresh);
                fresh.iter_mut().zip(own).for_each(|(x, own)| *x -= part * own);
            }
        }
        fresh
    }

    fn add(&mut self, column: &[f64]) {
        let mut fresh = self.fresh(column);
        let length = dot(&fresh, &fresh).sqrt();
        if length < 1e-9 {
            return;
        }
        for x in &mut fresh {
            *x /= length;
        }
        let part = dot(&fresh, &self.left);
        self.left.iter_mut().zip(&fresh).for_each(|(x, own)| *x -= part * own);
        self.columns.push(fresh);
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

impl<'a> Series<'a> {
    fn new(points: &'a [[f64; 2]]) -> Self {
        let (first, last) = (points[0][0], points[points.len() - 1][0]);
        Self { points, middle: f64::midpoint(first, last), half: ((last - first) / 2.0).max(1e-12) }
    }

    fn column(&self, kind: Kind, at: f64) -> Vec<f64> {
        let one = |point: &[f64; 2]| match kind {
            Kind::Kink => ((point[0] - at) / self.half).max(0.0),
            Kind::Step => f64::from(u8::from(point[0] >= at)),
        };
        self.points.iter().map(one).collect()
    }

    fn basis(&self, bends: &[(Kind, f64)]) -> Basis {
        let mut basis = Basis { columns: Vec::new(), left: self.points.iter().map(|point| point[1]).collect() };
        basis.add(&vec![1.0; self.points.len()]);
        basis.add(&self.points.iter().map(|point| (point[0] - self.middle) / self.half).collect::<Vec<_>>());
        for (kind, at) in bends {
            basis.add(&self.column(*kind, *at));
        }
        basis
    }

    /// Places that are tried, with their kinds.
    fn places(&self) -> impl Iterator<Item = (Kind, f64)> + '_ {
        let inner = SIDE..=self.points.len() - SIDE;
        inner.flat_map(move |at| {
            let (before, after) = (self.points[at - 1][0], self.points[at][0]);
            let part = move |k: usize| before + (after - before) * k as f64 / BETWEEN as f64;
            let kinks = (0..BETWEEN).map(move |k| (Kind::Kink, part(k)));
            kinks.chain([(Kind::Step, f64::midpoint(before, after))])
        })
    }

    /// The best place of one of these beside the others.
    fn better(&self, found: &[(Kind, f64)], at: usize) -> Option<Bend> {
        let mut others = found.to_vec();
        others.remove(at);
        self.best(&others)
    }

    /// The best place of one bend more.
    fn best(&self, others: &[(Kind, f64)]) -> Option<Bend> {
        let basis = self.basis(others);
        // What a place takes off the squares.
        let gain = |kind, at| {
            let fresh = basis.fresh(&self.column(kind, at));
            let square = dot(&fresh, &fresh);
            if square < 1e-9 { 0.0 } else { dot(&fresh, &basis.left).powi(2) / square }
        };
        // Two kinks side by side would be a step.
        let apart = SIDE as f64 * self.half * 2.0 / (self.points.len() - 1) as f64;
        let clear = |at: f64| others.iter().all(|(_, other)| (at - other).abs() >= apart);
        let places = self.places().filter(|(_, at)| clear(*at));
        let tried: Vec<(Kind, f64, f64)> = places.map(|(kind, at)| (kind, at, gain(kind, at))).collect();
        let (kind, at, most) = tried.iter().copied().max_by(|a, b| a.2.total_cmp(&b.2))?;
        let squares = dot(&basis.left, &basis.left) - most;
        // The constant, the slope, two for each bend.
        let free = self.points.len().checked_sub(4 + 2 * others.len()).filter(|free| *free > 0)? as f64;
        let column = self.column(kind, at);
        let fresh = basis.fresh(&column);
        let length = dot(&fresh, &fresh);
        let size = dot(&fresh, &basis.left) / length;
        let left: Vec<f64> = basis.left.iter().zip(&fresh).map(|(left, x)| left - size * x).collect();
        let variance = squares / free * alike(&left, 4 + 2 * others.len());
        let limit = match kind {
            Kind::Kink => FisherSnedecor::new(1.0, free).ok()?.inverse_cdf(0.90),
            Kind::Step => STEP_LIMIT,
        };
        let inside = |place: &&(Kind, f64, f64)| place.0 == kind && most - place.2 <= limit * variance;
        let ends =
            tried.iter().filter(inside).fold([at, at], |[low, high], place| [low.min(place.1), high.max(place.1)]);
        let (mut from, mut to) = (ends[0], ends[1]);
        let outer = self.places().filter(|place| place.0 == kind).map(|place| place.1);
        let [first, last] = outer.fold([at, at], |[first, last], at| [first.min(at), last.max(at)]);
        let open = [from <= first, to >= last];
        let unit = match kind {
            Kind::Kink => {
                // Between the places that were tried it may be as well.
                let step = (self.points[1][0] - self.points[0][0]) / BETWEEN as f64;
                (from, to) = (from - step, to + step);
                self.half
            }
            Kind::Step => {
                // Between two points a step may be anywhere.
                let before = self.points.iter().rev().find(|point| point[0] < from).map_or(from, |point| point[0]);
                let after = self.points.iter().find(|point| point[0] >= to).map_or(to, |point| point[0]);
                (from, to) = (before, after);
                1.0
            }
        };
        let size_u = (variance / length).sqrt();
        Some(Bend { kind, at, from, to, size: size / unit, size_u: size_u / unit, gain: most / variance, open })
    }
}

/// How many times as large the variance is because neighbours are alike; 1 where they are not.
fn alike(left: &[f64], parameters: usize) -> f64 {
    let n = left.len() as f64;
    let squares = dot(left, left);
    if squares <= 0.0 {
        return 1.0;
    }
    let next = left.windows(2).map(|pair| pair[0] * pair[1]).sum::<f64>() / squares;
    // A fit makes neighbours look less alike than they are, by about its parameters over the points.
    let r = (next + parameters as f64 / n * (1.0 - next.abs())).clamp(0.0, 0.9);
    (1.0 + r) / (1.0 - r)
}

#[cfg(test)]
#[path = "bend/tests.rs"]
mod tests;
