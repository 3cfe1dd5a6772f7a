//! Energy as a sum of drivers times what each costs, by least squares; and when such a model may be relied on.
//!
//! ```text
//! E = b1 x1 + b2 x2 + ... (+ b0)       b = (X'X)^-1 X'E       u(b) = s sqrt(diag (X'X)^-1)
//! ```
//!
//! F = (squares about the mean - squares left) / drivers beyond the mean / s²
//!
//! With a constant the columns are taken from their means, so that nothing cancels. R² and F are always those about the mean, without a
//! constant too: against zero they are large whatever the model is worth. The mean stands for a constant then, so that F has a driver less.

use nalgebra::{DMatrix, DVector};
use statrs::distribution::{ContinuousCDF as _, FisherSnedecor, StudentsT};

/// A model and how well it is known.
#[derive(Debug, Clone, PartialEq)]
pub struct Model {
    /// What a unit of each driver costs.
    pub slopes: Vec<f64>,
    /// Their standard uncertainties.
    pub slopes_u: Vec<f64>,
    /// Probability that each is nothing, two-sided.
    pub slopes_p: Vec<f64>,
    /// The constant; 0 without one.
    pub constant: f64,
    /// Its standard uncertainty.
    pub constant_u: f64,
    /// Correlation of the constant with the slope of a single driver.
    pub correlation: Option<f64>,
    /// Standard deviation about the model.
    pub s: f64,
    /// Share of the variance that it explains.
    pub r2: f64,
    /// Fisher's ratio of what it explains beyond the mean to what it leaves.
    pub f: f64,
    /// Probability of such a ratio where nothing depends on the drivers.
    pub f_p: f64,
    /// Observations.
    pub n: usize,
    /// Degrees of freedom.
    pub free: usize,
    /// Standard deviation over mean energy, %.
    pub cv_pct: f64,
    /// Each driver's lowest, mean, highest value and standard deviation.
    pub seen: Vec<[f64; 4]>,
}

impl Model {
    /// The energy that it expects.
    pub fn at(&self, drivers: &[f64]) -> f64 {
        self.constant + self.slopes.iter().zip(drivers).map(|(b, x)| b * x).sum::<f64>()
    }
}

