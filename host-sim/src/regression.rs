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
    /// Standard deviation of the points about the line.
    pub deviation: f64,
}

/// The best line; `None` for fewer than three points or a single x.
pub fn line(points: &[[f64; 2]]) -> Option<Line> {
    let n = points.len() as f64;
    if points.len() < 3 {
        return None;
    }
    let mean = |k: usize| points.iter().map(|point| point[k]).sum::<f64>() / n;
    let [x, y] = [mean(0), mean(1)];
    let over = |f: &dyn Fn(f64, f64) -> f64| points.iter().map(|p| f(p[0] - x, p[1] - y)).sum::<f64>();
    let spread = over(&|dx, _| dx * dx);
    if spread <= 1e-12 * x * x {
        return None;
    }
    let slope = over(&|dx, dy| dx * dy) / spread;
    let deviation = (over(&|dx, dy| (dy - slope * dx).powi(2)) / (n - 2.0)).sqrt();
    let slope_u = deviation / spread.sqrt();
    let intercept_u = deviation * (1.0 / n + x * x / spread).sqrt();
    Some(Line { slope, intercept: y - slope * x, slope_u, intercept_u, deviation })
}

/// The best line through zero; `None` where every x is 0.
pub fn through_zero(points: &[[f64; 2]]) -> Option<f64> {
    let square: f64 = points.iter().map(|p| p[0] * p[0]).sum();
    (square > 0.0).then(|| points.iter().map(|p| p[0] * p[1]).sum::<f64>() / square)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs(x: &[f64], y: &[f64]) -> Vec<[f64; 2]> {
        x.iter().zip(y).map(|(x, y)| [*x, *y]).collect()
    }

    /// NIST StRD, linear regression, data set "Norris": certified values.
    #[test]
    fn norris() {
        let x = [
            0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0,
            447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3,
            229.2, 669.1, 448.9, 0.5,
        ];
        let y = [
            0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3,
            448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6,
            228.9, 668.4, 449.2, 0.2,
        ];
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
        let t = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511];
        let b = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160];
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

    #[test]
    fn too_little_gives_no_line() {
        assert_eq!(line(&[[1.0, 2.0], [2.0, 4.0]]), None);
        assert_eq!(line(&[[1.0, 2.0]; 5]), None);
        assert_eq!(through_zero(&[[0.0, 1.0]]), None);
    }
}
