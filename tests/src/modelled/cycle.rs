//! The last cycle of three voltages and three currents, sliding sample by sample: rms and symmetrical components.
//!
//! x(t) = Re(X exp(j w t)); I1 = (Ia + a Ib + a^2 Ic) / 3, I2 = (Ia + a^2 Ib + a Ic) / 3, a = exp(j 120 deg). Volts,
//! amperes, seconds.

use std::collections::VecDeque;
use std::f64::consts::TAU;

/// What is summed: squares of six channels, then cosine and sine parts of the three currents.
const SUMS: usize = 12;

/// What the last cycle shows.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Shown {
    /// True rms of the phase with the largest current, DC kept, A.
    pub largest_a: f64,
    /// True rms of the phase with the lowest voltage, V.
    pub lowest_v: f64,
    /// Positive and negative sequence of the currents, rms, A.
    pub sequences_a: [f64; 2],
}

/// Sums over one cycle, whole or not a whole number of samples long.
#[derive(Debug)]
pub struct Cycle {
    samples: VecDeque<[f64; SUMS]>,
    sums: [f64; SUMS],
    whole: usize,
    part: f64,
}

impl Cycle {
    /// For so many frames a cycle.
    #[must_use]
    pub fn new(frames: f64) -> Self {
        Self { samples: VecDeque::new(), sums: [0.0; SUMS], whole: frames.floor() as usize, part: frames.fract() }
    }

    /// Takes a frame (va, vb, vc, ia, ib, ic) with the angle of the fundamental; nothing until a cycle is there.
    pub fn take(&mut self, reading: [f64; 6], angle_rad: f64) -> Option<Shown> {
        let (sin, cos) = angle_rad.sin_cos();
        let sample: [f64; SUMS] = std::array::from_fn(|n| match n {
            0..6 => reading[n] * reading[n],
            6..9 => reading[n - 3] * cos,
            _ => -reading[n - 6] * sin,
        });
        self.samples.push_back(sample);
        for (sum, x) in self.sums.iter_mut().zip(sample) {
            *sum += x;
        }
        if self.samples.len() > self.whole + 1 {
            self.samples.pop_front();
        }
        if self.samples.len() <= self.whole {
            return None;
        }
        // The oldest is in the cycle with a part of itself only.
        for (sum, x) in self.sums.iter_mut().zip(self.samples[0]) {
            *sum -= x;
        }
        Some(self.shown())
    }

    fn shown(&self) -> Shown {
        let frames = self.whole as f64 + self.part;
        let mean: [f64; SUMS] = std::array::from_fn(|n| (self.sums[n] + self.part * self.samples[0][n]) / frames);
        let rms = |n: usize| mean[n].max(0.0).sqrt();
        let sequence = |turn: f64| {
            let [mut re, mut im] = [0.0; 2];
            for p in 0..3 {
                let (sin, cos) = (turn * p as f64 * TAU / 3.0).sin_cos();
                re += mean[6 + p] * cos - mean[9 + p] * sin;
                im += mean[6 + p] * sin + mean[9 + p] * cos;
            }
            re.hypot(im) * 2f64.sqrt() / 3.0
        };
        Shown {
            largest_a: rms(3).max(rms(4)).max(rms(5)),
            lowest_v: rms(0).min(rms(1)).min(rms(2)),
            sequences_a: [sequence(1.0), sequence(-1.0)],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// rms and sequences of phasors that are put together from them: 80 and 66.7 frames a cycle.
    #[test]
    fn phasors_come_back() {
        for frames in [80.0, 4000.0 / 60.0] {
            let mut cycle = Cycle::new(frames);
            let mut last = None;
            for k in 0..300 {
                let angle = TAU * f64::from(k) / frames;
                let phase = |rms: f64, turn: f64, p: f64| rms * 2f64.sqrt() * (angle - turn * p * TAU / 3.0).cos();
                let amps = |p: f64| phase(90.0, 1.0, p) + phase(30.0, -1.0, p);
                let reading = [
                    phase(230.0, 1.0, 0.0),
                    phase(200.0, 1.0, 1.0),
                    phase(230.0, 1.0, 2.0),
                    amps(0.0),
                    amps(1.0),
                    amps(2.0),
                ];
                last = cycle.take(reading, angle);
            }
            let Shown { largest_a, lowest_v, sequences_a } = last.unwrap();
            // Phase a has both along one line.
            assert!((largest_a - 120.0).abs() < 0.1, "{largest_a}");
            assert!((lowest_v - 200.0).abs() < 0.1, "{lowest_v}");
            assert!((sequences_a[0] - 90.0).abs() < 0.1 && (sequences_a[1] - 30.0).abs() < 0.1, "{sequences_a:?}");
        }
    }

    #[test]
    fn nothing_is_shown_before_a_cycle_is_there() {
        let mut cycle = Cycle::new(80.0);
        assert_eq!((0..80).filter(|_| cycle.take([1.0; 6], 0.0).is_some()).count(), 0);
        assert!(cycle.take([1.0; 6], 0.0).is_some());
    }
}