/// Fits; `rows` are the drivers of each observation. `None`: too few, or drivers that go together.
pub fn fit(rows: &[Vec<f64>], energy: &[f64], constant: bool) -> Option<Model> {
    let (n, k) = (rows.len(), rows.first()?.len());
    let parameters = k + usize::from(constant);
    let free = n.checked_sub(parameters).filter(|free| *free > 0 && k > 0 && energy.len() == n)?;
    let mean = |of: &dyn Fn(usize) -> f64| (0..n).map(of).sum::<f64>() / n as f64;
    let means: Vec<f64> = (0..k).map(|at| mean(&|row| rows[row][at])).collect();
    let energy_mean = mean(&|row| energy[row]);
    let from = |x: f64, mean: f64| if constant { x - mean } else { x };
    let x = |row: usize, at: usize| from(rows[row][at], means[at]);
    let y = |row: usize| from(energy[row], energy_mean);
    let sum = |of: &dyn Fn(usize) -> f64| (0..n).map(of).sum::<f64>();
    let inverse = inverse(DMatrix::from_fn(k, k, |a, b| sum(&|row| x(row, a) * x(row, b))))?;
    let right = DVector::from_fn(k, |a, _| sum(&|row| x(row, a) * y(row)));
    let slopes: Vec<f64> = (&inverse * right).as_slice().to_vec();
    let left = |row: usize| y(row) - (0..k).map(|at| slopes[at] * x(row, at)).sum::<f64>();
    let squares = sum(&|row| left(row).powi(2));
    let about_mean = sum(&|row| (energy[row] - energy_mean).powi(2));
    let s = (squares / free as f64).sqrt();
    let slopes_u: Vec<f64> = (0..k).map(|at| s * inverse[(at, at)].sqrt()).collect();
    let student = StudentsT::new(0.0, 1.0, free as f64).ok()?;
    let two_sided = |t: f64| 2.0 * (1.0 - student.cdf(t.abs()));
    let slopes_p = slopes.iter().zip(&slopes_u).map(|(b, u)| if *u > 0.0 { two_sided(b / u) } else { 0.0 }).collect();
    let at_mean: f64 = slopes.iter().zip(&means).map(|(b, x)| b * x).sum();
    // The variance of the constant: of the mean, and of each slope at the means.
    let quadratic: f64 =
        (0..k).flat_map(|a| (0..k).map(move |b| (a, b))).map(|(a, b)| means[a] * inverse[(a, b)] * means[b]).sum();
    let constant_u = if constant { s * (1.0 / n as f64 + quadratic).sqrt() } else { 0.0 };
    // A single driver without a constant explains no more than the mean does.
    let more = parameters - 1;
    let f = if more > 0 { (about_mean - squares) / more as f64 / (squares / free as f64) } else { 0.0 };
    let fisher = FisherSnedecor::new(more.max(1) as f64, free as f64).ok()?;
    let f_p = if f == f64::INFINITY {
        0.0
    } else if f > 0.0 {
        1.0 - fisher.cdf(f)
    } else {
        1.0 // worse than the mean, or nothing over nothing
    };
    let spread = |at: usize| (sum(&|row| (rows[row][at] - means[at]).powi(2)) / (n as f64 - 1.0)).sqrt();
    let ends = |at: usize| rows.iter().map(|row| row[at]).fold([f64::MAX, f64::MIN], |[a, b], x| [a.min(x), b.max(x)]);
    let seen = (0..k).map(|at| [ends(at)[0], means[at], ends(at)[1], spread(at)]).collect();
    let correlation = (constant && k == 1).then(|| -means[0] * s * s * inverse[(0, 0)] / (constant_u * slopes_u[0]));
    Some(Model {
        constant: if constant { energy_mean - at_mean } else { 0.0 },
        slopes,
        slopes_u,
        slopes_p,
        constant_u,
        correlation,
        s,
        r2: 1.0 - squares / about_mean,
        f,
        f_p,
        n,
        free,
        cv_pct: 100.0 * s / energy_mean,
        seen,
    })
}

/// The inverse of a symmetric positive matrix; `None` where its columns all but go together.
fn inverse(normal: DMatrix<f64>) -> Option<DMatrix<f64>> {
    // Scaled to ones on the diagonal: drivers have units of their own.
    let scale = DMatrix::from_diagonal(&normal.diagonal().map(|square| square.sqrt().recip()));
    let halves = (&scale * normal * &scale).cholesky()?;
    let together = halves.l_dirty().diagonal().iter().any(|pivot| pivot * pivot < 1e-12);
    (!together).then(|| &scale * halves.inverse() * &scale)
}

/// One rule that a model keeps or not.
#[derive(Debug, Clone, PartialEq)]
pub struct Rule {
    /// What is asked.
    pub words: String,
    /// Whether it is so.
    pub kept: bool,
}

