//! Three classical laws of the work that making pieces smaller takes.
//!
//! ```text
//! Rittinger: W = K (1/b - 1/a)      Kick: W = K ln(a/b)      a: size before, b: size after
//! Bond: W = K (10/sqrt(b) - 10/sqrt(a))      a, b in micrometres: 80 % of the mass is smaller
//! ```
//!
//! Sizes in mm; work in any unit, kJ/kg (the same as kW for a kg/s) or kWh/t, and K in the same (Rittinger's times
//! mm). The laws carry a measured work over to other sizes of the same material in the same mill; for ductile metal
//! they are a trend and no more. Bond's constant is the work index; worked out from what a mill took it is the
//! operating work index.

/// A law.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Law {
    /// Work goes with the new surface: fine grinding.
    Rittinger,
    /// Work goes with the ratio of sizes: coarse crushing.
    Kick,
    /// Between the two: ore in mills.
    Bond,
}

impl Law {
    /// The law's constant for a material that took this work from one size to another, mm.
    pub fn constant(self, work: f64, from_mm: f64, to_mm: f64) -> f64 {
        work / self.shape(from_mm, to_mm)
    }

    /// Work from one size to another (mm) for a constant.
    pub fn work(self, constant: f64, from_mm: f64, to_mm: f64) -> f64 {
        constant * self.shape(from_mm, to_mm)
    }

    fn shape(self, from_mm: f64, to_mm: f64) -> f64 {
        match self {
            Self::Rittinger => 1.0 / to_mm - 1.0 / from_mm,
            Self::Kick => (from_mm / to_mm).ln(),
            Self::Bond => 10.0 / (1e3 * to_mm).sqrt() - 10.0 / (1e3 * from_mm).sqrt(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(found: f64, wanted: f64, tolerance: f64) {
        assert!((found - wanted).abs() <= tolerance, "found {found}, wanted {wanted} +- {tolerance}");
    }

    /// Coulson and Richardson, *Chemical Engineering*, volume 2, chapter 2: from 50 to 10 mm takes 13.0 kW/(kg/s);
    /// from 75 to 25 mm? The book prints 4.33 kJ/kg by Rittinger and, having rounded K to 8.08, 8.88 by Kick (8.874
    /// unrounded).
    #[test]
    fn crushing_from_75_to_25_mm() {
        let k = Law::Rittinger.constant(13.0, 50.0, 10.0);
        near(k, 162.5, 1e-9);
        near(Law::Rittinger.work(k, 75.0, 25.0), 4.33, 0.005);
        let k = Law::Kick.constant(13.0, 50.0, 10.0);
        near(k, 8.077, 0.0005);
        near(Law::Kick.work(k, 75.0, 25.0), 8.874, 0.0005);
        near(Law::Kick.work(8.08, 75.0, 25.0), 8.88, 0.005);
        // A kilowatt-hour a tonne is 3.6 kJ/kg.
        near(Law::Rittinger.work(162.5, 75.0, 25.0) / 3.6, 1.204, 0.0005);
        near(Law::Kick.work(k, 75.0, 25.0) / 3.6, 2.465, 0.0005);
    }

    /// The same book: from 45 to 7.8 mm takes 21 kJ/kg; from 25 to 1 mm? 38.6 kJ/kg by Kick.
    #[test]
    fn crushing_from_25_to_1_mm() {
        let k = Law::Kick.constant(21.0, 45.0, 7.8);
        near(k, 11.98, 0.005);
        near(Law::Kick.work(k, 25.0, 1.0), 38.571, 0.0005);
    }

    /// McCabe and Smith, *Unit Operations*, example 28.1 (from memory): 100 short tons an hour of limestone, work
    /// index 12.74 kWh a short ton, from 2 in to 1/8 in, take 169.6 kW.
    #[test]
    fn grinding_limestone() {
        near(100.0 * Law::Bond.work(12.74, 50.8, 3.175), 169.6, 0.05);
    }

    /// Operating work index after Rowland (from memory), own arithmetic: 52.5 kW at the shaft for 3.5 t/h from 100 to
    /// 12 mm; 45 kW for 3 t/h from 150 to 25 mm.
    #[test]
    fn operating_work_index() {
        near(Law::Bond.constant(52.5 / 3.5, 100.0, 12.0), 251.4, 0.05);
        near(Law::Bond.constant(45.0 / 3.0, 150.0, 25.0), 400.8, 0.05);
    }
}
