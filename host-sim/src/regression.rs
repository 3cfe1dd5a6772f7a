//! A straight line through points by least squares: y = intercept + slope x.
//!
//! Formulas as in GUM (JCGM 100:2008) H.3, with x taken from its mean so that nothing cancels.

/// The line and how well it is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Rise.
    pub slope: f64,
    /// At x = 0.
    pub intercept: f64,
    /// Standard uncertainty of the slope.
    pub slope_u: f64,
    /// Standard uncertainty of the intercept.
    pub intercept_u: f64,
    /// Standard deviation of the points about the line; where they have uncertainties of their own, how many of these it is.
    pub deviation: f64,
    /// Where the line is known best, and how well.
    pub centre: f64,
    /// See `centre`.
    pub centre_u: f64,
}

impl Line {
    /// y at x.
    pub fn at(&self, x: f64) -> f64 {
        self.intercept + self.slope * x
    }

    /// Its standard uncertainty.
    pub fn u_at(&self, x: f64) -> f64 {
        self.centre_u.hypot((x - self.centre) * self.slope_u)
    }
}

/// The best line; `None` for fewer than three points or a single x.
pub fn line(points: &[[f64; 2]]) -> Option<Line> {
    if points.len() < 3 {
        return None;
    }
    let found = fit(points.iter().map(|[x, y]| [*x, *y, 1.0]))?;
    Some(found.times(found.deviation))
}

/// The best line through points x, y, standard uncertainty of y; `None` for fewer than two points or a single x.
///
/// Where the points lie further from the line than their uncertainties let them, these are taken to be too small by as much (the
/// ratio of Birge, Phys. Rev. 40, 1932; from memory).
pub fn weighted(points: &[[f64; 3]]) -> Option<Line> {
    let found = fit(points.iter().copied())?;
    Some(found.times(found.deviation.max(1.0)))
}

impl Line {
    /// Known so many times worse.
    fn times(self, factor: f64) -> Self {
        let Self { slope_u, intercept_u, centre_u, .. } = self;
        Self { slope_u: slope_u * factor, intercept_u: intercept_u * factor, centre_u: centre_u * factor, ..self }
    }
}

/// The line with uncertainties as the points have them.
fn fit(points: impl Iterator<Item = [f64; 3]> + Clone) -> Option<Line> {
    let sum = |f: &dyn Fn(f64, f64) -> f64| points.clone().map(|[x, y, u]| f(x, y) / (u * u)).sum::<f64>();
    let weight = sum(&|_, _| 1.0);
    let [x, y] = [sum(&|x, _| x) / weight, sum(&|_, y| y) / weight];
    let spread = sum(&|px, _| (px - x).powi(2));
    // Written so that what is no number is no line.
    let apart = spread > 1e-12 * x * x * weight && weight.is_finite();
    if !apart {
        return None;
    }
    let slope = sum(&|px, py| (px - x) * (py - y)) / spread;
    let squares = sum(&|px, py| (py - y - slope * (px - x)).powi(2));
    let free = points.count() as f64 - 2.0;
    let deviation = if free > 0.0 { (squares / free).sqrt() } else { 0.0 };
    let (slope_u, centre_u) = (spread.sqrt().recip(), weight.sqrt().recip());
    let intercept_u = centre_u.hypot(x * slope_u);
    Some(Line { slope, intercept: y - slope * x, slope_u, intercept_u, deviation, centre: x, centre_u })
}

/// The best line through zero; `None` where every x is 0.
pub fn through_zero(points: &[[f64; 2]]) -> Option<f64> {
    let square: f64 = points.iter().map(|p| p[0] * p[0]).sum();
    (square > 0.0).then(|| points.iter().map(|p| p[0] * p[1]).sum::<f64>() / square)
}

/// Published data that more than one kind of line is checked with.
#[cfg(test)]
pub(crate) mod published {
    /// NIST StRD, linear regression, data set "Norris": x, y.
    pub(crate) const NORRIS: ([f64; 36], [f64; 36]) = (
        [
            0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0,
            447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3,
            229.2, 669.1, 448.9, 0.5,
        ],
        [
            0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3,
            448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6,
            228.9, 668.4, 449.2, 0.2,
        ],
    );

