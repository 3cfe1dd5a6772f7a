//! A phasor over a step: where it would settle, and two parts that fade.
//!
//! ```text
//! x(t) = x0 + x1 e^(l1 t) + x2 e^(l2 t)       mean of e^(l t) over h: (e^(l h) - 1) / (l h)
//! ```
//!
//! Phasors are peaks of vectors in the frame that turns with the source: x e^(j theta) is the vector. The first part
//! that fades is the rotor's field, slow in this frame; the second is what stands still in space (the direct component
//! after switching) and mostly is not there: then nothing is reckoned for it.

use num_complex::Complex64 as Complex;

/// A phasor over a step.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Course(pub(super) [Complex; 3]);

/// The two exponentials over a step: their rates, what is left of them at the end, and means of their products.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Fade {
    rates: [Complex; 2],
    h_s: f64,
    left: [Complex; 2],
    mean: [Complex; 2],
    /// Of the first with itself, the second with itself; of the first with the second's conjugate.
    squares: [f64; 2],
    cross: Complex,
    /// Whether there is a second.
    pub(super) second: bool,
}

/// The mean of an exponential of a rate over a time.
fn mean(rate: Complex, h_s: f64) -> (Complex, Complex) {
    let z = rate * h_s;
    let end = z.exp();
    // Below, the difference would lose digits; the series' next term is below 1e-10.
    let mean = if z.norm_sqr() < 1e-4 { 1.0 + z / 2.0 * (1.0 + z / 3.0 * (1.0 + z / 4.0)) } else { (end - 1.0) / z };
    (end, mean)
}

fn real_mean(rate: f64, h_s: f64) -> f64 {
    let x = rate * h_s;
    if x.abs() < 1e-9 { 1.0 } else { x.exp_m1() / x }
}

impl Fade {
    /// Of one rate or of two over a step.
    pub(super) fn new(first: Complex, second: Option<Complex>, h_s: f64) -> Self {
        let (left, middle) = mean(first, h_s);
        let mut fade = Self {
            rates: [first, Complex::ZERO],
            h_s,
            left: [left, Complex::ZERO],
            mean: [middle, Complex::ZERO],
            squares: [real_mean(2.0 * first.re, h_s), 0.0],
            cross: Complex::ZERO,
            second: second.is_some(),
        };
        if let Some(second) = second {
            fade.rates[1] = second;
            (fade.left[1], fade.mean[1]) = mean(second, h_s);
            fade.squares[1] = real_mean(2.0 * second.re, h_s);
            fade.cross = mean(first + second.conj(), h_s).1;
        }
        fade
    }
}

impl Course {
    /// Where it begins.
    pub(super) fn begin(self) -> Complex {
        self.0[0] + self.0[1] + self.0[2]
    }

    /// Where it ends.
    pub(super) fn end(self, fade: &Fade) -> Complex {
        self.0[0] + self.0[1] * fade.left[0] + self.0[2] * fade.left[1]
    }

    /// Its mean over the step.
    pub(super) fn mean(self, fade: &Fade) -> Complex {
        self.0[0] + self.0[1] * fade.mean[0] + self.0[2] * fade.mean[1]
    }

    /// The mean of its product with another one's conjugate.
    pub(super) fn product(self, other: Self, fade: &Fade) -> Complex {
        let ([a, b, c], [x, y, z]) = (self.0, other.0.map(|part| part.conj()));
        let [first, second] = fade.mean;
        let mut sum = a * x + a * y * first.conj() + b * x * first + b * y * fade.squares[0];
        if fade.second {
            sum += a * z * second.conj() + c * x * second + c * z * fade.squares[1];
            sum += b * z * fade.cross + c * y * fade.cross.conj();
        }
        sum
    }

    /// The mean of its squared length.
    pub(super) fn square(self, fade: &Fade) -> f64 {
        let [a, b, c] = self.0;
        let mut sum = a.norm_sqr() + 2.0 * (a.conj() * b * fade.mean[0]).re + b.norm_sqr() * fade.squares[0];
        if fade.second {
            sum += 2.0 * (a.conj() * c * fade.mean[1] + b * c.conj() * fade.cross).re + c.norm_sqr() * fade.squares[1];
        }
        sum
    }

    /// What the second part adds to what a meter makes of the vector: to its mean in a frame that turns the other way,
    /// and to half the mean of its square in space. The other parts leave nothing there over half a turn. `turn` is
    /// e^(j 2 theta) at the beginning, `omega` how fast theta grows.
    pub(super) fn standing(self, fade: &Fade, turn: Complex, omega: f64) -> (Complex, Complex) {
        let [first, second] = fade.rates;
        let [a, b, c] = self.0;
        let share = |rate: Complex| mean(rate + Complex::new(0.0, 2.0 * omega), fade.h_s).1 * turn;
        let alone = share(second) * c;
        (alone, a * alone + b * c * share(first + second) + c * c / 2.0 * share(2.0 * second))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Means against the sum over many small steps, for short and long steps, with and without fading.
    #[test]
    fn means_are_integrals() {
        let c = Complex::new;
        let x = Course([c(3.0, -1.0), c(-0.5, 2.0), c(0.3, 0.4)]);
        let y = Course([c(0.2, 0.7), c(1.5, 0.1), c(-1.0, 0.6)]);
        for (first, second, h) in [
            (c(-20.0, -30.0), c(-30.0, -310.0), 0.01),
            (c(-20.0, -300.0), c(-30.0, -310.0), 3e-5),
            (c(0.0, -300.0), c(-1.0, 0.0), 0.01),
            (c(-1.5, 0.0), c(-1.5, 0.0), 0.005),
        ] {
            for both in [true, false] {
                let fade = Fade::new(first, both.then_some(second), h);
                let [x, y] = [x, y].map(|z| if both { z } else { Course([z.0[0], z.0[1], Complex::ZERO]) });
                let n = 20_000;
                let at = |z: Course, share: f64| {
                    z.0[0] + z.0[1] * (first * h * share).exp() + z.0[2] * (second * h * share).exp()
                };
                let mean = |f: &dyn Fn(f64) -> Complex| {
                    (0..n).map(|k| f((f64::from(k) + 0.5) / f64::from(n))).sum::<Complex>() / f64::from(n)
                };
                let near = |found: Complex, wanted: Complex| {
                    assert!((found - wanted).norm() < 1e-6, "{found}, {wanted}");
                };
                near(x.mean(&fade), mean(&|t| at(x, t)));
                near(x.product(y, &fade), mean(&|t| at(x, t) * at(y, t).conj()));
                near(x.square(&fade).into(), mean(&|t| at(x, t).norm_sqr().into()));
                near(x.begin(), at(x, 0.0));
                near(x.end(&fade), at(x, 1.0));
                let (turn, rest) = (c(0.6, 0.8), Course([x.0[0], x.0[1], Complex::ZERO]));
                let (back, square) = x.standing(&fade, turn, 314.0);
                let vector = |z: Course, t: f64| at(z, t) * Complex::cis(314.0 * h * t);
                let back_of = |z| mean(&|t| vector(z, t) * Complex::cis(314.0 * h * t)) * turn;
                let square_of = |z| mean(&|t| vector(z, t) * vector(z, t)) * turn / 2.0;
                near(back, back_of(x) - back_of(rest));
                near(square, square_of(x) - square_of(rest));
            }
        }
    }
}