/// The rules by which the programme Superior Energy Performance (US Department of Energy) accepts a model: all of it significant at
/// 10 %, every driver at 20 % and one of them at 10 %, R² of a half, and the mean of each driver where it is used within what was
/// seen or three standard deviations. `names` and `means` are those of the drivers, the means of the time that is judged.
pub fn rules(model: &Model, names: &[String], means: &[f64]) -> Vec<Rule> {
    let mut all =
        vec![Rule { words: format!("F {:.1}, p {:.4} below 0.10", model.f, model.f_p), kept: model.f_p < 0.10 }];
    let each = |(name, p): (&String, &f64)| Rule { words: format!("{name}: p {p:.4} below 0.20"), kept: *p < 0.20 };
    all.extend(names.iter().zip(&model.slopes_p).map(each));
    let least = model.slopes_p.iter().copied().fold(1.0, f64::min);
    all.push(Rule { words: format!("one driver at least: p {least:.4} below 0.10"), kept: least < 0.10 });
    all.push(Rule { words: format!("R2 {:.3}, 0.5 at least", model.r2), kept: model.r2 >= 0.5 });
    for ((name, mean), [low, seen, high, spread]) in names.iter().zip(means).zip(&model.seen) {
        let kept = (*low..=*high).contains(mean) || (mean - seen).abs() <= 3.0 * spread;
        all.push(Rule { words: format!("{name}: mean {mean:.2} where it is used, {low:.2} to {high:.2} seen"), kept });
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::regression::published::{NORRIS, THERMOMETER};

    fn one(x: &[f64], y: &[f64]) -> Model {
        fit(&x.iter().map(|x| vec![*x]).collect::<Vec<_>>(), y, true).unwrap()
    }

    fn near(found: f64, wanted: f64, within: f64) {
        assert!((found - wanted).abs() <= within, "{found}, {wanted} wanted");
    }

    /// NIST StRD, linear regression, data set "Norris": certified values.
    #[test]
    fn norris() {
        let (x, y) = NORRIS;
        let found = one(&x, &y);
        for (found, certified) in [
            (found.slopes[0], 1.002_116_818_020_45),
            (found.constant, -0.262_323_073_774_029),
            (found.slopes_u[0], 4.297_968_481_999_37e-4),
            (found.constant_u, 0.232_818_234_301_152),
            (found.r2, 0.999_993_745_883_712),
            (found.f, 5_436_385.540_797_85),
        ] {
            assert!((found / certified - 1.0).abs() < 1e-10, "{found} {certified}");
        }
        assert_eq!(found.free, 34);
    }

    /// GUM (JCGM 100:2008) annex H.3, printed figures from memory; its relation is real though R² is 0.54 (own arithmetic).
    #[test]
    fn gum_h3() {
        let (t, b) = THERMOMETER;
        let found = one(&t.map(|t| t - 20.0), &b);
        near(found.constant, -0.1712, 5e-5);
        near(found.constant_u, 0.0029, 5e-5);
        near(found.slopes[0], 0.00218, 5e-6);
        near(found.slopes_u[0], 0.00067, 5e-6);
        near(found.correlation.unwrap(), -0.930, 5e-4);
        near(found.s, 0.0035, 5e-5);
        near(found.at(&[10.0]), -0.1494, 5e-5);
        let cross = 2.0 * 10.0 * found.correlation.unwrap() * found.constant_u * found.slopes_u[0];
        near((found.constant_u.powi(2) + (10.0 * found.slopes_u[0]).powi(2) + cross).sqrt(), 0.0041, 5e-5);
        near(found.r2, 0.5427, 5e-5);
    }

    /// After the energy auditors' guide book of the Bureau of Energy Efficiency (India), book 1, chapter 8 (table from memory): energy over
    /// production of twelve months, and the cumulative sum about the published line E = 0.4 P + 180.
    #[test]
    fn a_year_and_its_cumulative_sum() {
        let e = [340.0, 340.0, 380.0, 380.0, 300.0, 400.0, 280.0, 424.0, 420.0, 400.0, 360.0, 320.0, 340.0, 372.0];
        let p = [380.0, 440.0, 460.0, 520.0, 320.0, 520.0, 240.0, 620.0, 600.0, 560.0, 440.0, 360.0, 480.0, 540.0];
        let found = one(&p[..12], &e[..12]);
        near(found.slopes[0], 0.396_198, 5e-7);
        near(found.constant, 181.7298, 5e-5);
        near(found.r2, 0.961_499, 5e-7);
        near(found.s, 9.6222, 5e-5);
        near(found.cv_pct, 2.66, 5e-3);
        near(found.f, 249.73, 5e-3);
        let published = Model { slopes: vec![0.4], constant: 180.0, ..found };
        let mut sum = 0.0;
        let wanted = [8.0, -8.0, 8.0, 0.0, -8.0, 4.0, 8.0, 4.0, 4.0, 0.0, 4.0, 0.0, -32.0, -56.0];
        for ((e, p), wanted) in e.iter().zip(&p).zip(wanted) {
            sum += e - published.at(&[*p]);
            near(sum, wanted, 1e-9);
        }
    }

    /// A furnace's line of a weekly lecture on energy monitoring (after Cheriton Technology, 1989): the ratio falls with production though
    /// nothing got better (own arithmetic); and a target of several drivers (vesma.com, note on monitoring and targeting).
    #[test]
    fn fixed_and_variable() {
        let blank = one(&[1.0, 2.0, 3.0], &[1.0, 2.0, 4.0]);
        let line = Model { slopes: vec![15.16], constant: 9_831.0, ..blank.clone() };
        for (tonnes, energy, ratio) in
            [(500.0, 17_411.0, 34.82), (1_000.0, 24_991.0, 24.99), (2_000.0, 40_151.0, 20.08)]
        {
            near(line.at(&[tonnes]), energy, 1e-6);
            near(line.at(&[tonnes]) / tonnes, ratio, 0.005);
        }
        let several = Model { slopes: vec![100.0, 20.0, 500.0], constant: 5_000.0, ..blank };
        near(several.at(&[12.0, 245.0, 8.0]), 15_100.0, 1e-9);
    }

    /// The programme's critical ratios for twelve months and one to five drivers, at 10 %.
    #[test]
    fn ratios_that_are_significant() {
        for (k, wanted) in [(1.0, 3.2850), (2.0, 3.0065), (3.0, 2.9238), (4.0, 2.9605), (5.0, 3.1075)] {
            let fisher = FisherSnedecor::new(k, 11.0 - k).unwrap();
            near(1.0 - fisher.cdf(wanted), 0.10, 2e-5);
        }
    }

    /// Two drivers without a constant: the figures that the energies were made of; and what is no model.
    #[test]
    fn drivers_and_rules() {
        let rows: Vec<Vec<f64>> = (0..20).map(|n| vec![7.0 + f64::from(n % 3), 20.0 + f64::from(n * 7 % 11)]).collect();
        let noise = |n: usize| if n.is_multiple_of(2) { 0.5 } else { -0.5 };
        let energy: Vec<f64> = rows.iter().enumerate().map(|(n, x)| 14.0 * x[0] + 12.0 * x[1] + noise(n)).collect();
        let found = fit(&rows, &energy, false).unwrap();
        near(found.slopes[0], 14.0, 0.2);
        near(found.slopes[1], 12.0, 0.1);
        // By R2: what is explained about the mean, over what is left, has one driver more than the mean and 18 degrees.
        near(found.f / (found.r2 / (1.0 - found.r2) * 18.0), 1.0, 1e-9);
        let names = ["hours".to_owned(), "tonnes".to_owned()];
        assert!(rules(&found, &names, &[8.0, 25.0]).iter().all(|rule| rule.kept));
        let far = rules(&found, &names, &[8.0, 60.0]);
        assert_eq!(far.iter().filter(|rule| !rule.kept).count(), 1, "{far:?}");
        // Energy that goes with nothing.
        let other: Vec<f64> = (0..20).map(|n| 100.0 + f64::from(n * 13 % 17)).collect();
        let found = fit(&rows, &other, false).unwrap();
        assert!(!rules(&found, &names, &[8.0, 25.0])[0].kept, "{found:?}");
        let one: Vec<Vec<f64>> = rows.iter().map(|row| vec![row[0]]).collect();
        assert!(
            (fit(&one, &energy, false).unwrap().f_p - 1.0).abs() < 1e-12,
            "a driver alone is held against the mean"
        );
        assert_eq!(fit(&[vec![1.0, 2.0], vec![2.0, 4.0], vec![3.0, 6.0]], &[1.0, 2.0, 3.0], false), None);
        assert_eq!(fit(&[vec![1.0]], &[1.0], false), None);
    }
}