    /// GUM (JCGM 100:2008), annex H.3: temperatures, degrees, and a thermometer's corrections.
    pub(crate) const THERMOMETER: ([f64; 11], [f64; 11]) = (
        [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511],
        [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160],
    );
}

#[cfg(test)]
mod tests {
    use super::published::{NORRIS, THERMOMETER};
    use super::*;

    fn pairs(x: &[f64], y: &[f64]) -> Vec<[f64; 2]> {
        x.iter().zip(y).map(|(x, y)| [*x, *y]).collect()
    }

    /// NIST StRD, linear regression, data set "Norris": certified values.
    #[test]
    fn norris() {
        let (x, y) = NORRIS;
        let found = line(&pairs(&x, &y)).unwrap();
        for (found, certified) in [
            (found.slope, 1.002_116_818_020_45),
            (found.intercept, -0.262_323_073_774_029),
            (found.slope_u, 4.297_968_481_999_37e-4),
            (found.intercept_u, 0.232_818_234_301_152),
        ] {
            assert!((found / certified - 1.0).abs() < 1e-10, "{found} {certified}");
        }
    }

    /// GUM (JCGM 100:2008) annex H.3: a thermometer's corrections, temperatures from 20 degrees; results as printed there
    /// (the printed figures from memory).
    #[test]
    fn gum_h3() {
        let (t, b) = THERMOMETER;
        let found = line(&pairs(&t.map(|t| t - 20.0), &b)).unwrap();
        for (found, printed, half) in [
            (found.intercept, -0.1712, 5e-5),
            (found.intercept_u, 0.0029, 5e-5),
            (found.slope, 0.00218, 5e-6),
            (found.slope_u, 0.00067, 5e-6),
            (found.deviation, 0.0035, 5e-5),
        ] {
            assert!((found - printed).abs() <= half, "{found} {printed}");
        }
    }

    /// A point that is known twice as well counts as four (JCGM 100, 4.2.3: the uncertainty of a mean of n is that of one over
    /// the root of n); what scatters more than its uncertainty is known as its scatter tells.
    #[test]
    fn weights_are_repetitions() {
        let [a, b, c] = [[1.0, 3.1], [2.0, 4.9], [4.0, 9.2]];
        let repeated = line(&[a, a, a, a, b, c]).unwrap();
        let weighed = weighted(&[[a[0], a[1], 0.005], [b[0], b[1], 0.01], [c[0], c[1], 0.01]]).unwrap();
        for (found, wanted) in [
            (weighed.slope, repeated.slope),
            (weighed.intercept, repeated.intercept),
            (weighed.centre, repeated.centre),
            // Four of six are no points of their own.
            (weighed.slope_u, repeated.slope_u * 2.0),
            (weighed.u_at(0.0), weighed.intercept_u),
        ] {
            assert!((found / wanted - 1.0).abs() < 1e-12, "{found} {wanted}");
        }
        let known = weighted(&[[a[0], a[1], 10.0], [b[0], b[1], 10.0], [c[0], c[1], 10.0]]).unwrap();
        assert!((known.centre_u - 10.0 / 3f64.sqrt()).abs() < 1e-12 && known.deviation < 1.0);
        assert!((known.at(2.5) - (known.intercept + 2.5 * known.slope)).abs() < 1e-12);
    }

    #[test]
    fn too_little_gives_no_line() {
        assert_eq!(line(&[[1.0, 2.0], [2.0, 4.0]]), None);
        assert_eq!(line(&[[1.0, 2.0]; 5]), None);
        assert_eq!(weighted(&[[1.0, 2.0, 0.1]; 3]), None);
        assert_eq!(weighted(&[[1.0, 2.0, 0.0], [2.0, 2.0, 0.1]]), None);
        assert_eq!(through_zero(&[[0.0, 1.0]]), None);
    }
}
