//! Waveforms as sums of harmonics, and what they are worth, in `f64`.

use std::f64::consts::{SQRT_2, TAU};

/// A component: order (1 is the fundamental), rms, degrees at t = 0 of a sine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Component {
    /// Order; whole for a harmonic.
    pub order: f64,
    /// rms.
    pub rms: f64,
    /// Degrees.
    pub degrees: f64,
}

/// A waveform.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Wave {
    /// Its components.
    pub components: Vec<Component>,
    /// Its direct component.
    pub direct: f64,
}

impl Wave {
    /// From `(order, rms, degrees)`.
    #[must_use]
    pub fn new(components: &[(u32, f64, f64)]) -> Self {
        let components = components
            .iter()
            .map(|&(order, rms, degrees)| Component { order: f64::from(order), rms, degrees })
            .collect();
        Self { components, direct: 0.0 }
    }

    /// A pure sine.
    #[must_use]
    pub fn sine(rms: f64, degrees: f64) -> Self {
        Self::new(&[(1, rms, degrees)])
    }

    /// Later by a part of a cycle: each harmonic turns by its order.
    #[must_use]
    pub fn delayed(&self, degrees: f64) -> Self {
        let mut wave = self.clone();
        for c in &mut wave.components {
            c.degrees -= c.order * degrees;
        }
        wave
    }

    /// Times a factor.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        let mut wave = self.clone();
        for c in &mut wave.components {
            c.rms *= factor;
        }
        wave.direct *= factor;
        wave
    }

    /// The sum of two waves, with a sign for the second.
    #[must_use]
    pub fn plus(&self, other: &Self, sign: f64) -> Self {
        let mut wave = self.clone();
        wave.components.extend(other.scaled(sign).components);
        wave.direct += sign * other.direct;
        wave
    }

    /// The value at a time.
    #[must_use]
    pub fn at(&self, hertz: f64, t: f64) -> f64 {
        let sum: f64 = self
            .components
            .iter()
            .map(|c| SQRT_2 * c.rms * (TAU * c.order * hertz * t + c.degrees.to_radians()).sin())
            .sum();
        sum + self.direct
    }

    /// The complex rms value of an order: `(real, imaginary)`.
    #[must_use]
    pub fn phasor(&self, order: f64) -> (f64, f64) {
        let same = |c: &&Component| (c.order - order).abs() < 1e-9;
        self.components.iter().filter(same).fold((0.0, 0.0), |(re, im), c| {
            let (s, k) = c.degrees.to_radians().sin_cos();
            (re + c.rms * k, im + c.rms * s)
        })
    }

    fn orders(&self) -> Vec<f64> {
        let mut orders: Vec<f64> = self.components.iter().map(|c| c.order).collect();
        orders.sort_by(f64::total_cmp);
        orders.dedup();
        orders
    }

    /// rms without the direct component.
    #[must_use]
    pub fn rms(&self) -> f64 {
        self.orders().iter().map(|&h| square(self.phasor(h))).sum::<f64>().sqrt()
    }

    /// rms of the fundamental.
    #[must_use]
    pub fn fundamental(&self) -> f64 {
        square(self.phasor(1.0)).sqrt()
    }

    /// Root of (rms² less fundamental²) over the fundamental.
    #[must_use]
    pub fn distortion(&self) -> f64 {
        (self.rms().powi(2) / self.fundamental().powi(2) - 1.0).max(0.0).sqrt()
    }

    /// Mean product with a current.
    #[must_use]
    pub fn active(&self, current: &Self) -> f64 {
        let products = self.orders().into_iter().map(|h| {
            let ((a, b), (c, d)) = (self.phasor(h), current.phasor(h));
            a * c + b * d
        });
        products.sum::<f64>() + self.direct * current.direct
    }

    /// Reactive power of the fundamentals with a current, lagging positive.
    #[must_use]
    pub fn reactive(&self, current: &Self) -> f64 {
        let ((a, b), (c, d)) = (self.phasor(1.0), current.phasor(1.0));
        b * c - a * d
    }
}

fn square((re, im): (f64, f64)) -> f64 {
    re * re + im * im
}

/// Negative over positive sequence of three fundamentals.
#[must_use]
pub fn unbalance(waves: [&Wave; 3]) -> f64 {
    let [a, b, c] = waves.map(|w| w.phasor(1.0));
    let sequence = |sign: f64| {
        let (s, k) = (sign * TAU / 3.0).sin_cos();
        let turn = |(re, im): (f64, f64), (s, k): (f64, f64)| (re * k - im * s, re * s + im * k);
        let (b, c) = (turn(b, (s, k)), turn(c, (-s, k)));
        square((a.0 + b.0 + c.0, a.1 + b.1 + c.1)).sqrt() / 3.0
    };
    sequence(-1.0) / sequence(1.0)
}

/// Six channels of a balanced four-wire system: phase b a third of a cycle after a, c after b.
#[must_use]
pub fn balanced(voltage: &Wave, current: &Wave) -> [Wave; 6] {
    let d = [0.0, 120.0, 240.0];
    [
        voltage.delayed(d[0]),
        voltage.delayed(d[1]),
        voltage.delayed(d[2]),
        current.delayed(d[0]),
        current.delayed(d[1]),
        current.delayed(d[2]),
    ]
}

/// Phase quantities as three-wire channels: vab, vbc, vca, ia, ib, ic.
#[must_use]
pub fn three_wire(phases: &[Wave; 6]) -> [Wave; 6] {
    let [a, b, c, ia, ib, ic] = phases;
    [a.plus(b, -1.0), b.plus(c, -1.0), c.plus(a, -1.0), ia.clone(), ib.clone(), ic.clone()]
}

/// Phase quantities as two-element channels: vab, vcb, -, ia, -, ic.
#[must_use]
pub fn two_element(phases: &[Wave; 6]) -> [Wave; 6] {
    let [a, b, c, ia, _, ic] = phases;
    [a.plus(b, -1.0), c.plus(b, -1.0), Wave::default(), ia.clone(), Wave::default(), ic.clone()]
}
