//! Efficiency or power factor over load, as a nameplate or data sheet gives it.
//!
//! Between two points of an efficiency curve the *losses* are interpolated, and beyond its ends they are
//! carried on, as a + b x load² (constant losses plus those that grow with current). Efficiency itself
//! must not be carried on: it would promise too much on either side.

/// One point: load in % of rated shaft power, value in %.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Load, % of rated shaft power.
    pub load_pct: f64,
    /// Efficiency or power factor there, %.
    pub value_pct: f64,
}

/// Points with rising loads, at least one.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve(Vec<Point>);

impl Curve {
    /// A curve, if there is at least one point and loads rise.
    pub fn new(points: Vec<Point>) -> Option<Self> {
        let rising = points.windows(2).all(|w| w[0].load_pct < w[1].load_pct);
        (!points.is_empty() && rising).then_some(Self(points))
    }

    /// The points, loads rising.
    pub fn points(&self) -> &[Point] {
        &self.0
    }

    /// Read as an efficiency curve: losses at a load, both in per unit of rated shaft power.
    ///
    /// With a single point half of its losses are taken as constant (common practice, no source).
    pub fn losses_pu(&self, load_pu: f64) -> f64 {
        let at = |p: &Point| (p.load_pct / 100.0, p.load_pct / 100.0 * (100.0 / p.value_pct - 1.0));
        let Some((p, q)) = self.neighbours(load_pu * 100.0) else { return 0.0 };
        let (x0, l0) = at(&p);
        let (a, b) = if let Some(q) = q {
            let (x1, l1) = at(&q);
            let b = (l1 - l0) / (x1 * x1 - x0 * x0);
            (l0 - b * x0 * x0, b)
        } else {
            (l0 / 2.0, l0 / 2.0 / (x0 * x0))
        };
        a + b * load_pu * load_pu
    }

    /// Read as an efficiency curve: efficiency in % at a load in per unit. May leave 0..100 far beyond the ends.
    pub fn efficiency_pct(&self, load_pu: f64) -> f64 {
        100.0 * load_pu / (load_pu + self.losses_pu(load_pu))
    }

    /// Read as a power factor curve: straight lines between the points, flat beyond the ends, %.
    pub fn value_pct(&self, load_pu: f64) -> f64 {
        let load = load_pu * 100.0;
        match self.neighbours(load) {
            Some((p, Some(q))) => {
                let share = ((load - p.load_pct) / (q.load_pct - p.load_pct)).clamp(0.0, 1.0);
                p.value_pct + share * (q.value_pct - p.value_pct)
            }
            Some((p, None)) => p.value_pct,
            None => 0.0,
        }
    }

    /// The two points around a load, or the last two towards it; `None` only for what `new` never makes.
    fn neighbours(&self, load_pct: f64) -> Option<(Point, Option<Point>)> {
        let points = &self.0;
        if points.len() < 2 {
            return points.first().map(|p| (*p, None));
        }
        let upper = points.partition_point(|p| p.load_pct < load_pct).clamp(1, points.len() - 1);
        Some((points[upper - 1], Some(points[upper])))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn curve(pairs: &[(f64, f64)]) -> Option<Curve> {
        Curve::new(pairs.iter().map(|&(load_pct, value_pct)| Point { load_pct, value_pct }).collect())
    }

    #[test]
    fn must_rise_and_have_a_point() {
        assert!(curve(&[]).is_none());
        assert!(curve(&[(50.0, 90.0), (50.0, 91.0)]).is_none());
        assert!(curve(&[(75.0, 90.0), (50.0, 91.0)]).is_none());
        assert!(curve(&[(100.0, 93.0)]).is_some());
    }

    /// Losses made from a + b x load² come back exactly, inside and beyond the points (own arithmetic).
    #[test]
    fn losses_of_the_assumed_shape_are_exact_everywhere() {
        let losses = |x: f64| 0.02 + 0.045 * x * x;
        let point = |load: f64| (load, 100.0 * load / 100.0 / (load / 100.0 + losses(load / 100.0)));
        let c = curve(&[point(50.0), point(75.0), point(100.0)]).unwrap();
        for x in [0.05, 0.25, 0.5, 0.6, 0.9, 1.0, 1.5, 2.0] {
            assert!((c.losses_pu(x) - losses(x)).abs() < 1e-12, "at {x}");
        }
        let single = curve(&[point(100.0)]).unwrap();
        assert!((single.losses_pu(1.0) - losses(1.0)).abs() < 1e-12);
    }

    #[test]
    fn values_are_straight_between_and_flat_beyond() {
        let c = curve(&[(50.0, 70.0), (100.0, 90.0)]).unwrap();
        for (load, value) in [(0.1, 70.0), (0.5, 70.0), (0.75, 80.0), (1.0, 90.0), (1.5, 90.0)] {
            assert!((c.value_pct(load) - value).abs() < 1e-12);
        }
    }
}
